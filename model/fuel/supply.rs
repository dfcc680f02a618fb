//! Fuel supply: what rail, injectors and pump can carry at one operating point.
//!
//! Exists because an engine that swallows more air than its fuel supply can match does not stop: it runs lean. Port injection
//! on a common rail, at the open time and pressure that are left; the smaller of injectors and pump decides. It refuses to
//! say what the engine makes of the mixture, and it refuses direct injection, whose open time is not the cycle's.

use super::injector_flow_kg_s;

/// Density of the petrol in which injectors and pumps are rated by volume, kg/m³ (that of [`super::Fuel::petrol`]).
pub const RATING_DENSITY_KG_M3: f64 = 745.0;
/// Pressure at which injectors and pumps are usually rated, and which a rail usually holds, Pa. Common practice, no source.
pub const USUAL_RAIL_PA: f64 = 300e3;
/// Longest share of a cycle for which an injector is told to open, and its standard deviation. Common practice, no source.
pub const DUTY_LIMIT: (f64, f64) = (0.85, 0.03);
/// Time an injector takes to open beyond what it takes to close, and its standard deviation, s. Common practice, no
/// source: 0.7 to 1.3 ms at 14 V.
pub const DEAD_TIME_S: (f64, f64) = (1.0e-3, 0.2e-3);
/// Share of its flow that a pump loses per 100 kPa of more pressure, and its standard deviation. Common practice, no source.
pub const PUMP_FALL: (f64, f64) = (0.10, 0.04);

/// What the rail's pressure is held above.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RailReference {
    /// Manifold pressure: the injectors see the same difference under boost.
    Manifold,
    /// The air outside, as in a returnless rail: boost takes from the difference.
    Outside,
}

/// The fuel rail.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rail {
    /// Pressure above its reference, Pa.
    pub pressure_pa: f64,
    /// That reference.
    pub reference: RailReference,
}

impl Rail {
    /// Pressure difference across the injectors, Pa; never below 0.
    ///
    /// Source: derived, the rail less the manifold into which the injectors spray.
    /// Equation (2.16).
    pub fn across_injectors_pa(self, manifold_pa: f64, outside_pa: f64) -> f64 {
        match self.reference {
            RailReference::Manifold => self.pressure_pa,
            RailReference::Outside => (self.pressure_pa + outside_pa - manifold_pa).max(0.0),
        }
    }

    /// Pressure that the pump works against, above the air over its tank, Pa; never below 0. Lines and filter are left out.
    pub fn at_pump_pa(self, manifold_pa: f64, outside_pa: f64) -> f64 {
        match self.reference {
            RailReference::Manifold => (self.pressure_pa + manifold_pa - outside_pa).max(0.0),
            RailReference::Outside => self.pressure_pa,
        }
    }
}

/// A set of equal injectors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Injectors {
    /// How many.
    pub count: u32,
    /// Flow of one, held open, of petrol at the rated pressure, m³/s.
    pub flow_m3_s: f64,
    /// Pressure difference of that rating, Pa.
    pub rated_pressure_pa: f64,
    /// Part of the open time told that brings no fuel, s.
    pub dead_time_s: f64,
    /// Longest share of a cycle for which they are told to open.
    pub duty_limit: f64,
}

impl Injectors {
    /// Injectors of a rated flow, everything else at the usual.
    pub const fn rated(count: u32, flow_m3_s: f64) -> Self {
        Self {
            count,
            flow_m3_s,
            rated_pressure_pa: USUAL_RAIL_PA,
            dead_time_s: DEAD_TIME_S.0,
            duty_limit: DUTY_LIMIT.0,
        }
    }

    /// Flow of all of them held open, kg/s.
    ///
    /// ```text
    /// ṁ = n · q₀ ρ₀ √(Δp/Δp₀) √(ρ/ρ₀)
    /// ```
    ///
    /// Source: an orifice (derived); a denser fuel than the rating's brings more mass by the root of the ratio.
    /// Equation (2.16).
    fn open_kg_s(&self, across_pa: f64, density_kg_m3: f64) -> f64 {
        let dense = (density_kg_m3 / RATING_DENSITY_KG_M3).sqrt();
        let one = self.flow_m3_s * RATING_DENSITY_KG_M3 * dense;
        f64::from(self.count) * injector_flow_kg_s(one, self.rated_pressure_pa, across_pa, 1.0)
    }

