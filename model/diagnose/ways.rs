//! Which ways of a cause what there is of a log could show.
//!
//! Exists because a way that could leave no trace, of a signal that is not logged or a number nobody noted, must not be weighed: it
//! would be as likely as nothing at all.

use super::cause::Cause;
use super::disturb::Scene;
use super::expect::{Channel, Fact, SpeedSource, log_factor};
use super::form::Form;
use crate::dyno::correction::Standard;

/// Ratios entered that differ by more, as a logarithm, are two ratios, not one rounded otherwise.
pub(super) const ANOTHER_RATIO: f64 = 0.005;

impl Scene<'_> {
    /// The ways in which it may show in what there is of a log; none where it could not.
    pub(super) fn forms(&self, cause: Cause) -> Vec<Form> {
        let entered = &self.entered;
        match cause {
            Cause::Correction => {
                let declared = entered.standard;
                // A standard that needs more than the air cannot be tried.
                let others = || {
                    Standard::all()
                        .filter(|s| *s != Standard::None && log_factor(*s, &self.day).is_some())
                };
                let applied = self.facts.iter().any(|f| f.0 == Fact::AppliedFactor);
                let relabelled = others()
                    .filter(|s| {
                        let known = declared.filter(|d| log_factor(*d, &self.day).is_some());
                        applied && known.is_some_and(|d| d != *s)
                    })
                    .map(Form::CorrectedWith);
                relabelled
                    .chain(others().map(Form::AlreadyCorrected))
                    .collect()
            }
            // A pick-up sees what is driven and does not ask what was told.
            Cause::Gear => match entered.speed_source {
                SpeedSource::FromDrum => {
                    let noted = self.facts.iter().any(|f| f.0 == Fact::TypedRatio);
                    let other = noted.then_some(Form::NotAsNoted);
                    [Form::WrongEntry, Form::Driven]
                        .into_iter()
                        .chain(other)
                        .collect()
                }
                SpeedSource::Own => {
                    let typed = self.facts.iter().find(|f| f.0 == Fact::TypedRatio);
                    let unlike = typed.is_some_and(|f| f.1.abs() > ANOTHER_RATIO);
                    let told = [Form::WrongEntry, Form::DrivenAsEntered].into_iter();
                    std::iter::once(Form::Driven)
                        .chain(told.filter(|_| unlike))
                        .collect()
                }
            },
            Cause::TyreSlip => {
                let slides = self.slid.is_some().then_some(Form::AnyLoad);
                std::iter::once(Form::Plain).chain(slides).collect()
            }
            Cause::KnockRetard => vec![Form::Plain, Form::WholeRange],
            Cause::Lift => vec![Form::Plain, Form::Passing],
            Cause::DrumInertia => {
                let noted = self.facts.iter().any(|f| f.0 == Fact::TypedInertia);
                let other = noted.then_some(Form::NotAsNoted);
                [Form::Plain].into_iter().chain(other).collect()
            }
            Cause::LowBattery | Cause::MotorDerate if !self.conditions.axle.on => Vec::new(),
            Cause::ClutchSlip if self.setup.car.driveline.open_converter().is_some() => {
                vec![Form::OpenConverter]
            }
            Cause::SensorLag => {
                let signals = [
                    (entered.speed_source == SpeedSource::Own, Form::SpeedSignal),
                    (entered.speed_source == SpeedSource::Own, Form::SpeedScale),
                    (self.has(Channel::Charge), Form::TemperatureSignal),
                ];
                signals.into_iter().filter(|s| s.0).map(|s| s.1).collect()
            }
            _ => vec![Form::Plain],
        }
    }
}
