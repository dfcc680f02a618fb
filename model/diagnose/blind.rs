//! What a log cannot show, whatever is wrong: causes whose own channel is missing, and the channel that would show them.
//!
//! Exists because a sound verdict on a log without lambda says nothing of the mixture. It refuses to weigh: a cause that is not seen keeps
//! the chance that the other channels leave it.

use super::cause::Cause;
use super::disturb::Scene;
use super::expect::{Channel, SpeedSource};
use super::next::Measurement;
use serde::Serialize;

/// Causes that a log shows at most through power, and what would show them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Blind {
    /// The causes.
    pub causes: Vec<Cause>,
    /// The measurement that would.
    pub measurement: Measurement,
}

/// Channels, the causes that are theirs, and the measurement that brings them.
const OWN: [(Channel, &[Cause], Measurement); 5] = [
    (
        Channel::Lambda,
        &[Cause::Lean, Cause::Rich, Cause::WeakFuel],
        Measurement::Mixture,
    ),
    (Channel::Spark, &[Cause::KnockRetard], Measurement::Spark),
    (
        Channel::DrumRatio,
        &[Cause::TyreSlip, Cause::ClutchSlip],
        Measurement::SpeedRatio,
    ),
    (
        Channel::Charge,
        &[Cause::HeatSoak],
        Measurement::ChargeTemperature,
    ),
    (Channel::Manifold, &[Cause::BoostLeak], Measurement::Boost),
];

/// What the log of a scene cannot show.
pub(super) fn blind(scene: &Scene<'_>) -> Vec<Blind> {
    let from_drum = scene.entered.speed_source == SpeedSource::FromDrum;
    OWN.into_iter()
        // A speed computed from the drums is no measurement of their ratio.
        .filter(|(channel, ..)| {
            !scene.has(*channel) || (*channel == Channel::DrumRatio && from_drum)
        })
        .filter_map(|(_, causes, measurement)| {
            let possible = causes.iter().copied().filter(|c| c.possible(scene.setup));
            let causes: Vec<Cause> = possible.collect();
            (!causes.is_empty()).then_some(Blind {
                causes,
                measurement,
            })
        })
        .collect()
}
