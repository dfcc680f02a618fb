//! Curves brought to common engine speeds.
//!
//! Two recordings never fall into the same bands of engine speed. A line through the neighbouring bands gives each pull's
//! reading at round speeds, with the noise it carries; what such a line cuts off a bend it cuts off both sets alike.

use super::contrast::{ContrastError, Entry, OpenPeak};
use crate::numeric::upper_median;
use crate::units;

/// Distance of the engine speeds compared, rpm.
pub const STEP_RPM: f64 = 250.0;
/// Fewest engine speeds that make a comparison: a quarter of a short pull.
const LEAST_POINTS: usize = 4;
/// Bands on either side of a round speed through which the line is drawn, at least and in band widths.
const REACH_RPM: f64 = 125.0;
const REACH_BANDS: f64 = 2.0;

/// A peak so few bands from the end of its curve may be the end and not a peak: noise of single bands moves it by one or two.
const END_BANDS: usize = 2;
/// Curves whose ends lie closer than this end alike, rpm: half the distance of the engine speeds compared.
const SAME_END_RPM: f64 = 0.5 * STEP_RPM;

/// Where two sets are compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Place {
    /// Each pull's highest power.
    PeakPower,
    /// Each pull's highest torque.
    PeakTorque,
    /// An engine speed, rpm.
    Speed(f64),
}

/// A reading of one pull, in logarithms, with the variance of the noise in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    pub(super) rpm: f64,
    pub(super) ln_read: f64,
    pub(super) ln_corrected: f64,
    pub(super) noise_var: f64,
}

/// The mean reading of a set; its noise is that of the mean.
pub(super) type Mean = Reading;

/// The bands of a pull that can be compared: those in which the drums were driven.
#[derive(Debug, Clone)]
pub(super) struct Smooth {
    bands: Vec<Reading>,
    reach_rpm: f64,
}

impl Smooth {
    pub(super) fn of(entry: &Entry) -> Self {
        let bands: Vec<Reading> = entry
            .curve
            .bands
            .iter()
            .enumerate()
            .filter_map(|(i, band)| {
                let electric_w = entry.electric_w.get(i).copied().unwrap_or(0.0);
                let corrected = entry
                    .correction
                    .apply(band.power_w - electric_w, electric_w);
                let sound = band.power_w > 0.0 && corrected.total_w > 0.0;
                sound.then(|| Reading {
                    rpm: band.rpm,
                    ln_read: band.power_w.ln(),
                    ln_corrected: corrected.total_w.ln(),
                    noise_var: (band.power_se_w / band.power_w).powi(2),
                })
            })
            .collect();
        let widths = bands.windows(2).map(|w| w[1].rpm - w[0].rpm);
        let width = upper_median(widths).unwrap_or(0.0);
        Self {
            bands,
            reach_rpm: REACH_RPM.max(REACH_BANDS * width),
        }
    }

    fn range_rpm(&self) -> Option<(f64, f64)> {
        Some((self.bands.first()?.rpm, self.bands.last()?.rpm))
    }

    /// Reading at an engine speed from a line through the bands around it; `None` in a hole.
    pub(super) fn at(&self, rpm: f64) -> Option<Reading> {
        let near: Vec<&Reading> = self
            .bands
            .iter()
            .filter(|b| (b.rpm - rpm).abs() <= self.reach_rpm)
            .collect();
        let n = near.len() as f64;
        let mean_rpm = near.iter().map(|b| b.rpm).sum::<f64>() / n;
        let spread: f64 = near.iter().map(|b| (b.rpm - mean_rpm).powi(2)).sum();
        if near.len() < 2 || spread <= 0.0 {
            return None;
        }
        // Weight of a band in the line's value: 1/n + (x − x̄)(x_j − x̄)/S.
        let mut reading = Reading {
            rpm,
            ln_read: 0.0,
            ln_corrected: 0.0,
            noise_var: 0.0,
        };
        for band in near {
            let weight = 1.0 / n + (rpm - mean_rpm) * (band.rpm - mean_rpm) / spread;
            reading.ln_read += weight * band.ln_read;
            reading.ln_corrected += weight * band.ln_corrected;
            reading.noise_var += weight * weight * band.noise_var;
        }
        Some(reading)
    }

    /// Highest power or, with `torque`, highest torque at engine speed, as read and as corrected, each at its own band; the
    /// engine speed is that of the corrected one.
    fn peak(&self, torque: bool) -> Option<Reading> {
        let scale = |b: &Reading| divisor(b, torque);
        let read = self
            .bands
            .iter()
            .map(|b| b.ln_read - scale(b))
            .max_by(f64::total_cmp)?;
        let highest = &self.bands[self.highest(torque)?];
        Some(Reading {
            ln_read: read,
            ln_corrected: highest.ln_corrected - scale(highest),
            ..*highest
        })
    }

    /// Place of the highest corrected reading among the bands.
    fn highest(&self, torque: bool) -> Option<usize> {
        let at = |i: &usize| self.bands[*i].ln_corrected - divisor(&self.bands[*i], torque);
        (0..self.bands.len()).max_by(|a, b| at(a).total_cmp(&at(b)))
    }

