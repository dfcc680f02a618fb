//! The words of a diagnosis: verdict, channels, facts, sizes, measurements, and notes.

use crate::ask::diagnose::{Answer, NextLine, Of, SignLine, SizeLine, SuspectLine, Verdict};
use crate::diagnose::next::Measurement;
use crate::diagnose::{Blind, Cause, Channel, Fact, Form, Remark, SizeMeasure};
use crate::report::number::{self, Units, What};

/// Notes, by id.
pub(in crate::report) const REMARKS: &[(&str, &str)] = &[
    ("good_pulls_differ", "the good pulls differ from each other"),
    (
        "good_pulls_are_another_car",
        "the good pulls do not match the car file",
    ),
    ("reads_more", "the pull reads more than the good ones"),
    (
        "power_unit",
        "power is off by exactly the ratio of kW to hp",
    ),
    (
        "gauge_for_absolute",
        "manifold pressure is off by exactly the barometer",
    ),
    ("ends_early", "the pull ends before the good ones do"),
    (
        "charge_contradicted",
        "the log contradicts the battery level given for the start",
    ),
    (
        "air_differs",
        "the room was not as warm as at the good pulls",
    ),
    (
        "ratios_unlike",
        "the ratios entered are not those of the good pulls",
    ),
    (
        "lean_besides",
        "whatever else is wrong, the engine runs lean",
    ),
];

/// The verdict in a line: the cause with its chance.
pub(super) fn headline(answer: &Answer) -> String {
    let line = |suspect: &SuspectLine| {
        let chance = number::chance(suspect.probability);
        format!("{} (chance {chance})", suspect.cause.name())
    };
    let text = match (answer.verdict, &answer.suspects[..]) {
        (Verdict::Settled, [first, ..]) => match first.with {
            Some(with) => format!("{} together with {}", line(first), with.name()),
            None => line(first),
        },
        (Verdict::NotSettled, [first, second, ..]) => {
            format!("{} or {}", line(first), line(second))
        }
        (Verdict::Sound, _) if let Some(by) = reads_more(answer) => format!(
            "no fault found, but the pull reads {} more than the good ones",
            percent(by)
        ),
        (verdict, _) => verdict_name(verdict).to_owned(),
    };
    capital(&text)
}

/// How much more the pull reads than the good ones, relative; none where it reads no more.
fn reads_more(answer: &Answer) -> Option<f64> {
    answer.remarks.iter().find_map(|remark| match remark {
        Remark::ReadsMore { by } => Some(*by),
        _ => None,
    })
}

/// With a capital letter.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// A verdict without its causes.
pub(in crate::report) const fn verdict_name(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Sound => "nothing wrong: the pull is within repeatability",
        Verdict::NoneOfThese => {
            "something is wrong that is none of the known causes, or two of them at once"
        }
        Verdict::Settled => "the likeliest cause",
        Verdict::NotSettled => "not settled: one of the two likeliest causes",
    }
}

/// Name of a cause, with its form where that says more.
pub(super) fn full_name(suspect: &SuspectLine) -> String {
    let others: Vec<&str> = suspect
        .alike
        .iter()
        .filter_map(|form| match form {
            Form::CorrectedWith(standard) | Form::AlreadyCorrected(standard) => {
                Some(standard.name())
            }
            _ => None,
        })
        .collect();
    let own = own_name(suspect);
    if others.is_empty() {
        own
    } else {
        format!(
            "{own} (or {}, which fits the log as well)",
            others.join(", ")
        )
    }
}

