//! `predict`: the pull a car will make, with planned work or without.

use crate::args::{PredictArgs, RowArgs};
use crate::load::{self, Files};
use crate::output::{Failure, Output, write_file};
use pullcast::ask::WorkError;
use pullcast::ask::fingerprint::Fingerprint;
use pullcast::ask::predict::{PredictError, Question, Row};
use pullcast::report::predict::csv;
use pullcast::report::{Stamp, Stamped};

pub(crate) fn run(args: &PredictArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("predict", out);
    files.output(args.csv.as_deref(), args.force);
    files.drawing(&args.draw, args.force);
    let subject = load::subject(
        files,
        &args.subject.car,
        args.subject.plan(),
        args.subject.weather.as_deref(),
        out,
    )?;
    let day = subject.air.day;
    let question = Question {
        start: args.subject.start.asked(),
        standard: args.correction.standard(out),
        mechanical_efficiency: args.correction.mechanical_efficiency,
        row: args.row.asked(),
        ..Question::new(&subject.sheet.centre, subject.plan.as_ref(), subject.air)
    };
    let answer = question.answer().map_err(|error| match error {
        PredictError::Work(WorkError::NoElectricAxle) => load::no_electric_axle(),
        PredictError::Correction(_) => Failure::Usage(error.to_string()),
        _ => Failure::Gate(error.to_string()),
    })?;
    if let Some(path) = &args.csv {
        write_file(path, &csv(&answer, out.units), args.force)?;
        out.note(&format!("curve written to {}", path.display()));
    }
    let mut inputs = Fingerprint::of(&subject.sheet)
        .plan(subject.plan.as_ref())
        .air(Some(&day))
        .and("start", &args.subject.start.asked())
        .and("row", &args.row.asked());
    inputs = args.correction.named(inputs, out);
    let report = Stamped {
        report: answer,
        made_by: Stamp::new(inputs.name(), None, args.date.clone()),
    };
    out.drawing(&report, &args.draw, args.force)?;
    out.report(&report)
}

impl RowArgs {
    /// The pulls in a row, if any are asked for.
    fn asked(&self) -> Option<Row> {
        let usual = Row::of(usize::from(self.pulls?));
        Some(Row {
            rest_s: self.rest.unwrap_or(usual.rest_s),
            within: self.within.unwrap_or(usual.within),
            ..usual
        })
    }
}
