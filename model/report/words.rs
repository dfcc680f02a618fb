//! Words for the ids that answers carry.
//!
//! An answer says `"limit": "knock"`; what a shop calls it stands here, or in the row of the thing itself, and nowhere else. The machine-readable form
//! of an answer lists the words of every id in it once, under `words`, so that a program need not ship a table of its own.

use super::{
    cautions, compare, correct, diagnose, fit, guard, inertia, offset, reduce, rules, trace,
};
use crate::ask::cautions::NotIncluded;
use crate::ask::diagnose::Verdict;
use crate::ask::fit::misfit::Check;
use crate::ask::fit::{Bound, Gate};
use crate::ask::guard::{Contradiction, Mistake, OnTrust};
use crate::ask::limits::Met;
use crate::ask::quote::{Dial, DriverOrigin, Log};
use crate::belief::{Mechanism, parameter};
use crate::diagnose::next::Measurement;
use crate::diagnose::{Cause, Fact};
use crate::drumlog::coast_down::State;
use crate::drumlog::{Force, Stray};
use crate::dyno::correction::engine::{Charging, Ignition};
use crate::dyno::correction::site::SiteEngine;
use crate::dyno::correction::{Provenance, Standard};
use crate::files::station::{PressureKind, Reason};
use crate::fit::calibration::Channel;
use crate::fit::outcome::Stop;
use serde::Serialize;
use serde_json::{Map, Value};

/// The words of an id, if it is one of a kind.
type Words = fn(&str) -> Option<&'static str>;

/// Which fields of an answer hold ids, and of what. A field may stand more than once, where answers use it for different families.
const IDS: &[(&str, Words)] = &[
    ("breach", |id| row(correct::BREACHES, id)),
    ("cautions", |id| row(inertia::CAUTIONS, id)),
    ("capped_by", limit),
    ("caution", caution),
    ("cause", |id| of(&Cause::ALL, Cause::name, id)),
    ("change", super::kind::of),
    ("changes", super::kind::of),
    ("channel", channel),
    ("channels", channel),
    ("charging", |id| of(&Charging::ALL, Charging::words, id)),
    ("check", |id| of(&Check::ALL, fit::check, id)),
    ("correction", standard),
    ("engine", |id| of(&SiteEngine::ALL, SiteEngine::words, id)),
    ("ended_by", |id| row(reduce::ENDS, id)),
    ("engine_speed_from", |id| row(reduce::ENGINE_SOURCES, id)),
    ("force", |id| row(reduce::FORCES, id)),
    ("told_by", |id| row(reduce::TOLD, id)),
    ("finding", |id| {
        of(&Contradiction::ALL, guard::contradiction, id)
    }),
    ("mistake", |id| of(&Mistake::ALL, guard::mistake, id)),
    ("on_trust", |id| of(&OnTrust::ALL, guard::trust, id)),
    ("force", |id| of(&Force::ALL, Force::words, id)),
    ("log", |id| of(&Log::ALL, super::quote::log, id)),
    ("mechanism", |id| {
        of(&Mechanism::ALL, super::quote::mechanism, id)
    }),
    ("method", |id| row(inertia::METHODS, id)),
    ("method", |id| row(reduce::METHODS, id)),
    ("entry", trace::words::entry),
    ("equation", trace::words::equation),
    ("gate", |id| of(&Gate::ALL, fit::gate_name, id)),
    ("gate", |id| row(compare::GATES, id)),
    ("gate", gate),
    ("held_by", super::predict::axle::held_by),
    ("ignition", |id| of(&Ignition::ALL, Ignition::words, id)),
    ("law", |id| row(correct::BOOST_LAWS, id)),
    ("limit", limit),
    ("measurement", |id| {
        of(&Measurement::ALL, diagnose::measurement, id)
    }),
    ("missing", |id| row(correct::MISSING, id)),
    ("not_included", not_included),
    ("not_informed", meaning),
    ("note", |id| row(correct::BOOST_NOTES, id)),
    ("number", number),
    ("of", channel),
    ("of", |id| of(&Fact::ALL, diagnose::fact, id)),
    ("on_bound", |id| of(&Bound::ALL, fit::bound, id)),
    ("origin", origin),
    ("part", trace::words::part),
    ("path", meaning),
    ("peak_power_capped_by", limit),
    ("pressure", |id| {
        of(&PressureKind::ALL, PressureKind::words, id)
    }),
    ("range_from", |id| row(offset::RANGES, id)),
    ("reason", |id| of(&Reason::ALL, Reason::words, id)),
    ("provenance", |id| {
        of(&Provenance::ALL, Provenance::words, id)
    }),
    ("refusal", |id| row(reduce::REFUSALS, id)),
    ("standing", |id| row(rules::STANDINGS, id)),
    ("state", |id| of(&State::ALL, State::words, id)),
    ("stray", |id| of(&Stray::ALL, Stray::words, id)),
    ("quantity", trace::words::quantity),
    ("remark", |id| row(compare::REMARKS, id)),
    ("remark", |id| row(diagnose::REMARKS, id)),
    ("standard", standard),
    ("standards", standard),
    ("stop", |id| of(&Stop::ALL, fit::stop, id)),
    ("which", |id| row(rules::COUNTS, id)),
    ("verdict", |id| row(correct::PRESSURE_VERDICTS, id)),
    ("verdict", |id| {
        of(&Verdict::ALL, diagnose::verdict_name, id)
    }),
];

