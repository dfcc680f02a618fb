//! Positive-displacement blower: rotors that carry a fixed volume of inlet air per turn, less what leaks back.
//!
//! It exists because such a machine has no map to speak of: its flow is displacement times speed, and everything else
//! follows from the leak back through the clearances, from how well the pressure rise is done (back-flow compression or
//! a built-in volume ratio), and from the losses of porting and gears. The operating point asks one question, the
//! pressure the machine delivers while passing a flow; the answer is defined, finite and strictly falling for every flow
//! the question can carry. It refuses to model pulsation, rotor heating by the oil, and a controlled bypass valve.
//!
//! Source: displacement, leak through clearances and built-in compression as textbooks on positive-displacement machines
//! have them (from memory); the numbers carry their own origin.

use super::inlet::Inlet;
use super::leak::{pressure_ratio_for_leak, suction_flow, suction_ratio};
use super::orifice::leak_kg_s;
use super::rotors::{Heating, RotorKind, WorkLine, ideal_work_ratio};
use crate::air::compression::{compress, isentropic_temperature_ratio};
use crate::air::gas::PerfectGas;
use crate::numeric::Real;
use crate::units;

/// Size of the machines that the numbers of this file were found on, m³ a turn.
/// Equations (5.1) and (5.16).
const USUAL_DISPLACEMENT_M3_REV: f64 = 2e-3;
/// Leak area of a machine of that size: 40 mm² per litre and turn, m²; derived from volumetric efficiencies of 0.83 at
/// 4000 and 0.95 at 14 000 rpm, pressure ratio 1.6 (common practice, no source).
/// Equation (5.16).
const USUAL_LEAK_AREA_M2: f64 = 80e-6;
/// Standard deviation of ln(leak area).
pub const LEAK_AREA_SD_LN: f64 = 0.30;
/// Share of the pressure lost in each port at the reference rim speed, and its standard deviation. The velocity head of the rim is 0.053
/// there. Makers' machines lose 0.05 to 0.15 of their efficiency by their highest speed (common practice, no source); at a pressure ratio of
/// 1.6 and 14 000 rpm of a machine of 1.5 L that is 0.03 to 0.10. Maps as remembered give 0.04 to 0.14.
/// Equation (5.1).
pub const PORT_LOSS: (f64, f64) = (0.07, 0.03);
/// Share of the loss in the inlet port that filling feels: the port shuts late, and what has been set in motion runs on into the
/// pocket. Filling then falls by 0.02 to 0.05 by the highest speed (common practice, no source).
/// Equation (5.1).
const INLET_FELT: f64 = 0.5;
/// Rotor speed at which a machine of the usual size has the reference rim speed, some 95 m/s, rad/s.
/// Equation (5.1).
const USUAL_REFERENCE_RAD_S: f64 = units::rad_s(18_000.0);
/// Share of the shaft power lost in gears and seals; 0.03 to 0.06 (common practice, no source).
pub const MECHANICAL_LOSS_FRACTION: f64 = 0.045;

/// Leak over swept flow of the tightest machine, at its claim.
const LEAST_LEAK: f64 = 0.01;

/// Lowest fraction of the efficiency left by leakage, and of a claimed rise of temperature left to the rotors by the ports; keeps the
/// outlet temperature finite when the blower is nearly shut off, where the model has no claim to accuracy.
const LEAST_FACTOR: f64 = 0.2;

/// A positive-displacement machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PositiveDisplacement {
    /// Volume carried per turn of the input shaft, m³.
    pub displacement_m3_rev: f64,
    /// Effective leak area between outlet and inlet (discharge coefficient included), m².
    pub leak_area_m2: f64,
    /// Effective area of the bypass that opens by itself when the outlet falls below the inlet, m².
    pub bypass_area_m2: f64,
    /// Built-in volume ratio: 1 for a Roots machine, about 1.3 for a screw.
    pub built_in_volume_ratio: f64,
    /// Real over ideal efficiency at full volumetric efficiency, but for the ports.
    pub efficiency_scale: f64,
    /// Efficiency lost per unit of volumetric efficiency lost: 1 when leaked air is simply compressed again.
    pub leak_heating: f64,
    /// Share of the pressure lost in each port at the reference rim speed; grows with the square of the speed.
    pub port_loss: f64,
    /// Share of the shaft power that gears and bearings take in proportion to load.
    pub mechanical_loss_fraction: f64,
    /// Drag of bearings and oil, W/(rad/s)².
    pub drag_w_s2: f64,
    /// Highest speed the maker allows, rad/s.
    pub max_speed_rad_s: f64,
}

