//! What a closed job's reading is expected to miss: a range with what was learned, and with sizes that are known.

use pullcast::ask::draws::{stray, stream};
use pullcast::belief::{Mechanism, Miss, Noise};
use pullcast::fit::own_jobs::{ClosedJob, KEPT, LEARNED_OF, Learned};

/// Standard deviations from the middle to an end of a 90 % range.
const END: f64 = 1.645;
/// Draws of a job for each draw of what is missed.
const EACH: usize = 4;

/// 5th, 50th and 95th percentile of what is missed with what was learned, in the logarithm of power.
pub(crate) fn range(job: &ClosedJob, learned: &Learned) -> [f64; 3] {
    let mut rng = stream(1, 0);
    let mut drawn: Vec<f64> = (0..KEPT * EACH)
        .map(|index| {
            let kinds: Vec<&str> = job.kinds.iter().map(String::as_str).collect();
            let alike = learned.alike(index, &kinds);
            let left = ClosedJob {
                own: (job.own.powi(2) - alike.share * job.parts.powi(2)).sqrt(),
                ..job.clone()
            };
            let (middle, sd) = missed(&left, &learned.miss(index));
            middle + alike.shift * job.parts + stray(&mut rng, sd)
        })
        .collect();
    drawn.sort_by(f64::total_cmp);
    [1, 10, 19].map(|twentieth| drawn[twentieth * drawn.len() / 20])
}

/// The same with sizes that are known.
pub(crate) fn range_of(job: &ClosedJob, sizes: &Miss) -> [f64; 3] {
    let (middle, sd) = missed(job, sizes);
    [middle - END * sd, middle, middle + END * sd]
}

/// Middle and standard deviation of what is missed.
fn missed(job: &ClosedJob, sizes: &Miss) -> (f64, f64) {
    let mut variance = job.own * job.own;
    let mut middle = 0.0;
    for (mechanism, effect) in Mechanism::ALL.into_iter().zip(job.effects) {
        middle += effect * sizes.bias_of(mechanism);
        variance += (effect * sizes.of(mechanism)).powi(2);
    }
    (middle, variance.sqrt())
}

/// Kind of work of a recorded build, by its name.
pub(crate) fn kind_of(case: &str) -> &'static str {
    const KINDS: [(&str, &str); 17] = [
        ("na_pd", "new displacement blower"),
        ("hybrid", "new displacement blower"),
        ("add_eaxle", "new displacement blower"),
        ("combo", "new displacement blower"),
        ("na_cf", "new centrifugal blower"),
        ("na_turbo", "new turbocharger"),
        ("pulley", "pulley"),
        ("cooler", "charge cooler"),
        ("cr_", "pistons"),
        ("fuel", "ethanol"),
        ("headers", "exhaust"),
        ("exhaust", "exhaust"),
        ("camshaft", "camshaft"),
        ("intake", "intake"),
        ("altitude", "weather"),
        ("weather", "weather"),
        ("", "gears and wheels"),
    ];
    let of = |(start, kind): &(&str, &'static str)| case.starts_with(start).then_some(*kind);
    KINDS.iter().find_map(of).unwrap_or_default()
}

/// A job of one kind of work; what is not the mechanisms' and not what drums stray from visit to visit and pull to pull is of car and parts.
pub(crate) fn job(kind: &str, missed: f64, effects: [f64; LEARNED_OF], own: f64) -> ClosedJob {
    let noise = Noise::default();
    let drums = 2.0 * noise.visit.powi(2) + noise.pull.powi(2);
    ClosedJob {
        missed,
        own,
        effects,
        parts: (own * own - drums).max(0.0).sqrt(),
        kinds: vec![kind.to_owned()],
    }
}

/// Standard deviation of what is not the mechanisms', from both ends of the range of a model without fault and from what moves waves.
pub(crate) fn own([low, high]: [f64; 2], waves: f64, general: &Miss) -> f64 {
    let bare = ((1.0 + high) / (1.0 + low)).ln() / (2.0 * END);
    bare.hypot(general.waves * waves)
}
