//! Units that numbers show: time by its steps, engine speed by what engines turn, power by torque and speed.
//!
//! A unit is taken only where the numbers allow one and no other; the report says how they show it.

use super::channel::Channel;
use super::header::{Meaning, Open, Reading};
use super::read::Raw;
use super::settle::Settling;
use crate::numeric::upper_median;
use crate::units::{Dimension, UNITS, Unit, rpm, show_number};

impl Settling<'_, '_> {
    /// The one reading that the numbers of a column without a unit allow, and how they show it.
    pub(super) fn inferred(&self, at: usize, open: &Open) -> Option<(Reading, String)> {
        let raw = &self.sheet.columns[at];
        let values: Vec<f64> = raw
            .values
            .iter()
            .copied()
            .filter(|v| v.is_finite())
            .map(|v| v * open.scale)
            .collect();
        let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let mut shown = Vec::new();
        for &channel in &open.channels {
            let dimension = channel.dimension()?;
            let of_dimension = UNITS.iter().filter(|unit| unit.dimension == dimension);
            let fits: Vec<(&'static Unit, f64, String)> = match channel {
                Channel::Time => of_dimension
                    .filter(|unit| time_fits(&values, unit.factor()))
                    .map(|unit| {
                        (
                            unit,
                            1.0,
                            format!(
                                "steps of {} s",
                                show_number(median_step(&values) * unit.factor(), 3)
                            ),
                        )
                    })
                    .collect(),
                // A name that may be road speed shows no turns in a second.
                Channel::EngineSpeed if open.channels.contains(&Channel::RoadSpeed) => {
                    let turns = of_dimension.filter(|unit| unit.symbol == "rpm");
                    engine_speeds(turns, top)
                }
                Channel::EngineSpeed => engine_speeds(of_dimension, top),
                Channel::BlowerSpeed => of_dimension
                    .filter(|unit| unit.symbol == "rpm" && (10_000.0..300_000.0).contains(&top))
                    .map(|unit| (unit, 1.0, format!("it reaches {}", show_number(top, 4))))
                    .collect(),
                Channel::ThrottlePosition | Channel::Humidity | Channel::StateOfCharge => {
                    of_dimension
                        .filter(|unit| {
                            if unit.symbol == "%" {
                                top > 1.5 && top <= 110.0
                            } else {
                                top <= 1.1
                            }
                        })
                        .map(|unit| (unit, 1.0, format!("it reaches {}", show_number(top, 3))))
                        .collect()
                }
                Channel::WheelPower | Channel::CorrectedWheelPower | Channel::CrankPower => {
                    self.by_product((raw, open.scale), channel, of_dimension, true)
                }
                Channel::WheelTorque | Channel::CorrectedWheelTorque | Channel::CrankTorque => {
                    self.by_product((raw, open.scale), channel, of_dimension, false)
                }
                channel if dimension == Dimension::Temperature => {
                    self.warm(channel, (low, top), of_dimension)
                }
                Channel::BatteryVoltage | Channel::BatteryCurrent => of_dimension
                    .take(1)
                    .map(|unit| (unit, 1.0, "a plain number".to_owned()))
                    .collect(),
                Channel::SparkAdvance => of_dimension
                    .filter(|unit| unit.symbol == "deg" && top > 2.0 && top < 90.0)
                    .map(|unit| (unit, 1.0, format!("it reaches {}", show_number(top, 3))))
                    .collect(),
                _ => Vec::new(),
            };
            shown.extend(fits.into_iter().map(|(unit, times, how)| {
                let reading = Reading {
                    channel,
                    unit,
                    scale: open.scale * times,
                    either: open.either && (times - 1.0).abs() < 1e-9,
                    inverse: false,
                    placed: open.placed,
                };
                (reading, how)
            }));
        }
        match <[_; 1]>::try_from(shown) {
            Ok([only]) => Some(only),
            Err(_) => None,
        }
    }

