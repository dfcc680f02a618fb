//! Tables of made-up shops, by how they come about and by the work they do.

use super::shops::{Law, Score, Scores, scores, size};
use pullcast::fit::own_jobs::ClosedJob;
use std::fmt::Write as _;

/// How shops may come about.
const LAWS: [Law; 7] = [
    law(0.05, 0.02, 0.0),
    law(0.10, 0.02, 0.0),
    law(0.15, 0.03, 0.0),
    law(0.05, 0.05, 0.0),
    law(0.045, 0.02, 0.25),
    law(0.045, 0.02, 0.5),
    law(0.045, 0.02, 0.75),
];

const fn law(bias: f64, spread: f64, alike: f64) -> Law {
    Law {
        bias,
        spread,
        alike,
    }
}

fn told(score: &Score) -> String {
    format!(
        "inside {:4.1} %, width {:4.1} %, off {:3.1} %",
        100.0 * score.share(),
        100.0 * score.mean_width(),
        100.0 * score.off()
    )
}

fn line(scores: &Scores, title: &str) -> String {
    let learned = &scores.learned;
    let over = |of: &Score| 100.0 * (learned.mean_width() / of.mean_width() - 1.0);
    format!(
        "{title:<22} {:5.0} quotes  learned {};  general {} ({:+.0} %);  holding {} ({:+.0} %)\n",
        learned.quotes,
        told(learned),
        told(&scores.general),
        over(&scores.general),
        told(&scores.holding),
        over(&scores.holding)
    )
}

/// Tables for several laws, for all work and for work that much of the power goes through.
pub(crate) fn study(count: usize, jobs: &[ClosedJob]) -> String {
    let mut text = String::new();
    for (what, least) in [("all work", 0.0), ("work of 0.3 or more", 0.3)] {
        let kinds: Vec<ClosedJob> = jobs
            .iter()
            .filter(|job| job.tells() && size(job) >= least)
            .cloned()
            .collect();
        for law in LAWS {
            let (early, late) = scores(count, &kinds, law);
            let _ = writeln!(
                text,
                "{count} shops, {what} ({} builds); bias {:.3}, from job to job {:.2}, of car and parts alike {:.2}",
                kinds.len(),
                law.bias,
                law.spread,
                law.alike
            );
            text += &line(&early, "  5 to 15 jobs before");
            text += &line(&late, "  20 to 29 jobs before");
        }
    }
    text
}
