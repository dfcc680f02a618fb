//! The rig of a predicted pull: what sets it apart from a plain inertia drum under one axle.
//!
//! A braked or hub-coupled reading must not be laid beside one of an inertia drum without being told apart.

use super::Coupled;
use crate::dyno::{Brake, Contact, Drums, Pull};
use serde::Serialize;

/// A rig that is more than a plain inertia drum under one axle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rig {
    /// How the axles share the drums.
    pub coupling: Coupled,
    /// Whether it is bolted to the hubs, no tyre between.
    pub hubs: bool,
    /// Ratio of the gear to further inertia; none without.
    pub gear_ratio: Option<f64>,
    /// All inertia at the drum, where some of it is geared, kg m².
    pub inertia_at_drum_kg_m2: Option<f64>,
    /// The brake.
    pub brake: Option<BrakeWork>,
}

/// What a brake does in this pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BrakeWork {
    /// What it holds.
    #[serde(flatten)]
    pub law: BrakeLaw,
    /// Where in the pull it does.
    pub holds: Holds,
}

/// What a brake holds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "brake")]
pub enum BrakeLaw {
    /// The climb of engine speed.
    EngineRamp {
        /// Climb, rpm in a second.
        rpm_per_s: f64,
    },
    /// The surface's acceleration.
    SurfaceRamp {
        /// Acceleration, m/s².
        m_s2: f64,
    },
    /// The time of the pull, spread evenly.
    Sweep {
        /// The time, s.
        seconds: f64,
    },
}

/// Where in a pull a brake holds its law; a car that does not climb that fast leaves it idle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Holds {
    /// All through it.
    Everywhere,
    /// Not at every engine speed.
    InPart,
    /// At none: it is an inertia pull.
    Nowhere,
}

impl From<Brake> for BrakeLaw {
    fn from(brake: Brake) -> Self {
        match brake {
            Brake::EngineRamp { rpm_per_s } => Self::EngineRamp { rpm_per_s },
            Brake::SurfaceRamp { m_s2 } => Self::SurfaceRamp { m_s2 },
            Brake::Sweep { seconds } => Self::Sweep { seconds },
        }
    }
}

impl Rig {
    /// Of a pull on some drums; none for a plain inertia drum under one axle.
    pub(super) fn of(drums: &Drums, pull: &Pull) -> Option<Self> {
        let machine = &drums.machine;
        let rig = Self {
            coupling: drums.coupling.into(),
            hubs: machine.contact == Contact::Hubs,
            gear_ratio: machine.geared.map(|geared| geared.ratio),
            inertia_at_drum_kg_m2: machine.geared.map(|_| drums.inertia_at_drum_kg_m2()),
            brake: machine.brake.map(|brake| BrakeWork {
                law: brake.into(),
                holds: holds(pull),
            }),
        };
        let plain = rig.coupling == Coupled::Single
            && !rig.hubs
            && rig.gear_ratio.is_none()
            && rig.brake.is_none();
        (!plain).then_some(rig)
    }
}

fn holds(pull: &Pull) -> Holds {
    let idle = pull.points.iter().filter(|p| p.brake_n <= 0.0).count();
    match idle {
        0 => Holds::Everywhere,
        all if all == pull.points.len() => Holds::Nowhere,
        _ => Holds::InPart,
    }
}
