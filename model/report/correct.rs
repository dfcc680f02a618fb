//! One weather under every standard: factor, limits, and what it does to engine and electric power.
//!
//! The point of the list is the spread: on one day the standards differ by several per cent, and a boosted engine follows none
//! of them. A factor is shown only with its reference air and its own limits, the uncorrected figure beside it.

use super::basis::Weather;
use super::number::{Units, What};
use super::site::{SiteBlock, site};
use super::table::{TextTable, WIDTH, bullet, paragraph};
use super::{Report, heading};
use crate::air::Day;
use crate::air::atmosphere::{StationCheck, check_station, standard_atmosphere};
use crate::dyno::correction::boosted::{BoostLaw, BoostRemark};
use crate::dyno::correction::engine::Charging;
use crate::dyno::correction::{Correction, Provenance, Standard, Subject};
use serde::Serialize;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question {
    /// The air.
    pub day: Day,
    /// Where it was read.
    pub source: String,
    /// Altitude of the room, where known, m.
    pub altitude_m: Option<f64>,
    /// The engine as the standards see it.
    pub subject: Subject,
    /// Uncorrected engine power, W.
    pub engine_w: Option<f64>,
    /// Uncorrected electric power, W.
    pub electric_w: f64,
    /// How a boosted engine's charge pressure is held, where stated.
    pub law: Option<BoostLaw>,
}

/// The answer.
#[derive(Debug, Clone, Serialize)]
pub struct CorrectReport {
    /// The air.
    pub weather: Weather,
    /// Whether the pressure can be that of the room.
    pub pressure_check: String,
    /// Whether it passed.
    pub pressure_plausible: bool,
    /// Pressure to expect at the altitude in standard air, where the altitude is known.
    pub standard_pressure_pa: Option<f64>,
    /// Kind of engine.
    pub engine: String,
    /// Uncorrected engine power, where given.
    pub engine_power_w: Option<f64>,
    /// Uncorrected electric power.
    pub electric_power_w: f64,
    /// One line per standard.
    pub standards: Vec<Line>,
    /// The adjustment the other way, from reference power to the power on this day.
    pub site: SiteBlock,
    /// What to think of the factors on a boosted engine.
    pub boost: Vec<String>,
}

/// One standard.
#[derive(Debug, Clone, Serialize)]
pub struct Line {
    /// Stable word.
    pub standard: &'static str,
    /// Full name.
    pub name: &'static str,
    /// Reference air.
    pub reference: &'static str,
    /// Where its figures come from.
    pub provenance: &'static str,
    /// Whether it was written for this kind of engine.
    pub meant_for_engine: bool,
    /// Factor on engine power; none where something is missing.
    pub factor: Option<f64>,
    /// What is missing.
    pub missing: Option<String>,
    /// Whether day, engine and factor are inside what the standard states.
    pub holds: bool,
    /// Whether it states any range at all, as far as known.
    pub states_range: bool,
    /// Limits exceeded.
    pub breaches: Vec<String>,
    /// Corrected engine power and untouched electric power together.
    pub power_w: Option<f64>,
    /// What the standard would have added to the electric power.
    pub electric_not_added_w: Option<f64>,
}

/// Charge pressure assumed in the remark where none is stated: 1 bar over ambient or held absolute, to show both ends.
const SHOWN_BOOST_PA: f64 = 100_000.0;

impl CorrectReport {
    /// Works every standard out.
    pub fn new(question: &Question) -> Self {
        let check = check_station(question.day.station(), question.altitude_m);
        let standards = Standard::all()
            .map(|standard| line(standard, question))
            .collect();
        Self {
            weather: Weather::of(&question.day, question.source.clone()),
            pressure_check: check.to_string(),
            pressure_plausible: check == StationCheck::Plausible,
            standard_pressure_pa: question
                .altitude_m
                .and_then(standard_atmosphere)
                .map(|air| air.station.pa()),
            engine: question.subject.engine.to_string(),
            engine_power_w: question.engine_w,
            electric_power_w: question.electric_w,
            standards,
            site: site(&question.day, &question.subject),
            boost: boost(question),
        }
    }
}

