//! An engine on an engine dynamometer: full load held at one speed after another, read at the crankshaft.
//!
//! Exists because a catalogue's curve, or a curve from an engine dynamometer, says something of the engine alone: no gear, tyre or
//! drum stands between, and nothing gathers speed.

use super::Setup;
use crate::air::Day;
use crate::car::{OnADay, OperatingPoint, Slow, Sweep};
use crate::numeric::straight_between;

/// Full load at rising engine speeds.
#[derive(Debug, Clone, PartialEq)]
pub struct CrankCurve {
    /// One point for each speed.
    pub points: Vec<OperatingPoint>,
}

impl Setup {
    /// The engine of the car at `count` equally spaced speeds, each held until a turbocharger's shaft has settled. A cooler is held at
    /// `core_k`, or at the temperature of the air, as that of a test bed is.
    ///
    /// Speeds in rpm, positive and rising; fewer than two points are taken as two.
    pub fn at_the_crank(
        &self,
        day: &Day,
        (from_rpm, to_rpm): (f64, f64),
        core_k: Option<f64>,
        count: usize,
    ) -> CrankCurve {
        let on_day = OnADay::new(&self.car, *day);
        let slow = Slow::settled(core_k.unwrap_or_else(|| day.temperature_k()));
        let mut sweep = Sweep::default();
        let steps = count.max(2) - 1;
        let points = (0..=steps)
            .map(|step| {
                let share = step as f64 / steps as f64;
                on_day.along(from_rpm + (to_rpm - from_rpm) * share, slow, &mut sweep)
            })
            .collect();
        CrankCurve { points }
    }
}

impl CrankCurve {
    /// A figure at any speed of the curve, straight between points; that of the nearest end outside it.
    pub fn reading(&self, rpm: f64, of: impl Fn(&OperatingPoint) -> f64) -> f64 {
        let speeds: Vec<f64> = self.points.iter().map(|p| p.rpm).collect();
        let values: Vec<f64> = self.points.iter().map(of).collect();
        let inside = rpm.clamp(
            speeds.first().copied().unwrap_or(rpm),
            speeds.last().copied().unwrap_or(rpm),
        );
        straight_between(&speeds, &values, inside).unwrap_or(f64::NAN)
    }
}
