//! Drums as a mass at their surface, with the drag of their bearings and the air, and with a brake where the rig has one.
//!
//! A rig is described by what its maker states: moment of inertia, radius, what turns behind a gear, a curve of its own drag; and
//! by how the car meets it, on its tyres or bolted to the hubs. Two axles may share one surface speed
//! (linked) or turn separate drums; then the second axle's power is read apart and the engine's axle is not credited
//! with the second drum's mass. On linked drums the rig knows one speed and one force: how the axles share it, it cannot say.
//! It refuses brakes that push.

use crate::car::template::OF_THE_SHEET;
use crate::driveline::TyreOnDrum;
use crate::numeric::Real;

/// How two axles' drums are joined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coupling {
    /// One drum, under the driven axle.
    Single,
    /// Both axles' drums turn at one surface speed; the inertia stated is that of both.
    Linked,
    /// Each axle has its own; the inertia stated is the engine axle's.
    Separate {
        /// Moment of inertia of the second axle's drum, kg m².
        second_inertia_kg_m2: f64,
    },
}

/// How the car meets the rig.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Contact {
    /// Tyres on drums.
    #[default]
    Tyres,
    /// The rig is bolted to the hubs: no tyre, no slip, no rolling loss; wheels and tyres stand beside the car.
    Hubs,
}

/// How a brake leads the pull. It takes what the ramp leaves over and never pushes: a car that cannot follow climbs as fast as
/// it can.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Brake {
    /// Engine speed climbs at this rate, rpm in a second.
    EngineRamp {
        /// The rate, rpm/s.
        rpm_per_s: f64,
    },
    /// The surface gathers speed at this rate.
    SurfaceRamp {
        /// The rate, m/s².
        m_s2: f64,
    },
    /// Engine speed climbs evenly and reaches the end of the pull in this time.
    Sweep {
        /// The time, s.
        seconds: f64,
    },
}

/// What turns behind a gear on the rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geared {
    /// Its moment of inertia, kg m².
    pub inertia_kg_m2: f64,
    /// Its turns per turn of the drum.
    pub ratio: f64,
}

/// What a rig may have beyond a plain inertia drum.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Machine {
    /// How the car meets it.
    pub contact: Contact,
    /// A brake that leads the pull; none on an inertia rig.
    pub brake: Option<Brake>,
    /// What turns behind a gear.
    pub geared: Option<Geared>,
}

/// Share of the stated inertia of the wheels that stays on the car when the rig is bolted to its hubs: discs, hubs, half shafts (no
/// source: two discs of 9 kg at 0.16 m and as much again as a fifth of them, of 3.2 kg m²).
pub const STAYS_ON_HUBS: f64 = 0.09;

/// Drums of a dynamometer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drums {
    /// Moment of inertia, kg m², referred to the drum of this radius.
    pub inertia_kg_m2: f64,
    /// Radius, m; of a rig bolted to the hubs the radius at which its speed is told.
    pub radius_m: f64,
    /// Drag at the surface at rest, N.
    pub drag_n: f64,
    /// Growth of that drag with speed, N s/m.
    pub drag_n_s_m: f64,
    /// Growth of that drag with speed squared, N s²/m².
    pub drag_n_s2_m2: f64,
    /// Whether the rig adds its own drag back to the reading.
    pub drag_added_back: bool,
    /// How a second axle is carried.
    pub coupling: Coupling,
    /// Hubs, brake, gearing.
    pub machine: Machine,
}

impl Drums {
    /// One plain drum under the driven axle, whose numbers are still to be stated.
    pub(crate) fn bare() -> Self {
        Self {
            inertia_kg_m2: OF_THE_SHEET,
            radius_m: OF_THE_SHEET,
            drag_n: OF_THE_SHEET,
            drag_n_s_m: OF_THE_SHEET,
            drag_n_s2_m2: OF_THE_SHEET,
            drag_added_back: false,
            coupling: Coupling::Single,
            machine: Machine::default(),
        }
    }

    /// Moment of inertia at the drum with what turns behind the gear, kg m²: `I + i² I_g`.
    ///
    /// Source: kinetic energy (derived). 100 kg m² with 2 kg m² at five turns: 150 kg m².
    /// Equation (6.6).
    pub fn inertia_at_drum_kg_m2(&self) -> f64 {
        let geared = self
            .machine
            .geared
            .map_or(0.0, |g| g.inertia_kg_m2 * g.ratio * g.ratio);
        self.inertia_kg_m2 + geared
    }

