//! Turbocharger: a compressor and a turbine on one shaft, and the control that holds the boost.
//!
//! Exists because boost from the exhaust is not bound to engine speed: the shaft takes time to come up, the turbine asks for
//! back pressure, and a gate lets gas past it once the boost asked for is there. The shaft's speed is a state that somebody
//! else integrates; here stand its acceleration and the back pressure that goes with it. Machines alike may stand in
//! parallel. It refuses sequential arrangements and a gate too small for the gas it must pass.

use super::centrifugal::{CentrifugalCompressor, CentrifugalPoint};
use super::inlet::Inlet;
use super::turbine::{ExhaustStream, Turbine, TurbinePoint, shaft_acceleration_rad_s2};
use crate::air::compression::isentropic_temperature_ratio;
use crate::air::flow::OrificeGas;
use crate::air::gas::PerfectGas;
use crate::numeric::straight;

/// Efficiency of the turbine and its standard deviation: 0.66 ± 0.05 (0.45 to 0.78; from memory), pulsation included.
pub const TURBINE_EFFICIENCY: (f64, f64) = (0.66, 0.05);
/// Doubt on a turbine's area that nobody states, standard deviation of the logarithm (common practice, no source).
pub const AREA_SD_LN: f64 = 0.25;
/// Share of the turbine's power that reaches the compressor: 0.94 to 0.98 (from memory).
pub const SHAFT_EFFICIENCY: f64 = 0.96;
/// Doubt on the boost that a control holds, relative (common practice, no source).
pub const BOOST_DOUBT: f64 = 0.02;
/// Boost above the air outside when the throttle has opened and the pull begins, Pa, and its standard deviation: a car held at
/// low speed before the pull (common practice, no source).
pub const START_BOOST_PA: (f64, f64) = (3e3, 3e3);

/// Shaft inertia per flow of charge, kg m² s/kg: 2e-5 to 6e-5 kg m² for petrol cars of 60 to 150 kW, which take 0.065 to
/// 0.165 kg/s (from memory), and the standard deviation of its logarithm.
const INERTIA_PER_FLOW: f64 = 3.4e-4;
/// See [`usual_inertia_kg_m2`].
pub const INERTIA_SD_LN: f64 = 0.5;
/// Time in which the boost control corrects the shaft's speed, s (common practice, no source).
pub const CONTROL_S: f64 = 0.15;
/// Share of the head asked for below which the control is taken to be fully open anyway; keeps the estimate of the speed
/// asked for finite. A numerical guard: the shaft is then free, and the figure is not used.
const LEAST_HEAD_SHARE: f64 = 0.04;
/// Air outside at which a turbine is sized, Pa.
const STANDARD_PA: f64 = 101_325.0;
/// Latest angle of half the burn, deg after top dead centre, that a boost is tuned to: later than that a tuner takes boost out
/// (common practice, no source).
const LATEST_CA50_DEG: f64 = 30.0;
/// Boost taken out for each degree beyond it, Pa: what a degree of retard buys, 2.5 deg for 10 kPa near full load (an independent
/// closed-cycle computation).
const RELIEF_PA_PER_DEG: f64 = 4e3;
/// Boost short of what is asked for by more than this is told as a limit, as a share of the absolute pressure: as much as the
/// control itself is doubted.
const SHORT_SHARE: f64 = 0.02;

/// What a boost control holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// Pressure above the air outside: a spring.
    Gauge,
    /// Absolute pressure.
    Absolute,
}

/// Boost asked for at the compressor's outlet, over engine speed.
#[derive(Debug, Clone, PartialEq)]
pub struct BoostControl {
    /// What it holds.
    pub holds: Holds,
    /// Engine speed, rpm, and pressure, Pa; in order of speed, at least one. Straight between them, level outside.
    pub asked: Vec<(f64, f64)>,
    /// Pressure held over pressure asked for: above the air outside for a spring, absolute otherwise.
    pub factor: f64,
}

impl BoostControl {
    /// Absolute pressure asked for, Pa.
    /// Equation (5.14).
    pub fn target_pa(&self, rpm: f64, ambient_pa: f64) -> f64 {
        let above = self.asked.partition_point(|(speed, _)| *speed <= rpm);
        let asked = match (above.checked_sub(1), self.asked.get(above)) {
            (Some(i), Some(next)) => straight(self.asked[i], *next, rpm),
            (Some(i), None) => self.asked[i].1,
            (None, Some((_, first))) => *first,
            (None, None) => 0.0,
        };
        match self.holds {
            Holds::Gauge => ambient_pa + self.factor * asked,
            Holds::Absolute => self.factor * asked,
        }
    }

    /// Boost taken out of a target because half the burn stands at an angle that knock has made too late, Pa; never more than
    /// the boost there is.
    ///
    /// Source: assumed, in proportion to the excess; see the constants.
    /// Equation (5.14).
    pub fn held_back_pa(target_pa: f64, ambient_pa: f64, ca50_deg: f64) -> f64 {
        let excess_deg = (ca50_deg - LATEST_CA50_DEG).max(0.0);
        (RELIEF_PA_PER_DEG * excess_deg).min((target_pa - ambient_pa).max(0.0))
    }

