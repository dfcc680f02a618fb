//! Laws of a turbocharged car: the control holds what it is asked for, the shaft takes time, the books balance.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::ask::cautions::{NotIncluded, not_included};
use pullcast::boost::{Holds, Turbocharger};
use pullcast::car::{Blower, Car, Limit, OnADay, Slow};
use pullcast::dyno::{Conditions, Pull, Setup};
use pullcast::files;
use std::path::Path;

fn four() -> Setup {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/turbo_four/car.toml");
    let (car, warnings) = files::car::open(&path).unwrap_or_else(|p| panic!("{p}"));
    assert!(warnings.is_empty(), "{warnings}");
    car.sheet.centre
}

fn day(pressure_pa: f64) -> Day {
    Day::from_relative_humidity(StationPressure::from_pa(pressure_pa), 293.15, 0.5)
        .expect("a possible day")
}

fn turbo(car: &mut Car) -> &mut Turbocharger {
    car.blower.turbo_mut().expect("a turbocharger")
}

fn pull(setup: &Setup, pressure_pa: f64) -> Pull {
    let conditions = Conditions::rested(setup.car.engine.redline_rpm);
    setup
        .pull(&day(pressure_pa), &conditions, 40)
        .expect("a pull")
}

/// Absolute pressure at the compressor's outlet, Pa.
fn boost_pa(pull: &Pull, rpm: f64) -> f64 {
    pull.reading(rpm, |p| p.engine.blower.pressure_ratio * p.engine.inlet_pa)
}

#[test]
fn the_books_of_a_turbocharged_engine_balance_whatever_its_shaft_does() {
    let setup = four();
    let on_day = OnADay::new(&setup.car, day(97e3));
    for rpm in [1500.0, 2500.0, 4000.0, 6000.0] {
        for wheel_rad_s in [2e3, 6e3, 10e3, 14e3] {
            let slow = Slow {
                wheel_rad_s: Some(wheel_rad_s),
                ..Slow::settled(300.0)
            };
            let point = on_day.at(rpm, slow, None);
            assert!(
                !point.limits.contains(Limit::Unsettled),
                "{rpm} {wheel_rad_s}"
            );
            // The first law over the whole engine, to what the balance settles to.
            let left = point.ledger.imbalance();
            assert!(left.abs() < 1e-6, "{rpm} {wheel_rad_s}: {left}");
            let shaft = point.shaft.expect("a shaft");
            assert!(shaft.turbine.inlet_pa >= 97e3 && shaft.turbine.power_w >= 0.0);
            assert!((0.0..=1.0).contains(&shaft.gate_share));
            // The shaft: what the turbine gives and the compressor takes is what accelerates it. To rounding.
            let own = setup.car.blower.turbo().expect("a turbocharger");
            let spin_w = own.inertia_kg_m2 * wheel_rad_s * shaft.wheel_rad_s2;
            let given_w = own.shaft_efficiency * shaft.turbine.power_w;
            let scale_w = given_w.max(point.blower.shaft_w);
            assert!((given_w - point.blower.shaft_w - spin_w).abs() < 1e-6 * scale_w);
            // The gas: turbine and gate together pass what the cylinders let out. To rounding.
            let out = point.air_kg_s + point.cylinder.fuel_kg_s;
            let through = shaft.turbine.flow_kg_s + shaft.gate_share * out;
            assert!((through / out - 1.0).abs() < 1e-9, "{through} {out}");
            // And the pressure the cylinders push against is the one before the turbine, to what the balance settles to.
            assert!((point.exhaust_pa / shaft.turbine.inlet_pa - 1.0).abs() < 1e-5);
        }
    }
}

