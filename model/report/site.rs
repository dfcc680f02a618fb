//! The ISO 3046-1 power adjustment, as its own block beside the correction factors.
//!
//! It answers the opposite question: not what a reading is worth in reference air, but what an engine rated in reference air gives
//! here. So it never stands in the table of factors, and it refuses a kind of engine that its table does not name.

use super::number::{Units, What};
use super::table::{TextTable, WIDTH, paragraph};
use crate::air::Day;
use crate::dyno::correction::Subject;
use crate::dyno::correction::engine::{Charging, Ignition};
use crate::dyno::correction::site::{
    REFERENCE_HUMIDITY, REFERENCE_K, REFERENCE_PA, SiteAdjustment, SiteEngine,
    UNSTATED_MECHANICAL_EFFICIENCY,
};
use serde::Serialize;

/// The adjustment on a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteBlock {
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
    pub engine: &'static str,
    /// Indicated power here over that in reference air.
    pub indicated_ratio: f64,
    /// Brake power here over that in reference air.
    pub alpha: f64,
    /// Temperature taken for the charge coolant, where the row asks for one.
    pub coolant_k: Option<f64>,
}

/// Every row that may be this engine. Outside air cools the charge at its own temperature; an engine's coolant is held by its
/// thermostat whatever the weather, so it stays at the reference.
pub fn site(day: &Day, subject: &Subject) -> SiteBlock {
    use SiteEngine as Row;
    let (ignition, charging) = (subject.engine.ignition, subject.engine.charging);
    let rows: &[SiteEngine] = match (ignition, charging) {
        (Ignition::Spark, Charging::Unboosted) => &[Row::GasUnboosted],
        (Ignition::Spark, Charging::Turbo | Charging::TurboCoolantCooled) => &[Row::GasTurboCooled],
        (Ignition::Compression, Charging::Unboosted) => &[
            Row::DieselUnboostedAirLimited,
            Row::DieselUnboostedThermallyLimited,
        ],
        (Ignition::Compression, Charging::Turbo) => &[Row::DieselTurbo, Row::DieselTurboCooled],
        (Ignition::Compression, Charging::TurboCoolantCooled) => &[Row::DieselTurboCooled],
        (_, Charging::Mechanical) => &[],
    };
    let efficiency = subject
        .mechanical_efficiency
        .unwrap_or(UNSTATED_MECHANICAL_EFFICIENCY);
    // The standard counts t + 273, so its 298 K is 25 °C.
    let reference_k = REFERENCE_K + 0.15;
    let coolant_k = if charging == Charging::Turbo {
        day.temperature_k()
    } else {
        reference_k
    };
    SiteBlock {
        reference_pressure_pa: REFERENCE_PA,
        reference_temperature_k: REFERENCE_K,
        reference_humidity: REFERENCE_HUMIDITY,
        mechanical_efficiency: efficiency,
        efficiency_stated: subject.mechanical_efficiency.is_some(),
        rows: rows
            .iter()
            .map(|row| {
                let adjustment = SiteAdjustment::new(*row, day, coolant_k, efficiency);
                SiteRow {
                    engine: row.words(),
                    indicated_ratio: adjustment.indicated_ratio,
                    alpha: adjustment.alpha,
                    coolant_k: row.is_charge_cooled().then_some(coolant_k),
                }
            })
            .collect(),
    }
}

impl SiteBlock {
    /// As a block of its own.
    pub fn text(&self, units: Units) -> String {
        let mut out = String::from("\nThe other way: ISO 3046-1 power adjustment\n");
        let basis = format!(
            "It goes in the opposite direction to the factors above: it multiplies the power of an engine in reference air ({} absolute, \
             {}, {} humidity) to give its power here. Never multiply a reading by it. Mechanical efficiency {:.2}, {}; exponents \
             mostly from memory.",
            units.show(What::Pressure, self.reference_pressure_pa),
            units.show(What::Temperature, self.reference_temperature_k + 0.15),
            units.show(What::Percent, self.reference_humidity),
            self.mechanical_efficiency,
            if self.efficiency_stated {
                "as stated"
            } else {
                "what the standard takes where none is stated"
            }
        );
        out.push_str(&paragraph("  ", &basis, 2, WIDTH));
        if self.rows.is_empty() {
            out.push_str("  Its table names no engine with a blower turned by the crank.\n");
            return out;
        }
        let mut table = TextTable::new("lrl");
        for row in &self.rows {
            let coolant = row.coolant_k.map_or_else(String::new, |k| {
                format!(
                    "charge coolant taken at {}",
                    units.show(What::Temperature, k)
                )
            });
            table.row([row.engine.to_owned(), format!("{:.4}", row.alpha), coolant]);
        }
        out.push_str(&table.render());
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::atmosphere::StationPressure;
    use crate::dyno::correction::engine::EngineKind;

    fn block(pressure_pa: f64, ignition: Ignition, charging: Charging) -> SiteBlock {
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
            let reference = block(100e3, ignition, charging);
            assert_eq!(reference.rows.len(), rows, "{ignition:?} {charging:?}");
            // The day's vapour comes from the same saturation curve as the reference: rounding only.
            assert!(
                reference.rows.iter().all(|r| (r.alpha - 1.0).abs() < 1e-9),
                "{reference:?}"
            );
            let thin = block(85e3, ignition, charging);
            assert!(thin.rows.iter().all(|r| r.alpha < 0.95), "{thin:?}");
        }
        let text = block(85e3, Ignition::Spark, Charging::Unboosted).text(Units::Metric);
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for part in [
            "opposite direction",
            "100.0 kPa absolute, 25.0 °C, 30.0 % humidity",
            "Mechanical efficiency 0.80",
        ] {
            assert!(flat.contains(part), "{part} in {text}");
        }
    }
}
