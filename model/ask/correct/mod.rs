//! `correct`: what every correction standard makes of one day's air.
//!
//! The point is the spread: on one day the standards differ by several per cent, and a boosted engine follows none of them. A factor comes
//! with its standard's own limits, and with the power it makes of an engine's; electric power is left alone.

pub mod site;

use super::basis::Weather;
use crate::air::Day;
use crate::air::atmosphere::{GaugePressure, StationCheck, check_station, standard_atmosphere};
use crate::dyno::correction::boosted::{BoostLaw, BoostRemark};
use crate::dyno::correction::engine::{Charging, EngineKind};
use crate::dyno::correction::{Breach, Correction, CorrectionError, Provenance, Standard, Subject};
use serde::Serialize;
use site::Site;

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
pub struct Answer {
    /// The air.
    pub weather: Weather,
    /// Whether the pressure can be that of the room.
    pub pressure_check: StationCheck,
    /// Whether it passed.
    pub pressure_plausible: bool,
    /// Pressure to expect at the altitude in standard air, where the altitude is known.
    pub standard_pressure_pa: Option<f64>,
    /// Kind of engine.
    pub engine: EngineKind,
    /// Uncorrected engine power, where given.
    pub engine_power_w: Option<f64>,
    /// Uncorrected electric power.
    pub electric_power_w: f64,
    /// One line per standard.
    pub standards: Vec<Line>,
    /// The adjustment the other way, from reference power to the power on this day.
    pub site: Site,
    /// What to think of the factors on a boosted engine.
    pub boost: Vec<BoostNote>,
}

/// One standard.
#[derive(Debug, Clone, Serialize)]
pub struct Line {
    /// Which.
    pub standard: Standard,
    /// Its reference air, as it is called.
    pub reference: &'static str,
    /// Where its figures come from.
    pub provenance: Provenance,
    /// Whether it was written for this kind of engine.
    pub meant_for_engine: bool,
    /// Factor on engine power; none where something is missing.
    pub factor: Option<f64>,
    /// What is missing.
    pub missing: Option<CorrectionError>,
    /// Whether day, engine and factor are inside what the standard states.
    pub holds: bool,
    /// Whether it states any range at all, as far as known.
    pub states_range: bool,
    /// Limits exceeded.
    pub breaches: Vec<Breach>,
    /// Corrected engine power and untouched electric power together.
    pub power_w: Option<f64>,
    /// What the standard would have added to the electric power.
    pub electric_not_added_w: Option<f64>,
}

/// What to think of a factor on a boosted engine.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "note", rename_all = "snake_case")]
pub enum BoostNote {
    /// What the ambient pressure is worth with the charge pressure held one way.
    HeldPressure(BoostRemark),
    /// A blower turned by the crank follows the ambient, so the factor keeps its meaning.
    BlowerFollowsAmbient,
    /// A corrected figure of a regulated turbo engine is a convention.
    TurboConvention,
}

/// Charge pressure assumed in the note where none is stated: 1 bar over ambient or held absolute, to show both ends.
const SHOWN_BOOST_PA: f64 = 100_000.0;

impl Question {
    /// Works every standard out.
    pub fn answer(&self) -> Answer {
        let pressure_check = check_station(self.day.station(), self.altitude_m);
        Answer {
            weather: Weather::of(&self.day, self.source.clone()),
            pressure_check,
            pressure_plausible: pressure_check == StationCheck::Plausible,
            standard_pressure_pa: self
                .altitude_m
                .and_then(standard_atmosphere)
                .map(|air| air.station.pa()),
            engine: self.subject.engine,
            engine_power_w: self.engine_w,
            electric_power_w: self.electric_w,
            standards: Standard::all()
                .map(|standard| self.line(standard))
                .collect(),
            site: site::site(&self.day, &self.subject),
            boost: self.boost_notes(),
        }
    }

    fn line(&self, standard: Standard) -> Line {
        let correction = Correction::new(standard, self.day, &self.subject);
        let found = correction.as_ref().ok();
        let power = found
            .zip(self.engine_w)
            .map(|(c, engine_w)| c.apply(engine_w, self.electric_w));
        Line {
            standard,
            reference: standard.reference(),
            provenance: standard.provenance(),
            meant_for_engine: standard.covers(self.subject.engine),
            factor: found.map(|c| c.factor),
            missing: correction.as_ref().err().copied(),
            holds: found.is_some_and(Correction::holds),
            states_range: standard.validity().is_stated(),
            breaches: found.map_or_else(Vec::new, |c| c.breaches.clone()),
            power_w: power.map(|p| p.total_w),
            electric_not_added_w: power.map(|p| p.electric_not_added_w),
        }
    }

    fn boost_notes(&self) -> Vec<BoostNote> {
        let charging = self.subject.engine.charging;
        let turbo = matches!(charging, Charging::Turbo | Charging::TurboCoolantCooled);
        let gauge = BoostLaw::HeldGauge(GaugePressure::from_pa(SHOWN_BOOST_PA));
        let laws = match (self.law, turbo) {
            (Some(law), _) => vec![law],
            (None, true) => vec![gauge, BoostLaw::HeldAbsolute],
            (None, false) => Vec::new(),
        };
        let mut notes: Vec<BoostNote> = laws
            .into_iter()
            .filter_map(|law| BoostRemark::new(Standard::SaeJ1349, &self.day, law))
            .map(BoostNote::HeldPressure)
            .collect();
        if charging == Charging::Mechanical {
            notes.push(BoostNote::BlowerFollowsAmbient);
        }
        if turbo && !notes.is_empty() {
            notes.push(BoostNote::TurboConvention);
        }
        notes
    }
}

impl Answer {
    /// The standards meant for this engine.
    pub fn meant(&self) -> impl Iterator<Item = &Line> {
        self.standards.iter().filter(|line| line.meant_for_engine)
    }
}

impl Line {
    /// What the standard would have added to electric power of so much, W; none where that is no more than a factor of one, as
    /// printed, would add.
    pub fn added_to_electric_w(&self, electric_w: f64) -> Option<f64> {
        self.electric_not_added_w
            .filter(|added| self.standard != Standard::None && added.abs() > 5e-5 * electric_w)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::atmosphere::StationPressure;

    #[test]
    fn uncorrected_stands_beside_every_standard_and_electric_power_is_left_alone() {
        let day = Day::from_relative_humidity(StationPressure::from_pa(91_100.0), 287.15, 0.71)
            .expect("a day");
        let answer = Question {
            day,
            source: "test".to_owned(),
            altitude_m: Some(900.0),
            subject: Subject::of(EngineKind::SPARK_UNBOOSTED),
            engine_w: Some(300e3),
            electric_w: 60e3,
            law: None,
        }
        .answer();
        assert!(answer.pressure_plausible, "{answer:?}");
        let uncorrected = &answer.standards[0];
        assert_eq!(
            (uncorrected.factor, uncorrected.power_w),
            (Some(1.0), Some(360e3))
        );
        for line in answer.standards.iter().filter(|l| l.factor.is_some()) {
            let factor = line.factor.expect("filtered");
            assert!(
                (line.power_w.expect("power given") - (300e3 * factor + 60e3)).abs() < 1e-6,
                "{line:?}"
            );
        }
    }
}
