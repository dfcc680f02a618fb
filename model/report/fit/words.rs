//! The words of a calibration: how well it went, what gives a wrong file away, and what the pulls could not pin down.

use crate::ask::fit::misfit::{ChannelMisfit, Check, Misfit, NumberMisfit};
use crate::ask::fit::{Bound, FitAnswer, Gate, WorstPoint};
use crate::belief::Parameter;
use crate::belief::parameter;
use crate::fit::calibration::Channel;
use crate::fit::outcome::Stop;
use crate::report::number::{Units, What};
use crate::units::show_number;

/// Reasons of a refusal that are told: the first ones weigh most.
const MOST_REASONS: usize = 3;
/// What every sign says.
const VERDICT: &str = "the car file does not describe this car";

/// Why nothing should be built on a fit; none where something may.
pub fn gate(answer: &FitAnswer, units: Units) -> Option<String> {
    answer.gate.map(|gate| match gate {
        Gate::Misfit => {
            let told = answer.misfits.iter().take(MOST_REASONS);
            let reasons: Vec<String> = told.map(|m| reason(m, units)).collect();
            let more = match answer.misfits.len().saturating_sub(MOST_REASONS) {
                0 => String::new(),
                more => format!("; and {more} more"),
            };
            format!("{}: {}{more}", gate_name(gate), reasons.join("; and "))
        }
    })
}

pub(in crate::report) const fn gate_name(gate: Gate) -> &'static str {
    match gate {
        Gate::Misfit => VERDICT,
    }
}

/// How the fit went, in a line.
pub(super) fn headline(answer: &FitAnswer) -> String {
    let power = format!("power {:.1} % off", 100.0 * answer.power_rms);
    match answer.gate {
        Some(Gate::Misfit) => format!("{}: {VERDICT}", answer.car),
        None if !answer.converged => format!(
            "{}: the fit did not converge ({power} the pulls on average so far)",
            answer.car
        ),
        None if answer.misfits.is_empty() => {
            format!(
                "{}: fit converged, {power} the pulls on average",
                answer.car
            )
        }
        None => format!("{}: fit converged ({power}), but {VERDICT}", answer.car),
    }
}

/// How the search ended, a sentence.
pub(super) fn convergence(answer: &FitAnswer) -> String {
    if answer.stop.converged() {
        let plural = if answer.iterations == 1 { "" } else { "s" };
        let how = match answer.stop {
            Stop::GradientSmall | Stop::StepSmall | Stop::CostSmall => String::new(),
            other => format!(" ({})", stop(other)),
        };
        format!("fit converged in {} step{plural}{how}", answer.iterations)
    } else {
        format!(
            "the fit did not converge in {} steps: {}",
            answer.iterations,
            stop(answer.stop)
        )
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
            "Misses measured power by {:.2} % (root mean square of {} points).",
            100.0 * answer.power_rms,
            answer.bands.iter().map(|band| band.count).sum::<usize>()
        ),
    ];
    let misfits = answer.misfits.iter();
    lines.extend(misfits.map(|m| format!("Note: {}.", misfit(m, Units::Metric))));
    lines
}

/// What speaks against the fitted car, for every verb that will use it: how the search ended, if badly, with what to change, and where file
/// and pulls part.
pub fn reservations(answer: &FitAnswer) -> Vec<String> {
    let ending = (!answer.converged).then(|| {
        format!(
            "the fit of this car did not converge ({}): its ranges may be too narrow. {}",
            stop(answer.stop),
            remedy(answer.stop)
        )
    });
    let misfits = answer.misfits.iter().map(|m| misfit(m, Units::Metric));
    ending.into_iter().chain(misfits).collect()
}

/// What to change where a search ended badly.
const fn remedy(stop: Stop) -> &'static str {
    match stop {
        Stop::IterationLimit => {
            "Fit once more with the fitted file as the car, or state what is known of the numbers that moved farthest"
        }
        Stop::NoSlopes | Stop::NoProgress => {
            "Look for a number at its bound in the account of the fit, give it a wider doubt, and leave out pulls with holes or jumps"
        }
        _ => "Nothing needs changing",
    }
}

/// A point far from the fitted car.
pub(super) fn point(point: &WorstPoint, units: Units) -> String {
    format!(
        "{} at {}, measured {} against the fitted car",
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
        Misfit::Number(n) => number_off(n, units),
    }
}

