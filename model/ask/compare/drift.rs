//! Pulls in a row of one visit: what each reads less than the one before it, what a long rest gives back, and whether a car as described
//! would do the same.
//!
//! A car that reads less from pull to pull is warm or ill, and a rig may be too. How much it loses is one slope for all rows of the visit, with
//! the standard error that the scatter about it gives; a long rest starts another row, at a level of its own, and what stands between the two
//! is what the rest gave back. It refuses to call pulls a row whose rests are not stated.
//!
//! ```text
//! ln P(row, k) = level(row) + drift k + scatter,   k = 0, 1, 2, ... in each row
//! ```

use super::levels::{Levels, counted, mean};
use super::{CompareError, Pulls};
use crate::dyno::correction::Standard;
use crate::dyno::{Bodies, Conditions, Sequence, Setup};
use crate::fit::observation::MeasuredPull;
use crate::numeric::{straight_between, upper_median};
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// A rest is long from so many of the visit's usual rests on (the middle one, the lower of two).
const LONG: f64 = 2.0;
/// Engine speeds at which a pull of the described car is simulated.
const POINTS: usize = 28;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The pulls, in the order made.
    pub pulls: Pulls<'a>,
    /// The car they were made with, where it is described: its pulls are then predicted beside them.
    pub car: Option<&'a Setup>,
    /// Standard by which weather is corrected.
    pub standard: Standard,
    /// Mechanical efficiency, for the standard that asks for it.
    pub mechanical_efficiency: Option<f64>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DriftError {
    /// Too few pulls follow another one with a stated rest.
    #[error(
        "drift needs three pulls made one right after the other, or two such pairs; of these {pulls} none or too few are said to follow another: state rest_before in the visit, the time since the pull before"
    )]
    NoRow {
        /// Pulls of the visit that count.
        pulls: usize,
    },
    /// They cannot be put side by side.
    #[error(transparent)]
    Compare(#[from] CompareError),
}

/// A number with its standard error and the range that holds it nine times in ten; relative.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Lower end of the range.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Estimate {
    /// By Student's distribution.
    fn new(value: f64, standard_error: f64, degrees: usize) -> Self {
        let half = student(degrees) * standard_error;
        Self {
            value,
            standard_error,
            low: value - half,
            high: value + half,
        }
    }

    /// Whether the range leaves out a value.
    pub fn leaves_out(&self, value: f64) -> bool {
        !(self.low..=self.high).contains(&value)
    }
}

/// The 95 % quantile of Student's distribution; a range of as many standard errors holds nine times in ten.
pub(in crate::ask) fn student(degrees: usize) -> f64 {
    StudentsT::new(0.0, 1.0, degrees as f64).map_or(f64::INFINITY, |t| t.inverse_cdf(0.95))
}

/// What the pulls say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// Name of the visit.
    pub visit: String,
    /// Standard of the corrected power; none where the electric share is not known.
    pub standard: Standard,
    /// Lowest engine speed of the mean.
    pub from_rpm: f64,
    /// Highest.
    pub to_rpm: f64,
    /// The pulls.
    pub pulls: Vec<PullLine>,
    /// Change from a pull to the next, as the difference of logarithms.
    pub per_pull: Estimate,
    /// Scatter of a pull about rows of that slope, one standard deviation.
    pub scatter: f64,
    /// Degrees of freedom of that scatter.
    pub degrees: usize,
    /// What the long rests gave back.
    pub recovered: Vec<Recovered>,
    /// Pulls of the visit that do not count: with the electric axle off, beside others with it on.
    pub left_out: usize,
    /// The same of the car as described.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub predicted: Option<Predicted>,
}

/// One pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullLine {
    /// What the shop calls it.
    pub name: String,
    /// Which row it stands in, from 1.
    pub row: usize,
    /// Its place in the row, from 1.
    pub place: usize,
    /// Time since the pull before, where stated.
    pub rest_s: Option<f64>,
    /// Mean corrected power over the engine speeds that all pulls hold (the geometric one).
    pub power_w: f64,
    /// Change from the first pull, relative.
    pub change: f64,
    /// The same of the car as described.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub predicted_change: Option<f64>,
}

