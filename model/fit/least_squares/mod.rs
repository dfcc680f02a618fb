//! The fitter: Levenberg-Marquardt with bounds and robust losses. It exists as own code because the three things a
//! calibration needs together are not found together elsewhere: an optimum that may lie on a bound and says so, rows
//! that are discounted when they disagree with the rest, and a model that may refuse a point. It knows nothing of cars.
//! It refuses to move a parameter outside its bounds and to call a run finished without giving the reason.

use nalgebra::{DMatrix, DVector};

use super::damped_step::{Damping, LARGEST_DAMPING, LEAST_DAMPING, Linear, Step};
use super::difference;
use super::outcome::{Place, Report, Stop};
use super::problem::{Bounds, FitError, Problem};
use super::settings::Settings;

/// Minimises Σρ(residual) within the bounds.
///
/// ```text
/// s = argmin ½‖√W (r + J s)‖² + ½ λ ‖D s‖²   subject to   lower ≤ x + s ≤ upper
/// ```
///
/// with W the weights of the losses at the present point, D the column lengths of √W J with a fading memory of larger
/// ones, and λ moved by the ratio of the true to the expected fall of the cost. A step is kept only if the true cost falls.
/// Source: D. W. Marquardt, J. SIAM 11 (1963) 431; scaling of J. J. Moré, Lecture Notes in Mathematics 630 (1978) 105;
/// rule for λ of H. B. Nielsen, IMM-REP-1999-05 (all from memory). Checked on the NIST `StRD` problems (`validation/`).
/// Errors: [`FitError`] when it cannot start; every later trouble is a [`Stop`].
/// Equation (8.2).
pub fn minimise<P: Problem>(
    problem: &P,
    start: &[f64],
    bounds: &Bounds,
    settings: &Settings,
) -> Result<Report, FitError> {
    let n = problem.parameters();
    for found in [start.len(), bounds.lower.len()] {
        if found != n {
            return Err(FitError::LengthMismatch { expected: n, found });
        }
    }
    if let Some(index) = (0..n).find(|&j| !(bounds.contains(j, start[j]) && start[j].is_finite())) {
        return Err(FitError::StartOutsideBounds {
            index,
            start: start[index],
        });
    }
    let mut search = Search {
        problem,
        bounds,
        settings,
        evaluations: 0,
        iterations: 0,
    };
    let here = search
        .point(start.to_vec())
        .ok_or(FitError::StartInfeasible)?;
    Ok(search.run(here))
}

struct Point {
    x: Vec<f64>,
    residuals: Vec<f64>,
    cost: f64,
}

struct Search<'a, P> {
    problem: &'a P,
    bounds: &'a Bounds,
    settings: &'a Settings,
    evaluations: u32,
    iterations: u32,
}

/// Share of the largest column length so far that the scale keeps from one point to the next. With none of it a column
/// that dies on a plateau loses its damping; with all of it one that was once huge never moves again (MGH10).
const SCALE_MEMORY: f64 = 0.5;
/// Share of the expected fall a step must deliver to be kept (Moré's 1e-4).
const LEAST_GAIN: f64 = 1e-4;
/// Share of the cost below which a difference of two costs is rounding: some tens of ε for sums of some hundred squares.
const COST_ROUNDING: f64 = 1e-14;

/// Expected fall of the cost, as a share, below which the bend of the path is no longer worth a call.
const STRAIGHT: f64 = 1e-6;

/// Most a parameter may change in one step, in units of its size: slopes taken here are not believed beyond that. From
/// half to twice this the NIST problems are all solved; at three times MGH17 leaves for a plateau on its first step.
const REACH: f64 = 1.0;

/// One linearisation and the room around it.
struct Local<'a> {
    linear: Linear,
    jacobian: &'a DMatrix<f64>,
    weights: &'a [f64],
    scale: &'a DVector<f64>,
    /// Room down to the lower bounds, and up to the upper ones.
    least: Vec<f64>,
    most: Vec<f64>,
    held: Vec<bool>,
}

impl Local<'_> {
    /// By how much a step that nothing damps would lower the cost if the slopes held.
    fn promised(&self) -> f64 {
        self.linear
            .step(
                LEAST_DAMPING,
                self.scale,
                &self.least,
                &self.most,
                &self.held,
            )
            .map_or(0.0, |step| step.predicted_reduction)
    }
}

/// What became of one linearisation.
enum Outcome {
    Moved {
        to: Point,
        share: f64,
        step: f64,
        at_rounding: bool,
    },
    Ended(Stop),
}