    /// Units by which power and torque × engine speed agree.
    fn by_product(
        &self,
        (raw, scale): (&Raw, f64),
        channel: Channel,
        units: impl Iterator<Item = &'static Unit>,
        is_power: bool,
    ) -> Vec<(&'static Unit, f64, String)> {
        let other = match channel {
            Channel::WheelPower => Channel::WheelTorque,
            Channel::WheelTorque => Channel::WheelPower,
            Channel::CrankPower => Channel::CrankTorque,
            Channel::CrankTorque => Channel::CrankPower,
            Channel::CorrectedWheelPower => Channel::CorrectedWheelTorque,
            _ => Channel::CorrectedWheelPower,
        };
        let (Some(other), Some(speed)) =
            (self.values_si(other), self.values_si(Channel::EngineSpeed))
        else {
            return Vec::new();
        };
        let agrees =
            |unit: &'static Unit| {
                let ratios = raw.values.iter().zip(&other).zip(&speed).filter_map(
                    |((own, other), speed)| {
                        let own = unit.to_si(*own * scale);
                        let ratio = if is_power {
                            own / (other * speed)
                        } else {
                            other / (own * speed)
                        };
                        (ratio.is_finite() && ratio > 0.0).then_some(ratio)
                    },
                );
                upper_median(ratios).is_some_and(|ratio| (ratio - 1.0).abs() < 0.006)
            };
        units
            .filter(|unit| agrees(unit))
            .map(|unit| (unit, 1.0, "power is torque times speed with it".to_owned()))
            .collect()
    }

    /// Degrees by which water or oil of a warm engine is warm; other temperatures of the file are in the same.
    fn warm(
        &self,
        channel: Channel,
        (low, top): (f64, f64),
        units: impl Iterator<Item = &'static Unit>,
    ) -> Vec<(&'static Unit, f64, String)> {
        let of_fluid = |raw: &&Raw| matches!(&raw.meaning, Meaning::Open(open) if open.channels.iter().any(|c| matches!(c, Channel::CoolantTemperature | Channel::OilTemperature)));
        let fluid = self.sheet.columns.iter().find(of_fluid);
        let stated = self.sheet.columns.iter().find_map(|raw| match raw.meaning {
            Meaning::Numbers(reading) if reading.unit.dimension == Dimension::Temperature => {
                Some(reading.unit.symbol)
            }
            _ => None,
        });
        let middle = fluid
            .and_then(|raw| upper_median(raw.values.iter().copied().filter(|v| v.is_finite())));
        let symbol = match (stated, middle) {
            (Some(symbol), _) => symbol,
            (None, Some(middle)) if (65.0..125.0).contains(&middle) => "°C",
            (None, Some(middle)) if (155.0..260.0).contains(&middle) => "°F",
            _ => return Vec::new(),
        };
        let possible = channel == Channel::ExhaustTemperature || (low > -50.0 && top < 400.0);
        units
            .filter(|unit| unit.symbol == symbol && possible)
            .map(|unit| {
                (
                    unit,
                    1.0,
                    "as the other temperatures of the file".to_owned(),
                )
            })
            .collect()
    }
}

pub(super) fn median_step(values: &[f64]) -> f64 {
    upper_median(
        values
            .windows(2)
            .map(|t| t[1] - t[0])
            .filter(|step| *step > 0.0),
    )
    .unwrap_or(0.0)
}

/// Whether a time in a unit can be that of a log: steps of a half millisecond to a second, one second to two hours in all.
pub(super) fn time_fits(values: &[f64], factor: f64) -> bool {
    let step_s = median_step(values) * factor;
    let span = values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - values.iter().copied().fold(f64::INFINITY, f64::min);
    (4e-4..=1.05).contains(&step_s) && (1.0..=7200.0).contains(&(span * factor))
}

/// Units in which engine speed reaches what engines turn.
fn engine_speeds(
    units: impl Iterator<Item = &'static Unit>,
    top: f64,
) -> Vec<(&'static Unit, f64, String)> {
    let turns = |rad_s: f64| (1800.0..16_000.0).contains(&rpm(rad_s));
    let how = format!("it reaches {}", show_number(top, 4));
    let mut fits = Vec::new();
    for unit in units {
        if turns(unit.to_si(top)) {
            fits.push((unit, 1.0, how.clone()));
        }
        if unit.symbol == "rpm" && turns(unit.to_si(1000.0 * top)) {
            fits.push((unit, 1000.0, format!("{how}, in thousands")));
        }
    }
    fits
}
