//! `compare`: pulls before and after the work, and whether they can be told apart.
//!
//! Runs that started with another charge, or with the electric axle off against on, are refused with exit code 1: each file is sound,
//! only the comparing is not.

use crate::args::CompareArgs;
use crate::load::{Files, read};
use crate::output::{Failure, Output, write_file};
use pullcast::ask::compare::axle::CHARGE_WINDOW;
use pullcast::ask::compare::drift::{self, DriftError};
use pullcast::ask::compare::{CompareError, Pulls, Question, Tags};
use pullcast::files::VisitFile;
use pullcast::files::visit::Recorded;
use pullcast::report::compare::{csv, gates};

pub(crate) fn run(args: &CompareArgs, out: Output<'_>) -> Result<(), Failure> {
    let Some(after) = &args.after else {
        return in_a_row(args, out);
    };
    let mut files = Files::of("compare", out);
    files.output(args.csv.as_deref(), args.force);
    files.drawing(&args.draw, args.force);
    let visits = files.drum_visits(&[args.before.clone(), after.clone()]);
    let car = args.car.as_deref().map(|path| files.car(path));
    let plan = args
        .plan
        .as_deref()
        .map(|path| files.plan(path, car.as_ref().and_then(Option::as_ref)));
    files.finish(out)?;
    let mut visits = visits.into_iter().map(read);
    let (Some(before), Some(after)) = (visits.next(), visits.next()) else {
        return Err(Failure::Gate(
            "two visits were named and not read".to_owned(),
        ));
    };
    let (before, after) = (before?, after?);
    let car = car.map(read).transpose()?;
    let plan = plan.map(read).transpose()?;
    let tags = [tags(&before), tags(&after)];
    let question = Question {
        before: Pulls {
            visit: &before.visit,
            tags: &tags[0],
        },
        after: Pulls {
            visit: &after.visit,
            tags: &tags[1],
        },
        car: car.as_ref().map(|file| &file.sheet.centre),
        plan: plan.as_ref().map(|file| &file.plan),
        standard: args.correction.standard(out),
        mechanical_efficiency: args.correction.mechanical_efficiency,
        same_visit: args.same_visit,
        charge_window: args.charge_window.unwrap_or(CHARGE_WINDOW),
        force: args.force,
    };
    let answer = out
        .metered("comparing", |_| question.answer())
        .map_err(|error| refusal(&error))?;
    if let Some(path) = &args.csv {
        write_file(path, &csv(&answer, out.units), args.force)?;
        out.note(&format!(
            "gain over engine speed written to {}",
            path.display()
        ));
    }
    out.drawing(&answer, &args.draw, args.force)?;
    out.report(&answer)
}

/// The pulls of one visit against each other, in the order made.
fn in_a_row(args: &CompareArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("compare", out);
    let visits = files.drum_visits(std::slice::from_ref(&args.before));
    let car = args.car.as_deref().map(|path| files.car(path));
    files.drawing(&args.draw, args.force);
    files.finish(out)?;
    let visit = read(visits.into_iter().next().flatten())?;
    let car = car.map(read).transpose()?;
    let question = drift::Question {
        pulls: Pulls {
            visit: &visit.visit,
            tags: &tags(&visit),
        },
        car: car.as_ref().map(|file| &file.sheet.centre),
        standard: args.correction.standard(out),
        mechanical_efficiency: args.correction.mechanical_efficiency,
    };
    let answer = question.answer().map_err(|error| match &error {
        DriftError::Compare(error) => refusal(error),
        _ => Failure::Gate(error.to_string()),
    })?;
    out.drawing(&answer, &args.draw, args.force)?;
    out.report(&answer)
}

/// What a visit file states of its pulls.
pub(crate) fn tags(file: &VisitFile) -> Vec<Tags> {
    let of = |recorded: &Recorded| Tags {
        charge: recorded.charge,
        electric_axle: recorded.electric_axle,
        undone: recorded.undone,
    };
    file.recordings.iter().map(of).collect()
}

fn refusal(error: &CompareError) -> Failure {
    match error {
        CompareError::Gated(found) => Failure::Gate(format!(
            "{}. These pulls are not compared; --force compares them anyway, --charge-window sets the window",
            gates(found)
        )),
        CompareError::NoElectricAxle { visit } => Failure::Usage(format!(
            "pulls of '{visit}' give a battery level, but the car of --car has no [electric_axle]: is it the same car?"
        )),
        CompareError::Correction(error) => Failure::Usage(error.to_string()),
        other => Failure::Gate(other.to_string()),
    }
}
