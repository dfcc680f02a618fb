//! What a shop's closed jobs teach, in made-up shops that each err by a bias of their own: ranges made from it hold as often as they say, and are
//! narrower than those it takes without it.
//!
//! Source of the demand: frequency of coverage is what a range means (any text on statistics). What goes through each mechanism and what else is in doubt is
//! that of recorded builds (`data/closed_jobs`). The same study of two hundred shops: `cargo run --release --example recorded_builds -- --shops 200
//! validation/data/closed_jobs/builds.csv`.

#[path = "study/closed_job.rs"]
mod closed_job;
#[path = "study/shops.rs"]
mod shops;

use pullcast::belief::Miss;
use pullcast::fit::own_jobs::ClosedJob;
use shops::{Law, scores};

/// Builds through whose mechanisms a third of the power or more goes: a blower, a turbocharger.
fn builds() -> Vec<ClosedJob> {
    let mut table =
        csv::Reader::from_reader(include_str!("data/closed_jobs/builds.csv").as_bytes());
    let rows = table.records().map(|row| row.expect("a row"));
    let job = |row: csv::StringRecord| {
        let number = |i: usize| -> f64 { row[i].parse().expect("a number") };
        let effects: [f64; 6] = std::array::from_fn(|m| number(14 + m));
        let own = closed_job::own([number(21), number(23)], number(20), &Miss::default());
        closed_job::job(closed_job::kind_of(&row[1]), 0.0, effects, own)
    };
    let jobs: Vec<ClosedJob> = rows
        .map(job)
        .filter(|job| shops::size(job) >= 0.3)
        .collect();
    assert_eq!(jobs.len(), 22);
    jobs
}

#[test]
fn ranges_of_shops_that_err_by_a_bias_hold_and_are_narrower_than_without_learning() {
    const SHOPS: usize = 16;
    let law = Law {
        bias: 0.15,
        spread: 0.03,
        alike: 0.0,
    };
    let (early, late) = scores(SHOPS, &builds(), law);
    // Jobs of one shop share its bias, so they count as little more than one: three standard errors of a share of 0.9 among 16 shops and three quotes each.
    let error = (0.9_f64 * 0.1 / (3.0 * SHOPS as f64)).sqrt();
    for (when, found) in [("early", &early), ("late", &late)] {
        let share = found.learned.share();
        assert!((share - 0.9).abs() < 3.0 * error, "{when}: {share}");
        // General sizes do not hold there, and those that do are wide.
        assert!(
            found.general.share() < share,
            "{when}: {}",
            found.general.share()
        );
    }
    assert_eq!(
        early.learned.quotes + late.learned.quotes,
        6.0 * SHOPS as f64
    );
    assert!(late.learned.off() < late.general.off());
    let narrower = late.learned.mean_width() / late.holding.mean_width();
    assert!(narrower < 0.67, "{narrower}");
}
