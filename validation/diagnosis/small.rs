//! From which size on a fault is found: in half of cases, and in nine of ten.
//!
//! Exists because a shop wants to know what a sound verdict rules out. A fault is put on good pulls of some cars in growing sizes, and the pull
//! held against the other two. It refuses to go beyond the sizes that were tried.

use super::case::Case;
use super::made::{Ladder, spoiled};
use pullcast::diagnose::{Cause, Doubts};

/// Good pulls of a car that are spoiled in turn.
const PULLS: usize = 2;

/// The table's head.
pub(crate) const HEAD: &str = "| cause | size | half | nine of ten | pulls | found by size | called most where missed |\n| --- | --- | --- | --- | --- | --- | --- |";

/// A cause's row.
pub(crate) fn row(ladder: &Ladder, cars: &[Case], doubts: Doubts) -> String {
    let mut shares = Vec::new();
    let mut told = Vec::new();
    let mut instead = Vec::new();
    let mut pulls = 0;
    for size in ladder.sizes {
        let named = named(ladder.cause, *size, cars, doubts);
        let right = named.iter().filter(|c| **c == ladder.cause).count();
        pulls = named.len();
        let all = right == pulls;
        shares.push((*size, right as f64 / pulls.max(1) as f64));
        told.push(format!("{size}: {right}"));
        instead.extend(
            named
                .into_iter()
                .filter(|c| *c != ladder.cause && *c != Cause::Nothing),
        );
        // What is always found is found when it is larger.
        if all {
            break;
        }
    }
    let most = Cause::ALL
        .into_iter()
        .map(|cause| (instead.iter().filter(|c| **c == cause).count(), cause))
        .max_by_key(|(count, _)| *count)
        .filter(|(count, _)| *count > 0);
    let from = |share: f64| match reached(&shares, share) {
        Reached::From(size) => two_digits(size),
        Reached::Below(size) => format!("below {size}"),
        Reached::Never => "not found".to_owned(),
    };
    format!(
        "| {} | {} | {} | {} | {pulls} | {} | {} |",
        ladder.cause.name(),
        ladder.what,
        from(0.5),
        from(0.9),
        told.join(", "),
        most.map_or_else(String::new, |(count, cause)| format!(
            "{} ({count})",
            cause.name()
        ))
    )
}

fn two_digits(size: f64) -> String {
    match size {
        ..0.1 => format!("{size:.3}"),
        ..1.0 => format!("{size:.2}"),
        ..10.0 => format!("{size:.1}"),
        _ => format!("{size:.0}"),
    }
}

/// The first answer for a fault of a size, on every pull that can have it.
fn named(cause: Cause, size: f64, cars: &[Case], doubts: Doubts) -> Vec<Cause> {
    let pulls = cars
        .iter()
        .flat_map(|case| (0..PULLS).map(move |index| (case, index)));
    let of_pull = |(case, index): (&Case, usize)| {
        let (mut visit, mut typed) = case.clean.clone();
        let (pull, entered) = (visit.pulls.remove(index), typed.remove(index));
        let odd = spoiled(case, &pull, entered, &[(cause, size)])?;
        let found = case.answer((visit, typed), (&odd.0, odd.1), doubts);
        found.suspects.first().map(|s| s.explained.cause)
    };
    pulls.filter_map(of_pull).collect()
}

/// Where a share is reached for good.
enum Reached {
    From(f64),
    /// Already by the smallest size.
    Below(f64),
    Never,
}

/// The size from which on at least a share is found: past the largest at which less is, on a line in the logarithm of size.
fn reached(shares: &[(f64, f64)], share: f64) -> Reached {
    match shares.iter().rposition(|s| s.1 < share) {
        None => Reached::Below(shares[0].0),
        Some(last) if last + 1 == shares.len() => Reached::Never,
        Some(last) => {
            let ((a, less), (b, more)) = (shares[last], shares[last + 1]);
            Reached::From(a * (b / a).powf((share - less) / (more - less)))
        }
    }
}
