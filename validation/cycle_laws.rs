//! Laws that the answers of the crank-angle layer obey, for the reference engine of `cycle.rs` and for any engine admitted.

use super::cycle::{fixed, reference, run};
use proptest::prelude::*;
use pullcast::cycle::valve::{EXHAUST_FLOW, FlowCoefficient, INLET_FLOW, Valve};
use pullcast::cycle::{
    CycleInput, CyclePoint, CylinderCycle, Ratios, Spark, over_speed, ratios_over_speed,
};
use pullcast::engine::CylinderGeometry;
use pullcast::engine::heat_transfer::{WallCorrelation, Walls};
use pullcast::engine::wiebe::BurnScaling;
use pullcast::fuel::Fuel;

/// The knock integral at one phasing: up with pressure and temperature, down with octane and with speed.
#[test]
fn knock_follows_pressure_temperature_octane_and_time() {
    let at = |inlet_pa: f64, inlet_k: f64, octane: f64, rpm: f64| {
        run(&CycleInput {
            inlet_pa,
            inlet_k,
            octane,
            spark: fixed(12.0),
            ..reference(rpm)
        })
        .knock_integral
    };
    let base = at(100e3, 310.0, 95.0, 3000.0);
    assert!(at(105e3, 310.0, 95.0, 3000.0) > 1.02 * base);
    assert!(at(100e3, 315.0, 95.0, 3000.0) > 1.005 * base);
    // Octane enters as a power of −5 and nothing else moves.
    let octane = at(100e3, 310.0, 98.0, 3000.0) / base;
    assert!((octane / (98.0_f64 / 95.0).powi(-5) - 1.0).abs() < 1e-9);
    assert!(at(100e3, 310.0, 95.0, 3300.0) < 0.98 * base);
}

/// From best torque on, a later burn always costs work; an earlier one too. The exhaust gets hotter all the way.
#[test]
fn retard_never_raises_torque_past_the_best() {
    for rpm in [2000.0, 5000.0] {
        // Octane out of reach of knock.
        let safe = CycleInput {
            octane: 140.0,
            ..reference(rpm)
        };
        let best = run(&safe);
        assert!(!best.knock_limited && (2.0..11.0).contains(&best.ca50_deg));
        let at = |late: f64| {
            run(&CycleInput {
                spark: fixed(best.ca50_deg + late),
                ..safe
            })
        };
        for late in [-6.0, -3.0] {
            assert!(at(late).gross_pa < best.gross_pa);
        }
        let mut before = best;
        for late in [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 45.0] {
            let here = at(late);
            assert!(here.gross_pa < before.gross_pa, "{rpm} {late}");
            assert!(here.exhaust_k > before.exhaust_k, "{rpm} {late}");
            before = here;
        }
    }
}

/// Knock sets a later burn than best torque where the integral there exceeds 1, and then it is 1; holding back acts beyond that.
#[test]
fn the_search_ends_on_best_torque_or_on_knock() {
    let knocking = run(&reference(2000.0));
    assert!(knocking.knock_limited && knocking.ca50_deg > knocking.best_ca50_deg + 1.0);
    assert!((knocking.knock_integral - 1.0).abs() < 1e-5);
    let free = run(&reference(6000.0));
    assert!(!free.knock_limited && free.knock_integral < 1.0);
    assert_eq!(free.ca50_deg, free.best_ca50_deg);
    let held = run(&CycleInput {
        spark: Spark::Search { retard_deg: 4.0 },
        ..reference(2000.0)
    });
    assert!((held.ca50_deg - knocking.ca50_deg - 4.0).abs() < 0.2 && held.knock_integral < 1.0);
}

