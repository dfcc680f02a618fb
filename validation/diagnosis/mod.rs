//! Recorded pulls with one known fault each, or none: is the true cause named first?
//!
//! Source: pulls of an independent crank-angle simulator, three good ones and one spoiled by exactly one cause (see
//! `validation/data/faulty_pulls/README.md`). It shares no shortcut with the mean-value model that diagnoses them.

pub(crate) mod case;

use crate::cases::read;
use case::{Case, SETS, cause, folder, true_sizes};
use pullcast::diagnose::{Cause, Sampled, evidence_by_sampling};
use std::fmt::Write as _;

/// What became of a case.
struct Outcome {
    line: String,
    /// Place of the true cause, from 1.
    rank: usize,
    /// Sizes that lie in their 90 % intervals, and all.
    held: (usize, usize),
    /// Clean pulls called clean, and all.
    clean: (usize, usize),
    /// Log-evidence by Laplace and by sampling, of the true cause where it has sizes.
    evidence: Option<(Cause, f64, Sampled)>,
}

const SAMPLES: usize = 300;

impl Outcome {
    fn of(set: &str, name: &str) -> Self {
        let case = Case::read(set, name);
        let diagnosis = case.diagnose();
        let truth = cause(&case.answer);
        let rank = diagnosis
            .suspects
            .iter()
            .position(|s| s.explained.cause == truth)
            .unwrap_or_else(|| panic!("{name}: {truth:?} is not among the causes"));
        let suspect = &diagnosis.suspects[rank];
        let mut line = format!(
            "{name} {truth:?}: place {}, probability {:.3}, power {:+.1} kW at the peak",
            rank + 1,
            suspect.probability,
            1e-3 * suspect.power_w
        );
        let mut held = (0, 0);
        for (what, index, value) in true_sizes(&case.answer, &case.car) {
            let (low, high) = suspect.explained.intervals[index];
            let inside = (low..=high).contains(&value);
            held.0 += usize::from(inside);
            held.1 += 1;
            let _ = write!(
                line,
                "; {what} {value:.4e} in {low:.4e} to {high:.4e}{}",
                if inside { "" } else { " MISS" }
            );
        }
        let second = &diagnosis.suspects[usize::from(rank == 0)];
        let _ = write!(
            line,
            "; next {:?} {:.3}",
            second.explained.cause, second.probability
        );
        let clean = (0..case.clean.0.pulls.len())
            .filter(|i| {
                let first = &case.diagnose_clean(*i).suspects[0];
                if first.explained.cause != Cause::Nothing {
                    let _ = write!(line, "; clean {} called {:?}", i + 1, first.explained.cause);
                }
                first.explained.cause == Cause::Nothing
            })
            .count();
        let evidence = (!suspect.explained.values.is_empty()).then(|| {
            let sampled = case.ask(case.clean.clone(), &case.odd, &[], |question| {
                evidence_by_sampling(question, &suspect.explained, SAMPLES, 1)
            });
            let sampled = sampled.unwrap_or_else(|| panic!("{name}: no sample"));
            (truth, suspect.explained.log_evidence, sampled)
        });
        Self {
            line,
            rank: rank + 1,
            held,
            clean: (clean, case.clean.0.pulls.len()),
            evidence,
        }
    }
}

#[test]
fn the_cause_of_a_recorded_fault_is_named() {
    let outcomes: Vec<Outcome> = read::names(&folder())
        .iter()
        .map(|name| Outcome::of(name))
        .collect();
    let table = outcomes.iter().fold(String::new(), |mut text, o| {
        let _ = writeln!(text, "{}", o.line);
        text
    });
    eprintln!("{table}");
    let share = |count: usize, all: usize| count as f64 / all as f64;
    let within = |rank: usize| outcomes.iter().filter(|o| o.rank <= rank).count();
    let (first, second) = (
        share(within(1), outcomes.len()),
        share(within(2), outcomes.len()),
    );
    // The bounds set for this version of the model.
    assert!(
        first >= 0.80 && second >= 0.92,
        "first {first:.2}, in the first two {second:.2}\n{table}"
    );
    let sum = |of: fn(&Outcome) -> (usize, usize)| {
        outcomes
            .iter()
            .map(of)
            .fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1))
    };
    let (clean, all) = sum(|o| o.clean);
    assert!(
        share(clean, all) >= 0.90,
        "{clean} of {all} clean pulls called clean\n{table}"
    );
    let (held, all) = sum(|o| o.held);
    assert!(
        share(held, all) >= 0.80,
        "{held} of {all} sizes held\n{table}"
    );
    // Laplace takes the peak for a paraboloid. A factor of e² in the evidence is what two rivals must differ by before anybody would
    // act on it. A slipping clutch's trace has steps, where the search ends on a lower peak than the highest (measured: 5.6 lower,
    // evidence 4.4 too small); there it may only be too careful, and by no more than a half over that.
    for (cause, laplace, sampled) in outcomes.iter().filter_map(|o| o.evidence) {
        let off = sampled.log_evidence - laplace;
        let most = if cause == Cause::ClutchSlip { 6.6 } else { 2.0 };
        let said = format!("{cause:?}: {laplace:.2} against {sampled:?}");
        assert!((-2.0..most).contains(&off), "{said}");
        assert!(sampled.above_peak < 1.3 * most, "{said}");
        // Fewer would be no sample.
        assert!(sampled.effective_draws > 10.0, "{said}");
    }
}
