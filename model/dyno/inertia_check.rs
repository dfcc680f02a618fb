//! The drums' moment of inertia from what a shop can do: a known inertia bolted on, or known masses on a rope.
//!
//! Every reading of an inertia drum is proportional to the inertia it was told, so a wrong one is wrong for every car alike and no
//! repeat shows it. Two runs that differ by something known do. It refuses times that hardly differ: their quotient would be a
//! guess with digits.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// A number with its doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// The number, SI.
    pub value: f64,
    /// One standard deviation, SI; 0 where it is exact.
    pub sd: f64,
}

/// What was done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Check<'a> {
    /// Coasting down from one speed to another, bare and with a known inertia on the shaft: at each speed the drag is the same,
    /// so times are in proportion to the inertia. Runs up under one driving force do as well.
    CoastDownPair {
        /// Times bare, s.
        bare_s: &'a [f64],
        /// Times with the inertia on, s.
        loaded_s: &'a [f64],
        /// The inertia added, kg m².
        added_kg_m2: Known,
    },
    /// Two masses, one after the other, on a rope wound on the drum, from rest through the same height.
    FallingMasses {
        /// Height of the fall, m.
        height_m: Known,
        /// Radius at which the rope runs, m.
        radius_m: Known,
        /// The lighter mass, kg.
        light_kg: Known,
        /// Times of its fall, s.
        light_s: &'a [f64],
        /// The heavier mass, kg.
        heavy_kg: Known,
        /// Times of its fall, s.
        heavy_s: &'a [f64],
    },
}

/// What came out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Checked {
    /// Moment of inertia at the drum, kg m².
    pub inertia_kg_m2: f64,
    /// One standard deviation, kg m².
    pub sd_kg_m2: f64,
    /// Degrees of freedom of that deviation.
    pub degrees: f64,
    /// Drag of the bearings while the masses fell, N m.
    pub drag_nm: Option<f64>,
    /// Relative standard deviation of a single time: what is usual and what was seen, together.
    pub timing: f64,
    /// Whether any time was repeated.
    pub repeated: bool,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum InertiaError {
    /// Times, masses or lengths that cannot be.
    #[error("{what} must be more than zero")]
    NotPositive {
        /// Which number.
        what: &'static str,
    },
    /// A set without times.
    #[error("{what}: no time is given")]
    NoTimes {
        /// Which set.
        what: &'static str,
    },
    /// The times go the wrong way.
    #[error("{longer} must take longer than {shorter}; are the two exchanged?")]
    Exchanged {
        /// What should take longer.
        longer: &'static str,
        /// What should take less.
        shorter: &'static str,
    },
    /// The two runs differ by too little for what times are known to.
    #[error(
        "the two runs differ too little to tell an inertia: it would be known to {relative_sd:.0} %, one standard deviation; {advice}",
        relative_sd = 100.0 * relative_sd
    )]
    Unresolved {
        /// Relative standard deviation that would result.
        relative_sd: f64,
        /// What would help.
        advice: &'static str,
    },
}

/// Relative scatter of a time taken between two speeds or over a height, and how many imagined repeats it is worth (no source: a
/// tenth of a second in twenty).
const TIMING: f64 = 0.005;
const TIMING_DEGREES: f64 = 6.0;
/// Least certain answer that is told, relative standard deviation: beyond it the quotient of two differences is no longer near to
/// normal (its bias, the square of this, passes a twentieth of a per cent at 2 % and four per cent here).
const LEAST_CERTAIN: f64 = 0.20;
/// Standard acceleration of free fall, m/s².
const GRAVITY_M_S2: f64 = 9.80665;

