//! The drums' moment of inertia from what a shop can do: a known inertia bolted on, or known masses on a rope.
//!
//! Every reading of an inertia drum is proportional to the inertia it was told, so a wrong one is wrong for every car alike and no
//! repeat shows it. Two runs that differ by something known do. It refuses times that hardly differ: their quotient would be a
//! guess with digits; and times that cannot be: repeats that are none, a fall faster than free, bearings that drive the drum.

use crate::numeric::median;
use crate::units;
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
    /// One standard deviation of it, N m.
    pub drag_sd_nm: Option<f64>,
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
    /// A mass cannot fall faster than freely.
    #[error(
        "{what} took {time_s:.2} s, less than the {free_s:.2} s of a free fall through that height; a mass that turns a drum takes longer"
    )]
    FasterThanFall {
        /// Which set.
        what: &'static str,
        /// The time, s.
        time_s: f64,
        /// Time of a free fall, s.
        free_s: f64,
    },
    /// One of several repeats is no repeat.
    #[error(
        "{what}: a time of {time_s:.2} s stands apart from the others, whose median is {others_s:.2} s; leave it out, or repeat that run"
    )]
    Outlier {
        /// Which set.
        what: &'static str,
        /// The time, s.
        time_s: f64,
        /// Middle of the others, s.
        others_s: f64,
    },
    /// Two repeats of which either may be wrong.
    #[error(
        "{what}: {first_s:.2} s and {second_s:.2} s are too far apart to be repeats; run it again to see which is wrong"
    )]
    Apart {
        /// Which set.
        what: &'static str,
        /// One time, s.
        first_s: f64,
        /// The other, s.
        second_s: f64,
    },
    /// Bearings that would push.
    #[error(
        "these times would mean the bearings drive the drum, by {push_nm:.1} ± {sd_nm:.1} N m, and bearings only brake: a time, the height, the \
         radius or a mass is wrong, so no inertia is given and nothing on the rig should be set from this"
    )]
    BearingsDrive {
        /// Torque with which they would, N m.
        push_nm: f64,
        /// Its standard deviation, N m.
        sd_nm: f64,
    },
    /// The two runs differ by too little for what times are known to.
    #[error(
        "the two runs differ too little to give an inertia: it would be known to ± {relative_sd:.0} % (one standard deviation); {advice}",
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
/// Farthest that a repeat may lie from the middle of its set, relative: twenty times the scatter of a time, which no clock in a hand
/// does, so that it is another run or a slip of the pen.
const APART: f64 = 20.0 * TIMING;
/// Chance with which bearings without any drag pass for bearings that do not drive.
const BRAKING: f64 = 0.99;
/// Least certain answer that is told, relative standard deviation: beyond it the quotient of two differences is no longer near to
/// normal (its bias, the square of this, passes a twentieth of a per cent at 2 % and four per cent here).
const LEAST_CERTAIN: f64 = 0.20;

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
    /// Equation (6.16).
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
                slower_than_fall("the light mass", light_s, height_m)?;
                slower_than_fall("the heavy mass", heavy_s, height_m)?;
                if heavy.value >= light.value || heavy_kg.value <= light_kg.value {
                    return Err(InertiaError::Exchanged {
                        longer: "the lighter mass",
                        shorter: "the heavier one",
                    });
                }
                let rate = |h: f64, t: f64| 2.0 * h / (t * t);
                let of = |x: &[f64; 6]| {
                    let (a1, a2) = (rate(x[2], x[0]), rate(x[2], x[1]));
                    let rope =
                        x[5] * (units::GRAVITY_M_S2 - a2) - x[4] * (units::GRAVITY_M_S2 - a1);
                    x[3] * x[3] * rope / (a2 - a1)
                };
                let inputs = [light, heavy, height_m, radius_m, light_kg, heavy_kg];
                let advice = "take masses further apart, or repeat both";
                let mut checked = finish(of, inputs, timing, advice)?;
                let drag = |x: &[f64; 6]| {
                    let a = rate(x[2], x[0]);
                    x[4] * (units::GRAVITY_M_S2 - a) * x[3] - of(x) * a / x[3]
                };
                let (drag_nm, parts) = propagate(drag, inputs);
                let variance = parts.iter().map(|p| p * p).sum::<f64>();
                let sd_nm = variance.sqrt();
                let timed = parts.iter().take(2).map(|p| p * p).sum::<f64>();
                let degrees = (timing.1 * (variance / timed).powi(2)).min(1e6);
                let beyond = StudentsT::new(0.0, 1.0, degrees)
                    .map_or(f64::INFINITY, |t| t.inverse_cdf(BRAKING));
                if drag_nm < -beyond * sd_nm {
                    return Err(InertiaError::BearingsDrive {
                        push_nm: -drag_nm,
                        sd_nm,
                    });
                }
                (checked.drag_nm, checked.drag_sd_nm) = (Some(drag_nm), Some(sd_nm));
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
        alike(what, times)?;
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

