//! Effectiveness of heat exchangers from their number of transfer units.
//!
//! Exists for coolers described by size rather than by a rated effectiveness, and to hold every arrangement in one place
//! with the sign of the cross-flow approximation settled. It refuses phase change other than the capacity ratio 0.

/// How the two streams pass each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrangement {
    /// Both the same way.
    Parallel,
    /// Against each other.
    Counterflow,
    /// At right angles, neither stream mixed across itself: a finned charge-air core.
    CrossflowUnmixed,
    /// The common closed-form approximation of [`Self::CrossflowUnmixed`], within about 1 % for NTU near 2.
    CrossflowUnmixedApproximate,
    /// At right angles, the stream of the smaller heat capacity rate mixed.
    CrossflowSmallerMixed,
    /// At right angles, the stream of the larger heat capacity rate mixed.
    CrossflowLargerMixed,
}

/// Terms after which the Poisson series has converged for every NTU a car carries; beyond that the sum stops anyway.
const SERIES_LIMIT: u32 = 4000;

impl Arrangement {
    /// Effectiveness: heat moved over the most the smaller capacity rate could carry.
    ///
    /// ```text
    /// parallel      (1 − e^(−N(1+c)))/(1+c)
    /// counterflow   (1 − q)/(1 − c q),  q = e^(−N(1−c));  N/(1+N) at c = 1
    /// unmixed       1/(cN) Σ_k (1 − Σ_{j≤k} e^(−N) N^j/j!)(1 − Σ_{j≤k} e^(−cN)(cN)^j/j!)
    /// approximate   1 − exp[(N^0.22/c)(e^(−c N^0.78) − 1)]
    /// smaller mixed 1 − exp[−(1 − e^(−cN))/c]
    /// larger mixed  (1 − exp[−c(1 − e^(−N))])/c
    /// ```
    ///
    /// `N = UA/C_min` ≥ 0, `c = C_min/C_max` in 0..1. All become 1 − e^(−N) at c = 0. The inner exponent of the approximation
    /// is negative; a widely copied text prints it positive, which gives values above 1. Source: Mason's series and the
    /// forms of the `ht` 1.2.0 library (Kays and London). N = 2, c = 0.5: 0.774600 counterflow, 0.732409 unmixed.
    /// Equation (5.6).
    pub fn effectiveness(self, transfer_units: f64, capacity_ratio: f64) -> f64 {
        let n = transfer_units.max(0.0);
        let c = capacity_ratio.clamp(0.0, 1.0);
        // Below this ratio the second stream's temperature change is lost in rounding.
        if c < 1e-12 {
            return -(-n).exp_m1();
        }
        match self {
            Self::Parallel => -(-n * (1.0 + c)).exp_m1() / (1.0 + c),
            Self::Counterflow => counterflow(n, c),
            Self::CrossflowUnmixed => unmixed(n, c),
            Self::CrossflowUnmixedApproximate => {
                -(n.powf(0.22) / c * (-c * n.powf(0.78)).exp_m1()).exp_m1()
            }
            Self::CrossflowSmallerMixed => -((-c * n).exp_m1() / c).exp_m1(),
            Self::CrossflowLargerMixed => -(c * (-n).exp_m1()).exp_m1() / c,
        }
    }
}

fn counterflow(n: f64, c: f64) -> f64 {
    // (1 − q)/(1 − c q) written with expm1, so that c → 1 needs no separate branch until the difference vanishes.
    let gap = 1.0 - c;
    if gap < 1e-12 {
        return n / (1.0 + n);
    }
    let lost = -(-n * gap).exp_m1();
    lost / (gap + c * lost)
}

fn unmixed(n: f64, c: f64) -> f64 {
    if n < 1e-9 {
        return n;
    }
    let mut term_hot = (-n).exp();
    let mut term_cold = (-c * n).exp();
    // 1 − partial Poisson sums; exp_m1 keeps the first one exact for small NTU.
    let (mut rest_hot, mut rest_cold) = (-(-n).exp_m1(), -(-c * n).exp_m1());
    let mut sum = 0.0;
    for k in 1..=SERIES_LIMIT {
        let product = rest_hot * rest_cold;
        sum += product;
        if product <= 1e-17 * sum {
            break;
        }
        let k = f64::from(k);
        term_hot *= n / k;
        term_cold *= c * n / k;
        rest_hot = (rest_hot - term_hot).max(0.0);
        rest_cold = (rest_cold - term_cold).max(0.0);
    }
    sum / (c * n)
}

/// Heat moved, W: `Q = ε C_min (T_hot − T_cold)`.
pub fn heat_w(
    effectiveness: f64,
    smaller_capacity_w_k: f64,
    hot_inlet_k: f64,
    cold_inlet_k: f64,
) -> f64 {
    effectiveness * smaller_capacity_w_k * (hot_inlet_k - cold_inlet_k)
}

/// Number of transfer units: `N = UA/C_min`.
pub fn transfer_units(conductance_w_k: f64, smaller_capacity_w_k: f64) -> f64 {
    conductance_w_k / smaller_capacity_w_k
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_capacity_counterflow_joins_without_a_step() {
        let at = |c| Arrangement::Counterflow.effectiveness(3.0, c);
        assert!((at(1.0) - 0.75).abs() < 1e-15);
        // d(eps)/dc at c = 1 is about -0.28, so 1e-9 away the value moves by 3e-10.
        assert!((at(1.0 - 1e-9) - 0.75).abs() < 1e-9);
    }
}