/// What a maker prints: one point of the machine's performance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MakerClaims {
    /// Pressure ratio of the claim.
    pub pressure_ratio: f64,
    /// Speed of the input shaft (rotor speed where the drive ratio counts rotor turns), rad/s.
    pub speed_rad_s: f64,
    /// Volumetric efficiency.
    pub volumetric_efficiency: f64,
    /// Isentropic (adiabatic) efficiency.
    pub isentropic_efficiency: f64,
}

/// Why a maker's claims cannot describe a machine.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ClaimError {
    /// The claim must be made under boost.
    #[error("claimed pressure ratio {0} must be above 1")]
    PressureRatio(f64),
    /// The speed must be positive and finite.
    #[error("claimed speed {0} rad/s must be positive")]
    Speed(f64),
    /// A machine that loses nothing has no leak to derive, one that delivers nothing neither.
    #[error("claimed volumetric efficiency {0} must lie between 0.2 and 1, both excluded")]
    VolumetricEfficiency(f64),
    /// Efficiency outside the possible.
    #[error("claimed isentropic efficiency {0} must lie between 0.1 and 1")]
    IsentropicEfficiency(f64),
}

/// What holds the machine back at an operating point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DisplacementLimit {
    /// Turning faster than the maker allows.
    Speed,
    /// The outlet is below the inlet and the bypass passes the difference.
    BypassOpen,
    /// Even bypass and clearances together are choked: the blower starves the engine.
    BypassChoked,
}

/// One operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DisplacementPoint {
    /// Mass flow delivered, kg/s; negative when the outlet pressure drives more air back than the rotors carry.
    pub flow_kg_s: f64,
    /// Outlet over inlet pressure.
    pub pressure_ratio: f64,
    /// Absolute total pressure at the outlet, Pa.
    pub outlet_pressure_pa: f64,
    /// Total temperature at the outlet, K.
    pub outlet_temperature_k: f64,
    /// Delivered over swept mass.
    pub volumetric_efficiency: f64,
    /// Adiabatic efficiency of the outlet temperature; the ideal one is 1 at its built-in ratio.
    pub adiabatic_efficiency: f64,
    /// Power given to the gas, W: flow × cp × temperature rise.
    pub gas_power_w: f64,
    /// Power at the input shaft, W.
    pub shaft_power_w: f64,
    /// The limit met, if any.
    pub limit: Option<DisplacementLimit>,
}

/// A machine against pressures above its inlet's.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Against<R> {
    /// What it delivers, kg/s.
    pub(crate) flow_kg_s: R,
    /// Total temperature at the outlet, K.
    pub(crate) outlet_k: R,
    /// Power at the input shaft, W.
    pub(crate) shaft_power_w: R,
}

/// Rotor speed at which a machine has the reference rim speed, rad/s: of one shape, the larger turns the slower.
/// Equation (5.1).
pub fn reference_speed_rad_s(displacement_m3_rev: f64) -> f64 {
    USUAL_REFERENCE_RAD_S * (USUAL_DISPLACEMENT_M3_REV / displacement_m3_rev).cbrt()
}

/// Leak area of a machine nobody measured, m²: clearances go with the diameter, so the area goes with its square and the displacement with
/// its cube (derived).
/// Equation (5.16).
pub fn usual_leak_area_m2(displacement_m3_rev: f64) -> f64 {
    USUAL_LEAK_AREA_M2 * (displacement_m3_rev / USUAL_DISPLACEMENT_M3_REV).powf(2.0 / 3.0)
}

/// Power given to a flow of gas by a relative rise of its temperature, W.
#[inline(always)]
fn gas_power_w<R: Real>(inlet: Inlet<R>, flow_kg_s: R, rise: R) -> R {
    flow_kg_s.at_least(0.0) * inlet.gas.cp_j_kg_k() * inlet.temperature_k * rise
}

