//! What the search must do with valleys, bounds, outliers, refusals and corners.

use super::super::problem::Infeasible;
use super::super::robust::Loss;
use super::*;

/// Rosenbrock's valley, minimum 0 at (1, 1) (Rosenbrock 1960, from memory).
struct Valley;

impl Problem for Valley {
    fn parameters(&self) -> usize {
        2
    }
    fn rows(&self) -> usize {
        2
    }
    fn residuals(&self, x: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
        out[0] = 10.0 * (x[1] - x[0] * x[0]);
        out[1] = 1.0 - x[0];
        Ok(())
    }
}

/// A straight line through measured points, refused where the slope is above `steepest`.
struct Line {
    points: Vec<(f64, f64)>,
    loss: Loss,
    steepest: f64,
}

impl Problem for Line {
    fn parameters(&self) -> usize {
        2
    }
    fn rows(&self) -> usize {
        self.points.len()
    }
    fn residuals(&self, x: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
        if x[1] > self.steepest {
            return Err(Infeasible);
        }
        for (r, (t, y)) in out.iter_mut().zip(&self.points) {
            *r = x[0] + x[1] * t - y;
        }
        Ok(())
    }
    fn loss(&self, _row: usize) -> Loss {
        self.loss
    }
}

fn line(loss: Loss) -> Line {
    let mut points: Vec<_> = (0..20)
        .map(|i| (f64::from(i), 3.0 + 0.5 * f64::from(i)))
        .collect();
    points[7].1 += 40.0;
    points[19].1 -= 60.0;
    Line {
        points,
        loss,
        steepest: f64::INFINITY,
    }
}

fn fit<P: Problem>(problem: &P, start: &[f64], bounds: &Bounds) -> Report {
    minimise(problem, start, bounds, &Settings::default()).expect("the start is feasible")
}

#[test]
fn the_curved_valley_is_followed_to_its_end() {
    let report = fit(&Valley, &[-1.2, 1.0], &Bounds::none(2));
    assert!(report.stop.converged(), "{:?}", report.stop);
    assert!(
        report.x.iter().all(|x| (x - 1.0).abs() < 1e-7),
        "{report:?}"
    );
    assert!(report.evaluations < 200, "{}", report.evaluations);
}

#[test]
fn an_optimum_on_the_bound_is_found_exactly_and_named() {
    // On x₀ ≤ 0.5 the valley's best is x₀ = 0.5, x₁ = 0.25, cost ½·0.25.
    let bounds = Bounds::new(vec![-2.0, -2.0], vec![0.5, 2.0]).expect("ordered bounds");
    let report = fit(&Valley, &[-1.2, 1.0], &bounds);
    assert!(report.stop.converged(), "{:?}", report.stop);
    assert_eq!(report.x[0], 0.5);
    assert!((report.x[1] - 0.25).abs() < 1e-8);
    assert_eq!(report.places, [Place::OnUpper, Place::Free]);
    assert!((report.cost - 0.125).abs() < 1e-12);
}

#[test]
fn a_start_on_the_wrong_bound_leaves_it() {
    let bounds = Bounds::new(vec![-2.0, -2.0], vec![2.0, 2.0]).expect("ordered bounds");
    for start in [[-2.0, -2.0], [2.0, -2.0], [-2.0, 2.0], [2.0, 2.0]] {
        let report = fit(&Valley, &start, &bounds);
        assert!(
            report.x.iter().all(|x| (x - 1.0).abs() < 1e-6),
            "{start:?}: {report:?}"
        );
    }
}

#[test]
fn all_parameters_on_their_bounds_is_an_answer() {
    let bounds = Bounds::new(vec![2.0, 0.0], vec![3.0, 1.0]).expect("ordered bounds");
    let report = fit(&Valley, &[2.5, 0.5], &bounds);
    assert_eq!(report.stop, Stop::AllOnBounds);
    assert_eq!(report.x, [2.0, 1.0]);
    assert_eq!(report.places, [Place::OnLower, Place::OnUpper]);
}