/// At fixed phasing, more compression: more work per air, cooler exhaust, more of the heat to the walls, less residual. Gain from 10 to
/// 12: 3 to 6 % (the ideal cycle's 5.8 % is its ceiling).
#[test]
fn compression_raises_efficiency() {
    let at = |ratio: f64| {
        let mut input = CycleInput {
            spark: fixed(8.0),
            ..reference(4000.0)
        };
        input.geometry.compression_ratio = ratio;
        run(&input)
    };
    let per_air = |p: &CyclePoint| p.gross_pa * p.swept_m3 / p.trapped_air_kg;
    let points = [8.0, 10.0, 12.0, 14.0].map(at);
    for pair in points.windows(2) {
        assert!(per_air(&pair[1]) > per_air(&pair[0]));
        assert!(pair[1].exhaust_k < pair[0].exhaust_k);
        assert!(pair[1].wall_share > pair[0].wall_share);
        assert!(pair[1].residual_fraction < pair[0].residual_fraction);
    }
    let gain = per_air(&points[2]) / per_air(&points[1]) - 1.0;
    assert!((0.03..0.058).contains(&gain), "{gain}");
}

/// Without overlap and walls the residual is the gas that fills the cylinder when the exhaust valve shuts, at the exhaust's pressure and
/// mean temperature, times 1.38 at r = 8 to 1.49 at 14 (measured): the gas left is cooler than the mean, and the last degrees of a cam
/// let nothing out.
#[test]
fn without_overlap_the_residual_fills_what_the_piston_leaves() {
    for ratio in [8.0, 10.0, 14.0] {
        let inlet = Valve {
            duration_deg: 180.0,
            centre_line_deg: 100.0,
            ..reference(1500.0).inlet
        };
        let mut input = CycleInput {
            inlet,
            exhaust: Valve {
                diameter_m: 0.031,
                flow: EXHAUST_FLOW,
                ..inlet
            },
            exhaust_pa: 98e3,
            walls: None,
            spark: fixed(8.0),
            ..reference(1500.0)
        };
        input.geometry.compression_ratio = ratio;
        let cycle = CylinderCycle::new(input).expect("admitted");
        let point = cycle.run();
        let burned_r = cycle.gas().burned.gas_constant_j_kg_k;
        let left_kg =
            98e3 * input.geometry.volume_m3(350_f64.to_radians()) / (burned_r * point.exhaust_k);
        let charge_kg =
            point.trapped_air_kg / cycle.gas().dry_air_share / (1.0 - point.residual_fraction);
        let over = point.residual_fraction * charge_kg / left_kg;
        assert!((1.2..1.6).contains(&over), "{ratio}: {over}");
    }
}

/// The share of the heat that walls take falls with speed, and slowly with pressure; walls at gas temperature and walls that do not
/// conduct take none.
#[test]
fn walls_take_less_of_more() {
    let share = |rpm: f64, inlet_pa: f64| {
        run(&CycleInput {
            inlet_pa,
            exhaust_pa: 1.1 * inlet_pa,
            spark: fixed(10.0),
            ..reference(rpm)
        })
        .wall_share
    };
    assert!(share(1500.0, 98e3) > share(3000.0, 98e3) && share(3000.0, 98e3) > share(6000.0, 98e3));
    let boosted = share(3000.0, 196e3) / share(3000.0, 98e3);
    assert!((0.7..1.0).contains(&boosted), "{boosted}");
    let none = |walls: Option<Walls>| {
        run(&CycleInput {
            walls,
            spark: fixed(10.0),
            ..reference(3000.0)
        })
    };
    let still = none(Some(Walls {
        multiplier: 0.0,
        ..Walls::default()
    }));
    assert_eq!(still, none(None));
    assert_eq!(still.wall_share, 0.0);
}

/// Equal engines give exactly 1, on any number of threads; and a point does not depend on its neighbours.
#[test]
fn equal_engines_have_ratios_of_exactly_one() {
    let cycles: Vec<CylinderCycle> = [1500.0, 3000.0, 3000.0, 6000.0]
        .map(|rpm| CylinderCycle::new(reference(rpm)).expect("admitted"))
        .into();
    let together = over_speed(&cycles);
    for (cycle, point) in cycles.iter().zip(&together) {
        assert_eq!(cycle.run(), *point);
    }
    let pairs: Vec<_> = cycles
        .iter()
        .map(|cycle| (cycle.clone(), cycle.clone()))
        .collect();
    for ratios in ratios_over_speed(&pairs) {
        assert!(ratios.sound);
        let Ratios {
            trapped_air,
            gross_work,
            net_work,
            work_per_air,
            exhaust_temperature,
            peak_pressure,
            ..
        } = ratios;
        for ratio in [
            trapped_air,
            gross_work,
            net_work,
            work_per_air,
            exhaust_temperature,
            peak_pressure,
        ] {
            assert_eq!(ratio, 1.0);
        }
        assert_eq!(ratios.ca50_shift_deg, 0.0);
        assert_eq!(ratios.pumping_shift_pa, 0.0);
    }
}

