//! One unknown, one equation: the root of `f(x) = 0` between two ends. An operating point is solved some ten million
//! times in a calibration, so the count of evaluations is what matters; and a shop's input can be anything, so a
//! bracket without a sign change is an ordinary answer ([`RootStop::NoSignChange`]), never a panic. It refuses to
//! look outside the bracket it was given.

/// When the search may stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RootSettings {
    /// Stop when the root is known to lie within this distance of the answer (same unit as `x`).
    pub x_tolerance: f64,
    /// Stop when `|f|` is at most this (same unit as `f`); zero asks for an exact zero or the `x` test.
    pub residual_tolerance: f64,
    /// Calls of `f` allowed, including those at the ends.
    pub max_evaluations: u32,
}

impl RootSettings {
    /// Stops on the width of the bracket alone; 100 calls are room for a bisection of any double bracket that shrinks
    /// by 2⁻⁵² and as many interpolations.
    pub const fn within(x_tolerance: f64) -> Self {
        Self {
            x_tolerance,
            residual_tolerance: 0.0,
            max_evaluations: 100,
        }
    }
}

/// Why the search stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RootStop {
    /// A tolerance was met.
    Converged,
    /// `f` has the same sign at both ends: `x` is the end with the smaller `|f|`.
    NoSignChange,
    /// `f` returned NaN, or an end is NaN: `x` is the best point before that.
    NotANumber,
    /// The calls ran out: `x` is the best point, `width` says how well it is known.
    EvaluationLimit,
}

/// Where the search ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Root {
    /// Best point found: the one with the smallest `|f|` at the ends of the last bracket.
    pub x: f64,
    /// `f(x)`.
    pub residual: f64,
    /// Width of the last bracket: the distance from `x` within which `f` changes sign (the whole bracket if it never does).
    pub width: f64,
    /// Calls of `f` spent.
    pub evaluations: u32,
    /// Why it stopped.
    pub stop: RootStop,
}

impl Root {
    /// True when a tolerance was met.
    pub const fn converged(self) -> bool {
        matches!(self.stop, RootStop::Converged)
    }
}

#[derive(Clone, Copy)]
struct Point {
    x: f64,
    f: f64,
}

/// The function with its call count.
struct Counted<F> {
    f: F,
    calls: u32,
}

impl<F: FnMut(f64) -> f64> Counted<F> {
    fn at(&mut self, x: f64) -> Point {
        self.calls += 1;
        Point { x, f: (self.f)(x) }
    }
}

fn opposite(a: f64, b: f64) -> bool {
    (a > 0.0) != (b > 0.0)
}

fn better(a: Point, b: Point) -> Point {
    if b.f.abs() < a.f.abs() { b } else { a }
}

fn end(best: Point, width: f64, calls: u32, stop: RootStop) -> Root {
    Root {
        x: best.x,
        residual: best.f,
        width,
        evaluations: calls,
        stop,
    }
}

/// Root of `f` between `lower` and `upper` (in either order).
///
/// First a secant step, then at each step inverse quadratic interpolation through the last three points where it
/// can be trusted and bisection where not:
///
/// ```text
/// trusted  ⇔  φ² < ξ  and  (1 − φ)² < 1 − ξ,    ξ = (x₁ − x₂)/(x₃ − x₂),  φ = (f₁ − f₂)/(f₃ − f₂)
/// ```
///
/// Holds for: any function that is continuous between the ends; infinite values count by their sign.
/// Source: T. R. Chandrupatla, Advances in Engineering Software 28 (1997) 145 (criterion from memory); the secant
/// first step is ours, it saves a call on the nearly straight residuals met here.
pub fn find_root(
    f: impl FnMut(f64) -> f64,
    lower: f64,
    upper: f64,
    settings: RootSettings,
) -> Root {
    let mut f = Counted { f, calls: 0 };
    let a = f.at(lower);
    if a.f.abs() <= settings.residual_tolerance {
        return end(a, 0.0, f.calls, RootStop::Converged);
    }
    let b = f.at(upper);
    close_in(&mut f, a, b, None, settings)
}

