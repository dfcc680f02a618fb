//! Valves by crank angle: the lift a cam gives, and the area through which gas can pass.
//!
//! Exists so that a cam or a head is told by the numbers on its card: lift, duration, centre line, valve diameter, flow
//! coefficient. It refuses the dynamics of the valve train: a valve follows its cam.
//!
//! Source: curtain area from geometry; flow coefficients after the JSME Mechanical Engineering Dictionary; lift law derived.

use std::f64::consts::PI;

/// Flow coefficient against lift over diameter, straight between two points and held outside them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowCoefficient {
    /// At small lift.
    pub low: f64,
    /// At a lift of a quarter of the diameter and above.
    pub full: f64,
}

/// Inlet: 0.92 at small lift, 0.70 at full (JSME dictionary: 0.90 to 0.95, about 0.7).
pub const INLET_FLOW: FlowCoefficient = FlowCoefficient {
    low: 0.92,
    full: 0.70,
};
/// Exhaust: about 0.1 lower (JSME dictionary).
pub const EXHAUST_FLOW: FlowCoefficient = FlowCoefficient {
    low: 0.82,
    full: 0.60,
};

/// Lift over diameter from which the seat's curtain is larger than the throat.
const FULL_LIFT: f64 = 0.25;

/// The valves of one side of a cylinder, opened by one cam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Valve {
    /// Head diameter, m.
    pub diameter_m: f64,
    /// Valves on this side.
    pub count: u32,
    /// Highest lift, m.
    pub lift_m: f64,
    /// Crank angle from opening to closing, deg.
    pub duration_deg: f64,
    /// Crank angle of highest lift from top dead centre of gas exchange, deg: after it for an inlet, before it for an exhaust.
    pub centre_line_deg: f64,
    /// Flow coefficient referred to the smaller of curtain and throat.
    pub flow: FlowCoefficient,
}

/// A cam with what it opens, at absolute crank angles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Opening {
    pub(super) opens_rad: f64,
    pub(super) closes_rad: f64,
    centre_rad: f64,
    half_rad: f64,
    lift_m: f64,
    diameter_m: f64,
    count: f64,
    flow: FlowCoefficient,
}

/// Share of the highest lift at a place z of the opening (−1 opens, 0 centre line, 1 closes): `(1 − z²)²`.
///
/// Smooth at both ends, mean 8/15. A cam of the usual kind is a little fuller (mean 0.55 to 0.60, from memory); common practice,
/// no source. Source: derived, the lowest even polynomial that leaves and reaches the seat without speed.
/// Equation (9.3).
fn lift_share(z: f64) -> f64 {
    let s = (1.0 - z * z).max(0.0);
    s * s
}

impl Valve {
    /// Effective area at a lift, m²: `n · min(π D l, π D²/4) · C_d(l/D)`.
    ///
    /// Source: geometry of a disc over its seat; seat angle and stem are in the coefficient.
    /// Equation (9.4).
    pub fn effective_area_m2(&self, lift_m: f64) -> f64 {
        area(self.diameter_m, f64::from(self.count), &self.flow, lift_m)
    }

    /// Mean effective area over the open period against the area of the heads.
    pub fn mean_flow_coefficient(&self) -> f64 {
        const STEPS: u32 = 200;
        let heads = f64::from(self.count) * PI / 4.0 * self.diameter_m * self.diameter_m;
        let sum: f64 = (0..STEPS)
            .map(|k| {
                let z = (2.0 * f64::from(k) + 1.0) / f64::from(STEPS) - 1.0;
                self.effective_area_m2(self.lift_m * lift_share(z))
            })
            .sum();
        sum / f64::from(STEPS) / heads
    }

    /// As an inlet, its centre line after the top dead centre of gas exchange (360°).
    pub(super) fn inlet(&self) -> Opening {
        self.opening(2.0 * PI + self.centre_line_deg.to_radians())
    }

    /// As an exhaust, its centre line before that dead centre.
    pub(super) fn exhaust(&self) -> Opening {
        self.opening(2.0 * PI - self.centre_line_deg.to_radians())
    }

    fn opening(&self, centre_rad: f64) -> Opening {
        let half_rad = 0.5 * self.duration_deg.to_radians();
        Opening {
            opens_rad: centre_rad - half_rad,
            closes_rad: centre_rad + half_rad,
            centre_rad,
            half_rad,
            lift_m: self.lift_m,
            diameter_m: self.diameter_m,
            count: f64::from(self.count),
            flow: self.flow,
        }
    }
}

fn area(diameter_m: f64, count: f64, flow: &FlowCoefficient, lift_m: f64) -> f64 {
    let share = (lift_m / (FULL_LIFT * diameter_m)).min(1.0);
    let throat = PI / 4.0 * diameter_m * diameter_m;
    count * throat * share * (flow.low + share * (flow.full - flow.low))
}

impl Opening {
    /// Effective area at an absolute crank angle, m².
    pub(super) fn area_m2(&self, angle_rad: f64) -> f64 {
        let z = (angle_rad - self.centre_rad) / self.half_rad;
        if z.abs() >= 1.0 {
            return 0.0;
        }
        area(
            self.diameter_m,
            self.count,
            &self.flow,
            self.lift_m * lift_share(z),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VALVE: Valve = Valve {
        diameter_m: 0.036,
        count: 2,
        lift_m: 0.0095,
        duration_deg: 245.0,
        centre_line_deg: 112.0,
        flow: INLET_FLOW,
    };

    #[test]
    fn area_is_the_curtain_until_the_throat_and_then_stays() {
        let throat = 2.0 * PI / 4.0 * 0.036_f64.powi(2);
        assert!((VALVE.effective_area_m2(0.009) - 0.70 * throat).abs() < 1e-12);
        assert_eq!(
            VALVE.effective_area_m2(0.012),
            VALVE.effective_area_m2(0.009)
        );
        let small = VALVE.effective_area_m2(1e-5);
        assert!((small / (2.0 * PI * 0.036 * 1e-5 * 0.92) - 1.0).abs() < 1e-3);
        // Same size as the 0.35 that the mean-value breathing takes from Taylor; by hand from ten lifts: 0.415.
        assert!((VALVE.mean_flow_coefficient() - 0.415).abs() < 0.005);
    }

    #[test]
    fn an_inlet_opens_before_and_closes_after_its_stroke() {
        let inlet = VALVE.inlet();
        assert!((inlet.opens_rad.to_degrees() - 349.5).abs() < 1e-9);
        assert!((inlet.closes_rad.to_degrees() - 594.5).abs() < 1e-9);
        assert_eq!(inlet.area_m2(inlet.closes_rad), 0.0);
        assert!(VALVE.exhaust().area_m2(248f64.to_radians()) > 0.0);
    }
}
