//! How far the two cylinder layers stand apart over the demo shop's three cars, from 0.3 of the redline to the redline.
//!
//! Both layers are given the same manifolds, mixture and fuel. The figures are stated in `docs/validation.md`; the bounds here are
//! those figures rounded outward, so that a change of either layer that moves them is seen.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::car::{Blower, Car, OnADay, OperatingPoint, Slow};
use pullcast::cycle::{CyclePoint, CylinderCycle, over_speed};
use pullcast::files;
use std::path::Path;

pub(crate) const CARS: [&str; 3] = ["manual_coupe", "turbo_four", "upland_estate"];

/// A car of the demo, at the middle of what is believed of it.
pub(crate) fn demo_car(name: &str) -> Car {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name);
    let (file, _) = files::car::open(&folder.join("car.toml")).expect("a demo car");
    file.sheet.centre.car
}

/// The same without blower and cooler, so that the three differ in their engines alone.
fn car(name: &str) -> Car {
    Car {
        blower: Blower::None,
        cooler: None,
        ..demo_car(name)
    }
}

pub(crate) fn day() -> Day {
    Day::from_relative_humidity(StationPressure::from_pa(98e3), 295.15, 0.45).expect("a day")
}

/// Both layers at eight speeds, with the temperature at the inlet valve.
fn both(car: &Car) -> Vec<(OperatingPoint, CyclePoint, f64)> {
    let on_day = OnADay::new(car, day());
    let gear = car.valve_gear();
    let points: Vec<OperatingPoint> = (3..=10)
        .map(|tenth| 0.1 * f64::from(tenth) * car.engine.redline_rpm)
        .map(|rpm| on_day.at(rpm, Slow::settled(310.0), None))
        .collect();
    let cycles: Vec<CylinderCycle> = points
        .iter()
        .map(|p| CylinderCycle::new(on_day.cycle_input(p, &gear)).expect("a demo car is admitted"))
        .collect();
    let settled = over_speed(&cycles);
    assert!(settled.iter().all(|c| c.settled && !c.beyond_search));
    let inlet_k = cycles.iter().map(|c| c.input().inlet_k);
    points
        .into_iter()
        .zip(settled)
        .zip(inlet_k)
        .map(|((p, c), k)| (p, c, k))
        .collect()
}

/// Indicated work per kilogram of dry air, J/kg, in both layers.
fn work_per_air(point: &OperatingPoint, cycle: &CyclePoint) -> [f64; 2] {
    let dry_kg_s = point.air_kg_s / (1.0 + day().humidity_ratio());
    [
        point.cylinder.indicated_w / dry_kg_s,
        cycle.gross_pa * cycle.swept_m3 / cycle.trapped_air_kg,
    ]
}

/// Smallest and largest, and largest distance from the mean over the mean.
fn spread(values: &[f64]) -> [f64; 3] {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    [low, high, ((high - mean) / mean).max((mean - low) / mean)]
}

fn inside(name: &str, what: &str, value: f64, [low, high]: [f64; 2]) {
    assert!((low..=high).contains(&value), "{name}: {what} {value}");
}

#[test]
fn the_two_layers_disagree_by_what_the_book_says() {
    for name in CARS {
        let points = both(&car(name));
        let each = |f: &dyn Fn(&OperatingPoint, &CyclePoint, f64) -> f64| -> [f64; 3] {
            spread(
                &points
                    .iter()
                    .map(|(p, c, k)| f(p, c, *k))
                    .collect::<Vec<_>>(),
            )
        };
        // The cycle's efficiency is told for the state at the valve, the mean-value one for the manifold's.
        let filling = each(&|p, c, inlet_k| {
            c.volumetric_efficiency * p.charge_k / inlet_k / p.volumetric_efficiency
        });
        let work = each(&|p, c, _| {
            let [mean, cycle] = work_per_air(p, c);
            cycle / mean
        });
        let phasing = each(&|p, c, _| c.ca50_deg - p.cylinder.ca50_deg);
        let exhaust = each(&|p, c, _| c.exhaust_k - p.cylinder.valve_k);
        let peak = each(&|p, c, _| c.peak_pa / p.cylinder.peak_pa);
        eprintln!(
            "{name}: filling {filling:.3?} work {work:.3?} CA50 {phasing:.1?} exhaust {exhaust:.0?} peak {peak:.3?}"
        );
        inside(name, "filling, lowest", filling[0], [0.78, 0.80]);
        inside(name, "filling, highest", filling[1], [0.87, 0.92]);
        inside(name, "filling, shape", filling[2], [0.06, 0.10]);
        inside(name, "work, lowest", work[0], [1.04, 1.05]);
        inside(name, "work, highest", work[1], [1.05, 1.06]);
        inside(name, "work, shape", work[2], [0.004, 0.006]);
        inside(name, "CA50, earliest", phasing[0], [-5.1, -3.9]);
        inside(name, "CA50, latest", phasing[1], [-1.4, -1.2]);
        inside(name, "exhaust, coldest", exhaust[0], [-110.0, -102.0]);
        inside(name, "exhaust, hottest", exhaust[1], [-96.0, -86.0]);
        inside(name, "peak, lowest", peak[0], [0.91, 0.92]);
        inside(name, "peak, highest", peak[1], [1.02, 1.05]);
    }
}

/// What both say of one more unit of compression, the spark following best torque or knock in each.
#[test]
fn both_layers_tell_alike_what_compression_gives() {
    for name in CARS {
        let old = car(name);
        let mut new = old.clone();
        new.engine.geometry.cylinder.compression_ratio += 1.0;
        new.retabulate_knock();
        let (before, after) = (both(&old), both(&new));
        let mut gains = [Vec::new(), Vec::new()];
        let mut shifts = [Vec::new(), Vec::new()];
        for ((p0, c0, _), (p1, c1, _)) in before.iter().zip(&after) {
            let (w0, w1) = (work_per_air(p0, c0), work_per_air(p1, c1));
            for layer in 0..2 {
                gains[layer].push(w1[layer] / w0[layer]);
            }
            shifts[0].push(p1.cylinder.ca50_deg - p0.cylinder.ca50_deg);
            shifts[1].push(c1.ca50_deg - c0.ca50_deg);
        }
        let apart: Vec<f64> = gains[1].iter().zip(&gains[0]).map(|(c, p)| c - p).collect();
        eprintln!(
            "{name}: gains {:.4?} {:.4?} apart {:.4?} shifts {:.1?} {:.1?}",
            spread(&gains[0]),
            spread(&gains[1]),
            spread(&apart),
            spread(&shifts[0]),
            spread(&shifts[1])
        );
        for gain in gains.iter().flatten() {
            inside(name, "gain", *gain, [1.0, 1.027]);
        }
        for difference in apart {
            inside(name, "gains apart", difference, [-0.003, 0.005]);
        }
        for shift in shifts.iter().flatten() {
            inside(name, "shift of CA50", *shift, [-0.01, 4.1]);
        }
    }
}