/// Root of `f` between `lower` and `upper`, starting from a `guess` that is probably off by about `step`.
///
/// Walks from the guess by secant steps (each at most eight times the last, overshooting by a twentieth so that the
/// root is enclosed) and closes in as [`find_root`] does. If the walk meets an end without a sign change, the other
/// end is tried, so the answer exists whenever [`find_root`] has one for a function with one root. With several
/// roots it finds one near the guess.
/// A guess outside the bracket, or NaN, is taken as the middle; a `step` that is not positive as a hundredth of the bracket.
pub fn find_root_near(
    f: impl FnMut(f64) -> f64,
    guess: f64,
    step: f64,
    lower: f64,
    upper: f64,
    settings: RootSettings,
) -> Root {
    let (low, high) = if lower <= upper {
        (lower, upper)
    } else {
        (upper, lower)
    };
    let mut f = Counted { f, calls: 0 };
    let start = if guess >= low && guess <= high {
        guess
    } else {
        low + 0.5 * (high - low)
    };
    let first = f.at(start);
    if first.f.abs() <= settings.residual_tolerance {
        return end(first, 0.0, f.calls, RootStop::Converged);
    }
    if first.f.is_nan() {
        return end(first, high - low, f.calls, RootStop::NotANumber);
    }
    let mut stride = if step > 0.0 {
        step.min(high - low)
    } else {
        0.01 * (high - low)
    }
    .max(settings.x_tolerance);
    let toward_high = high - start >= stride || high - start >= start - low;
    let second = f.at(if toward_high {
        start + stride
    } else {
        start - stride
    }
    .clamp(low, high));
    let (mut behind, mut ahead) = (first, second);
    while f.calls < settings.max_evaluations {
        if ahead.f.is_nan() {
            return end(behind, high - low, f.calls, RootStop::NotANumber);
        }
        if ahead.f.abs() <= settings.residual_tolerance {
            return end(ahead, 0.0, f.calls, RootStop::Converged);
        }
        if opposite(behind.f, ahead.f) {
            return close_in(&mut f, behind, ahead, None, settings);
        }
        if ahead.f.abs() > behind.f.abs() {
            // Walking away from the root: turn round and go on from the other side.
            std::mem::swap(&mut behind, &mut ahead);
        }
        let onward = ahead.x - behind.x;
        if ahead.x == if onward >= 0.0 { high } else { low } {
            // Nothing up to this end; the last hope is between the walked stretch and the other end.
            let other = f.at(if onward >= 0.0 { low } else { high });
            let near = if (onward >= 0.0) == (second.x >= first.x) {
                first
            } else {
                second
            };
            return if other.f.is_nan() || opposite(other.f, near.f) {
                close_in(&mut f, near, other, None, settings)
            } else {
                end(
                    better(ahead, other),
                    high - low,
                    f.calls,
                    RootStop::NoSignChange,
                )
            };
        }
        let secant = (ahead.f * onward / (ahead.f - behind.f)).abs();
        let reach = 8.0 * stride;
        stride = if secant.is_finite() {
            (secant + (0.05 * secant).max(settings.x_tolerance)).min(reach)
        } else {
            reach
        };
        let next = f.at((ahead.x + stride.copysign(onward)).clamp(low, high));
        if opposite(next.f, ahead.f) {
            return close_in(&mut f, ahead, next, Some(behind), settings);
        }
        behind = ahead;
        ahead = next;
    }
    end(
        better(behind, ahead),
        high - low,
        f.calls,
        RootStop::EvaluationLimit,
    )
}

/// Shrinks the bracket `a`, `b`; `outside` is a third point already known, beyond `a`.
fn close_in<F: FnMut(f64) -> f64>(
    f: &mut Counted<F>,
    a: Point,
    b: Point,
    outside: Option<Point>,
    settings: RootSettings,
) -> Root {
    let whole = (b.x - a.x).abs();
    if a.f.is_nan() || b.f.is_nan() || whole.is_nan() {
        let best = if a.f.is_nan() { b } else { a };
        return end(best, whole, f.calls, RootStop::NotANumber);
    }
    for p in [a, b] {
        if p.f == 0.0 || p.f.abs() <= settings.residual_tolerance {
            return end(p, 0.0, f.calls, RootStop::Converged);
        }
    }
    if !opposite(a.f, b.f) {
        return end(better(a, b), whole, f.calls, RootStop::NoSignChange);
    }
    let (mut newest, mut across) = (a, b);
    let mut share = match outside {
        Some(third) => interpolated_share(newest, across, third).unwrap_or(0.5),
        None => newest.f / (newest.f - across.f),
    };
    loop {
        let best = better(newest, across);
        let width = (across.x - newest.x).abs();
        let tolerance = 2.0 * f64::EPSILON * best.x.abs() + settings.x_tolerance.max(0.0);
        if best.f == 0.0 || best.f.abs() <= settings.residual_tolerance || width <= tolerance {
            return end(best, width, f.calls, RootStop::Converged);
        }
        if f.calls >= settings.max_evaluations {
            return end(best, width, f.calls, RootStop::EvaluationLimit);
        }
        // Half a tolerance away from both ends, so that a step next to the root also closes the bracket.
        let margin = (0.5 * tolerance / width).min(0.5);
        let share_now = if share.is_finite() {
            share.clamp(margin, 1.0 - margin)
        } else {
            0.5
        };
        let next = f.at(newest.x + share_now * (across.x - newest.x));
        if next.f.is_nan() {
            return end(best, width, f.calls, RootStop::NotANumber);
        }
        let third = if opposite(next.f, newest.f) {
            let old = across;
            across = newest;
            old
        } else {
            newest
        };
        newest = next;
        share = interpolated_share(newest, across, third).unwrap_or(0.5);
    }
}