impl Check<'_> {
    /// The inertia, with its doubt.
    ///
    /// ```text
    /// coast-down pair:  I = ΔI t₁/(t₂ − t₁)
    /// falling masses:   a = 2h/t²,  T = m (g − a),  I = r² (T₂ − T₁)/(a₂ − a₁),  M = T₁ r − I a₁/r
    /// ```
    ///
    /// Holds for: an added inertia without drag of its own, the same two speeds in both sets; a drag of the bearings that does not
    /// change over the fall, a rope that neither stretches nor weighs. Doubts are carried to first order.
    /// Source: derived from Newton's law. ΔI 20, t 60 s and 65 s: 240 kg m².
    pub fn inertia(&self) -> Result<Checked, InertiaError> {
        match *self {
            Self::CoastDownPair {
                bare_s,
                loaded_s,
                added_kg_m2,
            } => {
                let (bare, loaded, timing) =
                    means(("the bare run", bare_s), ("the loaded run", loaded_s))?;
                positive(added_kg_m2, "the inertia added")?;
                if loaded.value <= bare.value {
                    return Err(InertiaError::Exchanged {
                        longer: "the loaded run",
                        shorter: "the bare one",
                    });
                }
                let of = |x: &[f64; 3]| x[2] * x[0] / (x[1] - x[0]);
                finish(
                    of,
                    [bare, loaded, added_kg_m2],
                    timing,
                    "add more inertia, or repeat both",
                )
            }
            Self::FallingMasses {
                height_m,
                radius_m,
                light_kg,
                light_s,
                heavy_kg,
                heavy_s,
            } => {
                let (light, heavy, timing) =
                    means(("the light mass", light_s), ("the heavy mass", heavy_s))?;
                positive(height_m, "the height")?;
                positive(radius_m, "the radius")?;
                positive(light_kg, "the light mass")?;
                positive(heavy_kg, "the heavy mass")?;
                if heavy.value >= light.value || heavy_kg.value <= light_kg.value {
                    return Err(InertiaError::Exchanged {
                        longer: "the lighter mass",
                        shorter: "the heavier one",
                    });
                }
                let rate = |h: f64, t: f64| 2.0 * h / (t * t);
                let of = |x: &[f64; 6]| {
                    let (a1, a2) = (rate(x[2], x[0]), rate(x[2], x[1]));
                    let rope = x[5] * (GRAVITY_M_S2 - a2) - x[4] * (GRAVITY_M_S2 - a1);
                    x[3] * x[3] * rope / (a2 - a1)
                };
                let inputs = [light, heavy, height_m, radius_m, light_kg, heavy_kg];
                let advice = "take masses further apart, or repeat both";
                let mut checked = finish(of, inputs, timing, advice)?;
                let a = rate(height_m.value, light.value);
                checked.drag_nm = Some(
                    light_kg.value * (GRAVITY_M_S2 - a) * radius_m.value
                        - checked.inertia_kg_m2 * a / radius_m.value,
                );
                Ok(checked)
            }
        }
    }
}

impl Checked {
    /// Half of the range that holds nine times in ten, kg m², with another independent standard deviation added.
    ///
    /// ```text
    /// t(0.95; ν) √(sd² + other²)
    /// ```
    ///
    /// Source: Student's distribution. The degrees of freedom are kept as they are, which errs to the wide side.
    pub fn half_width_kg_m2(&self, other_sd_kg_m2: f64) -> f64 {
        let quantile =
            StudentsT::new(0.0, 1.0, self.degrees).map_or(f64::INFINITY, |t| t.inverse_cdf(0.95));
        quantile * self.sd_kg_m2.hypot(other_sd_kg_m2)
    }
}

