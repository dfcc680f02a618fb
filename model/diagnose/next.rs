//! The next measurement: what would best tell the two likeliest of the causes named apart, and what it costs to make.
//!
//! Each candidate is predicted under both causes, as a log would show it at the sizes found; how many standard deviations of the
//! measurement lie between the two is how well it tells. It refuses measurements the model cannot predict.

use super::cause::{Cause, Check};
use super::disturb::Scene;
use super::expect::{Channel, Curve, SpeedSource};
use super::form::Form;
use super::suspect::Suspect;
use crate::air::atmosphere::AltimeterSetting;
use crate::dyno::{PullPoint, Setup};
use serde::Serialize;

/// Something a shop can measure or look up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Measurement {
    /// The rig's own settings: inertia, ratios, standard.
    Settings,
    /// A barometer in the room.
    Barometer,
    /// The same pull again after a long rest.
    AfterRest,
    /// The car rolling out in neutral.
    CoastDown,
    /// Manifold pressure.
    Boost,
    /// Charge temperature.
    ChargeTemperature,
    /// Mixture.
    Mixture,
    /// A pick-up of engine speed beside the drum's.
    SpeedRatio,
    /// Speed of the blower.
    BlowerSpeed,
    /// Spark as the controller set it, and its knock count.
    Spark,
    /// Pressure before the exhaust system.
    BackPressure,
    /// Pressure behind the air filter.
    IntakePressure,
    /// Exhaust gas temperature.
    ExhaustTemperature,
    /// Volts and amperes of the electric axle's battery.
    BatteryPower,
}

/// A measurement with what it would show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NextStep {
    /// Which.
    pub measurement: Measurement,
    /// Whether it is a channel that this log lacks.
    pub absent_channel: bool,
    /// Under the likeliest cause, SI; of the settings, which is wrong: none (0), ratios, inertia, correction (3).
    pub first: f64,
    /// Under the next.
    pub second: f64,
    /// Engine speed at which they differ most, rpm; nothing where it is no curve.
    pub rpm: Option<f64>,
    /// Standard deviations between them.
    pub apart: f64,
}

impl Measurement {
    /// All.
    pub const ALL: [Self; 14] = [
        Self::Settings,
        Self::Barometer,
        Self::AfterRest,
        Self::CoastDown,
        Self::Boost,
        Self::ChargeTemperature,
        Self::Mixture,
        Self::SpeedRatio,
        Self::BlowerSpeed,
        Self::Spark,
        Self::BackPressure,
        Self::IntakePressure,
        Self::ExhaustTemperature,
        Self::BatteryPower,
    ];

    /// Effort to make it, about that of looking at a setting (common practice, no source).
    const fn effort(self) -> f64 {
        match self {
            Self::Settings | Self::Barometer => 1.0,
            Self::AfterRest | Self::Spark => 1.5,
            Self::Mixture | Self::CoastDown | Self::SpeedRatio | Self::BatteryPower => 2.0,
            Self::Boost | Self::ChargeTemperature => 2.5,
            Self::ExhaustTemperature | Self::IntakePressure | Self::BackPressure => 3.0,
            Self::BlowerSpeed => 3.5,
        }
    }

    /// Channel of a log that is the same measurement.
    const fn channel(self) -> Option<Channel> {
        match self {
            Self::Boost => Some(Channel::Manifold),
            Self::ChargeTemperature => Some(Channel::Charge),
            Self::Mixture => Some(Channel::Lambda),
            Self::SpeedRatio => Some(Channel::DrumRatio),
            Self::BlowerSpeed => Some(Channel::BlowerRatio),
            Self::Spark => Some(Channel::Spark),
            _ => None,
        }
    }

    /// Standard deviation of a shop's measurement and the model's word on it together (common practice, no source).
    const fn sd(self) -> f64 {
        match self {
            // A setting is right or wrong.
            Self::Settings => 0.1,
            Self::AfterRest => 0.008,
            Self::CoastDown => 15.0,
            Self::Boost => 1_500.0,
            Self::ChargeTemperature => 3.0,
            Self::Mixture => 0.012,
            Self::SpeedRatio => 0.003,
            Self::BlowerSpeed => 0.01,
            Self::Spark => 1.5,
            Self::Barometer | Self::IntakePressure => 500.0,
            Self::ExhaustTemperature => 20.0,
            // Pa, and W.
            Self::BackPressure | Self::BatteryPower => 3_000.0,
        }
    }

    /// What a point of a pull says about it; nothing where it is no curve.
    fn of(self, setup: &Setup, point: &PullPoint) -> Option<f64> {
        let engine = &point.engine;
        Some(match self {
            Self::Spark => engine.cylinder.ca50_deg,
            Self::BackPressure if setup.car.blower.turbo().is_none() => engine.exhaust_pa,
            Self::IntakePressure => engine.inlet_pa,
            Self::ExhaustTemperature => engine.cylinder.exhaust_k,
            Self::BatteryPower if setup.car.electric.is_some() => point.electric_w,
            _ => return None,
        })
    }