impl PositiveDisplacement {
    /// A machine known only by its size and kind: defaults of this file for everything else.
    ///
    /// The efficiency scale is set so that the kind's peak efficiency is met at pressure ratio 1.5 and volumetric
    /// efficiency 0.92, at half the reference rim speed.
    /// Equation (5.1).
    pub fn typical(kind: RotorKind, displacement_m3_rev: f64, max_speed_rad_s: f64) -> Self {
        let mut machine = Self {
            displacement_m3_rev,
            leak_area_m2: usual_leak_area_m2(displacement_m3_rev),
            bypass_area_m2: 0.25 * displacement_m3_rev,
            built_in_volume_ratio: kind.built_in_volume_ratio(),
            efficiency_scale: 1.0,
            leak_heating: 1.0,
            port_loss: PORT_LOSS.0,
            mechanical_loss_fraction: MECHANICAL_LOSS_FRACTION,
            drag_w_s2: 0.0,
            max_speed_rad_s,
        };
        machine.efficiency_scale = machine.scale_for(&MakerClaims {
            pressure_ratio: 1.5,
            speed_rad_s: 0.5 * reference_speed_rad_s(displacement_m3_rev),
            volumetric_efficiency: 0.92,
            isentropic_efficiency: kind.peak_adiabatic_efficiency().0,
        });
        machine
    }

    /// The same machine with leak area and efficiency scale moved so that a maker's printed point is met, claimed in
    /// dry air at 298.15 K (the volumetric claim does not depend on the inlet pressure).
    ///
    /// The claim is taken at its word; its doubt is the caller's to keep.
    /// Equation (5.16).
    pub fn calibrated(self, claims: MakerClaims) -> Result<Self, ClaimError> {
        let MakerClaims {
            pressure_ratio,
            speed_rad_s,
            volumetric_efficiency,
            isentropic_efficiency,
        } = claims;
        if !(pressure_ratio > 1.0 && pressure_ratio.is_finite()) {
            return Err(ClaimError::PressureRatio(pressure_ratio));
        }
        if !(speed_rad_s > 0.0 && speed_rad_s.is_finite()) {
            return Err(ClaimError::Speed(speed_rad_s));
        }
        if !(volumetric_efficiency > LEAST_FACTOR && volumetric_efficiency < 1.0) {
            return Err(ClaimError::VolumetricEfficiency(volumetric_efficiency));
        }
        if !(0.1..=1.0).contains(&isentropic_efficiency) {
            return Err(ClaimError::IsentropicEfficiency(isentropic_efficiency));
        }
        let inlet = Inlet {
            pressure_pa: 1e5,
            temperature_k: 298.15,
            gas: PerfectGas::AIR,
        };
        let outlet_k = compress(
            inlet.temperature_k,
            pressure_ratio,
            isentropic_efficiency,
            &inlet.gas,
        )
        .outlet_k;
        let swept = self.swept_kg_s(inlet, speed_rad_s);
        // A claim above what the inlet lets in at that speed leaves the least leak a machine with clearances has.
        let leak_share = (self.filling(speed_rad_s) - volumetric_efficiency).max(LEAST_LEAK);
        let per_area = leak_kg_s(
            1.0,
            inlet.pressure_pa * pressure_ratio,
            outlet_k,
            inlet.pressure_pa,
            inlet.gas,
        );
        Ok(Self {
            leak_area_m2: swept * leak_share / per_area,
            efficiency_scale: self.scale_for(&claims),
            ..self
        })
    }

    /// The efficiency scale with which a claimed efficiency is met.
    /// Equation (5.16).
    fn scale_for(&self, claims: &MakerClaims) -> f64 {
        let MakerClaims {
            pressure_ratio,
            speed_rad_s,
            volumetric_efficiency,
            isentropic_efficiency,
        } = *claims;
        let gamma = PerfectGas::AIR.gamma;
        let ideal = ideal_work_ratio(pressure_ratio, self.built_in_volume_ratio, gamma);
        let isentropic =
            gamma / (gamma - 1.0) * (isentropic_temperature_ratio(pressure_ratio, gamma) - 1.0);
        let claimed = isentropic / isentropic_efficiency
            * self.leak_factor(volumetric_efficiency / self.filling(speed_rad_s));
        let ports = self.port_share(speed_rad_s) * (1.0 + pressure_ratio);
        ideal / (claimed - ports).max(LEAST_FACTOR * claimed)
    }

