//! A list of parts is not a history: a blower and what sits on it, or gives way to it, may be listed in any order.

use crate::laws::{blown_coupe, coupe, drums, mild};
use pullcast::car::{Car, Limit};
use pullcast::dyno::{Conditions, Setup};
use pullcast::files::plan::PlanFile;
use pullcast::files::{self, Problems};
use std::fmt::Write as _;

const SCREW: &str = "kind = \"displacement blower\"\nrotors = \"screw\"\ndisplacement = \"1.1 L/rev\"\ndrive_ratio = 1.9";
const TURBO: &str = "kind = \"turbocharger\"\nboost = \"60 kPa gauge\"\n[change.rated_point]\nwheel_diameter = \"55 mm\"\nreference_pressure = \"100 kPa\"\nreference_temperature = \"25 °C\"\npressure_ratio = 1.9\nflow = \"180 g/s\"\nefficiency = 0.74\nspeed = \"110000 rpm\"";
const COOLER: &str = "kind = \"charge cooler\"\ncooling = \"air to water\"\neffectiveness = \"75 %\"\nreference_flow = \"200 g/s\"\npressure_drop = \"5 kPa\"";
const PULLEY: &str = "kind = \"pulley\"\nratio_factor = 1.05";
const BELT: &str = "kind = \"belt\"\nribs_from = 6\nribs_to = 8";
const BOOST: &str = "kind = \"boost\"\nboost_factor = 1.1";
const REDLINE: &str = "kind = \"redline\"\nspeed = \"7200 rpm\"";
const STROKE: &str = "kind = \"bore and stroke\"\nstroke = \"90 mm\"";
const EXHAUST: &str = "kind = \"exhaust\"\nback_pressure_factor = 0.7";
const HEADERS: &str = "kind = \"headers\"\narea_factor = 1.3";
const NO_COOLER: &str = "kind = \"remove charge cooler\"";
const NO_BLOWER: &str = "kind = \"remove blower\"";

/// All orders of a list.
fn orders<'a>(parts: &[&'a str]) -> Vec<Vec<&'a str>> {
    if parts.is_empty() {
        return vec![Vec::new()];
    }
    (0..parts.len())
        .flat_map(|first| {
            let mut rest = parts.to_vec();
            let part = rest.remove(first);
            orders(&rest).into_iter().map(move |mut order| {
                order.insert(0, part);
                order
            })
        })
        .collect()
}

fn plan(parts: &[&str]) -> PlanFile {
    opened(parts).0
}

fn opened(parts: &[&str]) -> (PlanFile, Problems) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("plan.toml");
    let mut text = "kind = \"plan\"\nversion = 1\nname = \"parts\"\n".to_owned();
    for part in parts {
        let _ = write!(text, "[[change]]\n{part}\n");
    }
    std::fs::write(&path, text).expect("written");
    files::plan::open(&path).unwrap_or_else(|p| panic!("{parts:?}: {p}"))
}

fn fits(parts: &[&str], car: &Car) -> Result<(), Problems> {
    plan(parts).check(car)
}

/// Power over a pull after the work, W.
fn reading(parts: &[&str], car: &Car) -> Vec<f64> {
    let plan = plan(parts);
    plan.check(car).unwrap_or_else(|p| panic!("{parts:?}: {p}"));
    let car = plan
        .plan
        .map(|_, _, prior| prior.centre())
        .apply(car)
        .expect("checked");
    let conditions = Conditions::rested(car.engine.redline_rpm);
    let setup = Setup {
        car,
        drums: drums(),
    };
    let pull = setup.pull(&mild(), &conditions, 6).expect("a pull");
    pull.points.iter().map(|p| p.power_w).collect()
}

#[test]
fn a_blower_and_what_sits_on_it_may_be_listed_in_any_order() {
    for (car, parts) in [
        (coupe(), &[SCREW, PULLEY, BELT, COOLER][..]),
        (coupe(), &[SCREW, HEADERS, EXHAUST, STROKE]),
        (coupe(), &[TURBO, BOOST, REDLINE, STROKE]),
        (blown_coupe(), &[NO_BLOWER, TURBO, EXHAUST, COOLER]),
        (blown_coupe(), &[NO_BLOWER, HEADERS, STROKE]),
        (blown_coupe(), &[NO_COOLER, COOLER, PULLEY]),
    ] {
        let there = reading(parts, &car);
        for order in orders(parts) {
            for (here, there) in reading(&order, &car).iter().zip(&there) {
                assert!(
                    (here / there - 1.0).abs() < 1e-9,
                    "{order:?}: {here} {there}"
                );
            }
        }
    }
}

#[test]
fn what_cannot_be_is_refused_in_any_order() {
    for (car, parts) in [
        (coupe(), [TURBO, HEADERS]),
        (coupe(), [PULLEY, TURBO]),
        (blown_coupe(), [NO_BLOWER, PULLEY]),
    ] {
        for order in orders(&parts) {
            assert!(fits(&order, &car).is_err(), "{order:?}");
        }
    }
}

#[test]
fn a_change_that_a_later_one_undoes_is_told() {
    const LITTLE: &str = "kind = \"nitrous\"\nflow = \"1.1 kg/min\"";
    const MUCH: &str = "kind = \"nitrous\"\nflow = \"2 kg/min\"";
    let warned = |parts: &[&str]| -> Vec<(Option<usize>, String)> {
        let (_, warnings) = opened(parts);
        let told = warnings
            .iter()
            .filter(|w| w.message.contains("counts for nothing"));
        told.map(|w| (w.line, w.message.clone())).collect()
    };
    let told = warned(&[LITTLE, EXHAUST, MUCH]);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0].0 == Some(5) && told[0].1.contains("change 3"),
        "{told:?}"
    );
    // Factors add up.
    assert!(warned(&[EXHAUST, EXHAUST, PULLEY, PULLEY]).is_empty());
}

#[test]
fn the_edge_of_a_range_is_inside_it_in_any_unit() {
    for edge in [
        "kind = \"redline\"\nspeed = \"15000 rpm\"",
        "kind = \"injectors\"\nflow = \"50 cm3/min\"",
        "kind = \"nitrous\"\nflow = \"15 kg/min\"",
        "kind = \"compression ratio\"\nratio = 5",
        "kind = \"camshaft\"\nduration_change = \"80 deg\"",
    ] {
        plan(&[edge]);
    }
}

#[test]
fn a_spray_beyond_what_the_engine_takes_is_named() {
    let spray =
        |flow: &str| format!("kind = \"water-methanol\"\nmethanol = \"50 %\"\nflow = \"{flow}\"");
    let flooded = |flow: &str| {
        let plan = plan(&[&spray(flow)]);
        let car = plan
            .plan
            .map(|_, _, prior| prior.centre())
            .apply(&coupe())
            .expect("a spray");
        let conditions = Conditions::rested(car.engine.redline_rpm);
        let setup = Setup {
            car,
            drums: drums(),
        };
        let pull = setup.pull(&mild(), &conditions, 6).expect("a pull");
        pull.limits.iter().any(|l| l == Limit::SprayHeldBack)
    };
    assert!(!flooded("60 cm3/min") && flooded("3000 cm3/min"));
}
