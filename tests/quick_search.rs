//! The quick way to a point and to a pull, held to the slow one: a bracketed search from no neighbour, and every state integrated.

use pullcast::boost::{BeltDrive, PositiveDisplacement, RotorKind};
use pullcast::car::{Blower, Car, OnADay, Onset, OperatingPoint, Slow, Sweep};
use pullcast::dyno::{Conditions, Setup};
use pullcast::files;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::path::Path;

use crate::laws::{blown_coupe, coupe, drums, electric, mild};

/// The demo's cars, and others that blow, slip, leak and help themselves with a motor.
fn cars() -> Vec<(&'static str, Setup)> {
    let on_drums = |car: Car| Setup {
        car,
        drums: drums(),
    };
    let mut cars: Vec<(&str, Setup)> = ["manual_coupe", "upland_estate", "turbo_four"]
        .into_iter()
        .map(|name| {
            let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
            let opened = files::car::open(&path.join(name).join("car.toml"));
            (name, opened.expect("a demo car").0.sheet.centre)
        })
        .collect();
    let mut leaking = blown_coupe();
    leaking.defects.leak_m2 = 40e-6;
    let mut slipping = blown_coupe();
    slipping.defects.lost_drive = Onset {
        size: 0.1,
        from_rpm: 4500.0,
        over_rpm: 500.0,
    };
    let uncooled = Car {
        blower: half_a_bar(1.7),
        ..coupe()
    };
    let mut helped = coupe();
    helped.electric = Some(electric(&helped));
    cars.extend([
        ("coupe", on_drums(coupe())),
        ("blown", on_drums(blown_coupe())),
        ("uncooled", on_drums(uncooled)),
        ("leaking", on_drums(leaking)),
        ("slipping", on_drums(slipping)),
        ("helped", on_drums(helped)),
    ]);
    cars
}

/// What engines bear without a charge cooler, of three litres at a ratio of 1.7 and of two at 1.1: a belt that slips in earnest, and a blower that carries
/// less than the engine swallows, are left to the search for single points.
fn half_a_bar(ratio: f64) -> Blower {
    Blower::Displacement {
        machine: PositiveDisplacement::typical(RotorKind::TwistedLobe, 1.3e-3, 2000.0),
        drive: BeltDrive::of_overall_ratio(ratio, 0.075),
    }
}

/// Greatest relative difference of what a point is asked for most.
fn apart(a: &OperatingPoint, b: &OperatingPoint) -> f64 {
    let of = |p: &OperatingPoint| {
        [
            p.torque_nm,
            p.air_kg_s,
            p.manifold_pa,
            p.charge_k,
            p.exhaust_pa,
            p.cylinder.exhaust_k,
            p.cylinder.lambda,
            p.cylinder.peak_pa,
            1.0 + p.blower.slip,
        ]
    };
    let pairs = of(a).into_iter().zip(of(b));
    pairs.fold(0.0, |most, (a, b)| f64::max(most, (a / b - 1.0).abs()))
}

/// Speeds of a sweep, rpm.
fn speeds(setup: &Setup) -> impl Iterator<Item = f64> {
    let redline_rpm = setup.car.engine.redline_rpm;
    (0..28).map(move |k| redline_rpm * (0.3 + 0.7 * f64::from(k) / 27.0))
}

/// A shaft speed that a turbocharger might have there; a settled one is found by points of its own.
fn given_wheel(on_day: &OnADay<'_>, rpm: f64) -> Slow {
    Slow {
        wheel_rad_s: on_day
            .wheel_range_rad_s()
            .map(|(low, high)| low + (high - low) * (0.3 + 4e-5 * rpm)),
        ..Slow::settled(310.0)
    }
}

#[test]
fn every_point_of_a_sweep_is_the_bracketed_one() {
    let mut passes = Vec::new();
    for (name, setup) in cars() {
        let on_day = OnADay::new(&setup.car, mild());
        let mut sweep = Sweep::default();
        let mut taken = 0;
        for rpm in speeds(&setup) {
            let slow = given_wheel(&on_day, rpm);
            let quick = on_day.along(rpm, slow, &mut sweep);
            let slowly = on_day.bracketed_at(rpm, slow);
            assert_eq!(quick.limits, slowly.limits, "{name} {rpm}");
            // Both are settled to 5e-7 of the numbers carried; a reading may follow those by twice as much.
            let apart = apart(&quick, &slowly);
            assert!(apart < 2e-6, "{name} {rpm}: {apart:.1e}");
            taken += quick.passes;
        }
        passes.push((name, f64::from(taken) / 28.0));
    }
    // A search that fell back to the bracketed one at every point would be no quicker.
    for (name, taken) in passes {
        assert!(taken < 7.0, "{name}: {taken}");
    }
}

