//! What a closed job's reading is expected to miss: a range with what was learned, and with sizes that are known.

use pullcast::ask::draws::{stray, stream};
use pullcast::belief::{Mechanism, Miss};
use pullcast::fit::own_jobs::{ClosedJob, KEPT, Learned};

/// Standard deviations from the middle to an end of a 90 % range.
const END: f64 = 1.645;
/// Draws of a job for each draw of what is missed.
const EACH: usize = 4;

/// 5th, 50th and 95th percentile of what is missed with what was learned, in the logarithm of power.
pub(crate) fn range(job: &ClosedJob, learned: &Learned) -> [f64; 3] {
    let mut rng = stream(1, 0);
    let mut drawn: Vec<f64> = (0..KEPT * EACH)
        .map(|index| {
            let (middle, sd) = missed(job, &learned.miss(index));
            middle + stray(&mut rng, sd)
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

/// Standard deviation of what is not the mechanisms', from both ends of the range of a model without fault and from what moves waves.
pub(crate) fn own([low, high]: [f64; 2], waves: f64, general: &Miss) -> f64 {
    let bare = ((1.0 + high) / (1.0 + low)).ln() / (2.0 * END);
    bare.hypot(general.waves * waves)
}
