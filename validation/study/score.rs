//! What a table of quoted builds tells: by set and by kind of work, beside the earlier program on the same cases.

use crate::row::Row;
use std::fmt::Write as _;

/// Figures of some cases; points of gain.
struct Score {
    cases: usize,
    median: f64,
    ninth: f64,
    mean: f64,
    held: usize,
    held_power: usize,
    width: f64,
    interval: f64,
    refused: usize,
}

impl Score {
    fn of(rows: &[&Row]) -> Option<Self> {
        let quoted: Vec<&&Row> = rows
            .iter()
            .filter(|row| row.gain[2] > row.gain[0])
            .collect();
        if quoted.is_empty() {
            return None;
        }
        let n = quoted.len() as f64;
        let mean = |of: &dyn Fn(&Row) -> f64| quoted.iter().map(|row| of(row)).sum::<f64>() / n;
        let mut sizes: Vec<f64> = quoted.iter().map(|row| row.error().abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let rank = |tenths: usize| sizes[(tenths * sizes.len()).div_ceil(10).max(1) - 1];
        Some(Self {
            cases: rows.len(),
            median: rank(5),
            ninth: rank(9),
            mean: mean(&Row::error),
            held: quoted.iter().filter(|row| row.holds()).count(),
            held_power: quoted.iter().filter(|row| row.holds_power()).count(),
            width: mean(&Row::width),
            interval: mean(&Row::interval_score),
            refused: rows.iter().filter(|row| !row.refused.is_empty()).count(),
        })
    }

    fn line(&self) -> String {
        format!(
            "{:3}  median {:4.1}  ninth decile {:5.1}  mean {:+5.1}  inside {:2} (power {:2})  width {:5.1}  interval score {:6.1}  refused {}",
            self.cases,
            self.median,
            self.ninth,
            self.mean,
            self.held,
            self.held_power,
            self.width,
            self.interval,
            self.refused
        )
    }
}

/// The tables.
pub(crate) fn report(rows: &[Row], earlier: &[Row]) -> String {
    let mut text = String::new();
    for row in rows {
        let _ = writeln!(text, "{}", row.told());
    }
    let mut both = |title: &str, keep: &dyn Fn(&Row) -> bool| {
        let now: Vec<&Row> = rows.iter().filter(|row| keep(row)).collect();
        let same = |row: &&Row| now.iter().any(|n| n.set == row.set && n.case == row.case);
        let before: Vec<&Row> = earlier.iter().filter(same).collect();
        for (whose, some) in [("now", &now), ("earlier", &before)] {
            if let Some(score) = Score::of(some) {
                let _ = writeln!(text, "{title:<26} {whose:<8} {}", score.line());
            }
        }
    };
    for set in ["first", "second", "third"] {
        both(set, &|row| row.set == set);
    }
    both("second and third", &|row| row.set != "first");
    let mut kinds: Vec<&str> = rows.iter().map(Row::kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    for kind in kinds {
        both(kind, &|row| row.set != "first" && row.kind() == kind);
    }
    text
}
