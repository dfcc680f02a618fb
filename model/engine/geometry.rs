//! Slider-crank geometry of a cylinder: volume, its slope, wall area, piston speed.
//!
//! Exists because every other file of the engine needs one of these. Pin offset is not modelled.
//!
//! Source: derived, exact for a slider-crank with a centred pin.

use crate::numeric::Real;
use std::f64::consts::PI;

/// One cylinder. Angles are radians of crank with 0 at firing top dead centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderGeometry {
    /// Bore, m.
    pub bore_m: f64,
    /// Stroke, m.
    pub stroke_m: f64,
    /// Connecting rod, centre to centre, m (longer than half the stroke).
    pub rod_m: f64,
    /// Geometric compression ratio, above 1.
    pub compression_ratio: f64,
}

impl CylinderGeometry {
    /// Area of the bore, m².
    pub fn piston_area_m2(&self) -> f64 {
        PI / 4.0 * self.bore_m * self.bore_m
    }

    /// Swept volume, m³.
    pub fn swept_volume_m3(&self) -> f64 {
        self.piston_area_m2() * self.stroke_m
    }

    /// Clearance volume `V_c = V_d/(r − 1)`, m³.
    pub fn clearance_volume_m3(&self) -> f64 {
        self.swept_volume_m3() / (self.compression_ratio - 1.0)
    }

    /// Cylinder volume at a crank angle, m³.
    ///
    /// ```text
    /// V = V_c + A_p · [L + R − R cos θ − √(L² − R² sin² θ)],   R = S/2
    /// ```
    ///
    /// Exact for a centred pin. Worked: 95 × 90 mm, rod 150 mm, r = 10 at 90°: 438.825 cm³.
    /// Source: derived.
    /// Equation (3.12).
    pub fn volume_m3(&self, angle_rad: f64) -> f64 {
        self.volume_and_slope(angle_rad).0
    }

    /// Volume, m³, and slope dV/dθ, m³/rad, sharing one sine, cosine and root.
    /// Equation (3.12).
    pub fn volume_and_slope(&self, angle_rad: f64) -> (f64, f64) {
        let crank = self.stroke_m / 2.0;
        let (sin, cos) = angle_rad.sin_cos();
        let lateral = crank * sin;
        let rod_height = (self.rod_m * self.rod_m - lateral * lateral)
            .max(0.0)
            .sqrt();
        let travel = self.rod_m + crank - crank * cos - rod_height;
        let area = self.piston_area_m2();
        let volume = area * self.stroke_m / (self.compression_ratio - 1.0) + area * travel;
        let slope = area * lateral * (1.0 + crank * cos / rod_height.max(1e-9));
        (volume, slope)
    }

    /// Gas-side wall area at a volume, m²: `A = 2 k A_p + 4 V/B`, k the head's area over the bore's.
    /// Equation (3.11).
    pub fn wall_area_m2(&self, volume_m3: f64, head_factor: f64) -> f64 {
        2.0 * head_factor * self.piston_area_m2() + 4.0 * volume_m3 / self.bore_m
    }

    /// Mean piston speed `2 S N/60`, m/s. Worked: 90 mm at 6000 rpm: 18 m/s.
    #[inline(always)]
    pub fn mean_piston_speed_m_s<R: Real>(&self, rpm: R) -> R {
        rpm * self.stroke_m / 30.0
    }
}

/// A whole engine: cylinders alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EngineGeometry {
    /// One cylinder.
    pub cylinder: CylinderGeometry,
    /// How many of them.
    pub cylinders: u32,
}

impl EngineGeometry {
    /// Displacement of all cylinders, m³.
    pub fn displacement_m3(&self) -> f64 {
        self.cylinder.swept_volume_m3() * f64::from(self.cylinders)
    }

    /// Power of a mean effective pressure on a four-stroke, W: `p · V_d · N/120`.
    ///
    /// Worked: 1 bar on 5.1035 litres at 6000 rpm: 25.5 kW.
    #[inline(always)]
    pub fn power_of_mean_pressure_w<R: Real>(&self, mean_pressure_pa: R, rpm: R) -> R {
        mean_pressure_pa * self.displacement_m3() * rpm / 120.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CYLINDER: CylinderGeometry = CylinderGeometry {
        bore_m: 0.095,
        stroke_m: 0.090,
        rod_m: 0.150,
        compression_ratio: 10.0,
    };

    #[test]
    fn dead_centres_hold_the_clearance_and_the_whole_volume() {
        let clearance = CYLINDER.clearance_volume_m3();
        assert!((CYLINDER.volume_m3(0.0) / clearance - 1.0).abs() < 1e-12);
        assert!((CYLINDER.volume_m3(PI) / clearance - 10.0).abs() < 1e-11);
    }

    #[test]
    fn slope_is_the_derivative_of_volume() {
        for degrees in [-150.0_f64, -60.0, -1.0, 0.0, 40.0, 170.0] {
            let (angle, step) = (degrees.to_radians(), 1e-5);
            let difference = (CYLINDER.volume_m3(angle + step) - CYLINDER.volume_m3(angle - step))
                / (2.0 * step);
            assert!((difference - CYLINDER.volume_and_slope(angle).1).abs() < 1e-12);
        }
    }
}
