//! What is left in the cylinder and how warm the charge is when the inlet valve closes: the mean-value layer against the crank-angle
//! layer, over the demo shop's cars with and without what charges them.
//!
//! Both are given the same manifolds, mixture and fuel. The crank-angle layer closes its valve in a smaller cylinder; its charge is
//! let expand to the whole one, as the mean-value layer tells it. The bounds are measured differences rounded outward: what the laws of
//! (2.9) and (3.7) leave of the layer that their numbers were taken from.

use crate::cycle_layers::{CARS, day, demo_car};
use pullcast::car::{Blower, Car, OnADay, Slow};
use pullcast::cycle::CylinderCycle;
use pullcast::files;
use std::path::Path;

/// Exponent by which a charge cools when it expands, γ − 1.
const COMPRESSION_EXPONENT: f64 = 0.35;

/// Residual and temperature of the charge over the whole cylinder, K, by the mean-value layer and by the crank-angle one.
#[derive(Clone, Copy)]
struct Charge {
    residual: [f64; 2],
    kelvin: [f64; 2],
}

/// From 0.3 of the redline to the redline.
fn over_speed(car: &Car) -> Vec<Charge> {
    let on_day = OnADay::new(car, day());
    let gear = car.valve_gear();
    let cylinder = &car.engine.geometry.cylinder;
    let closing = std::f64::consts::PI + car.engine.valves.closing_abdc_deg.to_radians();
    let room = cylinder.volume_m3(closing) / cylinder.volume_m3(std::f64::consts::PI);
    (3..=10)
        .map(|tenth| {
            let rpm = 0.1 * f64::from(tenth) * car.engine.redline_rpm;
            let point = on_day.at(rpm, Slow::settled(310.0), None);
            let cycle = CylinderCycle::new(on_day.cycle_input(&point, &gear))
                .expect("a demo car is admitted")
                .run();
            assert!(cycle.settled);
            Charge {
                residual: [point.cylinder.residual_fraction, cycle.residual_fraction],
                kelvin: [
                    point.cylinder.closing_k,
                    cycle.closing_k * room.powf(COMPRESSION_EXPONENT),
                ],
            }
        })
        .collect()
}

/// The car with what charges it: of its own, or of the demo's plan.
fn charged(name: &str) -> Car {
    let car = demo_car(name);
    let plan = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name)
        .join("plan_screw_blower.toml");
    if !plan.exists() {
        return car;
    }
    let (plan, _) = files::plan::open(&plan).expect("a demo plan");
    let plan = plan.plan.map(|_, _, prior| prior.centre());
    plan.apply(&car).expect("a plan that fits the car")
}

fn bare(car: &Car) -> Car {
    Car {
        blower: Blower::None,
        cooler: None,
        ..car.clone()
    }
}

/// Lowest and highest of what the mean-value layer tells above the crank-angle one.
fn above(charges: &[Charge], of: impl Fn(&Charge) -> [f64; 2]) -> [f64; 2] {
    let apart = charges.iter().map(|charge| {
        let [ours, cycle] = of(charge);
        ours - cycle
    });
    apart.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], by| {
        [low.min(by), high.max(by)]
    })
}

fn inside(what: &str, [low, high]: [f64; 2], [least, most]: [f64; 2]) {
    eprintln!("{what}: {low:.4} to {high:.4}");
    assert!(least <= low && high <= most, "{what}: {low} to {high}");
}

#[test]
fn both_layers_leave_as_much_burned_gas_and_close_on_as_warm_a_charge() {
    let residual = |charge: &Charge| charge.residual;
    let kelvin = |charge: &Charge| charge.kelvin;
    for name in CARS {
        let bare = over_speed(&bare(&demo_car(name)));
        inside(
            &format!("{name} bare, residual"),
            above(&bare, residual),
            [0.0, 0.0075],
        );
        inside(
            &format!("{name} bare, K"),
            above(&bare, kelvin),
            [-6.0, 10.6],
        );
    }
    for name in ["turbo_four", "upland_estate"] {
        let full = over_speed(&charged(name));
        inside(
            &format!("{name} charged, residual"),
            above(&full, residual),
            [-0.011, 0.0135],
        );
        inside(
            &format!("{name} charged, K"),
            above(&full, kelvin),
            [-5.0, 11.0],
        );
    }
}

/// What boost does to the charge's temperature is what knock hangs on. With a blower at low speed this layer's overlap sweeps out what the
/// cycle keeps: 7 K too cool there.
#[test]
fn both_layers_tell_alike_what_boost_does_to_the_charge() {
    for name in ["turbo_four", "upland_estate"] {
        let charged = charged(name);
        let (before, after) = (over_speed(&bare(&charged)), over_speed(&charged));
        let rises: Vec<Charge> = before
            .iter()
            .zip(after)
            .map(|(before, after)| Charge {
                residual: after.residual,
                kelvin: [0, 1].map(|layer| after.kelvin[layer] - before.kelvin[layer]),
            })
            .collect();
        let kelvin = |charge: &Charge| charge.kelvin;
        inside(
            &format!("{name}, rise by boost, K"),
            above(&rises, kelvin),
            [-7.5, 1.7],
        );
    }
}