    /// Mass at the surface, kg: `I/R²`.
    /// Equation (6.6).
    pub fn mass_kg(&self) -> f64 {
        self.inertia_at_drum_kg_m2() / (self.radius_m * self.radius_m)
    }

    /// Mass of the second axle's drum at the surface where it turns apart, kg.
    pub fn second_mass_kg(&self) -> Option<f64> {
        match self.coupling {
            Coupling::Separate {
                second_inertia_kg_m2,
            } => Some(second_inertia_kg_m2 / (self.radius_m * self.radius_m)),
            Coupling::Single | Coupling::Linked => None,
        }
    }

    /// Drag at the surface, N: `F₀ + F₁ v + F₂ v²`.
    /// Equation (6.6).
    #[inline(always)]
    pub fn drag_at_n<R: Real>(&self, speed_m_s: R) -> R {
        (speed_m_s * self.drag_n_s2_m2 + self.drag_n_s_m) * speed_m_s + self.drag_n
    }

    /// Power the rig reports when its surface accelerates against its brake, W.
    /// Equation (6.6).
    pub fn reading_w(
        &self,
        mass_kg: f64,
        acceleration_m_s2: f64,
        brake_n: f64,
        speed_m_s: f64,
    ) -> f64 {
        let drag = if self.drag_added_back {
            self.drag_at_n(speed_m_s)
        } else {
            0.0
        };
        (mass_kg * acceleration_m_s2 + brake_n + drag) * speed_m_s
    }

    /// A tyre on this rig. Bolted to the hubs there is none: a wheel of the rig's radius that neither grows, slips nor rolls with
    /// a loss.
    pub fn under(&self, tyre: &TyreOnDrum) -> TyreOnDrum {
        match self.machine.contact {
            Contact::Tyres => TyreOnDrum {
                drum_radius_m: self.radius_m,
                ..*tyre
            },
            Contact::Hubs => TyreOnDrum {
                radius_m: self.radius_m,
                drum_radius_m: f64::INFINITY,
                load_n: tyre.load_n,
                rolling_coefficient: 0.0,
                slip_stiffness: f64::INFINITY,
                grip: f64::INFINITY,
                growth_at_60_m_s: 0.0,
            },
        }
    }

    /// Share of the wheels' stated inertia that turns.
    pub fn wheels_share(&self) -> f64 {
        match self.machine.contact {
            Contact::Tyres => 1.0,
            Contact::Hubs => STAYS_ON_HUBS,
        }
    }
}

/// Invented drums, for tests of whoever needs drums and not which.
#[cfg(test)]
impl Drums {
    pub(crate) fn example() -> Self {
        Self {
            inertia_kg_m2: 200.0,
            radius_m: 0.5,
            drag_n: 30.0,
            drag_n_s_m: 0.0,
            drag_n_s2_m2: 0.01,
            drag_added_back: false,
            coupling: Coupling::Single,
            machine: Machine::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_lost_between_a_hub_and_its_rig() {
        let drums = Drums {
            inertia_kg_m2: 5.0,
            radius_m: 0.3,
            drag_n: 0.0,
            drag_n_s_m: 0.0,
            drag_n_s2_m2: 0.0,
            drag_added_back: false,
            coupling: Coupling::Single,
            machine: Machine {
                contact: Contact::Hubs,
                ..Machine::default()
            },
        };
        let seat = drums.under(&TyreOnDrum::typical(0.32, 0.6, 8000.0));
        let passed = seat.slip(9000.0);
        assert_eq!(
            (passed.slip, passed.transmitted_n, passed.limit),
            (0.0, 9000.0, None)
        );
        assert_eq!(seat.rolling_force_n(40.0, 310.0), 0.0);
        assert_eq!(seat.radius_at_m(60.0), 0.3);
    }

    #[test]
    fn gearing_counts_with_its_square_and_drag_is_a_quadratic() {
        let drums = Drums {
            inertia_kg_m2: 100.0,
            radius_m: 0.5,
            drag_n: 30.0,
            drag_n_s_m: 2.0,
            drag_n_s2_m2: 0.01,
            drag_added_back: false,
            coupling: Coupling::Single,
            machine: Machine {
                geared: Some(Geared {
                    inertia_kg_m2: 2.0,
                    ratio: 5.0,
                }),
                ..Machine::default()
            },
        };
        assert_eq!(drums.mass_kg(), 600.0);
        assert_eq!(drums.drag_at_n(10.0), 51.0);
    }
}
