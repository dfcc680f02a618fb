//! The contrast of two sets of pulls: what the second reads more than the first, and whether these pulls can tell it.
//!
//! A second set of pulls always reads something else than the first. How much of that is the work is judged here from the
//! spread of the repeats, the stray of a visit that no repeat shows, and what the weather correction leaves open. The answer
//! is one statement about the whole comparison, every engine speed and both peaks together, so that an unchanged car is not
//! called changed because somewhere among thirty rows one stood out. It refuses curves that do not overlap, and knows nothing
//! of files, nor of why the car gained.
//!
//! ```text
//! ln P(pull, n) = ln P(car, n) + visit + pull + bend(n) + noise(n)
//! gain(n) = mean over the pulls after − mean over the pulls before, of ln P
//! se²(n) = 2 visit² + (pull² + bend²)(1/n_b + 1/n_a) + noise²(n) + weather²
//! range(n) = gain(n) ± c se(n),  c such that all ranges hold together with the chance LEVEL
//! ```

use super::curve::{self, Place, Smooth};
use super::spread::{self, Spread};
use super::weather::WeatherDoubt;
use crate::dyno::Curve;
use crate::dyno::correction::Correction;
use serde::Serialize;

/// One pull, with the air's correction and what of its reading is electric.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What the shop calls it.
    pub name: String,
    /// The curve as read, uncorrected.
    pub curve: Curve,
    /// The correction of its own day.
    pub correction: Correction,
    /// Electric share of the reading at each band, W; empty where nothing is electric.
    pub electric_w: Vec<f64>,
}

/// Two sets of pulls of which the second is held against the first.
#[derive(Debug, Clone, Copy)]
pub struct Contrast<'a> {
    /// The pulls before.
    pub before: &'a [Entry],
    /// The pulls after.
    pub after: &'a [Entry],
    /// Stray of a visit, relative, one standard deviation; zero where the car stayed on the drums between the sets.
    pub visit: f64,
    /// Doubt of the weather correction.
    pub weather: WeatherDoubt,
    /// Seed of the draws behind the common factor `c`; the same seed gives the same ranges.
    pub seed: u64,
}

/// A gain with its range; all relative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// As the drums showed it.
    pub as_read: f64,
    /// What the air did to it: as read less what remains.
    pub weather: f64,
    /// What remains once each pull is corrected for its own day.
    pub remains: f64,
    /// Lower end of the range of what remains.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Gain {
    /// Whether the range leaves out zero.
    pub fn stands_out(&self) -> bool {
        self.low > 0.0 || self.high < 0.0
    }
}

/// Means of the two sets at one place of the curve, and the gain between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Engine speed before and after, rpm; at a peak they may differ.
    pub rpm: (f64, f64),
    /// Uncorrected power before and after, W (torque in N m at the torque peak).
    pub as_read: (f64, f64),
    /// Corrected.
    pub corrected: (f64, f64),
    /// The gain.
    pub gain: Gain,
}

/// Why peaks are not compared: a pull was stopped, or begun, where its highest reading stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OpenPeak {
    /// Whether the pull belongs to the set after.
    pub after: bool,
    /// Its name.
    pub pull: String,
    /// Whether it is the upper end of the curve.
    pub top: bool,
    /// Engine speed of that end, rpm.
    pub end_rpm: f64,
    /// How far the furthest pull of both sets reaches there, rpm.
    pub furthest_rpm: f64,
    /// Whether the highest reading is that end; otherwise the peak of another pull lies beyond it.
    pub at_end: bool,
}

/// What the second set gained on the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Gains {
    /// Peak power, or why it is not compared.
    pub peak_power: Result<Line, OpenPeak>,
    /// Peak torque, referred to engine speed, or why it is not compared.
    pub peak_torque: Result<Line, OpenPeak>,
    /// The curve.
    pub points: Vec<Line>,
    /// Spread of the repeats.
    pub spread: Spread,
    /// The factor `c` on the standard errors.
    pub factor: f64,
    /// The smallest change these pulls can tell, relative: of peak power or, where it is not compared, amid the shared engine speeds.
    pub smallest_detectable: f64,
    /// Standard deviation that the weather correction adds, relative.
    pub weather_sd: f64,
}

