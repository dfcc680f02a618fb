//! Whether a recorded pull may be built on: what in it contradicts the car file or itself, and the entry that would set it right.
//!
//! The ratios are [`crate::dyno::recording_check`]'s; here stands from which on they are a finding, which mistakes make just that ratio, and
//! what value would agree. It is asked before a fit, because a fit would bend the engine until a wrong unit looks right. It refuses to
//! mend anything, and to name a mistake that the log cannot tell from none.

mod course;
mod described;
mod energy;
mod room;

use crate::belief::Sheet;
use crate::car::Blower;
use crate::diagnose::{Entered, SpeedSource};
use crate::dyno::correction::engine::EngineKind;
use crate::dyno::correction::{Correction, Standard, Subject};
use crate::dyno::recording_check::{Energy, Held, Log};
use crate::dyno::{Band, PowerFrom};
use crate::fit::observation::MeasuredPull;
use crate::units;
use serde::Serialize;
use std::f64::consts::{LN_2, PI};

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The car on its drums.
    pub sheet: &'a Sheet,
    /// The pull.
    pub pull: &'a MeasuredPull,
    /// The other pulls of its visit before it.
    pub others: &'a [MeasuredPull],
    /// What was entered into the rig for it.
    pub entered: &'a Entered,
    /// Whether the shop vouches for the recording: then nothing stops.
    pub trusted: bool,
}

/// What became of one recording.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// The pull.
    pub pull: String,
    /// What contradicts what.
    pub findings: Vec<Finding>,
    /// What nothing in the log could hold.
    pub on_trust: OnTrust,
}

/// Two things that should agree and do not.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Which.
    pub finding: Contradiction,
    /// Recorded over expected; 1 where they agree.
    pub ratio: f64,
    /// How far it may be from 1 without a word, relative.
    pub within: f64,
    /// Mistakes that make just this ratio, likeliest first.
    pub candidates: Vec<Candidate>,
    /// Whether anything may be built on it.
    pub severity: Severity,
}

/// One mistake and the value that would agree.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Candidate {
    /// Which.
    pub mistake: Mistake,
    /// What its number would have to be, SI; for a unit or a correction the factor that is too much.
    pub value_that_would_agree: f64,
}

/// What is held against what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Contradiction {
    /// Energy of the recorded power against what the drum gained.
    EnergyOfTheDrum,
    /// Engine speed over drum speed against gearing and tyre.
    GearingOfTheLog,
    /// Energy of the recorded power against the drum's at the speeds that the car's gearing gives it.
    EnergyThroughTheGearing,
    /// Pressure entered against that of the room's altitude.
    StationPressure,
    /// Temperature of the room against what rooms have.
    RoomTemperature,
    /// Charge temperature at the start against the room's.
    ChargeTemperature,
    /// Manifold of an unblown engine against the room.
    ManifoldOfTheRoom,
    /// Torque against manifold pressure and displacement.
    MeanPressure,
    /// Torque of a moment against that about it.
    CourseOfThePull,
    /// Rows against the bands that they should fill.
    RowsOfTheLog,
    /// What was typed into the rig against the car file.
    EntriesOfTheRig,
    /// Power of a pull against the others of its visit.
    PullsOfTheVisit,
    /// Engine over drum speed of a pull against the others of its visit.
    GearingOfTheVisit,
    /// Energy of the recorded power against that of the force logged at the drums.
    PowerOfTheForce,
    /// Torque against that of the engine as its file describes it.
    TorqueOfTheEngine,
}