#[test]
fn where_the_gate_opens_the_boost_is_what_is_asked_for() {
    let setup = four();
    let on_day = OnADay::new(&setup.car, day(97e3));
    let mut held = 0;
    for rpm in [1500.0, 3000.0, 4500.0, 6400.0] {
        let point = on_day.at(rpm, Slow::settled(300.0), None);
        let shaft = point.shaft.expect("a shaft");
        // A settled shaft moves by less than a hundredth of its speed in a second.
        let speed = point.blower.speed_rad_s;
        assert!(shaft.wheel_rad_s2.abs() < 0.01 * speed, "{rpm}: {shaft:?}");
        let outlet = point.blower.pressure_ratio * point.inlet_pa;
        if shaft.gate_share > 0.0 {
            held += 1;
            // A hundredth of the speed in a second, times the control's 0.15 s, twice over in pressure.
            assert!(
                (outlet / (shaft.target_pa - shaft.held_back_pa) - 1.0).abs() < 3e-3,
                "{rpm}: {outlet}"
            );
        } else {
            assert!(outlet < shaft.target_pa, "{rpm}: {outlet}");
        }
    }
    assert!(held >= 2, "{held}");
}

#[test]
fn a_shut_gate_gives_the_most_boost() {
    let mut setup = four();
    let mut most = |asked_pa: f64| {
        turbo(&mut setup.car).control.asked = vec![(0.0, asked_pa)];
        let point = OnADay::new(&setup.car, day(97e3)).at(3500.0, Slow::settled(300.0), None);
        let short = point.limits.contains(Limit::BoostShort);
        (point.blower.pressure_ratio, short)
    };
    let (mild, short) = most(30e3);
    assert!(!short);
    let (more, _) = most(60e3);
    assert!(more > 1.1 * mild);
    // Asked for more than the exhaust can give, the gate stays shut and says so; asking for still more changes nothing.
    let (end, short) = most(400e3);
    let (same, still) = most(500e3);
    assert!(end > more && short && still);
    assert!((end / same - 1.0).abs() < 1e-6);
}

#[test]
fn a_heavier_shaft_and_lighter_drums_bring_the_boost_later() {
    let setup = four();
    let usual = boost_pa(&pull(&setup, 97e3), 2700.0);
    let mut heavy = setup.clone();
    turbo(&mut heavy.car).inertia_kg_m2 *= 3.0;
    let mut light_drums = setup.clone();
    light_drums.drums.inertia_kg_m2 *= 0.4;
    // One per cent of the absolute pressure: far more than the integration leaves open.
    assert!(boost_pa(&pull(&heavy, 97e3), 2700.0) < 0.99 * usual);
    assert!(boost_pa(&pull(&light_drums, 97e3), 2700.0) < 0.99 * usual);
    // At the top it has arrived all the same.
    let late = boost_pa(&pull(&heavy, 97e3), 6000.0);
    assert!((late / boost_pa(&pull(&setup, 97e3), 6000.0) - 1.0).abs() < 5e-3);
}

#[test]
fn finer_steps_of_the_shaft_hardly_move_the_readings() {
    let setup = four();
    let conditions = Conditions::rested(setup.car.engine.redline_rpm);
    let [coarse, fine] = [40, 400].map(|pieces| {
        setup
            .pull(&day(97e3), &conditions, pieces + 1)
            .expect("a pull")
    });
    for (i, p) in coarse.points.iter().enumerate() {
        let there = fine.points[10 * i].power_w;
        // Half a per cent where the boost arrives within a few steps: less than one pull differs from the next.
        assert!(
            (p.power_w / there - 1.0).abs() < 5e-3,
            "{}: {} {there}",
            p.rpm,
            p.power_w
        );
    }
}

#[test]
fn two_turbochargers_of_half_the_size_do_what_one_does() {
    let one = four();
    let mut two = one.clone();
    let half = turbo(&mut two.car);
    half.count = 2;
    half.compressor.flow_factor *= 0.5;
    half.turbine.effective_area_m2 *= 0.5;
    half.inertia_kg_m2 *= 0.5;
    let (one, two) = (pull(&one, 97e3), pull(&two, 97e3));
    for (a, b) in one.points.iter().zip(&two.points) {
        // Rounding, and where the search for the flow stops.
        assert!((a.power_w / b.power_w - 1.0).abs() < 1e-6, "{}", a.rpm);
    }
}

