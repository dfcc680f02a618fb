//! `trace`: the working at one engine speed.

use crate::args::TraceArgs;
use crate::load::{self, Files};
use crate::output::{Failure, Output};
use pullcast::report::trace::TraceReport;

/// Engine speeds at which a full-load pull makes sense, as shares of the redline: below, no car pulls; above, it is cut.
const SPEEDS: (f64, f64) = (0.1, 1.0);

pub(crate) fn run(args: &TraceArgs, out: Output) -> Result<(), Failure> {
    let subject = load::subject(
        Files::default(),
        &args.car,
        args.plan.as_deref(),
        args.weather.as_deref(),
        out,
    )?;
    let redline_rpm = subject.after.car.engine.redline_rpm;
    let (low, high) = (SPEEDS.0 * redline_rpm, SPEEDS.1 * redline_rpm);
    if !(low..=high).contains(&args.rpm) {
        return Err(Failure::Usage(format!(
            "--rpm {:.0} is outside {low:.0} to {high:.0} rpm, where this car pulls",
            args.rpm
        )));
    }
    let axle = subject.axle(&args.start)?;
    let report = TraceReport::new(
        &subject.after,
        subject.plan,
        (&subject.air.day, subject.air.source),
        args.rpm,
        axle,
    )
    .map_err(|error| Failure::Gate(error.to_string()))?;
    out.report(&report)
}
