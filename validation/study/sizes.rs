//! Sizes of what the model misses, and the doubt of the controller's logs, chosen from builds and scored on builds they were not chosen with.
//!
//! The error of a gain, as a logarithm, is normal about nothing with the variance of the draws of a model without fault and of each mechanism's
//! miss. Sizes are chosen on a grid, one after the other until none moves, by the sum of log scores and a normal belief on ln(size): of the common
//! size about what is believed without these builds, which come from one simulator, and of each mechanism's about the common one, for few builds speak for any. Given several tables, made with one doubt of the logs each, the table is chosen too.
//! Left out in turn: a case, then a whole set. The first set takes no part, for it is of an older kind.

use crate::row::Row;
use std::fmt::Write as _;

/// Standard deviations from the middle to an end of a 90 % range.
const END: f64 = 1.645;
/// Sizes tried.
const GRID: [f64; 15] = [
    0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10, 0.12, 0.15, 0.20, 0.25, 0.30, 0.40, 0.60, 0.80,
];
/// The common size as believed without these builds.
const BELIEVED: f64 = 0.10;
/// Of the common size about that, and of any one mechanism's about the common one, in ln: a factor of two. No source, assumed.
const APART: f64 = 0.7;
/// Of waves, which are a share of the power itself: as believed without these builds.
const WAVES: f64 = 0.04;
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

fn of_all(size: f64) -> Sizes {
    let mut sizes = [size; 7];
    sizes[6] = WAVES;
    sizes
}

fn error(row: &Row) -> f64 {
    ((1.0 + row.gain[1]) / (1.0 + row.true_gain)).ln()
}