#[test]
fn thin_air_costs_least_under_an_absolute_boost_and_most_without_any() {
    let peak = |setup: &Setup, pressure_pa| {
        pull(setup, pressure_pa)
            .peak_power()
            .expect("points")
            .power_w
    };
    let kept = |setup: &Setup| peak(setup, 84e3) / peak(setup, 101e3);
    let spring = four();
    let mut absolute = spring.clone();
    let control = &mut turbo(&mut absolute.car).control;
    control.holds = Holds::Absolute;
    control.asked = vec![(0.0, 155e3)];
    let mut bare = spring.clone();
    bare.car.blower = Blower::None;
    let (spring, absolute, bare) = (kept(&spring), kept(&absolute), kept(&bare));
    assert!(
        absolute > spring && spring > bare,
        "{absolute} {spring} {bare}"
    );
    // Without boost the air's mass falls with its pressure, and friction takes a little more than its share.
    assert!((0.76..0.84).contains(&bare), "{bare}");
}

/// Isermann's steady boost (Combustion Engine Diagnosis, section 5.4) from the gas that passes the turbine.
#[test]
fn a_settled_turbocharger_holds_the_boost_of_the_textbook_balance() {
    use pullcast::boost::turbine::TurbineInlet;
    let setup = four();
    let on_day = OnADay::new(&setup.car, day(97e3));
    for rpm in [2500.0, 4500.0, 6200.0] {
        let point = on_day.at(rpm, Slow::settled(300.0), None);
        let (shaft, own) = (
            point.shaft.expect("a shaft"),
            setup.car.blower.turbo().expect("a turbocharger"),
        );
        let gas = TurbineInlet {
            flow_kg_s: shaft.turbine.flow_kg_s,
            temperature_k: shaft.turbine.inlet_k,
            cp_j_kg_k: shaft.turbine.cp_j_kg_k,
            gamma: shaft.turbine.gamma,
        };
        let expansion = shaft.turbine.inlet_pa / shaft.turbine.outlet_pa;
        // The gas's work over the air's heat capacity rate (Isermann, Combustion Engine Diagnosis, section 5.4).
        let rise = gas.power_w(expansion, own.turbine.efficiency)
            * own.shaft_efficiency
            * point.blower.efficiency
            * (point.blower.outlet_k / 293.15 - 1.0)
            / point.blower.gas_w;
        let steady = (1.0 + rise).powf(1.4 / 0.4);
        // The settled shaft still moves by less than a hundredth of its speed in a second, which is some watts of kilowatts.
        assert!(
            (steady / point.blower.pressure_ratio - 1.0).abs() < 3e-3,
            "{rpm}: {steady} {}",
            point.blower.pressure_ratio
        );
    }
}

/// A car that stalls between two readings says so: nothing here may count a short pull as whole.
#[test]
fn a_pull_that_ends_early_says_where() {
    let mut setup = four();
    // Drag that grows with speed until it meets the tyre force somewhere on the way.
    setup.drums.drag_n_s2_m2 = 4.0;
    let conditions = Conditions::rested(setup.car.engine.redline_rpm);
    for (name, bare) in [("turbo", false), ("bare", true)] {
        if bare {
            setup.car.blower = Blower::None;
        }
        for pieces in [12, 27, 40] {
            let pull = setup
                .pull(&day(97e3), &conditions, pieces + 1)
                .expect("a start");
            let stalled = pull
                .stalled_rpm
                .unwrap_or_else(|| panic!("{name} {pieces}: whole"));
            let last = pull.points.last().expect("a point").rpm;
            assert!(stalled >= last && stalled < setup.car.engine.redline_rpm);
        }
    }
}

#[test]
fn on_heavy_drums_the_gate_still_holds_the_boost() {
    let mut setup = four();
    // Some five minutes of pull: the shaft settles thousands of times over.
    setup.drums.inertia_kg_m2 = 5000.0;
    let pull = pull(&setup, 97e3);
    assert!(pull.points.last().expect("a point").time_s > 200.0);
    for p in &pull.points {
        let shaft = p.engine.shaft.expect("a shaft");
        let outlet = p.engine.blower.pressure_ratio * p.engine.inlet_pa;
        // The control follows what is asked with a tenth of a second's delay; a hundredth of the pressure is far more than that.
        assert!(outlet < 1.01 * shaft.target_pa, "{}: {outlet}", p.rpm);
    }
}

