//! `predict`: the pull a car will make, with planned work or without.

use crate::args::PredictArgs;
use crate::load::{self, Files};
use crate::output::{Failure, Output, write_file};
use pullcast::dyno::correction::Correction;
use pullcast::dyno::{Conditions, Pull, Setup};
use pullcast::report::basis::{Weather, subject_of};
use pullcast::report::predict::PredictReport;

/// Engine speeds at which the pull is simulated.
const POINTS: usize = 40;

pub(crate) fn run(args: &PredictArgs, out: Output) -> Result<(), Failure> {
    let mut files = Files::default();
    files.output(args.csv.as_deref(), args.force);
    let subject = load::subject(
        files,
        &args.car,
        args.plan.as_deref(),
        args.weather.as_deref(),
        out,
    )?;
    let day = subject.air.day;
    let engine = subject_of(&subject.after.car, args.correction.mechanical_efficiency);
    let correction = Correction::new(args.correction.standard, day, &engine)
        .map_err(|error| Failure::Usage(error.to_string()))?;
    let axle = subject.axle(&args.start)?;
    let pull = |setup: &Setup| -> Result<Pull, Failure> {
        let conditions = Conditions {
            axle,
            ..Conditions::rested(setup.car.engine.redline_rpm)
        };
        setup
            .pull(&day, &conditions, POINTS)
            .map_err(|error| Failure::Gate(error.to_string()))
    };
    let after = pull(&subject.after)?;
    let before = subject
        .plan
        .is_some()
        .then(|| pull(&subject.before))
        .transpose()?;
    let weather = Weather::of(&day, subject.air.source);
    let report = PredictReport::new(
        &subject.after.car,
        subject.plan,
        (&after, axle),
        before.as_ref(),
        weather,
        &correction,
    )
    .ok_or_else(|| Failure::Gate("the pull has no points".to_owned()))?;
    if let Some(path) = &args.csv {
        write_file(path, &report.csv(), args.force)?;
        out.note(&format!("curve written to {}", path.display()));
    }
    out.report(&report)
}