fn own_name(suspect: &SuspectLine) -> String {
    let name = suspect.cause.name();
    match suspect.form {
        Form::Plain => name.to_owned(),
        Form::CorrectedWith(standard) => {
            format!(
                "{name}: the corrected column was made with {}",
                standard.name()
            )
        }
        Form::AlreadyCorrected(standard) => format!(
            "{name}: the uncorrected column already holds corrected power, as if by {}",
            standard.name()
        ),
        Form::WrongEntry => format!("{name}: another one was entered"),
        Form::NotAsNoted => format!("{name}: the rig used another one than was written down"),
        Form::Driven => format!("{name}: another one was used for the pull"),
        Form::DrivenAsEntered => format!("{name}: another one was used for the pull, and entered"),
        Form::AnyLoad => format!("{name}: at any load"),
        Form::WholeRange => format!("{name} over the whole range"),
        Form::Passing => format!("{name} for a moment"),
        Form::OpenConverter => format!("{name}: torque converter not locked"),
        Form::SpeedSignal => format!("{name}: engine speed"),
        Form::SpeedScale => format!("{name}: engine speed counted wrongly"),
        Form::TemperatureSignal => format!("{name}: intake air temperature"),
    }
}

/// Name of a channel.
pub(in crate::report) const fn channel(channel: Channel) -> &'static str {
    match channel {
        Channel::Power => "power",
        Channel::Manifold => "manifold pressure",
        Channel::Charge => "intake air temperature",
        Channel::Lambda => "lambda",
        Channel::DrumRatio => "engine-to-drum speed ratio",
        Channel::Spark => "spark",
        Channel::BlowerRatio => "blower-to-engine speed ratio",
    }
}

/// Name of a fact.
pub(in crate::report) const fn fact(fact: Fact) -> &'static str {
    match fact {
        Fact::ImpliedInertia => "inertia implied by power and drum speed",
        Fact::EngineInertia => "inertia implied by power and engine speed",
        Fact::TypedInertia => "inertia entered",
        Fact::TypedRatio => "ratios entered",
        Fact::AppliedFactor => "correction applied",
        Fact::Pressure => "pressure entered",
    }
}

/// Name of a measurement.
pub(in crate::report) const fn measurement(measurement: Measurement) -> &'static str {
    match measurement {
        Measurement::Settings => "the rig's settings",
        Measurement::Barometer => "a barometer in the room",
        Measurement::AfterRest => "the same pull after a long cool-down",
        Measurement::CoastDown => "a coast-down in neutral",
        Measurement::Boost => "manifold pressure",
        Measurement::ChargeTemperature => "intake air temperature",
        Measurement::Mixture => "lambda",
        Measurement::SpeedRatio => "engine speed from a pick-up, logged with drum speed",
        Measurement::BlowerSpeed => "blower speed",
        Measurement::Spark => "timing and knock in the ECU log",
        Measurement::BackPressure => "exhaust back pressure",
        Measurement::IntakePressure => "pressure after the air filter",
        Measurement::ExhaustTemperature => "exhaust gas temperature",
        Measurement::BatteryPower => "volts and amps at the electric axle's battery",
    }
}

/// Name of a measurement of a car; a full charge is asked only where there is a battery.
pub(super) const fn measured(of: Measurement, electric: bool) -> &'static str {
    match of {
        Measurement::AfterRest if electric => {
            "the same pull after a long cool-down and a full charge"
        }
        of => measurement(of),
    }
}

/// What a cause makes of power; nothing where it is too little to tell.
pub(super) fn power(suspect: &SuspectLine, units: Units) -> Option<String> {
    if suspect.cause == Cause::PressureMixedUp {
        return Some(format!(
            "the car lost nothing: a sound pull at the true pressure reads {} less than one at the pressure entered",
            units.show(What::Power, suspect.peak_change_w.abs())
        ));
    }
    (suspect.worst_change.abs() >= 0.0005).then(|| {
        format!(
            "{} at the peak; worst at {}, {}",
            units.show_change(What::Power, suspect.peak_change_w),
            units.show(What::Rpm, suspect.worst_rpm),
            units.show_change(What::Percent, suspect.worst_change)
        )
    })
}

