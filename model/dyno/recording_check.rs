//! A recorded pull held against its own physics: the energy it claims, the energy the drum gained, the gearing between engine and drum.
//!
//! Exists because a power in the wrong unit fits a car as well as the right one does: only what the log holds twice gives it away. Where the
//! drum's speed is logged the energy is known apart from the power, and the gearing apart from the car file; where it is not, both
//! are held together, through the car's gearing. Nothing here needs the engine to be known. It refuses to say who is to blame: it gives
//! ratios with their doubts. A braked pull has no energy of its own, nor has a rig whose second drum turns apart.

use super::crank_to_drum::EngineAxle;
use super::{Curve, Drums, Setup};
use crate::driveline::TyreOnDrum;
use crate::driveline::tyre::{GROWTH_AT_60_M_S, SLIP_STIFFNESS};
use crate::units;
use nalgebra::{Matrix3, Vector3};

/// What was logged that gave the power.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PowerFrom {
    /// Power itself.
    #[default]
    Power,
    /// Torque at engine speed.
    Torque,
    /// Force at the drum's surface.
    Force,
    /// Corrected power, its correction undone.
    Corrected,
}

/// Energy and speeds of the settled rows of a pull.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Energy {
    /// Integral of the recorded power, J.
    pub work_j: f64,
    /// Integral of the force logged beside it times speed, J.
    pub force_work_j: Option<f64>,
    /// What was logged that gave the power.
    pub power_from: PowerFrom,
    /// Engine speed at the first and last row, rad/s.
    pub engine_rad_s: [f64; 2],
    /// Recorded power about there, W.
    pub end_power_w: [f64; 2],
    /// Drum speed there, rad/s, where logged.
    pub drum_rad_s: Option<[f64; 2]>,
    /// Integrals over time of drum speed, its square and its cube, rad and seconds.
    pub drum_turned: Option<[f64; 3]>,
}

/// A ratio that should be one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// The ratio.
    pub ratio: f64,
    /// Standard deviation of its logarithm.
    pub sd: f64,
}

/// Run-out of a drum's encoder as a share of its speed: what is left at each end of a pull of 0.2 %, averaged over a turn or more (common
/// practice, no source).
const RUN_OUT: f64 = 0.001;
/// Doubt of a load cell's scale, relative (common practice, no source).
const CELL: f64 = 0.005;
/// Doubt of slip under a force, relative: of the stiffness, and of the load on the tyres (0.15, common practice, no source).
const LOAD: f64 = 0.15;
/// Doubt of a stated rolling radius, relative: wear and pressure (common practice, no source).
pub const RADIUS: f64 = 0.01;
/// How far engine over drum speed of one band strays: lag of the pick-up and run-out (common practice, no source).
/// Equation (6.30). Equation (8.1).
pub const BAND: f64 = 0.002;
/// Bands stray together: so many independent pieces in a pull, as for the power of 8.4.
const PIECES: f64 = 6.0;
/// Fewest bands that tell slip from gearing.
const LEAST_BANDS: usize = 6;
/// Fixed-point steps of the drum's speed under a force; each shrinks the error twentyfold.
const STEPS: usize = 6;

/// Whether engine and drum turn in one ratio: an open converter's drifts.
pub fn holds_gearing(setup: &Setup) -> bool {
    setup.car.driveline.converter.is_none()
}

/// Whether the rig's power is the energy its one drum gains.
fn holds_energy(drums: &Drums) -> bool {
    drums.machine.brake.is_none() && drums.second_mass_kg().is_none()
}

