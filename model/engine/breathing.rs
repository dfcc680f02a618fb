//! How much air the cylinders trap: piston speed against valve area, back pressure, port heating, late closing.
//!
//! Exists as separate factors so that a part changes only its own: a cam moves the valve terms, a header the exhaust
//! term, a cooler the heating term. The level is never predicted here; a pull must give it.
//!
//! Source: C. F. Taylor, The Internal Combustion Engine in Theory and Practice, vol. 1, and J. B. Heywood, Internal Combustion
//! Engine Fundamentals (both from memory); choking bound and short forms derived.

use super::geometry::CylinderGeometry;
use crate::air::gas::PerfectGas;
use crate::numeric::Real;
use std::f64::consts::PI;

/// Inlet valves of one cylinder with their cam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InletValves {
    /// Head diameter, m.
    pub diameter_m: f64,
    /// Valves per cylinder.
    pub count: u32,
    /// Mean flow coefficient over the open period, referred to the head area (about 0.35; from memory of Taylor).
    pub mean_flow_coefficient: f64,
    /// Open period, deg of crank.
    pub open_duration_deg: f64,
    /// Closing, deg after bottom dead centre.
    pub closing_abdc_deg: f64,
}

/// Flow function of a choked orifice over that of a full-stroke displacement, γ = 1.4: the bound of the filling.
pub const CHOKED_FLOW_FUNCTION: f64 = 0.5787;

impl InletValves {
    /// Inlet Mach index `Z = A_p S_p/(C_i A_v a)`.
    ///
    /// Volumetric efficiency falls fast once Z > 0.5 (JSME Mechanical Engineering Dictionary, mean effective area) to
    /// 0.6 (Taylor, from memory). Worked: 95 mm bore, 18 m/s, two 38 mm valves, `C_i` 0.35, 347 m/s: 0.463.
    /// Equation (2.2).
    #[inline(always)]
    pub fn mach_index<R: Real>(
        &self,
        piston_area_m2: f64,
        piston_speed_m_s: R,
        sound_speed_m_s: R,
    ) -> R {
        let valve_area = f64::from(self.count) * PI / 4.0 * self.diameter_m * self.diameter_m;
        piston_speed_m_s * piston_area_m2
            / (sound_speed_m_s * (self.mean_flow_coefficient * valve_area))
    }

    /// Index at which the filling is bounded by choked valves, `Z_c = 0.5787 D_v/180°`.
    ///
    /// Derived: were the valve choked for its whole open period, VE ≤ `Z_c/Z`. Prior sd 10 %.
    /// Worked: 240° 0.77, 270° 0.87.
    /// Equation (2.3).
    pub fn choking_index(&self) -> f64 {
        CHOKED_FLOW_FUNCTION * self.open_duration_deg / 180.0
    }

    /// Factor of late closing: `[V(IVC)/V(BDC)]^s`, s falling smoothly (in ln N) from 1 at 1000 rpm to 0 at the
    /// torque peak, where the ram makes up for it. Derived; no measurement behind the exponent.
    /// Equation (2.8).
    #[inline(always)]
    pub fn late_closing_factor<R: Real>(
        &self,
        cylinder: &CylinderGeometry,
        rpm: R,
        torque_peak_rpm: f64,
    ) -> R {
        let closing = cylinder.volume_m3((180.0 + self.closing_abdc_deg).to_radians());
        let whole = cylinder.swept_volume_m3() + cylinder.clearance_volume_m3();
        let span = (torque_peak_rpm / 1000.0).ln().max(1e-6);
        let t = ((rpm / 1000.0).ln() / span).within(0.0, 1.0);
        let strength = (t * t * (t * 2.0).taken_from(3.0)).taken_from(1.0);
        (strength * (closing / whole).ln()).exp()
    }
}

/// Speed of sound in air, m/s, `√(1.4 R T)`. Worked: 298.15 K: 346.1 m/s.
#[inline(always)]
pub fn sound_speed_m_s<R: Real>(temperature_k: R) -> R {
    PerfectGas::AIR.sound_m_s(temperature_k)
}

