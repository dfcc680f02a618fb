//! The search for the sizes of a cause that account best for a log.
//!
//! A grid, then a climb along the axes with shrinking steps, which is sure-footed where a trace has kinks, then one step of
//! Gauss–Newton, and last a look around the peak at its own width for its curvature. It refuses more than two sizes.

use super::cause::{Cause, Form};
use super::disturb::{Scene, Shown};
use super::judge::{Factors, Judge};
use super::size::Size;
use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF, Normal};
use std::cell::RefCell;
use std::collections::HashMap;
use std::f64::consts::TAU;
use std::sync::Arc;

/// The least curvature of a peak, that of the belief itself: a log does not widen a belief.
const LEAST_CURVATURE: f64 = 1.0;

/// Logarithm of the belief about a size at a standardised value: a normal cut to its bounds.
fn belief(size: &Size, z: f64) -> f64 {
    let unit = Normal::standard();
    let (low, high) = size.prior.z_bounds();
    -0.5 * (z * z + TAU.ln()) - (unit.cdf(high) - unit.cdf(low)).ln()
}

/// A point of the search.
#[derive(Debug, Clone)]
pub(super) struct Point {
    pub(super) z: Vec<f64>,
    pub(super) log_p: f64,
    pub(super) parts: Vec<f64>,
    pub(super) shown: Arc<Shown>,
}

/// A cause in a form, ready to be asked at any size.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked<'a> {
    pub(super) scene: &'a Scene<'a>,
    pub(super) judge: &'a Judge,
    pub(super) cause: Cause,
    pub(super) form: Form,
}

impl Asked<'_> {
    /// Log-probability of log and sizes at standardised sizes, with the covariances given or those of the sizes themselves.
    pub(super) fn at(&self, sizes: &[Size], z: &[f64], factors: Option<&Factors>) -> Option<Point> {
        self.weighed(sizes, z, self.shown(sizes, z)?, factors)
    }

    /// The peak, and the curvature of the log-probability there; nothing where no size lets the car make the pull.
    pub(super) fn peak(&self, sizes: &[Size]) -> Option<(Point, DMatrix<f64>)> {
        let search = Search {
            asked: self,
            sizes,
            shown: RefCell::default(),
        };
        search.peak()
    }

    /// What the log would show at standardised sizes, inside their bounds.
    fn shown(&self, sizes: &[Size], z: &[f64]) -> Option<Arc<Shown>> {
        let inside = sizes.iter().zip(z).all(|(size, z)| {
            let (low, high) = size.prior.z_bounds();
            (low..=high).contains(z)
        });
        if !inside {
            return None;
        }
        let x: Vec<f64> = sizes
            .iter()
            .zip(z)
            .map(|(s, z)| s.prior.from_z(*z))
            .collect();
        self.scene.shown(self.cause, self.form, &x).map(Arc::new)
    }

    /// The covariances about what a point shows.
    fn factors(&self, point: &Point) -> Option<Factors> {
        self.judge.factors(self.scene, self.cause, &point.shown)
    }

    fn weighed(
        &self,
        sizes: &[Size],
        z: &[f64],
        shown: Arc<Shown>,
        factors: Option<&Factors>,
    ) -> Option<Point> {
        let parts = if self.cause == Cause::NoneOfThese {
            self.judge.parts_of_anything(self.scene, &shown)?
        } else if let Some(factors) = factors {
            Judge::parts(self.scene, &shown, factors)
        } else {
            let own = self.judge.factors(self.scene, self.cause, &shown)?;
            Judge::parts(self.scene, &shown, &own)
        };
        let belief: f64 = sizes.iter().zip(z).map(|(s, z)| belief(s, *z)).sum();
        let log_p = parts.iter().sum::<f64>() + belief;
        log_p.is_finite().then(|| Point {
            z: z.to_vec(),
            log_p,
            parts,
            shown,
        })
    }
}

/// A search for the sizes of a cause.
struct Search<'a> {
    asked: &'a Asked<'a>,
    sizes: &'a [Size],
    /// What the log would show at sizes already looked at: each round comes back to most of them with another doubt.
    shown: RefCell<HashMap<Vec<u64>, Option<Arc<Shown>>>>,
}