impl Energy {
    /// Recorded energy over the energy of the drum, where the drum's speed is logged.
    ///
    /// ```text
    /// ρ = ∫P dt / {½ I (ω₂² − ω₁²) + [drag added back] ∫(F₀ R ω + F₁ R² ω² + F₂ R³ ω³) dt}
    /// ```
    ///
    /// Its doubt is that of the drum's speeds at both ends: 0.1 % of each. Source: derived, the drum's kinetic energy.
    /// 200 kg m² from 50 to 120 rad/s gains 1190 kJ. Equation (6.29).
    pub fn over_drum(&self, drums: &Drums) -> Option<Held> {
        let [first, last] = self.drum_rad_s.filter(|_| holds_energy(drums))?;
        let gained = last * last - first * first;
        let kinetic_j = 0.5 * drums.inertia_at_drum_kg_m2() * gained;
        let drag_j = if drums.drag_added_back {
            self.drag_j(drums)?
        } else {
            0.0
        };
        Some(Held {
            ratio: self.work_j / (kinetic_j + drag_j),
            sd: 2.0 * RUN_OUT * last.powi(2).hypot(first.powi(2)) / gained,
        })
    }

    /// Recorded energy over that of the force logged beside it.
    ///
    /// ```text
    /// ρ_F = ∫P dt / ∫F v dt
    /// ```
    ///
    /// Its doubt is that of the cell's scale, 0.5 %: load cells of rolls are calibrated so (common practice, no source). Equation (6.37).
    pub fn over_force(&self) -> Option<Held> {
        let force_j = self.force_work_j.filter(|j| *j > 0.0)?;
        Some(Held {
            ratio: self.work_j / force_j,
            sd: CELL,
        })
    }

    /// Energy that the drum's own drag took, J.
    /// Equation (6.29).
    pub fn drag_j(&self, drums: &Drums) -> Option<f64> {
        let [way, square, cube] = self.drum_turned?;
        let radius_m = drums.radius_m;
        Some(
            radius_m
                * (drums.drag_n * way
                    + radius_m
                        * (drums.drag_n_s_m * square + radius_m * drums.drag_n_s2_m2 * cube)),
        )
    }

    /// Recorded energy over that of the drum at the speeds which the car's gearing gives it.
    ///
    /// ```text
    /// v = ω r(ω)/[i (1 + κ)],   ρ = ∫P dt / [½ I/R² (v₂² − v₁²)]
    /// ```
    ///
    /// r(ω) and κ by 6.4 from the recorded power. Its doubt is that of slip (0.34 of it), of growth and, twice, of the rolling radius.
    /// Drag that a rig adds back counts as doubt here. Equation (6.31).
    pub fn over_gearing(&self, setup: &Setup, log: Log) -> Option<Held> {
        let drums = &setup.drums;
        if !(holds_energy(drums) && holds_gearing(setup)) {
            return None;
        }
        let tyres = Tyres::of(setup, log);
        let ratio = |soft: f64, growth: f64| {
            let square = |end: usize| {
                let power_w = self.end_power_w[end].max(0.0);
                let engine_rad_s = self.engine_rad_s[end];
                tyres.speed_m_s(engine_rad_s, power_w, soft, growth).powi(2)
            };
            let gained = square(1) - square(0);
            (gained > 0.0).then(|| self.work_j / (0.5 * drums.mass_kg() * gained))
        };
        let middle = ratio(1.0, 1.0)?;
        let by_slip = (ratio(1.0 + slip_doubt(), 1.0)? / middle).ln();
        let by_growth = (ratio(1.0, 1.0 + growth_doubt())? / middle).ln();
        let by_drag = if drums.drag_added_back { 0.02 } else { 0.0 };
        let by_radius = 2.0 * tyres.radius_doubt();
        let sd = by_slip.hypot(by_growth).hypot(by_radius).hypot(by_drag);
        Some(Held { ratio: middle, sd })
    }
}