/// Further words for ids that have more than a name: the field, the name under which they are listed, and the words.
const MORE: &[(&str, &str, Words)] = &[
    ("caution", "mind", mind),
    ("cause", "look_at", look_at),
    ("limit", "remedy", remedy),
    ("standard", "reference", reference),
];

fn met(id: &str) -> Option<Met> {
    Met::all().find(|met| met.id() == id)
}

fn limit(id: &str) -> Option<&'static str> {
    met(id).map(Met::words)
}

fn remedy(id: &str) -> Option<&'static str> {
    met(id).map(Met::remedy)
}

fn standard(id: &str) -> Option<&'static str> {
    id.parse().ok().map(Standard::name)
}

fn reference(id: &str) -> Option<&'static str> {
    id.parse().ok().map(Standard::reference)
}

fn caution(id: &str) -> Option<&'static str> {
    cautions::words_of(id).map(|words| words.0)
}

fn mind(id: &str) -> Option<&'static str> {
    cautions::words_of(id).map(|words| words.1)
}

fn not_included(id: &str) -> Option<&'static str> {
    serialised(&NotIncluded::ALL, id).map(NotIncluded::words)
}

/// A number of the car or the one that a search turns.
fn number(id: &str) -> Option<&'static str> {
    let of_car = parameter::find(id).map(|entry| entry.meaning);
    of_car
        .or_else(|| serialised(Dial::ALL, id).map(Dial::words))
        .or_else(|| super::quote::of_model(id))
}

fn origin(id: &str) -> Option<&'static str> {
    use DriverOrigin::{Default, Fitted, Given, Model, Plan};
    serialised(&[Given, Default, Fitted, Plan, Model], id).map(super::quote::origin)
}

fn gate(id: &str) -> Option<&'static str> {
    (id == "draws_failed").then_some("too many draws could not make the pull")
}

/// What to look at first; nothing where nothing is wrong.
fn look_at(id: &str) -> Option<&'static str> {
    of(&Cause::ALL, Cause::look_at, id).filter(|text| !text.is_empty())
}

/// A channel of a log, of a fit's or of a diagnosis's.
fn channel(id: &str) -> Option<&'static str> {
    let of_fit = of(&Channel::ALL, fit::channel, id);
    of_fit.or_else(|| of(&crate::diagnose::Channel::ALL, diagnose::channel, id))
}

/// What a number of the car file means.
fn meaning(path: &str) -> Option<&'static str> {
    parameter::find(path).map(|found| found.meaning)
}

