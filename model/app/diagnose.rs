//! `diagnose`: why one pull looks wrong.

use crate::args::DiagnoseArgs;
use crate::guard;
use crate::load::{Files, read};
use crate::output::{Failure, Output};
use pullcast::ask::diagnose::{Question, Refusal};
use pullcast::diagnose::Entered;
use pullcast::files::VisitFile;
use pullcast::fit::observation::Visit;

pub(crate) fn run(args: &DiagnoseArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("diagnose", out);
    files.drawing(&args.draw, args.force);
    let car = files.car(&args.car);
    let named: Vec<_> = std::iter::once(&args.odd)
        .chain(&args.good)
        .cloned()
        .collect();
    let visits = files.drum_visits(&named).into_iter();
    files.finish(out)?;
    let car = read(car)?;
    let mut all: Vec<VisitFile> = visits.map(read).collect::<Result<_, _>>()?;
    // What looks wrong is asked about, not refused.
    guard::warn(&car.sheet, &all, out);
    let odd = all.remove(0);
    let good: Vec<(Visit, Vec<Entered>)> = all
        .into_iter()
        .map(|file| (file.visit, file.entered))
        .collect();

    let question = Question {
        sheet: &car.sheet,
        good: &good,
        odd: &odd.visit,
        entered: &odd.entered,
        pull: args.pull.map(|number| usize::from(number) - 1),
        same_strapping: args.same_visit || args.same_strapping,
        same_air: args.same_visit || args.same_air,
    };
    let answer = out
        .metered("causes weighed", |progress| {
            question.answer_telling(progress)
        })
        .map_err(|why| refusal(&why, args))?;
    out.drawing(&answer, &args.draw, args.force)?;
    out.report(&answer)
}

fn refusal(why: &Refusal, args: &DiagnoseArgs) -> Failure {
    let (car, odd) = (args.car.display(), args.odd.display());
    match why {
        Refusal::NothingToHoldAgainst => Failure::Usage(format!(
            "{car} is not a fitted car and no good pulls are named, so there is nothing to judge the odd pull against. Name good pulls \
             with --good, or fit the car to them first (`fit --out`)"
        )),
        Refusal::WhichPull { pulls } => Failure::Usage(format!(
            "{odd} holds {pulls} pulls; say with --pull which of them looks wrong, 1 to {pulls}"
        )),
        Refusal::NoSuchPull { pull, pulls } => {
            Failure::Usage(format!("--pull {}: {odd} holds {pulls} pulls", pull + 1))
        }
        Refusal::AnotherCar { by } => {
            let named: Vec<String> = args.good.iter().map(|p| p.display().to_string()).collect();
            Failure::Gate(format!(
                "no answer: the pulls of {} read {:.0} % {} than {car} predicts; good pulls of the same car, and a file fitted to them \
                 (`fit --out`), agree within a few per cent. Either the pulls or the file belong to another car",
                named.join(", "),
                100.0 * by.abs(),
                if *by > 0.0 { "more" } else { "less" },
            ))
        }
        other => Failure::Gate(other.to_string()),
    }
}
