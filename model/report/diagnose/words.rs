//! The words for causes, channels, facts and measurements.

use super::is_ratio;
use crate::diagnose::SizeMeasure;
use crate::diagnose::next::{Measurement, NextStep};
use crate::diagnose::{Cause, Channel, Diagnosis, Fact, Remark, Sign};
use crate::report::number::{Units, What};

/// Name of a channel.
pub(super) const fn channel(channel: Channel) -> &'static str {
    match channel {
        Channel::Power => "power",
        Channel::Manifold => "manifold pressure",
        Channel::Charge => "charge temperature",
        Channel::Lambda => "lambda",
        Channel::DrumRatio => "engine over drum speed",
        Channel::BlowerRatio => "blower over engine speed",
    }
}

/// Name of a fact.
pub(super) const fn fact(fact: Fact) -> &'static str {
    match fact {
        Fact::ImpliedInertia => "inertia implied by power and drum speed",
        Fact::EngineInertia => "inertia implied by power and engine speed",
        Fact::TypedInertia => "inertia entered",
        Fact::TypedRatio => "ratios entered",
        Fact::AppliedFactor => "correction applied",
        Fact::Pressure => "pressure entered",
    }
}

/// Name of a measurement; a full charge is asked only where there is a battery.
pub(super) const fn measurement(measurement: Measurement, electric: bool) -> &'static str {
    match measurement {
        Measurement::Settings => "the rig's settings",
        Measurement::Barometer => "a barometer in the room",
        Measurement::AfterRest if electric => "the same pull after a long rest and a full charge",
        Measurement::AfterRest => "the same pull after a long rest",
        Measurement::CoastDown => "a coast-down in neutral",
        Measurement::Boost => "manifold pressure",
        Measurement::ChargeTemperature => "charge temperature",
        Measurement::Mixture => "lambda",
        Measurement::SpeedRatio => "engine speed from a pick-up, beside drum speed",
        Measurement::BlowerSpeed => "blower speed",
        Measurement::Spark => "spark and knock in the controller's log",
        Measurement::BackPressure => "pressure before the exhaust system",
        Measurement::IntakePressure => "pressure behind the air filter",
        Measurement::ExhaustTemperature => "exhaust gas temperature",
        Measurement::BatteryPower => "volts and amperes of the electric axle's battery",
    }
}

/// Unit of a size in the machine-readable form.
pub(super) const fn unit(measure: SizeMeasure) -> &'static str {
    match measure {
        SizeMeasure::Share | SizeMeasure::Factor | SizeMeasure::Lambda => "1",
        SizeMeasure::Rpm => "rpm",
        SizeMeasure::Degree => "deg",
        SizeMeasure::Kelvin | SizeMeasure::Temperature => "K",
        SizeMeasure::Area => "m²",
        SizeMeasure::Force => "N",
        SizeMeasure::Second => "s",
        SizeMeasure::Metre => "m",
    }
}

/// Whether a likeliest value stands at an end of its range: the search was stopped there, by a bound and not by the log.
pub(super) fn at_end(value: f64, low: f64, high: f64) -> bool {
    // A search ends within a hundredth of its standard deviations; the range is at least 1.6 of them to the other side.
    (value - low).min(high - value) < 0.005 * (high - low)
}

/// `14 % (9 to 21)`, or `35.0 deg, the end of what was looked at (14.4 to 35.0)`.
pub(super) fn size(
    measure: SizeMeasure,
    (value, low, high): (f64, f64, f64),
    units: Units,
) -> String {
    let stopped = if at_end(value, low, high) {
        ", the end of what was looked at"
    } else {
        ""
    };
    let ranged = |cell: &dyn Fn(f64) -> String, symbol: &str| {
        let blank = if symbol.is_empty() { "" } else { " " };
        format!(
            "{}{blank}{symbol}{stopped} ({} to {})",
            cell(value),
            cell(low),
            cell(high)
        )
    };
    let shown = |what: What| ranged(&|v| units.cell(what, v), units.symbol(what));
    let plain = |factor: f64, decimals: usize, symbol: &str| {
        ranged(&|v| format!("{:.decimals$}", factor * v), symbol)
    };
    match measure {
        SizeMeasure::Share => plain(100.0, 0, "%"),
        SizeMeasure::Factor => shown(What::Ratio),
        SizeMeasure::Lambda => plain(1.0, 2, ""),
        SizeMeasure::Rpm => shown(What::PeakRpm),
        SizeMeasure::Degree => shown(What::CrankAngle),
        SizeMeasure::Kelvin => shown(What::TemperatureDifference),
        SizeMeasure::Temperature => shown(What::Temperature),
        SizeMeasure::Area => plain(1e6, 0, "mm²"),
        SizeMeasure::Force => shown(What::Force),
        SizeMeasure::Second => plain(1.0, 2, "s"),
        SizeMeasure::Metre => plain(1.0, 0, "m"),
    }
}

/// A share without its sign.
fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share.abs())
}

/// The remark that good pulls may be another car's.
pub(super) fn another_car(remark: &Remark) -> Option<String> {
    let Remark::GoodPullsAreAnotherCar(by) = *remark else {
        return None;
    };
    Some(format!(
        "the pulls named as good read {} {} than the car file says: it is not fitted to them, or not this car's",
        percent(by),
        if by > 0.0 { "more" } else { "less" }
    ))
}

