//! What one rig reads of a car beside another: from cars measured on both, with the range that few cars leave.
//!
//! Two rigs that differ by one factor show it in every car alike; what differs from car to car (straps, tyres, days, where a car's tyres
//! sit on another drum) is scatter about it. So each car gives one ratio, the ratios are pooled as logarithms, and Student's
//! distribution says how little few cars tell. It refuses to call either rig right, and to correct a reading already made.
//!
//! ```text
//! d_c = mean over speeds and pulls of ln P_there − the same of ln P_here,   offset = mean of d_c ± t(0.95; n − 1) s/√n
//! ```

use super::compare::drift::student;
use super::compare::levels::{Levels, counted, mean};
use super::compare::{ChargePressure, CompareError, Pulls, WeatherDoubt};
use crate::belief::Noise;
use crate::belief::prior::HALF_WIDTH_90;
use crate::dyno::correction::Standard;
use serde::Serialize;

/// One car on both rigs.
#[derive(Debug, Clone, Copy)]
pub struct Both<'a> {
    /// Its pulls on the rig that the other is held against.
    pub here: Pulls<'a>,
    /// Its pulls on the other rig.
    pub there: Pulls<'a>,
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The cars.
    pub cars: &'a [Both<'a>],
    /// Standard by which weather is corrected.
    pub standard: Standard,
    /// Mechanical efficiency, for the standard that asks for it.
    pub mechanical_efficiency: Option<f64>,
    /// How far readings stray, for a car alone.
    pub noise: Noise,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OffsetError {
    /// No car.
    #[error("no car was measured on both rigs")]
    NoCar,
    /// A drum reads the sum of both axles, and a weather factor may touch the engine's share alone.
    #[error(
        "pulls of '{visit}' hold electric power; measure the cars with their electric axle off, or other cars"
    )]
    Electric {
        /// Name of the visit.
        visit: String,
    },
    /// The pulls of a car cannot be put side by side.
    #[error("'{here}' and '{there}': {error}")]
    Apart {
        /// Visit here.
        here: String,
        /// Visit there.
        there: String,
        /// Why not.
        error: Box<CompareError>,
    },
}

/// The offset.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// Standard of the corrected power.
    pub standard: Standard,
    /// What the other rig reads more, relative; below zero, less.
    pub offset: f64,
    /// Lower end of the range that holds it nine times in ten.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Whether that leaves out zero.
    pub stands_out: bool,
    /// Where the range comes from.
    #[serde(flatten)]
    pub range_from: RangeFrom,
    /// The cars.
    pub cars: Vec<CarLine>,
    /// Chance of a difference as large as this or larger were the rigs alike (two-sided); none for a car alone.
    pub chance_if_alike: Option<f64>,
}

/// Where the range comes from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "range_from", rename_all = "snake_case")]
pub enum RangeFrom {
    /// The scatter of the cars about their mean.
    Cars {
        /// Its standard deviation, relative.
        scatter: f64,
        /// Degrees of freedom.
        degrees: usize,
    },
    /// One car shows no scatter: what is usual from visit to visit and from pull to pull, and what the weather's factor leaves open.
    UsualRepeatability {
        /// Its standard deviation, relative.
        standard_error: f64,
    },
}

/// One car.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CarLine {
    /// Visit here.
    pub here: String,
    /// Visit there.
    pub there: String,
    /// Pulls here and there.
    pub pulls: [usize; 2],
    /// Lowest shared engine speed.
    pub from_rpm: f64,
    /// Highest.
    pub to_rpm: f64,
    /// What the other rig reads more of it, relative.
    pub offset: f64,
    /// The same in the lower and in the upper half of the speeds: two rigs that differ by one factor show the same in both.
    pub halves: [f64; 2],
}

/// The mean of some numbers with its standard error and scatter: `s/√n`, `s² = Σ (d − d̄)²/(n − 1)`.
struct Pooled {
    mean: f64,
    standard_error: f64,
    scatter: f64,
    degrees: usize,
}

impl Pooled {
    /// Of two numbers at least.
    ///
    /// Source: Student (1908), "The probable error of a mean", Biometrika 6: the paired comparison.
    /// Equation (8.17).
    fn of(values: &[f64]) -> Option<Self> {
        let degrees = values.len().checked_sub(1).filter(|n| *n > 0)?;
        let middle = mean(values);
        let squares: f64 = values.iter().map(|d| (d - middle).powi(2)).sum();
        let scatter = (squares / degrees as f64).sqrt();
        Some(Self {
            mean: middle,
            standard_error: scatter / (values.len() as f64).sqrt(),
            scatter,
            degrees,
        })
    }

    /// Half of the range that holds the mean nine times in ten.
    fn half_width(&self) -> f64 {
        student(self.degrees) * self.standard_error
    }

    /// Chance of a mean as far from zero or farther, were it zero.
    fn chance_if_zero(&self) -> f64 {
        use statrs::distribution::{ContinuousCDF, StudentsT};
        let t = (self.mean / self.standard_error).abs();
        StudentsT::new(0.0, 1.0, self.degrees as f64).map_or(f64::NAN, |law| 2.0 * law.sf(t))
    }
}