/// What may have been mistaken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Mistake {
    /// Horsepower read as kW.
    PowerHpAsKw,
    /// kW read as horsepower.
    PowerKwAsHp,
    /// Metric horsepower read as kW.
    PowerPsAsKw,
    /// kW read as metric horsepower.
    PowerKwAsPs,
    /// lb ft read as N m.
    TorqueLbFtAsNm,
    /// N m read as lb ft.
    TorqueNmAsLbFt,
    /// kgf m read as N m.
    TorqueKgfMAsNm,
    /// lbf read as N.
    ForceLbfAsN,
    /// Scale of the cell under the drums.
    ForceCell,
    /// The force is the brake's alone, without what the drums' inertia takes.
    BrakeForceAlone,
    /// Corrected power read as uncorrected.
    CorrectedPowerAsRead,
    /// The rig adds its drag back, and the car file says that it does not.
    DragAddedBack,
    /// Inertia of the drums.
    DrumInertia,
    /// A pick-up that counts double, or half.
    EnginePickUp,
    /// Ratio of the gear.
    Gear,
    /// Final-drive ratio.
    FinalDrive,
    /// Rolling radius of the tyres.
    TyreRadius,
    /// Radius of the drums.
    DrumRadius,
    /// Pressure reduced to sea level entered as the room's.
    SeaLevelPressure,
    /// Degrees Fahrenheit read as Celsius.
    FahrenheitAsCelsius,
    /// Degrees Celsius read as Fahrenheit.
    CelsiusAsFahrenheit,
    /// Gauge pressure read as absolute.
    GaugeForAbsolute,
    /// Absolute pressure read as gauge.
    AbsoluteForGauge,
    /// Boost in psi read as kPa.
    BoostPsiAsKpa,
    /// Boost in kPa read as psi.
    BoostKpaAsPsi,
    /// Displacement of the engine.
    Displacement,
    /// A lifted foot, or a shift, inside the pull.
    ThrottleLift,
    /// A log too slow for the pull.
    SlowLog,
    /// A pull of another car, or of another state of it.
    AnotherCar,
}

/// What follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Nothing should be built on the recording.
    Stops,
    /// A person should look.
    Warns,
}

/// What nothing in the log could hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OnTrust {
    /// Drum speed is logged: only a power and an inertia wrong by the same factor would pass.
    InertiaWithPower,
    /// No drum speed: power, inertia and gearing are held together, and roughly.
    PowerInertiaGearing,
    /// The rig or the car allows no check of energy.
    All,
}

impl Contradiction {
    /// All.
    pub const ALL: [Self; 15] = [
        Self::EnergyOfTheDrum,
        Self::GearingOfTheLog,
        Self::EnergyThroughTheGearing,
        Self::StationPressure,
        Self::RoomTemperature,
        Self::ChargeTemperature,
        Self::ManifoldOfTheRoom,
        Self::MeanPressure,
        Self::CourseOfThePull,
        Self::RowsOfTheLog,
        Self::EntriesOfTheRig,
        Self::PullsOfTheVisit,
        Self::GearingOfTheVisit,
        Self::PowerOfTheForce,
        Self::TorqueOfTheEngine,
    ];
}

impl Mistake {
    /// All.
    pub const ALL: [Self; 29] = [
        Self::PowerHpAsKw,
        Self::PowerKwAsHp,
        Self::PowerPsAsKw,
        Self::PowerKwAsPs,
        Self::TorqueLbFtAsNm,
        Self::TorqueNmAsLbFt,
        Self::TorqueKgfMAsNm,
        Self::ForceLbfAsN,
        Self::ForceCell,
        Self::BrakeForceAlone,
        Self::CorrectedPowerAsRead,
        Self::DragAddedBack,
        Self::DrumInertia,
        Self::EnginePickUp,
        Self::Gear,
        Self::FinalDrive,
        Self::TyreRadius,
        Self::DrumRadius,
        Self::SeaLevelPressure,
        Self::FahrenheitAsCelsius,
        Self::CelsiusAsFahrenheit,
        Self::GaugeForAbsolute,
        Self::AbsoluteForGauge,
        Self::BoostPsiAsKpa,
        Self::BoostKpaAsPsi,
        Self::Displacement,
        Self::ThrottleLift,
        Self::SlowLog,
        Self::AnotherCar,
    ];
}

impl OnTrust {
    /// All.
    pub const ALL: [Self; 3] = [Self::InertiaWithPower, Self::PowerInertiaGearing, Self::All];
}

impl Finding {
    /// Whether another is the same mistake: the same two things apart, the same first candidate, as severe.
    pub fn is_like(&self, other: &Self) -> bool {
        let first = |finding: &Self| finding.candidates.first().map(|c| c.mistake);
        (self.finding, self.severity, first(self)) == (other.finding, other.severity, first(other))
    }
}