    /// The highest pressure asked for, as [`Self::target_pa`].
    pub fn highest_pa(&self, ambient_pa: f64) -> f64 {
        self.asked
            .iter()
            .map(|(rpm, _)| self.target_pa(*rpm, ambient_pa))
            .fold(0.0, f64::max)
    }
}

/// One or several turbochargers alike, side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Turbocharger {
    /// The compressor of one.
    pub compressor: CentrifugalCompressor,
    /// The turbine of one.
    pub turbine: Turbine,
    /// Share of the turbine's power that reaches the compressor.
    pub shaft_efficiency: f64,
    /// Moment of inertia of one shaft with its wheels, kg m².
    pub inertia_kg_m2: f64,
    /// How many share the flow.
    pub count: u32,
    /// The boost asked for.
    pub control: BoostControl,
    /// Boost above the air outside when a pull begins, Pa.
    pub start_boost_pa: f64,
}

/// The exhaust side at one moment; powers are for all machines together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShaftPoint {
    /// The turbines.
    pub turbine: TurbinePoint,
    /// Share of the exhaust gas that passes the gate.
    pub gate_share: f64,
    /// Acceleration of the shaft, rad/s².
    pub wheel_rad_s2: f64,
    /// Absolute pressure asked for at the compressor's outlet, Pa.
    pub target_pa: f64,
    /// Of it taken out because the spark is as late as it may be, Pa.
    pub held_back_pa: f64,
    /// Whether boost is short of it with the gate shut.
    pub short: bool,
}

/// Shaft inertia usual for a flow of charge through one machine, kg m²: in proportion to it, doubted by [`INERTIA_SD_LN`].
///
/// Source: from memory, the range of car turbochargers over the range of their engines.
/// Equation (5.13).
pub fn usual_inertia_kg_m2(flow_kg_s: f64) -> f64 {
    INERTIA_PER_FLOW * flow_kg_s
}

/// A turbine nobody has measured is sized to hold full boost from this share of the engine's reference flow on, at the
/// expansion, temperature and pressure behind it that go with a mild boost there (common practice, no source).
const FULL_BOOST_FROM: f64 = 0.5;
const USUAL_EXPANSION: f64 = 1.45;
const USUAL_INLET_K: f64 = 1150.0;
const USUAL_DOWNSTREAM_PA: f64 = 110e3;
/// Exhaust gas of a petrol engine: gas constant, J/(kg K), and ratio of specific heats at 1100 K (Cantera 3.2, λ 0.88).
pub(super) const USUAL_GAS: PerfectGas = PerfectGas {
    gas_constant_j_kg_k: 290.0,
    gamma: 1.294,
};
/// Exhaust gas over air by mass, petrol at λ 0.88: 1 + 1/(14.6 · 0.88).
const GAS_PER_AIR: f64 = 1.08;

/// Effective area of one turbine for an engine's flow without boost and its boost, m².
///
/// Source: derived from the orifice equation; that full boost stands at half the redline is common practice, no source.
/// Equation (5.13).
pub fn usual_turbine_area_m2(reference_flow_kg_s: f64, boost_ratio: f64, count: u32) -> f64 {
    let gas_kg_s =
        GAS_PER_AIR * FULL_BOOST_FROM * reference_flow_kg_s * boost_ratio / f64::from(count);
    let psi = OrificeGas::new(USUAL_GAS).psi(1.0 / USUAL_EXPANSION);
    gas_kg_s * (USUAL_GAS.gas_constant_j_kg_k * USUAL_INLET_K).sqrt()
        / (USUAL_EXPANSION * USUAL_DOWNSTREAM_PA * psi)
}

impl Turbocharger {
    /// Machines known by compressor and boost only, for an engine that swallows a flow without boost, kg/s.
    pub fn usual(
        compressor: CentrifugalCompressor,
        count: u32,
        control: BoostControl,
        reference_flow_kg_s: f64,
    ) -> Self {
        let boost_ratio = control.highest_pa(STANDARD_PA) / STANDARD_PA;
        Self {
            turbine: Turbine {
                effective_area_m2: usual_turbine_area_m2(reference_flow_kg_s, boost_ratio, count),
                efficiency: TURBINE_EFFICIENCY.0,
            },
            shaft_efficiency: SHAFT_EFFICIENCY,
            inertia_kg_m2: usual_inertia_kg_m2(
                reference_flow_kg_s * boost_ratio / f64::from(count),
            ),
            compressor,
            count,
            control,
            start_boost_pa: START_BOOST_PA.0,
        }
    }

    /// The compressors at a shaft speed and the whole engine's flow; powers are for all together.
    pub fn compress(&self, inlet: Inlet, wheel_rad_s: f64, flow_kg_s: f64) -> CentrifugalPoint {
        let machines = f64::from(self.count);
        let one = self.compressor.at(inlet, wheel_rad_s, flow_kg_s / machines);
        CentrifugalPoint {
            gas_power_w: machines * one.gas_power_w,
            shaft_power_w: machines * one.shaft_power_w,
            ..one
        }
    }

