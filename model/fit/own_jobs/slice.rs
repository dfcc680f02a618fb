//! Slice sampling of one number: for densities that are known but for their scale and have no closed form to draw from.
//!
//! It refuses to look for a mode: it moves from where it stands.

use rand::{Rng, RngExt};

/// Steps by which a slice is widened to each side, at most.
const MOST_STEPS: usize = 20;

/// A number drawn from a density known but for its scale (as a logarithm), from where it stands: slice sampling with stepping out and shrinking (Neal 2003,
/// Ann. Stat. 31, figures 3 and 5; from memory).
pub(super) fn slice<R: Rng + ?Sized>(
    from: f64,
    step: f64,
    (low, high): (f64, f64),
    ln_density: impl Fn(f64) -> f64,
    rng: &mut R,
) -> f64 {
    let mut uniform = || -> f64 { rng.sample(rand::distr::Open01) };
    let level = ln_density(from) + uniform().ln();
    let mut left = from - step * uniform();
    let mut right = left + step;
    for _ in 0..MOST_STEPS {
        if left <= low || ln_density(left) < level {
            break;
        }
        left -= step;
    }
    for _ in 0..MOST_STEPS {
        if right >= high || ln_density(right) < level {
            break;
        }
        right += step;
    }
    (left, right) = (left.max(low), right.min(high));
    // Each try that misses halves the interval in the mean: sixty leave nothing of it.
    for _ in 0..60 {
        let x = left + (right - left) * uniform();
        if ln_density(x) >= level {
            return x;
        }
        if x < from {
            left = x;
        } else {
            right = x;
        }
    }
    from
}
