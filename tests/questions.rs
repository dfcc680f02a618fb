//! Questions as a caller of the library asks them: what is taken where something is left out, and that an answer's ids have words.

use crate::scenario_maker::{folder, sheet, visit};
use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::ask::basis::{Air, AirSource};
use pullcast::ask::quote::{Gate, Question};
use pullcast::ask::{WorkError, predict, trace};
use pullcast::belief::Prior;
use pullcast::dyno::correction::Standard;
use pullcast::dyno::pull::AxleStart;
use pullcast::files;
use pullcast::parts::{Change, Exhaust, Plan};
use pullcast::report::Report;
use serde_json::Value;

fn exhaust() -> Plan<Prior> {
    Plan {
        name: "exhaust".to_owned(),
        changes: vec![Change::from(Exhaust {
            back_pressure_factor: Prior::fixed(0.6).expect("a number"),
        })],
    }
}

fn cold() -> Air {
    let day = Day::from_relative_humidity(StationPressure::from_pa(101e3), 278.15, 0.5);
    Air::stated(day.expect("a day"), "a cold day")
}

#[test]
fn air_that_is_not_stated_is_taken_from_the_other_side_and_the_reference_from_neither() {
    let (sheet, plan) = (sheet("manual_coupe"), exhaust());
    let visits = [visit(&folder("manual_coupe"), "baseline.toml")];
    let read_in = AirSource::Visit("baseline".to_owned());
    let stated = AirSource::Stated("a cold day".to_owned());
    for (visits, day, before, after) in [
        (&visits[..], Some(cold()), &read_in, &stated),
        (&visits[..], None, &read_in, &read_in),
        (&[], Some(cold()), &stated, &stated),
        (&[], None, &AirSource::Reference, &AirSource::Reference),
    ] {
        let question = Question::new(&sheet, &plan, visits, day);
        assert_eq!(
            (&question.before.air.source, &question.after.source),
            (before, after)
        );
        let days = (question.before.air.day, question.after.day);
        assert_eq!(days.0 == days.1, before == after);
        assert_eq!(question.before.read_w.is_some(), !visits.is_empty());
    }
    // 99 kPa dry at 25 °C, to which SAE J1349 and ISO 1585 refer (both from memory).
    let reference = Question::new(&sheet, &plan, &[], None).after.day;
    assert_eq!(
        (
            reference.station().pa(),
            reference.temperature_k(),
            reference.vapour_pa()
        ),
        (99e3, 298.15, 0.0)
    );
}

#[test]
fn the_reading_before_is_the_last_visits_with_the_axle_as_it_was_driven() {
    let (sheet, plan) = (sheet("upland_estate"), exhaust());
    let mut first = visit(&folder("upland_estate"), "baseline.toml");
    let mut last = first.clone();
    "first".clone_into(&mut first.name);
    // The first pull of the last visit is made with the axle off: it is not the car as driven.
    last.pulls[0].conditions.axle.on = false;
    last.pulls[1].conditions.axle.charge = 0.55;
    last.pulls[1].conditions.core_k = Some(310.0);
    let driven = last.pulls.len() - 1;
    let read_w = last.read_w();
    let question = Question::new(&sheet, &plan, &[first, last], None);
    let on = question.before.read_on.as_ref().expect("a reading");
    assert_eq!(
        (on.visit.as_str(), on.pulls, on.visits),
        ("baseline", driven, 2)
    );
    assert_eq!(question.before.read_w, read_w);
    let start = question.before.conditions;
    assert!(start.axle.on && start.axle.charge == 0.55 && start.core_k == Some(310.0));
}

#[test]
fn draws_that_fail_in_numbers_are_a_gate_of_the_answer() {
    let sheet = sheet("manual_coupe");
    let plan = exhaust();
    let sound = Question {
        draws: Some(60),
        ..Question::new(&sheet, &plan, &[], None)
    };
    let answer = sound.answer().expect("a quote");
    assert_eq!((answer.gate, answer.basis.draws_failed), (None, 0));
    let json = serde_json::to_value(Gate::DrawsFailed { share: 0.25 }).expect("plain data");
    assert_eq!(
        json,
        serde_json::json!({ "gate": "draws_failed", "share": 0.25 })
    );
}

#[test]
fn asking_something_of_an_axle_that_is_not_there_is_refused() {
    let setup = sheet("manual_coupe").centre;
    let question = predict::Question {
        start: Some(AxleStart::RESTED),
        standard: Standard::None,
        ..predict::Question::new(&setup, None, Air::reference())
    };
    assert_eq!(
        question.answer(),
        Err(predict::PredictError::Work(WorkError::NoElectricAxle))
    );
    let question = predict::Question {
        start: None,
        ..question
    };
    assert!(question.answer().is_ok());
}

/// Every id of a working has words, in every scenario and with every plan of it.
#[test]
fn every_id_of_a_working_has_its_words() {
    let mut steps = 0;
    for name in ["upland_estate", "turbo_four", "manual_coupe"] {
        let setup = sheet(name).centre;
        let plans = [
            "plan_screw_blower.toml",
            "plan_engine.toml",
            "plan_breathing.toml",
        ]
        .map(|file| {
            files::plan::open(&folder(name).join(file))
                .ok()
                .map(|f| f.0.plan)
        });
        for plan in plans.iter().flatten().map(Some).chain([None]) {
            let question = trace::Question {
                setup: &setup,
                plan,
                air: Air::reference(),
                rpm: 5000.0,
                start: None,
            };
            let answer = question.answer().expect("the car pulls");
            let document: Value =
                serde_json::from_str(&answer.json().expect("plain data")).expect("JSON");
            let worded = |field: &str, id: &str| {
                let words = document["words"][field][id].as_str();
                assert!(words.is_some_and(|w| !w.is_empty()), "{field} {id}");
            };
            for section in &answer.sections {
                worded("part", section.part);
                for step in &section.steps {
                    worded("quantity", step.quantity);
                    worded("equation", step.equation);
                    steps += 1;
                }
            }
            for share in &answer.ledger {
                worded("entry", share.entry);
            }
        }
    }
    assert!(steps > 200, "{steps}");
}
