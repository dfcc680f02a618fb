//! The search for phasing: best torque, and the earliest burn that does not knock.
//!
//! Exists apart from the cycle because both are questions to it, asked anew each time its charge has changed a little, and
//! answered from the answer before. It refuses a burn later than [`LATEST_DEG`].
//!
//! Source: derived (parabola through three points; secant steps in the logarithm of the knock integral, kept in a bracket).

/// Latest half burn that is searched, deg; as late as the table of [`crate::engine::knock_map`] goes.
pub const LATEST_DEG: f64 = crate::engine::knock_map::LATEST_CA50_DEG;
/// Earliest and latest half burn of best torque, deg.
const BEST_RANGE_DEG: [f64; 2] = [-10.0, 40.0];
/// Distance of the three points of the parabola, deg: wide enough to see the curvature, narrow enough for a cubic to be small.
const SPREAD_DEG: f64 = 2.0;
/// Farthest the estimate of best torque moves at once, deg.
const FARTHEST_DEG: f64 = 6.0;
/// Change of the logarithm of the knock integral per degree that the search starts with (physics of the reference engine at 4000 rpm
/// and 1.4 bar; only the number of steps depends on it).
const FIRST_SLOPE: f64 = -0.05;
/// Logarithm of the knock integral that counts as 0, some 1e-5 deg; and while the cycle is far from settled.
pub(super) const CLOSE: f64 = 1e-6;
pub(super) const ROUGH: f64 = 1e-3;

/// What was found last, where the next search begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Memory {
    pub(super) best_deg: f64,
    /// Work of the expansion after the exhaust valve opens, over the pressure then, m³.
    pub(super) rest_m3: f64,
    limit_deg: f64,
    slope: f64,
}

/// A phasing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Phase {
    pub(super) ca50_deg: f64,
    pub(super) limited: bool,
    /// Knock even at the latest phasing.
    pub(super) beyond: bool,
}

impl Memory {
    /// Before anything is known.
    pub(super) fn new() -> Self {
        Self {
            best_deg: crate::engine::phasing::USUAL_MBT_CA50_DEG,
            rest_m3: 0.0,
            limit_deg: f64::NEG_INFINITY,
            slope: FIRST_SLOPE,
        }
    }

    /// Moves the estimate of best torque to the vertex of the parabola through three points around it.
    /// Equation (9.10).
    pub(super) fn improve_best(&mut self, mut work: impl FnMut(f64) -> f64) {
        let [early, here, late] =
            [-SPREAD_DEG, 0.0, SPREAD_DEG].map(|shift| work(self.best_deg + shift));
        let bend = early - 2.0 * here + late;
        let shift = if bend < 0.0 {
            0.5 * SPREAD_DEG * (early - late) / bend
        } else {
            FARTHEST_DEG * (late - early).signum()
        };
        let next = self.best_deg + shift.clamp(-FARTHEST_DEG, FARTHEST_DEG);
        self.best_deg = next.clamp(BEST_RANGE_DEG[0], BEST_RANGE_DEG[1]);
    }

    /// Earliest phasing that either search will ask for, deg.
    pub(super) fn earliest_deg(&self) -> f64 {
        self.best_deg - SPREAD_DEG - FARTHEST_DEG
    }

    /// The later of best torque and the phasing at which the knock integral is 1, its logarithm within a tolerance of 0.
    /// Equation (9.10).
    pub(super) fn find(&mut self, tolerance: f64, mut integral: impl FnMut(f64) -> f64) -> Phase {
        let best = self.best_deg;
        let (mut low, mut high) = (best, LATEST_DEG);
        let mut at = self.limit_deg.clamp(best, LATEST_DEG);
        let mut before: Option<(f64, f64)> = None;
        let mut limited = true;
        for _ in 0..40 {
            let ln = integral(at).ln();
            if ln <= 0.0 && at <= best {
                limited = false;
                break;
            }
            if ln.abs() < tolerance {
                break;
            }
            if ln > 0.0 {
                if at >= LATEST_DEG {
                    self.limit_deg = LATEST_DEG;
                    return Phase {
                        ca50_deg: LATEST_DEG,
                        limited: true,
                        beyond: true,
                    };
                }
                low = low.max(at);
            } else {
                high = high.min(at);
            }
            if let Some((place, value)) = before {
                let slope = (ln - value) / (at - place);
                if slope.is_finite() {
                    self.slope = slope.clamp(-1.0, -0.005);
                }
            }
            before = Some((at, ln));
            let secant = (at - ln / self.slope).clamp(best, LATEST_DEG);
            // The ends themselves may still be asked; inside, a step that leaves the bracket is halved.
            let open_end = secant == best || secant == LATEST_DEG;
            let inside = secant > low && secant < high;
            at = if inside || (open_end && secant != at && secant >= low && secant <= high) {
                secant
            } else {
                0.5 * (low + high)
            };
            if high - low < 1e-9 {
                break;
            }
        }
        self.limit_deg = at;
        Phase {
            ca50_deg: if limited { at } else { best },
            limited,
            beyond: false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn best_torque_is_the_top_of_a_parabola() {
        let mut memory = Memory::new();
        memory.improve_best(|x| 1.0 - 3e-4 * (x - 11.3) * (x - 11.3));
        assert!((memory.best_deg - 11.3).abs() < 1e-9);
    }

    #[test]
    fn the_limit_is_found_wherever_it_lies() {
        for limit in [-30.0, 7.0, 9.0, 12.0, 30.0, 57.9, 70.0] {
            let mut memory = Memory::new();
            let curve = |x: f64| (-0.04 * (x - limit) - 1e-4 * (x - limit).powi(3)).exp();
            for _ in 0..2 {
                let found = memory.find(CLOSE, curve);
                assert_eq!(found.limited, limit > 8.0, "{limit}");
                assert_eq!(found.beyond, limit > 58.0);
                let expected = limit.clamp(8.0, LATEST_DEG);
                assert!(
                    (found.ca50_deg - expected).abs() < 1e-4,
                    "{limit} {found:?}"
                );
            }
        }
    }
}
