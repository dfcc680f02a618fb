//! What was measured: pulls with the day they were made on, grouped into visits to the drums.
//!
//! Everything that strays with the visit (straps, tyre temperature, the rig's own calibration that day) is shared by its pulls;
//! everything that strays with the pull is its own. The fit keeps the two apart, because repeating a pull averages
//! only the second.

use crate::air::Day;
use crate::belief::MeasuredSpeeds;
use crate::dyno::{Band, Conditions, Curve};

/// Where the power of a curve was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ReadAt {
    /// On the drums, while the car gathers speed.
    #[default]
    Drums,
    /// At the crankshaft, on an engine dynamometer or in a catalogue: each speed held.
    Crank,
}

/// One measured pull, or a curve of the engine alone.
#[derive(Debug, Clone)]
pub struct MeasuredPull {
    /// What the shop calls it.
    pub name: String,
    /// Where its power was read.
    pub read_at: ReadAt,
    /// How far its level may be off beside its visit's, relative; `None` for the repeatability of pulls.
    pub level_doubt: Option<f64>,
    /// The air it was made in.
    pub day: Day,
    /// How it was started. Start and end speed are taken from the curve; the core temperature, where not stated, from
    /// the pull before.
    pub conditions: Conditions,
    /// Time since the end of the pull before, s; `None` for the first of a visit or a rested car.
    pub rest_s: Option<f64>,
    /// The curve.
    pub curve: Curve,
}

/// Engine speeds that bands cover.
pub fn speeds(bands: &[Band]) -> Option<MeasuredSpeeds> {
    let (first, last) = (bands.first()?, bands.last()?);
    Some(MeasuredSpeeds {
        from_rpm: first.rpm,
        to_rpm: last.rpm,
    })
}

/// Pulls made without taking the car off the drums.
#[derive(Debug, Clone)]
pub struct Visit {
    /// What the shop calls it.
    pub name: String,
    /// The pulls, in the order made.
    pub pulls: Vec<MeasuredPull>,
}

impl Visit {
    /// The pulls on the drums.
    pub fn on_drums(&self) -> impl Iterator<Item = &MeasuredPull> {
        self.pulls.iter().filter(|p| p.read_at == ReadAt::Drums)
    }

    /// The pulls on the drums as the car is driven: with the electric axle on or, if there is none, all of them.
    pub fn as_driven(&self) -> Vec<&MeasuredPull> {
        let on: Vec<_> = self.on_drums().filter(|p| p.conditions.axle.on).collect();
        if on.is_empty() {
            self.on_drums().collect()
        } else {
            on
        }
    }

    /// Engine speeds over which all pulls that [`Self::as_driven`] counts were read.
    pub fn read_over(&self) -> Option<MeasuredSpeeds> {
        let pulls = self.as_driven().into_iter();
        pulls
            .filter_map(|pull| speeds(&pull.curve.bands))
            .reduce(|all, one| all.with(Some(one)))
    }

    /// Peak power read in this visit, W: the mean over those pulls; `None` without a reading.
    pub fn read_w(&self) -> Option<f64> {
        let peaks: Vec<f64> = self
            .as_driven()
            .into_iter()
            .filter_map(|pull| {
                pull.curve
                    .bands
                    .iter()
                    .map(|b| b.power_w)
                    .max_by(f64::total_cmp)
            })
            .collect();
        (!peaks.is_empty()).then(|| peaks.iter().sum::<f64>() / peaks.len() as f64)
    }
}