/// `14 % (9 to 21)`, or `35.0 deg, the limit of the search (14.4 to 35.0)`, or `at least 3 %` where the log does not bound it from above.
pub(super) fn size(line: &SizeLine, units: Units) -> String {
    let (value, low, high) = (line.value, line.low, line.high);
    let open = line.open_above && !line.at_end;
    let stopped = if line.at_end {
        ", the limit of the search"
    } else {
        ""
    };
    let ranged = |cell: &dyn Fn(f64) -> String, symbol: &str| {
        let blank = if symbol.is_empty() { "" } else { " " };
        if open {
            return format!(
                "at least {}{blank}{symbol}; how much more, this log does not show",
                cell(low)
            );
        }
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
    match line.measure {
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

/// What a log cannot show, and what would.
pub(super) fn blind(blind: &Blind, electric: bool) -> String {
    let causes: Vec<&str> = blind.causes.iter().map(|c| c.name()).collect();
    format!(
        "{}: shown by {}",
        causes.join(", "),
        measured(blind.measurement, electric)
    )
}

/// The other cause of a pair.
pub(super) fn with(suspect: &SuspectLine) -> Option<String> {
    let with = suspect.with?;
    Some(format!(
        "{}: neither alone accounts for the log",
        with.name()
    ))
}

/// Sizes that the car could not have made the pull with, where that is worth telling.
pub(super) fn failed_trials(suspect: &SuspectLine) -> Option<String> {
    (suspect.trials.failed > 0).then(|| {
        format!(
            "{} of {} sizes tried: the model could not make the pull with them",
            suspect.trials.failed, suspect.trials.all
        )
    })
}

/// A share without its sign.
fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share.abs())
}

/// A note.
pub(super) fn remark(remark: &Remark, units: Units) -> String {
    match *remark {
        Remark::GoodPullsAreAnotherCar { by } => format!(
            "the good pulls read {} {} than the car file says: the file was not fitted to them, or is for another car",
            percent(by),
            if by > 0.0 { "more" } else { "less" }
        ),
        Remark::GoodPullsDiffer { by } => format!(
            "the good pulls differ from each other by {}: they are not all good, or not all of this car",
            percent(by)
        ),
        Remark::ReadsMore { by } => format!(
            "no fault of the car makes a pull read {} more: hold the rig's correction and settings, and the good pulls, against it",
            percent(by)
        ),
        Remark::PowerUnit => {
            "power is off by exactly the ratio of kW to hp: check the unit in the column header".to_owned()
        }
        Remark::EndsEarly { odd_rpm, good_rpm } => format!(
            "this pull ends at {odd_rpm:.0} rpm, the good ones run to {good_rpm:.0} rpm: lifted, fuel cut or limiter? Only the \
             range it covers was judged"
        ),
        Remark::GaugeForAbsolute => {
            "manifold pressure is off by exactly the barometer: gauge taken for absolute, or the other way round".to_owned()
        }
        Remark::ChargeContradicted { charge } => format!(
            "the visit file gives a battery level of {} at the start, which the log contradicts",
            percent(charge)
        ),
        Remark::AirDiffers { by_k } => format!(
            "the room was {} {} than at the good pulls, so this is not the same air: pressure was judged as on another day",
            units.show(What::TemperatureDifference, by_k.abs()),
            if by_k > 0.0 { "warmer" } else { "colder" }
        ),
        Remark::RatiosUnlike { factor } => format!(
            "gear and final drive were entered {} off those of the good pulls: another gear, or a wrong entry",
            units.show_change(What::Percent, factor - 1.0)
        ),
        Remark::LeanBesides { by } => format!(
            "whatever else is wrong, lambda is {by:.2} leaner than in the good pulls: fix the mixture before any further pull"
        ),
    }
}

/// What a sign shows, and what the cause makes it; `none` where no cause makes anything.
pub(super) fn sign(line: &SignLine, none: bool, units: Units) -> String {
    let value = |v: f64| match line.of {
        Of::Channel(Channel::Manifold) | Of::Fact(Fact::Pressure) => {
            units.show_change(What::Pressure, v)
        }
        Of::Channel(Channel::Charge) => units.show_change(What::TemperatureDifference, v),
        Of::Channel(Channel::Lambda) => format!("{v:+.3}"),
        Of::Channel(Channel::Spark) => format!("{v:+.1} deg"),
        Of::Channel(Channel::Power | Channel::DrumRatio | Channel::BlowerRatio) | Of::Fact(_) => {
            units.show_change(What::Percent, v.exp_m1())
        }
    };
    let seen = match (line.of, line.rpm) {
        (Of::Channel(of), Some(rpm)) => format!(
            "{} {} at {}",
            channel(of),
            value(line.seen),
            units.show(What::Rpm, rpm)
        ),
        (Of::Channel(of), None) => format!("{} {}", channel(of), value(line.seen)),
        (Of::Fact(of), _) => format!("{} off by {}", fact(of), value(line.seen)),
    };
    if none {
        seen
    } else {
        format!("{seen}; this cause would give {}", value(line.explained))
    }
}

/// A measurement with what it would show.
pub(super) fn next(step: &NextLine, electric: bool, units: Units) -> String {
    let value = |v: f64| match step.measurement {
        Measurement::Settings => if v > 2.5 {
            "the correction wrong"
        } else if v > 1.5 {
            "the inertia wrong"
        } else if v > 0.5 {
            "the ratios wrong"
        } else {
            "all right"
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
                "no more power than now".to_owned()
            } else {
                format!("{} power", units.show_change(What::Percent, v))
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
        // Only the difference is known: what lies between spark and half the burn is the car's own.
        Measurement::Spark => {
            let later = (step.first.max(step.second) - v).max(0.0);
            if later < 0.5 {
                "no spark pulled".to_owned()
            } else {
                format!("{} pulled", units.show(What::CrankAngle, later))
            }
        }
        Measurement::BatteryPower => units.show(What::Power, v),
    };
    let place = step.rpm.map_or_else(String::new, |rpm| {
        format!(" at {}", units.show(What::Rpm, rpm))
    });
    format!(
        "{}{place}: expect {} for (1), {} for (2)",
        measured(step.measurement, electric),
        value(step.first),
        value(step.second)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_at_the_limit_of_the_search_says_so() {
        let degrees = |value, at_end| {
            let line = SizeLine {
                name: "combustion later by",
                measure: SizeMeasure::Degree,
                unit: SizeMeasure::Degree.unit(),
                value,
                low: 14.4,
                high: 35.0,
                at_end,
                open_above: false,
            };
            size(&line, Units::Metric)
        };
        assert!(
            degrees(35.0, true).contains("35.0 deg, the limit of the search (14.4 to 35.0)"),
            "{}",
            degrees(35.0, true)
        );
        assert!(
            !degrees(25.0, false).contains("limit"),
            "{}",
            degrees(25.0, false)
        );
    }

    #[test]
    fn a_size_that_the_log_bounds_from_below_alone_is_told_as_a_least() {
        let lost = |open_above| {
            let line = SizeLine {
                name: "power lost",
                measure: SizeMeasure::Share,
                unit: SizeMeasure::Share.unit(),
                value: 0.14,
                low: 0.03,
                high: 0.63,
                at_end: false,
                open_above,
            };
            size(&line, Units::Metric)
        };
        assert_eq!(
            lost(true),
            "at least 3 %; how much more, this log does not show"
        );
        assert_eq!(lost(false), "14 % (3 to 63)");
    }

    #[test]
    fn a_full_charge_is_asked_of_a_car_with_a_battery_alone() {
        let rest = |electric| measured(Measurement::AfterRest, electric);
        assert!(rest(true).ends_with("cool-down and a full charge"));
        assert!(rest(false).ends_with("a long cool-down"));
    }
}
