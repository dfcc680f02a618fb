//! The search for the sizes of a cause that account best for a log.
//!
//! A grid; then, in rounds that each hold the doubt of where the one before ended, a climb along the axes with shrinking steps, which is
//! sure-footed where a trace has kinks: of what is foreseen between sizes tried ([`super::foresee`]) where each costs a pull, else of the sizes
//! themselves with one step of Gauss–Newton at the end. Last a look around the peak for its [`Shape`]. It refuses more than two sizes.

use super::foresee::Foresight;
use super::judge::{Factors, Judge};
use super::rival::{AtSizes, Search};
use super::shape::Shape;
use nalgebra::{DMatrix, DVector};

impl Search<'_> {
    /// The peak and its shape; nothing where no size lets the car make the pull.
    pub(super) fn peak(&self) -> Option<(AtSizes, Shape)> {
        let starts = self.starts();
        let mut best = if let [one] = &starts[..] {
            one.clone()
        } else {
            // Each start is climbed from, and the highest end goes on.
            let ends = starts.iter().filter_map(|start| {
                let factors = self.rival.factors(start)?;
                let mut end = self.at(&start.z, Some(&factors))?;
                self.rise(&mut end, &factors, COARSE);
                self.at(&end.z, None)
            });
            ends.max_by(|a, b| a.log_p.total_cmp(&b.log_p))?
        };
        let mut shape = Shape::of(DMatrix::identity(self.sizes.len(), self.sizes.len()));
        if self.sizes.is_empty() {
            return Some((best, shape));
        }
        // The doubt goes by the change; held while the search goes on, a larger change cannot excuse itself. The peak under it is another place, and so
        // on, until a place is the peak under its own doubt.
        let (mut came, mut share): (Option<DVector<f64>>, f64) = (None, 1.0);
        for round in 0..ROUNDS {
            let factors = self.rival.factors(&best)?;
            let from = DVector::from_column_slice(&best.z);
            best = self.at(&best.z, Some(&factors))?;
            if let Some(curvature) = self.rise(&mut best, &factors, LAST_STEP) {
                shape = Shape::of(curvature);
            }
            if best.log_p < self.rival.judge.unexplained - HOPELESS {
                break;
            }
            let went = DVector::from_column_slice(&best.z) - &from;
            if went.amax() < SETTLED || round + 1 == ROUNDS {
                shape = self.shape(&mut best, shape.curvature, &factors);
                break;
            }
            // A larger doubt likes a smaller change and the other way about: each time it turns back it goes half as far.
            if came.is_some_and(|came| came.dot(&went) < 0.0) {
                share *= 0.5;
            }
            if share < 1.0
                && let Some(between) = self.at((from + share * &went).as_slice(), None)
            {
                best = between;
            }
            came = Some(went);
        }
        best = self.at(&best.z, None)?;
        Some((best, shape))
    }

    /// Rises to the peak under covariances that stay, and the curvature seen there: foreseen between sizes tried where each costs a pull, and by
    /// sizes tried alone where that leads nowhere or a look costs nothing.
    fn rise(&self, best: &mut AtSizes, factors: &Factors, last_step: f64) -> Option<DMatrix<f64>> {
        if best.shown.new_pull
            && let Some(curvature) = self.foreseen(best, factors)
        {
            return Some(curvature);
        }
        self.climb(best, factors, last_step);
        if last_step > LAST_STEP {
            return None;
        }
        let (next, curvature) = self.step(best, factors)?;
        if next.log_p > best.log_p {
            *best = next;
        }
        Some(curvature)
    }

    /// Climbs what is foreseen, looks at where that ends, and so on until nothing more is foreseen to be gained; nothing where it does not come to
    /// that.
    fn foreseen(&self, best: &mut AtSizes, factors: &Factors) -> Option<DMatrix<f64>> {
        let mut foresight = Foresight::new(self.rival, self.sizes, factors);
        for _ in 0..LOOKS {
            let known = {
                let tried = self.tried.borrow();
                foresight.learn(tried.iter().map(|(z, shown)| (z.as_slice(), &**shown)))
            };
            if !known {
                return None;
            }
            let look = |z: &[f64]| Some(((), foresight.log_p(z)?));
            let (z, log_p) = climbed(look, (best.z.clone(), best.log_p), FINE_STEP).0;
            if log_p < best.log_p + ENOUGH {
                return foresight.curvature(&best.z);
            }
            let there = self.at(&z, Some(factors))?;
            if there.log_p > best.log_p {
                *best = there;
            }
        }
        None
    }

    /// Where the search starts: the best place of the grid, and others nearly as good that lie apart from it.
    fn starts(&self) -> Vec<AtSizes> {
        let mut places = self.on_grid();
        places.sort_by(|a, b| b.log_p.total_cmp(&a.log_p));
        let mut starts: Vec<AtSizes> = Vec::new();
        for place in &places {
            let apart = |start: &AtSizes| {
                let off = start.z.iter().zip(&place.z).map(|(a, b)| (a - b).abs());
                off.fold(0.0, f64::max) > APART
            };
            let near = starts
                .first()
                .is_none_or(|best| place.log_p > best.log_p - NEARLY);
            if near && starts.iter().all(apart) && starts.len() < STARTS {
                starts.push(place.clone());
            }
        }
        self.grid.replace(places);
        starts
    }

    fn on_grid(&self) -> Vec<AtSizes> {
        let sizes = self.sizes;
        let knots = match sizes.len() {
            0 => return self.at(&[], None).into_iter().collect(),
            1 => ALONG,
            _ => ACROSS,
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
                        let room = OFF_BOUND * (high - low).min(4.0);
                        z.clamp(low + room, high - room)
                    })
                    .collect::<Vec<_>>()
            })
            .filter_map(|z| self.at(&z, None))
            .collect()
    }

    /// Climbs by sizes tried.
    pub(super) fn climb(&self, best: &mut AtSizes, factors: &Factors, last_step: f64) {
        let look = |z: &[f64]| {
            let point = self.at(z, Some(factors))?;
            let log_p = point.log_p;
            Some((point, log_p))
        };
        let from = (best.z.clone(), best.log_p);
        if let (_, Some(higher)) = climbed(look, from, last_step) {
            *best = higher;
        }
    }

    /// One step of Gauss–Newton with the covariance held, shortened until it gains; and the curvature it saw.
    pub(super) fn step(
        &self,
        from: &AtSizes,
        factors: &Factors,
    ) -> Option<(AtSizes, DMatrix<f64>)> {
        let (sizes, scene) = (self.sizes, self.rival.scene);
        let d = sizes.len();
        let likeliest = Judge::likeliest(scene, &from.shown, factors)?;
        let here = Judge::whitened(scene, &from.shown, &likeliest)?;
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
            let white = Judge::whitened(scene, &there.shown, &likeliest)?;
            slopes.set_column(i, &((white - &here) / (z[i] - from.z[i])));
        }
        let z = DVector::from_column_slice(&from.z);
        let h = slopes.transpose() * &slopes + DMatrix::identity(d, d);
        let gradient = slopes.transpose() * &here + &z;
        let full = h.clone().cholesky()?.solve(&gradient);
        let mut share = 1.0;
        let mut last = None;
        for _ in 0..LENGTHS {
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
            share *= SHORTER;
        }
        Some((last?, h))
    }
}