impl Question<'_> {
    /// Pools the cars.
    pub fn answer(&self) -> Result<Answer, OffsetError> {
        let mut cars = Vec::with_capacity(self.cars.len());
        let mut alone_sd = 0.0;
        for both in self.cars {
            let (line, sd) = self.car(both)?;
            cars.push(line);
            alone_sd = sd;
        }
        let ln: Vec<f64> = cars.iter().map(|car| car.offset.ln_1p()).collect();
        let middle = match ln[..] {
            [] => return Err(OffsetError::NoCar),
            _ => mean(&ln),
        };
        let pooled = Pooled::of(&ln);
        let (half, range_from) = match &pooled {
            Some(pooled) => (
                pooled.half_width(),
                RangeFrom::Cars {
                    scatter: pooled.scatter,
                    degrees: pooled.degrees,
                },
            ),
            None => (
                HALF_WIDTH_90 * alone_sd,
                RangeFrom::UsualRepeatability {
                    standard_error: alone_sd,
                },
            ),
        };
        Ok(Answer {
            standard: self.standard,
            offset: middle.exp_m1(),
            low: (middle - half).exp_m1(),
            high: (middle + half).exp_m1(),
            stands_out: middle.abs() > half,
            range_from,
            cars,
            chance_if_alike: pooled.map(|pooled| pooled.chance_if_zero()),
        })
    }

    /// One car, and the standard error that its ratio has by what is usual.
    fn car(&self, both: &Both<'_>) -> Result<(CarLine, f64), OffsetError> {
        let apart = |error| OffsetError::Apart {
            here: both.here.visit.name.clone(),
            there: both.there.visit.name.clone(),
            error: Box::new(error),
        };
        let side = |of: Pulls<'_>| {
            let found = counted(of, None, self.standard, self.mechanical_efficiency);
            let found = found.map_err(apart)?;
            if found.standard == self.standard {
                Ok(found.entries)
            } else {
                let visit = of.visit.name.clone();
                Err(OffsetError::Electric { visit })
            }
        };
        let (here, there) = (side(both.here)?, side(both.there)?);
        let levels = Levels::of([&here, &there]).map_err(|error| apart(error.into()))?;
        let ratio = |speeds: std::ops::Range<usize>| {
            let of = |set: &Vec<Vec<f64>>| {
                let pulls: Vec<f64> = set.iter().map(|p| mean(&p[speeds.clone()])).collect();
                mean(&pulls)
            };
            of(&levels.ln_w[1]) - of(&levels.ln_w[0])
        };
        let speeds = levels.rpm.len();
        let days = (both.here.visit.pulls[0].day, both.there.visit.pulls[0].day);
        let weather = WeatherDoubt {
            standard: self.standard,
            days,
            charge: (ChargePressure::Follows, ChargePressure::Follows),
            left_in: 0.0,
        };
        let pulls = 1.0 / here.len() as f64 + 1.0 / there.len() as f64;
        let Noise { visit, pull, .. } = self.noise;
        let sd = (2.0 * visit * visit + pull * pull * pulls)
            .sqrt()
            .hypot(weather.sd());
        let line = CarLine {
            here: both.here.visit.name.clone(),
            there: both.there.visit.name.clone(),
            pulls: [here.len(), there.len()],
            from_rpm: levels.rpm[0],
            to_rpm: levels.rpm[speeds - 1],
            offset: ratio(0..speeds).exp_m1(),
            halves: [
                ratio(0..speeds / 2).exp_m1(),
                ratio(speeds / 2..speeds).exp_m1(),
            ],
        };
        Ok((line, sd))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Additional hours of sleep by two medicines in ten patients, as Student (1908) pairs them, and what every text prints of it: mean difference
    /// 1.58, t = 4.062 with 9 degrees of freedom, P = 0.002833, 95 % interval 0.7001 to 2.4599. Data and figures from memory.
    #[test]
    fn the_pooled_difference_is_that_of_students_sleepers() {
        let first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
        let second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
        let differences: Vec<f64> = second.iter().zip(first).map(|(b, a)| b - a).collect();
        let pooled = Pooled::of(&differences).expect("ten");
        // Tolerances: half of the last printed digit.
        assert!((pooled.mean - 1.58).abs() < 5e-3);
        assert!((pooled.mean / pooled.standard_error - 4.062).abs() < 5e-4);
        assert_eq!(pooled.degrees, 9);
        assert!((pooled.chance_if_zero() - 0.002_833).abs() < 5e-7);
        // t(0.95; 9) = 1.833 where the 95 % interval takes t(0.975; 9) = 2.262 (both of every table of the distribution, from memory).
        let half_95 = pooled.half_width() / 1.833 * 2.262;
        assert!((pooled.mean - half_95 - 0.7001).abs() < 1e-3);
        assert!((pooled.mean + half_95 - 2.4599).abs() < 1e-3);
    }

    #[test]
    fn one_number_has_no_scatter() {
        assert!(Pooled::of(&[0.1]).is_none());
    }
}