    /// What a measurement that is no curve says under a cause.
    fn single(self, suspect: &Suspect, scene: &Scene<'_>) -> Option<f64> {
        let cause = suspect.explained.cause;
        let size = suspect.explained.values.first().copied().unwrap_or(1.0);
        Some(match self {
            // Which of them is wrong: none, ratios, inertia, correction.
            Self::Settings if suspect.explained.form == Form::Driven => 0.0,
            Self::Settings => match cause {
                Cause::Gear => 1.0,
                Cause::DrumInertia => 2.0,
                Cause::Correction => 3.0,
                _ => 0.0,
            },
            Self::Barometer => {
                if cause.check() == Check::Barometer {
                    let typed_pa = scene.day.station().pa();
                    let altitude_m = scene.entered.altitude_m.unwrap_or(size);
                    let room = AltimeterSetting::from_pa(typed_pa).to_station(altitude_m);
                    typed_pa - room.pa()
                } else {
                    0.0
                }
            }
            // What goes away with the heat.
            Self::AfterRest => {
                if cause.check() == Check::Rest {
                    // What was lost, over what was left.
                    -suspect.worst.1 / (1.0 + suspect.worst.1).max(0.05)
                } else {
                    0.0
                }
            }
            Self::CoastDown => {
                if cause.check() == Check::CoastDown {
                    size
                } else {
                    0.0
                }
            }
            _ => return None,
        })
    }
}

/// Differences of less say nothing.
const TELLS: f64 = 1.0;
/// Beyond this, more does not help.
const ENOUGH: f64 = 6.0;

/// The measurements that would tell the two likeliest causes apart, best for their effort first.
/// Equation (10.9).
pub(super) fn steps(suspects: &[Suspect], scene: &Scene<'_>) -> Vec<NextStep> {
    let named: Vec<&Suspect> = suspects
        .iter()
        .filter(|s| s.explained.cause != Cause::NoneOfThese)
        .take(2)
        .collect();
    let [first, second] = named.as_slice() else {
        return Vec::new();
    };
    let mut out: Vec<NextStep> = Measurement::ALL
        .into_iter()
        .filter(|m| m.channel().is_none_or(|channel| !measured(scene, channel)))
        .filter_map(|m| step(m, first, second, scene))
        .filter(|step| step.apart > TELLS)
        .collect();
    if out.is_empty() {
        out.extend(by_hand(first, second, scene));
    }
    let worth = |s: &NextStep| s.apart.min(ENOUGH) / s.measurement.effort();
    out.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    out
}

/// Where no measurement tells two causes apart: the settings page for a setting, a rest for what rests away, a coast-down for drag.
fn by_hand(first: &Suspect, second: &Suspect, scene: &Scene<'_>) -> Option<NextStep> {
    let measurement = [first, second].into_iter().find_map(|s| {
        Some(match s.explained.cause.check() {
            Check::Setting => Measurement::Settings,
            Check::Barometer => Measurement::Barometer,
            Check::Rest => Measurement::AfterRest,
            Check::CoastDown => Measurement::CoastDown,
            Check::Channels => return None,
        })
    })?;
    step(measurement, first, second, scene)
}

/// Whether the log measures a channel; a speed computed from the drums is no measurement of their ratio.
fn measured(scene: &Scene<'_>, channel: Channel) -> bool {
    let computed =
        channel == Channel::DrumRatio && scene.entered.speed_source == SpeedSource::FromDrum;
    scene.has(channel) && !computed
}

fn step(
    measurement: Measurement,
    first: &Suspect,
    second: &Suspect,
    scene: &Scene<'_>,
) -> Option<NextStep> {
    if let (Some(a), Some(b)) = (
        measurement.single(first, scene),
        measurement.single(second, scene),
    ) {
        return Some(NextStep {
            measurement,
            absent_channel: false,
            first: a,
            second: b,
            rpm: None,
            apart: (a - b).abs() / measurement.sd(),
        });
    }
    let rpm = &scene.power()?.rpm;
    let curve = |suspect: &Suspect| {
        if let Some(channel) = measurement.channel() {
            return channel_under(scene, suspect, channel);
        }
        let pull = &suspect.explained.shown.pull;
        let of = |p: &PullPoint| measurement.of(scene.setup, p).unwrap_or(f64::NAN);
        measurement.of(scene.setup, &pull.points[0])?;
        Some(rpm.iter().map(|rpm| pull.reading(*rpm, of)).collect())
    };
    let (a, b): (Vec<f64>, Vec<f64>) = (curve(first)?, curve(second)?);
    let apart = |i: usize| (a[i] - b[i]).abs();
    let best = (0..rpm.len()).max_by(|i, j| apart(*i).total_cmp(&apart(*j)))?;
    Some(NextStep {
        measurement,
        absent_channel: measurement.channel().is_some(),
        first: a[best],
        second: b[best],
        rpm: Some(rpm[best]),
        apart: apart(best) / measurement.sd(),
    })
}

/// What a channel that the log lacks would show under a suspect, at the engine speeds of its power.
fn channel_under(scene: &Scene<'_>, suspect: &Suspect, channel: Channel) -> Option<Vec<f64>> {
    let power = scene.power()?.clone();
    if channel == Channel::BlowerRatio && scene.setup.car.blower.drive().is_none() {
        return None;
    }
    let wanted = Curve {
        channel,
        ..power.clone()
    };
    let mut with = scene.clone();
    with.curves = vec![power, wanted];
    let explained = &suspect.explained;
    let (mut cause, mut form) = (explained.cause, explained.form);
    if channel == Channel::DrumRatio {
        // It would be measured on the engine, which turns as it does whatever the rig was told.
        with.entered.speed_source = SpeedSource::Own;
        if matches!(form, Form::WrongEntry | Form::NotAsNoted) {
            (cause, form) = (Cause::Nothing, Form::Plain);
        }
    }
    let mut shown = with.expected_log(cause, form, &explained.values)?;
    shown.curves.pop()
}