    /// Share of a cycle lost to opening and closing: `t_dead N/120`.
    fn dead_share(&self, rpm: f64) -> f64 {
        self.dead_time_s * rpm / 120.0
    }
}

/// A fuel pump.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pump {
    /// Flow at the rated pressure and the voltage it has in the car, m³/s.
    pub flow_m3_s: f64,
    /// Pressure of that rating above the tank's, Pa.
    pub rated_pressure_pa: f64,
    /// Share of that flow lost per 100 kPa of more pressure.
    pub fall_per_100_kpa: f64,
}

impl Pump {
    /// A pump of a rated flow, everything else at the usual.
    pub const fn rated(flow_m3_s: f64) -> Self {
        Self {
            flow_m3_s,
            rated_pressure_pa: USUAL_RAIL_PA,
            fall_per_100_kpa: PUMP_FALL.0,
        }
    }

    /// Most it delivers against a pressure, kg/s; never below 0.
    ///
    /// ```text
    /// ṁ = ρ q₀ [1 − f (p − p₀)/100 kPa]
    /// ```
    ///
    /// Source: common practice, no source: printed curves are nearly straight between 200 and 500 kPa.
    /// Equation (2.16).
    pub fn most_kg_s(&self, pressure_pa: f64, density_kg_m3: f64) -> f64 {
        let over = (pressure_pa - self.rated_pressure_pa) / 100e3;
        density_kg_m3 * self.flow_m3_s * (1.0 - self.fall_per_100_kpa * over).max(0.0)
    }
}

/// The car's fuel supply, as far as it is known: what is not stated sets no limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FuelSupply {
    /// The rail.
    pub rail: Rail,
    /// The injectors, if they are known.
    pub injectors: Option<Injectors>,
    /// The pump, if it is known.
    pub pump: Option<Pump>,
}

impl Default for FuelSupply {
    /// Nothing known: no limit.
    fn default() -> Self {
        Self {
            rail: Rail {
                pressure_pa: USUAL_RAIL_PA,
                reference: RailReference::Manifold,
            },
            injectors: None,
            pump: None,
        }
    }
}

/// Where the fuel supply works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyState {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Absolute manifold pressure, Pa.
    pub manifold_pa: f64,
    /// Pressure of the air outside, Pa.
    pub outside_pa: f64,
    /// Density of the fuel, kg/m³.
    pub density_kg_m3: f64,
}

impl FuelSupply {
    /// Most the injectors can bring, kg/s; infinity where they are not known.
    ///
    /// ```text
    /// ṁ = ṁ_open (D_max − t_dead N/120)
    /// ```
    ///
    /// The limit stands on the duty that is told, which is what a log shows; opening and closing come off it.
    /// Source: derived for four-stroke engines, one opening per cycle.
    /// Equation (2.16).
    pub fn injectors_kg_s(&self, at: &SupplyState) -> f64 {
        self.injectors.map_or(f64::INFINITY, |injectors| {
            let across = self.rail.across_injectors_pa(at.manifold_pa, at.outside_pa);
            let share = injectors.duty_limit - injectors.dead_share(at.rpm);
            injectors.open_kg_s(across, at.density_kg_m3) * share.max(0.0)
        })
    }

    /// Most the pump can bring, kg/s; infinity where it is not known.
    pub fn pump_kg_s(&self, at: &SupplyState) -> f64 {
        self.pump.map_or(f64::INFINITY, |pump| {
            let against = self.rail.at_pump_pa(at.manifold_pa, at.outside_pa);
            pump.most_kg_s(against, at.density_kg_m3)
        })
    }

    /// Most fuel that reaches the engine, kg/s.
    pub fn most_kg_s(&self, at: &SupplyState) -> f64 {
        self.injectors_kg_s(at).min(self.pump_kg_s(at))
    }