/// Twenty degrees more on both cams cost air at low speed and hardly any at high speed, measured −9.6 % at 1500 rpm and −0.2 % at
/// 7500; that there is no gain is this layer's known lack of ram (see `docs/decisions.md`). A head that flows 10 % more gains most
/// where the valves are fastest and never loses air.
#[test]
fn cams_and_heads_act_where_they_should() {
    let at = |rpm: f64, longer_deg: f64, better: f64| {
        let old = reference(rpm);
        let mut new = old;
        for valve in [&mut new.inlet, &mut new.exhaust] {
            valve.duration_deg += longer_deg;
            valve.flow.low *= better;
            valve.flow.full *= better;
        }
        let made = |input| CylinderCycle::new(input).expect("admitted");
        ratios_over_speed(&[(made(old), made(new))])[0]
    };
    let (slow, fast) = (at(1500.0, 20.0, 1.0), at(7500.0, 20.0, 1.0));
    assert!((0.895..0.915).contains(&slow.trapped_air), "{slow:?}");
    assert!((0.99..1.005).contains(&fast.trapped_air), "{fast:?}");
    let head = [2000.0, 4500.0, 7500.0].map(|rpm| at(rpm, 0.0, 1.1).trapped_air);
    assert!(head[2] > head[1] && head[2] > 1.01, "{head:?}");
    assert!(head.iter().all(|ratio| *ratio > 0.99), "{head:?}");
}

/// What is not admitted is named.
#[test]
fn a_number_out_of_range_is_refused_by_name() {
    for (input, name) in [
        (
            CycleInput {
                rpm: f64::NAN,
                ..reference(3000.0)
            },
            "engine speed, rpm",
        ),
        (
            CycleInput {
                lambda: 0.5,
                ..reference(3000.0)
            },
            "lambda",
        ),
        (
            CycleInput {
                inlet_pa: -1.0,
                ..reference(3000.0)
            },
            "inlet pressure, Pa",
        ),
        (
            CycleInput {
                spark: fixed(200.0),
                ..reference(3000.0)
            },
            "CA50, deg",
        ),
    ] {
        let error = CylinderCycle::new(input).map(|_| ()).expect_err("refused");
        assert_eq!(error.name, name);
        assert!(error.to_string().starts_with(name), "{error}");
    }
}

