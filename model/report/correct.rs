//! One weather under every standard, in words: factor, limits, and what each does to engine and electric power.
//!
//! A factor is shown only with its reference air and its own limits, the uncorrected figure beside it.

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report, site};
use crate::ask::correct::{Answer, BoostNote, Line};
use crate::dyno::correction::{Provenance, Standard};

/// Limits of a standard, by their ids.
pub(super) const BREACHES: &[(&str, &str)] = &[
    (
        "temperature",
        "air temperature outside the standard's limits",
    ),
    ("dry_pressure", "dry pressure outside the standard's limits"),
    ("factor", "factor outside the standard's limits"),
    (
        "temperature_share",
        "more correction for temperature than older texts of the standard allow",
    ),
    (
        "pressure_share",
        "more correction for pressure than older texts of the standard allow",
    ),
    ("engine", "does not apply to this kind of engine"),
    (
        "boosted_convention",
        "turbocharged engine: the factor assumes that boost follows the barometer; treat it as a reporting convention",
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
        "too low for the altitude, as if a station reading had been reduced a second time",
    ),
    (
        "too_high",
        "too high for the altitude; check the unit and whether it is absolute",
    ),
    (
        "out_of_range_without_altitude",
        "outside what ordinary workshops see; give the altitude so that it can be checked",
    ),
    (
        "altitude_out_of_range",
        "the altitude is outside the range in which the pressure can be checked",
    ),
];

/// How charge pressure is held, by its id.
pub(super) const BOOST_LAWS: &[(&str, &str)] = &[
    ("follows_ambient", "following the barometer"),
    ("held_gauge", "held above the barometer"),
    ("held_absolute", "held at a fixed absolute pressure"),
];

const BLOWER_FOLLOWS: &str = "with a crank-driven blower and its bypass shut, boost follows the barometer and the factor holds; warmer \
     intake air and knock are not in it";
const TURBO_CONVENTION: &str = "a corrected figure for a turbo engine with boost control is a convention; quote the uncorrected one beside it";

/// Notes on a factor for a boosted engine, by id.
pub(super) const BOOST_NOTES: &[(&str, &str)] = &[
    (
        "held_pressure",
        "what the barometer is worth with boost held that way, and what SAE J1349 assumes",
    ),
    ("blower_follows_ambient", BLOWER_FOLLOWS),
    ("turbo_convention", TURBO_CONVENTION),
];

impl BoostNote {
    fn words(&self, units: Units) -> String {
        match self {
            Self::HeldPressure(remark) => site::held(remark, units),
            Self::BlowerFollowsAmbient => BLOWER_FOLLOWS.to_owned(),
            Self::TurboConvention => TURBO_CONVENTION.to_owned(),
        }
    }
}

/// Most notes in the answer; the others stand among the details.
const MOST_NOTES: usize = 3;

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/correct/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        self.air(&mut document, units);
        document.at(Level::Answer).table(self.factors(units));
        let level = if self.electric_power_w > 0.0 {
            Level::Answer
        } else {
            Level::Detail
        };
        document
            .at(level)
            .line("Electric power is never corrected: a motor does not breathe.");
        self.notes(&mut document, units);
        document
            .at(Level::Detail)
            .space()
            .section("Every standard, by its reference air")
            .table(self.table(units));
        self.other_standards(&mut document);
        site::add(&mut document, &self.site, units);
        self.electric(&mut document, units);
        document
    }
}

impl Answer {
    /// The line a shop would quote: the first standard meant for this engine that corrects and lacks nothing.
    fn first(&self) -> Option<&Line> {
        let mut corrected = self
            .meant()
            .filter(|line| line.standard != Standard::None && line.factor.is_some());
        corrected.next()
    }

    fn headline(&self, units: Units) -> String {
        let Some((line, factor)) = self.first().and_then(|line| Some((line, line.factor?))) else {
            return "No standard gives a factor for this engine".to_owned();
        };
        let short = line.standard.name().split(", ").next().unwrap_or_default();
        line.power_w.map_or_else(
            || format!("Factor {factor:.4} ({short})"),
            |w| {
                let power = units.show(What::Power, w);
                format!("{power} corrected (factor {factor:.4}, {short})")
            },
        )
    }

