//! Sizes of what the model misses, chosen from a table made with a model without fault, and scored on builds they were not chosen with.
//!
//! The error of a gain, as a logarithm, is normal about nothing with the variance of the draws and of each mechanism's miss. Sizes are chosen on a
//! grid, one after the other until none moves, by the sum of log scores less a normal prior on ln(size) about one common size: few builds speak for
//! any one mechanism. Left out in turn: a case, then a whole set. The first set takes no part, for it is of an older kind.

use crate::row::Row;
use std::fmt::Write as _;

/// Standard deviations from the middle to an end of a 90 % range.
const END: f64 = 1.645;
/// Sizes tried.
const GRID: [f64; 14] = [
    0.02, 0.03, 0.04, 0.06, 0.08, 0.10, 0.12, 0.15, 0.20, 0.25, 0.30, 0.40, 0.60, 0.80,
];
/// Of the size of any one mechanism about the common one, in ln: a factor of two. No source, assumed.
const APART: f64 = 0.7;
const NAMES: [&str; 7] = [
    "air",
    "phasing",
    "work",
    "gas exchange",
    "blower",
    "driveline",
    "waves",
];

type Sizes = [f64; 7];

fn error(row: &Row) -> f64 {
    ((1.0 + row.gain[1]) / (1.0 + row.true_gain)).ln()
}

fn variance(row: &Row, sizes: &Sizes) -> f64 {
    let own = ((1.0 + row.gain[2]) / (1.0 + row.gain[0])).ln() / (2.0 * END);
    let missed: f64 = row
        .effects
        .iter()
        .zip(sizes)
        .map(|(x, s)| (x * s).powi(2))
        .sum();
    own * own + missed
}

fn score(row: &Row, sizes: &Sizes) -> f64 {
    let (e, v) = (error(row), variance(row, sizes));
    -0.5 * (v.ln() + e * e / v)
}

fn chosen(rows: &[&Row], common_only: bool) -> Sizes {
    let all = |sizes: &Sizes| rows.iter().map(|row| score(row, sizes)).sum::<f64>();
    let mut common = 0.2;
    let mut best = f64::NEG_INFINITY;
    for size in GRID {
        let now = all(&[size, size, size, size, size, size, 0.02]);
        if now > best {
            (best, common) = (now, size);
        }
    }
    let mut sizes = [common, common, common, common, common, common, 0.02];
    if common_only {
        return sizes;
    }
    let prior = |sizes: &Sizes| -> f64 {
        let middle = |m: usize| if m == 6 { 0.02_f64 } else { common };
        (0..7)
            .map(|m| -0.5 * ((sizes[m] / middle(m)).ln() / APART).powi(2))
            .sum()
    };
    for _ in 0..10 {
        let was = sizes;
        for m in 0..7 {
            let of = |size: f64| {
                let mut tried = sizes;
                tried[m] = size;
                all(&tried) + prior(&tried)
            };
            let top = GRID.into_iter().max_by(|a, b| of(*a).total_cmp(&of(*b)));
            sizes[m] = top.unwrap_or(sizes[m]);
        }
        if sizes == was {
            break;
        }
    }
    sizes
}

fn shown(sizes: &Sizes) -> String {
    let named = NAMES.iter().zip(sizes);
    named
        .map(|(name, size)| format!("{name} {size:.2}"))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Coverage, width and scores of rows whose sizes were chosen without them.
fn line(title: &str, left_out: &[(&Row, Sizes)]) -> String {
    let n = left_out.len() as f64;
    let (mut held, mut width, mut interval, mut log) = (0.0, 0.0, 0.0, 0.0);
    for (row, sizes) in left_out {
        let sd = variance(row, sizes).sqrt();
        let (low, high) = (
            (1.0 + row.gain[1]) * (-END * sd).exp() - 1.0,
            (1.0 + row.gain[1]) * (END * sd).exp() - 1.0,
        );
        held += f64::from(u8::from((low..=high).contains(&row.true_gain)));
        width += 100.0 * (high - low);
        let outside = (low - row.true_gain).max(row.true_gain - high).max(0.0);
        interval += 100.0 * (high - low + 20.0 * outside);
        log += score(row, sizes);
    }
    format!(
        "{title:<44} inside {held:.0} of {n:.0}, width {:.1}, interval score {:.1}, log score {:.2}\n",
        width / n,
        interval / n,
        log / n
    )
}

/// Chooses and scores.
pub(crate) fn study(rows: &[Row]) -> String {
    let rows: Vec<&Row> = rows
        .iter()
        .filter(|row| row.set != "first" && row.gain[2] > row.gain[0])
        .collect();
    let mut text = String::new();
    for (what, common_only) in [("one size", true), ("a size each", false)] {
        let by_case: Vec<(&Row, Sizes)> = rows
            .iter()
            .enumerate()
            .map(|(i, row)| {
                let others: Vec<&Row> = rows
                    .iter()
                    .enumerate()
                    .filter(|(j, _)| *j != i)
                    .map(|(_, row)| *row)
                    .collect();
                (*row, chosen(&others, common_only))
            })
            .collect();
        let by_set: Vec<(&Row, Sizes)> = rows
            .iter()
            .map(|row| {
                let others: Vec<&Row> = rows.iter().filter(|r| r.set != row.set).copied().collect();
                (*row, chosen(&others, common_only))
            })
            .collect();
        text += &line(&format!("{what}, each case left out"), &by_case);
        text += &line(&format!("{what}, each set left out"), &by_set);
        let _ = writeln!(text, "    of all: {}", shown(&chosen(&rows, common_only)));
    }
    let fixed = [0.2; 7];
    let as_is: Vec<(&Row, Sizes)> = rows.iter().map(|row| (*row, fixed)).collect();
    text += &line("0.20 of everything", &as_is);
    text
}
