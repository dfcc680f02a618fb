//! Exhaust turbine: the power it takes from the gas.
//!
//! It exists to say what back pressure a given boost costs. [`TurbineInlet`] holds the closed form of the power, [`Turbine`] the wheel as
//! an orifice of fixed area and efficiency: what it takes with all of the gas, and how much gas it needs for a given power.
//! The shaft and the gate that shares the gas belong to [`super::turbocharger`].

use crate::air::flow::OrificeGas;
use crate::numeric::{RootSettings, find_root};

/// Exhaust gas and turbine inlet state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurbineInlet {
    /// Mass flow through the wheel, kg/s.
    pub flow_kg_s: f64,
    /// Total temperature, K.
    pub temperature_k: f64,
    /// Specific heat at constant pressure, J/(kg K).
    pub cp_j_kg_k: f64,
    /// Ratio of specific heats of the exhaust gas.
    pub gamma: f64,
}

impl TurbineInlet {
    /// Power at the wheel, W.
    ///
    /// ```text
    /// P = ṁ cp T₃ η [1 − (p₄/p₃)^((γ−1)/γ)]
    /// ```
    ///
    /// Zero at an expansion ratio of 1 and below. Source: definition of the turbine's isentropic efficiency (Heywood
    /// ch. 6, from memory). Steady flow; pulsation shifts the apparent efficiency by several percent.
    /// Equation (5.5).
    pub fn power_w(self, expansion_ratio: f64, efficiency: f64) -> f64 {
        let drop = 1.0
            - expansion_ratio
                .max(1.0)
                .powf(-(self.gamma - 1.0) / self.gamma);
        self.flow_kg_s * self.cp_j_kg_k * self.temperature_k * efficiency * drop
    }
}

/// A turbine wheel in its housing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turbine {
    /// Effective flow area, m²: that of an orifice between the pressures before and behind the wheel.
    pub effective_area_m2: f64,
    /// Isentropic efficiency on the mean pressures, pulsation included.
    pub efficiency: f64,
}

/// The exhaust gas that turbine and gate share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExhaustStream {
    /// All of the gas, kg/s.
    pub flow_kg_s: f64,
    /// Temperature before the wheel, K.
    pub temperature_k: f64,
    /// Pressure behind it, Pa.
    pub downstream_pa: f64,
    /// Gas constant of the exhaust gas, J/(kg K).
    pub gas_constant_j_kg_k: f64,
    /// Ratio of its specific heats.
    pub gamma: f64,
    /// The same gas as an orifice sees it.
    pub orifice: OrificeGas,
}

/// A turbine at work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurbinePoint {
    /// Pressure before the wheel, Pa.
    pub inlet_pa: f64,
    /// Gas through the wheel, kg/s.
    pub flow_kg_s: f64,
    /// Power at the wheel, W.
    pub power_w: f64,
    /// Pressure behind the wheel, Pa.
    pub outlet_pa: f64,
    /// Temperature before it, K.
    pub inlet_k: f64,
    /// Specific heat of the gas at constant pressure, J/(kg K).
    pub cp_j_kg_k: f64,
    /// Ratio of its specific heats.
    pub gamma: f64,
}

/// Bracket within which the pressure ratio over the wheel is known.
const RATIO_TOLERANCE: f64 = 1e-9;

impl Turbine {
    fn at_ratio(self, stream: &ExhaustStream, x: f64) -> TurbinePoint {
        let inlet_pa = stream.downstream_pa / x;
        let flow_kg_s = self.effective_area_m2 * inlet_pa * stream.orifice.psi(x)
            / (stream.gas_constant_j_kg_k * stream.temperature_k).sqrt();
        let cp = stream.gamma * stream.gas_constant_j_kg_k / (stream.gamma - 1.0);
        let inlet = TurbineInlet {
            flow_kg_s,
            temperature_k: stream.temperature_k,
            cp_j_kg_k: cp,
            gamma: stream.gamma,
        };
        TurbinePoint {
            inlet_pa,
            flow_kg_s,
            power_w: inlet.power_w(1.0 / x, self.efficiency),
            outlet_pa: stream.downstream_pa,
            inlet_k: stream.temperature_k,
            cp_j_kg_k: cp,
            gamma: stream.gamma,
        }
    }

