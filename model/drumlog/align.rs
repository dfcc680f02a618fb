//! Brings an engine log on another clock to the drum log's by the speed that both show.
//!
//! The lag is where the two speeds agree best; how well they then agree is reported, for a lag without its residual proves nothing. It
//! refuses logs that agree about as well at another lag, and logs that barely overlap.

use crate::numeric::straight_between;

/// A speed over time.
#[derive(Debug, Clone, Copy)]
pub struct Trace<'a> {
    /// Time, s, increasing.
    pub time_s: &'a [f64],
    /// Speed, in any unit.
    pub speed: &'a [f64],
}

/// Where the other clock stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alignment {
    /// Time of the drum log = time of the engine log + lag, s.
    pub lag_s: f64,
    /// Standard error of the lag, s.
    pub lag_se_s: f64,
    /// Drum log's speed over engine log's.
    pub scale: f64,
    /// Root mean square of what is left, in the unit of the drum log's speed.
    pub residual: f64,
    /// Time over which both logs stand, s.
    pub overlap_s: f64,
}

/// Why two logs cannot be brought together.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AlignError {
    /// Nothing in common.
    #[error(
        "the speeds of the two logs agree at no lag: at best {share:.0} % of their variation is left"
    )]
    NoAgreement {
        /// Share of the variation that is left, per cent.
        share: f64,
    },
    /// Two lags are as good.
    #[error("the logs agree about as well at a lag of {first_s:.2} s as at {second_s:.2} s")]
    Ambiguous {
        /// Best lag, s.
        first_s: f64,
        /// Another, s.
        second_s: f64,
    },
    /// Too little to compare.
    #[error("the logs hold too little to be compared: {rows} rows")]
    TooShort {
        /// Rows of the shorter.
        rows: usize,
    },
}

/// Coarse clock on which all lags are tried, s.
const COARSE_S: f64 = 0.05;
/// Most steps of it in a log.
const MOST: usize = 4000;
/// Share of the shorter log that must overlap: two fifths.
const OVERLAP: (usize, usize) = (2, 5);
/// Residual variance over variance beyond which nothing agrees. No source, assumed.
const AGREES: f64 = 0.1;
/// Another lag, at least this far off, is a rival if its residual variance is below this multiple of the best's.
const RIVAL: (f64, f64) = (1.0, 2.0);
/// Fewest rows.
const LEAST_ROWS: usize = 20;

fn at(trace: &Trace<'_>, t: f64) -> Option<f64> {
    straight_between(trace.time_s, trace.speed, t)
}

/// Sums over pairs of speeds.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    n: f64,
    x: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Sums {
    fn add(&mut self, x: f64, y: f64) {
        self.n += 1.0;
        self.x += x;
        self.xx += x * x;
        self.yy += y * y;
        self.xy += x * y;
    }

    fn scale(&self, free: bool) -> f64 {
        if free { self.xy / self.yy } else { 1.0 }
    }

    /// Residual variance over the reference's variance.
    fn share(&self, free: bool) -> f64 {
        let k = self.scale(free);
        let left = self.xx - 2.0 * k * self.xy + k * k * self.yy;
        let variance = self.xx - self.x * self.x / self.n;
        if variance > 0.0 && k > 0.0 {
            left.max(0.0) / variance
        } else {
            f64::INFINITY
        }
    }
}

fn sums(drum: &Trace<'_>, engine: &Trace<'_>, lag_s: f64) -> Sums {
    let mut sums = Sums::default();
    for (&t, &x) in drum.time_s.iter().zip(drum.speed) {
        if let Some(y) = at(engine, t - lag_s) {
            sums.add(x, y);
        }
    }
    sums
}

fn span(trace: &Trace<'_>) -> f64 {
    match (trace.time_s.first(), trace.time_s.last()) {
        (Some(a), Some(b)) => b - a,
        _ => 0.0,
    }
}

