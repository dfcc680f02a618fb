//! `fit`: calibrates a car on measured pulls, and writes the fitted car only if the file describes the car, as far as the pulls can tell. What
//! speaks against it is written with it, so that every verb that uses the car repeats it.

use crate::args::{FitArgs, MisfitArgs};
use crate::guard;
use crate::load::{Files, read};
use crate::output::{Failure, Output, overwrite};
use pullcast::ask::fit::{Gate, Question};
use pullcast::files::{CarFile, Problems, VisitFile, car_write};
use pullcast::fit::fitted::Fitted;
use pullcast::fit::observation::Visit;
use pullcast::report::fit::{FitReport, gate, origin, reservations};
use std::path::Path;

pub(crate) fn run(args: &FitArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("fit", out);
    let car = files.car(&args.car);
    let visits = files.visits(&args.visits);
    files.car_output(args.out.as_deref(), args.force);
    files.drawing(&args.draw, args.force);
    files.finish(out)?;
    let done = fit(
        &read(car)?,
        visits.into_iter().map(read).collect::<Result<_, _>>()?,
        args.out.as_deref().map(|path| (path, args.force)),
        args.misfit,
        out,
    )?;
    out.drawing(&done.report, &args.draw, args.force)?;
    out.report(&done.report)?;
    done.gate(out)
}

/// Reservations told while a fit is made: a car of another kind than its file says has dozens.
const MOST_TOLD: usize = 3;

/// A fit made, and its account.
pub(crate) struct Done {
    pub(crate) fitted: Fitted,
    pub(crate) visits: Vec<Visit>,
    pub(crate) report: FitReport,
    /// What was odd in the recordings.
    pub(crate) warnings: Problems,
}

impl Done {
    /// A car that its file does not describe must not pass for a fitted one.
    pub(crate) fn gate(&self, out: Output<'_>) -> Result<(), Failure> {
        let answer = &self.report.answer;
        let Some((which, words)) = answer.gate.zip(gate(answer, out.units)) else {
            return Ok(());
        };
        Err(Failure::Gate(match which {
            Gate::Misfit => {
                format!("{words}. No car file is written; --accept-misfit goes on anyway")
            }
        }))
    }
}

/// Fits, and writes the fitted car if asked to, to a path and perhaps over a file that is there.
pub(crate) fn fit(
    car: &CarFile,
    visits: Vec<VisitFile>,
    write: Option<(&Path, bool)>,
    misfit: MisfitArgs,
    out: Output<'_>,
) -> Result<Done, Failure> {
    let guarded = guard::hold(&car.sheet, &visits, out)?;
    let visits: Vec<Visit> = visits.into_iter().map(|file| file.visit).collect();
    let pulls: usize = visits.iter().map(|v| v.pulls.len()).sum();
    out.note(&format!(
        "fitting {} inputs to {pulls} pull{}",
        car.sheet.free_count(),
        if pulls == 1 { "" } else { "s" }
    ));
    let question = Question {
        sheet: &car.sheet,
        visits: &visits,
        noise: out.shop.noise(),
        accept_misfit: misfit.accept_misfit,
    };
    let (fitted, answer) = out
        .metered("slopes of the fit", |progress| {
            question.answer_telling(progress)
        })
        .map_err(|error| Failure::Gate(error.to_string()))?;
    if !answer.converged {
        let all = reservations(&answer);
        for line in all.iter().take(MOST_TOLD) {
            out.note(&format!("warning: {line}"));
        }
        if let Some(more @ 1..) = all.len().checked_sub(MOST_TOLD) {
            out.note(&format!(
                "warning: and {more} more of the kind; --details and the fitted car file tell all"
            ));
        }
    }
    let written = match write.filter(|_| answer.gate.is_none()) {
        Some((path, force)) => {
            let reservations = reservations(&answer);
            let account = car_write::Account {
                origin: &origin(&answer),
                reservations: &reservations,
            };
            car_write::save(path, car, &fitted.sheet, &account, overwrite(force))?;
            Some(path.display().to_string())
        }
        None => None,
    };
    Ok(Done {
        fitted,
        visits,
        report: FitReport {
            answer,
            recordings: guarded.answers,
            written,
        },
        warnings: guarded.problems,
    })
}
