//! `trace`: the working at one engine speed.

use crate::args::TraceArgs;
use crate::load::{self, Files};
use crate::output::{Failure, Output};
use pullcast::ask::WorkError;
use pullcast::ask::trace::{Question, TraceError};

pub(crate) fn run(args: &TraceArgs, out: Output<'_>) -> Result<(), Failure> {
    let subject = load::subject(
        Files::of("trace", out),
        &args.subject.car,
        args.subject.plan(),
        args.subject.weather.as_deref(),
        out,
    )?;
    let question = Question {
        setup: &subject.sheet.centre,
        plan: subject.plan.as_ref(),
        air: subject.air.clone(),
        rpm: args.rpm,
        start: args.subject.start.asked(),
    };
    let answer = question.answer().map_err(|error| match error {
        TraceError::Work(WorkError::NoElectricAxle) => load::no_electric_axle(),
        TraceError::Speed { .. } => Failure::Usage(format!("--rpm {error}")),
        _ => Failure::Gate(error.to_string()),
    })?;
    out.report(&answer)
}
