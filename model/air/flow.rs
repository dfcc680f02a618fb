//! Flow through restrictions: orifices, throttle blades, leaks, and the lumped loss of a duct.
//!
//! One orifice equation serves throttle, valve, wastegate, bypass and leakage, so they choke alike.
//! Within 0.1 % of equal pressures the square root's infinite slope is replaced by a cubic, or
//! every solver above would stall there; elsewhere the equation is exact. It does not model
//! pulsation, and a discharge coefficient is the caller's.

use super::gas::PerfectGas;
use crate::numeric::Real;
use std::f64::consts::PI;

/// Largest `1 − x` in which the flow function is regularised: 100 Pa in one atmosphere.
const SMALL_DROP: f64 = 1e-3;

/// Pressure ratio at and below which an orifice is choked: `(2/(γ+1))^(γ/(γ−1))`.
///
/// Worked: γ 1.4 gives 0.52828.
/// Equation (1.7).
pub fn critical_ratio(gamma: f64) -> f64 {
    (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0))
}

/// A gas with what the orifice equation needs of it, computed once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OrificeGas {
    gas: PerfectGas,
    inverse_gamma: f64,
    scale: f64,
    critical_ratio: f64,
    choked_psi: f64,
    small_linear: f64,
    small_cubic: f64,
    small_drop: f64,
}

/// A pressure and temperature on one side of an orifice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Side {
    /// Total pressure, Pa.
    pub pressure_pa: f64,
    /// Total temperature, K.
    pub temperature_k: f64,
}

/// What an orifice does with a flow that has to go through it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Passage {
    /// It passes, leaving this pressure downstream.
    Passes {
        /// Pressure downstream, Pa.
        downstream_pa: f64,
    },
    /// It is choked: no downstream pressure would let so much through.
    Choked {
        /// The most it can pass, kg/s.
        limit_kg_s: f64,
    },
}

impl OrificeGas {
    /// For a perfect gas with gamma above 1.
    pub fn new(gas: PerfectGas) -> Self {
        Self::softened(gas, SMALL_DROP)
    }

    /// The same with the cubic reaching further than a drop of 0.1 %, for an integrator that must not be stiff at equal pressures.
    ///
    /// Within `small_drop` (below 0.1) of equal pressures the flow falls short by at most 20 % of Ψ at its end.
    /// Equation (1.11).
    pub fn softened(gas: PerfectGas, small_drop: f64) -> Self {
        let g = gas.gamma;
        let scale = 2.0 * g / (g - 1.0);
        let mut this = Self {
            gas,
            inverse_gamma: 1.0 / g,
            scale,
            critical_ratio: critical_ratio(g),
            choked_psi: g.sqrt() * (2.0 / (g + 1.0)).powf((g + 1.0) / (2.0 * (g - 1.0))),
            small_linear: 0.0,
            small_cubic: 0.0,
            small_drop,
        };
        // a u + b u³ with the value and slope of the exact curve at u = small_drop: odd, so it is
        // smooth through zero flow.
        let (value, slope) = this.exact_psi_and_slope(1.0 - small_drop);
        let slope = -slope;
        let chord = value / small_drop;
        this.small_linear = 0.5 * (3.0 * chord - slope);
        this.small_cubic = 0.5 * (slope - chord) / (small_drop * small_drop);
        this
    }

    /// Slope of the flow function by the drop of pressure, where it is steepest: at equal pressures.
    pub const fn steepest(&self) -> f64 {
        self.small_linear
    }

    /// Critical pressure ratio of this gas.
    pub const fn critical_ratio(&self) -> f64 {
        self.critical_ratio
    }

    /// `x^(1/γ) √(2γ/(γ−1) (1 − x^((γ−1)/γ)))`, written with one power.
    fn exact_psi(&self, x: f64) -> f64 {
        let y = x.powf(self.inverse_gamma);
        (self.scale * y * (y - x)).max(0.0).sqrt()
    }

    /// Flow function of the pressure ratio `x = p_down/p_up`; 0 from x = 1 on.
    ///
    /// ```text
    /// x > x_crit:  Ψ = x^(1/γ) √(2γ/(γ−1) (1 − x^((γ−1)/γ)))
    /// x ≤ x_crit:  Ψ = √γ (2/(γ+1))^((γ+1)/(2(γ−1)))
    /// ```
    ///
    /// For x > 0.999 a cubic replaces the square root; it falls short of it by at most 20 % of
    /// Ψ(0.999), near a drop of 16 Pa.
    /// Source: total-pressure Mach form, NASA Glenn, Mass Flow Choking. Worked: γ 1.4 gives at most
    /// 0.68473.
    /// Equation (1.7).
    pub fn psi(&self, x: f64) -> f64 {
        if x <= self.critical_ratio {
            return self.choked_psi;
        }
        let drop = 1.0 - x;
        if drop > self.small_drop {
            // Rounding must not lift it above the choked value.
            self.exact_psi(x).min(self.choked_psi)
        } else if drop > 0.0 {
            drop * (self.small_linear + self.small_cubic * drop * drop)
        } else {
            0.0
        }
    }

