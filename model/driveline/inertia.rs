//! Turning parts of the car as mass at the roller surface, and the closed forms of a pull and a coast-down.
//!
//! Exists because an inertia drum credits the car only with its own mass: what spins the engine, shafts and wheels up is not
//! read, and a lower gear hides more. The closed forms at the end are what an integrator must reproduce. It refuses to know
//! which rig is used.

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

    /// Equivalent mass at the tyre's surface, kg.
    ///
    /// ```text
    /// m_v = [(I_e + I_in) i_g² i_f² + I_ds i_f² + I_w]/r²
    /// ```
    ///
    /// Source: kinetic energy (derived). `i_f` 3.73, r 0.335, I 0.32/0.03/3.2: 71.90 kg direct, 152.34 kg in 1.74.
    /// Equation (6.2).
    pub fn equivalent_mass_kg(&self, gear_ratio: f64, final_ratio: f64, tyre_radius_m: f64) -> f64 {
        let f2 = final_ratio * final_ratio;
        (self.at_crank_kg_m2() * gear_ratio * gear_ratio * f2
            + self.shaft_kg_m2 * f2
            + self.wheels_kg_m2)
            / (tyre_radius_m * tyre_radius_m)
    }
}

/// Mass equivalent of a drum, kg: `I/R²`.
pub fn drum_mass_kg(inertia_kg_m2: f64, radius_m: f64) -> f64 {
    inertia_kg_m2 / (radius_m * radius_m)
}

/// Time to coast from one speed down to another, s.
///
/// ```text
/// t = m ∫ dv/(F₀ + F₁ v + F₂ v²)
/// ```
///
/// Closed form: arctangent when the quadratic has no real root, logarithms otherwise. All coefficients ≥ 0 and not all 0.
/// 1232.2 kg, 150 + 1.5 v + 0.02 v², 60 → 20 m/s: 205.84 s.
/// Source: derived from Newton's law.
pub fn coast_down_time_s(mass_kg: f64, drag: [f64; 3], from_m_s: f64, to_m_s: f64) -> f64 {
    let [f0, f1, f2] = drag;
    let small = 1e-14;
    if f2 * from_m_s * from_m_s <= small * (f0 + f1 * from_m_s) {
        if f1 * from_m_s <= small * f0 {
            return mass_kg * (from_m_s - to_m_s) / f0;
        }
        return mass_kg / f1 * ((f0 + f1 * from_m_s) / (f0 + f1 * to_m_s)).ln();
    }
    let discriminant = 4.0 * f2 * f0 - f1 * f1;
    let slope = |v: f64| 2.0 * f2 * v + f1;
    if discriminant > small * f1 * f1 {
        let root = discriminant.sqrt();
        return mass_kg * 2.0 / root
            * ((slope(from_m_s) / root).atan() - (slope(to_m_s) / root).atan());
    }
    if discriminant < -small * f1 * f1 {
        let root = (-discriminant).sqrt();
        let part = |v: f64| ((slope(v) - root) / (slope(v) + root)).ln();
        return mass_kg / root * (part(from_m_s) - part(to_m_s));
    }
    mass_kg * (2.0 / slope(to_m_s) - 2.0 / slope(from_m_s))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_forms_of_the_coast_down_join() {
        // F₁² = 4 F₀F₂ exactly at F₁ = 2; a hair to each side must agree.
        let at = |f1| coast_down_time_s(1000.0, [100.0, f1, 0.01], 50.0, 10.0);
        assert!((at(2.0) / at(2.0 + 1e-9) - 1.0).abs() < 1e-6);
        assert!((at(2.0) / at(2.0 - 1e-9) - 1.0).abs() < 1e-6);
        assert!((coast_down_time_s(1000.0, [100.0, 0.0, 0.0], 50.0, 10.0) - 400.0).abs() < 1e-9);
    }

    #[test]
    fn without_inertia_every_gear_reads_alike() {
        let none = TurningParts {
            engine_kg_m2: 0.0,
            gearbox_input_kg_m2: 0.0,
            shaft_kg_m2: 0.0,
            wheels_kg_m2: 0.0,
            blower_kg_m2: 0.0,
            blower_ratio: 2.0,
        };
        assert_eq!(
            none.equivalent_mass_kg(1.0, 3.73, 0.335),
            none.equivalent_mass_kg(1.74, 3.73, 0.335)
        );
    }
}
