//! A response surface in the weather: a car's pulls in some twenty hours stand for its pulls in all of them.
//!
//! Over the weather of one place the logarithm of power at one engine speed bends so little that a quadratic follows it, where no
//! control of boost, knock that sets in or battery puts an edge into it. Where one does, [`Surface::error`] shows it against pulls
//! that took no part in the fit, and whoever asks takes full pulls.

use super::hours::Hour;
use crate::air::Day;
use crate::dyno::Pull;
use crate::units;
use nalgebra::{DMatrix, SMatrix, SVector};

/// Terms of the quadratic.
pub(super) const TERMS: usize = 10;
/// Pulls that a surface is made of: twice as many as it has terms.
pub(super) const PULLS: usize = 20;
/// Hours among which those of a design are looked for, at most.
const CANDIDATES: usize = 4000;
/// Least curve power, over the highest, at which an engine speed may become that of the peak in another hour.
const NEAR_PEAK: f64 = 0.94;

/// The terms of a quadratic in pressure, temperature and humidity.
pub(super) type Terms = [f64; TERMS];

/// How an hour's air is scaled: middle and half range of ln p, T and w.
#[derive(Debug, Clone, Copy)]
struct Scale([(f64, f64); 3]);

fn coordinates(air: &Day) -> [f64; 3] {
    [
        air.station().pa().ln(),
        air.temperature_k(),
        air.humidity_ratio(),
    ]
}

impl Scale {
    fn of(hours: &[Hour]) -> Self {
        let mut ends = [(f64::INFINITY, f64::NEG_INFINITY); 3];
        for hour in hours {
            for (end, x) in ends.iter_mut().zip(coordinates(&hour.air)) {
                *end = (end.0.min(x), end.1.max(x));
            }
        }
        // What does not vary has no term: its column stays empty.
        Self(ends.map(|(low, high)| (f64::midpoint(low, high), 0.5 * (high - low))))
    }

    /// Equation (12.2).
    fn terms(&self, air: &Day) -> Terms {
        let mut x = coordinates(air);
        for (x, (middle, half)) in x.iter_mut().zip(self.0) {
            *x = if half > 1e-9 {
                (*x - middle) / half
            } else {
                0.0
            };
        }
        let [p, t, w] = x;
        [1.0, p, t, w, p * p, t * t, w * w, p * t, p * w, t * w]
    }
}

/// Which hours are pulled, and what turns their pulls into a surface.
#[derive(Debug)]
pub(super) struct Design {
    /// Places of the hours pulled.
    pub(super) hours: Vec<usize>,
    /// Terms of every hour.
    pub(super) terms: Vec<Terms>,
    /// Terms from values at the hours pulled: the pseudo-inverse of their matrix.
    inverse: DMatrix<f64>,
}

impl Design {
    /// Hours that tell the terms best: each in turn is the one about which those before it say least.
    pub(super) fn new(hours: &[Hour]) -> Self {
        let scale = Scale::of(hours);
        let terms: Vec<Terms> = hours.iter().map(|hour| scale.terms(&hour.air)).collect();
        let step = terms.len().div_ceil(CANDIDATES).max(1);
        // Inverse of the information gathered so far; next to none at first.
        let mut doubt = SMatrix::<f64, TERMS, TERMS>::identity() * 1e6;
        let mut chosen = Vec::new();
        for _ in 0..PULLS.min(terms.len()) {
            let unknown = |place: usize| {
                let x = SVector::from(terms[place]);
                (x.transpose() * doubt * x)[0]
            };
            let fresh = (0..terms.len())
                .step_by(step)
                .filter(|p| !chosen.contains(p));
            let Some(next) = fresh.max_by(|&a, &b| unknown(a).total_cmp(&unknown(b))) else {
                break;
            };
            let x = SVector::from(terms[next]);
            let towards = doubt * x;
            doubt -= towards * towards.transpose() / (1.0 + x.dot(&towards));
            chosen.push(next);
        }
        let matrix = DMatrix::from_fn(chosen.len(), TERMS, |row, term| terms[chosen[row]][term]);
        let inverse = matrix
            .pseudo_inverse(1e-9)
            .unwrap_or_else(|_| DMatrix::zeros(TERMS, chosen.len()));
        Self {
            hours: chosen,
            terms,
            inverse,
        }
    }