/// From a table of ids and words.
fn row(table: &[(&str, &'static str)], id: &str) -> Option<&'static str> {
    table
        .iter()
        .find(|(known, _)| *known == id)
        .map(|(_, words)| *words)
}

/// From a family whose members serialise to their ids and know their words.
fn of<T: Copy + Serialize>(
    family: &[T],
    words: fn(T) -> &'static str,
    id: &str,
) -> Option<&'static str> {
    serialised(family, id).map(words)
}

/// The one of some values that is written so.
fn serialised<T: Serialize + Copy>(all: &[T], id: &str) -> Option<T> {
    let written = |value: &&T| serde_json::to_value(*value).is_ok_and(|written| written == id);
    all.iter().find(written).copied()
}

/// Words for every id in an answer: field by field, id to words.
pub(super) fn glossary(answer: &Value) -> Map<String, Value> {
    let mut found = Map::new();
    collect(answer, &mut found);
    found
}

fn collect(value: &Value, found: &mut Map<String, Value>) {
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                for (_, words) in IDS.iter().filter(|(field, _)| field == key) {
                    note(key, *words, value, found);
                }
                for (_, under, words) in MORE.iter().filter(|(field, ..)| field == key) {
                    note(under, *words, value, found);
                }
                collect(value, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| collect(item, found)),
        _ => {}
    }
}

/// Adds the words of an id, or of each id of a list.
fn note(field: &str, words: Words, value: &Value, found: &mut Map<String, Value>) {
    match value {
        Value::String(id) => {
            if let Some(text) = words(id) {
                let of_field = found
                    .entry(field.to_owned())
                    .or_insert_with(|| Value::Object(Map::new()));
                if let Value::Object(of_field) = of_field {
                    of_field.insert(id.clone(), text.into());
                }
            }
        }
        Value::Array(ids) => ids.iter().for_each(|id| note(field, words, id, found)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::atmosphere::GaugePressure;
    use crate::drumlog::SmoothError;
    use crate::drumlog::coast_down::CoastError;
    use crate::drumlog::pulls::End;
    use crate::drumlog::reduction::PullRefusal;
    use crate::dyno::correction::boosted::BoostLaw;
    use serde_json::json;

    #[test]
    fn every_id_of_an_answer_gets_its_words_once() {
        let answer = json!({
            "standard": "din-70020",
            "engine": { "ignition": "spark", "charging": "turbo" },
            "rows": [{ "breach": "factor" }, { "breach": "factor" }, { "breach": "no such limit" }],
        });
        let words = Value::Object(glossary(&answer));
        assert_eq!(
            words,
            json!({
                "standard": { "din-70020": Standard::Din70020.name() },
                "reference": { "din-70020": Standard::Din70020.reference() },
                "ignition": { "spark": "spark ignition" },
                "charging": { "turbo": "turbocharged" },
                "breach": { "factor": "factor outside the standard's limits" },
            })
        );
    }

    /// The id under which a value is tagged.
    fn tagged(tag: &str, value: impl Serialize) -> String {
        let value = serde_json::to_value(value).expect("plain data");
        value[tag].as_str().expect("an id").to_owned()
    }

    #[test]
    fn every_way_to_fail_has_words_for_its_id() {
        let too_short = SmoothError::TooShort { rows: 3, needed: 9 };
        let too_coarse = SmoothError::TooCoarse {
            step_rpm: 80.0,
            span_rpm: 100.0,
            needed: 4,
            degree: 2,
        };
        let untold = CoastError::Untold {
            fall_m_s: 1.0,
            duration_s: 2.0,
            at_m_s: 3.0,
            drag_n: 4.0,
            half_n: 5.0,
        };
        let not_falling = CoastError::NotFalling {
            from_m_s: 1.0,
            to_m_s: 2.0,
        };
        let ids = [
            tagged("refusal", PullRefusal::Smooth(too_short)),
            tagged("refusal", PullRefusal::Smooth(too_coarse)),
            tagged("refusal", PullRefusal::Smooth(SmoothError::Lifeless)),
            tagged("refusal", PullRefusal::NoEngineSpeed),
            tagged("refusal", PullRefusal::NoCurve),
            tagged("refusal", CoastError::TooShort { rows: 3, needed: 9 }),
            tagged("refusal", not_falling),
            tagged("refusal", CoastError::NoFit),
            tagged("refusal", untold),
        ];
        for id in ids {
            assert!(row(reduce::REFUSALS, &id).is_some(), "{id}");
        }
    }

    #[test]
    fn every_end_of_a_stretch_has_words_for_its_id() {
        let shift = End::Shift {
            ratio: None,
            gap_s: 0.5,
        };
        for end in [
            End::LiftOff,
            End::Limiter { held_s: 0.7 },
            shift,
            End::LogEnds,
        ] {
            let id = tagged("ended_by", end);
            assert!(row(reduce::ENDS, &id).is_some(), "{id}");
        }
    }

    #[test]
    fn every_way_to_hold_charge_pressure_has_words_and_its_pressure_in_pascals() {
        let gauge = BoostLaw::HeldGauge(GaugePressure::from_pa(8e4));
        for law in [BoostLaw::FollowsAmbient, gauge, BoostLaw::HeldAbsolute] {
            let id = tagged("law", law);
            assert!(row(correct::BOOST_LAWS, &id).is_some(), "{id}");
        }
        assert_eq!(
            serde_json::to_value(gauge).expect("plain data"),
            json!({ "law": "held_gauge", "gauge_pa": 8e4 })
        );
    }
}