impl Gains {
    /// Every statement made.
    pub fn lines(&self) -> impl Iterator<Item = &Line> {
        [&self.peak_power, &self.peak_torque]
            .into_iter()
            .filter_map(|peak| peak.as_ref().ok())
            .chain(&self.points)
    }

    /// Whether the sets can be told apart anywhere.
    pub fn distinguishable(&self) -> bool {
        self.lines().any(|line| line.gain.stands_out())
    }
}

/// Why there is nothing to compare.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ContrastError {
    /// A set without pulls.
    #[error("a set holds no pull")]
    NoPulls,
    /// The curves share too little.
    #[error(
        "the pulls share too few engine speeds to be compared: all of them hold {from_rpm:.0} to {to_rpm:.0} rpm, with {points} rows"
    )]
    NoOverlap {
        /// Highest first engine speed, rpm.
        from_rpm: f64,
        /// Lowest last engine speed, rpm.
        to_rpm: f64,
        /// Rows in between.
        points: usize,
    },
}

impl Contrast<'_> {
    /// Compares.
    pub fn gains(&self) -> Result<Gains, ContrastError> {
        if self.before.is_empty() || self.after.is_empty() {
            return Err(ContrastError::NoPulls);
        }
        let smooth = |entries: &[Entry]| entries.iter().map(Smooth::of).collect::<Vec<_>>();
        let sets = [smooth(self.before), smooth(self.after)];
        let grid = curve::grid(&sets)?;
        let spread = Spread::of(&sets, &grid);
        let entries = [self.before, self.after];
        let open = [false, true].map(|torque| curve::open_peak(&sets, entries, torque));
        let places: Vec<Place> = [Place::PeakPower, Place::PeakTorque]
            .into_iter()
            .zip(&open)
            .filter_map(|(place, open)| open.is_none().then_some(place))
            .chain(grid.iter().map(|rpm| Place::Speed(*rpm)))
            .collect();
        let means: Vec<[curve::Mean; 2]> = places
            .iter()
            .map(|place| sets.each_ref().map(|set| curve::mean(set, *place)))
            .collect();
        let weather_sd = self.weather.sd();
        // One number common to all places: the visits, and what the correction leaves open.
        let common = (2.0 * self.visit * self.visit + weather_sd * weather_sd).sqrt();
        let noise: Vec<f64> = means
            .iter()
            .map(|[b, a]| (b.noise_var + a.noise_var).sqrt())
            .collect();
        let at: Vec<f64> = means
            .iter()
            .map(|[b, a]| f64::midpoint(b.rpm, a.rpm))
            .collect();
        let counts = (self.before.len(), self.after.len());
        let errors = spread::Errors::new(&spread, common, counts, &at, &noise);
        let factor = errors.factor(self.seed);
        let lines: Vec<Line> = means
            .iter()
            .enumerate()
            .map(|(i, [b, a])| line(b, a, factor * errors.standard_error(i)))
            .collect();
        let mut lines = lines.into_iter();
        let place = if open[0].is_none() {
            0
        } else {
            places.len() - grid.len().div_ceil(2)
        };
        let [power, torque] = open;
        let mut peak = |open: Option<OpenPeak>| match open {
            Some(open) => Ok(Err(open)),
            None => lines.next().map(Ok).ok_or(ContrastError::NoPulls),
        };
        let (peak_power, peak_torque) = (peak(power)?, peak(torque)?);
        Ok(Gains {
            peak_power,
            peak_torque,
            points: lines.collect(),
            spread,
            factor,
            smallest_detectable: (factor * errors.standard_error(place)).exp_m1(),
            weather_sd,
        })
    }
}

fn line(before: &curve::Mean, after: &curve::Mean, half_width: f64) -> Line {
    let as_read = (after.ln_read - before.ln_read).exp_m1();
    let ln_remains = after.ln_corrected - before.ln_corrected;
    let remains = ln_remains.exp_m1();
    Line {
        rpm: (before.rpm, after.rpm),
        as_read: (before.ln_read.exp(), after.ln_read.exp()),
        corrected: (before.ln_corrected.exp(), after.ln_corrected.exp()),
        gain: Gain {
            as_read,
            weather: as_read - remains,
            remains,
            low: (ln_remains - half_width).exp_m1(),
            high: (ln_remains + half_width).exp_m1(),
        },
    }
}