/// Refuses repeats of which one lies far off the middle of the others.
fn alike(what: &'static str, times: &[f64]) -> Result<(), InertiaError> {
    let middle = |times: &[f64]| median(times.iter().copied()).unwrap_or(f64::NAN);
    if times.len() < 2 {
        return Ok(());
    }
    let whole = middle(times);
    let off = |t: &f64| (t / whole - 1.0).abs();
    let farthest = (0..times.len()).max_by(|&i, &j| off(&times[i]).total_cmp(&off(&times[j])));
    let Some(farthest) = farthest.filter(|&i| off(&times[i]) > APART) else {
        return Ok(());
    };
    if let [first_s, second_s] = *times {
        return Err(InertiaError::Apart {
            what,
            first_s,
            second_s,
        });
    }
    let others = [&times[..farthest], &times[farthest + 1..]].concat();
    Err(InertiaError::Outlier {
        what,
        time_s: times[farthest],
        others_s: middle(&others),
    })
}

/// Refuses a time shorter than that of a free fall, `√(2 h/g)`.
fn slower_than_fall(
    what: &'static str,
    times: &[f64],
    height_m: Known,
) -> Result<(), InertiaError> {
    let free_s = (2.0 * height_m.value / units::GRAVITY_M_S2).sqrt();
    match times.iter().find(|t| **t <= free_s) {
        None => Ok(()),
        Some(&time_s) => Err(InertiaError::FasterThanFall {
            what,
            time_s,
            free_s,
        }),
    }
}

fn positive(number: Known, what: &'static str) -> Result<(), InertiaError> {
    if number.value > 0.0 {
        Ok(())
    } else {
        Err(InertiaError::NotPositive { what })
    }
}

/// The value of a formula at the inputs, and what one standard deviation of each moves it by.
fn propagate<const N: usize>(of: impl Fn(&[f64; N]) -> f64, inputs: [Known; N]) -> (f64, [f64; N]) {
    let centre = inputs.map(|k| k.value);
    let mut parts = [0.0; N];
    for i in 0..N {
        let step = 1e-6 * centre[i];
        let (mut up, mut down) = (centre, centre);
        up[i] += step;
        down[i] -= step;
        parts[i] = (of(&up) - of(&down)) / (2.0 * step) * inputs[i].sd;
    }
    (of(&centre), parts)
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
    let (value, parts) = propagate(of, inputs);
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
        drag_sd_nm: None,
        repeated: degrees > TIMING_DEGREES,
        timing,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
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
        // ∫ dv/(60 + 2 v + 0.02 v²) is an arctangent: the quadratic has no real root.
        let mass_kg = inertia_kg_m2 / (RADIUS_M * RADIUS_M);
        let root = (4.0 * 0.02 * 60.0 - 2.0 * 2.0_f64).sqrt();
        let angle = |v: f64| ((2.0 * 0.02 * v + 2.0) / root).atan();
        mass_kg * 2.0 / root * (angle(40.0) - angle(15.0))
    }

    /// Time a mass takes through 1.5 m against 6 N m of bearings.
    fn fall_s(mass_kg: f64) -> f64 {
        let force_nm = mass_kg * units::GRAVITY_M_S2 * RADIUS_M - 6.0;
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
    fn bearings_that_would_drive_and_falls_faster_than_free_are_refused() {
        // a₁ = 3/144, a₂ = 3/49 m/s²: T₁ 97.86 N, T₂ 389.82 N, I 885.4 kg m², M 34.25 − 52.71 N m.
        let Err(InertiaError::BearingsDrive { push_nm, sd_nm }) = falls(&[12.0], &[7.0]).inertia()
        else {
            panic!("bearings that drive")
        };
        assert!((push_nm - 18.5).abs() < 0.05, "{push_nm}");
        assert!(push_nm > 10.0 * sd_nm, "{sd_nm}");
        // √(2 · 1.5/9.80665) = 0.5531 s.
        let Err(InertiaError::FasterThanFall { what, free_s, .. }) =
            falls(&[12.0], &[0.5]).inertia()
        else {
            panic!("faster than free")
        };
        assert_eq!(what, "the heavy mass");
        assert!((free_s - 0.5531).abs() < 1e-4, "{free_s}");
    }

    #[test]
    fn bearings_without_drag_are_seldom_taken_for_bearings_that_drive() {
        let mut rng = ChaCha8Rng::seed_from_u64(6);
        let bare = |kg: f64| {
            let rad_s2 = kg * units::GRAVITY_M_S2 * RADIUS_M / (INERTIA + kg * RADIUS_M * RADIUS_M);
            (2.0 * 1.5 / (rad_s2 * RADIUS_M)).sqrt()
        };
        let mut refused = 0;
        for _ in 0..TRIALS {
            let mut timed = |s: f64| {
                [(); 3].map(|()| {
                    s * (1.0 + TIMING * Normal::standard().inverse_cdf(rng.sample(Open01)))
                })
            };
            let (light, heavy) = (timed(bare(10.0)), timed(bare(40.0)));
            match falls(&light, &heavy).inertia() {
                Err(InertiaError::BearingsDrive { .. }) => refused += 1,
                other => assert!(other.is_ok(), "{other:?}"),
            }
        }
        // One in a hundred: binomial sd √(0.01 · 0.99 · 1000) = 3.1; three of them. A scatter that is as usual errs to fewer.
        assert!((1..20).contains(&refused), "{refused}");
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
        assert_eq!(
            check(&[60.0, 61.0, 10.0], &[75.0]),
            InertiaError::Outlier {
                what: "the bare run",
                time_s: 10.0,
                others_s: 60.5
            }
        );
        assert!(matches!(
            check(&[60.0], &[75.0, 95.0]),
            InertiaError::Apart { .. }
        ));
        assert!(matches!(
            check(&[0.0], &[60.5]),
            InertiaError::NotPositive { .. }
        ));
    }
}
