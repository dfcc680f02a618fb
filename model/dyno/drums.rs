//! Drums as a mass at their surface, with the drag of their bearings and the air.
//!
//! A drum is described by what its maker states: moment of inertia and radius. Two axles may share one surface speed
//! (linked) or turn separate drums; then the second axle's power is read apart and the engine's axle is not credited
//! with the second drum's mass.

/// How two axles' drums are joined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coupling {
    /// One drum, under the driven axle.
    Single,
    /// Both axles' drums turn at one surface speed; the inertia stated is that of both.
    Linked,
    /// Each axle has its own; the inertia stated is the engine axle's.
    Separate {
        /// Moment of inertia of the second axle's drum, kg m².
        second_inertia_kg_m2: f64,
    },
}

/// Drums of an inertia dynamometer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drums {
    /// Moment of inertia, kg m², referred to the drum of this radius.
    pub inertia_kg_m2: f64,
    /// Radius, m.
    pub radius_m: f64,
    /// Drag at the surface at rest, N.
    pub drag_n: f64,
    /// Growth of that drag with speed squared, N s²/m².
    pub drag_n_s2_m2: f64,
    /// Whether the rig adds its own drag back to the reading.
    pub drag_added_back: bool,
    /// How a second axle is carried.
    pub coupling: Coupling,
}

impl Drums {
    /// Mass at the surface, kg: `I/R²`.
    pub fn mass_kg(&self) -> f64 {
        self.inertia_kg_m2 / (self.radius_m * self.radius_m)
    }

    /// Mass of the second axle's drum at the surface where it turns apart, kg.
    pub fn second_mass_kg(&self) -> Option<f64> {
        match self.coupling {
            Coupling::Separate {
                second_inertia_kg_m2,
            } => Some(second_inertia_kg_m2 / (self.radius_m * self.radius_m)),
            Coupling::Single | Coupling::Linked => None,
        }
    }

    /// Drag at the surface, N.
    pub fn drag_at_n(&self, speed_m_s: f64) -> f64 {
        self.drag_n + self.drag_n_s2_m2 * speed_m_s * speed_m_s
    }

    /// Power the rig reports when its surface accelerates, W.
    pub fn reading_w(&self, mass_kg: f64, acceleration_m_s2: f64, speed_m_s: f64) -> f64 {
        let drag = if self.drag_added_back {
            self.drag_at_n(speed_m_s)
        } else {
            0.0
        };
        (mass_kg * acceleration_m_s2 + drag) * speed_m_s
    }
}
