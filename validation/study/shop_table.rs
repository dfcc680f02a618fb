//! Tables of made-up shops, by how they come about and by the work they do.

use super::shops::{Law, Score, Scores, scores, size};
use pullcast::fit::own_jobs::ClosedJob;
use std::fmt::Write as _;

/// How shops may come about.
const LAWS: [Law; 4] = [
    Law {
        bias: 0.05,
        spread: 0.02,
    },
    Law {
        bias: 0.10,
        spread: 0.02,
    },
    Law {
        bias: 0.15,
        spread: 0.03,
    },
    Law {
        bias: 0.05,
        spread: 0.05,
    },
];

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
            .copied()
            .collect();
        for law in LAWS {
            let (early, late) = scores(count, &kinds, law);
            let _ = writeln!(
                text,
                "{count} shops, {what} ({} kinds); bias {:.2}, from job to job {:.2}",
                kinds.len(),
                law.bias,
                law.spread
            );
            text += &line(&early, "  5 to 15 jobs before");
            text += &line(&late, "  20 to 29 jobs before");
        }
    }
    text
}
