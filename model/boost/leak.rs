//! The leak of a displacement blower turned around: which outlet pressure makes it pass a given flow.
//!
//! Exists because the operating point knows the leak it needs and asks for the pressure, millions of times in a fit; so
//! the inversion is closed-form where it can be and a guarded Newton step where it cannot. It refuses nothing: every flow
//! from none to far beyond choking has an answer, strictly monotone.
//!
//! Source: derived by inverting the orifice equation of [`super::orifice`].

use super::orifice::{
    PSI_SMOOTHING, choked_psi_squared, psi_squared, smooth_psi, square_of_smooth_psi,
};
use super::rotors::Heating;
use crate::air::flow::critical_ratio;

/// Pressure ratio at which the leak equals `flow` (in units of `CdA p₁/√(R T₁)`).
///
/// Choked, the equation is a quadratic. Below, the square of the leak is nearly one too (`Ψ² ≈ 2ε − 3ε²/γ`, ε = 1 − 1/x,
/// within 0.3 % down to x = 1.5), which starts Newton close enough to need two steps.
/// Equation (5.1).
pub(crate) fn pressure_ratio_for_leak(flow: f64, heating: Heating, gamma: f64) -> f64 {
    let critical = 1.0 / critical_ratio(gamma);
    let target = flow * flow;
    let (h0, h1) = heating.line();
    // Choked: target (1 + h0 + h1 x) = psi^2 x^2, x the pressure ratio.
    let psi_choked = 0.5 * gamma * (gamma + 1.0) / (critical * critical);
    let c = target * (psi_choked + PSI_SMOOTHING) / (psi_choked * psi_choked);
    let x = 0.5 * (c * h1 + ((c * h1).powi(2) + 4.0 * c * (1.0 + h0)).sqrt());
    if x >= critical {
        return x;
    }
    let leak_square = |x: f64| {
        let a = x.powf(-1.0 / gamma);
        let k = 2.0 * gamma / (gamma - 1.0);
        let f = k * a * (a - 1.0 / x);
        let df = k * a / x * (-2.0 / gamma * a + (1.0 + 1.0 / gamma) / x);
        let smooth = 1.0 / (f + PSI_SMOOTHING);
        let s = f * f * smooth;
        let ds = df * f * (f + 2.0 * PSI_SMOOTHING) * smooth * smooth;
        let cold = 1.0 / (1.0 + h0 + h1 * x);
        let value = x * x * s * cold;
        (value, x * (2.0 * s + x * ds) * cold - value * h1 * cold)
    };
    let (mut low, mut high) = (1.0, critical);
    let mut x = (1.0 + first_rise(target, (h0, h1), gamma)).min(critical);
    for _ in 0..60 {
        let (value, slope) = leak_square(x);
        let error = value - target;
        if error > 0.0 {
            high = x;
        } else {
            low = x;
        }
        let newton = x - error / slope;
        let inside = newton > low && newton < high;
        let next = if inside { newton } else { 0.5 * (low + high) };
        // Newton is quadratic: a step this small leaves an error of about its square.
        if (next - x).abs() <= 1e-7 * (x - 1.0) || high - low <= 1e-15 {
            return next;
        }
        x = next;
    }
    x
}

/// First guess of the pressure ratio less 1: root of `(2 − 3/γ) z² + (2 − t h₁) z = t (1 + h₀ + h₁)`.
fn first_rise(target: f64, (h0, h1): (f64, f64), gamma: f64) -> f64 {
    // The smoothing of the orifice asks for a little more.
    let t = square_of_smooth_psi(target.sqrt());
    let (a, b, c) = (2.0 - 3.0 / gamma, 2.0 - t * h1, t * (1.0 + h0 + h1));
    let root = (b * b + 4.0 * a * c).max(0.0).sqrt();
    if b + root > 0.0 {
        2.0 * c / (b + root)
    } else {
        1.0
    }
}

/// Share of the choked flow up to which the orifice is followed. Near choking the pressure falls without bound; from here
/// on a hyperbola with the same slope takes over, so that the answer stays positive and strictly falling for any flow.
const CHOKING_SHARE: f64 = 0.98;

/// Flow function, pressure ratio and slope where the hyperbola takes over.
fn choking_join(gamma: f64) -> (f64, f64, f64) {
    let psi = CHOKING_SHARE * smooth_psi(choked_psi_squared(gamma));
    let (x, slope) = invert_psi(psi, gamma);
    (psi, x, slope)
}

/// Outlet over inlet pressure when `flow` (in units of `CdA p₁/√(R T₁)`) is drawn through clearances and bypass, and
/// whether they are choked.
/// Equation (5.1).
pub(crate) fn suction_ratio(flow: f64, gamma: f64) -> (f64, bool) {
    if flow <= CHOKING_SHARE * smooth_psi(choked_psi_squared(gamma)) {
        return (invert_psi(flow, gamma).0, false);
    }
    let (join, x, slope) = choking_join(gamma);
    (x / (1.0 - slope * (flow - join) / x), true)
}

/// The inverse of [`suction_ratio`].
pub(crate) fn suction_flow(ratio: f64, gamma: f64) -> (f64, bool) {
    let psi = smooth_psi(psi_squared(ratio, gamma));
    if psi <= CHOKING_SHARE * smooth_psi(choked_psi_squared(gamma)) {
        return (psi, false);
    }
    let (join, x, slope) = choking_join(gamma);
    (join + (x / ratio - 1.0) * x / -slope, true)
}

/// Pressure ratio x in (critical, 1] with smoothed Ψ(x) = psi, and dx/dΨ there (negative).
fn invert_psi(psi: f64, gamma: f64) -> (f64, f64) {
    let target = square_of_smooth_psi(psi);
    let k = 2.0 * gamma / (gamma - 1.0);
    let square = |x: f64| {
        let a = x.powf(1.0 / gamma);
        (
            k * a * (a - x),
            k * a * (2.0 / gamma * a / x - (1.0 + 1.0 / gamma)),
        )
    };
    let (mut low, mut high) = (critical_ratio(gamma), 1.0);
    let mut x = (1.0 - 0.5 * target).max(0.5 * (low + high));
    let mut slope = -2.0;
    for _ in 0..60 {
        let (value, derivative) = square(x);
        slope = derivative;
        let error = value - target;
        if error > 0.0 {
            low = x;
        } else {
            high = x;
        }
        let next = x - error / derivative;
        let next = if next >= low && next <= high {
            next
        } else {
            0.5 * (low + high)
        };
        let step = (next - x).abs();
        x = next;
        if step <= 1e-14 {
            break;
        }
    }
    let smooth = target + PSI_SMOOTHING;
    let dpsi_df = (0.5 * target + PSI_SMOOTHING) / smooth.powf(1.5);
    (x, 1.0 / (dpsi_df * slope))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drawing_and_its_inverse_agree_on_both_sides_of_choking() {
        for flow in [0.01, 0.3, 0.6, 0.67, 0.68, 2.0] {
            let (ratio, choked) = suction_ratio(flow, 1.4);
            let (back, also_choked) = suction_flow(ratio, 1.4);
            assert!((back / flow - 1.0).abs() < 1e-9, "{flow} {ratio} {back}");
            assert_eq!(choked, also_choked);
        }
    }
}