/// So many standard deviations are a finding. Equations (6.29) and (6.37).
const SURE: f64 = 3.0;
/// Smallest ratios that are a finding, as logarithms: of energy at the drum, where smoothing moves power past the ends of a pull by up to
/// 0.3 % (measured on no case: a window of 0.3 s at a slope of 1 % in it); of gearing, a tyre's size; of energy through the gearing, twice that.
const LEAST: [f64; 3] = [0.006, 0.03, 0.06];
/// Ratios beyond which nothing is built on the recording, as logarithms: no rig's drag and smoothing, no tyre's wear and slip, and not both
/// with the drum's inertia make them (common practice, no source).
const STOPS: [f64; 3] = [0.05, 0.06, 0.20];
/// Tyres of one car differ by less than this in radius, as a logarithm (common practice, no source).
const TYRES: f64 = 0.12;
/// Mean effective pressure at the wheels over absolute manifold pressure at full throttle: no healthy engine lies outside (common practice,
/// no source).
const MEAN_PRESSURE: std::ops::RangeInclusive<f64> = 4.0..=14.0;
/// 1 hp (550 ft lbf/s), 1 PS (75 kgf m/s), 1 lbf ft, 1 kgf m in SI; 1 lbf in N. By definition.
const HP_W: f64 = 745.699_871_582_270_2;
const PS_W: f64 = 735.498_75;
const LBF_FT_NM: f64 = 1.355_817_948_331_400_4;
const KGF_M_NM: f64 = 9.806_65;