    /// Share of a cycle for which the injectors are told to open to bring a fuel flow; none where they are not known.
    pub fn injector_duty(&self, fuel_kg_s: f64, at: &SupplyState) -> Option<f64> {
        self.injectors.map(|injectors| {
            let across = self.rail.across_injectors_pa(at.manifold_pa, at.outside_pa);
            let open = injectors.open_kg_s(across, at.density_kg_m3);
            // Without any difference across them they are held open and bring nothing.
            if open > 0.0 {
                fuel_kg_s / open + injectors.dead_share(at.rpm)
            } else {
                1.0
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOOSTED: SupplyState = SupplyState {
        rpm: 6000.0,
        manifold_pa: 180e3,
        outside_pa: 100e3,
        density_kg_m3: RATING_DENSITY_KG_M3,
    };

    fn supply(reference: RailReference) -> FuelSupply {
        FuelSupply {
            rail: Rail {
                pressure_pa: 300e3,
                reference,
            },
            injectors: Some(Injectors {
                count: 8,
                // 394.8 cm³/min: row 36 of the hand computations, 400 kW at 300 g/kWh from eight at duty 0.85.
                flow_m3_s: 394.8e-6 / 60.0,
                rated_pressure_pa: 300e3,
                dead_time_s: 0.0,
                duty_limit: 0.85,
            }),
            pump: Some(Pump {
                flow_m3_s: 255e-3 / 3600.0,
                rated_pressure_pa: 300e3,
                fall_per_100_kpa: 0.10,
            }),
        }
    }

    #[test]
    fn eight_injectors_carry_the_fuel_of_four_hundred_kilowatts() {
        // 400 kW · 300 g/kWh = 120 kg/h; the flow is stated to four digits.
        let most = supply(RailReference::Manifold).injectors_kg_s(&BOOSTED) * 3600.0;
        assert!((most / 120.0 - 1.0).abs() < 2e-4, "{most}");
        let duty = supply(RailReference::Manifold).injector_duty(120.0 / 3600.0, &BOOSTED);
        assert!(
            duty.is_some_and(|d| (d / 0.85 - 1.0).abs() < 2e-4),
            "{duty:?}"
        );
    }

    #[test]
    fn boost_takes_from_a_returnless_rail_and_from_the_pump_of_a_referenced_one() {
        let (held, returnless) = (
            supply(RailReference::Manifold),
            supply(RailReference::Outside),
        );
        let ratio = returnless.injectors_kg_s(&BOOSTED) / held.injectors_kg_s(&BOOSTED);
        assert!((ratio - (220.0_f64 / 300.0).sqrt()).abs() < 1e-12);
        // 80 kPa of boost on the referenced rail cost 8 % of the pump's flow.
        let ratio = held.pump_kg_s(&BOOSTED) / returnless.pump_kg_s(&BOOSTED);
        assert!((ratio - 0.92).abs() < 1e-12);
        let beyond = SupplyState {
            manifold_pa: 500e3,
            ..BOOSTED
        };
        assert_eq!(returnless.injectors_kg_s(&beyond), 0.0);
        assert_eq!(returnless.injector_duty(0.01, &beyond), Some(1.0));
    }

    #[test]
    fn dead_time_costs_more_the_faster_the_engine_turns() {
        let mut slow = supply(RailReference::Manifold);
        if let Some(injectors) = &mut slow.injectors {
            injectors.dead_time_s = 1e-3;
        }
        // 1 ms of the 20 ms of a cycle at 6000 rpm.
        let ratio = slow.injectors_kg_s(&BOOSTED)
            / supply(RailReference::Manifold).injectors_kg_s(&BOOSTED);
        assert!((ratio - 0.80 / 0.85).abs() < 1e-12);
    }

    #[test]
    fn what_is_not_known_sets_no_limit() {
        assert_eq!(FuelSupply::default().most_kg_s(&BOOSTED), f64::INFINITY);
        assert_eq!(FuelSupply::default().injector_duty(0.02, &BOOSTED), None);
    }
}