    /// Share of the pressure lost in each port.
    /// Equation (5.1).
    #[inline(always)]
    fn port_share<R: Real>(&self, speed_rad_s: R) -> R {
        let speed = speed_rad_s / reference_speed_rad_s(self.displacement_m3_rev);
        speed * self.port_loss * speed
    }

    /// Mass the rotors would carry if every pocket filled, kg/s: `ρ₁ D n`.
    #[inline(always)]
    pub fn swept_kg_s<R: Real>(&self, inlet: Inlet<R>, speed_rad_s: R) -> R {
        inlet.density_kg_m3() * self.displacement_m3_rev * speed_rad_s / std::f64::consts::TAU
    }

    /// Share of the pockets' volume that fills, `1/(1 + ½ k (n/n_ref)²)`: the inlet port throttles a fast rotor.
    /// Equation (5.1).
    #[inline(always)]
    pub fn filling<R: Real>(&self, speed_rad_s: R) -> R {
        (self.port_share(speed_rad_s) * INLET_FELT + 1.0).dividing(1.0)
    }

    /// Mass the rotors carry over, before what leaks back, kg/s.
    #[inline(always)]
    pub fn carried_kg_s<R: Real>(&self, inlet: Inlet<R>, speed_rad_s: R) -> R {
        self.swept_kg_s(inlet, speed_rad_s) * self.filling(speed_rad_s)
    }

    /// The point at which the machine passes `flow_kg_s`: the pressure it delivers, strictly falling with flow.
    ///
    /// Solves `ρ₁ D n − ṁ = CdA p₂/√(R T₂) Ψ(p₁/p₂)` for p₂, with T₂ at that very point: in closed form while the leak
    /// is choked, by a safeguarded Newton step otherwise. Above the swept flow the difference comes through clearances
    /// and bypass, and the outlet falls below the inlet.
    /// Equation (5.1).
    pub fn at_flow(&self, inlet: Inlet, speed_rad_s: f64, flow_kg_s: f64) -> DisplacementPoint {
        let carried = self.carried_kg_s(inlet, speed_rad_s);
        let leak = carried - flow_kg_s;
        let heating = self.heating(inlet.gas.gamma, flow_kg_s / carried, speed_rad_s);
        let scale =
            inlet.pressure_pa / (inlet.gas.gas_constant_j_kg_k * inlet.temperature_k).sqrt();
        let (pressure_ratio, choked) = if leak >= 0.0 {
            (
                pressure_ratio_for_leak(
                    leak / (self.leak_area_m2 * scale),
                    heating,
                    inlet.gas.gamma,
                ),
                false,
            )
        } else {
            let area = self.leak_area_m2 + self.bypass_area_m2;
            suction_ratio(-leak / (area * scale), inlet.gas.gamma)
        };
        self.point(inlet, speed_rad_s, flow_kg_s, pressure_ratio, choked)
    }

    /// Flow, outlet and shaft of the machine against pressures above its inlet's, as [`Self::at_outlet_pressure`] has them.
    /// Equation (5.1).
    #[inline(always)]
    pub(crate) fn against<R: Real>(
        &self,
        inlet: Inlet<R>,
        speed_rad_s: R,
        outlet_pa: R,
    ) -> Against<R> {
        let gamma = inlet.gas.gamma;
        let ratio = outlet_pa / inlet.pressure_pa;
        let flow_kg_s = self.flow_against(inlet, speed_rad_s, ratio);
        let volumetric = flow_kg_s / self.carried_kg_s(inlet, speed_rad_s);
        let rise = self.heating(gamma, volumetric, speed_rad_s).at(ratio);
        Against {
            flow_kg_s,
            outlet_k: inlet.temperature_k * (rise + 1.0),
            shaft_power_w: self.shaft_power_w(gas_power_w(inlet, flow_kg_s, rise), speed_rad_s),
        }
    }