impl Curve {
    /// Engine speed over drum speed, over what gearing and tyres make it.
    ///
    /// ```text
    /// ln[ω_e/ω_d · r₀/(i R)] = x + s κ(F) − g ln[r(v)/r₀],   s ~ N(1, 0.34), g ~ N(1, 0.4)
    /// ```
    ///
    /// Least squares over the bands of the pull, with κ and r by 6.4 at the force that the power has there: slip goes with the force, growth
    /// with speed squared, and what is left at any of them, x, is a gear, a final drive or a radius. Source: derived, with the laws of 6.4.
    /// `power` is recorded over true power, where it is known better. Equation (6.30).
    pub fn engine_over_drum(&self, setup: &Setup, log: Log, power: f64) -> Option<Held> {
        let tyres = Tyres::of(setup, log);
        let mut normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        let rows: Vec<(Vector3<f64>, f64)> = self
            .bands
            .iter()
            .filter_map(|band| {
                let ratio = band.engine_per_drum.filter(|r| *r > 0.0)?;
                let engine_rad_s = units::rad_s(band.rpm);
                let v = engine_rad_s / ratio * setup.drums.radius_m;
                let slip = tyres.slip(band.power_w.max(0.0) / power / v, v);
                let row = Vector3::new(1.0, slip.ln_1p(), -tyres.growth(v).ln_1p());
                let no_slip = tyres.gearing / tyres.tyre.radius_m * setup.drums.radius_m;
                Some((row, (ratio / no_slip).ln()))
            })
            .collect();
        if rows.len() < LEAST_BANDS || !holds_gearing(setup) {
            return None;
        }
        // Bands err together: each counts as a share of an independent piece.
        let weight = PIECES.min(rows.len() as f64) / rows.len() as f64 / (BAND * BAND);
        for (row, seen) in &rows {
            normal += weight * row * row.transpose();
            right += weight * row * *seen;
        }
        for (index, doubt) in [(1, slip_doubt()), (2, growth_doubt())] {
            normal[(index, index)] += doubt.powi(-2);
            right[index] += doubt.powi(-2);
        }
        let covariance = normal.try_inverse()?;
        let left = (covariance * right)[0];
        Some(Held {
            ratio: left.exp(),
            sd: covariance[(0, 0)]
                .max(0.0)
                .sqrt()
                .hypot(tyres.radius_doubt()),
        })
    }
}

fn slip_doubt() -> f64 {
    SLIP_STIFFNESS.1.hypot(LOAD)
}

fn growth_doubt() -> f64 {
    GROWTH_AT_60_M_S.1 / GROWTH_AT_60_M_S.0
}

/// How a pull was made and logged, as far as its gearing goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Log {
    /// Whether engine speed is the engine's own, not computed from the drum's.
    pub own_engine_speed: bool,
    /// Whether an electric axle helped, if there is one.
    pub electric_axle: bool,
}

/// The tyres that carry the recorded force, and the gearing before them.
struct Tyres {
    tyre: TyreOnDrum,
    gearing: f64,
    /// Greatest force, N, and power, W, of an electric axle on the same drum: not carried by these tyres.
    electric: (f64, f64),
    /// Whether they slip and grow in this log.
    slips: bool,
}

impl Tyres {
    fn of(setup: &Setup, log: Log) -> Self {
        let axle = EngineAxle::of(setup);
        let electric = setup.car.electric.as_ref().filter(|_| log.electric_axle);
        Self {
            tyre: axle.tyre,
            gearing: axle.ratio,
            electric: electric.map_or((0.0, 0.0), |drive| {
                let motor = &drive.axle.motor;
                let geared = drive.axle.reduction_ratio / drive.tyre.radius_m;
                (motor.peak_torque_nm * geared, motor.peak_power_w)
            }),
            slips: log.own_engine_speed && axle.tyre.slip_stiffness.is_finite(),
        }
    }

    /// Slip under a force at the drum, N, at a speed, m/s: the linear law of 6.4, at most at the grip.
    fn slip(&self, force_n: f64, speed_m_s: f64) -> f64 {
        if !self.slips {
            return 0.0;
        }
        let electric_n = self.electric.0.min(self.electric.1 / speed_m_s);
        let share = (force_n - electric_n).max(0.0) / self.tyre.load_n;
        share.min(self.tyre.grip) / self.tyre.slip_stiffness
    }

    /// Growth of the radius at a speed, as a share.
    fn growth(&self, speed_m_s: f64) -> f64 {
        if self.slips {
            self.tyre.radius_at_m(speed_m_s) / self.tyre.radius_m - 1.0
        } else {
            0.0
        }
    }