    fn reading(&self, place: Place) -> Option<Reading> {
        match place {
            Place::PeakPower => self.peak(false),
            Place::PeakTorque => self.peak(true),
            Place::Speed(rpm) => self.at(rpm),
        }
    }
}

/// What is taken off the logarithm of power: that of the engine's angular speed where torque is meant.
fn divisor(band: &Reading, torque: bool) -> f64 {
    if torque {
        units::rad_s(band.rpm).ln()
    } else {
        0.0
    }
}

/// A pull whose peak is an end of its curve, or that misses the engine speed of another's peak, while others go on beyond that end:
/// its highest reading is where it was stopped or begun, and says nothing of a gain.
/// Equation (8.9).
pub(super) fn open_peak(
    sets: &[Vec<Smooth>; 2],
    entries: [&[Entry]; 2],
    torque: bool,
) -> Option<OpenPeak> {
    struct Pull {
        of: (usize, usize),
        from_rpm: f64,
        to_rpm: f64,
        peak_rpm: f64,
        /// Whether the peak is the curve's start, and whether its end.
        at: (bool, bool),
    }
    let mut pulls = Vec::new();
    for (s, set) in sets.iter().enumerate() {
        for (i, pull) in set.iter().enumerate() {
            let (from_rpm, to_rpm) = pull.range_rpm()?;
            let highest = pull.highest(torque)?;
            pulls.push(Pull {
                of: (s, i),
                from_rpm,
                to_rpm,
                peak_rpm: pull.bands[highest].rpm,
                at: (
                    highest <= END_BANDS,
                    highest + END_BANDS + 1 >= pull.bands.len(),
                ),
            });
        }
    }
    let first_rpm = pulls
        .iter()
        .map(|p| p.from_rpm)
        .fold(f64::INFINITY, f64::min);
    let last_rpm = pulls.iter().map(|p| p.to_rpm).fold(0.0, f64::max);
    let highest_peak = pulls.iter().map(|p| p.peak_rpm).fold(0.0, f64::max);
    let lowest_peak = pulls
        .iter()
        .map(|p| p.peak_rpm)
        .fold(f64::INFINITY, f64::min);
    let open = |pull: &Pull, top: bool| OpenPeak {
        after: pull.of.0 == 1,
        pull: entries[pull.of.0]
            .get(pull.of.1)
            .map_or_else(String::new, |entry| entry.name.clone()),
        top,
        end_rpm: if top { pull.to_rpm } else { pull.from_rpm },
        furthest_rpm: if top { last_rpm } else { first_rpm },
        at_end: if top { pull.at.1 } else { pull.at.0 },
    };
    // The pull that was stopped first tells most.
    let stopped = pulls.iter().filter(|p| {
        last_rpm - p.to_rpm > SAME_END_RPM && (p.at.1 || highest_peak - p.to_rpm > SAME_END_RPM)
    });
    let begun = pulls.iter().filter(|p| {
        p.from_rpm - first_rpm > SAME_END_RPM && (p.at.0 || p.from_rpm - lowest_peak > SAME_END_RPM)
    });
    stopped
        .min_by(|a, b| a.to_rpm.total_cmp(&b.to_rpm))
        .map(|pull| open(pull, true))
        .or_else(|| {
            begun
                .max_by(|a, b| a.from_rpm.total_cmp(&b.from_rpm))
                .map(|pull| open(pull, false))
        })
}

/// Round engine speeds that every pull of both sets holds.
pub(super) fn grid(sets: &[Vec<Smooth>; 2]) -> Result<Vec<f64>, ContrastError> {
    let all = || sets.iter().flatten();
    let (mut from_rpm, mut to_rpm) = (0.0_f64, f64::INFINITY);
    for pull in all() {
        let (low, high) = pull.range_rpm().unwrap_or((f64::INFINITY, 0.0));
        from_rpm = from_rpm.max(low);
        to_rpm = to_rpm.min(high);
    }
    let mut speeds = Vec::new();
    let mut rpm = (from_rpm / STEP_RPM).ceil() * STEP_RPM;
    while rpm <= to_rpm {
        if all().all(|pull| pull.at(rpm).is_some()) {
            speeds.push(rpm);
        }
        rpm += STEP_RPM;
    }
    if speeds.len() < LEAST_POINTS {
        return Err(ContrastError::NoOverlap {
            from_rpm,
            to_rpm,
            points: speeds.len(),
        });
    }
    Ok(speeds)
}

/// The mean of a set at a place that all its pulls hold.
pub(super) fn mean(set: &[Smooth], place: Place) -> Mean {
    let readings: Vec<Reading> = set.iter().filter_map(|pull| pull.reading(place)).collect();
    let n = readings.len() as f64;
    let average = |of: fn(&Reading) -> f64| readings.iter().map(of).sum::<f64>() / n;
    Reading {
        rpm: average(|r| r.rpm),
        ln_read: average(|r| r.ln_read),
        ln_corrected: average(|r| r.ln_corrected),
        noise_var: average(|r| r.noise_var) / n,
    }
}