impl Search<'_> {
    /// As [`Asked::at`], of sizes looked at before without another simulation.
    fn at(&self, z: &[f64], factors: Option<&Factors>) -> Option<Point> {
        let place = z.iter().map(|z| z.to_bits()).collect();
        let shown = self
            .shown
            .borrow_mut()
            .entry(place)
            .or_insert_with(|| self.asked.shown(self.sizes, z))
            .clone()?;
        self.asked.weighed(self.sizes, z, shown, factors)
    }

    fn peak(&self) -> Option<(Point, DMatrix<f64>)> {
        let sizes = self.sizes;
        let mut best = self.on_grid()?;
        let mut curvature = DMatrix::identity(sizes.len(), sizes.len());
        if sizes.is_empty() {
            return Some((best, curvature));
        }
        // The doubt goes by the change; held while the search goes on, a larger change cannot excuse itself.
        for round in 0..ROUNDS {
            let factors = self.asked.factors(&best)?;
            best = self.at(&best.z, Some(&factors))?;
            self.climb(&mut best, &factors);
            if let Some((next, h)) = self.step(&best, &factors) {
                curvature = h;
                if next.log_p > best.log_p {
                    best = next;
                }
            }
            if best.log_p < self.asked.judge.unexplained - HOPELESS {
                break;
            }
            if round + 1 == ROUNDS {
                curvature = self.polish(&mut best, curvature, &factors);
            }
        }
        best = self.at(&best.z, None)?;
        Some((best, curvature))
    }

    fn on_grid(&self) -> Option<Point> {
        let sizes = self.sizes;
        let knots: &[f64] = match sizes.len() {
            0 => return self.at(&[], None),
            1 => &[-2.4, -1.6, -0.8, 0.0, 0.8, 1.6, 2.4],
            _ => &[-1.8, -0.9, 0.0, 0.9, 1.8],
        };
        let grid: Vec<Vec<f64>> = match sizes.len() {
            1 => knots.iter().map(|a| vec![*a]).collect(),
            _ => knots
                .iter()
                .flat_map(|a| knots.iter().map(|b| vec![*a, *b]))
                .collect(),
        };
        grid.iter()
            .map(|z| {
                z.iter()
                    .zip(sizes)
                    .map(|(z, size)| {
                        let (low, high) = size.prior.z_bounds();
                        let room = 0.05 * (high - low).min(4.0);
                        z.clamp(low + room, high - room)
                    })
                    .collect::<Vec<_>>()
            })
            .filter_map(|z| self.at(&z, None))
            .max_by(|a, b| a.log_p.total_cmp(&b.log_p))
    }

    /// Climbs along the axes and the last gain with steps that shrink where none of them gains: sure-footed where a trace has
    /// kinks, as at an onset.
    fn climb(&self, best: &mut Point, factors: &Factors) {
        let d = self.sizes.len();
        let mut step = FIRST_STEP;
        while step > LAST_STEP {
            let from = best.z.clone();
            for i in 0..d {
                for sign in [1.0, -1.0] {
                    let mut z = best.z.clone();
                    z[i] += sign * step;
                    if let Some(point) = self.at(&z, Some(factors)).filter(|p| p.log_p > best.log_p)
                    {
                        *best = point;
                        break;
                    }
                }
            }
            let moved: Vec<f64> = best.z.iter().zip(&from).map(|(a, b)| a - b).collect();
            if moved.iter().all(|m| *m == 0.0) {
                step *= 0.4;
                continue;
            }
            let onward: Vec<f64> = best.z.iter().zip(&moved).map(|(z, m)| z + m).collect();
            if let Some(point) = self
                .at(&onward, Some(factors))
                .filter(|p| p.log_p > best.log_p)
            {
                *best = point;
            }
        }
    }

    /// One step of Gauss–Newton with the covariance held, halved until it gains; and the curvature it saw.
    fn step(&self, from: &Point, factors: &Factors) -> Option<(Point, DMatrix<f64>)> {
        let (sizes, scene) = (self.sizes, self.asked.scene);
        let d = sizes.len();
        let here = Judge::whitened(scene, &from.shown, factors)?;
        let mut slopes = DMatrix::zeros(here.len(), d);
        for i in 0..d {
            let (low, high) = sizes[i].prior.z_bounds();
            let step = if from.z[i] + SLOPE_STEP <= high {
                SLOPE_STEP
            } else {
                -SLOPE_STEP
            };
            let mut z = from.z.clone();
            z[i] = (z[i] + step).clamp(low, high);
            let there = self.at(&z, Some(factors))?;
            let white = Judge::whitened(scene, &there.shown, factors)?;
            slopes.set_column(i, &((white - &here) / (z[i] - from.z[i])));
        }
        let z = DVector::from_column_slice(&from.z);
        let h = slopes.transpose() * &slopes + DMatrix::identity(d, d);
        let gradient = slopes.transpose() * &here + &z;
        let full = h.clone().cholesky()?.solve(&gradient);
        let mut share = 1.0;
        let mut last = None;
        for _ in 0..HALVINGS {
            let to: Vec<f64> = (0..d)
                .map(|i| {
                    let (low, high) = sizes[i].prior.z_bounds();
                    (from.z[i] - share * full[i]).clamp(low, high)
                })
                .collect();
            if let Some(point) = self.at(&to, Some(factors)) {
                let gains = point.log_p > from.log_p;
                last = Some(point);
                if gains {
                    break;
                }
            }
            share *= 0.3;
        }
        Some((last?, h))
    }

    /// Looks around the peak at its own width, moves onto the paraboloid's top if that is higher, and returns the curvature: that of a
    /// peak as wide as the mean of its sides.
    fn polish(&self, best: &mut Point, seen: DMatrix<f64>, factors: &Factors) -> DMatrix<f64> {
        let d = self.sizes.len();
        let mut h = seen.clone();
        let mut gradient = DVector::zeros(d);
        let mut sides = Vec::new();
        for i in 0..d {
            let first = WIDTH / seen[(i, i)].max(LEAST_CURVATURE).sqrt();
            let (Some(up), Some(down)) = (
                self.side(best, i, first, factors),
                self.side(best, i, -first, factors),
            ) else {
                return seen;
            };
            let sd = 0.5 * (up.sd(best, i) + down.sd(best, i));
            h[(i, i)] = sd.powi(-2).max(LEAST_CURVATURE);
            gradient[i] = (up.log_p - down.log_p) / (up.z[i] - down.z[i]);
            sides.push([up, down]);
        }
        if let [first, second] = &sides[..] {
            // f(a, b) − f(a, 0) − f(0, b) + f(0, 0) = a b f_xy for a paraboloid.
            let mixed = |side: usize| {
                let (a, b) = (&first[side], &second[side]);
                let corner = self.at(&[a.z[0], b.z[1]], Some(factors))?;
                let area = (a.z[0] - best.z[0]) * (b.z[1] - best.z[1]);
                Some((corner.log_p - a.log_p - b.log_p + best.log_p) / area)
            };
            let (Some(up), Some(down)) = (mixed(0), mixed(1)) else {
                return seen;
            };
            let most = 0.99 * (h[(0, 0)] * h[(1, 1)]).sqrt();
            h[(0, 1)] = (-0.5 * (up + down)).clamp(-most, most);
            h[(1, 0)] = h[(0, 1)];
        }
        if let Some(factor) = h.clone().cholesky() {
            let up = factor.solve(&gradient);
            let to: Vec<f64> = best
                .z
                .iter()
                .zip(up.iter())
                .map(|(z, u)| z + u.clamp(-2.0, 2.0))
                .collect();
            let candidates = sides
                .into_iter()
                .flatten()
                .chain(self.at(&to, Some(factors)));
            for point in candidates {
                if point.log_p > best.log_p {
                    *best = point;
                }
            }
        }
        h
    }

    /// A point to one side of a peak along an axis where it has fallen by about one. A peak with a kink is sharp at its top; what
    /// counts is how wide it is where it has fallen.
    fn side(&self, best: &Point, axis: usize, first: f64, factors: &Factors) -> Option<Point> {
        let at = |by: f64| {
            let mut z = best.z.clone();
            z[axis] += by;
            self.at(&z, Some(factors))
        };
        let mut by = first;
        let mut point = at(by)?;
        for _ in 0..WIDENINGS {
            let fallen = best.log_p - point.log_p;
            by *= if fallen < 0.5 {
                1.6
            } else if fallen > 2.0 {
                0.6
            } else {
                break;
            };
            // At a bound what there is must do.
            let Some(next) = at(by) else {
                break;
            };
            point = next;
        }
        Some(point)
    }
}

