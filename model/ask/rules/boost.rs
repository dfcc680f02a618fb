//! Boost as logged against boost as declared: where it lies above, by how much, for how long.
//!
//! A reading is the mean of the log over a band of engine speed, as everywhere: it sees no spike shorter than that. Where nothing is declared, or
//! nothing logged, it refuses to judge.

use super::{Declared, Question, RulesError, Source, Standing};
use crate::belief::Noise;
use crate::fit::observation::MeasuredPull;
use crate::numeric::straight_between;
use serde::Serialize;

/// Boost of all pulls.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Boost {
    /// How it stands.
    pub standing: Standing,
    /// What is let pass, Pa.
    pub tolerance_pa: f64,
    /// Lowest and highest engine speed at which it was looked at.
    pub speeds_rpm: (f64, f64),
    /// Width of engine speed over which a reading of the log is a mean.
    pub band_rpm: f64,
    /// Stretches above what was declared.
    pub over: Vec<Stretch>,
    /// Largest reading less what was declared, Pa; below zero where all lie below.
    pub nearest_pa: f64,
    /// One standard deviation of a shop's pressure sensor, Pa.
    pub sensor_pa: f64,
}

/// Engine speeds in a row at which boost lies above what was declared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stretch {
    /// The pull.
    pub pull: String,
    /// First of them.
    pub from_rpm: f64,
    /// Last of them.
    pub to_rpm: f64,
    /// How long the pull was there, s; none where the log does not tell.
    pub duration_s: Option<f64>,
    /// Most above what was declared, Pa.
    pub excess_pa: f64,
    /// What was declared there, Pa.
    pub declared_pa: f64,
    /// Where.
    pub at_rpm: f64,
    /// How it stands.
    pub standing: Standing,
}

impl Question<'_> {
    /// Boost against what was declared, band by band.
    pub(super) fn boost(&self, declared: &Declared) -> Result<Boost, RulesError> {
        let Source::Measured { pulls, .. } = self.source else {
            return Err(RulesError::BoostOfQuote);
        };
        let mut boost = Boost {
            standing: Standing::Pass,
            tolerance_pa: declared.tolerance_pa,
            speeds_rpm: (f64::INFINITY, 0.0),
            band_rpm: 0.0,
            over: Vec::new(),
            nearest_pa: f64::NEG_INFINITY,
            sensor_pa: Noise::default().manifold.offset,
        };
        for pull in &pulls.visit.pulls {
            boost.add(declared, pull);
        }
        if boost.nearest_pa == f64::NEG_INFINITY {
            return Err(RulesError::NoBoost);
        }
        let worst = boost.over.iter().map(|stretch| stretch.standing).max();
        boost.standing = worst.unwrap_or(Standing::Pass);
        Ok(boost)
    }
}

impl Declared {
    /// What is declared at an engine speed, Pa; none outside the speeds of a curve.
    fn at(&self, rpm: f64) -> Option<f64> {
        if let [(_, pa)] = self.points[..] {
            return Some(pa);
        }
        let (xs, ys): (Vec<f64>, Vec<f64>) = self.points.iter().copied().unzip();
        straight_between(&xs, &ys, rpm)
    }
}

impl Boost {
    /// Looks at one pull.
    fn add(&mut self, declared: &Declared, pull: &MeasuredPull) {
        let station_pa = pull.day.station().pa();
        let mut open: Option<Stretch> = None;
        self.band_rpm = pull.curve.band_rpm;
        for band in &pull.curve.bands {
            let Some((manifold_pa, declared_pa)) = band.manifold_pa.zip(declared.at(band.rpm))
            else {
                self.over.extend(open.take());
                continue;
            };
            let excess_pa = manifold_pa - station_pa - declared_pa;
            self.nearest_pa = self.nearest_pa.max(excess_pa);
            let (low, high) = self.speeds_rpm;
            self.speeds_rpm = (low.min(band.rpm), high.max(band.rpm));
            if excess_pa <= 0.0 {
                self.over.extend(open.take());
                continue;
            }
            let seconds = pull.curve.rig.interval_s.map(|s| s * band.samples as f64);
            let stretch = open.get_or_insert_with(|| Stretch {
                pull: pull.name.clone(),
                from_rpm: band.rpm,
                to_rpm: band.rpm,
                duration_s: pull.curve.rig.interval_s.map(|_| 0.0),
                excess_pa: 0.0,
                declared_pa,
                at_rpm: band.rpm,
                standing: Standing::Pass,
            });
            stretch.to_rpm = band.rpm;
            stretch.duration_s = stretch
                .duration_s
                .zip(seconds)
                .map(|(sum, more)| sum + more);
            if excess_pa > stretch.excess_pa {
                stretch.excess_pa = excess_pa;
                stretch.declared_pa = declared_pa;
                stretch.at_rpm = band.rpm;
            }
            stretch.standing = Standing::of(stretch.excess_pa, 0.0, declared.tolerance_pa);
        }
        self.over.extend(open);
    }
}