    /// Mass flow through an effective area, kg/s, from upstream to downstream; 0 when the pressure
    /// does not fall.
    ///
    /// ```text
    /// ṁ = (C_d A) p₀ /√(R T₀) Ψ(p/p₀)
    /// ```
    ///
    /// Worked: choked air, 1 cm², 101 325 Pa, 288.15 K gives 0.024124 kg/s.
    /// Source: as [`Self::psi`], the total-pressure Mach form of NASA Glenn, Mass Flow Choking.
    /// Equation (1.8).
    pub fn flow_kg_s(&self, effective_m2: f64, upstream: Side, downstream_pa: f64) -> f64 {
        if upstream.pressure_pa <= 0.0 {
            return 0.0;
        }
        let x = downstream_pa / upstream.pressure_pa;
        effective_m2 * upstream.pressure_pa * self.psi(x)
            / (self.gas.gas_constant_j_kg_k * upstream.temperature_k).sqrt()
    }

    /// The most that can pass, kg/s: choked flow.
    pub fn choked_kg_s(&self, effective_m2: f64, upstream: Side) -> f64 {
        self.flow_kg_s(effective_m2, upstream, 0.0)
    }

    /// Downstream pressure that a given flow leaves; the inverse of [`Self::flow_kg_s`] on the
    /// unchoked side.
    ///
    /// Newton steps kept inside a bracket, to 1e-12 in the pressure ratio.
    /// Equation (1.8).
    pub fn passage(&self, effective_m2: f64, upstream: Side, flow_kg_s: f64) -> Passage {
        let limit_kg_s = self.choked_kg_s(effective_m2, upstream);
        if flow_kg_s <= 0.0 {
            return Passage::Passes {
                downstream_pa: upstream.pressure_pa,
            };
        }
        // Also without area or pressure, and for a flow that is not a number.
        if flow_kg_s.is_nan() || flow_kg_s >= limit_kg_s {
            return Passage::Choked { limit_kg_s };
        }
        let target = self.choked_psi * flow_kg_s / limit_kg_s;
        let (mut low, mut high) = (self.critical_ratio, 1.0);
        // Incompressible first guess: Ψ² ≈ 2 (1 − x).
        let mut x = (1.0 - 0.5 * target * target).clamp(low, high);
        for _ in 0..60 {
            let (psi, slope) = self.psi_and_slope(x);
            let error = psi - target;
            if error > 0.0 {
                low = x;
            } else {
                high = x;
            }
            let newton = x - error / slope;
            let next = if newton >= low && newton <= high {
                newton
            } else {
                0.5 * (low + high)
            };
            let step = (next - x).abs();
            x = next;
            if step < 1e-12 {
                break;
            }
        }
        Passage::Passes {
            downstream_pa: x * upstream.pressure_pa,
        }
    }

    /// Pressure ratio `x = p_down/p_up` at which a flow passes into a given downstream pressure, from the flow made
    /// dimensionless with that pressure, `q = ṁ √(R T₀)/(A p_down)`; 1 without flow.
    ///
    /// ```text
    /// Ψ(x)/x = q          Ψ(x)/x falls from ∞ to 0 at x = 1, so every flow has one answer; choked: x = Ψ*/q
    /// ```
    ///
    /// Newton steps kept inside a bracket, to 1e-12. Source: as [`Self::psi`].
    /// Equation (1.8).
    pub fn ratio_into(&self, dimensionless_flow: f64) -> f64 {
        let q = dimensionless_flow;
        if q * self.critical_ratio >= self.choked_psi {
            return self.choked_psi / q;
        }
        if q <= 0.0 {
            return 1.0;
        }
        let (mut low, mut high) = (self.critical_ratio, 1.0);
        // Incompressible first guess: 2 (1 − x) = q² x².
        let mut x = (2.0 / (1.0 + (1.0 + 2.0 * q * q).sqrt())).clamp(low, high);
        for _ in 0..60 {
            let (psi, slope) = self.psi_and_slope(x);
            let error = psi - q * x;
            if error > 0.0 {
                low = x;
            } else {
                high = x;
            }
            let newton = x - error / (slope - q);
            let next = if newton >= low && newton <= high {
                newton
            } else {
                0.5 * (low + high)
            };
            let step = (next - x).abs();
            x = next;
            if step < 1e-12 {
                break;
            }
        }
        x
    }

