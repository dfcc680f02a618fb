//! Recorded pulls with known answers: fit the baseline, quote the build, compare with what the after-runs gave.
//!
//! Source: pulls of an independent crank-angle simulator (filling-and-emptying cycle, equilibrium gas, knock-limited spark,
//! tyre slip, drum, encoder noise; see `validation/data/recorded_pulls/README.md`). It shares no shortcut with the
//! mean-value model, so it stands in for a shop's own recordings.

pub(crate) mod build;
pub(crate) mod car;
mod plan;
pub(crate) mod read;

use pullcast::ask::basis::Air;
use pullcast::ask::quote::{Answer, Question};
use pullcast::belief::Noise;
use pullcast::fit::fitted::calibrate;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Folder of the recorded builds of the first set.
pub(crate) fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/recorded_pulls")
}

/// One case, fitted and quoted.
struct Outcome {
    name: String,
    quote: Answer,
    rms: f64,
    true_before_w: f64,
    true_after_w: f64,
}

impl Outcome {
    fn of(name: &str) -> Self {
        let case = build::read(&folder().join(name));
        let visits = std::slice::from_ref(&case.baseline);
        let fitted = calibrate(&case.sheet, visits, Noise::default())
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let first = &case.baseline.pulls[0];
        let mut conditions = first.conditions;
        conditions.from_rpm = first.curve.bands[0].rpm;
        conditions.axle = case.axle_after;
        let day_after = Air::stated(case.day_after, "after");
        let mut question = Question {
            draws: Some(200),
            ..Question::new(&fitted.sheet, &case.plan, visits, Some(day_after))
        };
        question.before.conditions = conditions;
        let quote = question.answer().unwrap_or_else(|e| panic!("{name}: {e}"));
        Self {
            name: name.to_owned(),
            quote,
            rms: fitted.power_rms(),
            true_before_w: case.true_before_w,
            true_after_w: case.true_after_w,
        }
    }

    fn true_gain(&self) -> f64 {
        self.true_after_w / self.true_before_w - 1.0
    }

    /// Points of gain by which the middle of the quote misses.
    fn error(&self) -> f64 {
        100.0 * (self.quote.shown_gain.p50 - self.true_gain())
    }

    fn held(&self) -> bool {
        self.quote.after.power_w.holds(self.true_after_w)
    }
}

/// A table of all cases, for the message of a failing check and for the validation page.
fn table(outcomes: &[Outcome]) -> String {
    let mut text = String::new();
    for o in outcomes {
        let range = o.quote.after.power_w.map(|w| 1e-3 * w);
        let _ = writeln!(
            text,
            "{:<30} rms {:4.2} %  after {:5.1} kW, quoted {:5.1} to {:5.1} (middle {:5.1}){}  gain {:+5.1} %, quoted {:+5.1} %, error {:+5.1} points",
            o.name,
            100.0 * o.rms,
            1e-3 * o.true_after_w,
            range.p5,
            range.p95,
            range.p50,
            if o.held() { "     " } else { " MISS" },
            100.0 * o.true_gain(),
            100.0 * o.quote.shown_gain.p50,
            o.error(),
        );
    }
    text
}

#[test]
fn gains_of_recorded_builds_are_predicted() {
    let outcomes: Vec<Outcome> = read::names(&folder())
        .iter()
        .map(|name| Outcome::of(name))
        .collect();
    let table = table(&outcomes);
    eprintln!("{table}");
    let mut errors: Vec<f64> = outcomes.iter().map(|o| o.error().abs()).collect();
    errors.sort_by(f64::total_cmp);
    let median = errors[errors.len() / 2];
    // The bound set for this version of the model.
    assert!(median < 4.0, "median error {median:.1} points\n{table}");
    let mean = outcomes.iter().map(Outcome::error).sum::<f64>() / outcomes.len() as f64;
    // A median of sizes lets a one-sided error pass; half of the bound above.
    assert!(mean.abs() < 3.0, "mean error {mean:.1} points\n{table}");
    // Half of the largest gain recorded here: past that a quote would mislead about what kind of job it is.
    assert!(errors[errors.len() - 1] < 20.0, "an absurd gain\n{table}");
    let ninth = errors[(9 * errors.len()).div_ceil(10) - 1];
    assert!(
        ninth < 8.0,
        "nine in ten err by up to {ninth:.1} points\n{table}"
    );
    // Nine in ten are to be held; of fourteen cases fewer than ten would come up once in a hundred such sets (binomial).
    let held = outcomes.iter().filter(|o| o.held()).count();
    assert!(held >= 10, "{held} of {} held\n{table}", outcomes.len());
}