impl<P: Problem> Search<'_, P> {
    fn point(&mut self, x: Vec<f64>) -> Option<Point> {
        let mut residuals = vec![0.0; self.problem.rows()];
        self.evaluations += 1;
        self.problem.residuals(&x, &mut residuals).ok()?;
        let cost = residuals
            .iter()
            .enumerate()
            .map(|(row, &r)| self.problem.loss(row).cost(r))
            .sum::<f64>();
        cost.is_finite().then_some(Point { x, residuals, cost })
    }

    fn slopes(&mut self, at: &Point, out: &mut DMatrix<f64>) -> bool {
        self.iterations += 1;
        let finite = |m: &DMatrix<f64>| m.iter().all(|v| v.is_finite());
        if self.problem.jacobian(&at.x, out) {
            return finite(out);
        }
        let scheme = (self.settings.difference, self.settings.relative_noise);
        let (calls, done) =
            difference::jacobian(self.problem, self.bounds, scheme, &at.x, &at.residuals, out);
        self.evaluations += calls;
        done.is_ok() && finite(out)
    }

    fn weights(&self, at: &Point) -> Vec<f64> {
        at.residuals
            .iter()
            .enumerate()
            .map(|(row, &r)| self.problem.loss(row).weight(r))
            .collect()
    }

    fn places(&self, x: &[f64], gradient: &DVector<f64>) -> Vec<Place> {
        (0..x.len())
            .map(|j| match gradient[j] {
                g if x[j] <= self.bounds.lower[j] && g > 0.0 => Place::OnLower,
                g if x[j] >= self.bounds.upper[j] && g < 0.0 => Place::OnUpper,
                _ if self.bounds.lower[j] == self.bounds.upper[j] => Place::OnLower,
                _ => Place::Free,
            })
            .collect()
    }

    fn run(mut self, mut here: Point) -> Report {
        let n = here.x.len();
        let mut jacobian = DMatrix::zeros(here.residuals.len(), n);
        let mut scale = DVector::zeros(n);
        let mut damping = Damping::from(self.settings.first_damping);
        let mut last_rounding_step = f64::INFINITY;
        let mut stop = None;
        let mut idle = 0;
        loop {
            let weights = self.weights(&here);
            let sloped = self.slopes(&here, &mut jacobian);
            let linear = weighted(&jacobian, &here.residuals, &weights);
            let places = self.places(&here.x, &linear.gradient);
            if !sloped {
                stop = Some(Stop::NoSlopes);
            }
            stop = stop.or_else(|| self.finished_before_step(&linear, &places));
            if let Some(stop) = stop {
                return self.report(here, weights, jacobian, stop, places);
            }
            for j in 0..n {
                scale[j] = linear.column_norms[j].max(SCALE_MEMORY * scale[j]);
            }
            let usable = scale.map(|s| if s > 0.0 { s } else { 1.0 });
            let room = |j: usize, bound: f64| {
                let reach = REACH * here.x[j].abs().max(self.problem.typical_size(j));
                (bound - here.x[j]).clamp(-reach, reach)
            };
            let local = Local {
                linear,
                jacobian: &jacobian,
                weights: &weights,
                scale: &usable,
                least: (0..n).map(|j| room(j, self.bounds.lower[j])).collect(),
                most: (0..n).map(|j| room(j, self.bounds.upper[j])).collect(),
                held: places.iter().map(|p| *p != Place::Free).collect(),
            };
            match self.descend(&here, &local, &mut damping) {
                Outcome::Ended(stop) => return self.report(here, weights, jacobian, stop, places),
                Outcome::Moved {
                    to,
                    share,
                    step,
                    at_rounding,
                } => {
                    let cost_before = here.cost;
                    here = to;
                    if step <= self.settings.step_tolerance {
                        stop = Some(Stop::StepSmall);
                    } else if share <= self.settings.cost_tolerance
                        && share * cost_before <= self.settings.cost_fall
                    {
                        stop = Some(Stop::CostSmall);
                    } else if at_rounding && step > 0.9 * last_rounding_step {
                        stop = Some(Stop::Rounding);
                    }
                    last_rounding_step = if at_rounding { step } else { f64::INFINITY };
                    // Short steps where long ones are promised more: slopes and model disagree, and what stands still is no optimum.
                    if local.promised() > self.settings.cost_fall {
                        let little = cost_before - here.cost < self.settings.cost_fall;
                        idle = if little { idle + 1 } else { 0 };
                        stop = stop.filter(|stop| *stop != Stop::CostSmall);
                        if stop.is_some() || idle >= self.settings.most_idle {
                            stop = Some(Stop::NoProgress);
                        }
                    } else {
                        idle = 0;
                    }
                }
            }
        }
    }

    fn finished_before_step(&self, linear: &Linear, places: &[Place]) -> Option<Stop> {
        let free = || {
            places
                .iter()
                .enumerate()
                .filter(|(_, p)| **p == Place::Free)
                .map(|(j, _)| j)
        };
        if free().next().is_none() {
            return Some(Stop::AllOnBounds);
        }
        let steepest = free()
            .map(|j| linear.gradient[j].abs() / (linear.column_norms[j] * linear.residual_norm))
            .filter(|cosine| !cosine.is_nan())
            .fold(0.0, f64::max);
        if steepest <= self.settings.gradient_tolerance {
            Some(Stop::GradientSmall)
        } else if self.iterations > self.settings.max_iterations {
            Some(Stop::IterationLimit)
        } else {
            None
        }
    }

    /// Raises the damping until a step lowers the cost.
    fn descend(&mut self, here: &Point, local: &Local, damping: &mut Damping) -> Outcome {
        let Local { linear, scale, .. } = local;
        let size = scale
            .component_mul(&DVector::from_column_slice(&here.x))
            .norm();
        // Rounding of the residuals is relative to the model's values, of which J x is the size, not to the residuals.
        let noise = self.settings.relative_noise * size;
        let rounding = COST_ROUNDING * here.cost + noise * (linear.residual_norm + noise);
        let mut within_rounding = false;
        while damping.value <= LARGEST_DAMPING {
            let step = linear.step(damping.value, scale, &local.least, &local.most, &local.held);
            let Some(step) = step else {
                damping.raise();
                continue;
            };
            let predicted = step.predicted_reduction;
            within_rounding |= predicted <= rounding;
            let length = step.change.component_mul(scale).norm();
            let relative = length / size.max(f64::MIN_POSITIVE);
            let change = if predicted > STRAIGHT * here.cost {
                let bent = self.bent(here, local, &step, damping.value);
                bent.or_else(|| self.settings.corners.then_some(step.change))
            } else {
                Some(step.change)
            };
            let Some(to) = change.and_then(|c| self.point(self.stepped(&here.x, &c))) else {
                damping.raise();
                continue;
            };
            let fall = here.cost - to.cost;
            let gain = fall / predicted;
            let at_rounding = predicted <= rounding && fall.abs() <= rounding;
            if gain > LEAST_GAIN {
                damping.lower(gain);
            }
            if at_rounding || gain > LEAST_GAIN {
                let share = fall.abs().max(predicted) / here.cost;
                return Outcome::Moved {
                    to,
                    share,
                    step: relative,
                    at_rounding,
                };
            }
            if relative <= f64::EPSILON {
                break;
            }
            damping.raise();
        }
        Outcome::Ended(
            if within_rounding && local.promised() <= self.settings.cost_fall {
                Stop::Rounding
            } else {
                Stop::NoProgress
            },
        )
    }

    /// The step with its bend: the second-order path along it, from one more call of the model. `None` where the
    /// path bends too much for the linear model to mean anything, so that the step must be shorter.
    ///
    /// ```text
    /// a = argmin ½‖√W (J a + r″/2)‖² + ½ λ ‖D a‖²,   r″/2 = [r(x + h s) − r − h J s] / h²,   refused if 2‖D a‖ > 0.75 ‖D s‖
    /// ```
    ///
    /// Keeps the search off plateaus where a parameter no longer matters, and shortens the walk along curved valleys.
    /// Source: M. K. Transtrum & J. P. Sethna, "Improvements to the Levenberg-Marquardt algorithm", arXiv 1201.5885
    /// (2012), with their h = 0.1 and limit 0.75 (from memory).
    /// Equation (8.2).
    fn bent(
        &mut self,
        here: &Point,
        local: &Local,
        step: &Step,
        damping: f64,
    ) -> Option<DVector<f64>> {
        let h = 0.1;
        let part = self.point(self.stepped(&here.x, &(&step.change * h)))?;
        let straight = local.jacobian * &step.change;
        let rows = here
            .residuals
            .iter()
            .zip(&part.residuals)
            .zip(straight.iter())
            .zip(local.weights);
        let curvature = rows.map(|(((r, moved), s), w)| w.sqrt() * (moved - r - h * s) / (h * h));
        let curvature = DVector::from_iterator(here.residuals.len(), curvature);
        let bend = local.linear.bend(damping, local.scale, step, curvature)?;
        let length = |v: &DVector<f64>| v.component_mul(local.scale).norm();
        let gentle = 2.0 * length(&bend) <= 0.75 * length(&step.change);
        gentle.then(|| &step.change + bend)
    }

    /// The stepped point, exactly on a bound where the step leads there.
    fn stepped(&self, x: &[f64], change: &DVector<f64>) -> Vec<f64> {
        let exact = |j: usize| {
            let (low, high) = (self.bounds.lower[j], self.bounds.upper[j]);
            match change[j] {
                s if s == low - x[j] => low,
                s if s == high - x[j] => high,
                s => (x[j] + s).clamp(low, high),
            }
        };
        (0..x.len()).map(exact).collect()
    }

    fn report(
        self,
        at: Point,
        weights: Vec<f64>,
        jacobian: DMatrix<f64>,
        stop: Stop,
        places: Vec<Place>,
    ) -> Report {
        Report {
            x: at.x,
            residuals: at.residuals,
            weights,
            jacobian,
            cost: at.cost,
            iterations: self.iterations,
            evaluations: self.evaluations,
            stop,
            places,
        }
    }
}

fn weighted(jacobian: &DMatrix<f64>, residuals: &[f64], weights: &[f64]) -> Linear {
    let mut rows = jacobian.clone();
    for (mut row, w) in rows.row_iter_mut().zip(weights) {
        row *= w.sqrt();
    }
    let right = residuals.iter().zip(weights).map(|(r, w)| r * w.sqrt());
    Linear::new(rows, DVector::from_iterator(residuals.len(), right))
}

#[cfg(test)]
mod tests;
