//! Recordings held against themselves and the car before anything is built on them.

use crate::output::{Failure, Output};
use pullcast::ask::guard::{Answer, Question};
use pullcast::belief::Sheet;
use pullcast::diagnose::Entered;
use pullcast::files::visit::Recorded;
use pullcast::files::{Problems, VisitFile};
use pullcast::fit::observation::{MeasuredPull, ReadAt};
use pullcast::report::guard::problem;

/// What holding the recordings of some visits brought.
pub(crate) struct Guarded {
    pub(crate) answers: Vec<Answer>,
    pub(crate) warnings: Problems,
}

/// Stops where a recording cannot be what it says, and warns where it may not be.
pub(crate) fn hold(
    sheet: &Sheet,
    visits: &[VisitFile],
    out: Output<'_>,
) -> Result<Guarded, Failure> {
    let guarded = held(sheet, visits, true, out);
    if guarded.warnings.has_errors() {
        return Err(Failure::Files(guarded.warnings));
    }
    out.problems(&guarded.warnings);
    Ok(guarded)
}

/// The same without ever stopping.
pub(crate) fn warn(sheet: &Sheet, visits: &[VisitFile], out: Output<'_>) {
    out.problems(&held(sheet, visits, false, out).warnings);
}

/// Answers, and their findings as problems: of pulls of one visit that show the same, the first speaks for all.
fn held(sheet: &Sheet, visits: &[VisitFile], may_stop: bool, out: Output<'_>) -> Guarded {
    let mut answers = Vec::new();
    let mut problems = Problems::new();
    for file in visits {
        // A curve at the crank knows no drums that could contradict it.
        let drums: Vec<MeasuredPull> = file.visit.on_drums().cloned().collect();
        let read_at = file.visit.pulls.iter().map(|pull| pull.read_at);
        let noted: Vec<(&Entered, &Recorded)> = (file.entered.iter().zip(&file.recordings))
            .zip(read_at)
            .filter_map(|(noted, read_at)| (read_at == ReadAt::Drums).then_some(noted))
            .collect();
        let of_visit: Vec<Answer> = drums
            .iter()
            .zip(&noted)
            .enumerate()
            .map(|(index, (pull, (entered, recorded)))| {
                let trusted = recorded.trusted || !may_stop;
                Question {
                    sheet,
                    pull,
                    others: &drums[..index],
                    entered,
                    trusted,
                }
                .answer()
            })
            .collect();
        let found: Vec<_> = of_visit
            .iter()
            .zip(noted.iter().map(|(_, recorded)| *recorded))
            .flat_map(|(answer, recorded)| answer.findings.iter().map(move |f| (f, recorded)))
            .collect();
        let alike = |a: usize, b: usize| found[a].0.is_like(found[b].0);
        for index in 0..found.len() {
            if (0..index).any(|before| alike(before, index)) {
                continue;
            }
            let others = (index + 1..found.len())
                .filter(|&o| alike(index, o))
                .count();
            let (finding, recorded) = found[index];
            problems.push(problem(finding, recorded, others, out.units));
        }
        answers.extend(of_visit);
    }
    Guarded {
        answers,
        warnings: problems,
    }
}