    /// The wheel with all of the gas passing it: the gate is shut.
    ///
    /// ```text
    /// ṁ = A p₃/√(R T₃) Ψ(x),   x = p₄/p₃
    /// ```
    ///
    /// Source: orifice equation; that a turbine swallows nearly as a nozzle is common practice, no source.
    /// Equation (5.10).
    pub fn shut(self, stream: &ExhaustStream) -> TurbinePoint {
        let wanted = stream.flow_kg_s * (stream.gas_constant_j_kg_k * stream.temperature_k).sqrt()
            / (self.effective_area_m2 * stream.downstream_pa);
        let x = stream.orifice.ratio_into(wanted);
        TurbinePoint {
            flow_kg_s: stream.flow_kg_s,
            ..self.at_ratio(stream, x)
        }
    }

    /// The wheel with as much of the gas as a power takes, W; `shut` is what all of it gives, and the most there is.
    /// Equation (5.10).
    pub fn for_power(
        self,
        stream: &ExhaustStream,
        power_w: f64,
        shut: &TurbinePoint,
    ) -> TurbinePoint {
        if power_w >= shut.power_w {
            return *shut;
        }
        if power_w <= 0.0 {
            return self.at_ratio(stream, 1.0);
        }
        let root = find_root(
            |x| self.at_ratio(stream, x).power_w - power_w,
            stream.downstream_pa / shut.inlet_pa,
            1.0,
            RootSettings::within(RATIO_TOLERANCE),
        );
        self.at_ratio(stream, root.x)
    }
}

/// Shaft acceleration, rad/s²: `dω/dt = P_net/(J ω)`.
/// Equation (5.11).
pub fn shaft_acceleration_rad_s2(net_power_w: f64, inertia_kg_m2: f64, speed_rad_s: f64) -> f64 {
    net_power_w / (inertia_kg_m2 * speed_rad_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TURBINE: TurbineInlet = TurbineInlet {
        flow_kg_s: 1.08,
        temperature_k: 1173.0,
        cp_j_kg_k: 1150.0,
        gamma: 1.33,
    };

    #[test]
    fn the_wheel_takes_what_it_is_asked_for_and_no_more_than_there_is() {
        let gas = crate::air::gas::PerfectGas {
            gas_constant_j_kg_k: 290.0,
            gamma: 1.31,
        };
        let stream = ExhaustStream {
            flow_kg_s: 0.15,
            temperature_k: 1150.0,
            downstream_pa: 108e3,
            gas_constant_j_kg_k: gas.gas_constant_j_kg_k,
            gamma: gas.gamma,
            orifice: OrificeGas::new(gas),
        };
        let wheel = Turbine {
            effective_area_m2: 750e-6,
            efficiency: 0.66,
        };
        let shut = wheel.shut(&stream);
        let through = wheel.at_ratio(&stream, stream.downstream_pa / shut.inlet_pa);
        // 1e-8: the bracket of the ratio, times its slope.
        assert!((through.flow_kg_s / 0.15 - 1.0).abs() < 1e-8, "{through:?}");
        for share in [0.1, 0.5, 0.99] {
            let part = wheel.for_power(&stream, share * shut.power_w, &shut);
            assert!((part.power_w / (share * shut.power_w) - 1.0).abs() < 1e-7);
            assert!(part.flow_kg_s < shut.flow_kg_s && part.inlet_pa < shut.inlet_pa);
        }
        assert_eq!(wheel.for_power(&stream, 2.0 * shut.power_w, &shut), shut);
        assert_eq!(wheel.for_power(&stream, -1.0, &shut).power_w, 0.0);
        // A wheel so small that it chokes passes the gas all the same, at the pressure that takes.
        let small = Turbine {
            effective_area_m2: 200e-6,
            ..wheel
        };
        let choked = small.shut(&stream);
        assert!(choked.inlet_pa > 2.0 * shut.inlet_pa && choked.power_w > shut.power_w);
    }

    #[test]
    fn no_expansion_gives_no_power() {
        assert_eq!(TURBINE.power_w(1.0, 0.7), 0.0);
        assert_eq!(TURBINE.power_w(0.8, 0.7), 0.0);
    }
}
