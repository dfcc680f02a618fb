//! Exhaust turbine: the power it takes from the gas, and the boost that power can hold in a steady state.
//!
//! It exists to say what back pressure a given boost costs. It is the closed-form part only: the shaft as a state, the
//! swallowing capacity and the wastegate belong to the turbocharger, which has its place here and is not built yet. It
//! refuses to guess the pressure before the turbine.

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
    pub fn power_w(self, expansion_ratio: f64, efficiency: f64) -> f64 {
        let drop = 1.0
            - expansion_ratio
                .max(1.0)
                .powf(-(self.gamma - 1.0) / self.gamma);
        self.flow_kg_s * self.cp_j_kg_k * self.temperature_k * efficiency * drop
    }

    /// Compressor pressure ratio that this turbine can hold when the shaft speed is steady.
    ///
    /// ```text
    /// π_c = {1 + (ṁ_t cp_g T₃)/(ṁ_c cp T₁) · η_c η_t η_m · [1 − ER^(−(γg−1)/γg)]}^(γ/(γ−1))
    /// ```
    ///
    /// Source: Isermann, Combustion Engine Diagnosis, section 5.4.
    pub fn steady_pressure_ratio(
        self,
        expansion_ratio: f64,
        efficiency: f64,
        compressor: CompressorSide,
    ) -> f64 {
        let shaft_w = self.power_w(expansion_ratio, efficiency) * compressor.mechanical_efficiency;
        let rise = shaft_w * compressor.efficiency
            / (compressor.flow_kg_s * compressor.cp_j_kg_k * compressor.inlet_temperature_k);
        (1.0 + rise).powf(compressor.gamma / (compressor.gamma - 1.0))
    }

    /// Expansion ratio needed to hold a compressor pressure ratio: the inverse of [`Self::steady_pressure_ratio`].
    ///
    /// `None` when the exhaust does not carry the energy at any expansion ratio.
    pub fn expansion_ratio_for(
        self,
        pressure_ratio: f64,
        efficiency: f64,
        compressor: CompressorSide,
    ) -> Option<f64> {
        let rise = pressure_ratio.powf((compressor.gamma - 1.0) / compressor.gamma) - 1.0;
        let shaft_w =
            compressor.flow_kg_s * compressor.cp_j_kg_k * compressor.inlet_temperature_k * rise
                / (compressor.efficiency * compressor.mechanical_efficiency);
        let drop = shaft_w / (self.flow_kg_s * self.cp_j_kg_k * self.temperature_k * efficiency);
        (drop < 1.0).then(|| (1.0 - drop).powf(-self.gamma / (self.gamma - 1.0)))
    }
}

/// The compressor on the same shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompressorSide {
    /// Mass flow of charge, kg/s.
    pub flow_kg_s: f64,
    /// Total temperature at the inlet, K.
    pub inlet_temperature_k: f64,
    /// Specific heat at constant pressure of the charge, J/(kg K).
    pub cp_j_kg_k: f64,
    /// Ratio of specific heats of the charge.
    pub gamma: f64,
    /// Isentropic efficiency.
    pub efficiency: f64,
    /// Mechanical efficiency of the shaft; 0.94 to 0.98 (from memory).
    pub mechanical_efficiency: f64,
}

/// Shaft acceleration, rad/s²: `dω/dt = P_net/(J ω)`.
pub fn shaft_acceleration_rad_s2(net_power_w: f64, inertia_kg_m2: f64, speed_rad_s: f64) -> f64 {
    net_power_w / (inertia_kg_m2 * speed_rad_s)
}

/// Time to spin up under constant net power, s: `t = J (ω₂² − ω₁²)/(2 P)`.
///
/// 5e-5 kg m², 5 kW, 50 000 → 100 000 rpm: 0.4112 s.
pub fn spool_time_s(net_power_w: f64, inertia_kg_m2: f64, from_rad_s: f64, to_rad_s: f64) -> f64 {
    0.5 * inertia_kg_m2 * (to_rad_s * to_rad_s - from_rad_s * from_rad_s) / net_power_w
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
    const COMPRESSOR: CompressorSide = CompressorSide {
        flow_kg_s: 1.0,
        inlet_temperature_k: 298.0,
        cp_j_kg_k: 1005.0,
        gamma: 1.4,
        efficiency: 0.74,
        mechanical_efficiency: 0.97,
    };

    #[test]
    fn steady_boost_and_its_inverse_agree() {
        for er in [1.1, 1.46, 2.5] {
            let pr = TURBINE.steady_pressure_ratio(er, 0.70, COMPRESSOR);
            let back = TURBINE
                .expansion_ratio_for(pr, 0.70, COMPRESSOR)
                .expect("energy is there");
            assert!((back / er - 1.0).abs() < 1e-12);
        }
        assert_eq!(TURBINE.expansion_ratio_for(400.0, 0.70, COMPRESSOR), None);
    }

    #[test]
    fn no_expansion_gives_no_power() {
        assert_eq!(TURBINE.power_w(1.0, 0.7), 0.0);
        assert_eq!(TURBINE.power_w(0.8, 0.7), 0.0);
    }
}