/// Climbs along the axes and the last gain with steps that shrink where none of them gains: sure-footed where a trace has kinks, as at an
/// onset. Where it ends, how high that is, and what was seen there, unless it ends where it began.
fn climbed<T>(
    at: impl Fn(&[f64]) -> Option<(T, f64)>,
    from: (Vec<f64>, f64),
    last_step: f64,
) -> ((Vec<f64>, f64), Option<T>) {
    let (mut best, mut seen) = (from, None);
    let mut step = FIRST_STEP;
    let mut gains = |best: &mut (Vec<f64>, f64), z: Vec<f64>| {
        let Some((what, log_p)) = at(&z).filter(|there| there.1 > best.1) else {
            return false;
        };
        *best = (z, log_p);
        seen = Some(what);
        true
    };
    while step > last_step {
        let from = best.0.clone();
        for i in 0..from.len() {
            for sign in [1.0, -1.0] {
                let mut z = best.0.clone();
                z[i] += sign * step;
                if gains(&mut best, z) {
                    break;
                }
            }
        }
        if best.0 == from {
            step *= 0.4;
            continue;
        }
        let onward = best.0.iter().zip(&from).map(|(a, b)| a + (a - b));
        let onward = onward.collect();
        gains(&mut best, onward);
    }
    (best, seen)
}

/// Places of the grid in standardised sizes, for one size and for each of two: 98 % and 93 % of a belief lie between, and the climb's first
/// step reaches half-way to the next.
const ALONG: &[f64] = &[-2.4, -1.6, -0.8, 0.0, 0.8, 1.6, 2.4];
const ACROSS: &[f64] = &[-1.8, -0.9, 0.0, 0.9, 1.8];
/// Share of a belief's room, or of four standard deviations, by which the grid keeps off a bound, where a cause may be none at all.
const OFF_BOUND: f64 = 0.05;
/// Rounds of the search, each with the doubt of where the one before ended, at most; and the move in standardised sizes that is none.
/// Equation (10.4).
const ROUNDS: usize = 12;
const SETTLED: f64 = 0.02;
/// A cause less likely than something unknown by more than this, as a logarithm, after a whole round is left at that. Over the recorded
/// faults and those of the tests, four in five are, and none of them came back to within 80.
const HOPELESS: f64 = 100.0;
/// First and last step of the climb in standardised sizes.
const FIRST_STEP: f64 = 0.4;
const LAST_STEP: f64 = 0.02;
/// Last step of a climb from one of several starts.
const COARSE: f64 = 0.1;
/// Last step of a climb of what is foreseen, which costs next to nothing.
const FINE_STEP: f64 = 0.002;
/// Looks at where what is foreseen ends, before sizes tried alone decide.
const LOOKS: usize = 10;
/// A gain foreseen that is not worth a look, as a logarithm: far below what changes a chance.
/// Equation (10.4).
const ENOUGH: f64 = 0.02;
/// Starts of a search, at most; how far apart in standardised sizes, and by how much less likely than the best, as a logarithm.
const STARTS: usize = 3;
const APART: f64 = 1.0;
const NEARLY: f64 = 40.0;
/// Step of a slope: well inside the width of a peak, and far above what a settled pull strays by.
const SLOPE_STEP: f64 = 0.05;
/// Lengths of a step of Gauss–Newton tried, each three tenths of the one before, until the climb's answer stays.
const LENGTHS: usize = 3;
const SHORTER: f64 = 0.3;