    /// Ψ and dΨ/dx (at most 0) together, with one power.
    fn psi_and_slope(&self, x: f64) -> (f64, f64) {
        if x <= self.critical_ratio {
            return (self.choked_psi, 0.0);
        }
        let drop = 1.0 - x;
        if drop <= self.small_drop {
            let square = drop * drop;
            let slope = -(self.small_linear + 3.0 * self.small_cubic * square);
            return (
                drop * (self.small_linear + self.small_cubic * square),
                slope,
            );
        }
        self.exact_psi_and_slope(x)
    }

    fn exact_psi_and_slope(&self, x: f64) -> (f64, f64) {
        let y = x.powf(self.inverse_gamma);
        let psi = (self.scale * y * (y - x)).max(0.0).sqrt();
        let steepness = 2.0 * y * y / x - (self.gas.gamma + 1.0) * y;
        (
            psi,
            self.scale * steepness * self.inverse_gamma / (2.0 * psi),
        )
    }
}

/// A butterfly throttle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Throttle {
    /// Bore diameter, m.
    pub bore_m: f64,
    /// Discharge coefficient times the share of the bore that the shaft leaves open: 0.88 ± 0.04
    /// (from memory).
    pub discharge: f64,
    /// Blade angle from the plane across the bore when shut, rad (0.1 is usual; from memory).
    pub shut_angle_rad: f64,
}

impl Throttle {
    /// Effective area fully open, m²: `C_d f π D²/4`.
    /// Equation (2.10).
    pub fn open_m2(&self) -> f64 {
        self.discharge * 0.25 * PI * self.bore_m * self.bore_m
    }

    /// Effective area at a blade angle, m²: `C_d f (π D²/4)(1 − cos α / cos α₀)`, 0 at or below the
    /// shut angle.
    ///
    /// Holds for: shaft thickness neglected beyond its share in `discharge`. Source: from memory
    /// (projected-area form).
    /// Equation (2.10).
    pub fn area_m2(&self, angle_rad: f64) -> f64 {
        let angle_rad = angle_rad.clamp(self.shut_angle_rad, 0.5 * PI);
        let share = 1.0 - angle_rad.cos() / self.shut_angle_rad.cos();
        self.open_m2() * share.clamp(0.0, 1.0)
    }
}

/// Turbulent loss of a filter, pipe or exhaust: `Δp = k ṁ|ṁ| T/p`, with state taken upstream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DuctLoss {
    /// Loss constant, Pa² s²/(kg² K); 0 for none.
    pub k: f64,
}

impl DuctLoss {
    /// No loss.
    pub const NONE: Self = Self { k: 0.0 };

    /// From a drop measured at one flow and upstream state: `k = Δp p/(ṁ² T)`. No flow in the
    /// reference gives no loss.
    ///
    /// Source: fully turbulent flow scaled with density, from memory.
    /// Equation (4.7).
    pub fn from_reference(flow_kg_s: f64, upstream: Side, drop_pa: f64) -> Self {
        let scale = flow_kg_s * flow_kg_s * upstream.temperature_k;
        Self {
            k: if scale > 0.0 {
                drop_pa * upstream.pressure_pa / scale
            } else {
                0.0
            },
        }
    }

    /// Drop along the flow, Pa; negative for a flow that runs back. May exceed the upstream
    /// pressure: that flow does not exist.
    /// Equation (4.7).
    pub fn drop_pa(&self, flow_kg_s: f64, upstream: Side) -> f64 {
        self.k * flow_kg_s * flow_kg_s.abs() * upstream.temperature_k / upstream.pressure_pa
    }

    /// Pressure left downstream, Pa; `None` when the duct would swallow it all.
    pub fn downstream_pa(&self, flow_kg_s: f64, upstream: Side) -> Option<f64> {
        let left_pa = upstream.pressure_pa - self.drop_pa(flow_kg_s, upstream);
        (left_pa > 0.0).then_some(left_pa)
    }