impl Question<'_> {
    /// Holds the recording against itself and the car.
    pub fn answer(&self) -> Answer {
        let setup = &self.sheet.centre;
        let energy = self.pull.curve.rig.energy;
        let drum = energy.and_then(|e| e.over_drum(&setup.drums));
        let log = Log {
            own_engine_speed: self.entered.speed_source == SpeedSource::Own,
            electric_axle: self.pull.conditions.axle.on,
        };
        let power = drum.map_or(1.0, |held| held.ratio);
        let geared = self.pull.curve.engine_over_drum(setup, log, power);
        // Through the gearing only what the drum itself does not tell.
        let through = match drum {
            Some(_) => None,
            None => energy.and_then(|e| e.over_gearing(setup, log)),
        };
        let on_trust = if drum.is_some() {
            OnTrust::InertiaWithPower
        } else if through.is_some() {
            OnTrust::PowerInertiaGearing
        } else {
            OnTrust::All
        };
        let inertia = self.doubt("drums.inertia");
        let gearing = ["driveline.gear", "driveline.final_drive"]
            .iter()
            .map(|path| self.doubt(path))
            .fold(self.doubt("wheels.tyre_radius"), f64::hypot);
        let list = [
            drum.zip(energy)
                .and_then(|(held, e)| self.energy(widened(held, inertia), &e)),
            geared.and_then(|held| self.gearing(widened(held, gearing))),
            through.zip(energy).and_then(|(held, e)| {
                self.through(widened(held, inertia.hypot(2.0 * gearing)), &e)
            }),
        ];
        let beside =
            energy.and_then(|e| self.beside_the_force(drum.map(|held| widened(held, inertia)), &e));
        let mut findings: Vec<Finding> = list
            .into_iter()
            .flatten()
            .chain(beside)
            .chain(self.room())
            .chain(self.course())
            .collect();
        findings.extend(self.described(&findings));
        Answer {
            pull: self.pull.name.clone(),
            findings,
            on_trust,
        }
    }

    /// Relative doubt that the car file itself states of a number.
    fn doubt(&self, path: &str) -> f64 {
        let beliefs = &self.sheet.beliefs;
        let found = beliefs.iter().find(|b| b.parameter.path == path);
        found
            .filter(|b| !b.prior.is_fixed())
            .map_or(0.0, |b| (b.prior.dx_dz(0.0) / b.prior.centre()).abs())
    }

    fn finding(
        &self,
        finding: Contradiction,
        held: Held,
        candidates: Vec<Candidate>,
        certain: bool,
    ) -> Option<Finding> {
        let index = finding as usize;
        let (off, within) = (held.ratio.ln().abs(), LEAST[index].max(SURE * held.sd));
        let beyond = off > STOPS[index].max(2.0 * SURE * held.sd);
        let stops = certain && beyond && !self.trusted;
        (off > within).then_some(Finding {
            finding,
            ratio: held.ratio,
            within: within.exp_m1(),
            candidates,
            severity: if stops {
                Severity::Stops
            } else {
                Severity::Warns
            },
        })
    }

    fn inertia(&self, ratio: f64) -> Candidate {
        let drums = &self.sheet.centre.drums;
        let geared = drums.inertia_at_drum_kg_m2() - drums.inertia_kg_m2;
        Candidate {
            mistake: Mistake::DrumInertia,
            value_that_would_agree: ratio * drums.inertia_at_drum_kg_m2() - geared,
        }
    }

    /// Gear, final drive, tyre and drum that would make engine over drum speed larger by a factor, the likelier first: a gear is another by a step,
    /// a final drive, a tyre or a drum by a few per cent.
    fn gears(&self, factor: f64) -> Vec<Candidate> {
        let line = &self.sheet.centre.car.driveline;
        let of = |mistake, value| Candidate {
            mistake,
            value_that_would_agree: value,
        };
        let gear = of(Mistake::Gear, line.gear_ratio() * factor);
        let last = of(Mistake::FinalDrive, line.final_ratio() * factor);
        let tyre = of(Mistake::TyreRadius, line.tyre.radius_m / factor);
        if factor.ln().abs() > TYRES {
            vec![gear, last]
        } else {
            let drum = of(
                Mistake::DrumRadius,
                self.sheet.centre.drums.radius_m * factor,
            );
            vec![last, gear, tyre, drum]
        }
    }

    /// Equation (6.30).
    fn gearing(&self, held: Held) -> Option<Finding> {
        let ln = held.ratio.ln();
        let mut candidates = Vec::new();
        if (ln.abs() - LN_2).abs() < TYRES {
            candidates.push(Candidate {
                mistake: Mistake::EnginePickUp,
                value_that_would_agree: if ln > 0.0 { 2.0 } else { 0.5 },
            });
        }
        candidates.extend(self.gears(held.ratio));
        self.finding(Contradiction::GearingOfTheLog, held, candidates, true)
    }

    /// Equation (6.31).
    fn through(&self, held: Held, energy: &Energy) -> Option<Finding> {
        let ln = held.ratio.ln();
        let near = SURE * held.sd;
        let mut candidates = units_that_make(energy.power_from, ln, near);
        candidates.retain(|c| self.engine_could_make(c.value_that_would_agree));
        // Twice the engine speed is four times the energy that a drum would have gained.
        if (ln.abs() - 2.0 * LN_2).abs() < 2.0 * TYRES {
            candidates.push(Candidate {
                mistake: Mistake::EnginePickUp,
                value_that_would_agree: if ln < 0.0 { 2.0 } else { 0.5 },
            });
        }
        candidates.extend(self.corrections_that_make(ln, near));
        // The energy at an engine speed goes with the gearing's inverse square.
        candidates.extend(self.gears(held.ratio.sqrt().recip()));
        candidates.push(self.inertia(held.ratio));
        self.finding(
            Contradiction::EnergyThroughTheGearing,
            held,
            candidates,
            true,
        )
    }

    /// Corrections of the day that make just that ratio: the standard that was entered, or any of spark ignition.
    fn corrections_that_make(&self, ln: f64, near: f64) -> Option<Candidate> {
        let subject = Subject::of(EngineKind::SPARK_UNBOOSTED);
        let asked = self.entered.standard;
        let nearest = Standard::all()
            .filter(|standard| asked.is_none_or(|a| a == *standard))
            .filter_map(|standard| Correction::new(standard, self.pull.day, &subject).ok())
            .map(|correction| correction.factor)
            .filter(|factor| factor.ln().abs() > 0.5 * near)
            .min_by(|a, b| (a.ln() - ln).abs().total_cmp(&(b.ln() - ln).abs()))?;
        ((nearest.ln() - ln).abs() <= near).then_some(Candidate {
            mistake: Mistake::CorrectedPowerAsRead,
            value_that_would_agree: nearest,
        })
    }

    /// Whether the engine could make the power recorded over a factor: mean pressure at the wheels within what the manifold's allows.
    ///
    /// ```text
    /// p_w = 4π P/(ω V_d),   4.0 ≤ p_w/p_m ≤ 14.0
    /// ```
    ///
    /// `p_m` is the logged manifold pressure, or the room's where nothing blows and nothing is logged. Source: definition of the mean
    /// effective pressure of a four-stroke. Equation (6.32).
    fn engine_could_make(&self, too_much: f64) -> bool {
        let car = &self.sheet.centre.car;
        let nm = |band: &Band| band.power_w / units::rad_s(band.rpm);
        let bands = self.pull.curve.bands.iter();
        let Some(best) = bands.max_by(|a, b| nm(a).total_cmp(&nm(b))) else {
            return true;
        };
        let room_pa = matches!(car.blower, Blower::None).then(|| self.pull.day.station().pa());
        let Some(manifold_pa) = best
            .manifold_pa
            .or(room_pa)
            .filter(|_| car.electric.is_none())
        else {
            return true;
        };
        let mean_pa = 4.0 * PI * nm(best) / too_much / car.engine.geometry.displacement_m3();
        MEAN_PRESSURE.contains(&(mean_pa / manifold_pa))
    }
}

