//! Engines of a yearbook of 1985 as bare cars: rated power beside the rule of the class median, and how often it lies in the range.
//!
//! Source: `data/engine_curves/README.md`. The beliefs were learned from this table and two more that may not lie here, so this holds that they are
//! in use and do what the study says (`cargo run --release --example catalogue_engines`, where engines are left out); it is no
//! independent check of them.

#[path = "catalogue/curve.rs"]
mod curve;
#[path = "catalogue/describe.rs"]
mod describe;
#[path = "catalogue/draws.rs"]
mod draws;
#[path = "catalogue/median.rs"]
mod median;
#[path = "catalogue/prediction.rs"]
mod prediction;
#[path = "catalogue/stand.rs"]
pub(crate) mod stand;
#[path = "catalogue/table.rs"]
mod table;

use prediction::Prediction;
use pullcast::numeric::side_by_side;
use pullcast::units;
use std::path::Path;
use table::Engine;

/// Draws of a range: the ends are ranks, whose scatter of a tenth of the range moves an engine or two across them.
const DRAWS: u64 = 60;

#[test]
fn bare_cars_of_1985_beat_the_class_median_and_lie_in_their_ranges() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/engine_curves");
    let (engines, _) = table::engines(&folder);
    let natural: Vec<&Engine> = engines.iter().filter(|e| !e.turbo).collect();
    let predicted = side_by_side(natural.len(), |i| {
        let sheet = describe::sheet(natural[i], &[], &describe::MILD);
        Prediction::of(&sheet, DRAWS).expect("an engine that runs")
    });
    let printed = |e: &Engine| e.power.0;
    let mut inside = 0;
    for fuelling in [table::Fuelling::Carburettor, table::Fuelling::Injection] {
        let group = || {
            natural
                .iter()
                .zip(&predicted)
                .filter(|(e, _)| e.fuelling == fuelling)
        };
        let error = |of: &dyn Fn(&Engine, &Prediction) -> f64| {
            let errors = group().map(|(e, p)| (of(e, p) / printed(e)).ln().abs());
            median::median(errors.collect()).expect("engines")
        };
        let ours = error(&|_, p| p.centre.power.0);
        let rule = error(&|e, _| median::rule(e, &engines).expect("a class").power);
        assert!(ours < rule, "{fuelling:?}: {ours} against {rule}");
        inside += group()
            .filter(|(e, p)| (p.power_w.0..=p.power_w.1).contains(&printed(e)))
            .count();
    }
    for (engine, prediction) in natural.iter().zip(&predicted) {
        // The yearbook prints no torque, so the class has no rule of it; no engine's peak of torque lies under that at its peak of power.
        assert!(
            median::rule(engine, &engines)
                .expect("a class")
                .torque
                .is_none()
        );
        let (power_w, rpm) = prediction.centre.power;
        let at_power_nm = power_w / units::rad_s(rpm);
        let (low, high) = prediction.torque_nm;
        assert!(low < prediction.centre.torque.0 && prediction.centre.torque.0 < high);
        assert!(prediction.centre.torque.0 >= at_power_nm, "{}", engine.id);
    }
    // 44 engines at 90 %: 36 to 43 with a chance of 0.95.
    assert!((36..=44).contains(&inside), "{inside} of {}", natural.len());
    let widths = predicted
        .iter()
        .map(|p| 0.5 * (p.power_w.1 - p.power_w.0) / p.centre.power.0);
    let width = median::median(widths.collect()).expect("engines");
    // Asked of natural engines: 15 %.
    assert!(width < 0.15, "{width}");
}
