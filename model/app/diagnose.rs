//! `diagnose`: why one pull looks wrong.

use crate::args::DiagnoseArgs;
use crate::load::{Files, read};
use crate::output::{Failure, Output};
use pullcast::diagnose::{Entered, Question, Remark, Trial};
use pullcast::files::VisitFile;
use pullcast::fit::observation::Visit;
use pullcast::report::What;
use pullcast::report::cautions;
use pullcast::report::diagnose::{DiagnoseReport, IN_FULL, Subject};

pub(crate) fn run(args: &DiagnoseArgs, out: Output) -> Result<(), Failure> {
    let mut files = Files::default();
    let car = files.car(&args.car);
    let named: Vec<_> = std::iter::once(&args.odd)
        .chain(&args.good)
        .cloned()
        .collect();
    let mut visits = files.visits(&named).into_iter();
    files.finish(out)?;
    let car = read(car)?;
    let odd: VisitFile = read(visits.next().flatten())?;
    let good: Vec<(Visit, Vec<Entered>)> = visits
        .map(|visit| read(visit).map(|file| (file.visit, file.entered)))
        .collect::<Result<_, _>>()?;

    if good.is_empty() && !car.sheet.is_fitted() {
        return Err(Failure::Usage(format!(
            "{} is no fitted car, and no good pulls are named: there is nothing to hold the odd pull against. Name good pulls with \
             --good, or fit the car to them first (`fit --out`)",
            args.car.display()
        )));
    }
    let pulls = &odd.visit.pulls;
    let index = match args.pull {
        Some(number) => usize::from(number) - 1,
        None if pulls.len() == 1 => 0,
        None => {
            return Err(Failure::Usage(format!(
                "{} holds {} pulls; say with --pull which of them looks wrong, 1 to {}",
                args.odd.display(),
                pulls.len(),
                pulls.len()
            )));
        }
    };
    let (Some(pull), Some(entered)) = (pulls.get(index), odd.entered.get(index)) else {
        return Err(Failure::Usage(format!(
            "--pull {}: {} holds {} pulls",
            index + 1,
            args.odd.display(),
            pulls.len()
        )));
    };
    let setup = &car.sheet.centre;
    let question = Question {
        setup,
        good: &good,
        odd: Trial {
            pull,
            entered: *entered,
        },
        before: &pulls[..index],
        same_visit: args.same_visit,
    };
    let diagnosis = question
        .answer()
        .map_err(|error| Failure::Gate(error.to_string()))?;
    if let Some(Remark::GoodPullsAreAnotherCar(by)) =
        diagnosis.remarks.iter().find(|r| r.forbids_an_answer())
    {
        let named: Vec<String> = args.good.iter().map(|p| p.display().to_string()).collect();
        return Err(Failure::Gate(format!(
            "no answer: the pulls of {} read {:.0} % {} than {} says of this car; good pulls of the same car, and a file fitted to them \
             (`fit --out`), are within a few per cent. They are not this car's pulls, or the file is not this car's",
            named.join(", "),
            100.0 * by.abs(),
            if *by > 0.0 { "more" } else { "less" },
            args.car.display()
        )));
    }
    // A cause that the log rules out may have needed another gear: its speed is nobody's.
    let fastest_m_s = diagnosis
        .suspects
        .iter()
        .enumerate()
        .filter(|(place, s)| *place == 0 || s.probability >= IN_FULL)
        .map(|(_, s)| s)
        .filter_map(|s| s.explained.pull().points.last())
        .map(|p| p.speed_m_s * (1.0 + p.slip))
        .fold(0.0, f64::max);
    let subject = Subject {
        car: setup.car.name.clone(),
        fitted: car.sheet.is_fitted(),
        pull: pull.name.clone(),
        charge: entered.charge,
        electric: setup.car.electric.is_some(),
        cautions: cautions::of_pull(&setup.car, &out.units.show(What::Speed, fastest_m_s)),
    };
    out.report(&DiagnoseReport::new(&diagnosis, subject))
}