fn line(standard: Standard, question: &Question) -> Line {
    let correction = Correction::new(standard, question.day, &question.subject);
    let (factor, missing, breaches) = match &correction {
        Ok(c) => (
            Some(c.factor),
            None,
            c.breaches.iter().map(ToString::to_string).collect(),
        ),
        Err(error) => (None, Some(error.to_string()), Vec::new()),
    };
    let power = correction
        .as_ref()
        .ok()
        .zip(question.engine_w)
        .map(|(c, engine_w)| c.apply(engine_w, question.electric_w));
    Line {
        standard: standard.id(),
        name: standard.name(),
        reference: standard.reference(),
        provenance: match standard.provenance() {
            Provenance::Read => "formula read in a secondary source",
            Provenance::PartlyFromMemory => "partly from memory",
            Provenance::FromMemory => "from memory",
        },
        meant_for_engine: standard.covers(question.subject.engine),
        factor,
        missing,
        holds: correction.as_ref().is_ok_and(Correction::holds),
        states_range: states_range(standard),
        breaches,
        power_w: power.map(|p| p.total_w),
        electric_not_added_w: power.map(|p| p.electric_not_added_w),
    }
}

fn states_range(standard: Standard) -> bool {
    let v = standard.validity();
    v.temperature_k.is_some()
        || v.dry_pa.is_some()
        || v.factor.is_some()
        || v.temperature_and_pressure_share.is_some()
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

fn boost(question: &Question) -> Vec<String> {
    let charging = question.subject.engine.charging;
    let turbo = matches!(charging, Charging::Turbo | Charging::TurboCoolantCooled);
    let gauge = BoostLaw::HeldGauge(crate::air::atmosphere::GaugePressure::from_pa(
        SHOWN_BOOST_PA,
    ));
    let laws = match (question.law, turbo) {
        (Some(law), _) => vec![law],
        (None, true) => vec![gauge, BoostLaw::HeldAbsolute],
        (None, false) => Vec::new(),
    };
    let mut remarks: Vec<String> = laws
        .into_iter()
        .filter_map(|law| BoostRemark::new(Standard::SaeJ1349, &question.day, law))
        .map(|remark| remark.to_string())
        .collect();
    if charging == Charging::Mechanical {
        remarks.push(
            "a blower turned by the crank with its bypass shut follows the ambient, so the factor keeps its meaning; \
             warmer charge and knock are not in it"
                .to_owned(),
        );
    }
    if turbo && !remarks.is_empty() {
        remarks.push("a corrected figure of a regulated turbo engine is a convention; put the uncorrected one beside it".to_owned());
    }
    remarks
}

impl Report for CorrectReport {
    const SCHEMA: &'static str = "pullcast/correct/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading("Weather correction");
        add!(out, "Air: {}\n", self.weather.line(units));
        let vapour = units.show(What::Pressure, self.weather.vapour_pressure_pa);
        add!(out, "     vapour pressure {vapour}");
        if let Some(dew) = self.weather.dew_point_k {
            add!(out, ", dew point {}", units.show(What::Temperature, dew));
        }
        out.push('\n');
        out.push_str(&paragraph("Pressure: ", &self.pressure_check, 10, WIDTH));
        if let Some(pa) = self.standard_pressure_pa {
            add!(
                out,
                "          standard air at that altitude has {}\n",
                units.show(What::Pressure, pa)
            );
        }
        add!(out, "Engine: {}\n\n", self.engine);
        out.push_str(&self.table(units));
        out.push_str(&self.remarks(units));
        out
    }
}