    /// Turbine, gate and acceleration of the shaft for a compressor point.
    ///
    /// ```text
    /// dω/dt = min[ (η_m P_t − P_c)/(J ω),  (ω_t − ω)/τ ],   ω_t ≈ ω √(h_t/h),  h = π^((γ−1)/γ) − 1
    /// ```
    ///
    /// The first with the gate shut, the second as the control wants it; where the control wants less, the gate opens until
    /// the turbine gives just what that acceleration takes. Source: power balance of the shaft; the control's first-order
    /// approach is assumed.
    /// Equation (5.11).
    pub fn shaft(
        &self,
        stream: &ExhaustStream,
        inlet: Inlet,
        compressor: &CentrifugalPoint,
        wheel_rad_s: f64,
        (target_pa, held_back_pa): (f64, f64),
    ) -> ShaftPoint {
        let wanted_pa = target_pa - held_back_pa;
        let machines = f64::from(self.count);
        let inertia = machines * self.inertia_kg_m2;
        let turbine = Turbine {
            effective_area_m2: machines * self.turbine.effective_area_m2,
            ..self.turbine
        };
        let shut = turbine.shut(stream);
        let free = shaft_acceleration_rad_s2(
            self.shaft_efficiency * shut.power_w - compressor.shaft_power_w,
            inertia,
            wheel_rad_s,
        );
        let head = |ratio: f64| isentropic_temperature_ratio(ratio, inlet.gas.gamma) - 1.0;
        let asked = head((wanted_pa / inlet.pressure_pa).max(1.0));
        let there = head(compressor.pressure_ratio).max(LEAST_HEAD_SHARE * asked);
        let wanted = if there > 0.0 {
            wheel_rad_s * ((asked / there).sqrt() - 1.0) / CONTROL_S
        } else {
            0.0
        };
        if free <= wanted {
            let short =
                compressor.outlet_pressure_pa < (1.0 - SHORT_SHARE) * wanted_pa && asked > 0.0;
            return ShaftPoint {
                turbine: shut,
                gate_share: 0.0,
                wheel_rad_s2: free,
                target_pa,
                held_back_pa,
                short,
            };
        }
        let power_w =
            (compressor.shaft_power_w + inertia * wheel_rad_s * wanted) / self.shaft_efficiency;
        let point = turbine.for_power(stream, power_w, &shut);
        ShaftPoint {
            turbine: point,
            gate_share: (1.0 - point.flow_kg_s / stream.flow_kg_s).max(0.0),
            // With the gate wide open the shaft coasts.
            wheel_rad_s2: shaft_acceleration_rad_s2(
                self.shaft_efficiency * point.power_w - compressor.shaft_power_w,
                inertia,
                wheel_rad_s,
            ),
            target_pa,
            held_back_pa,
            short: false,
        }
    }

    /// Shaft speed at which the compressor gives a pressure ratio at a flow, rad/s; the nearest of its range where none does.
    pub fn speed_for(&self, inlet: Inlet, pressure_ratio: f64, flow_kg_s: f64) -> f64 {
        let (low, high) = self.speed_range_rad_s();
        crate::numeric::find_root(
            |speed| self.compress(inlet, speed, flow_kg_s).pressure_ratio - pressure_ratio,
            low,
            high,
            crate::numeric::RootSettings::within(1e-6 * high),
        )
        .x
    }

    /// Slowest and fastest shaft that is considered, rad/s: a fiftieth of, and a quarter more than, the speed of the rim's limit.
    /// Bounds for searches: below the one a wheel gives a few pascals, above the other it has burst.
    pub fn speed_range_rad_s(&self) -> (f64, f64) {
        let limit = 2.0 * self.compressor.tip_speed_limit_m_s / self.compressor.wheel_diameter_m;
        (0.02 * limit, 1.25 * limit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spring(asked: &[(f64, f64)]) -> BoostControl {
        BoostControl {
            holds: Holds::Gauge,
            asked: asked.to_vec(),
            factor: 1.0,
        }
    }

    #[test]
    fn the_boost_asked_for_is_straight_between_points_and_level_outside() {
        let control = spring(&[(2000.0, 80e3), (4000.0, 60e3)]);
        for (rpm, above) in [
            (1000.0, 80e3),
            (2000.0, 80e3),
            (3000.0, 70e3),
            (4000.0, 60e3),
            (9000.0, 60e3),
        ] {
            assert!((control.target_pa(rpm, 90e3) - 90e3 - above).abs() < 1e-9);
        }
        assert!((control.highest_pa(90e3) - 170e3).abs() < 1e-9);
    }

    #[test]
    fn a_spring_follows_the_air_outside_and_an_absolute_control_does_not() {
        let gauge = spring(&[(3000.0, 70e3)]);
        let absolute = BoostControl {
            holds: Holds::Absolute,
            ..spring(&[(3000.0, 170e3)])
        };
        let change = |c: &BoostControl| c.target_pa(3000.0, 100e3) - c.target_pa(3000.0, 80e3);
        assert!((change(&gauge) - 20e3).abs() < 1e-9);
        assert_eq!(change(&absolute), 0.0);
    }
}
