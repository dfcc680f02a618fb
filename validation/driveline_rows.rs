//! Driveline, tyre, inertia and electric axle against computed values, and the laws they must keep.

use crate::closed_forms;
use proptest::prelude::*;
use pullcast::driveline::clutch::{FrictionClutch, held_nm};
use pullcast::driveline::gears::{Drive, GearTrain, Gearbox};
use pullcast::driveline::inertia::TurningParts;
use pullcast::driveline::tyre::{TyreOnDrum, curvature_factor};
use pullcast::electric::axle::{AxleState, ElectricAxle};
use pullcast::electric::battery::{self, Battery};
use pullcast::electric::motor::Motor;

/// 0.1 %: printed digits.
fn agrees(found: f64, expected: f64) {
    assert!(
        (found / expected - 1.0).abs() < 1e-3,
        "{found} against {expected}"
    );
}

/// Engine and gearbox input 0.32, shaft 0.03, wheels 3.2 kg m².
const PARTS: TurningParts = TurningParts {
    engine_kg_m2: 0.30,
    gearbox_input_kg_m2: 0.02,
    shaft_kg_m2: 0.03,
    wheels_kg_m2: 3.2,
    blower_kg_m2: 0.0,
    blower_ratio: 0.0,
};

#[test]
fn equivalent_mass_in_three_gears() {
    // Source: kinetic energy, computed separately; final drive 3.73, radius 0.335 m.
    for (gear, expected) in [(1.0, 71.90), (1.3, 99.28), (1.74, 152.34)] {
        agrees(
            closed_forms::equivalent_mass_kg(&PARTS, gear, 3.73, 0.335),
            expected,
        );
    }
}

#[test]
fn share_of_power_hidden_by_the_cars_own_inertia() {
    // Source: as above, drum 1200 kg: 5.65, 7.64 and 11.3 %. Half a unit of the last printed digit.
    for (gear, percent, digit) in [(1.0, 5.65, 0.01), (1.3, 7.64, 0.01), (1.74, 11.3, 0.1)] {
        let hidden = 1.0
            - closed_forms::drum_share(
                1200.0,
                closed_forms::equivalent_mass_kg(&PARTS, gear, 3.73, 0.335),
            );
        assert!(
            (100.0 * hidden - percent).abs() < digit / 2.0 + 1e-9,
            "{gear}: {hidden}"
        );
    }
}

#[test]
fn constant_power_run_up() {
    // Source: energy, computed separately; 300 kW, 20 to 60 m/s.
    agrees(
        closed_forms::constant_power_time_s(1200.0, 300e3, 20.0, 60.0),
        6.400,
    );
    agrees(
        closed_forms::constant_power_time_s(1271.9, 300e3, 20.0, 60.0),
        6.783,
    );
}

#[test]
fn constant_torque_in_the_direct_gear() {
    // Source: Newton, computed separately; 500 N m, efficiency 0.9, final 3.73, radius 0.335 m, drum 1200 kg.
    let force = closed_forms::surface_force_n(500.0, 0.9, 3.73, 0.335);
    agrees(force, 5010.4);
    let car = closed_forms::equivalent_mass_kg(&PARTS, 1.0, 3.73, 0.335);
    agrees(force / (1200.0 + car), 3.9393);
    agrees(closed_forms::drum_share(1200.0, car), 0.94347);
}

#[test]
fn coast_down_of_a_loaded_drum() {
    // Source: quadrature, computed separately.
    agrees(
        closed_forms::coast_down_time_s(1232.2, [150.0, 1.5, 0.02], 60.0, 20.0),
        205.84,
    );
}

#[test]
fn coast_down_closed_forms_agree_with_quadrature() {
    // Source: Simpson's rule with 20 000 intervals, here; its error on these smooth integrands is below 1e-12.
    for drag in [
        [150.0, 1.5, 0.02],
        [10.0, 4.0, 0.02],
        [100.0, 2.0, 0.01],
        [80.0, 1.0, 0.0],
        [50.0, 0.0, 0.1],
    ] {
        let f = |v: f64| 1200.0 / (drag[0] + v * (drag[1] + v * drag[2]));
        let n = 20_000_u32;
        let h = 45.0 / f64::from(n);
        let sum: f64 = (0..=n)
            .map(|k| {
                let weight = if k == 0 || k == n {
                    1.0
                } else if k % 2 == 1 {
                    4.0
                } else {
                    2.0
                };
                weight * f(10.0 + h * f64::from(k))
            })
            .sum();
        let closed = closed_forms::coast_down_time_s(1200.0, drag, 55.0, 10.0);
        assert!((closed / (sum * h / 3.0) - 1.0).abs() < 1e-9, "{drag:?}");
    }
}

#[test]
fn curvature_of_two_drums() {
    // Source: Clark's formula, computed separately; tyre 0.335 m.
    agrees(curvature_factor(0.335, 0.61), 1.24466);
    agrees(curvature_factor(0.335, 1.0), 1.15542);
    assert_eq!(curvature_factor(0.335, f64::INFINITY), 1.0);
}