fn variance(row: &Row, sizes: &Sizes) -> f64 {
    let own = ((1.0 + row.bare[2]) / (1.0 + row.bare[0])).ln() / (2.0 * END);
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

/// How sizes are chosen.
#[derive(Clone, Copy)]
enum How {
    AsTheyAre,
    OneSize,
    ASizeEach,
}

/// Sizes and what they reach: log scores, less what the prior takes.
fn chosen(rows: &[&Row], how: How) -> (Sizes, f64) {
    let all = |sizes: &Sizes| rows.iter().map(|row| score(row, sizes)).sum::<f64>();
    let far = |size: f64, middle: f64| -0.5 * ((size / middle).ln() / APART).powi(2);
    let with_belief = |size: f64| all(&of_all(size)) + far(size, BELIEVED);
    let common = match how {
        How::AsTheyAre => BELIEVED,
        How::OneSize | How::ASizeEach => GRID
            .into_iter()
            .max_by(|a, b| with_belief(*a).total_cmp(&with_belief(*b)))
            .unwrap_or(BELIEVED),
    };
    let mut sizes = of_all(common);
    if !matches!(how, How::ASizeEach) {
        return (sizes, with_belief(common));
    }
    let middle = of_all(common);
    let reached = |sizes: &Sizes| -> f64 {
        let apart = sizes.iter().zip(&middle);
        let apart: f64 = apart.map(|(size, middle)| far(*size, *middle)).sum();
        all(sizes) + apart + far(common, BELIEVED)
    };
    for _ in 0..10 {
        let was = sizes;
        for m in 0..7 {
            let of = |size: f64| {
                let mut tried = sizes;
                tried[m] = size;
                reached(&tried)
            };
            let top = GRID.into_iter().max_by(|a, b| of(*a).total_cmp(&of(*b)));
            sizes[m] = top.unwrap_or(sizes[m]);
        }
        if sizes == was {
            break;
        }
    }
    (sizes, reached(&sizes))
}

fn shown(sizes: &Sizes) -> String {
    let named = NAMES.iter().zip(sizes);
    named
        .map(|(name, size)| format!("{name} {size:.2}"))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Errors, coverage, width and scores of rows whose sizes were chosen without them.
fn line(title: &str, left_out: &[(&Row, Sizes)]) -> String {
    let n = left_out.len() as f64;
    let (mut held, mut width, mut interval, mut log, mut mean) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let mut off: Vec<f64> = Vec::new();
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
        mean += row.error();
        off.push(row.error().abs());
    }
    off.sort_by(f64::total_cmp);
    let rank = |tenths: usize| off[(tenths * off.len()).div_ceil(10).max(1) - 1];
    format!(
        "{title:<40} median {:.1}, ninth decile {:.1}, mean {:+.1}, inside {held:.0} of {n:.0}, width {:.1}, interval score {:.1}, log score {:.2}\n",
        rank(5),
        rank(9),
        mean / n,
        width / n,
        interval / n,
        log / n
    )
}

/// A table of rows under its name; all tables hold the same cases in the same order.
pub(crate) struct Table {
    pub(crate) name: String,
    pub(crate) rows: Vec<Row>,
}

/// The table and sizes that the cases kept speak for.
fn best(tables: &[Table], how: How, keep: &dyn Fn(usize, &Row) -> bool) -> (usize, Sizes) {
    let mut best = (0, of_all(BELIEVED), f64::NEG_INFINITY);
    for (index, table) in tables.iter().enumerate() {
        let rows = table.rows.iter().enumerate();
        let kept: Vec<&Row> = rows
            .filter(|(i, row)| keep(*i, row))
            .map(|(_, r)| r)
            .collect();
        let (sizes, reached) = chosen(&kept, how);
        if reached > best.2 {
            best = (index, sizes, reached);
        }
    }
    (best.0, best.1)
}

/// Chooses and scores.
pub(crate) fn study(mut tables: Vec<Table>) -> String {
    for table in &mut tables {
        table
            .rows
            .retain(|row| row.set != "first" && row.bare[2] > row.bare[0]);
    }
    let cases: Vec<(String, String)> = tables[0]
        .rows
        .iter()
        .map(|row| (row.set.clone(), row.case.clone()))
        .collect();
    for table in &tables {
        let same = table.rows.len() == cases.len()
            && table
                .rows
                .iter()
                .zip(&cases)
                .all(|(row, (set, case))| row.set == *set && row.case == *case);
        assert!(same, "{} holds other cases", table.name);
    }
    let mut text = String::new();
    for (what, how) in [
        ("0.10 of everything", How::AsTheyAre),
        ("one size", How::OneSize),
        ("a size each", How::ASizeEach),
    ] {
        let (mut by_case, mut by_set) = (Vec::new(), Vec::new());
        for (i, (set, _)) in cases.iter().enumerate() {
            let (table, sizes) = best(&tables, how, &|j, _| j != i);
            by_case.push((&tables[table].rows[i], sizes));
            let (table, sizes) = best(&tables, how, &|_, row| row.set != *set);
            by_set.push((&tables[table].rows[i], sizes));
        }
        text += &line(&format!("{what}, each case left out"), &by_case);
        text += &line(&format!("{what}, each set left out"), &by_set);
        if matches!(how, How::OneSize) {
            let mut kinds: Vec<&str> = by_case.iter().map(|(row, _)| row.kind()).collect();
            kinds.sort_unstable();
            kinds.dedup();
            for kind in kinds {
                let of_kind = by_case.iter().filter(|(row, _)| row.kind() == kind);
                text += &line(
                    &format!("    {kind}"),
                    &of_kind.copied().collect::<Vec<_>>(),
                );
            }
        }
        let (table, sizes) = best(&tables, how, &|_, _| true);
        let _ = writeln!(
            text,
            "    of all: {}, {}",
            tables[table].name,
            shown(&sizes)
        );
    }
    for table in &tables {
        let rows = table.rows.iter();
        let as_is: Vec<(&Row, Sizes)> = rows.map(|row| (row, of_all(BELIEVED))).collect();
        text += &line(&format!("{}, 0.10 of everything", table.name), &as_is);
    }
    text
}