    /// What the rotors carry less what leaks back at the temperature that the leak itself makes, kg/s, for a pressure ratio above 1.
    /// Equation (5.1).
    #[inline(always)]
    fn flow_against<R: Real>(&self, inlet: Inlet<R>, speed_rad_s: R, ratio: R) -> R {
        let gas = inlet.gas;
        let carried = self.carried_kg_s(inlet, speed_rad_s);
        // The leak at the inlet temperature; heating thins it by 1/sqrt(T2/T1), which depends on the flow itself.
        let cold = leak_kg_s(
            self.leak_area_m2,
            ratio * inlet.pressure_pa,
            inlet.temperature_k,
            inlet.pressure_pa,
            gas,
        );
        // Temperature rise with nothing leaked; leakage divides it by its own factor, a straight line in flow.
        let full = self.heating(gas.gamma, ratio.of(1.0), speed_rad_s);
        let full_rise = full.at(ratio);
        let leak_at = |flow: R| {
            let lost = (flow / carried).at_most(1.0).taken_from(1.0);
            let factor = (lost * self.leak_heating).taken_from(1.0);
            let rise = full_rise / factor.at_least(LEAST_FACTOR);
            let leak = cold / (rise + 1.0).sqrt();
            let heated = flow.of(LEAST_FACTOR).below(factor) & flow.below(carried);
            let slope = leak * rise * (0.5 * self.leak_heating) / ((rise + 1.0) * carried * factor);
            (leak, R::choose(heated, slope, flow.of(0.0)))
        };
        // flow + leak(flow) rises faster than flow itself, so the root lies in this bracket and Newton is safe in it.
        let (mut low, mut high) = (carried - cold, carried - leak_at(carried - cold).0);
        let mut flow = high;
        for _ in 0..80 {
            let (leak, slope) = leak_at(flow);
            let excess = flow + leak - carried;
            let over = flow.of(0.0).below(excess);
            high = R::choose(over, flow, high);
            low = R::choose(over, low, flow);
            let open = (carried * 1e-13).below(excess.abs()) & (carried * 1e-15).below(high - low);
            if !R::any(open) {
                break;
            }
            let step = flow - excess / (slope + 1.0);
            let inside = low.below(step) & step.below(high);
            let next = R::choose(inside, step, (low + high) * 0.5);
            flow = R::choose(open, next, flow);
        }
        flow
    }

    /// Power at the input shaft for that given to the gas, W.
    #[inline(always)]
    fn shaft_power_w<R: Real>(&self, gas_power_w: R, speed_rad_s: R) -> R {
        gas_power_w / (1.0 - self.mechanical_loss_fraction)
            + speed_rad_s * self.drag_w_s2 * speed_rad_s
    }

    /// The point at which the machine works against a given outlet pressure: the inverse of [`Self::at_flow`].
    pub fn at_outlet_pressure(
        &self,
        inlet: Inlet,
        speed_rad_s: f64,
        outlet_pa: f64,
    ) -> DisplacementPoint {
        let carried = self.carried_kg_s(inlet, speed_rad_s);
        let ratio = outlet_pa / inlet.pressure_pa;
        let gas = inlet.gas;
        if ratio < 1.0 {
            let area = self.leak_area_m2 + self.bypass_area_m2;
            let scale = inlet.pressure_pa / (gas.gas_constant_j_kg_k * inlet.temperature_k).sqrt();
            let (extra, choked) = suction_flow(ratio, gas.gamma);
            return self.point(
                inlet,
                speed_rad_s,
                carried + area * scale * extra,
                ratio,
                choked,
            );
        }
        let flow = self.flow_against(inlet, speed_rad_s, ratio);
        self.point(inlet, speed_rad_s, flow, ratio, false)
    }

    /// Efficiency left after leakage: what leaks is compressed again.
    /// Equation (5.1).
    #[inline(always)]
    fn leak_factor<R: Real>(&self, volumetric_efficiency: R) -> R {
        let lost = volumetric_efficiency.at_most(1.0).taken_from(1.0);
        (lost * self.leak_heating)
            .taken_from(1.0)
            .at_least(LEAST_FACTOR)
    }

    #[inline(always)]
    fn heating<R: Real>(&self, gamma: f64, volumetric_efficiency: R, speed_rad_s: R) -> Heating<R> {
        let per_work = (self.leak_factor(volumetric_efficiency) * gamma).dividing(gamma - 1.0);
        Heating {
            work: WorkLine::new(self.built_in_volume_ratio, gamma),
            per_work: per_work / self.efficiency_scale,
            ports: per_work * self.port_share(speed_rad_s),
        }
    }