/// A row held against the one before it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recovered {
    /// The pull after the rest.
    pub pull: String,
    /// The rest; none where the visit calls the car rested.
    pub rest_s: Option<f64>,
    /// Its level above the last pull before, as the difference of logarithms.
    pub gained: Estimate,
    /// What the row before had lost by then, by the common slope.
    pub lost: f64,
    /// The same gain of the car as described.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub predicted: Option<f64>,
}

/// What the car as described does in the same row, its air that of the first pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Predicted {
    /// Change from a pull to the next.
    pub per_pull: f64,
    /// Whether what was measured leaves that out.
    pub contradicted: bool,
}

/// Rows of a common slope.
struct Rows {
    slope: f64,
    slope_error: f64,
    scatter: f64,
    degrees: usize,
    /// Of each row: pulls, mean level, mean place.
    each: Vec<(usize, f64, f64)>,
    /// Sum of squares of the places about their rows' means.
    places: f64,
}

impl Rows {
    /// Least squares with a level for each row and one slope: `(row, place, value)`, rows counted from 0.
    ///
    /// ```text
    /// b = Σ (k − k̄)(y − ȳ)/Σ (k − k̄)²,   s² = Σ (y − ȳ − b (k − k̄))²/(n − rows − 1),   se(b) = s/√Σ (k − k̄)²
    /// ```
    ///
    /// Source: the analysis of covariance, in any text on linear regression.
    /// Equation (8.16).
    fn of(points: &[(usize, f64, f64)]) -> Option<Self> {
        let count = points.last()?.0 + 1;
        let rows: Vec<(usize, f64, f64)> = (0..count)
            .map(|row| {
                let of_row = || points.iter().filter(move |p| p.0 == row);
                let values: Vec<f64> = of_row().map(|p| p.2).collect();
                let places: Vec<f64> = of_row().map(|p| p.1).collect();
                (values.len(), mean(&values), mean(&places))
            })
            .collect();
        let about = |p: &(usize, f64, f64)| (p.1 - rows[p.0].2, p.2 - rows[p.0].1);
        let (mut places, mut products) = (0.0, 0.0);
        for point in points {
            let (k, y) = about(point);
            places += k * k;
            products += k * y;
        }
        let degrees = points.len().checked_sub(count + 1)?;
        if degrees == 0 || places <= 0.0 {
            return None;
        }
        let slope = products / places;
        let squares: f64 = points
            .iter()
            .map(|p| {
                let (k, y) = about(p);
                (y - slope * k).powi(2)
            })
            .sum();
        let scatter = (squares / degrees as f64).sqrt();
        Some(Self {
            slope,
            slope_error: scatter / places.sqrt(),
            scatter,
            degrees,
            each: rows,
            places,
        })
    }

    /// First level of a row above the last one of the row before, with its standard error.
    fn step(&self, row: usize) -> (f64, f64) {
        let ((n0, y0, k0), (n1, y1, k1)) = (self.each[row - 1], self.each[row]);
        // From the mean of one row to its last place, and from the first place of the next to its mean.
        let reach = (n0 - 1) as f64 - k0 + k1;
        let step = y1 - y0 - self.slope * reach;
        let of_means = (1.0 / n0 as f64 + 1.0 / n1 as f64).sqrt();
        let error = self.scatter * of_means.hypot(reach / self.places.sqrt());
        (step, error)
    }
}