fn channel_off(c: &ChannelMisfit, units: Units) -> String {
    let read = |v: f64| units.show(value(c.channel), v);
    let apart = |v: f64| units.show(difference(c.channel), v);
    let measure = if c.channel == Channel::Power {
        "root mean square, middle pull"
    } else {
        "root mean square"
    };
    format!(
        "{} is off by {} ({measure}; up to {} is normal), most at {} in {}: measured {}, model {}. First check {}",
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

fn number_off(n: &NumberMisfit, units: Units) -> String {
    let shown = super::Shown::of(units, n.unit, n.before);
    let unit = if shown.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", shown.unit)
    };
    format!(
        "{} ({}) started at {}{unit} and ended at {}{unit}, {:.1} times its tolerance away (up to {} times is normal). First check {}",
        n.path,
        parameter::find(n.path).map_or("", |found| found.meaning),
        show_number(shown.value(n.before), 4),
        show_number(shown.value(n.after), 4),
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
        Channel::Charge => "intake air temperature",
        Channel::Lambda => "lambda",
        Channel::Spark => "spark",
        Channel::Fuel => "fuel flow",
        Channel::Air => "air flow",
        Channel::DrumRatio => "engine-to-drum speed ratio",
    }
}

/// Quantity of a channel.
const fn value(channel: Channel) -> What {
    match channel {
        Channel::Power => What::Power,
        Channel::Manifold => What::Pressure,
        Channel::Charge => What::Temperature,
        Channel::Lambda | Channel::DrumRatio => What::Ratio,
        Channel::Spark => What::CrankAngle,
        Channel::Fuel | Channel::Air => What::MassFlow,
    }
}

/// Quantity of a difference in a channel; that of power is relative.
pub(super) const fn difference(channel: Channel) -> What {
    match channel {
        Channel::Power | Channel::Fuel | Channel::Air | Channel::DrumRatio => What::Percent,
        Channel::Manifold => What::Pressure,
        Channel::Charge => What::TemperatureDifference,
        Channel::Lambda => What::Ratio,
        Channel::Spark => What::CrankAngle,
    }
}

/// Stands for the path of the number in the words of a check.
const PATH: &str = "{path}";

pub(in crate::report) const fn check(check: Check) -> &'static str {
    match check {
        Check::GearDrumsOrMissingPart => {
            "gear and drums in the car file, whether the file lacks a part (blower, electric axle), and the unit of the power \
             column"
        }
        Check::GaugeOrAbsolute => {
            "whether the recording holds gauge or absolute pressure (manifold_pressure of that pull in the visit file)"
        }
        Check::BlowerMissing => {
            "whether the car has a blower or turbocharger: the file has no [blower]"
        }
        Check::BlowerSize => {
            "the blower's displacement, drive ratio and pulley in the car file, then the pressure sensor"
        }
        Check::BlowerTooMuch => {
            "whether this car has the blower and pulley that the file states, then belt slip, an open bypass and leaks"
        }
        Check::Intake => "throttle and intake: they restrict more than the file says",
        Check::BlowerMissingOrSensor => {
            "whether the car has a blower that the file lacks, then where the IAT sensor sits"
        }
        Check::CoolerTooMuch => {
            "whether the car has the intercooler that the file states, how warm its core or water was at the start \
             (core_temperature of the pull), and where the IAT sensor sits"
        }
        Check::CoolerMissing => "whether the car has an intercooler: the file has no [cooler]",
        Check::TemperatureSensor => {
            "the unit of the temperature column, and where the IAT sensor sits"
        }
        Check::Mixture => {
            "the full-load lambda in the car file (tune.lambda), then the sensor, and whether the column holds lambda or AFR"
        }
        Check::GivenNumber => {
            "the value of {path} in the car file, then the units of the recordings"
        }
        Check::CarChanged => {
            "whether the car was modified since its file was fitted, or whether these pulls are from another car"
        }
        Check::MissingOrWrongPart => {
            "whether the car file lacks a part or has one wrong (blower, intercooler, displacement, gear, drums); if the new \
             value is right, enter it in the car file as {path}"
        }
    }
}

/// Where a number was stopped.
pub(in crate::report) const fn bound(bound: Bound) -> &'static str {
    match bound {
        Bound::Lowest => "at its lower limit; the pulls want it lower",
        Bound::Highest => "at its upper limit; the pulls want it higher",
    }
}

/// How the search ended.
pub(in crate::report) const fn stop(stop: Stop) -> &'static str {
    match stop {
        Stop::GradientSmall | Stop::StepSmall | Stop::CostSmall => "converged",
        Stop::Rounding => "converged to rounding",
        Stop::AllOnBounds => "every input is at a limit of its range",
        Stop::NoProgress => "the last steps gained next to nothing, and it has not converged",
        Stop::NoSlopes => "the car cannot make the pulls near this point",
        Stop::IterationLimit => "ran out of steps before converging",
    }
}

/// What the pulls could not pin down.
pub(super) fn not_pinned_down(answer: &FitAnswer) -> String {
    let words = |path: &str| parameter::find(path).map_or_else(|| path.to_owned(), short);
    let alone = &answer.not_informed;
    let knock = if answer.knock_open {
        "; they cannot tell knock from the engine's level, so both stay open: a log of the spark would tell them apart"
    } else {
        ""
    };
    let told = match alone.len() {
        0 => "the pulls pinned down every input".to_owned(),
        n => {
            let first: Vec<String> = alone.iter().take(3).map(|path| words(path)).collect();
            format!(
                "the pulls could not pin down {n} of {} inputs; those keep typical values ({}{})",
                answer.learnt.len() + n,
                first.join("; "),
                if n > 3 { "; ..." } else { "" }
            )
        }
    };
    told + knock
}

/// What the pulls know only together; none where every input stands alone.
pub(super) fn known_together(answer: &FitAnswer) -> Option<String> {
    let best = answer.best_known.as_ref().filter(|b| b.parts.len() > 1)?;
    let words = |path: &str| parameter::find(path).map_or_else(|| path.to_owned(), short);
    let parts = best.parts.iter().take(3);
    let parts: Vec<String> = parts
        .map(|part| format!("'{}'", words(part.path)))
        .collect();
    Some(format!(
        "The pulls narrow the combined effect of {} to {:.0} % of its range, but cannot say which of them it comes from.",
        parts.join(", "),
        (100.0 * best.doubt_left).max(1.0)
    ))
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
    fn every_stop_without_convergence_says_so() {
        for is in Stop::ALL {
            let rests = stop(is).starts_with("converged") || is == Stop::AllOnBounds;
            assert_eq!(is.converged(), rests, "{is:?}");
        }
        assert_eq!(stop(Stop::CostSmall), "converged");
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
            "4300 rpm in day: one",
            "measured 123.0 kPa, model 100.0 kPa",
            "the file has no [blower]",
        ] {
            assert!(words[0].contains(part), "{part} in {}", words[0]);
        }
        for part in [
            "breathing.level",
            "3.6 times its tolerance",
            "the value of breathing.level in the car file",
        ] {
            assert!(words[1].contains(part), "{part} in {}", words[1]);
        }
    }
}