/// Filling against the inlet Mach index, `φ_Z = [1 + (Z/Z_c)^p]^(−1/p)`, p from 2 to 8.
///
/// 1 at standstill; never above `Z_c/Z`. Worked: `Z_c` = 0.868, p = 4: Z 0.5 gives 0.9742, 1.0 gives 0.7757.
/// Equation (2.3).
#[inline(always)]
pub fn mach_filling<R: Real>(mach_index: R, choking_index: f64, sharpness: f64) -> R {
    let x = mach_index / choking_index;
    if sharpness == 4.0 {
        let square = x * x;
        return (square * square + 1.0).sqrt().sqrt().dividing(1.0);
    }
    (-(x.ln() * sharpness).exp().ln_1p() / sharpness).exp()
}

/// Sharpness of [`fade`]: learned from the rated power and the peak torque of catalogued engines (`belief::learned`).
pub const FADE_SHARPNESS: f64 = 10.0;

/// Filling past the engine speed that cam and pipes are made for, `φ_N = [1 + (N/N_f)^p]^(−1/p)`, p = 10.
///
/// The same smooth join as [`mach_filling`], over engine speed: nearly 1 below `N_f`, a constant flow of air far above. Where an
/// engine's power falls goes with its redline and not with the area of its valves. Source: derived; learned from open tables of engines. Worked: `N_f` 5950 rpm: 5000 rpm 0.9840,
/// 6000 rpm 0.9291, 6600 rpm 0.8746.
/// Equation (2.20).
#[inline(always)]
pub fn fade<R: Real>(rpm: R, fade_rpm: f64) -> R {
    mach_filling(rpm, fade_rpm, FADE_SHARPNESS)
}

/// Trapped fresh charge as a linear function of the pressures: `m ∝ manifold · p_im − exhaust · p_e`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrappedCharge {
    /// Coefficient of manifold pressure.
    pub manifold: f64,
    /// Coefficient of exhaust pressure.
    pub exhaust: f64,
}

impl TrappedCharge {
    /// Coefficients of the ideal cycle for a compression ratio and a heat-capacity ratio; their difference is 1.
    /// Equation (2.6).
    pub fn new(compression_ratio: f64, gamma: f64) -> Self {
        let exhaust = 1.0 / (gamma * (compression_ratio - 1.0));
        Self {
            manifold: 1.0 + exhaust,
            exhaust,
        }
    }

    /// Pressure that, without residual, would trap the same charge, Pa: never below 0.
    /// Equation (2.6).
    #[inline(always)]
    pub fn effective_pa<R: Real>(&self, manifold_pa: R, exhaust_pa: R) -> R {
        (manifold_pa * self.manifold - exhaust_pa * self.exhaust).at_least(0.0)
    }
}

/// Factor of exhaust pressure on volumetric efficiency.
///
/// ```text
/// F_pe = r/(r−1) − [p_e/p_im + γ − 1]/(γ (r−1))  =  trapped_fraction/p_im
/// ```
///
/// Ideal cycle (Heywood, Taylor; from memory). 1 at `p_e` = `p_im`. Worked: r = 10, γ = 1.4, `p_e/p_im` = 1.1: 0.992063.
/// Equation (2.6).
#[inline(always)]
pub fn exhaust_pressure_factor<R: Real>(
    manifold_pa: R,
    exhaust_pa: R,
    compression_ratio: f64,
    gamma: f64,
) -> R {
    trapped_fraction(manifold_pa, exhaust_pa, compression_ratio, gamma) / manifold_pa
}

/// Effective filling pressure `a p_im − b p_e`, Pa, with the coefficients of [`TrappedCharge`].
///
/// The same effect as [`exhaust_pressure_factor`], in the form a linear solve wants.
#[inline(always)]
pub fn trapped_fraction<R: Real>(
    manifold_pa: R,
    exhaust_pa: R,
    compression_ratio: f64,
    gamma: f64,
) -> R {
    TrappedCharge::new(compression_ratio, gamma).effective_pa(manifold_pa, exhaust_pa)
}

/// Flow through both valves while they are open together: forward it blows the clearance volume free, backward it
/// brings burned gas into the port.
///
/// Flow in a cycle is that of an orifice over a fixed crank angle, so it grows with the overlap factor OF and with
/// √|Δp|/n, as in the residual-gas correlation of Fox, Cheng and Heywood (from memory), whose back flow is
/// `1.266 (OF/n) √Δp` of the charge (deg/m, rev/s, bar).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overlap {
    /// Overlap factor, deg/m; 0 without overlap, 3 for a sporting cam (from memory).
    pub factor_deg_m: f64,
}

