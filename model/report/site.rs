//! The air of a site in words: the ISO 3046-1 power adjustment as a block of its own beside the correction factors, and what a pressure, a
//! temperature or a held boost means for them.

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level};
use crate::air::atmosphere::StationCheck;
use crate::ask::correct::site::Site;
use crate::dyno::correction::Breach;
use crate::dyno::correction::boosted::{BoostLaw, BoostRemark};

/// A limit of a standard that a day exceeds.
pub(super) fn breach(breach: &Breach, units: Units) -> String {
    let range = |what: What, (low, high): (f64, f64)| {
        format!("{} to {}", units.cell(what, low), units.show(what, high))
    };
    match breach {
        Breach::Temperature {
            temperature_k,
            range_k,
        } => format!(
            "air temperature {} is outside {}",
            units.show(What::Temperature, *temperature_k),
            range(What::Temperature, *range_k)
        ),
        Breach::DryPressure { dry_pa, range_pa } => format!(
            "dry pressure {} is outside {}",
            units.show(What::Pressure, *dry_pa),
            range(What::Pressure, *range_pa)
        ),
        other => other.to_string(),
    }
}

/// Whether a pressure can be a station pressure.
pub(super) fn pressure(check: &StationCheck, units: Units) -> String {
    let pressure = |pa: f64| units.show(What::Pressure, pa);
    match check {
        StationCheck::LooksLikeSeaLevel { entered, expected } => format!(
            "{} is too high for this altitude and looks like a sea-level value; station pressure would then be about {}",
            pressure(entered.pa()),
            pressure(expected.pa())
        ),
        StationCheck::LooksReducedTwice { entered, expected } => format!(
            "{} is too low for this altitude, as if a station reading had been reduced a second time; about {} is expected",
            pressure(entered.pa()),
            pressure(expected.pa())
        ),
        StationCheck::TooHigh { entered, expected } => format!(
            "{} is too high for this altitude, where about {} is expected; check the unit and whether it is absolute",
            pressure(entered.pa()),
            pressure(expected.pa())
        ),
        other => other.to_string(),
    }
}

/// What the barometer is worth with boost held one way.
pub(super) fn held(remark: &BoostRemark, units: Units) -> String {
    let law = match remark.law {
        BoostLaw::FollowsAmbient => "following the barometer".to_owned(),
        BoostLaw::HeldGauge(gauge) => {
            format!("held at {} gauge", units.show(What::Pressure, gauge.pa()))
        }
        BoostLaw::HeldAbsolute => "held at a fixed absolute pressure".to_owned(),
    };
    format!(
        "with boost {law} the barometer is worth a factor of about {:.3}; SAE J1349 takes {:.3} ({:+.0} %)",
        remark.expected_part,
        remark.standard_part,
        100.0 * remark.over_correction()
    )
}

/// Adds the block.
pub(super) fn add(document: &mut Document, site: &Site, units: Units) {
    let mut part = document.at(Level::Detail);
    let basis = format!(
        "It works in the opposite direction to the factors above: it turns the power of an engine in reference air ({} absolute, {}, \
         {} humidity) into its power here. Never multiply a reading by it. Mechanical efficiency {:.2}, {}; exponents mostly from \
         memory.",
        units.show(What::Pressure, site.reference_pressure_pa),
        // The standard counts t + 273.
        units.show(What::Temperature, site.reference_temperature_k + 0.15),
        units.show(What::Percent, site.reference_humidity),
        site.mechanical_efficiency,
        if site.efficiency_stated {
            "as stated"
        } else {
            "the standard's default"
        }
    );
    part.space()
        .section("The other way: ISO 3046-1 power adjustment")
        .labelled("  ", basis, 2);
    if site.rows.is_empty() {
        part.line("  Its table has no engine with a crank-driven blower.");
    }
    let mut table = TextTable::new("lrl");
    for row in &site.rows {
        let coolant = row.coolant_k.map_or_else(String::new, |k| {
            let shown = units.show(What::Temperature, k);
            format!("intercooler coolant taken at {shown}")
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
