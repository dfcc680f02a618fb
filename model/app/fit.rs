//! `fit`: calibrates a car on measured pulls, and writes the fitted car only if the fit came to rest and the file describes
//! the car, as far as the pulls can tell.

use crate::args::{FitArgs, MisfitArgs};
use crate::load::{Files, read};
use crate::output::{Failure, Output, overwrite};
use pullcast::belief::Noise;
use pullcast::files::{CarFile, VisitFile, car_write};
use pullcast::fit::calibration::Channel;
use pullcast::fit::fitted::{Fitted, calibrate};
use pullcast::fit::observation::Visit;
use pullcast::report::Units;
use pullcast::report::fit::FitReport;
use pullcast::report::fit::misfit::verdict;
use std::path::Path;

pub(crate) fn run(args: &FitArgs, out: Output) -> Result<(), Failure> {
    let mut files = Files::default();
    let car = files.car(&args.car);
    let visits = files.visits(&args.visits);
    files.car_output(args.out.as_deref(), args.force);
    files.finish(out)?;
    let done = fit(
        &read(car)?,
        visits.into_iter().map(read).collect::<Result<_, _>>()?,
        args.out.as_deref().map(|path| (path, args.force)),
        args.misfit,
        out,
    )?;
    out.report(&done.report)?;
    done.gate(args.misfit, out)
}

/// A fit made, and its account.
pub(crate) struct Done {
    pub(crate) fitted: Fitted,
    pub(crate) visits: Vec<Visit>,
    pub(crate) report: FitReport,
}

impl Done {
    /// A fit that did not come to rest must not pass for one, nor one of a car that the file does not describe.
    pub(crate) fn gate(&self, misfit: MisfitArgs, out: Output) -> Result<(), Failure> {
        if !self.report.converged {
            return Err(Failure::Gate(format!(
                "the fit did not come to rest ({}); no car file is written",
                self.report.stop
            )));
        }
        if self.report.misfits.is_empty() || misfit.accept_misfit {
            return Ok(());
        }
        Err(Failure::Gate(format!(
            "{}. No car file is written; --accept-misfit goes on all the same",
            verdict(&self.report.misfits, out.units)
        )))
    }
}

/// Fits, and writes the fitted car if asked to, to a path and perhaps over a file that is there.
pub(crate) fn fit(
    car: &CarFile,
    visits: Vec<VisitFile>,
    write: Option<(&Path, bool)>,
    misfit: MisfitArgs,
    out: Output,
) -> Result<Done, Failure> {
    let visits: Vec<Visit> = visits.into_iter().map(|file| file.visit).collect();
    let pulls: usize = visits.iter().map(|v| v.pulls.len()).sum();
    out.note(&format!(
        "fitting {} doubtful numbers to {pulls} pull{}",
        car.sheet.free_count(),
        if pulls == 1 { "" } else { "s" }
    ));
    let fitted = calibrate(&car.sheet, &visits, Noise::default())
        .map_err(|error| Failure::Gate(error.to_string()))?;
    let report = FitReport::new(&car.sheet, &fitted, &visits);
    let mut done = Done {
        fitted,
        visits,
        report,
    };
    if let Some((path, force)) = write.filter(|_| done.gate(misfit, out).is_ok()) {
        car_write::save(
            path,
            car,
            &done.fitted.sheet,
            &comments(&done),
            overwrite(force),
        )?;
        done.report.written = Some(path.display().to_string());
    }
    Ok(done)
}

/// What the first lines of a fitted car file say of its origin.
fn comments(done: &Done) -> Vec<String> {
    let (fitted, visits) = (&done.fitted, &done.visits);
    let names: Vec<&str> = visits.iter().map(|v| v.name.as_str()).collect();
    let mut lines = vec![
        format!(
            "Calibrated on {} pulls of: {}.",
            fitted.pulls,
            names.join(", ")
        ),
        format!(
            "Power followed to {:.2} % (root mean square of {} bands).",
            100.0 * fitted.power_rms(),
            fitted.channel(Channel::Power).count()
        ),
    ];
    let misfits = &done.report.misfits;
    lines.extend(
        misfits
            .iter()
            .map(|misfit| format!("Mind: {}.", misfit.sentence(Units::Metric))),
    );
    lines
}