/// Share of the way from `one` to `two` at which the inverse parabola through all three is zero, if it can be trusted.
fn interpolated_share(one: Point, two: Point, three: Point) -> Option<f64> {
    let xi = (one.x - two.x) / (three.x - two.x);
    let phi = (one.f - two.f) / (three.f - two.f);
    let trusted = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
    let alpha = (three.x - one.x) / (two.x - one.x);
    trusted.then(|| {
        one.f / (two.f - one.f) * (three.f / (two.f - three.f))
            + alpha * (one.f / (three.f - one.f)) * (two.f / (three.f - two.f))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Functions with known roots: straight, steep, flat, multiple, jump, infinite ends.
    type Case = (&'static str, fn(f64) -> f64, f64, f64, f64);
    const CASES: [Case; 9] = [
        // Root of cos x = x: 0.7390851332151607, the Dottie number (from memory).
        ("cosine", |x| x.cos() - x, 0.0, 1.0, 0.739_085_133_215_160_7),
        (
            "square root of two",
            |x| x * x - 2.0,
            0.0,
            2.0,
            std::f64::consts::SQRT_2,
        ),
        ("triple root", |x| (x - 0.3).powi(3), -1.0, 1.0, 0.3),
        (
            "steep",
            |x| x.exp() - 1e6,
            0.0,
            50.0,
            13.815_510_557_964_274,
        ),
        (
            "flat then steep",
            |x| x.powi(19) - 1e-4,
            0.0,
            2.0,
            0.615_848_211_066_026_2,
        ),
        (
            "jump",
            |x| if x < 0.123 { -1.0 } else { 3.0 },
            -5.0,
            5.0,
            0.123,
        ),
        ("pole at the end", |x| 1.0 / x - 4.0, 0.0, 1.0, 0.25),
        ("step of tanh", |x| (1e3 * (x - 0.9)).tanh(), 0.0, 1.0, 0.9),
        ("falling", |x| 3.0 - x, -7.0, 11.0, 3.0),
    ];

    #[test]
    fn every_bracketed_root_is_found_within_its_tolerance() {
        for (name, f, lower, upper, expected) in CASES {
            for (a, b) in [(lower, upper), (upper, lower)] {
                let root = find_root(f, a, b, RootSettings::within(1e-12));
                assert!(root.converged(), "{name}: {root:?}");
                // A triple root is flat: |f| underflows to the rounding of (x - 0.3) cubed only, so the bracket still closes.
                assert!((root.x - expected).abs() <= 2e-12, "{name}: {root:?}");
                assert!(root.evaluations <= 75, "{name}: {root:?}");
            }
        }
    }

    #[test]
    fn a_warm_start_finds_the_same_root_from_any_guess() {
        for (name, f, lower, upper, expected) in CASES {
            for k in 0..=10 {
                let guess = lower + f64::from(k) / 10.0 * (upper - lower);
                let root =
                    find_root_near(f, guess, 0.01, lower, upper, RootSettings::within(1e-12));
                assert!(root.converged(), "{name} from {guess}: {root:?}");
                assert!(
                    (root.x - expected).abs() <= 2e-12,
                    "{name} from {guess}: {root:?}"
                );
            }
        }
    }

    #[test]
    fn a_good_guess_saves_calls() {
        let f = |x: f64| x.exp() - 1e6;
        let settings = RootSettings::within(1e-9);
        let cold = find_root(f, 0.0, 50.0, settings);
        let warm = find_root_near(f, 13.815, 1e-3, 0.0, 50.0, settings);
        assert!(warm.evaluations <= 5, "{warm:?}");
        assert!(
            2 * warm.evaluations < cold.evaluations,
            "{warm:?} against {cold:?}"
        );
    }

    #[test]
    fn no_sign_change_names_the_better_end() {
        for root in [
            find_root(|x| x + 2.0, -1.0, 1.0, RootSettings::within(1e-9)),
            find_root_near(|x| x + 2.0, 0.5, 0.1, -1.0, 1.0, RootSettings::within(1e-9)),
        ] {
            assert_eq!(root.stop, RootStop::NoSignChange);
            assert_eq!(root.x, -1.0);
            assert_eq!(root.residual, 1.0);
        }
    }

    #[test]
    fn not_a_number_and_exhaustion_are_answers() {
        let nan = find_root(
            |x| {
                if x > 0.4 && x < 0.6 {
                    f64::NAN
                } else {
                    x - 0.5
                }
            },
            0.0,
            1.0,
            RootSettings::within(1e-9),
        );
        assert_eq!(nan.stop, RootStop::NotANumber);
        assert!(nan.residual.is_finite());
        let short = RootSettings {
            max_evaluations: 3,
            ..RootSettings::within(1e-12)
        };
        let spent = find_root(|x| x.exp() - 1e6, 0.0, 50.0, short);
        assert_eq!(spent.stop, RootStop::EvaluationLimit);
        assert_eq!(spent.evaluations, 3);
        assert_eq!(
            find_root(|x| x, f64::NAN, 1.0, short).stop,
            RootStop::NotANumber
        );
    }
}
