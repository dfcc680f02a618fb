//! Laws of the parts a plan changes: an equal part changes nothing, order does not matter where physics says so, energy closes.

use proptest::prelude::*;
use pullcast::belief::prior::Prior;
use pullcast::car::{Car, Nitrous, OnADay, SprayRate, WaterMethanol};
use pullcast::dyno::{Conditions, Coupling, Drums, Setup};
use pullcast::fuel::Fuel;
use pullcast::parts::{
    AddedAxle, AxleCalibration, AxleFacts, BoreStroke, Camshaft, Change, CompressionRatio,
    CylinderHead, Exhaust, FuelChoice, Headers, Intake, Mixture, NitrousKit, Octane, Place, Plan,
    Redline, Retune, Spark, Sprayed, TankMix, Throttle, Timing, WaterMethanolKit,
};

use crate::laws::{RESTED, blown_coupe, coupe, drums, mild};

fn planned(car: &Car, changes: Vec<Change<f64>>) -> Car {
    Plan {
        name: String::new(),
        changes,
    }
    .apply(car)
    .expect("a plan for this car")
}

/// Power over a pull, W.
fn reading(car: &Car) -> Vec<f64> {
    let setup = Setup {
        car: car.clone(),
        drums: drums(),
    };
    let conditions = Conditions::rested(car.engine.redline_rpm);
    let pull = setup.pull(&mild(), &conditions, 8).expect("a pull");
    pull.points.iter().map(|p| p.power_w).collect()
}

fn cam(longer_deg: f64, lift_to_m: f64) -> Change<f64> {
    Change::from(Camshaft {
        longer_deg,
        later_deg: 0.5 * longer_deg,
        overlap_deg: longer_deg,
        lift_m: Some((0.0095, lift_to_m)),
    })
}

fn spray(rate: f64) -> Change<f64> {
    Change::from(WaterMethanolKit {
        rate: Sprayed::OfFuel(rate),
        methanol_mass_fraction: 0.44,
        evaporated_share: 0.5,
    })
}

fn bottle(flow_kg_s: f64) -> Change<f64> {
    Change::from(NitrousKit {
        flow_kg_s,
        bottle_k: 298.15,
        evaporated_share: 0.9,
        from_rpm: 2500.0,
    })
}

/// A part as good as the one that is there, of every kind.
fn equal_parts(car: &Car) -> Vec<Change<f64>> {
    let cylinder = car.engine.geometry.cylinder;
    let fuel = car.fuel;
    let (research_octane, motor_octane) = (car.fuel.research_octane, car.fuel.motor_octane);
    vec![
        Change::from(Throttle {
            bore_from_m: 0.065,
            bore_to_m: 0.065,
            discharge: 0.9,
        }),
        Change::from(Headers {
            area_factor: 1.0,
            share: 0.37,
            scavenging_pa: 0.0,
        }),
        cam(0.0, 0.0095),
        Change::from(CylinderHead {
            flow_factor: 1.0,
            valve_diameter_m: Some(car.engine.valves.diameter_m),
        }),
        Change::from(BoreStroke {
            bore_m: Some(cylinder.bore_m),
            stroke_m: Some(cylinder.stroke_m),
            rod_m: Some(cylinder.rod_m),
            compression_ratio: Some(cylinder.compression_ratio),
        }),
        Change::from(TankMix {
            left_m3: 0.02,
            added_m3: 0.03,
            fuel: FuelChoice {
                fuel,
                research_octane,
                motor_octane,
            },
        }),
        Change::from(Octane {
            research_octane,
            motor_octane: None,
        }),
        Change::from(Spark {
            timing: Timing::Held(0.0),
        }),
        spray(0.0),
        bottle(0.0),
    ]
}

#[test]
fn an_equal_part_leaves_the_pull_as_it_was_to_the_last_bit() {
    for car in [coupe(), blown_coupe()] {
        let before = reading(&car);
        for change in equal_parts(&car) {
            let after = reading(&planned(&car, vec![change.clone()]));
            assert_eq!(after, before, "{change:?}");
        }
    }
}