/// Corners of everything that is admitted, taken together.
fn any_input() -> impl Strategy<Value = CycleInput> {
    let engine = (
        0.05_f64..0.15,
        0.6_f64..1.6,
        0.9_f64..2.5,
        5.0_f64..20.0,
        400.0_f64..18_000.0,
    );
    let charge = (
        0_usize..4,
        0.6_f64..1.4,
        20e3_f64..500e3,
        230.0_f64..450.0,
        0.3_f64..3.5,
    );
    let cams = (
        170.0_f64..330.0,
        170.0_f64..330.0,
        88.0_f64..132.0,
        88.0_f64..132.0,
        0.05_f64..0.4,
        0.2_f64..0.55,
    );
    let burn = (
        20.0_f64..100.0,
        0.2_f64..1.0,
        0.0_f64..2.5,
        60.0_f64..130.0,
        0_usize..4,
        0_usize..3,
    );
    (engine, charge, cams, burn).prop_map(|(engine, charge, cams, burn)| {
        let (bore_m, stroke, rod, compression_ratio, rpm) = engine;
        let (fuel, lambda, inlet_pa, inlet_k, back) = charge;
        let (in_deg, out_deg, in_centre, out_centre, lift, size) = cams;
        let (base_duration_deg, burning_share, multiplier, octane, spark, walls) = burn;
        let valve = |duration_deg: f64,
                     centre_line_deg: f64,
                     diameter_m: f64,
                     flow: FlowCoefficient| Valve {
            diameter_m,
            count: 1 + u32::from(size < 0.4),
            lift_m: lift * diameter_m,
            duration_deg,
            centre_line_deg,
            flow,
        };
        let correlation = [WallCorrelation::Woschni, WallCorrelation::Hohenberg][walls % 2];
        CycleInput {
            geometry: CylinderGeometry {
                bore_m,
                stroke_m: stroke * bore_m,
                rod_m: rod * stroke * bore_m,
                compression_ratio,
            },
            rpm,
            fuel: [
                Fuel::petrol(95.0, None),
                Fuel::iso_octane(),
                Fuel::ethanol(),
                Fuel::methanol(),
            ][fuel],
            lambda,
            humidity_ratio: 0.01 * lift,
            inlet_pa,
            inlet_k,
            exhaust_pa: back * inlet_pa,
            inlet: valve(in_deg, in_centre, size * bore_m, INLET_FLOW),
            exhaust: valve(out_deg, out_centre, 0.85 * size * bore_m, EXHAUST_FLOW),
            burn: BurnScaling {
                base_duration_deg,
                ..BurnScaling::default()
            },
            burning_share,
            walls: (walls > 0).then_some(Walls {
                correlation,
                multiplier,
                ..Walls::default()
            }),
            octane,
            delay_multiplier: 1.0,
            spark: [
                Spark::Search { retard_deg: 0.0 },
                Spark::Search { retard_deg: 20.0 },
                fixed(3.0 * base_duration_deg / 4.0),
                Spark::Motored,
            ][spark],
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    /// Whatever is admitted, every number is finite, the charge is a charge, and where the cycle repeats itself it balances.
    #[test]
    fn any_admitted_engine_has_an_answer(input in any_input()) {
        let point = CylinderCycle::new(input).expect("inside the ranges").run();
        let numbers = [
            point.trapped_air_kg, point.volumetric_efficiency, point.lost_share, point.residual_fraction, point.back_flow_share,
            point.closing_pa, point.closing_k, point.burn_duration_deg, point.ca50_deg, point.best_ca50_deg, point.knock_integral,
            point.end_gas_k, point.gross_pa, point.net_pa, point.peak_pa, point.peak_deg, point.peak_burned_k, point.wall_share,
            point.opening_pa, point.opening_k, point.exhaust_k, point.mass_error, point.energy_error,
        ];
        prop_assert!(numbers.iter().all(|x| x.is_finite()), "{point:?}");
        prop_assert!(point.trapped_air_kg > 0.0 && (0.0..1.0).contains(&point.residual_fraction));
        prop_assert!(point.peak_pa >= 0.99 * point.closing_pa, "{point:?}");
        prop_assert!(point.exhaust_k > 100.0, "{point:?}");
        // Where the cylinder fills like an engine's and fires. Starved engines are mostly their own residual, which may swing for
        // ever; a motored one without walls warms up for hundreds of cycles; and where knock would let half of the charge burn no
        // sooner than 45 deg late, no engine runs: a degree there changes the next charge, and that the knock, by ten times as much.
        let held = if let Spark::Search { retard_deg } = input.spark { retard_deg } else { 0.0 };
        let runs = input.spark != Spark::Motored && !(point.knock_limited && point.ca50_deg - held > 45.0);
        if runs && point.volumetric_efficiency > 0.7 && input.exhaust_pa < 2.0 * input.inlet_pa {
            prop_assert!(point.settled, "{point:?}");
            prop_assert!(point.mass_error.abs() < 1e-5, "{point:?}");
            // Wider than the 1e-5 of the grid in `cycle.rs`: as little as a fifth of the charge burns here, in as little as 15 deg.
            prop_assert!(point.energy_error.abs() < 1e-4, "{point:?}");
        }
    }
}

#[test]
fn a_burn_told_from_best_torque_is_one_searched_where_nothing_knocks() {
    let reference = reference(3000.0);
    let later = run(&CycleInput {
        spark: Spark::AfterBest { later_deg: 6.0 },
        ..reference
    });
    let searched = run(&CycleInput {
        spark: Spark::Search { retard_deg: 6.0 },
        octane: 150.0,
        ..reference
    });
    assert!(!searched.knock_limited && later.settled);
    assert_eq!(later.ca50_deg, later.best_ca50_deg + 6.0);
    assert_eq!(later.gross_pa, searched.gross_pa);
}