impl CorrectReport {
    /// The standards meant for this engine, under their reference air.
    fn table(&self, units: Units) -> String {
        let mut table = TextTable::new("lrlr");
        let mut head = vec!["", "factor", "stated range"];
        if self.engine_power_w.is_some() {
            head.push(units.symbol(What::Power));
        }
        table.row(head);
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
                    format!("  {}", line.name),
                    factor,
                    line.range_verdict().to_owned(),
                ];
                row.extend(line.power_w.map(|power| units.cell(What::Power, power)));
                table.row(row);
            }
        }
        table.render()
    }

    fn meant(&self) -> impl Iterator<Item = &Line> {
        self.standards.iter().filter(|l| l.meant_for_engine)
    }

    /// Every limit exceeded once, with the standards that state it.
    fn breaches(&self) -> Vec<(&str, Vec<&str>)> {
        let mut found: Vec<(&str, Vec<&str>)> = Vec::new();
        for line in self.meant() {
            for breach in &line.breaches {
                match found.iter_mut().find(|(text, _)| text == breach) {
                    Some((_, names)) => names.push(line.name),
                    None => found.push((breach, vec![line.name])),
                }
            }
        }
        found
    }

    fn remarks(&self, units: Units) -> String {
        let mut out = String::new();
        for (breach, names) in self.breaches() {
            let who = if names.len() > 4 {
                "most of them".to_owned()
            } else {
                names.join("; ")
            };
            out.push_str(&bullet(&format!("{breach} ({who})")));
        }
        out.extend(
            self.meant()
                .filter_map(|line| line.missing.as_ref())
                .map(|missing| bullet(missing)),
        );
        let memory: Vec<_> = self
            .meant()
            .filter(|l| l.provenance.contains("memory"))
            .map(|l| format!("{} ({})", l.name, l.provenance))
            .collect();
        if !memory.is_empty() {
            out.push_str(&bullet(&format!(
                "figures not read in the standard itself: {}",
                memory.join("; ")
            )));
        }
        if !out.is_empty() {
            out.insert_str(0, "\nTo mind\n");
        }
        let others: Vec<_> = self
            .standards
            .iter()
            .filter(|l| !l.meant_for_engine)
            .map(|l| l.standard)
            .collect();
        if !others.is_empty() {
            out.push_str(&paragraph(
                "\nNot written for this engine: ",
                &others.join(", "),
                4,
                WIDTH,
            ));
        }
        if !self.boost.is_empty() {
            out.push_str("\nCharge pressure\n");
            out.extend(self.boost.iter().map(|remark| bullet(remark)));
        }
        out.push_str(&self.site.text(units));
        out.push_str("\nElectric power is never corrected: a motor does not breathe.\n");
        if self.electric_power_w > 0.0 {
            let mut table = TextTable::new("lr");
            for line in self.meant().filter(|l| l.standard != Standard::None.id()) {
                // A factor of one adds nothing worth a line.
                let changes = |added: &f64| added.abs() > 5e-5 * self.electric_power_w;
                if let Some(added) = line.electric_not_added_w.filter(changes) {
                    table.row([line.name.to_owned(), units.show_change(What::Power, added)]);
                }
            }
            if !table.is_empty() {
                add!(
                    out,
                    "Applied to its {} the standards would have added:\n{}",
                    units.show(What::Power, self.electric_power_w),
                    table.render()
                );
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::atmosphere::StationPressure;
    use crate::dyno::correction::engine::{EngineKind, Ignition};

    fn report(charging: Charging, electric_w: f64) -> CorrectReport {
        let day = Day::from_relative_humidity(StationPressure::from_pa(91_100.0), 287.15, 0.71)
            .expect("a day");
        CorrectReport::new(&Question {
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
        })
    }

    #[test]
    fn uncorrected_stands_beside_every_standard_and_electric_power_is_left_alone() {
        let report = report(Charging::Unboosted, 60e3);
        let text = report.text(Units::Metric);
        assert!(report.pressure_plausible, "{text}");
        let uncorrected = &report.standards[0];
        assert_eq!(
            (uncorrected.factor, uncorrected.power_w),
            (Some(1.0), Some(360e3))
        );
        for line in report.standards.iter().filter(|l| l.factor.is_some()) {
            let factor = line.factor.expect("filtered");
            assert!(
                (line.power_w.expect("power given") - (300e3 * factor + 60e3)).abs() < 1e-6,
                "{}",
                line.name
            );
        }
        assert!(
            text.contains("99 kPa dry, 25 °C") && text.contains("would have added"),
            "{text}"
        );
    }

    #[test]
    fn a_turbo_engine_is_told_what_its_regulator_makes_of_the_factor() {
        let text = report(Charging::Turbo, 0.0).text(Units::Metric);
        assert!(
            text.contains("held at 100 kPa above ambient") && text.contains("fixed absolute"),
            "{text}"
        );
        assert!(!text.contains("would have added"), "{text}");
    }
}