    fn point(
        &self,
        inlet: Inlet,
        speed_rad_s: f64,
        flow: f64,
        ratio: f64,
        choked: bool,
    ) -> DisplacementPoint {
        let carried = self.carried_kg_s(inlet, speed_rad_s);
        let gamma = inlet.gas.gamma;
        let volumetric = flow / carried;
        let rise = self.heating(gamma, volumetric, speed_rad_s).at(ratio);
        let gas_power_w = gas_power_w(inlet, flow, rise);
        let adiabatic_efficiency = if rise > 0.0 && ratio > 1.0 {
            (isentropic_temperature_ratio(ratio, gamma) - 1.0) / rise
        } else {
            1.0
        };
        let limit = if speed_rad_s > self.max_speed_rad_s {
            Some(DisplacementLimit::Speed)
        } else if choked {
            Some(DisplacementLimit::BypassChoked)
        } else if ratio < 1.0 {
            Some(DisplacementLimit::BypassOpen)
        } else {
            None
        };
        DisplacementPoint {
            flow_kg_s: flow,
            pressure_ratio: ratio,
            outlet_pressure_pa: ratio * inlet.pressure_pa,
            outlet_temperature_k: inlet.temperature_k * (1.0 + rise),
            volumetric_efficiency: flow / self.swept_kg_s(inlet, speed_rad_s),
            adiabatic_efficiency,
            gas_power_w,
            shaft_power_w: self.shaft_power_w(gas_power_w, speed_rad_s),
            limit,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rpm(n: f64) -> f64 {
        units::rad_s(n)
    }

    const AIR: Inlet = Inlet {
        pressure_pa: 1e5,
        temperature_k: 298.15,
        gas: PerfectGas::AIR,
    };

    #[test]
    fn flow_and_pressure_questions_are_inverse() {
        for kind in [RotorKind::TwistedLobe, RotorKind::Screw] {
            let m = PositiveDisplacement::typical(kind, 1.9e-3, rpm(18_000.0));
            for n in [2_000.0, 9_000.0, 17_000.0] {
                for pr in [0.7, 0.95, 1.001, 1.2, 1.6, 2.4] {
                    let forward = m.at_outlet_pressure(AIR, rpm(n), pr * 1e5);
                    if forward.flow_kg_s > 0.0 {
                        let back = m.at_flow(AIR, rpm(n), forward.flow_kg_s);
                        // 1e-8: near equal pressures the flow hardly moves with pressure (smoothing of the orifice).
                        assert!(
                            (back.pressure_ratio / pr - 1.0).abs() < 1e-8,
                            "{kind:?} {n} {pr} {back:?}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_tight_roots_machine_without_losses_is_the_ideal_one() {
        let ideal = PositiveDisplacement {
            leak_area_m2: 1e-12,
            efficiency_scale: 1.0,
            port_loss: 0.0,
            mechanical_loss_fraction: 0.0,
            ..PositiveDisplacement::typical(RotorKind::StraightLobe, 1e-3, rpm(15_000.0))
        };
        let p = ideal.at_outlet_pressure(AIR, rpm(8_000.0), 1.5e5);
        assert!((p.volumetric_efficiency - 1.0).abs() < 1e-7);
        assert!((p.adiabatic_efficiency - 0.8598).abs() < 1e-4);
        // Work of the ideal machine: pressure difference times swept volume.
        assert!((p.shaft_power_w / (0.5e5 * 1e-3 * 8_000.0 / 60.0) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn impossible_claims_are_refused_with_the_number() {
        let m = PositiveDisplacement::typical(RotorKind::Screw, 1.9e-3, rpm(18_000.0));
        let claims = MakerClaims {
            pressure_ratio: 1.5,
            speed_rad_s: rpm(10_000.0),
            volumetric_efficiency: 1.02,
            isentropic_efficiency: 0.7,
        };
        let error = m.calibrated(claims).expect_err("more than carried");
        assert_eq!(error, ClaimError::VolumetricEfficiency(1.02));
        assert!(error.to_string().contains("1.02"));
    }
}
