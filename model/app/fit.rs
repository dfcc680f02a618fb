//! `fit`: calibrates a car on measured pulls, and writes the fitted car only if the fit came to rest.

use crate::args::FitArgs;
use crate::load::{Files, read};
use crate::output::{Failure, Output, overwrite};
use pullcast::files::{CarFile, VisitFile, car_write};
use pullcast::fit::calibration::Channel;
use pullcast::fit::fitted::{Fitted, calibrate};
use pullcast::fit::observation::{Noise, Visit};
use pullcast::report::fit::FitReport;
use std::path::Path;

pub(crate) fn run(args: &FitArgs, out: Output) -> Result<(), Failure> {
    let mut files = Files::default();
    let car = files.car(&args.car);
    let visits: Vec<_> = args.visits.iter().map(|path| files.visit(path)).collect();
    files.output(args.out.as_deref(), args.force);
    files.finish(out)?;
    let done = fit(
        &read(car)?,
        visits.into_iter().map(read).collect::<Result<_, _>>()?,
        args.out.as_deref(),
        args.force,
        out,
    )?;
    out.report(&done.report)?;
    done.gate()
}

/// A fit made, and its account.
pub(crate) struct Done {
    pub(crate) fitted: Fitted,
    pub(crate) visits: Vec<Visit>,
    pub(crate) report: FitReport,
}

impl Done {
    /// A fit that did not come to rest must not pass for one.
    pub(crate) fn gate(&self) -> Result<(), Failure> {
        if self.report.converged {
            Ok(())
        } else {
            Err(Failure::Gate(format!(
                "the fit did not come to rest ({}); no car file is written",
                self.report.stop
            )))
        }
    }
}

/// Fits, and writes the fitted car if asked to.
pub(crate) fn fit(
    car: &CarFile,
    visits: Vec<VisitFile>,
    path: Option<&Path>,
    force: bool,
    out: Output,
) -> Result<Done, Failure> {
    let visits: Vec<Visit> = visits.into_iter().map(|file| file.visit).collect();
    let pulls: usize = visits.iter().map(|v| v.pulls.len()).sum();
    out.note(&format!(
        "fitting {} doubtful numbers to {pulls} pulls",
        car.sheet.free_count()
    ));
    let fitted = calibrate(&car.sheet, &visits, Noise::default())
        .map_err(|error| Failure::Gate(error.to_string()))?;
    let written = match path.filter(|_| fitted.stop.converged()) {
        Some(path) => {
            car_write::save(
                path,
                &fitted.sheet,
                &car.parts,
                &comments(&fitted, &visits),
                overwrite(force),
            )?;
            Some(path.display().to_string())
        }
        None => None,
    };
    let report = FitReport::new(&car.sheet, &fitted, &visits, written);
    Ok(Done {
        fitted,
        visits,
        report,
    })
}

/// What the first lines of a fitted car file say of its origin.
fn comments(fitted: &Fitted, visits: &[Visit]) -> Vec<String> {
    let names: Vec<&str> = visits.iter().map(|v| v.name.as_str()).collect();
    vec![
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
    ]
}
