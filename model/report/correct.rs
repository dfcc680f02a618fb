//! One weather under every standard, in words: factor, limits, and what it does to engine and electric power.
//!
//! A factor is shown only with its reference air and its own limits, the uncorrected figure beside it.

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report, site};
use crate::ask::correct::{Answer, BoostNote, Line};
use crate::dyno::correction::Provenance;

/// Limits of a standard, by their ids.
pub(super) const BREACHES: &[(&str, &str)] = &[
    (
        "temperature",
        "air temperature outside what the standard states",
    ),
    (
        "dry_pressure",
        "dry pressure outside what the standard states",
    ),
    ("factor", "factor outside what the standard states"),
    (
        "temperature_share",
        "more correction for temperature than older texts of the standard allow",
    ),
    (
        "pressure_share",
        "more correction for pressure than older texts of the standard allow",
    ),
    ("engine", "not written for this kind of engine"),
    (
        "boosted_convention",
        "turbocharged engine: the factor assumes that boost follows the ambient; take it as a reporting convention",
    ),
];

/// What a standard lacks, by its id.
pub(super) const MISSING: &[(&str, &str)] = &[
    (
        "mechanical_efficiency_not_given",
        "needs the mechanical efficiency of the engine",
    ),
    (
        "fuel_per_cycle_not_given",
        "needs the fuel per cycle and litre (q_c)",
    ),
    (
        "mechanical_efficiency_out_of_range",
        "the mechanical efficiency is outside 0.3 to 1",
    ),
    (
        "fuel_per_cycle_out_of_range",
        "the fuel per cycle is not a positive number",
    ),
];

/// How a pressure entered as station pressure looks, by its id.
pub(super) const PRESSURE_VERDICTS: &[(&str, &str)] = &[
    ("plausible", "plausible as a station pressure"),
    (
        "looks_like_sea_level",
        "too high for the altitude; looks like a sea-level value",
    ),
    (
        "looks_reduced_twice",
        "too low for the altitude, as if a station reading had been reduced once more",
    ),
    (
        "too_high",
        "too high for the altitude; check the unit and whether it is absolute",
    ),
    (
        "out_of_range_without_altitude",
        "outside what ordinary workshops have; give the altitude so that it can be checked",
    ),
    (
        "altitude_out_of_range",
        "the altitude is outside the range in which the pressure can be checked",
    ),
];

/// How charge pressure is held, by its id.
pub(super) const BOOST_LAWS: &[(&str, &str)] = &[
    ("follows_ambient", "following the ambient"),
    ("held_gauge", "held above ambient"),
    ("held_absolute", "held at a fixed absolute pressure"),
];

const BLOWER_FOLLOWS: &str = "a blower turned by the crank with its bypass shut follows the ambient, so the factor keeps its meaning; \
     warmer charge and knock are not in it";
const TURBO_CONVENTION: &str = "a corrected figure of a regulated turbo engine is a convention; put the uncorrected one beside it";

/// What to think of a factor on a boosted engine, by its id.
pub(super) const BOOST_NOTES: &[(&str, &str)] = &[
    (
        "held_pressure",
        "what ambient pressure is worth with the charge pressure so held, and what SAE J1349's form takes",
    ),
    ("blower_follows_ambient", BLOWER_FOLLOWS),
    ("turbo_convention", TURBO_CONVENTION),
];

impl BoostNote {
    fn words(&self) -> String {
        match self {
            Self::HeldPressure(remark) => remark.to_string(),
            Self::BlowerFollowsAmbient => BLOWER_FOLLOWS.to_owned(),
            Self::TurboConvention => TURBO_CONVENTION.to_owned(),
        }
    }
}

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/correct/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        self.air(&mut document, units);
        document.at(Level::Answer).table(self.table(units));
        self.to_mind(&mut document);
        self.other_standards(&mut document);
        if !self.boost.is_empty() {
            let notes = self.boost.iter().map(BoostNote::words);
            let mut part = document.at(Level::Answer);
            part.space().section("Charge pressure").list(notes);
        }
        site::add(&mut document, &self.site, units);
        self.electric(&mut document, units);
        document
    }
}

impl Answer {
    fn air(&self, document: &mut Document, units: Units) {
        let mut part = document.at(Level::Answer);
        part.title("Weather correction");
        part.fact("Air: ", self.weather.line(units));
        let vapour = units.show(What::Pressure, self.weather.vapour_pressure_pa);
        let dew = self.weather.dew_point_k.map_or_else(String::new, |dew| {
            format!(", dew point {}", units.show(What::Temperature, dew))
        });
        part.line(format!("     vapour pressure {vapour}{dew}"));
        part.labelled("Pressure: ", self.pressure_check.to_string(), 10);
        if let Some(pa) = self.standard_pressure_pa {
            let standard = units.show(What::Pressure, pa);
            part.line(format!(
                "          standard air at that altitude has {standard}"
            ));
        }
        part.fact("Engine: ", self.engine.to_string()).space();
    }