impl Question<'_> {
    /// Measures the drift.
    pub fn answer(&self) -> Result<Answer, DriftError> {
        let counted = counted(
            self.pulls,
            self.car,
            self.standard,
            self.mechanical_efficiency,
        )?;
        let levels = Levels::of([&counted.entries, &[]]).map_err(CompareError::from)?;
        let values = levels.of_pulls(0);
        let places = places(&counted.pulls);
        let points = |values: &[f64]| -> Vec<(usize, f64, f64)> {
            let of = places.iter().zip(values);
            of.map(|(&(row, place), &value)| (row, place as f64, value))
                .collect()
        };
        let rows = Rows::of(&points(&values)).ok_or(DriftError::NoRow {
            pulls: values.len(),
        })?;
        let described = match self.car {
            Some(car) => described(car, &counted.pulls, &levels.rpm)?,
            None => None,
        };
        let of_described = described
            .as_ref()
            .and_then(|values| Rows::of(&points(values)));
        let per_pull = Estimate::new(rows.slope, rows.slope_error, rows.degrees);
        let pulls = counted.pulls.iter().enumerate().map(|(i, pull)| PullLine {
            name: pull.name.clone(),
            row: places[i].0 + 1,
            place: places[i].1 + 1,
            rest_s: pull.rest_s,
            power_w: values[i].exp(),
            change: (values[i] - values[0]).exp_m1(),
            predicted_change: described
                .as_ref()
                .map(|values| (values[i] - values[0]).exp_m1()),
        });
        let recovered = (1..rows.each.len()).filter_map(|row| {
            let first = places.iter().position(|place| place.0 == row)?;
            let (gained, error) = rows.step(row);
            Some(Recovered {
                pull: counted.pulls[first].name.clone(),
                rest_s: counted.pulls[first].rest_s,
                gained: Estimate::new(gained, error, rows.degrees),
                lost: -rows.slope * (rows.each[row - 1].0 - 1) as f64,
                predicted: of_described.as_ref().map(|rows| rows.step(row).0),
            })
        });
        Ok(Answer {
            visit: self.pulls.visit.name.clone(),
            standard: counted.standard,
            from_rpm: levels.rpm.first().copied().unwrap_or(f64::NAN),
            to_rpm: levels.rpm.last().copied().unwrap_or(f64::NAN),
            pulls: pulls.collect(),
            per_pull,
            scatter: rows.scatter,
            degrees: rows.degrees,
            recovered: recovered.collect(),
            left_out: counted.left_out,
            predicted: of_described.map(|rows| Predicted {
                per_pull: rows.slope,
                contradicted: per_pull.leaves_out(rows.slope),
            }),
        })
    }
}

/// Row and place in it of each pull, both from 0: a rested car starts a row, and so does a rest that is long beside the usual ones.
fn places(pulls: &[&MeasuredPull]) -> Vec<(usize, usize)> {
    let rests = pulls.iter().skip(1).filter_map(|pull| pull.rest_s);
    // The lower one of two is the upper one of the negatives.
    let usual_s = upper_median(rests.map(|rest_s| -rest_s)).map_or(f64::INFINITY, |rest_s| -rest_s);
    let mut places: Vec<(usize, usize)> = Vec::with_capacity(pulls.len());
    for pull in pulls {
        let follows = pull.rest_s.is_some_and(|rest_s| rest_s < LONG * usual_s);
        places.push(match places.last() {
            None => (0, 0),
            Some(&(row, place)) if follows => (row, place + 1),
            Some(&(row, _)) => (row + 1, 0),
        });
    }
    places
}

