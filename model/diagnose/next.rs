//! The next measurement: what would best tell the two likeliest causes apart, and what it costs to make.
//!
//! Each candidate is predicted under both causes, at the sizes the log gives them; how many standard deviations of the
//! measurement lie between the two is how well it tells. It refuses measurements the model cannot predict.

use super::cause::Cause;
use super::expect::Channel;
use super::weigh::Suspect;
use crate::dyno::{Pull, PullPoint, Setup};
use std::f64::consts::TAU;

/// Something a shop can measure or look up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
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
    /// Under the likeliest cause, SI.
    pub first: f64,
    /// Under the next.
    pub second: f64,
    /// Engine speed at which they differ most, rpm; nothing where it is no curve.
    pub rpm: Option<f64>,
    /// Standard deviations between them.
    pub apart: f64,
}

impl Measurement {
    const ALL: [Self; 14] = [
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
            Self::Boost => engine.manifold_pa,
            Self::ChargeTemperature => point.sensor_k,
            Self::Mixture => engine.cylinder.lambda,
            Self::SpeedRatio => {
                (point.rpm * TAU / 60.0 * setup.drums.radius_m / point.speed_m_s).ln()
            }
            Self::BlowerSpeed if setup.car.blower.drive().is_some() => (engine.blower.speed_rad_s
                / (point.rpm * TAU / 60.0))
                .max(1e-6)
                .ln(),
            Self::Spark => engine.cylinder.ca50_deg,
            Self::BackPressure if setup.car.blower.turbo().is_none() => engine.exhaust_pa,
            Self::IntakePressure => engine.inlet_pa,
            Self::ExhaustTemperature => engine.cylinder.exhaust_k,
            Self::BatteryPower if setup.car.electric.is_some() => point.electric_w,
            _ => return None,
        })
    }

    /// What a measurement that is no curve says under a cause.
    fn single(self, suspect: &Suspect) -> Option<f64> {
        let cause = suspect.explained.cause;
        let size = suspect.explained.values.first().copied().unwrap_or(1.0);
        Some(match self {
            Self::Settings => f64::from(u8::from(matches!(
                cause,
                Cause::Correction | Cause::Gear | Cause::DrumInertia
            ))),
            Self::Barometer => {
                if cause == Cause::PressureMixedUp {
                    20e3
                } else {
                    0.0
                }
            }
            // What goes away with the heat.
            Self::AfterRest => match cause {
                Cause::HeatSoak | Cause::MotorDerate | Cause::LowBattery => -suspect.worst.1,
                _ => 0.0,
            },
            Self::CoastDown => {
                if cause == Cause::Drag {
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
pub(super) fn steps(
    suspects: &[Suspect],
    channels: &[Channel],
    setup: &Setup,
    sound: &Pull,
) -> Vec<NextStep> {
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
        .filter(|m| m.channel().is_none_or(|c| !channels.contains(&c)))
        .filter_map(|m| step(m, first, second, setup, sound))
        .filter(|step| step.apart > TELLS)
        .collect();
    let worth = |s: &NextStep| s.apart.min(ENOUGH) / s.measurement.effort();
    out.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    out
}

fn step(
    measurement: Measurement,
    first: &Suspect,
    second: &Suspect,
    setup: &Setup,
    sound: &Pull,
) -> Option<NextStep> {
    if let (Some(a), Some(b)) = (measurement.single(first), measurement.single(second)) {
        return Some(NextStep {
            measurement,
            absent_channel: false,
            first: a,
            second: b,
            rpm: None,
            apart: (a - b).abs() / measurement.sd(),
        });
    }
    let value = |suspect: &Suspect, rpm: f64| {
        let pull = &suspect.explained.shown.pull;
        measurement.of(setup, &pull.points[0])?;
        Some(pull.reading(rpm, |p| measurement.of(setup, p).unwrap_or(f64::NAN)))
    };
    let best = sound
        .points
        .iter()
        .filter_map(|p| Some((p.rpm, value(first, p.rpm)?, value(second, p.rpm)?)))
        .max_by(|a, b| (a.1 - a.2).abs().total_cmp(&(b.1 - b.2).abs()))?;
    Some(NextStep {
        measurement,
        absent_channel: measurement.channel().is_some(),
        first: best.1,
        second: best.2,
        rpm: Some(best.0),
        apart: (best.1 - best.2).abs() / measurement.sd(),
    })
}
