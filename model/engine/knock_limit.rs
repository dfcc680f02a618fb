//! Where a charge knocks no more: the knock table inverted.
//!
//! Exists apart from the table because it is the one search in a cylinder: for the phase at which the table's integral falls below its
//! threshold, for one charge or for several side by side. It refuses to invent a limit outside the table: it says so and returns the edge.
//!
//! Source: derived, the inverse of [`super::knock_map`].

use super::knock_map::{
    Blend, EARLIEST_DEG, HIGHEST_K, KnockConditions, KnockMap, LATEST_CA50_DEG, LONGEST_DEG,
    LOWEST_K, PHASE_STEP_DEG, PHASES, SHORTEST_DEG, Scales,
};
use super::whole_part;
use crate::numeric::{LANES, Real};

/// First of the last four phases.
const LAST_WINDOW: usize = PHASES - 4;

/// A knock limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockLimit {
    /// CA50 to run, deg after top dead centre: best torque, or the later one that knock forces.
    pub ca50_deg: f64,
    /// Whether knock, not best torque, set it.
    pub limited: bool,
    /// Whether the answer is the table's edge: charge temperature or burn duration outside, or knock even at the latest
    /// CA50.
    pub beyond_table: bool,
}

impl KnockMap {
    /// Earliest CA50 without knock, not earlier than best torque at `mbt_ca50_deg`.
    ///
    /// Error against the crank-angle cycle: see `validation/knock.rs`.
    pub fn knock_limit_near(
        &self,
        conditions: &KnockConditions,
        mbt_ca50_deg: f64,
        near_deg: f64,
    ) -> KnockLimit {
        let pressure_ln = conditions.pressure_pa.ln();
        let found_deg = self.knock_ca50_deg(conditions, pressure_ln, near_deg);
        KnockLimit {
            ca50_deg: found_deg.min(LATEST_CA50_DEG).max(mbt_ca50_deg),
            limited: found_deg > mbt_ca50_deg,
            beyond_table: beyond_table(
                conditions.temperature_k,
                conditions.burn_duration_deg,
                found_deg,
            ),
        }
    }

    /// Earliest CA50 without knock, deg after top dead centre; −∞ where none of the table knocks, ∞ where all of it does.
    ///
    /// Inverts the table, which falls with CA50. Looked for around a CA50 near which it lies: a search that is asked again and again
    /// looks at four phases instead of a dozen. The logarithm of the pressure is at hand.
    #[inline(always)]
    pub(crate) fn knock_ca50_deg<R: Real>(
        &self,
        conditions: &KnockConditions<R>,
        pressure_ln: R,
        near_deg: R,
    ) -> R {
        let Scales { threshold, walls } = Scales::of(conditions, pressure_ln);
        let blends = Blend::<R>::new(conditions.temperature_k, conditions.burn_duration_deg);
        let mut windows = [Window::NOTHING; LANES];
        for (k, window) in windows.iter_mut().enumerate().take(R::COUNT) {
            let blend = blends.one(k);
            *window = self.window(&blend, (threshold.one(k), walls.one(k)), near_deg.one(k));
        }
        let made = |from: fn(&Window) -> f64| near_deg.made(|k| from(&windows[k]));
        let values = [
            made(|w| w.values[0]),
            made(|w| w.values[1]),
            made(|w| w.values[2]),
            made(|w| w.values[3]),
        ];
        let place = root_between(&values, made(|w| w.step)) + made(|w| w.first);
        place * PHASE_STEP_DEG + EARLIEST_DEG
    }

    /// The four phases around the one at which the end gas lights itself no more.
    #[inline(always)]
    fn window(&self, blend: &Blend, (threshold, walls): (f64, f64), near_deg: f64) -> Window {
        let place = ((near_deg - EARLIEST_DEG) / PHASE_STEP_DEG).clamp(0.0, LAST_WINDOW as f64);
        let mut first = whole_part(place).saturating_sub(1).min(LAST_WINDOW);
        // Each move is toward the one crossing of a table that falls; twice its length is room for any other.
        for _ in 0..2 * PHASES {
            let mut values = blend.of(&self.integral_ln, first);
            for (value, slope) in values.iter_mut().zip(&self.wall_slope[first..first + 4]) {
                *value += walls * slope - threshold;
            }
            if values[0] <= 0.0 {
                if first == 0 {
                    return Window::beyond(f64::NEG_INFINITY);
                }
                first = first.saturating_sub(2);
                continue;
            }
            let Some(step) = (0..3).find(|k| values[k + 1] <= 0.0) else {
                if first == LAST_WINDOW {
                    break;
                }
                first = (first + 2).min(LAST_WINDOW);
                continue;
            };
            let centred = (first + step).saturating_sub(1).min(LAST_WINDOW);
            if centred != first {
                first = centred;
                continue;
            }
            return Window {
                values,
                step: step as f64,
                first: first as f64,
            };
        }
        Window::beyond(f64::INFINITY)
    }
}

/// Whether a limit is the table's edge.
pub(crate) fn beyond_table(temperature_k: f64, burn_duration_deg: f64, found_deg: f64) -> bool {
    found_deg >= LATEST_CA50_DEG
        || !(LOWEST_K..=HIGHEST_K).contains(&temperature_k)
        || !(SHORTEST_DEG..=LONGEST_DEG).contains(&burn_duration_deg)
}

/// Four phases of the table, and where between them its threshold is crossed.
#[derive(Clone, Copy)]
struct Window {
    /// Logarithm of the integral over the threshold.
    values: [f64; 4],
    /// The step between them at whose end it is below.
    step: f64,
    /// Place of the first of them in the table.
    first: f64,
}

impl Window {
    const NOTHING: Self = Self::beyond(0.0);

    /// No crossing within the table: any that falls, put where it is to be found.
    const fn beyond(place: f64) -> Self {
        Self {
            values: [0.5, -0.5, -1.5, -2.5],
            step: 0.0,
            first: place,
        }
    }
}

/// A step of Newton's method below this, in phases, was the last: the next would be its square.
const LAST_NEWTON_STEP: f64 = 1e-7;

/// Root of the cubic through four nodes 0..3 inside the step that starts at `from`, by Newton's method from the chord.
///
/// The nodes fall almost on a line, so four steps reach rounding; the guess is held inside the step.
#[inline(always)]
fn root_between<R: Real>(values: &[R; 4], from: R) -> R {
    let [v0, v1, v2, v3] = *values;
    let (d1, d2, d3) = (v1 - v0, v2 - v1 * 2.0 + v0, v3 - v2 * 3.0 + v1 * 3.0 - v0);
    let (c1, c2, c3) = (d1 - d2 / 2.0 + d3 / 3.0, d2 / 2.0 - d3 / 2.0, d3 / 6.0);
    let cubic = |t: R| v0 + t * (c1 + t * (c2 + t * c3));
    let to = from + 1.0;
    let (start, end) = (cubic(from), cubic(to));
    let mut guess = from + start / (start - end);
    // One that stands still is left alone, whatever its neighbours do.
    let mut moving = from.below(to);
    for _ in 0..4 {
        let slope = c1 + guess * (c2 * 2.0 + guess * 3.0 * c3);
        let next = (guess - cubic(guess) / slope.at_most(-1e-6))
            .max(from)
            .min(to);
        let far = guess.of(LAST_NEWTON_STEP).below((next - guess).abs());
        guess = R::choose(moving, next, guess);
        moving = moving & far;
        if !R::any(moving) {
            break;
        }
    }
    guess
}