/// Logarithm of the mean power of the described car in the same row; none where it does not reach the speeds.
fn described(
    car: &Setup,
    pulls: &[&MeasuredPull],
    rpm: &[f64],
) -> Result<Option<Vec<f64>>, CompareError> {
    let bands = pulls.first().map(|pull| &pull.curve.bands[..]);
    let Some([first, .., last]) = bands else {
        return Ok(None);
    };
    let sequence = Sequence {
        setup: car,
        bodies: Bodies::typical(car),
        day: pulls[0].day,
        conditions: Conditions {
            from_rpm: first.rpm,
            to_rpm: last.rpm,
            ..pulls[0].conditions
        },
        pulls: pulls.len(),
        rest_s: 0.0,
        points: POINTS,
    };
    let rests: Vec<Option<f64>> = pulls.iter().skip(1).map(|pull| pull.rest_s).collect();
    let runs = sequence.run_after(&rests)?;
    let level = |run: &crate::dyno::sequence::Run| {
        let of = |get: fn(&crate::dyno::PullPoint) -> f64| -> Vec<f64> {
            run.pull.points.iter().map(get).collect()
        };
        let (xs, ys) = (of(|p| p.rpm), of(|p| p.power_w.ln()));
        // A hair inside the ends, where a speed is the last one and rounding puts it beyond.
        let at = |rpm: f64| straight_between(&xs, &ys, rpm.clamp(*xs.first()?, *xs.last()?));
        let values: Option<Vec<f64>> = rpm.iter().map(|rpm| at(*rpm)).collect();
        values.map(|values| mean(&values))
    };
    Ok(runs.runs.iter().map(level).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Columns y and x of the data set "Norris" of the NIST Statistical Reference Datasets (linear regression, lower difficulty), from memory;
    /// that they are right is shown by the certified values below, which they give to all digits.
    const NORRIS: [(f64, f64); 36] = [
        (0.1, 0.2),
        (338.8, 337.4),
        (118.1, 118.2),
        (888.0, 884.6),
        (9.2, 10.1),
        (228.1, 226.5),
        (668.5, 666.3),
        (998.5, 996.3),
        (449.1, 448.6),
        (778.9, 777.0),
        (559.2, 558.2),
        (0.3, 0.4),
        (0.1, 0.6),
        (778.1, 775.5),
        (668.8, 666.9),
        (339.3, 338.0),
        (448.9, 447.5),
        (10.8, 11.6),
        (557.7, 556.0),
        (228.3, 228.1),
        (998.0, 995.8),
        (888.8, 887.6),
        (119.6, 120.2),
        (0.3, 0.3),
        (0.6, 0.3),
        (557.6, 556.8),
        (339.3, 339.1),
        (888.0, 887.2),
        (998.5, 999.0),
        (778.9, 779.0),
        (10.2, 11.1),
        (117.6, 118.3),
        (228.9, 229.2),
        (668.4, 669.1),
        (449.2, 448.9),
        (0.2, 0.5),
    ];

    /// Slope, its standard error and the residual standard deviation as NIST certifies them (from memory), to nine digits.
    #[test]
    fn one_row_is_the_certified_straight_line() {
        let points: Vec<_> = NORRIS.iter().map(|&(y, x)| (0, x, y)).collect();
        let rows = Rows::of(&points).expect("a line");
        let near = |found: f64, certified: f64| (found / certified - 1.0).abs() < 1e-9;
        assert!(near(rows.slope, 1.002_116_818_020_45), "{}", rows.slope);
        assert!(
            near(rows.slope_error, 0.429_796_848_199_937e-3),
            "{}",
            rows.slope_error
        );
        assert!(
            near(rows.scatter, 0.884_796_396_144_373),
            "{}",
            rows.scatter
        );
        assert_eq!(rows.degrees, 34);
    }

    #[test]
    fn rows_share_a_slope_and_the_rest_between_them_gives_the_rest_back() {
        // Two rows that fall by 1 % a pull, the second starting where the first did: without scatter.
        let points: Vec<_> = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1)]
            .map(|(row, place)| (row, f64::from(place), 5.0 - 0.01 * f64::from(place)))
            .into();
        let rows = Rows::of(&points).expect("rows");
        assert!((rows.slope + 0.01).abs() < 1e-12 && rows.degrees == 2);
        assert!((rows.step(1).0 - 0.02).abs() < 1e-12, "{:?}", rows.step(1));
        // Scatter of one in the second pull's level reaches the step by its weights in it: s²(1/3 + 1/2 + 1.5²/2.5).
        let noisy = Rows {
            scatter: 1.0,
            ..rows
        };
        let expected = (1.0_f64 / 3.0 + 0.5 + 1.5 * 1.5 / 2.5).sqrt();
        assert!((noisy.step(1).1 - expected).abs() < 1e-12);
    }

    #[test]
    fn two_pulls_tell_no_drift() {
        assert!(Rows::of(&[(0, 0.0, 1.0), (0, 1.0, 0.9)]).is_none());
        assert!(Rows::of(&[(0, 0.0, 1.0), (1, 0.0, 0.9), (2, 0.0, 0.9)]).is_none());
    }
}