#[test]
fn clutch_capacity_of_the_handbook_case() {
    // Source: uniform-pressure formula, computed separately; 2 faces, 0.3, 12 kN, 0.12/0.08 m.
    let clutch = FrictionClutch {
        faces: 2.0,
        friction: 0.3,
        clamp_n: 12_000.0,
        outer_radius_m: 0.12,
        inner_radius_m: 0.08,
    };
    agrees(clutch.capacity_nm(), 729.6);
    assert_eq!(held_nm(700.0, clutch.capacity_nm()), (700.0, false));
    assert!(held_nm(800.0, clutch.capacity_nm()).1);
}

#[test]
fn motor_base_speed_and_battery_limits() {
    // Source: definitions, computed separately; 200 N m, 100 kW; 350 V, 0.10 ohm, 280 V.
    let motor = Motor::typical(200.0, 100e3, 1600.0);
    agrees(
        motor.peak_power_w / motor.peak_torque_nm * 30.0 / std::f64::consts::PI,
        4774.6,
    );
    agrees(battery::power_at_voltage_w(350.0, 0.10, 280.0), 196e3);
    agrees(battery::power_ceiling_w(350.0, 0.10), 306.25e3);
}

#[test]
fn whole_loss_of_usual_layouts_lies_where_shops_see_it() {
    // Crank to drum differences, mesh + spin + tyre + slip + inertia: common practice, no source. Engine 300 N m at 6000
    // rpm on a 1200 kg drum per axle. 2.1 points: root sum of squares of the defaults' own doubts (mesh 1.3, spin 0.8,
    // rolling 0.6, slip stiffness 1.0, engine inertia 0.8).
    for (drive, gearbox, gear, wheels, low, high) in [
        (Drive::Rear, Gearbox::Manual, 1.0, 3.2, 12.0, 16.0),
        (Drive::Rear, Gearbox::Automatic, 1.0, 3.2, 15.0, 20.0),
        (Drive::Transaxle, Gearbox::Manual, 1.0, 2.6, 10.0, 14.0),
        (Drive::All, Gearbox::Automatic, 1.0, 6.0, 17.0, 24.0),
    ] {
        let train = GearTrain::typical(drive, gearbox, gear, 3.73);
        let speed = 6000.0 * std::f64::consts::PI / 30.0;
        let shaft = train.through(300.0, speed, 1.0);
        let radius = 0.335;
        let v = shaft.speed_rad_s * radius;
        let axles = if drive == Drive::All { 2.0 } else { 1.0 };
        let tyre = TyreOnDrum::typical(radius, 0.61, 8_000.0 * axles);
        let force = shaft.torque_nm / radius - tyre.rolling_force_n(v, 313.15);
        let slip = tyre.slip(force).slip;
        let parts = TurningParts {
            engine_kg_m2: 0.2,
            wheels_kg_m2: wheels,
            ..PARTS
        };
        let read = force
            * (1.0 - slip)
            * closed_forms::drum_share(
                1200.0 * axles,
                closed_forms::equivalent_mass_kg(&parts, gear, 3.73, radius),
            );
        let loss = 100.0 * (1.0 - read * v / (300.0 * speed));
        assert!(
            loss > low - 2.1 && loss < high + 2.1,
            "{drive:?} {gearbox:?}: {loss:.1} %"
        );
    }
}

fn axle() -> ElectricAxle {
    ElectricAxle {
        motor: Motor {
            weakening_speed_rad_s: 1100.0,
            weakening_exponent: 0.6,
            ..Motor::typical(200.0, 100e3, 1600.0)
        },
        battery: Battery::typical(350.0, 0.10, 8e6),
        reduction_ratio: 9.0,
        reduction_efficiency: 0.975,
        cut_speed_rad_s: 165.0,
        cut_taper: 0.08,
        ramp_s: 0.4,
        assist: 1.0,
    }
}

fn trains() -> impl Strategy<Value = GearTrain> {
    (
        prop_oneof![Just(Drive::Rear), Just(Drive::Transaxle), Just(Drive::All)],
        prop_oneof![Just(Gearbox::Manual), Just(Gearbox::Automatic)],
        0.6..4.0_f64,
        2.5..4.8_f64,
    )
        .prop_map(|(d, g, gear, axle)| GearTrain::typical(d, g, gear, axle))
}

