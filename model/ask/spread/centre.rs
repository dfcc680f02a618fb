//! What the weather alone does: the car at the centre of all beliefs through every hour, and what each correction makes of it.

use super::answer::Slopes;
use super::draw::{Ground, Machine, Way};
use super::{Question, SpreadError};
use crate::air::Day;
use crate::ask::basis::subject_of;
use crate::car::Car;
use crate::dyno::correction::{Breach, Correction, Standard};
use nalgebra::{DMatrix, DVector};

/// Pulls held against the centre's surface.
const HELD_OUT: usize = 40;
/// Hours pulled where no surface stands for them.
const PULLED: usize = 300;

/// The centre's peak in hours.
#[derive(Debug)]
pub(super) struct Centre {
    /// Place of the hour, peak power and its electric share, W.
    pub(super) peaks: Vec<(usize, f64, f64)>,
    /// Whether a surface stands for the pulls.
    pub(super) by_surface: bool,
    /// Errors of the surface at pulls held out.
    pub(super) errors: Vec<f64>,
    /// Engine speeds before and after the work.
    pub(super) rpm: (Vec<f64>, Vec<f64>),
}

impl Ground<'_> {
    /// The centre through the hours, after the work.
    pub(super) fn through(&self, machine: &Machine) -> Result<Centre, SpreadError> {
        let all = self.hours.len();
        let spread = |count: usize| {
            (0..count.min(all)).map(move |k| (2 * k + 1) * all / (2 * count.min(all)))
        };
        let held_out: Vec<usize> = spread(HELD_OUT).collect();
        let (way, held) = self
            .way(machine, &held_out)
            .ok_or(SpreadError::CentreFails)?;
        let middle = self
            .pulls(machine, &self.middle)
            .ok_or(SpreadError::CentreFails)?;
        let by_surface = matches!(way, Way::Surfaces(_));
        let places: Vec<usize> = if by_surface {
            (0..all).collect()
        } else {
            spread(PULLED).collect()
        };
        let read = |place: usize| {
            let reading = self.readings(machine, &way, place)?.1;
            Some((place, reading.power_w, reading.electric_w))
        };
        let peaks = crate::numeric::side_by_side(places.len(), |k| read(places[k]));
        let rpm = |pull: &crate::dyno::Pull| pull.points.iter().map(|p| p.rpm).collect();
        Ok(Centre {
            peaks: peaks
                .into_iter()
                .collect::<Option<_>>()
                .ok_or(SpreadError::CentreFails)?,
            by_surface,
            errors: held.errors,
            rpm: (rpm(&middle.0), rpm(&middle.1)),
        })
    }

    /// Slopes of ln peak against temperature, pressure and humidity together, by least squares over the hours.
    /// Equation (12.5).
    pub(super) fn slopes(&self, centre: &Centre) -> Slopes {
        let ln: Vec<f64> = centre.peaks.iter().map(|peak| peak.1.ln()).collect();
        let of: [&dyn Fn(&Day) -> f64; 3] = [
            &Day::temperature_k,
            &|air| air.station().pa(),
            &Day::humidity_ratio,
        ];
        let columns = of.map(|of| {
            let values: Vec<f64> = centre
                .peaks
                .iter()
                .map(|p| of(&self.hours[p.0].air))
                .collect();
            standardised(&values)
        });
        let matrix = DMatrix::from_fn(ln.len(), 3, |row, column| columns[column].0[row]);
        let (about, _, sd) = standardised_moments(&ln);
        let right = DVector::from_iterator(ln.len(), ln.iter().map(|y| y - about));
        let solved = matrix
            .svd(true, true)
            .solve(&right, 1e-9)
            .unwrap_or_else(|_| DVector::zeros(3));
        let slope = |k: usize| (columns[k].1 > 0.0).then(|| solved[k] / columns[k].1);
        Slopes {
            per_k: slope(0),
            per_pa: slope(1),
            per_kg_kg: slope(2),
            weather_sd: sd,
        }
    }
}

/// Values less their mean, over their standard deviation; zeros where they do not vary.
fn standardised(values: &[f64]) -> (Vec<f64>, f64) {
    let (mean, size, sd) = standardised_moments(values);
    let varies = sd > 1e-9 * size.max(1e-6);
    let scaled = values
        .iter()
        .map(|v| if varies { (v - mean) / sd } else { 0.0 });
    (scaled.collect(), if varies { sd } else { 0.0 })
}

/// Mean, its size, and standard deviation.
fn standardised_moments(values: &[f64]) -> (f64, f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (mean, mean.abs(), (squares / n).sqrt())
}

/// What a correction does to the weather: variance left, taken out and added, each over that of the uncorrected peak.
/// Equation (12.6).
pub(super) fn effect(centre: &Centre, factors: &[f64]) -> (f64, f64, f64) {
    let ln: Vec<f64> = centre.peaks.iter().map(|peak| peak.1.ln()).collect();
    let moved: Vec<f64> = centre
        .peaks
        .iter()
        .map(|&(place, power, electric)| {
            ((factors[place] * (power - electric) + electric) / power).ln()
        })
        .collect();
    let n = ln.len() as f64;
    let (x, y) = (ln.iter().sum::<f64>() / n, moved.iter().sum::<f64>() / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (a, b) in ln.iter().zip(&moved) {
        xx += (a - x) * (a - x);
        xy += (a - x) * (b - y);
        yy += (b - y) * (b - y);
    }
    let follows = -xy / xx;
    let taken_out = 1.0 - (1.0 - follows).powi(2);
    let added = (yy - xy * xy / xx) / xx;
    ((xx + 2.0 * xy + yy) / xx, taken_out, added)
}

/// Standards that are meant for this engine and can be worked out for it.
pub(super) fn standards(question: &Question<'_>, car: &Car, air: &Day) -> Vec<Standard> {
    let subject = subject_of(car, question.mechanical_efficiency);
    let usable = |standard: &Standard| {
        *standard != Standard::None
            && standard.covers(subject.engine)
            && Correction::new(*standard, *air, &subject).is_ok()
    };
    Standard::all().filter(usable).collect()
}

/// The factor of a standard in every hour, and in which share of them the air or the factor is outside what it states.
pub(super) fn factors(
    ground: &Ground<'_>,
    standard: Standard,
    car: &Car,
) -> Result<(Vec<f64>, Option<f64>), SpreadError> {
    let subject = subject_of(car, ground.question.mechanical_efficiency);
    let mut outside = 0_usize;
    let mut factors = Vec::with_capacity(ground.hours.len());
    for hour in ground.hours {
        let correction = Correction::new(standard, hour.air, &subject)?;
        let of_air =
            |breach: &Breach| !matches!(breach, Breach::Engine { .. } | Breach::BoostedConvention);
        outside += usize::from(correction.breaches.iter().any(of_air));
        factors.push(correction.factor);
    }
    let share = outside as f64 / ground.hours.len() as f64;
    Ok((factors, standard.validity().is_stated().then_some(share)))
}
