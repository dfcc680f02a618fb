//! Turning parts of the car, and drums as mass at their surface.
//!
//! Exists because an inertia drum credits the car only with its own mass: what spins the engine, shafts and wheels up is not
//! read, and a lower gear hides more. It refuses to know which rig is used.

/// Moments of inertia of a driven line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurningParts {
    /// Crankshaft, flywheel and clutch, kg m²; 0.30 ± 0.08 for a V8, 0.15 for a four (from memory).
    pub engine_kg_m2: f64,
    /// Gearbox input side, kg m²; 0.02 (from memory).
    pub gearbox_input_kg_m2: f64,
    /// Propeller shaft and everything turning with the final drive's input, kg m²; 0.03 to 0.05 (from memory).
    pub shaft_kg_m2: f64,
    /// All wheels of the driven line with tyres and discs, kg m²; 3.2 ± 0.5 for two (from memory).
    pub wheels_kg_m2: f64,
    /// Blower rotors or wheel referred to their shaft, kg m²; 1e-3 to 3e-3 (from memory), 0 without.
    pub blower_kg_m2: f64,
    /// Turns of the blower per turn of the crank.
    pub blower_ratio: f64,
}

impl TurningParts {
    /// Inertia that turns with the crank, kg m²: the blower counts with the square of its ratio.
    /// Source: kinetic energy (derived).
    /// Equation (6.2).
    pub fn at_crank_kg_m2(&self) -> f64 {
        self.engine_kg_m2
            + self.gearbox_input_kg_m2
            + self.blower_kg_m2 * self.blower_ratio * self.blower_ratio
    }

    /// The part of it ahead of the clutch or inside the converter's input, kg m².
    pub fn ahead_of_clutch_kg_m2(&self) -> f64 {
        self.engine_kg_m2 + self.blower_kg_m2 * self.blower_ratio * self.blower_ratio
    }
}

/// Mass equivalent of a drum, kg: `I/R²`.
pub fn drum_mass_kg(inertia_kg_m2: f64, radius_m: f64) -> f64 {
    inertia_kg_m2 / (radius_m * radius_m)
}
