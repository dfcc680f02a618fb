//! The ISO 3046-1 power adjustment in words, as its own block beside the correction factors.

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level};
use crate::ask::correct::site::Site;

/// Adds the block.
pub(super) fn add(document: &mut Document, site: &Site, units: Units) {
    let mut part = document.at(Level::Detail);
    let basis = format!(
        "It goes in the opposite direction to the factors above: it multiplies the power of an engine in reference air ({} absolute, \
         {}, {} humidity) to give its power here. Never multiply a reading by it. Mechanical efficiency {:.2}, {}; exponents \
         mostly from memory.",
        units.show(What::Pressure, site.reference_pressure_pa),
        // The standard counts t + 273.
        units.show(What::Temperature, site.reference_temperature_k + 0.15),
        units.show(What::Percent, site.reference_humidity),
        site.mechanical_efficiency,
        if site.efficiency_stated {
            "as stated"
        } else {
            "what the standard takes where none is stated"
        }
    );
    part.space()
        .section("The other way: ISO 3046-1 power adjustment")
        .labelled("  ", basis, 2);
    if site.rows.is_empty() {
        part.line("  Its table names no engine with a blower turned by the crank.");
    }
    let mut table = TextTable::new("lrl");
    for row in &site.rows {
        let coolant = row.coolant_k.map_or_else(String::new, |k| {
            let shown = units.show(What::Temperature, k);
            format!("charge coolant taken at {shown}")
        });
        let alpha = format!("{:.4}", row.alpha);
        table.row([row.engine.words().to_owned(), alpha, coolant]);
    }
    part.table(table);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Day;
    use crate::air::atmosphere::StationPressure;
    use crate::ask::correct::site::site;
    use crate::dyno::correction::Subject;
    use crate::dyno::correction::engine::EngineKind;

    #[test]
    fn its_direction_its_reference_and_its_efficiency_are_told() {
        let day = Day::from_relative_humidity(StationPressure::from_pa(85e3), 298.15, 0.3)
            .expect("a day");
        let site = site(&day, &Subject::of(EngineKind::SPARK_UNBOOSTED));
        let mut document = Document::new();
        add(&mut document, &site, Units::Metric);
        let text = document.text();
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