proptest! {
    #[test]
    fn loss_as_a_percentage_falls_with_torque(train in trains(), speed in 80.0..900.0_f64, torque in 30.0..900.0_f64, more in 1.0..300.0_f64, oil in 0.7..2.5_f64) {
        let share = |t: f64| {
            let f = train.through(t, speed, oil);
            (f.mesh_loss_w + f.spin_loss_w) / (t * speed)
        };
        prop_assert!(share(torque + more) < share(torque));
    }

    #[test]
    fn power_in_is_power_out_and_losses(train in trains(), speed in 10.0..900.0_f64, torque in -200.0..900.0_f64, oil in 0.7..2.5_f64) {
        let out = train.through(torque, speed, oil);
        let after = out.torque_nm * out.speed_rad_s + out.mesh_loss_w + out.spin_loss_w;
        // Rounding of a sum of stages.
        prop_assert!((torque * speed - after).abs() < 1e-9 * (1.0 + (torque * speed).abs()));
        prop_assert!(out.mesh_loss_w >= 0.0 && out.spin_loss_w >= 0.0);
    }

    #[test]
    fn a_lower_gear_reads_lower_on_an_inertia_drum(gear in 0.7..3.0_f64, lower in 0.01..1.5_f64) {
        let share = |g: f64| closed_forms::drum_share(1200.0, closed_forms::equivalent_mass_kg(&PARTS, g, 3.73, 0.335));
        prop_assert!(share(gear + lower) < share(gear));
    }

    #[test]
    fn tyre_force_and_slip_rise_together_and_stay_inside_the_grip(force in 0.0..40_000.0_f64, more in 1.0..5_000.0_f64, grip in 0.7..1.3_f64) {
        let tyre = TyreOnDrum { grip, ..TyreOnDrum::typical(0.33, 0.6, 8_000.0) };
        let (a, b) = (tyre.slip(force), tyre.slip(force + more));
        prop_assert!(b.slip >= a.slip && (0.0..=1.0).contains(&a.slip));
        prop_assert!(b.transmitted_n >= a.transmitted_n - 1e-9 && b.transmitted_n <= grip * 8_000.0 * (1.0 + 1e-12));
        prop_assert!(a.transmitted_n <= force);
        // Reversed force, reversed slip.
        prop_assert_eq!(tyre.slip(-force).slip, -a.slip);
    }

    #[test]
    fn axle_power_never_exceeds_what_motor_and_battery_allow(
        speed in 0.0..250.0_f64, charge in 0.0..=1.0_f64, cold in 253.0..320.0_f64, winding in 280.0..480.0_f64, engaged in 0.0..2.0_f64
    ) {
        let a = axle();
        let state = AxleState { charge, battery_k: cold, winding_k: winding, case_k: 330.0, engaged_s: engaged };
        let p = a.power_at_hub(speed, &state);
        prop_assert!(p.torque_nm.is_finite() && p.torque_nm >= 0.0);
        prop_assert!(p.motor_torque_nm * speed * a.reduction_ratio <= a.motor.peak_power_w * (1.0 + 1e-12));
        prop_assert!(p.battery_power_w <= a.battery.power_limit_w(charge, cold) * (1.0 + 1e-9));
        prop_assert!(p.power_w <= p.battery_power_w);
        // Battery power splits into hub power and the two losses.
        let reduction = p.motor_torque_nm * speed * a.reduction_ratio * (1.0 - a.reduction_efficiency);
        prop_assert!((p.battery_power_w - p.power_w - p.motor_loss_w - reduction).abs() < 1e-6);
        let r = a.rate(&p, &state);
        prop_assert!(r.charge_per_s <= 0.0 && r.battery_k_s >= 0.0 && r.winding_k_s.is_finite());
    }

    #[test]
    fn no_battery_power_gives_no_axle_power(speed in 0.0..200.0_f64) {
        let state = AxleState { charge: 0.0, battery_k: 300.0, winding_k: 320.0, case_k: 320.0, engaged_s: f64::INFINITY };
        let p = axle().power_at_hub(speed, &state);
        prop_assert_eq!((p.torque_nm, p.power_w, p.battery_power_w), (0.0, 0.0, 0.0));
    }

    #[test]
    fn the_battery_gives_what_its_terminals_show(power in 0.0..400e3_f64, charge in 0.0..=1.0_f64, t in 240.0..330.0_f64) {
        let pack = Battery::typical(350.0, 0.10, 8e6);
        let load = pack.load(power, charge, t);
        let inside = pack.open_circuit_at_v(charge) * load.current_a;
        prop_assert!((inside - load.power_w - load.heat_w).abs() <= 1e-9 * (inside + 1.0));
        prop_assert!(load.power_w <= power && load.voltage_v > 0.0);
    }
}

#[test]
fn the_three_forms_of_the_coast_down_join() {
    // F₁² = 4 F₀F₂ exactly at F₁ = 2; a hair to each side must agree.
    let at = |f1| closed_forms::coast_down_time_s(1000.0, [100.0, f1, 0.01], 50.0, 10.0);
    assert!((at(2.0) / at(2.0 + 1e-9) - 1.0).abs() < 1e-6);
    assert!((at(2.0) / at(2.0 - 1e-9) - 1.0).abs() < 1e-6);
    let constant = closed_forms::coast_down_time_s(1000.0, [100.0, 0.0, 0.0], 50.0, 10.0);
    assert!((constant - 400.0).abs() < 1e-9);
}