/// Work on different parts.
fn independent() -> Vec<Change<f64>> {
    vec![
        Change::from(Throttle {
            bore_from_m: 0.062,
            bore_to_m: 0.068,
            discharge: 0.88,
        }),
        Change::from(Intake {
            area_factor: 1.3,
            place: None,
            share: 0.5,
        }),
        Change::from(Headers {
            area_factor: 1.3,
            share: 0.35,
            scavenging_pa: 8e3,
        }),
        Change::from(Exhaust {
            back_pressure_factor: 0.7,
        }),
        cam(14.0, 0.0105),
        Change::from(CylinderHead {
            flow_factor: 1.1,
            valve_diameter_m: Some(0.0335),
        }),
        Change::from(BoreStroke {
            bore_m: Some(0.087),
            stroke_m: Some(0.090),
            rod_m: None,
            compression_ratio: None,
        }),
        Change::from(CompressionRatio { ratio: 10.9 }),
        Change::from(Mixture { lambda: 0.86 }),
        Change::from(Spark {
            timing: Timing::Held(1.0),
        }),
        Change::from(FuelChoice {
            fuel: Fuel::petrol(98.0, None),
            research_octane: 98.0,
            motor_octane: 88.0,
        }),
        spray(0.15),
        bottle(0.02),
        Change::from(Redline { rpm: 7300.0 }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn parts_of_different_kinds_may_be_listed_in_any_order(
        changes in Just(independent()).prop_shuffle(),
    ) {
        let there = reading(&planned(&coupe(), independent()));
        let here = reading(&planned(&coupe(), changes));
        for (a, b) in here.iter().zip(&there) {
            prop_assert!((a / b - 1.0).abs() < 1e-9, "{} {}", a, b);
        }
    }

    /// Spray and bottle of any size on any of three cars, at any speed and weather: an answer, and a closed balance.
    #[test]
    fn energy_closes_with_water_methanol_and_nitrous_oxide(
        kind in 0_usize..4,
        rate in 0.0_f64..1.0,
        methanol in 0.0_f64..=1.0,
        evaporated in 0.0_f64..=1.0,
        nitrous in 0.0_f64..0.25,
        speed in 0.1_f64..1.2,
        celsius in -15.0_f64..45.0,
        humidity in 0.0_f64..1.0,
        ethanol in 0.0_f64..=1.0,
    ) {
        let mut car = if kind % 2 == 0 { coupe() } else { blown_coupe() };
        // The knock table stays that of petrol: what it says does not touch the balance.
        car.fuel = Fuel::petrol_with_ethanol(car.fuel, ethanol);
        car.water_methanol = Some(WaterMethanol {
            rate: if kind < 2 { SprayRate::OfFuel(rate) } else { SprayRate::Constant(0.05 * rate) },
            methanol_mass_fraction: methanol,
            evaporated_share: evaporated,
        });
        car.nitrous = Some(Nitrous { flow_kg_s: nitrous, from_rpm: 1500.0, evaporated_share: 1.0 - 0.5 * evaporated });
        car.engine.closing_later_deg = 20.0 * rate - 5.0;
        car.exhaust.scavenging_pa = 30e3 * methanol;
        let air = crate::laws::day(97e3, celsius, humidity);
        let point = OnADay::new(&car, air).at(speed * car.engine.redline_rpm, RESTED, None);
        prop_assert!(crate::laws::all_finite(&point), "{point:?}");
        prop_assert!(point.air_kg_s > 0.0 && point.manifold_pa > 0.0 && point.cylinder.fuel_kg_s >= 0.0);
        // Rounding of a sum of a dozen powers; 1e-6 is what the balance must hold.
        prop_assert!(point.ledger.imbalance().abs() < 1e-6, "{}", point.ledger.imbalance());
    }
}

/// More water and nitrous oxide than any charge could evaporate.
#[test]
fn a_flooded_engine_closes_its_valves_on_a_charge_that_can_be() {
    let mut car = blown_coupe();
    car.fuel = Fuel::petrol_with_ethanol(car.fuel, 0.84);
    car.water_methanol = Some(WaterMethanol {
        rate: SprayRate::OfFuel(0.5),
        methanol_mass_fraction: 0.0,
        evaporated_share: 0.0,
    });
    car.nitrous = Some(Nitrous {
        flow_kg_s: 0.16,
        from_rpm: 1000.0,
        evaporated_share: 0.5,
    });
    let air = crate::laws::day(97e3, 0.0, 0.0);
    let point = OnADay::new(&car, air).at(1643.0, RESTED, None);
    assert!(point.added.late_cooling_k > 250.0, "{point:?}");
    assert!(point.cylinder.closing_k >= 200.0, "{point:?}");
    assert!(crate::laws::all_finite(&point), "{point:?}");
}

#[test]
fn more_nitrous_oxide_is_more_torque_and_hardly_earlier_a_burn() {
    let at = |flow| {
        let car = planned(&coupe(), vec![bottle(flow)]);
        let point = OnADay::new(&car, mild()).at(5000.0, RESTED, None);
        (point.torque_nm, point.cylinder.ca50_deg)
    };
    let mut before = at(0.0);
    for step in 1..=6 {
        let here = at(0.008 * f64::from(step));
        assert!(
            // What its evaporation cools outweighs the pressure it adds by less than a fifth of a degree a step.
            here.0 > before.0 && here.1 > before.1 - 0.2,
            "{here:?} after {before:?}"
        );
        before = here;
    }
}

#[test]
fn a_spray_cools_the_charge_and_frees_the_spark_of_a_blown_engine() {
    let at = |rate| {
        let car = planned(&blown_coupe(), vec![spray(rate)]);
        OnADay::new(&car, mild()).at(4500.0, RESTED, None)
    };
    let (dry, wet) = (at(0.0), at(0.2));
    assert!(
        wet.charge_k < dry.charge_k - 5.0,
        "{} {}",
        wet.charge_k,
        dry.charge_k
    );
    assert!(wet.cylinder.ca50_deg < dry.cylinder.ca50_deg - 1.0);
    assert!(wet.torque_nm > dry.torque_nm);
    // The methanol replaces fuel of the tank, so the mixture stands.
    assert!(wet.cylinder.fuel_kg_s < dry.cylinder.fuel_kg_s);
    assert_eq!(wet.cylinder.lambda, dry.cylinder.lambda);
}

#[test]
fn damp_air_stops_a_spray_that_dry_air_would_take() {
    let mut car = coupe();
    car.water_methanol = Some(WaterMethanol {
        rate: SprayRate::OfFuel(0.4),
        methanol_mass_fraction: 0.0,
        evaporated_share: 1.0,
    });
    let at = |humidity| {
        let air = crate::laws::day(100e3, 20.0, humidity);
        OnADay::new(&car, air).at(5000.0, RESTED, None).added
    };
    let (dry, damp) = (at(0.1), at(0.95));
    assert!(
        damp.saturated && damp.cooling_k < 0.3 * dry.cooling_k,
        "{damp:?} {dry:?}"
    );
    assert!(damp.late_cooling_k > dry.late_cooling_k);
}

#[test]
fn fuels_poured_together_stand_between_the_two() {
    let car = coupe();
    let e85 = Fuel::petrol_with_ethanol(Fuel::petrol(95.0, None), 0.85);
    let mix = |left_m3, added_m3| {
        let change = TankMix {
            left_m3,
            added_m3,
            fuel: FuelChoice {
                fuel: e85,
                research_octane: e85.research_octane,
                motor_octane: e85.motor_octane,
            },
        };
        planned(&car, vec![Change::from(change)]).fuel
    };
    let half = mix(0.025, 0.025);
    // By volume 42.5 % ethanol, as if petrol had been given that much at once.
    let at_once = Fuel::petrol_with_ethanol(car.fuel, 0.425);
    // Volumes add in the blending rule, so only rounding is left.
    assert!((half.ethanol_mass_fraction / at_once.ethanol_mass_fraction - 1.0).abs() < 1e-9);
    assert!((half.lower_heating_value_j_kg / at_once.lower_heating_value_j_kg - 1.0).abs() < 1e-9);
    assert!(
        half.research_octane > car.fuel.research_octane
            && half.research_octane < e85.research_octane
    );
    assert_eq!(
        mix(0.0, 0.03).ethanol_mass_fraction,
        e85.ethanol_mass_fraction
    );
}

#[test]
fn no_defect_is_no_change_and_more_of_one_never_gains() {
    use pullcast::car::Onset;
    let sound = OnADay::new(&blown_coupe(), mild()).at(5000.0, RESTED, None);
    let with = |spoil: &dyn Fn(&mut pullcast::car::Defects)| {
        let mut car = blown_coupe();
        spoil(&mut car.defects);
        OnADay::new(&car, mild()).at(5000.0, RESTED, None)
    };
    let onset = |size| Onset {
        size,
        from_rpm: 3000.0,
        over_rpm: 1000.0,
    };
    assert_eq!(with(&|_| ()).torque_nm, sound.torque_nm);
    for kind in 0..4 {
        let at = |step: f64| {
            with(&|d| match kind {
                0 => d.leak_m2 = 60e-6 * step,
                1 => d.inlet_rise_k = 8.0 * step,
                2 => d.lost_drive = onset(0.05 * step),
                _ => d.late_burn = onset(3.0 * step),
            })
        };
        let points = [0.0, 1.0, 2.0, 3.0].map(at);
        assert_eq!(points[0].torque_nm, sound.torque_nm, "{kind}");
        for pair in points.windows(2) {
            assert!(pair[1].torque_nm < pair[0].torque_nm, "{kind}");
        }
        // A hole and a slipping belt let boost fall.
        if kind == 0 || kind == 2 {
            assert!(points[3].manifold_pa < sound.manifold_pa - 1e3, "{kind}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn the_balance_closes_with_any_defect(
        leak in 0.0_f64..400e-6, rise in 0.0_f64..40.0, lost in 0.0_f64..0.3, late in 0.0_f64..25.0, speed in 0.35_f64..1.0,
    ) {
        use pullcast::car::Onset;
        let mut car = blown_coupe();
        let onset = |size| Onset { size, from_rpm: 2500.0, over_rpm: 1500.0 };
        car.defects.leak_m2 = leak;
        car.defects.inlet_rise_k = rise;
        car.defects.lost_drive = onset(lost);
        car.defects.late_burn = onset(late);
        let point = OnADay::new(&car, mild()).at(speed * car.engine.redline_rpm, RESTED, None);
        prop_assert!(crate::laws::all_finite(&point), "{point:?}");
        prop_assert!(point.ledger.imbalance().abs() < 1e-6, "{}", point.ledger.imbalance());
    }
}

/// A blower draws on what lies ahead of it: the same loss behind it leaves it denser air, and the belt pays for the pressure.
#[test]
fn a_loss_behind_the_blower_costs_less_air_than_one_ahead_of_it() {
    let at = |car: &Car, share_behind: f64| {
        let mut car = car.clone();
        car.intake.loss_pa = 8e3;
        car.intake.share_behind = share_behind;
        let point = OnADay::new(&car, mild()).at(0.9 * car.engine.redline_rpm, RESTED, None);
        assert!(point.ledger.imbalance().abs() < 1e-6, "{share_behind}");
        point
    };
    let points = [0.0, 0.25, 0.5, 0.75, 1.0].map(|share| at(&blown_coupe(), share));
    for pair in points.windows(2) {
        assert!(pair[1].inlet_pa > pair[0].inlet_pa);
        assert!(pair[1].air_kg_s > pair[0].air_kg_s);
    }
    assert_eq!(points[4].inlet_pa, mild().station().pa());
    // Without a blower the two stand in one row: what is left is the lower density behind the first, a second-order effect of a loss
    // of 8 %.
    let (ahead, behind) = (at(&coupe(), 0.0), at(&coupe(), 1.0));
    assert!((behind.air_kg_s / ahead.air_kg_s - 1.0).abs() < 5e-3);
}

#[test]
fn parts_of_the_intake_lower_the_loss_where_they_stand() {
    let mut car = blown_coupe();
    car.intake.share_behind = 0.4;
    let duct = |place, area_factor| {
        Change::from(Intake {
            area_factor,
            place,
            share: 1.0,
        })
    };
    for place in [None, Some(Place::Ahead), Some(Place::Behind)] {
        let same = planned(&car, vec![duct(place, 1.0)]).intake;
        assert_eq!(same, car.intake);
    }
    let parts = |car: &Car| {
        let (loss_pa, behind) = (car.intake.loss_pa, car.intake.share_behind);
        (loss_pa * (1.0 - behind), loss_pa * behind)
    };
    let (ahead_pa, behind_pa) = parts(&car);
    let (a, b) = parts(&planned(&car, vec![duct(Some(Place::Behind), 2.0)]));
    assert!((a / ahead_pa - 1.0).abs() < 1e-12 && (b / behind_pa - 0.25).abs() < 1e-12);
    let (a, b) = parts(&planned(&car, vec![duct(Some(Place::Ahead), 2.0)]));
    assert!((a / ahead_pa - 0.25).abs() < 1e-12 && (b / behind_pa - 1.0).abs() < 1e-12);
    car.intake.share_behind = 0.0;
    let plan = Plan {
        name: String::new(),
        changes: vec![duct(Some(Place::Behind), 2.0)],
    };
    assert!(plan.apply(&car).is_err(), "there is no loss to lower");
}

/// A tune takes back what the factory held back, and nothing else.
#[test]
fn a_tune_gains_the_factory_margin_and_nothing_where_there_is_none() {
    let tune = |margin_left| vec![Change::from(Retune { margin_left })];
    for car in [coupe(), blown_coupe()] {
        let without = reading(&car);
        assert_eq!(reading(&planned(&car, tune(0.15))), without);
        let mut held = car.clone();
        held.tune.margin_deg = 4.0;
        let peak = |car: &Car| reading(car).into_iter().fold(0.0, f64::max);
        // The top is flat: friction under peak pressure and walls put it half a degree behind the formula's best torque.
        let powers = [1.0, 0.75, 0.5, 0.3].map(|left| peak(&planned(&held, tune(left))));
        assert_eq!(powers[0], peak(&held));
        assert!(
            powers.windows(2).all(|pair| pair[1] > pair[0]),
            "{powers:?}"
        );
        // As doubted as a car file may state it, and taken back as a plan file leaves it to be.
        let believed = Prior::normal(4.0, 2.0, 0.0, 25.0).expect("a belief");
        for share in [0.05, 0.25, 0.5, 0.75, 0.95] {
            held.tune.margin_deg = believed.quantile(share);
            let gain = peak(&planned(&held, tune(0.15))) / peak(&held) - 1.0;
            assert!(
                gain > if share < 0.1 { -1e-3 } else { 1e-3 },
                "{share}: {gain}"
            );
        }
        assert_eq!(reading(&planned(&held, tune(0.0))), without);
    }
}

#[test]
fn a_spark_is_advanced_against_todays_as_far_as_the_limit() {
    let mut car = coupe();
    (car.tune.margin_deg, car.tune.retard_deg) = (3.0, 2.0);
    let late = |advance| {
        let timing = Timing::Advanced(advance);
        let tune = planned(&car, vec![Change::from(Spark { timing })]).tune;
        (tune.margin_deg, tune.retard_deg)
    };
    assert_eq!(late(0.0), (3.0, 2.0));
    assert_eq!(late(2.0), (1.0, 2.0));
    assert_eq!(late(4.0), (0.0, 1.0));
    assert_eq!(late(9.0), (0.0, 0.0));
    assert_eq!(late(-1.5), (3.0, 3.5));
    let mut point = |deg: f64| {
        car.tune.margin_deg = deg;
        OnADay::new(&car, mild()).at(4500.0, RESTED, None)
    };
    let points = [0.0, 2.0, 4.0, 8.0].map(&mut point);
    for pair in points.windows(2) {
        assert!(pair[1].torque_nm < pair[0].torque_nm);
        assert!(pair[1].cylinder.exhaust_k > pair[0].cylinder.exhaust_k);
        // Rounding of a sum of a dozen powers; 1e-6 is what the balance must hold.
        assert!(pair[1].ledger.imbalance().abs() < 1e-6);
    }
}

fn added_axle(assist: f64) -> Change<f64> {
    let (power_w, torque_nm) = (80e3, 220.0);
    Change::from(AddedAxle {
        facts: AxleFacts {
            battery_v: 350.0,
            battery_j: 43e6,
            battery_w: 92e3,
            top_speed_rad_s: 2200.0,
            cut_speed_rad_s: f64::INFINITY,
            cut_taper: 0.07,
            ramp_s: 0.0,
            tyre_radius_m: None,
            rated_power_w: power_w,
            rated_torque_nm: torque_nm,
        },
        peak_power_w: power_w,
        peak_torque_nm: torque_nm,
        reduction: 9.0,
        efficiency: 0.975,
        resistance_ohm: 0.1,
        assist,
        wheels_kg_m2: 4.0,
        load_n: 7500.0,
    })
}

/// On linked drums the reading gains no more than the motor's power less what its own parts take; on drums of one axle nothing.
#[test]
fn an_added_electric_axle_is_read_where_the_drums_carry_it() {
    let car = coupe();
    let peak_w = |car: &Car, coupling| {
        let setup = Setup {
            car: car.clone(),
            drums: Drums {
                coupling,
                ..drums()
            },
        };
        let conditions = Conditions::rested(car.engine.redline_rpm);
        let pull = setup.pull(&mild(), &conditions, 12).expect("a pull");
        pull.points.iter().map(|p| p.power_w).fold(0.0, f64::max)
    };
    let built = [0.0, 0.5, 1.0].map(|assist| planned(&car, vec![added_axle(assist)]));
    let alone = peak_w(&car, Coupling::Single);
    for car in &built {
        assert_eq!(peak_w(car, Coupling::Single), alone);
    }
    let linked = built.each_ref().map(|car| peak_w(car, Coupling::Linked));
    assert!(linked[0] < linked[1] && linked[1] < linked[2], "{linked:?}");
    assert!(linked[2] - linked[0] < 0.975 * 80e3, "{linked:?}");
    // It is there now: its calibration finds it, and a second one is refused.
    let calibrated = vec![
        Change::from(AxleCalibration {
            peak_power_w: None,
            share: 0.5,
        }),
        added_axle(1.0),
    ];
    assert_eq!(planned(&car, calibrated).electric, built[1].electric);
    let twice = Plan {
        name: String::new(),
        changes: vec![added_axle(1.0)],
    };
    assert!(twice.apply(&built[2]).is_err());
}