/// A held ratio with the doubt that the car file states itself.
fn widened(held: Held, doubt: f64) -> Held {
    Held {
        sd: held.sd.hypot(doubt),
        ..held
    }
}

/// Units mistaken for each other that make just that ratio, the commoner first where a rough ratio leaves several.
fn units_that_make(from: PowerFrom, ln: f64, near: f64) -> Vec<Candidate> {
    let kw = 1e3;
    let table: &[(Mistake, f64)] = match from {
        PowerFrom::Power | PowerFrom::Corrected => &[
            (Mistake::PowerHpAsKw, kw / HP_W),
            (Mistake::PowerKwAsHp, HP_W / kw),
            (Mistake::PowerPsAsKw, kw / PS_W),
            (Mistake::PowerKwAsPs, PS_W / kw),
        ],
        PowerFrom::Torque => &[
            (Mistake::TorqueLbFtAsNm, 1.0 / LBF_FT_NM),
            (Mistake::TorqueNmAsLbFt, LBF_FT_NM),
            (Mistake::TorqueKgfMAsNm, 1.0 / KGF_M_NM),
        ],
        PowerFrom::Force => &[(Mistake::ForceLbfAsN, 1.0 / crate::units::POUND_FORCE_N)],
    };
    table
        .iter()
        .filter(|(_, factor)| (factor.ln() - ln).abs() <= near)
        .map(|&(mistake, factor)| Candidate {
            mistake,
            value_that_would_agree: factor,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sharp_ratio_names_one_unit_and_a_rough_one_the_commoner_first() {
        let named = |from, ratio: f64, near| -> Vec<Mistake> {
            units_that_make(from, ratio.ln(), near)
                .iter()
                .map(|c| c.mistake)
                .collect()
        };
        // 1 kW is 1.34102 hp and 1.35962 PS, 1 N m is 0.737562 lb ft (NIST SP 811).
        assert_eq!(
            named(PowerFrom::Power, 1.341_02, 0.006),
            [Mistake::PowerHpAsKw]
        );
        assert_eq!(
            named(PowerFrom::Power, 1.359_62, 0.006),
            [Mistake::PowerPsAsKw]
        );
        assert_eq!(
            named(PowerFrom::Power, 1.36, 0.1),
            [Mistake::PowerHpAsKw, Mistake::PowerPsAsKw]
        );
        assert_eq!(
            named(PowerFrom::Torque, 0.737_562, 0.006),
            [Mistake::TorqueLbFtAsNm]
        );
        assert_eq!(named(PowerFrom::Power, 1.1, 0.006), []);
    }
}
