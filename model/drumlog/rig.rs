//! The rig of a drum log: its drums, how well they are known, and the car on the road that it may simulate.
//!
//! Drums alone take a force by their inertia. A rig whose machine drives and brakes makes them as heavy as a car and adds a road load, which
//! may be large, or negative where the car on the drums has drags of its own. It refuses to know how the machine does so.

use super::coast_down::Drag;
use super::roll_force::Reads;
use crate::dyno::Drums;

/// No drum's bearings and air take more, N (common practice, no source).
pub const LARGEST_DRAG_N: f64 = 400.0;

/// The drums of a log, and how well they are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rig {
    /// The drums.
    pub drums: Drums,
    /// Standard deviation of the inertia, relative.
    pub inertia_doubt: f64,
    /// Standard deviation of the radius, relative.
    pub radius_doubt: f64,
    /// Whether the log reads turning (rpm, rad/s, counts) and not the surface's speed. Power then does not depend on the radius.
    pub reads_turning: bool,
    /// What the rig makes the car feel, where it simulates a car on the road.
    pub road_load: Option<RoadLoad>,
}

/// A car on the road as a rig simulates it: its machine adds to the drums, or takes from them, what is missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadLoad {
    /// Mass that the car feels at the surface, kg.
    pub mass_kg: f64,
    /// Its standard deviation, relative.
    pub mass_doubt: f64,
    /// Load at each speed; large, or negative where the rig makes up for the car's own drag.
    pub drag: Drag,
}

impl Rig {
    /// Mass that a logged force should feel, kg, and its relative doubt: all of it, or what a brake alone is left with.
    /// Equation (6.35).
    pub fn mass_felt_kg(&self, reads: Reads) -> (f64, f64) {
        let own = self.drums.mass_kg();
        let own_sd = own * self.own_doubt();
        let (felt, felt_sd) = self.road_load.map_or((own, own_sd), |load| {
            (load.mass_kg, load.mass_kg * load.mass_doubt)
        });
        match (reads, self.road_load) {
            (Reads::All, _) => (felt, felt_sd / felt),
            (Reads::BrakeAlone, None) => (0.0, 0.0),
            (Reads::BrakeAlone, Some(_)) => {
                let left = felt - own;
                (
                    left,
                    felt_sd.hypot(own_sd) / left.abs().max(f64::MIN_POSITIVE),
                )
            }
        }
    }

    fn own_doubt(&self) -> f64 {
        self.inertia_doubt.hypot(2.0 * self.radius_doubt)
    }

    /// Mass at the surface by which speed alone tells the force, kg.
    pub fn mass_kg(&self) -> f64 {
        self.mass_felt_kg(Reads::All).0
    }

    /// Force beside the inertia's that the reading contains, N, and its slope with speed: a simulated road load always, the drums' own drag
    /// where the rig adds it back.
    pub(super) fn load(&self, speed_m_s: f64) -> (f64, f64) {
        match self.road_load {
            Some(RoadLoad { drag, .. }) => (drag.at_n(speed_m_s), drag.slope_n_s_m(speed_m_s)),
            None => self.drag_added_back(speed_m_s),
        }
    }

    /// The same of the drums' own drag.
    pub(super) fn drag_added_back(&self, speed_m_s: f64) -> (f64, f64) {
        let drums = &self.drums;
        if drums.drag_added_back {
            (
                drums.drag_at_n(speed_m_s),
                drums.drag_n_s_m + 2.0 * drums.drag_n_s2_m2 * speed_m_s,
            )
        } else {
            (0.0, 0.0)
        }
    }

    /// Doubt that moves all power and torque alike, relative.
    ///
    /// ```text
    /// turning read: P = I α ω          surface read: P = (I/R²) a v
    /// ```
    ///
    /// Equation (6.26).
    pub fn power_doubt(&self) -> f64 {
        if let Some(load) = self.road_load {
            // Mass is stated, not inertia.
            return load.mass_doubt.hypot(if self.reads_turning {
                2.0 * self.radius_doubt
            } else {
                0.0
            });
        }
        let powers = if self.reads_turning { 0.0 } else { 2.0 };
        self.inertia_doubt.hypot(powers * self.radius_doubt)
    }

    /// Doubt that moves all force alike, relative: F = I α/R where turning is read, (I/R²) a where the surface is.
    pub fn force_doubt(&self) -> f64 {
        if let Some(load) = self.road_load {
            return load.mass_doubt.hypot(if self.reads_turning {
                self.radius_doubt
            } else {
                0.0
            });
        }
        let powers = if self.reads_turning { 1.0 } else { 2.0 };
        self.inertia_doubt.hypot(powers * self.radius_doubt)
    }
}