impl Point {
    /// Standard deviation of a normal that falls along an axis from a peak to this point as the probability does.
    fn sd(&self, peak: &Self, axis: usize) -> f64 {
        let fallen = (peak.log_p - self.log_p).max(LEAST_FALL);
        (self.z[axis] - peak.z[axis]).abs() / (2.0 * fallen).sqrt()
    }
}

/// Less of a fall tells no width.
const LEAST_FALL: f64 = 0.05;
/// Distance over the standard deviation at which a paraboloid has fallen by one.
const WIDTH: f64 = std::f64::consts::SQRT_2;
/// Times a look around a peak is widened or narrowed.
const WIDENINGS: usize = 5;
/// Rounds of the search, each with the doubt of where the one before ended.
const ROUNDS: usize = 3;
/// A cause less likely than something unknown by more than this, as a logarithm, after a whole round is left at that. Over the recorded
/// faults and those of the tests, four in five are, and none of them came back to within 80.
const HOPELESS: f64 = 100.0;
/// First and last step of the climb in standardised sizes.
const FIRST_STEP: f64 = 0.4;
const LAST_STEP: f64 = 0.02;
/// Step of a slope: well inside the width of a peak, and far above what a settled pull strays by.
const SLOPE_STEP: f64 = 0.05;
/// Halvings of a step of Gauss–Newton before the climb's answer stays.
const HALVINGS: usize = 3;