/// Finds the lag over all that leave enough overlap; `free_scale` where the two speeds are of different shafts.
/// Equation (6.27).
pub fn align(
    drum: &Trace<'_>,
    engine: &Trace<'_>,
    free_scale: bool,
) -> Result<Alignment, AlignError> {
    let rows = drum.time_s.len().min(engine.time_s.len());
    if rows < LEAST_ROWS {
        return Err(AlignError::TooShort { rows });
    }
    let step = COARSE_S.max(span(drum).max(span(engine)) / MOST as f64);
    let grid = |trace: &Trace<'_>| -> Vec<f64> {
        (0..=MOST)
            .map_while(|i| at(trace, trace.time_s[0] + step * i as f64))
            .collect()
    };
    let (x, y) = (grid(drum), grid(engine));
    let least = x.len().min(y.len()) * OVERLAP.0 / OVERLAP.1;
    let total = x.iter().fold(Sums::default(), |mut s, &v| {
        s.add(v, v);
        s
    });
    let variance = (total.xx - total.x * total.x / total.n) / total.n;
    let mut tried: Vec<(f64, f64)> = Vec::new();
    // The engine log starts earlier, then later.
    let starts = (0..y.len())
        .map(|skip| (0, skip))
        .chain((1..x.len()).map(|skip| (skip, 0)));
    for (skip_x, skip_y) in starts {
        let mut s = Sums::default();
        for (&x, &y) in x[skip_x..].iter().zip(&y[skip_y..]) {
            s.add(x, y);
        }
        // A stretch of idling agrees with any other.
        let lively = (s.xx - s.x * s.x / s.n) / s.n > 0.3 * variance;
        if s.n >= least.max(3) as f64 && lively {
            let offset = skip_x as f64 - skip_y as f64;
            let lag = drum.time_s[0] - engine.time_s[0] + step * offset;
            tried.push((lag, s.share(free_scale)));
        }
    }
    let best = tried
        .iter()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .copied()
        .filter(|best| best.1 < AGREES);
    let Some(best) = best else {
        let share = tried.iter().fold(1.0_f64, |m, t| m.min(t.1));
        return Err(AlignError::NoAgreement {
            share: 100.0 * share,
        });
    };
    let fine =
        refine(drum, engine, free_scale, best.0, 1.5 * step).ok_or(AlignError::NoAgreement {
            share: 100.0 * best.1,
        })?;
    let own = sums(drum, engine, fine.lag_s).share(free_scale);
    // On the coarse clock both are compared by the same yardstick.
    let rival = tried
        .iter()
        .filter(|t| (t.0 - best.0).abs() > RIVAL.0)
        .min_by(|a, b| a.1.total_cmp(&b.1));
    match rival {
        Some(other) if other.1 < RIVAL.1 * own.max(best.1) => Err(AlignError::Ambiguous {
            first_s: fine.lag_s,
            second_s: other.0,
        }),
        _ => Ok(fine),
    }
}

