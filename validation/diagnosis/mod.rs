//! Recorded pulls with one known fault each, or none: is the true cause named first?
//!
//! Source: pulls of an independent crank-angle simulator, three good ones and one spoiled by exactly one cause (see
//! `validation/data/faulty_pulls/README.md`). It shares no shortcut with the mean-value model that diagnoses them. What the doubts were
//! chosen with, and how the choice does on sets left out, is told by `cargo bench --bench diagnosis` (`study.rs`).

pub(crate) mod case;
mod score;

use crate::cases::read;
use case::{Case, SETS, cause, folder};
use pullcast::diagnose::{Cause, Doubts, evidence_by_sampling};
use score::{Asked, Score};
use std::fmt::Write as _;

/// The first set, in the time of a check; the study asks all of them.
#[test]
fn the_cause_of_a_recorded_fault_is_named() {
    let set = SETS[0];
    let mut text = String::new();
    let mut score = Score::default();
    for name in read::names(&folder(set)) {
        for asked in Asked::of(&Case::read(set, &name), Doubts::CHOSEN, false) {
            let _ = writeln!(text, "{}", asked.line(Doubts::CHOSEN));
            score.add(&asked, Doubts::CHOSEN);
        }
    }
    let _ = writeln!(text, "{set}: {score}");
    eprintln!("{text}");
    let shares = score.shares();
    // The bounds set for this version of the model.
    assert!(shares.first >= 0.80, "{text}");
    assert!(shares.first_two >= 0.92, "{text}");
    assert!(shares.sound >= 0.90, "{text}");
    assert!(shares.sizes_held >= 0.80, "{text}");
    assert!(shares.sure_and_right >= 0.93, "{text}");
    // What it costs, which no clock of a busy machine tells: 1102 sizes at most since rounds go on until a size is settled (891 when three had to do), most of
    // them without a pull.
    assert!(
        score.most_tried <= 1200,
        "{} tried: {text}",
        score.most_tried
    );
}

const SAMPLES: usize = 300;

/// Laplace takes the peak for a paraboloid. A factor of e² in the evidence is what two rivals must differ by before anybody would act on
/// it. Heat soak alone is left out: its two sizes lie on a ridge whose doubt moves with them, under the doubt of the peak found another place of it is
/// higher by 6, and all of the 300 draws' weight rests on that one draw; it is named first all the same.
#[test]
fn evidence_by_laplace_is_that_of_sampling() {
    for name in read::names(&folder("first")) {
        let case = Case::read("first", &name);
        let truth = cause(&case.answer);
        let diagnosis = case.diagnose(case.spoiled(), 3, Doubts::CHOSEN);
        let found = diagnosis
            .suspects
            .iter()
            .find(|s| s.explained.cause == truth);
        let found = &found.expect("among the causes").explained;
        if found.values.is_empty() || found.with.is_some() || truth == Cause::HeatSoak {
            continue;
        }
        let sampled = case.ask(case.good(3), case.spoiled(), Doubts::CHOSEN, |question| {
            evidence_by_sampling(question, found, SAMPLES, 1)
        });
        let sampled = sampled.unwrap_or_else(|| panic!("{name}: no sample"));
        let laplace = found.log_evidence;
        let off = sampled.log_evidence - laplace;
        let said = format!("{truth:?}: {laplace:.2} against {sampled:?}");
        assert!((-2.0..2.0).contains(&off), "{said}");
        assert!(sampled.above_peak < 2.6, "{said}");
        // Fewer would be no sample.
        assert!(sampled.effective_draws > 10.0, "{said}");
    }
}
