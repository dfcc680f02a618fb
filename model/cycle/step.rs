//! One step of the classical Runge-Kutta method over a fixed number of states.
//!
//! Exists because both halves of the cycle march with it. A fixed step was chosen by measurement: see `docs/validation.md`, where it
//! stands beside an adaptive method of the same equations. It refuses to choose the step.
//!
//! Source: classical fourth-order Runge-Kutta (from memory).

/// States after a step `h` from `y` at `x`, where the slope is `k1`.
pub(super) fn runge_kutta<const N: usize>(
    slope: &mut impl FnMut(f64, &[f64; N]) -> [f64; N],
    k1: &[f64; N],
    x: f64,
    h: f64,
    y: &[f64; N],
) -> [f64; N] {
    let along = |k: &[f64; N], h: f64| -> [f64; N] { std::array::from_fn(|i| y[i] + h * k[i]) };
    let k2 = slope(x + 0.5 * h, &along(k1, 0.5 * h));
    let k3 = slope(x + 0.5 * h, &along(&k2, 0.5 * h));
    let k4 = slope(x + h, &along(&k3, h));
    std::array::from_fn(|i| y[i] + h / 6.0 * (k1[i] + 2.0 * (k2[i] + k3[i]) + k4[i]))
}