/// Means of two sets of times, with their standard errors from the pooled scatter; and that scatter with its degrees of freedom.
///
/// Source: the scaled inverse chi-square as prior of a variance, in any text on Bayesian inference.
fn means(
    first: (&'static str, &[f64]),
    second: (&'static str, &[f64]),
) -> Result<(Known, Known, (f64, f64)), InertiaError> {
    let (mut squares, mut degrees) = (TIMING_DEGREES * TIMING * TIMING, TIMING_DEGREES);
    let mut mean = [0.0; 2];
    for (slot, (what, times)) in mean.iter_mut().zip([first, second]) {
        if times.is_empty() {
            return Err(InertiaError::NoTimes { what });
        }
        if !times.iter().all(|t| *t > 0.0) {
            return Err(InertiaError::NotPositive { what });
        }
        *slot = times.iter().sum::<f64>() / times.len() as f64;
        squares += times.iter().map(|t| (t / *slot - 1.0).powi(2)).sum::<f64>();
        degrees += (times.len() - 1) as f64;
    }
    let scatter = (squares / degrees).sqrt();
    let known = |value: f64, times: &[f64]| Known {
        value,
        sd: value * scatter / (times.len() as f64).sqrt(),
    };
    let (a, b) = (known(mean[0], first.1), known(mean[1], second.1));
    Ok((a, b, (scatter, degrees)))
}

fn positive(number: Known, what: &'static str) -> Result<(), InertiaError> {
    if number.value > 0.0 {
        Ok(())
    } else {
        Err(InertiaError::NotPositive { what })
    }
}

/// The value of a formula at the inputs and its doubt; the first two inputs are the times.
///
/// Source: propagation of errors to first order, with the degrees of freedom of Welch and Satterthwaite.
fn finish<const N: usize>(
    of: impl Fn(&[f64; N]) -> f64,
    inputs: [Known; N],
    (timing, degrees): (f64, f64),
    advice: &'static str,
) -> Result<Checked, InertiaError> {
    let centre = inputs.map(|k| k.value);
    let value = of(&centre);
    let mut parts = [0.0; N];
    for i in 0..N {
        let step = 1e-6 * centre[i];
        let (mut up, mut down) = (centre, centre);
        up[i] += step;
        down[i] -= step;
        parts[i] = (of(&up) - of(&down)) / (2.0 * step) * inputs[i].sd;
    }
    let variance: f64 = parts.iter().map(|p| p * p).sum();
    let timed: f64 = parts.iter().take(2).map(|p| p * p).sum();
    let relative_sd = variance.sqrt() / value.abs();
    if !(value > 0.0 && relative_sd <= LEAST_CERTAIN) {
        return Err(InertiaError::Unresolved {
            relative_sd,
            advice,
        });
    }
    Ok(Checked {
        inertia_kg_m2: value,
        sd_kg_m2: variance.sqrt(),
        // Both times share one pooled scatter; knowns without an estimated scatter add none.
        degrees: (degrees * (variance / timed).powi(2)).min(1e6),
        drag_nm: None,
        repeated: degrees > TIMING_DEGREES,
        timing,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::driveline::inertia::coast_down_time_s;
    use rand::{RngExt, SeedableRng, distr::Open01};
    use rand_chacha::ChaCha8Rng;
    use statrs::distribution::Normal;

    const TRIALS: usize = 1000;
    const RADIUS_M: f64 = 0.35;
    const INERTIA: f64 = 240.0;

    fn exact(value: f64) -> Known {
        Known { value, sd: 0.0 }
    }

    /// Time to coast from 40 to 15 m/s at the surface with drag of every kind.
    fn coast_s(inertia_kg_m2: f64) -> f64 {
        let mass_kg = inertia_kg_m2 / (RADIUS_M * RADIUS_M);
        coast_down_time_s(mass_kg, [60.0, 2.0, 0.02], 40.0, 15.0)
    }

    /// Time a mass takes through 1.5 m against 6 N m of bearings.
    fn fall_s(mass_kg: f64) -> f64 {
        let force_nm = mass_kg * GRAVITY_M_S2 * RADIUS_M - 6.0;
        let rad_s2 = force_nm / (INERTIA + mass_kg * RADIUS_M * RADIUS_M);
        (2.0 * 1.5 / (rad_s2 * RADIUS_M)).sqrt()
    }

    fn falls<'a>(light: &'a [f64], heavy: &'a [f64]) -> Check<'a> {
        Check::FallingMasses {
            height_m: exact(1.5),
            radius_m: exact(RADIUS_M),
            light_kg: exact(10.0),
            light_s: light,
            heavy_kg: exact(40.0),
            heavy_s: heavy,
        }
    }

    #[test]
    fn a_drum_gives_its_inertia_back_whatever_its_drag() {
        let pair = Check::CoastDownPair {
            bare_s: &[coast_s(INERTIA)],
            loaded_s: &[coast_s(INERTIA + 30.0)],
            added_kg_m2: exact(30.0),
        };
        let found = pair.inertia().expect("resolved");
        assert!((found.inertia_kg_m2 - INERTIA).abs() < 1e-9 * INERTIA);
        let found = falls(&[fall_s(10.0)], &[fall_s(40.0)])
            .inertia()
            .expect("resolved");
        assert!((found.inertia_kg_m2 - INERTIA).abs() < 1e-9 * INERTIA);
        assert!((found.drag_nm.expect("masses tell it") - 6.0).abs() < 1e-9);
    }

    #[test]
    fn ranges_hold_the_truth_nine_times_in_ten() {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut held = [0; 2];
        for _ in 0..TRIALS {
            let mut timed = |s: f64| {
                [(); 3].map(|()| {
                    s * (1.0 + 0.005 * Normal::standard().inverse_cdf(rng.sample(Open01)))
                })
            };
            let (bare, loaded) = (timed(coast_s(INERTIA)), timed(coast_s(INERTIA + 60.0)));
            let (light, heavy) = (timed(fall_s(10.0)), timed(fall_s(40.0)));
            let pair = Check::CoastDownPair {
                bare_s: &bare,
                loaded_s: &loaded,
                added_kg_m2: exact(60.0),
            };
            for (count, check) in held.iter_mut().zip([pair, falls(&light, &heavy)]) {
                let found = check.inertia().expect("resolved");
                let off = (found.inertia_kg_m2 - INERTIA).abs();
                *count += usize::from(off <= found.half_width_kg_m2(0.0));
            }
        }
        // Binomial: sd √(0.9 · 0.1/1000) = 0.95 %; three of them.
        let share = held.map(|count| count as f64 / TRIALS as f64);
        assert!(share.iter().all(|s| (s - 0.9).abs() < 0.029), "{share:?}");
    }

    #[test]
    fn a_doubt_of_what_is_known_is_a_doubt_of_what_is_found() {
        let check = |sd| Check::CoastDownPair {
            bare_s: &[60.0],
            loaded_s: &[75.0],
            added_kg_m2: Known { value: 60.0, sd },
        };
        let of = |sd| check(sd).inertia().expect("resolved");
        let (sure, doubted) = (of(0.0), of(3.0));
        // 5 % of the added inertia are 5 % of the answer, beside the times.
        let added = (doubted.sd_kg_m2.powi(2) - sure.sd_kg_m2.powi(2)).sqrt();
        assert!((added - 0.05 * 240.0).abs() < 1e-6, "{added}");
        assert!(doubted.degrees > sure.degrees);
    }

    #[test]
    fn times_that_cannot_be_are_refused_with_a_reason() {
        let check = |bare: &[f64], loaded: &[f64]| {
            let pair = Check::CoastDownPair {
                bare_s: bare,
                loaded_s: loaded,
                added_kg_m2: exact(20.0),
            };
            pair.inertia().expect_err("refused")
        };
        assert!(matches!(
            check(&[65.0], &[60.0]),
            InertiaError::Exchanged { .. }
        ));
        assert!(matches!(
            check(&[60.0], &[60.5]),
            InertiaError::Unresolved { .. }
        ));
        assert!(matches!(check(&[], &[60.5]), InertiaError::NoTimes { .. }));
        assert!(matches!(
            check(&[0.0], &[60.5]),
            InertiaError::NotPositive { .. }
        ));
    }
}