/// Other remarks on the question itself.
pub(super) fn remarks(diagnosis: &Diagnosis, charge: Option<f64>) -> Vec<String> {
    let mut out: Vec<String> = diagnosis
        .remarks
        .iter()
        .filter(|remark| another_car(remark).is_none())
        .map(|remark| match *remark {
            Remark::GoodPullsAreAnotherCar(_) => String::new(),
            Remark::GoodPullsDiffer(by) => format!(
                "the pulls named as good differ among themselves by {}: they are not all good, or not of one car",
                percent(by)
            ),
            Remark::ReadsMore(by) => format!(
                "this pull reads {} more than the good ones promise: are they the good ones?",
                percent(by)
            ),
            Remark::PowerUnit => {
                "power is off by just the ratio of kW to hp: look at the unit in its header".to_owned()
            }
            Remark::EndsEarly(odd_rpm, good_rpm) => format!(
                "this pull ends at {odd_rpm:.0} rpm, the good ones go on to {good_rpm:.0} rpm: lifted, cut or limited? Only what it \
                 covers was judged"
            ),
            Remark::GaugeForAbsolute => {
                "manifold pressure is off by just the room's pressure: gauge taken for absolute, or the other way".to_owned()
            }
        })
        .collect();
    let battery = diagnosis.suspects.first().map(|s| s.explained.cause) == Some(Cause::LowBattery);
    if let (true, Some(charge)) = (battery, charge) {
        out.push(format!(
            "the visit states a charge of {} at the start, which the log contradicts",
            percent(charge)
        ));
    }
    let mixture = |s: &Sign| match s {
        Sign::Curve {
            channel: Channel::Lambda,
            seen,
            explained,
            ..
        } => Some(seen - explained),
        _ => None,
    };
    let lean = diagnosis
        .suspects
        .first()
        .and_then(|s| s.left.iter().find_map(mixture));
    if let Some(by) = lean.filter(|by| *by > 0.03) {
        out.push(format!(
            "whatever else is wrong, lambda stands {by:.2} above that of good pulls: do not repeat the pull before the mixture is right"
        ));
    }
    out
}

/// What a sign shows, and what the cause makes it; `none` where no cause makes anything.
pub(super) fn sign(sign: &Sign, none: bool, units: Units) -> String {
    let makes = |text: String| {
        if none {
            String::new()
        } else {
            format!("; this cause makes it {text}")
        }
    };
    match *sign {
        Sign::Curve {
            channel,
            rpm,
            seen,
            explained,
            ..
        } => {
            let value = |v: f64| {
                if is_ratio(channel) {
                    return units.show_change(What::Percent, v.exp_m1());
                }
                match channel {
                    Channel::Manifold => units.show_change(What::Pressure, v),
                    Channel::Charge => units.show_change(What::TemperatureDifference, v),
                    _ => format!("{v:+.3}"),
                }
            };
            format!(
                "{} {} at {}{}",
                self::channel(channel),
                value(seen),
                units.show(What::Rpm, rpm),
                makes(value(explained))
            )
        }
        Sign::Fact {
            fact,
            seen,
            explained,
            ..
        } => {
            let value = |v: f64| {
                if fact == Fact::Pressure {
                    units.show_change(What::Pressure, v)
                } else {
                    units.show_change(What::Percent, v.exp_m1())
                }
            };
            format!(
                "{} off by {}{}",
                self::fact(fact),
                value(seen),
                makes(value(explained))
            )
        }
    }
}

/// A measurement with what it would show.
pub(super) fn next(step: &NextStep, name: &str, units: Units) -> String {
    let value = |v: f64| match step.measurement {
        Measurement::Settings => if v > 0.5 {
            "one of them wrong"
        } else {
            "right"
        }
        .to_owned(),
        Measurement::Barometer => if v > 0.0 {
            "far below what was entered"
        } else {
            "as entered"
        }
        .to_owned(),
        Measurement::AfterRest => {
            if v.abs() < 0.002 {
                "the same power".to_owned()
            } else {
                format!("{} of power", units.show_change(What::Percent, v))
            }
        }
        Measurement::CoastDown => {
            if v.abs() < 1.0 {
                "no more drag than before".to_owned()
            } else {
                format!("{} more drag", units.show(What::Force, v))
            }
        }
        Measurement::Boost | Measurement::BackPressure | Measurement::IntakePressure => {
            units.show(What::Pressure, v)
        }
        Measurement::ChargeTemperature | Measurement::ExhaustTemperature => {
            units.show(What::Temperature, v)
        }
        Measurement::Mixture => format!("{v:.3}"),
        Measurement::SpeedRatio | Measurement::BlowerSpeed => format!("{:.3}", v.exp()),
        Measurement::Spark => format!("half burned at {}", units.show(What::CrankAngle, v)),
        Measurement::BatteryPower => units.show(What::Power, v),
    };
    let place = step.rpm.map_or_else(String::new, |rpm| {
        format!(" at {}", units.show(What::Rpm, rpm))
    });
    format!(
        "{name}{place}: {} under the first, {} under the second",
        value(step.first),
        value(step.second)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_at_the_end_of_what_was_looked_at_says_so() {
        let degrees = |value| size(SizeMeasure::Degree, (value, 14.4, 35.0), Units::Metric);
        assert!(
            degrees(35.0).contains("35.0 deg, the end of what was looked at (14.4 to 35.0)"),
            "{}",
            degrees(35.0)
        );
        assert!(!degrees(25.0).contains("end"), "{}", degrees(25.0));
    }

    #[test]
    fn a_full_charge_is_asked_of_a_car_with_a_battery_alone() {
        let rest = |electric| measurement(Measurement::AfterRest, electric);
        assert!(rest(true).ends_with("rest and a full charge"));
        assert!(rest(false).ends_with("a long rest"));
    }
}