    /// Surface speed under a power, slip and growth scaled.
    fn speed_m_s(&self, engine_rad_s: f64, power_w: f64, soft: f64, growth: f64) -> f64 {
        let rolling = engine_rad_s / self.gearing * self.tyre.radius_m;
        let mut v = rolling;
        for _ in 0..STEPS {
            let slip = soft * self.slip(power_w / v, v);
            v = rolling * (1.0 + growth * self.growth(v)) / (1.0 + slip);
        }
        v
    }

    /// A rig on the hubs has no tyre to doubt.
    fn radius_doubt(&self) -> f64 {
        if self.tyre.slip_stiffness.is_finite() {
            RADIUS
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dyno::RigTrace;
    use crate::dyno::recording::Band;

    fn energy(work_j: f64) -> Energy {
        Energy {
            work_j,
            force_work_j: None,
            power_from: PowerFrom::Power,
            engine_rad_s: [200.0, 480.0],
            end_power_w: [1e5, 1e5],
            drum_rad_s: Some([50.0, 120.0]),
            drum_turned: Some([600.0, 50_000.0, 4e6]),
        }
    }

    #[test]
    fn the_energy_of_a_drum_is_that_of_its_speeds_and_of_the_drag_it_adds_back() {
        // ½ · 200 (120² − 50²) = 1.19 MJ.
        let drums = Drums::example();
        let held = energy(1.19e6).over_drum(&drums).expect("a drum");
        assert!((held.ratio - 1.0).abs() < 1e-12, "{held:?}");
        // 30 N · 0.5 m · 600 rad + 0.01 · 0.125 · 4e6 = 9000 + 5000 J.
        let drag_j = energy(0.0).drag_j(&drums).expect("speeds");
        assert!((drag_j - 14_000.0).abs() < 1e-9, "{drag_j}");
        let adding = Drums {
            drag_added_back: true,
            ..drums
        };
        let held = energy(1.204e6).over_drum(&adding).expect("a drum");
        assert!((held.ratio - 1.0).abs() < 1e-12, "{held:?}");
    }

    #[test]
    fn the_energy_of_a_logged_force_is_held_against_the_recorded() {
        let beside = Energy {
            force_work_j: Some(1.0e6),
            ..energy(1.03e6)
        };
        let held = beside.over_force().expect("a force");
        assert!((held.ratio - 1.03).abs() < 1e-12, "{held:?}");
        let rests = Energy {
            force_work_j: Some(0.0),
            ..energy(1.03e6)
        };
        assert_eq!(rests.over_force(), None);
        assert_eq!(energy(1e6).over_force(), None);
    }

    #[test]
    fn slip_and_growth_are_told_from_a_final_drive() {
        let setup = Setup::example();
        let log = Log {
            own_engine_speed: true,
            electric_axle: false,
        };
        let tyres = Tyres::of(&setup, log);
        let curve = |off: f64| Curve {
            bands: (0..30)
                .map(|k| {
                    let rpm = 2500.0 + 120.0 * f64::from(k);
                    let power_w = 25.0 * rpm;
                    let v = tyres.speed_m_s(units::rad_s(rpm), power_w, 1.0, 1.0);
                    Band {
                        rpm,
                        power_w,
                        power_se_w: 0.0,
                        manifold_pa: None,
                        charge_k: None,
                        lambda: None,
                        engine_per_drum: Some(off * units::rad_s(rpm) / v * setup.drums.radius_m),
                        blower_per_engine: None,
                        spark_deg: None,
                        fuel_kg_s: None,
                        air_kg_s: None,
                        samples: 10,
                    }
                })
                .collect(),
            band_rpm: 100.0,
            correlated_samples: 1.0,
            noise: 0.0,
            rig: RigTrace::default(),
            dropped_start: 0,
            dropped_end: 0,
        };
        for off in [1.0, 1.08, 0.92] {
            let held = curve(off)
                .engine_over_drum(&setup, log, 1.0)
                .expect("bands enough");
            // Another speed of the drum is another force and slip: an eighth of a slip of some 3 %.
            assert!((held.ratio / off - 1.0).abs() < 0.005, "{off}: {held:?}");
            assert!(held.sd < 0.02, "{held:?}");
        }
    }
}
