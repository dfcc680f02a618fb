//! Why a change cannot be made to a car, and what could be written instead.

use super::bore_stroke::SHORTEST_ROD;

/// Why a change cannot be made to this car.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BuildError {
    /// The plan takes off or alters a part the car lacks.
    #[error("the plan changes the {part}, but the car has none")]
    PartMissing {
        /// What is missing.
        part: &'static str,
    },
    /// The plan adds a part of which the car has one.
    #[error("the plan adds an {part}, but the car has one")]
    PartThere {
        /// What is there.
        part: &'static str,
    },
    /// The connecting rod is too short for the new stroke.
    #[error("a rod of {rod_mm:.1} mm cannot turn a stroke of {stroke_mm:.1} mm")]
    ShortRod {
        /// The rod, mm.
        rod_mm: f64,
        /// The stroke, mm.
        stroke_mm: f64,
    },
    /// The plan takes off more than there is.
    #[error("the plan takes off more than there is of the {what}: {taken} off {there}")]
    NothingLeft {
        /// Of what.
        what: &'static str,
        /// How much there is.
        there: String,
        /// How much is taken off.
        taken: String,
    },
    /// Headers ahead of a turbine.
    #[error(
        "headers of a turbocharged car feed its turbine, and there is no law for them here; an exhaust behind the turbine can be changed"
    )]
    TurbineInBetween,
    /// A maker's claims cannot all be true.
    #[error("the blower's claims cannot describe a machine: {0}")]
    Claims(#[from] crate::boost::ClaimError),
}

impl BuildError {
    /// What could be written instead.
    pub fn expected(&self) -> String {
        match self {
            Self::PartMissing { part } => {
                format!("a change to a part the car has, or the {part} in the plan")
            }
            Self::PartThere { part } => format!("a change of kind \"{part}\" to alter it"),
            Self::ShortRod { stroke_mm, .. } => format!(
                "rod_length of at least {:.1} mm, as the new crank's",
                SHORTEST_ROD * stroke_mm
            ),
            Self::NothingLeft { there, .. } => format!("less than {there} taken off"),
            Self::TurbineInBetween => "an exhaust behind the turbine, or none of this".to_owned(),
            Self::Claims(_) => "claims of a possible machine".to_owned(),
        }
    }
}