    fn air(&self, document: &mut Document, units: Units) {
        let mut part = document.at(Level::Answer);
        part.title(self.headline(units));
        part.labelled("Air: ", self.weather.line(units), 5);
        if !self.pressure_plausible {
            part.labelled("!!  ", site::pressure(&self.pressure_check, units) + ".", 4);
        }
        let by = self.first().map_or_else(String::new, |line| {
            let name = line.standard.name();
            format!(
                " Corrected to {} by {name}.",
                units.constants(line.reference)
            )
        });
        part.labelled("Engine: ", format!("{}.{by}", self.engine), 8);
        let mut part = document.at(Level::Detail);
        let vapour = units.show(What::Pressure, self.weather.vapour_pressure_pa);
        let dew = self.weather.dew_point_k.map_or_else(String::new, |dew| {
            format!(", dew point {}", units.show(What::Temperature, dew))
        });
        part.line(format!("Vapour pressure {vapour}{dew}"));
        if self.pressure_plausible {
            part.line("The pressure is plausible as a station pressure.");
        }
        if let Some(pa) = self.standard_pressure_pa {
            let standard = units.show(What::Pressure, pa);
            part.line(format!("Standard air at that altitude has {standard}."));
        }
    }

    /// Every factor that can be given, by the word that names its standard.
    fn factors(&self, units: Units) -> TextTable {
        let mut table = TextTable::new("lrlr");
        let mut head = vec!["--standard", "factor", "limits"];
        if self.engine_power_w.is_some() {
            head.push(units.symbol(What::Power));
        }
        table.head(head);
        for line in self.meant().filter(|line| line.standard != Standard::None) {
            let Some(factor) = line.factor else { continue };
            let mut row = vec![
                line.standard.id().to_owned(),
                format!("{factor:.4}"),
                line.range_verdict().to_owned(),
            ];
            row.extend(line.power_w.map(|power| units.cell(What::Power, power)));
            table.row(row);
        }
        table
    }

    /// The standards meant for this engine, under their reference air.
    fn table(&self, units: Units) -> TextTable {
        let mut table = TextTable::new("lrlr");
        let mut head = vec!["", "factor", "limits"];
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
            table.row([format!("to {}", units.constants(reference))]);
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
    fn breaches(&self, units: Units) -> Vec<(String, Vec<&'static str>)> {
        let mut found: Vec<(String, Vec<&'static str>)> = Vec::new();
        for line in self.meant() {
            for breach in &line.breaches {
                let text = site::breach(breach, units);
                let name = line.standard.name();
                match found.iter_mut().find(|(known, _)| *known == text) {
                    Some((_, names)) => names.push(name),
                    None => found.push((text, vec![name])),
                }
            }
        }
        found
    }

    /// What speaks against a factor; the first few belong to the answer.
    fn notes(&self, document: &mut Document, units: Units) {
        let boost = self.boost.iter().map(|note| note.words(units));
        let breaches = self.breaches(units).into_iter().map(|(breach, names)| {
            let who = if names.len() > 2 {
                format!("{} standards", names.len())
            } else {
                names.join("; ")
            };
            format!("{breach} ({who})")
        });
        let notes: Vec<String> = boost.chain(breaches).collect();
        let (first, rest) = notes.split_at(notes.len().min(MOST_NOTES));
        if !first.is_empty() {
            document
                .at(Level::Answer)
                .space()
                .section("Notes")
                .list(first.iter().map(String::as_str));
        }
        let missing = self
            .meant()
            .filter_map(|line| line.missing.map(|missing| missing.to_string()));
        let memory: Vec<_> = self
            .meant()
            .filter(|line| line.provenance != Provenance::Read)
            .map(|line| format!("{} ({})", line.standard.name(), line.provenance.words()))
            .collect();
        let memory = (!memory.is_empty()).then(|| {
            format!(
                "figures not checked against the standard itself: {}",
                memory.join("; ")
            )
        });
        let rest: Vec<String> = rest.iter().cloned().chain(missing).chain(memory).collect();
        if !rest.is_empty() {
            document
                .at(Level::Detail)
                .space()
                .section("More notes")
                .list(rest);
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
                .labelled("Does not apply to this engine: ", others.join(", "), 4);
        }
    }

    fn electric(&self, document: &mut Document, units: Units) {
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
            document
                .at(Level::Detail)
                .space()
                .section(format!(
                    "Had its {} been corrected, the standards would have added:",
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
            (_, true, false) => "outside",
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
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            text.contains("boost held at 100.0 kPa gauge") && text.contains("fixed absolute"),
            "{text}"
        );
        assert!(!text.contains("would have added"), "{text}");
    }
}
