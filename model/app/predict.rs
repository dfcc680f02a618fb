//! `predict`: the pull a car will make, with planned work or without.

use crate::args::{PredictArgs, RowArgs};
use crate::load::{self, Files};
use crate::output::{Failure, Output, write_file};
use pullcast::air::Day;
use pullcast::ask::basis::{Weather, subject_of};
use pullcast::dyno::correction::Correction;
use pullcast::dyno::{Bodies, Conditions, Pull, Sequence, Setup};
use pullcast::report::predict::{PredictReport, peak};
use pullcast::report::sequence::{INLET_K, SequenceReport};

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
    let mut report = PredictReport::new(
        &subject.after.car,
        subject.plan,
        (&after, axle),
        before.as_ref(),
        weather,
        &correction,
    )
    .ok_or_else(|| Failure::Gate("the pull has no points".to_owned()))?;
    report.on_drums(&subject.after.drums, &after);
    if let Some(pulls) = args.row.pulls {
        let conditions = Conditions {
            axle,
            ..Conditions::rested(subject.after.car.engine.redline_rpm)
        };
        report.sequence = Some(row(
            &args.row,
            usize::from(pulls),
            (&subject.after, day, conditions),
            &correction,
        )?);
    }
    if let Some(path) = &args.csv {
        write_file(path, &report.csv(), args.force)?;
        out.note(&format!("curve written to {}", path.display()));
    }
    out.report(&report)
}

/// Rest between pulls, s, and nearness to the first one, where nothing is said.
const REST_S: f64 = 120.0;
const WITHIN: f64 = 0.01;

/// The pulls in a row, the first of which is the one predicted.
fn row(
    args: &RowArgs,
    pulls: usize,
    (setup, day, conditions): (&Setup, Day, Conditions),
    correction: &Correction,
) -> Result<SequenceReport, Failure> {
    let sequence = Sequence {
        setup,
        bodies: Bodies::typical(setup),
        day,
        conditions,
        pulls,
        rest_s: args.rest.unwrap_or(REST_S),
        points: POINTS,
    };
    let gate = |error: pullcast::dyno::PullError| Failure::Gate(error.to_string());
    let runs = sequence.run().map_err(gate)?;
    let within = args.within.unwrap_or(WITHIN);
    let recovery = sequence.recovery(&runs, within).map_err(gate)?;
    let inlet = sequence.warmer_inlet(&runs, INLET_K).map_err(gate)?;
    let parts = (setup.car.cooler.is_some(), setup.car.electric.is_some());
    SequenceReport::new(
        &runs,
        parts,
        sequence.rest_s,
        (within, recovery),
        inlet,
        |point| peak(point, correction),
    )
    .ok_or_else(|| Failure::Gate("a pull has no points".to_owned()))
}