/// Drawn cars, of which some knock at every speed and some at none, and the same with a blower.
#[test]
fn points_found_side_by_side_are_the_bracketed_ones() {
    for blown in [false, true] {
        side_by_side_or_bracketed(blown);
    }
}

fn side_by_side_or_bracketed(blown: bool) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/manual_coupe/car.toml");
    let sheet = files::car::open(&path).expect("the demo's coupe").0.sheet;
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let (mut worst, mut limited, mut points) = (0.0_f64, 0, 0);
    for _ in 0..30 {
        let mut setup = sheet.setup_at(&sheet.draw(&mut rng));
        setup.car.retabulate_knock();
        if blown {
            setup.car.blower = half_a_bar(1.1);
        }
        let on_day = OnADay::new(&setup.car, mild());
        let rpm: Vec<f64> = speeds(&setup).collect();
        let abreast = on_day
            .abreast(&rpm)
            .expect("points of a car without cooler");
        for quick in &abreast {
            let slowly = on_day.bracketed_at(quick.rpm, Slow::settled(310.0));
            assert_eq!(quick.limits, slowly.limits, "{}", quick.rpm);
            assert!(quick.ledger.imbalance().abs() < 1e-6, "{}", quick.rpm);
            worst = worst.max(apart(quick, &slowly));
            limited += u32::from(quick.cylinder.knock_limited);
            points += 1;
        }
    }
    assert!(
        limited > points / 20 && limited < points,
        "{limited} of {points}"
    );
    // As for a sweep.
    assert!(worst < 2e-6, "{blown} {worst:.1e}");
}

#[test]
fn cars_whose_speeds_hang_together_are_not_searched_side_by_side() {
    for (name, setup) in cars() {
        let on_day = OnADay::new(&setup.car, mild());
        let rpm: Vec<f64> = speeds(&setup).collect();
        let apart = [
            "manual_coupe",
            "upland_estate",
            "coupe",
            "helped",
            "uncooled",
        ];
        assert_eq!(
            on_day.abreast(&rpm).is_some(),
            apart.contains(&name),
            "{name}"
        );
    }
}

#[test]
fn a_pull_is_the_integrated_one() {
    for (name, setup) in cars() {
        let conditions = Conditions::rested(setup.car.engine.redline_rpm);
        for count in [5, 28, 90] {
            let quick = setup.pull(&mild(), &conditions, count).expect("a pull");
            let fine = setup
                .integrated_pull(&mild(), &conditions, count, 1e-8)
                .expect("a pull");
            let whole_s = fine.points[count - 1].time_s;
            // Where help fades out or a belt lets go the curve has a corner, which equal steps cut.
            let corner = ["upland_estate", "slipping", "helped"].contains(&name);
            // So has that of a turbocharger's shaft where the gate opens, and the integrated one cuts it too.
            let turbo = setup.car.blower.turbo().is_some();
            for (a, b) in quick.points.iter().zip(&fine.points) {
                let power = (a.power_w / b.power_w - 1.0).abs();
                let time = (a.time_s - b.time_s).abs() / whole_s;
                let sensor = (a.sensor_k - b.sensor_k).abs();
                let most = if turbo { 5e-4 } else { 1e-5 };
                assert!(power < most, "{name} {count} {} {power:.1e}", a.rpm);
                let most = if corner { 5e-4 } else { 4e-5 };
                assert!(time < most, "{name} {count} {} {time:.1e}", a.rpm);
                // Behind a blower without cooler it follows sixty kelvin, five times what it does elsewhere.
                let most = if corner || name == "uncooled" {
                    0.1
                } else {
                    0.02
                };
                assert!(sensor < most, "{name} {count} {} {sensor:.1e}", a.rpm);
            }
        }
    }
}