/// Finds the lag within `reach_s` of one that is nearly right.
/// Equation (6.27).
pub fn refine(
    drum: &Trace<'_>,
    engine: &Trace<'_>,
    free_scale: bool,
    near_s: f64,
    reach_s: f64,
) -> Option<Alignment> {
    const SHARE: f64 = 0.618_033_988_749_894_9;
    let cost = |lag: f64| sums(drum, engine, lag).share(free_scale);
    let (mut low, mut high) = (near_s - reach_s, near_s + reach_s);
    while high - low > 1e-5 {
        let (a, b) = (high - SHARE * (high - low), low + SHARE * (high - low));
        if cost(a) <= cost(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let lag_s = f64::midpoint(low, high);
    let s = sums(drum, engine, lag_s);
    if s.n < LEAST_ROWS as f64 {
        return None;
    }
    let scale = s.scale(free_scale);
    // Slopes of the residual with lag and, if free, scale; the doubt follows from the residual's own correlation.
    let mut normal = nalgebra::Matrix2::<f64>::zeros();
    let mut residuals = Vec::new();
    let mut overlap = (f64::INFINITY, f64::NEG_INFINITY);
    for (&t, &x) in drum.time_s.iter().zip(drum.speed) {
        let (Some(y), Some(before), Some(after)) = (
            at(engine, t - lag_s),
            at(engine, t - lag_s - COARSE_S),
            at(engine, t - lag_s + COARSE_S),
        ) else {
            continue;
        };
        let slope = nalgebra::Vector2::new(
            scale * (before - after) / (2.0 * COARSE_S),
            if free_scale { y } else { 0.0 },
        );
        normal += slope * slope.transpose();
        residuals.push(x - scale * y);
        overlap = (overlap.0.min(t), overlap.1.max(t));
    }
    if !free_scale {
        normal[(1, 1)] = 1.0;
    }
    let squares: f64 = residuals.iter().map(|r| r * r).sum();
    let n = residuals.len() as f64;
    let tau = super::smoother::correlation(&residuals);
    let variance = tau * squares / (n - 2.0).max(1.0) * normal.try_inverse()?[(0, 0)];
    Some(Alignment {
        lag_s,
        lag_se_s: variance.max(0.0).sqrt(),
        scale,
        residual: (squares / n).sqrt(),
        overlap_s: (overlap.1 - overlap.0).max(0.0),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Idle, two pulls that differ, idle.
    fn speed(t: f64) -> f64 {
        let pull = |start: f64, length: f64, top: f64| {
            let u = ((t - start) / length).clamp(0.0, 1.0);
            let down = (-(t - start - length).max(0.0) / 1.5).exp();
            (top - 900.0) * u * down
        };
        900.0 + pull(5.0, 8.0, 6400.0) + pull(22.0, 7.0, 6100.0)
    }

    fn trace(rate_hz: f64, from: f64, to: f64, scale: f64) -> (Vec<f64>, Vec<f64>) {
        let time: Vec<f64> = (0..10_000)
            .map(|i| from + f64::from(i) / rate_hz)
            .take_while(|t| *t < to)
            .collect();
        // Jitter of a fixed pattern, ±6 rpm.
        let values = time
            .iter()
            .enumerate()
            .map(|(i, &t)| scale * (speed(t) + ((i * 7919) % 13) as f64 - 6.0))
            .collect();
        (time, values)
    }

    #[test]
    fn a_lag_comes_back_with_its_doubt() {
        let (drum_t, drum) = trace(100.0, 0.0, 36.0, 1.0);
        for (lag, scale) in [(12.345, 1.0), (-3.21, 0.8)] {
            let (t, engine) = trace(20.0, 1.0, 34.0, scale);
            let t: Vec<f64> = t.iter().map(|t| t - lag).collect();
            let drum = Trace {
                time_s: &drum_t,
                speed: &drum,
            };
            let engine = Trace {
                time_s: &t,
                speed: &engine,
            };
            let found = align(&drum, &engine, scale != 1.0).expect("a lag");
            assert!((found.lag_s - lag).abs() < 0.003, "{found:?}");
            assert!((found.scale * scale - 1.0).abs() < 1e-3, "{found:?}");
            assert!(found.residual < 20.0 && found.lag_se_s < 0.003, "{found:?}");
        }
    }

    #[test]
    fn logs_that_do_not_agree_are_refused() {
        let (t, drum) = trace(50.0, 0.0, 36.0, 1.0);
        let falling: Vec<f64> = t.iter().map(|t| 5000.0 - 100.0 * t).collect();
        let drum = Trace {
            time_s: &t,
            speed: &drum,
        };
        let other = Trace {
            time_s: &t,
            speed: &falling,
        };
        assert!(matches!(
            align(&drum, &other, false),
            Err(AlignError::NoAgreement { .. })
        ));
    }

    #[test]
    fn a_log_that_repeats_itself_is_asked_back() {
        let t: Vec<f64> = (0..1200).map(|i| 0.05 * f64::from(i)).collect();
        let saw: Vec<f64> = t.iter().map(|t| 2000.0 + 400.0 * (t % 10.0)).collect();
        let trace = Trace {
            time_s: &t,
            speed: &saw,
        };
        assert!(matches!(
            align(&trace, &trace, false),
            Err(AlignError::Ambiguous { .. })
        ));
    }
}