/// Constant of the correlation.
const OVERLAP_FLOW: f64 = 1.266;
/// Root of the density ratio of fresh charge to exhaust gas, by which forward flow exceeds back flow (320 and 1150 K).
const FORWARD_OVER_BACK: f64 = 1.9;
/// Pressure difference below which the root is rounded off, so that its slope stays finite, bar.
const ROUNDING_BAR: f64 = 0.02;
/// Temperature of burned gas over that of the charge it displaces.
const DISPLACEMENT_RATIO: f64 = 2.7;

impl Overlap {
    /// Flow over charge for a pressure difference: `1.266 (OF/n) √Δp`, without sign.
    /// Equation (2.7).
    #[inline(always)]
    fn flow<R: Real>(self, difference_pa: R, rpm: R) -> R {
        let bar = difference_pa.abs() * 1e-5;
        rpm.dividing(OVERLAP_FLOW * self.factor_deg_m * 60.0) * bar / (bar + ROUNDING_BAR).sqrt()
    }

    /// Share of the clearance volume renewed: `1 − exp(−forward flow · r)`, a stirred vessel; 0 unless the manifold pressure
    /// exceeds the exhaust's.
    /// Equation (2.7).
    #[inline(always)]
    pub fn renewed<R: Real>(
        &self,
        manifold_pa: R,
        exhaust_pa: R,
        rpm: R,
        compression_ratio: f64,
    ) -> R {
        let (difference, none) = (manifold_pa - exhaust_pa, rpm.of(0.0));
        let forward = none.below(difference);
        if !R::any(forward) {
            return none;
        }
        let flow = self.flow(difference, rpm);
        let renewed = -(flow * -FORWARD_OVER_BACK * compression_ratio).exp_m1();
        R::choose(forward, renewed, none)
    }

    /// Burned gas that flows back into the port, over the charge; 0 unless the exhaust pressure exceeds the manifold's.
    /// Equation (2.7).
    #[inline(always)]
    pub fn back_flow<R: Real>(&self, manifold_pa: R, exhaust_pa: R, rpm: R) -> R {
        let (difference, none) = (exhaust_pa - manifold_pa, rpm.of(0.0));
        let backward = none.below(difference);
        if !R::any(backward) {
            return none;
        }
        R::choose(backward, self.flow(difference, rpm).at_most(0.3), none)
    }

    /// Change of filling, as a share of the swept charge: the room gained by renewing the clearance volume,
    /// `η (r/(r−1) − F_pe)`, or the volume that hot back flow takes.
    /// Equation (2.7).
    #[inline(always)]
    pub fn gain<R: Real>(
        &self,
        manifold_pa: R,
        exhaust_pa: R,
        rpm: R,
        compression_ratio: f64,
        gamma: f64,
    ) -> R {
        // Of renewing and back flow one is nought at least.
        let factor = exhaust_pressure_factor(manifold_pa, exhaust_pa, compression_ratio, gamma);
        let room = factor.taken_from(compression_ratio / (compression_ratio - 1.0));
        self.renewed(manifold_pa, exhaust_pa, rpm, compression_ratio) * room
            - self.back_flow(manifold_pa, exhaust_pa, rpm) * DISPLACEMENT_RATIO
    }
}

/// Warming of the charge in ports and on valves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PortHeating {
    /// Transfer units at the reference flow, [`PortHeating::ntu`] of the share of the way to the wall temperature; the share from
    /// memory 0.1 to 0.2.
    pub reference_ntu: f64,
    /// Flow at which it holds (peak power), kg/s.
    pub reference_flow_kg_s: f64,
    /// Wall temperature, K; near the coolant's.
    pub wall_k: f64,
    /// Share of the fuel's full evaporation drop that the air pays for, 0..1.
    pub evaporated_share: f64,
}

impl PortHeating {
    /// Number of transfer units that goes a share of the way to the wall temperature, `−ln(1 − ε)`.
    /// Equation (2.5).
    pub fn ntu(share: f64) -> f64 {
        -(1.0 - share).ln()
    }