#[test]
fn a_boost_the_fuel_does_not_bear_is_taken_out_and_said() {
    let peak = |asked_pa: f64| {
        let mut setup = four();
        turbo(&mut setup.car).control.asked = vec![(0.0, asked_pa)];
        let pull = pull(&setup, 97e3);
        let held = pull.limits.contains(Limit::BoostHeldBack);
        (pull.peak_power().expect("points").power_w, held)
    };
    let (mild, held) = peak(50e3);
    assert!(!held);
    let (more, _) = peak(140e3);
    assert!(more > mild);
    // Asked for half as much again, the control gives up what the spark could not follow: power stays where it was, within a
    // tenth, and the pull says why.
    let (most, held) = peak(210e3);
    assert!(held && (0.9..1.1).contains(&(most / more)), "{most} {more}");
}

#[test]
fn a_settled_control_has_heard_of_the_burn_there_is() {
    let mut setup = four();
    turbo(&mut setup.car).control.asked = vec![(0.0, 170e3)];
    let point = OnADay::new(&setup.car, day(97e3)).at(5000.0, Slow::settled(300.0), None);
    let shaft = point.shaft.expect("a shaft");
    assert!(shaft.held_back_pa > 0.0 && point.limits.contains(Limit::BoostHeldBack));
    let due =
        pullcast::boost::BoostControl::held_back_pa(shaft.target_pa, 97e3, point.cylinder.ca50_deg);
    // It is heard to 0.02 deg, which is 80 Pa.
    assert!(
        (due - shaft.held_back_pa).abs() < 100.0,
        "{due} {}",
        shaft.held_back_pa
    );
}

#[test]
fn a_blower_of_another_kind_in_the_place_of_a_turbocharger_is_told() {
    let setup = four();
    let told = |changes: &str| {
        let text = format!("kind = \"plan\"\nversion = 1\nname = \"swap\"\n{changes}");
        let file = files::TomlFile::parse("plan.toml", &text).unwrap_or_else(|p| panic!("{p}"));
        let plan = files::plan::read(&file, Path::new("")).unwrap_or_else(|p| panic!("{p}"));
        let plan = plan.0.plan.map(|_, _, prior| prior.centre());
        let after = plan.apply(&setup.car).expect("a car");
        let list = not_included(&plan, &setup.car, &after);
        let of = |what: NotIncluded| list.iter().filter(|&&line| line == what).count();
        (
            of(NotIncluded::TurbochargerReplaced),
            of(NotIncluded::BlowerReplaced),
        )
    };
    let screw = "[[change]]\nkind = \"displacement blower\"\nrotors = \"screw\"\ndisplacement = \"1.2 L/rev\"\ndrive_ratio = 2.0\n";
    let off = "[[change]]\nkind = \"remove blower\"\n";
    let boost = "[[change]]\nkind = \"boost\"\nboost_factor = 1.1\n";
    let turbo = "[[change]]\nkind = \"turbocharger\"\nboost = \"60 kPa gauge\"\n[change.rated_point]\nwheel_diameter = \"50 mm\"\n\
        reference_pressure = \"100 kPa\"\nreference_temperature = \"25 °C\"\npressure_ratio = 1.8\nflow = \"140 g/s\"\n\
        efficiency = 0.73\nspeed = \"120000 rpm\"\n";
    assert_eq!(told(screw), (1, 0));
    assert_eq!(told(&format!("{screw}{turbo}")), (1, 1));
    // Taken off by the plan itself, another of the same kind, and another boost need no word.
    assert_eq!(told(&format!("{off}{screw}")), (0, 0));
    assert_eq!(told(turbo), (0, 0));
    assert_eq!(told(boost), (0, 0));
}