    /// Pressure needed upstream (an exhaust's back pressure), Pa: the positive root of
    /// `p² − p_d p − k ṁ|ṁ| T = 0`. Worked: made at 18 kPa, 0.3 kg/s into 101.325 kPa: twice the flow needs 55.0 kPa.
    ///
    /// For a flow running back the root is kept at or above half the downstream pressure, where the
    /// drop is largest.
    /// Equation (4.7).
    #[inline(always)]
    pub fn upstream_pa<R: Real>(&self, flow_kg_s: R, temperature_k: R, downstream_pa: f64) -> R {
        let loss = flow_kg_s * self.k * flow_kg_s.abs() * temperature_k;
        let square = (loss * 4.0 + downstream_pa * downstream_pa).at_least(0.0);
        (square.sqrt() + downstream_pa) * 0.5
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Side = Side {
        pressure_pa: 101_325.0,
        temperature_k: 298.15,
    };

    #[test]
    fn the_slope_agrees_with_a_difference_on_both_sides_of_the_joint() {
        let air = OrificeGas::new(PerfectGas::AIR);
        for x in [0.6, 0.9, 0.9985, 0.9995, 0.9999] {
            let h = 1e-7;
            let difference = (air.psi(x + h) - air.psi(x - h)) / (2.0 * h);
            // Curvature near x = 1 is about psi/u² = 1e4, so a step of 1e-7 leaves less than 1e-6
            // of the slope.
            assert!(
                (difference / air.psi_and_slope(x).1 - 1.0).abs() < 1e-5,
                "{x}"
            );
        }
    }

    #[test]
    fn the_ratio_into_a_pressure_undoes_flow() {
        let air = OrificeGas::new(PerfectGas::AIR);
        for x in [0.1, 0.5, 0.53, 0.6, 0.9, 0.9985, 0.9999] {
            let q = air.psi(x) / x;
            // Near x = 1 the slope of Ψ is 20, so 1e-12 in x is all that rounding of q leaves.
            assert!((air.ratio_into(q) - x).abs() < 1e-10, "{x}");
        }
        assert_eq!(air.ratio_into(0.0), 1.0);
    }

    #[test]
    fn passage_undoes_flow() {
        let air = OrificeGas::new(PerfectGas::AIR);
        for down in [60_000.0, 90_000.0, 101_000.0, 101_300.0] {
            let flow = air.flow_kg_s(1e-3, ROOM, down);
            let Passage::Passes { downstream_pa } = air.passage(1e-3, ROOM, flow) else {
                panic!("not choked")
            };
            // 1e-12 in the ratio, worsened near choking where the curve is flat.
            assert!(
                (downstream_pa - down).abs() < 1e-3,
                "{down} {downstream_pa}"
            );
        }
        assert!(matches!(
            air.passage(1e-3, ROOM, 1.0),
            Passage::Choked { .. }
        ));
        assert!(
            matches!(air.passage(0.0, ROOM, 0.1), Passage::Choked { limit_kg_s } if limit_kg_s == 0.0)
        );
    }

    #[test]
    fn doubled_flow_quadruples_the_duct_loss() {
        let duct = DuctLoss::from_reference(0.3, ROOM, 2_500.0);
        assert!((duct.drop_pa(0.3, ROOM) - 2_500.0).abs() < 1e-9);
        assert!((duct.drop_pa(0.6, ROOM) - 10_000.0).abs() < 1e-9);
        assert_eq!(duct.drop_pa(0.0, ROOM), 0.0);
        let left = duct.downstream_pa(0.3, ROOM).expect("a small loss");
        assert!((duct.upstream_pa(0.3, ROOM.temperature_k, left) - ROOM.pressure_pa).abs() < 1e-6);
        assert_eq!(duct.downstream_pa(30.0, ROOM), None);
    }

    #[test]
    fn twice_the_exhaust_gas_needs_less_than_four_times_the_pressure() {
        // 18 kPa at 0.3 kg/s; gas under more pressure is denser. The quadratic by hand: 54.97 kPa.
        let upstream = Side {
            pressure_pa: 119_325.0,
            temperature_k: 1100.0,
        };
        let system = DuctLoss::from_reference(0.3, upstream, 18e3);
        let gauge_pa = |flow: f64| system.upstream_pa(flow, 1100.0, 101_325.0) - 101_325.0;
        assert!((gauge_pa(0.3) - 18e3).abs() < 1e-6 && gauge_pa(0.0).abs() < 1e-9);
        // Rounded to 10 Pa.
        assert!((gauge_pa(0.6) - 54.97e3).abs() < 5.0, "{}", gauge_pa(0.6));
        assert!((gauge_pa(0.003) / gauge_pa(0.0015) - 4.0).abs() < 1e-4);
    }

    #[test]
    fn throttle_opens_from_nothing_to_its_bore() {
        let throttle = Throttle {
            bore_m: 0.08,
            discharge: 0.88,
            shut_angle_rad: 0.1,
        };
        assert_eq!(throttle.area_m2(0.05), 0.0);
        assert!((throttle.area_m2(0.5 * PI) - throttle.open_m2()).abs() < 1e-12);
    }
}