    /// The terms that follow one value per hour pulled.
    fn fit(&self, values: impl Fn(usize) -> f64) -> Terms {
        std::array::from_fn(|term| {
            (0..self.hours.len())
                .map(|row| self.inverse[(term, row)] * values(row))
                .sum()
        })
    }
}

fn value(fitted: &Terms, at: &Terms) -> f64 {
    fitted.iter().zip(at).map(|(a, b)| a * b).sum()
}

/// Readings of one pull that a spread asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    /// Peak power, W.
    pub(super) power_w: f64,
    /// Electric share of it, W.
    pub(super) electric_w: f64,
    /// Peak torque, N m.
    pub(super) torque_nm: f64,
}

impl Reading {
    pub(super) fn of(pull: &Pull) -> Option<Self> {
        let peak = pull.peak_power()?;
        Some(Self {
            power_w: peak.power_w,
            electric_w: peak.electric_w,
            torque_nm: pull.peak_torque()?.torque_nm,
        })
    }
}

/// The surface of one car: ln of power, and the electric share, at every engine speed.
#[derive(Debug)]
pub(super) struct Surface {
    rpm: Vec<f64>,
    ln_power: Vec<Terms>,
    electric: Option<Vec<Terms>>,
    /// Speeds that may be the peak's.
    peak: Vec<usize>,
    /// Speeds that may be the torque's peak.
    torque: Vec<usize>,
}

impl Surface {
    /// From the pulls in the hours of the design; none where they do not share their engine speeds, or a power is not positive.
    /// Equation (12.2).
    pub(super) fn new(design: &Design, pulls: &[Pull], electric: bool) -> Option<Self> {
        let first = pulls.first()?;
        let rpm: Vec<f64> = first.points.iter().map(|p| p.rpm).collect();
        let alike = |pull: &Pull| {
            pull.points.len() == rpm.len() && pull.points.iter().all(|p| p.power_w > 0.0)
        };
        if !pulls.iter().all(alike) {
            return None;
        }
        let speeds = 0..rpm.len();
        let ln_power = speeds
            .clone()
            .map(|k| design.fit(|row| pulls[row].points[k].power_w.ln()));
        let share = |k: usize| design.fit(|row| pulls[row].points[k].electric_w);
        let near = |of: &dyn Fn(&crate::dyno::PullPoint) -> f64| -> Vec<usize> {
            let tops: Vec<f64> = pulls
                .iter()
                .map(|pull| pull.points.iter().map(of).fold(f64::MIN, f64::max))
                .collect();
            speeds
                .clone()
                .filter(|&k| {
                    pulls
                        .iter()
                        .zip(&tops)
                        .any(|(pull, top)| of(&pull.points[k]) >= NEAR_PEAK * top)
                })
                .collect()
        };
        Some(Self {
            ln_power: ln_power.collect(),
            electric: electric.then(|| speeds.clone().map(share).collect()),
            peak: near(&|p| p.power_w),
            torque: near(&|p| p.torque_nm),
            rpm,
        })
    }

    /// What the pull in an hour of these terms reads.
    pub(super) fn reading(&self, at: &Terms) -> Reading {
        let (mut top, mut place) = (f64::NEG_INFINITY, 0);
        for &k in &self.peak {
            let ln = value(&self.ln_power[k], at);
            if ln > top {
                (top, place) = (ln, k);
            }
        }
        let torque = self
            .torque
            .iter()
            .map(|&k| value(&self.ln_power[k], at) - units::rad_s(self.rpm[k]).ln());
        Reading {
            power_w: top.exp(),
            electric_w: self.electric.as_ref().map_or(0.0, |e| value(&e[place], at)),
            torque_nm: torque.fold(f64::NEG_INFINITY, f64::max).exp(),
        }
    }

    /// Power over engine speed in an hour of these terms.
    pub(super) fn curve(&self, at: &Terms) -> Vec<(f64, f64)> {
        let power = self.ln_power.iter().map(|fitted| value(fitted, at).exp());
        self.rpm.iter().copied().zip(power).collect()
    }

    /// How far the peak power of the surface is from that of a pull, relative.
    pub(super) fn error(&self, at: &Terms, pull: &Pull) -> f64 {
        Reading::of(pull).map_or(f64::INFINITY, |read| {
            self.reading(at).power_w / read.power_w - 1.0
        })
    }
}
