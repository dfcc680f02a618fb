//! The words of a calibration: why the search stopped, what gives a wrong file away, and what the pulls did not tell.

use crate::ask::fit::misfit::{ChannelMisfit, Check, Misfit, NumberMisfit};
use crate::ask::fit::{Bound, FitAnswer, Gate, WorstPoint};
use crate::belief::Parameter;
use crate::belief::parameter;
use crate::fit::calibration::Channel;
use crate::fit::outcome::Stop;
use crate::report::number::{Units, What};
use crate::units::show_number;

/// What every sign says.
const VERDICT: &str = "the file does not describe this car";

/// Why nothing should be built on a fit; none where something may.
pub fn gate(answer: &FitAnswer, units: Units) -> Option<String> {
    answer.gate.map(|gate| match gate {
        Gate::DidNotSettle => format!("{} ({})", gate_name(gate), stop(answer.stop)),
        Gate::Misfit => {
            let reasons: Vec<String> = answer.misfits.iter().map(|m| reason(m, units)).collect();
            format!("{}: {}", gate_name(gate), reasons.join("; and "))
        }
    })
}

pub(in crate::report) const fn gate_name(gate: Gate) -> &'static str {
    match gate {
        Gate::DidNotSettle => "the fit did not come to rest",
        Gate::Misfit => VERDICT,
    }
}

/// What the first lines of a fitted car file say of where it came from.
pub fn origin(answer: &FitAnswer) -> Vec<String> {
    let names: Vec<&str> = answer.visits.iter().map(|v| v.visit.as_str()).collect();
    let mut lines = vec![
        format!(
            "Calibrated on {} pulls of: {}.",
            answer.pulls.len(),
            names.join(", ")
        ),
        format!(
            "Power followed to {:.2} % (root mean square of {} bands).",
            100.0 * answer.power_rms,
            answer.bands.iter().map(|band| band.count).sum::<usize>()
        ),
    ];
    let misfits = answer.misfits.iter();
    lines.extend(misfits.map(|m| format!("Mind: {}.", misfit(m, Units::Metric))));
    lines
}

/// A band far from the model.
pub(super) fn point(point: &WorstPoint, units: Units) -> String {
    format!(
        "{} at {}: measured {} from the model",
        point.pull,
        units.show(What::Rpm, point.rpm),
        units.show_change(What::Percent, point.relative)
    )
}

/// A sign that the file does not describe the car.
pub(super) fn misfit(misfit: &Misfit, units: Units) -> String {
    format!("{VERDICT}: {}", reason(misfit, units))
}

/// What gives it away, and what to check.
fn reason(misfit: &Misfit, units: Units) -> String {
    match misfit {
        Misfit::Channel(c) => channel_off(c, units),
        Misfit::Number(n) => number_off(n),
    }
}

fn channel_off(c: &ChannelMisfit, units: Units) -> String {
    let read = |v: f64| units.show(value(c.channel), v);
    let apart = |v: f64| units.show(difference(c.channel), v);
    let measure = if c.channel == Channel::Power {
        "root mean square of the middle pull"
    } else {
        "root mean square"
    };
    format!(
        "{} is off by {} ({measure}; sensors and model excuse {}), most at {} of {}: measured {}, model {}. Check first {}",
        channel(c.channel),
        apart(c.size),
        apart(c.limit),
        units.show(What::PeakRpm, c.rpm),
        c.pull,
        read(c.measured),
        read(c.model),
        check(c.check)
    )
}

fn number_off(n: &NumberMisfit) -> String {
    let unit = if n.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", n.unit)
    };
    format!(
        "{} ({}) was believed to be {}{unit} and ended at {}{unit}, {:.1} times its doubt away ({} times is excused). Check first {}",
        n.path,
        parameter::find(n.path).map_or("", |found| found.meaning),
        show_number(n.before, 4),
        show_number(n.after, 4),
        n.doubts.abs(),
        n.limit,
        check(n.check).replace(PATH, n.path)
    )
}

/// What a channel is called.
pub(in crate::report) const fn channel(channel: Channel) -> &'static str {
    match channel {
        Channel::Power => "power",
        Channel::Manifold => "manifold pressure",
        Channel::Charge => "charge temperature",
        Channel::Lambda => "relative air-fuel ratio",
    }
}

/// Quantity of a channel.
const fn value(channel: Channel) -> What {
    match channel {
        Channel::Power => What::Power,
        Channel::Manifold => What::Pressure,
        Channel::Charge => What::Temperature,
        Channel::Lambda => What::Ratio,
    }
}

/// Quantity of a difference in a channel; that of power is relative.
pub(super) const fn difference(channel: Channel) -> What {
    match channel {
        Channel::Power => What::Percent,
        Channel::Manifold => What::Pressure,
        Channel::Charge => What::TemperatureDifference,
        Channel::Lambda => What::Ratio,
    }
}

/// Stands for the path of the number in the words of a check.
const PATH: &str = "{path}";

