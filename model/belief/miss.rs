//! What the model may misjudge of a change, mechanism by mechanism: the doubt that no measurement before the work takes away.
//!
//! A build changes power through the air swallowed, the phasing of the burn, what a kilogram of air gives, the gas exchange, the blower's
//! drive and the driveline. Each of these laws errs by a share of what it says, and the shares have nothing to do with each other: where two
//! effects cancel in the gain, their doubts do not. Nothing here knows a pull; [`crate::ask`] asks how much went through each.

use serde::Serialize;

/// A way by which work on a car changes its power.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Mechanism {
    /// Air swallowed.
    Air,
    /// Phasing of the burn.
    Phasing,
    /// What a kilogram of air gives: fuel, mixture, compression, heat to the walls.
    Work,
    /// Pumping.
    GasExchange,
    /// Power that a blower takes from the crank.
    Blower,
    /// Gears, tyres and turning masses between crank and drum.
    Driveline,
    /// Waves in intake and exhaust, where work on the pipes or the camshaft moves them.
    Waves,
}

impl Mechanism {
    /// All, in order of the gas and of the power.
    pub const ALL: [Self; 7] = [
        Self::Air,
        Self::Phasing,
        Self::Work,
        Self::GasExchange,
        Self::Blower,
        Self::Driveline,
        Self::Waves,
    ];

    /// As a number whose doubt widens a range.
    pub const fn id(self) -> &'static str {
        match self {
            Self::Air => "model.air",
            Self::Phasing => "model.phasing",
            Self::Work => "model.work",
            Self::GasExchange => "model.gas_exchange",
            Self::Blower => "model.blower",
            Self::Driveline => "model.driveline",
            Self::Waves => "model.waves",
        }
    }
}

/// How far the model may be off, by mechanism: standard deviations, each as a share of the effect on power that goes through it; of
/// waves, of the power itself for each kind of work that moves them.
///
/// | field | default | basis |
/// |---|---|---|
/// | `bias` | 0 each | what a shop's own jobs showed to be missed alike in all of them ([`crate::fit::own_jobs`]); nothing where there are none |
/// | `change` | 0.05 each | what laws of air, burn and drive are good for outside what they were fitted to: believed 0.10 within a factor of two (common practice, no source), and 45 recorded builds left out in turn take 0.04 to 0.05, a whole set left out 0.05 and 0.06 (`cargo run --release --example recorded_builds -- --sizes`) |
/// | `waves` | 0.04 | tuned pipes and cams move filling by some 2 to 5 % at their speed; common practice, no source |
/// | `beyond` | 0.33 | shape of a curve past the measured speeds, per unit of ln(speed): eleven recorded baselines cut at two thirds of their top speed, each left out in turn: 88 % of 182 readings inside 90 % ranges, 53 % without it (the same command, `--cut`) |
///
/// Equation (8.6).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Miss {
    /// What is missed in every job alike, of the same mechanisms as `change`.
    pub bias: [f64; 6],
    /// Of air, phasing, work, gas exchange, blower and driveline, in the order of [`Mechanism::ALL`].
    pub change: [f64; 6],
    /// Of waves.
    pub waves: f64,
    /// Shape of the curve outside the measured speeds, per unit of ln(speed).
    pub beyond: f64,
}

impl Miss {
    /// A model without fault: for checks of what else a range holds.
    pub const NONE: Self = Self {
        bias: [0.0; 6],
        change: [0.0; 6],
        waves: 0.0,
        beyond: 0.0,
    };

    /// The size that belongs to a mechanism.
    pub fn of(&self, mechanism: Mechanism) -> f64 {
        self.change
            .get(mechanism as usize)
            .copied()
            .unwrap_or(self.waves)
    }

    /// What is missed of a mechanism in every job alike.
    pub fn bias_of(&self, mechanism: Mechanism) -> f64 {
        self.bias.get(mechanism as usize).copied().unwrap_or(0.0)
    }

    /// The same with what strays from job to job left out.
    #[must_use]
    pub fn of_bias_alone(self) -> Self {
        Self {
            change: [0.0; 6],
            ..self
        }
    }

    /// The same with laws of air, burn and drive without fault.
    #[must_use]
    pub fn of_waves_alone(self) -> Self {
        Self {
            bias: [0.0; 6],
            change: [0.0; 6],
            ..self
        }
    }
}

impl Default for Miss {
    fn default() -> Self {
        Self {
            bias: [0.0; 6],
            change: [0.05; 6],
            waves: 0.04,
            beyond: 0.33,
        }
    }
}
