//! The ISO 3046-1 power adjustment of a day, as its own answer beside the correction factors.
//!
//! It answers the opposite question: not what a reading is worth in reference air, but what an engine rated in reference air gives
//! here. So it never stands among the factors, and it has no row for a kind of engine that its table does not name.

use crate::air::Day;
use crate::dyno::correction::Subject;
use crate::dyno::correction::engine::Charging;
use crate::dyno::correction::site::{
    REFERENCE_HUMIDITY, REFERENCE_K, REFERENCE_PA, SiteAdjustment, SiteEngine,
    UNSTATED_MECHANICAL_EFFICIENCY,
};
use serde::Serialize;

/// The adjustment on a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Site {
    /// Reference pressure.
    pub reference_pressure_pa: f64,
    /// Reference temperature of air and charge coolant, counted as t + 273.
    pub reference_temperature_k: f64,
    /// Reference humidity, 0 to 1.
    pub reference_humidity: f64,
    /// Mechanical efficiency used.
    pub mechanical_efficiency: f64,
    /// Whether it was stated, or is what the standard takes otherwise.
    pub efficiency_stated: bool,
    /// The rows of the standard's table that may be this engine; none if it names no such engine.
    pub rows: Vec<SiteRow>,
}

/// One row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteRow {
    /// Kind of engine in the standard's table.
    pub engine: SiteEngine,
    /// Indicated power here over that in reference air.
    pub indicated_ratio: f64,
    /// Brake power here over that in reference air.
    pub alpha: f64,
    /// Temperature taken for the charge coolant, where the row asks for one.
    pub coolant_k: Option<f64>,
}

/// Every row that may be this engine. Outside air cools the charge at its own temperature; an engine's coolant is held by its
/// thermostat whatever the weather, so it stays at the reference.
pub fn site(day: &Day, subject: &Subject) -> Site {
    let efficiency = subject
        .mechanical_efficiency
        .unwrap_or(UNSTATED_MECHANICAL_EFFICIENCY);
    // The standard counts t + 273, so its 298 K is 25 °C.
    let reference_k = REFERENCE_K + 0.15;
    let coolant_k = if subject.engine.charging == Charging::Turbo {
        day.temperature_k()
    } else {
        reference_k
    };
    let row = |&engine: &SiteEngine| {
        let adjustment = SiteAdjustment::new(engine, day, coolant_k, efficiency);
        SiteRow {
            engine,
            indicated_ratio: adjustment.indicated_ratio,
            alpha: adjustment.alpha,
            coolant_k: engine.is_charge_cooled().then_some(coolant_k),
        }
    };
    Site {
        reference_pressure_pa: REFERENCE_PA,
        reference_temperature_k: REFERENCE_K,
        reference_humidity: REFERENCE_HUMIDITY,
        mechanical_efficiency: efficiency,
        efficiency_stated: subject.mechanical_efficiency.is_some(),
        rows: SiteEngine::rows_of(subject.engine)
            .iter()
            .map(row)
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::atmosphere::StationPressure;
    use crate::dyno::correction::engine::{EngineKind, Ignition};

    fn on(pressure_pa: f64, ignition: Ignition, charging: Charging) -> Site {
        let day = Day::from_relative_humidity(StationPressure::from_pa(pressure_pa), 298.15, 0.3)
            .expect("a day");
        site(&day, &Subject::of(EngineKind { ignition, charging }))
    }

    #[test]
    fn reference_air_needs_no_adjustment_and_thin_air_takes_power_away() {
        for (ignition, charging, rows) in [
            (Ignition::Spark, Charging::Unboosted, 1),
            (Ignition::Spark, Charging::Turbo, 1),
            (Ignition::Compression, Charging::Unboosted, 2),
            (Ignition::Compression, Charging::Turbo, 2),
            (Ignition::Compression, Charging::TurboCoolantCooled, 1),
            (Ignition::Spark, Charging::Mechanical, 0),
        ] {
            let reference = on(100e3, ignition, charging);
            assert_eq!(reference.rows.len(), rows, "{ignition:?} {charging:?}");
            // The day's vapour comes from the same saturation curve as the reference: rounding only.
            assert!(
                reference.rows.iter().all(|r| (r.alpha - 1.0).abs() < 1e-9),
                "{reference:?}"
            );
            let thin = on(85e3, ignition, charging);
            assert!(thin.rows.iter().all(|r| r.alpha < 0.95), "{thin:?}");
        }
    }
}