pub(in crate::report) const fn check(check: Check) -> &'static str {
    match check {
        Check::GearDrumsOrMissingPart => {
            "the gear and the drums of the car file, whether a part is missing from it (blower, electric axle), and the unit of \
             the power column"
        }
        Check::GaugeOrAbsolute => {
            "whether the recording holds gauge or absolute pressure (manifold_pressure of the pull in the visit file)"
        }
        Check::BlowerMissing => {
            "whether the car has a blower or turbocharger: the file has no [blower]"
        }
        Check::BlowerSize => {
            "the blower's displacement, drive ratio and pulley in the file, then the pressure sensor"
        }
        Check::BlowerTooMuch => {
            "whether this car has the blower and pulley of the file, then belt slip, an open bypass and leaks"
        }
        Check::Intake => "the throttle and the intake: they choke more than the file says",
        Check::BlowerMissingOrSensor => {
            "whether the car has a blower that the file lacks, then where the temperature sensor sits"
        }
        Check::CoolerTooMuch => {
            "whether the car has the charge cooler of the file, how warm its core or water was at the start (core_temperature \
             of the pull), and where the sensor sits"
        }
        Check::CoolerMissing => "whether the car has a charge cooler: the file has no [cooler]",
        Check::TemperatureSensor => "the unit of the temperature column, and where the sensor sits",
        Check::Mixture => {
            "the full-load mixture of the file (tune.lambda), then the sensor and whether the column is lambda"
        }
        Check::GivenNumber => "the value of {path} in the car file, then the recordings' units",
        Check::CarChanged => {
            "whether the car was changed since its file was fitted, or whether these pulls are another car's"
        }
        Check::MissingOrWrongPart => {
            "whether the file lacks a part of the car or has one wrong (blower, cooler, displacement, gear, drums); if the \
             number is right, state it in the car file as {path}"
        }
    }
}

/// Where a number was stopped.
pub(in crate::report) const fn bound(bound: Bound) -> &'static str {
    match bound {
        Bound::Lowest => "at its lowest; the pulls would have it lower",
        Bound::Highest => "at its highest; the pulls would have it higher",
    }
}

/// Why the search stopped.
pub(in crate::report) const fn stop(stop: Stop) -> &'static str {
    match stop {
        Stop::GradientSmall | Stop::StepSmall | Stop::CostSmall => "it came to rest",
        Stop::Rounding => "it came to rest at the limit of rounding",
        Stop::AllOnBounds => "every number is held by a bound",
        Stop::NoProgress => "no step made the fit better, and it is no rest",
        Stop::NoSlopes => "the car cannot make the pulls around this point",
        Stop::IterationLimit => "the steps ran out before it came to rest",
    }
}

/// What the pulls did not tell.
pub(super) fn not_pinned_down(answer: &FitAnswer) -> String {
    let words = |path: &str| parameter::find(path).map_or_else(|| path.to_owned(), short);
    let alone = &answer.not_informed;
    let mut text = match alone.len() {
        0 => "Every doubtful number was informed by the pulls.".to_owned(),
        n => {
            let first: Vec<String> = alone.iter().take(3).map(|path| words(path)).collect();
            format!(
                "{n} of {} doubtful numbers stand as they were believed before, because the pulls say next to nothing about \
                 them ({}{}).",
                answer.learnt.len() + n,
                first.join("; "),
                if n > 3 { "; and so on" } else { "" }
            )
        }
    };
    if let Some(best) = answer.best_known.as_ref().filter(|b| b.parts.len() > 1) {
        let parts = best.parts.iter().take(3);
        let parts: Vec<String> = parts
            .map(|part| format!("'{}'", words(part.path)))
            .collect();
        add!(
            text,
            " The pulls know what {} do together to {:.0} % of the doubt before, but not which of them does it.",
            parts.join(", "),
            (100.0 * best.doubt_left).max(1.0)
        );
    }
    text
}

/// The meaning of a number up to its first comma.
fn short(parameter: &Parameter) -> String {
    parameter
        .meaning
        .split([',', ';'])
        .next()
        .unwrap_or(parameter.meaning)
        .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stop_that_is_no_rest_says_so() {
        for is in Stop::ALL {
            let rests = stop(is).starts_with("it came") || is == Stop::AllOnBounds;
            assert_eq!(is.converged(), rests, "{is:?}");
        }
        assert_eq!(stop(Stop::CostSmall), "it came to rest");
    }

    #[test]
    fn a_misfit_is_told_with_its_size_its_speed_and_what_to_check() {
        let channel = Misfit::Channel(ChannelMisfit {
            channel: Channel::Manifold,
            size: 23_000.0,
            limit: 6_000.0,
            pull: "day: one".to_owned(),
            rpm: 4321.0,
            measured: 123_000.0,
            model: 100_000.0,
            check: Check::BlowerMissing,
        });
        let number = Misfit::Number(NumberMisfit {
            path: "breathing.level",
            unit: "",
            before: 0.8,
            after: 0.44,
            doubts: -3.6,
            limit: 3.5,
            check: Check::GivenNumber,
        });
        let words = [&channel, &number].map(|m| misfit(m, Units::Metric));
        for part in [
            "manifold pressure is off by 23.0 kPa",
            "4300 rpm of day: one",
            "measured 123.0 kPa, model 100.0 kPa",
            "the file has no [blower]",
        ] {
            assert!(words[0].contains(part), "{part} in {}", words[0]);
        }
        for part in [
            "breathing.level",
            "3.6 times its doubt",
            "the value of breathing.level in the car file",
        ] {
            assert!(words[1].contains(part), "{part} in {}", words[1]);
        }
    }
}