    /// The standards meant for this engine, under their reference air.
    fn table(&self, units: Units) -> TextTable {
        let mut table = TextTable::new("lrlr");
        let mut head = vec!["", "factor", "stated range"];
        if self.engine_power_w.is_some() {
            head.push(units.symbol(What::Power));
        }
        table.head(head);
        let mut references: Vec<&str> = Vec::new();
        for line in self.meant() {
            if !references.contains(&line.reference) {
                references.push(line.reference);
            }
        }
        for reference in references {
            table.row([format!("to {reference}")]);
            for line in self.meant().filter(|l| l.reference == reference) {
                let factor = line
                    .factor
                    .map_or_else(|| "-".to_owned(), |f| format!("{f:.4}"));
                let mut row = vec![
                    format!("  {}", line.standard.name()),
                    factor,
                    line.range_verdict().to_owned(),
                ];
                row.extend(line.power_w.map(|power| units.cell(What::Power, power)));
                table.row(row);
            }
        }
        table
    }

    /// Every limit exceeded once, with the standards that state it.
    fn breaches(&self) -> Vec<(String, Vec<&'static str>)> {
        let mut found: Vec<(String, Vec<&'static str>)> = Vec::new();
        for line in self.meant() {
            for breach in &line.breaches {
                let text = breach.to_string();
                let name = line.standard.name();
                match found.iter_mut().find(|(known, _)| *known == text) {
                    Some((_, names)) => names.push(name),
                    None => found.push((text, vec![name])),
                }
            }
        }
        found
    }

    fn to_mind(&self, document: &mut Document) {
        let mut items: Vec<String> = self
            .breaches()
            .into_iter()
            .map(|(breach, names)| {
                let who = if names.len() > 4 {
                    "most of them".to_owned()
                } else {
                    names.join("; ")
                };
                format!("{breach} ({who})")
            })
            .collect();
        items.extend(
            self.meant()
                .filter_map(|line| line.missing.map(|missing| missing.to_string())),
        );
        let memory: Vec<_> = self
            .meant()
            .filter(|line| line.provenance != Provenance::Read)
            .map(|line| format!("{} ({})", line.standard.name(), line.provenance.words()))
            .collect();
        if !memory.is_empty() {
            items.push(format!(
                "figures not read in the standard itself: {}",
                memory.join("; ")
            ));
        }
        if !items.is_empty() {
            let mut part = document.at(Level::Answer);
            part.space().section("To mind").list(items);
        }
    }

    fn other_standards(&self, document: &mut Document) {
        let others: Vec<_> = self
            .standards
            .iter()
            .filter(|line| !line.meant_for_engine)
            .map(|line| line.standard.id())
            .collect();
        if !others.is_empty() {
            let mut part = document.at(Level::Detail);
            part.space()
                .labelled("Not written for this engine: ", others.join(", "), 4);
        }
    }

    fn electric(&self, document: &mut Document, units: Units) {
        let mut part = document.at(Level::Answer);
        part.space()
            .line("Electric power is never corrected: a motor does not breathe.");
        if self.electric_power_w <= 0.0 {
            return;
        }
        let mut table = TextTable::new("lr");
        for line in self.meant() {
            if let Some(added) = line.added_to_electric_w(self.electric_power_w) {
                let name = line.standard.name().to_owned();
                table.row([name, units.show_change(What::Power, added)]);
            }
        }
        if !table.is_empty() {
            part.line(format!(
                "Applied to its {} the standards would have added:",
                units.show(What::Power, self.electric_power_w)
            ))
            .table(table);
        }
    }
}

impl Line {
    fn range_verdict(&self) -> &'static str {
        match (self.factor, self.states_range, self.breaches.is_empty()) {
            (None, _, _) => "-",
            (_, false, _) => "none known",
            (_, true, true) => "inside",
            (_, true, false) => "exceeded, see below",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Day;
    use crate::air::atmosphere::StationPressure;
    use crate::ask::correct::Question;
    use crate::dyno::correction::Subject;
    use crate::dyno::correction::engine::{Charging, EngineKind, Ignition};

    fn answer(charging: Charging, electric_w: f64) -> Answer {
        let day = Day::from_relative_humidity(StationPressure::from_pa(91_100.0), 287.15, 0.71)
            .expect("a day");
        Question {
            day,
            source: "test".to_owned(),
            altitude_m: Some(900.0),
            subject: Subject::of(EngineKind {
                ignition: Ignition::Spark,
                charging,
            }),
            engine_w: Some(300e3),
            electric_w,
            law: None,
        }
        .answer()
    }

    #[test]
    fn factors_stand_under_their_reference_air_and_electric_power_beside_them() {
        let text = answer(Charging::Unboosted, 60e3).text(Units::Metric);
        assert!(
            text.contains("99 kPa dry, 25 °C") && text.contains("would have added"),
            "{text}"
        );
    }

    #[test]
    fn a_turbo_engine_is_told_what_its_regulator_makes_of_the_factor() {
        let text = answer(Charging::Turbo, 0.0).text(Units::Metric);
        assert!(
            text.contains("held at 100 kPa above ambient") && text.contains("fixed absolute"),
            "{text}"
        );
        assert!(!text.contains("would have added"), "{text}");
    }
}