    /// Share of the way to the wall temperature, `1 − exp(−NTU)`, NTU ∝ flow^(−1/4).
    ///
    /// From Nu = 0.07 Re^0.75 in ports (Depcik & Assanis, SAE 2002-01-0372, abstract read).
    /// Equation (2.5).
    #[inline(always)]
    pub fn share<R: Real>(&self, flow_kg_s: R) -> R {
        let slower = flow_kg_s.at_least(1e-6).dividing(self.reference_flow_kg_s);
        (slower.sqrt().sqrt() * -self.reference_ntu)
            .exp()
            .taken_from(1.0)
    }

    /// Charge temperature at the valve, K.
    ///
    /// ```text
    /// T_port = T_im + ε (T_wall − T_im) − f_evap · ΔT_full
    /// ```
    ///
    /// `full_evaporation_drop_k` from [`crate::fuel::Fuel::full_evaporation_drop_k`]. Not below 230 K.
    /// Source: derived from an energy balance of the port, mixing with its wall at effectiveness ε.
    /// Equation (2.5).
    #[inline(always)]
    pub fn port_k<R: Real>(&self, manifold_k: R, flow_kg_s: R, full_evaporation_drop_k: R) -> R {
        let warmed = manifold_k + self.share(flow_kg_s) * manifold_k.taken_from(self.wall_k);
        (warmed - full_evaporation_drop_k * self.evaporated_share).at_least(230.0)
    }
}

/// Factor by which fuel vapour shares the volume with the air: `1/(1 + (m_v/m_a)·28.96/M_v)`.
///
/// Worked: methanol at λ = 0.88 (0.1757 kg per kg air, 32.04): 0.863 if all of it is vapour.
/// Equation (2.8).
#[inline(always)]
pub fn vapour_displacement_factor<R: Real>(vapour_per_air: R, vapour_kg_kmol: f64) -> R {
    (vapour_per_air * 28.96 / vapour_kg_kmol + 1.0).dividing(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const VALVES: InletValves = InletValves {
        diameter_m: 0.038,
        count: 2,
        mean_flow_coefficient: 0.35,
        open_duration_deg: 240.0,
        closing_abdc_deg: 55.0,
    };

    #[test]
    fn the_special_case_of_sharpness_four_is_the_general_form() {
        let general = mach_filling(0.7, 0.8, 4.0 + 1e-12);
        assert!((mach_filling(0.7, 0.8, 4.0) - general).abs() < 1e-9);
    }

    #[test]
    fn filling_past_its_speed_as_worked_in_the_comment() {
        for (rpm, worked) in [(5000.0, 0.9840), (6000.0, 0.9291), (6600.0, 0.8746)] {
            assert!((fade(rpm, 5950.0) - worked).abs() < 1e-4, "{rpm}");
        }
    }

    #[test]
    fn mach_index_as_worked_in_the_comment() {
        let z = VALVES.mach_index(PI / 4.0 * 0.095 * 0.095, 18.0, 347.0);
        assert!((z - 0.463).abs() < 5e-4, "{z}");
    }

    #[test]
    fn late_closing_costs_nothing_from_the_torque_peak_up() {
        let cylinder = CylinderGeometry {
            bore_m: 0.095,
            stroke_m: 0.09,
            rod_m: 0.15,
            compression_ratio: 10.0,
        };
        assert_eq!(VALVES.late_closing_factor(&cylinder, 5000.0, 4500.0), 1.0);
        let low = VALVES.late_closing_factor(&cylinder, 1000.0, 4500.0);
        assert!(low < 0.92 && low < VALVES.late_closing_factor(&cylinder, 2000.0, 4500.0));
    }

    #[test]
    fn port_heating_grows_as_flow_falls() {
        let port = PortHeating {
            reference_ntu: PortHeating::ntu(0.15),
            reference_flow_kg_s: 0.3,
            wall_k: 365.0,
            evaporated_share: 0.3,
        };
        assert!((port.share(0.3) - 0.15).abs() < 1e-12);
        assert!(port.port_k(300.0, 0.1, 26.0) > port.port_k(300.0, 0.3, 26.0));
    }
}