#[test]
fn a_robust_loss_shrugs_off_two_wild_points() {
    let plain = fit(&line(Loss::LeastSquares), &[0.0, 0.0], &Bounds::none(2));
    assert!((plain.x[1] - 0.5).abs() > 0.5);
    let report = fit(
        &line(Loss::StudentT {
            dof: 1.0,
            spread: 1.0,
        }),
        &[0.0, 0.0],
        &Bounds::none(2),
    );
    assert!(report.stop.converged(), "{:?}", report.stop);
    assert!((report.x[1] - 0.5).abs() < 0.01, "{:?}", report.x);
    assert!(report.weights[7] < 0.1 && report.weights[19] < 0.1);
}

#[test]
fn a_refused_point_shortens_the_step() {
    let problem = Line {
        steepest: 0.5 + 1e-3,
        ..line(Loss::StudentT {
            dof: 1.0,
            spread: 10.0,
        })
    };
    let report = fit(&problem, &[2.9, 0.0], &Bounds::none(2));
    assert!((report.x[1] - 0.5).abs() < 1e-3, "{report:?}");
    let error = minimise(
        &problem,
        &[0.0, 1.0],
        &Bounds::none(2),
        &Settings::default(),
    );
    assert_eq!(error, Err(FitError::StartInfeasible));
}

#[test]
fn bad_questions_are_refused_before_any_work() {
    let crossed = Bounds::new(vec![1.0], vec![0.0]);
    assert_eq!(
        crossed,
        Err(FitError::BoundsCrossed {
            index: 0,
            lower: 1.0,
            upper: 0.0
        })
    );
    assert!(Bounds::new(vec![f64::NAN], vec![0.0]).is_err());
    let settings = Settings::default();
    let outside = minimise(
        &Valley,
        &[9.0, 0.0],
        &Bounds::new(vec![0.0; 2], vec![1.0; 2]).expect("ordered"),
        &settings,
    );
    assert_eq!(
        outside,
        Err(FitError::StartOutsideBounds {
            index: 0,
            start: 9.0
        })
    );
    let short = minimise(&Valley, &[9.0], &Bounds::none(2), &settings);
    assert_eq!(
        short,
        Err(FitError::LengthMismatch {
            expected: 2,
            found: 1
        })
    );
}

#[test]
fn fixed_and_flat_parameters_do_no_harm() {
    let bounds = Bounds::new(vec![1.0, -5.0], vec![1.0, 5.0]).expect("ordered bounds");
    let report = fit(&Valley, &[1.0, -1.0], &bounds);
    assert!((report.x[1] - 1.0).abs() < 1e-8, "{report:?}");
    let empty = Line {
        points: vec![],
        loss: Loss::LeastSquares,
        steepest: 1.0,
    };
    assert!(fit(&empty, &[0.0, 0.0], &Bounds::none(2)).stop.converged());
}

/// A model that keeps a thousandth of what its slopes promise.
struct Stubborn;

impl Problem for Stubborn {
    fn parameters(&self) -> usize {
        1
    }
    fn rows(&self) -> usize {
        1
    }
    fn residuals(&self, x: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
        out[0] = 3.0 - 1e-3 * x[0];
        Ok(())
    }
    fn jacobian(&self, _x: &[f64], out: &mut DMatrix<f64>) -> bool {
        out[(0, 0)] = -1.0;
        true
    }
}

#[test]
fn short_steps_are_no_rest_while_the_slopes_promise_long_ones() {
    let settings = Settings {
        cost_tolerance: 1.0,
        cost_fall: 0.05,
        step_tolerance: 1e-6,
        max_iterations: 40,
        ..Settings::default()
    };
    let report = minimise(&Stubborn, &[0.0], &Bounds::none(1), &settings).expect("feasible");
    assert!(report.cost > 4.0 && !report.stop.converged(), "{report:?}");
    // Each step keeps a thousandth of the promise, so none is worth a twentieth.
    let patient = report.iterations;
    let settings = Settings {
        most_idle: 3,
        ..settings
    };
    let report = minimise(&Stubborn, &[0.0], &Bounds::none(1), &settings).expect("feasible");
    assert_eq!(report.stop, Stop::NoProgress);
    assert!(
        report.iterations <= 4 && patient > 10,
        "{patient} {report:?}"
    );
}
