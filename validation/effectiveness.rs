//! Charge cooling against the `ht` heat-transfer library, `PsychroLib`, and the laws of heat exchangers.

use proptest::prelude::*;
use pullcast::cooling::charge_cooler::{ChargeCooler, ChargeStream, HeatSink};
use pullcast::cooling::effectiveness::{self, Arrangement};
use pullcast::cooling::evaporation::{self, Liquid, MoistStream};
use pullcast::cooling::soak::HeatBalance;

fn arrangement(name: &str) -> Arrangement {
    match name {
        "parallel" => Arrangement::Parallel,
        "counterflow" => Arrangement::Counterflow,
        "crossflow" => Arrangement::CrossflowUnmixed,
        "crossflow approximate" => Arrangement::CrossflowUnmixedApproximate,
        "crossflow mixed Cmin" => Arrangement::CrossflowSmallerMixed,
        "crossflow mixed Cmax" => Arrangement::CrossflowLargerMixed,
        other => panic!("unknown arrangement {other}"),
    }
}

#[test]
fn all_arrangements_agree_with_the_ht_library() {
    // Source: ht 1.2.0, validation/data/heat_exchangers. 1e-9 as asked of the table; rounding of the series is below 1e-13.
    let mut rows =
        csv::Reader::from_reader(include_str!("data/heat_exchangers/ntu.csv").as_bytes());
    let mut count = 0;
    for row in rows.records() {
        let row = row.expect("the table is well formed");
        let number = |i: usize| row[i].parse::<f64>().expect("a number");
        let found = arrangement(&row[0]).effectiveness(number(1), number(2));
        assert!((found - number(3)).abs() < 1e-9, "{row:?}: {found}");
        count += 1;
    }
    assert_eq!(count, 702);
}

#[test]
fn printed_effectiveness_of_two_sizes() {
    // Six printed digits, same library; NTU 5, c 0.7 is the worked example in its documentation.
    for (kind, n, c, expected) in [
        (Arrangement::Counterflow, 2.0, 0.5, 0.774600),
        (Arrangement::Parallel, 2.0, 0.5, 0.633475),
        (Arrangement::CrossflowUnmixed, 2.0, 0.5, 0.732409),
        (Arrangement::CrossflowUnmixedApproximate, 2.0, 0.5, 0.738758),
        (Arrangement::Parallel, 5.0, 0.7, 0.588116),
        (Arrangement::CrossflowUnmixed, 5.0, 0.7, 0.844482),
        (Arrangement::Counterflow, 5.0, 0.7, 0.920670),
    ] {
        let found = kind.effectiveness(n, c);
        assert!((found - expected).abs() < 1e-6, "{kind:?}: {found}");
    }
}

#[test]
fn steam_heats_oil_as_in_the_worked_example() {
    // Source: ht 1.2.0 documentation, tubes with UA = 275 * 10.82 W/K. Printed digits.
    let smaller = 1377.5;
    let n = effectiveness::transfer_units(275.0 * 10.82, smaller);
    assert!((n - 2.16007).abs() < 1e-5, "{n}");
    let eps = Arrangement::CrossflowLargerMixed.effectiveness(n, smaller / 9672.0);
    assert!((eps - 0.831218).abs() < 1e-5, "{eps}");
    let heat = effectiveness::heat_w(eps, smaller, 130.0, 15.0);
    assert!((heat - 131_675.0).abs() < 1.0, "{heat}");
}

#[test]
fn the_approximation_has_the_right_sign() {
    // With the misprinted sign the value at NTU 2, c 0.5 leaves the range 0..1; with the right one it stays within 1 % of
    // the exact series (the stated accuracy of the approximation near NTU 2).
    let exact = Arrangement::CrossflowUnmixed.effectiveness(2.0, 0.5);
    let near = Arrangement::CrossflowUnmixedApproximate.effectiveness(2.0, 0.5);
    assert!((near / exact - 1.0).abs() < 0.01);
}

#[test]
fn ten_litres_of_coolant_warm_as_computed_by_hand() {
    // Source: hand calculation, cp 1005 J/(kg K): 0.45 kg/s, effectiveness 0.75, 380 to 310 K into 37.8 kJ/K: 23.7 kW,
    // 0.63 K/s, 6.3 K in 10 s at the first rate. Half a unit of the last printed digit.
    let cooler = ChargeCooler {
        rejection_w_k: 0.0,
        ..ChargeCooler::rated(0.75, 0.45, 37_800.0, HeatSink::Water)
    };
    let charge = ChargeStream {
        flow_kg_s: 0.45,
        temperature_k: 380.0,
        pressure_pa: 1.6e5,
        cp_j_kg_k: 1005.0,
    };
    let p = cooler.at(charge, 310.0, 300.0);
    assert!((p.heat_w / 1e3 - 23.7).abs() < 0.05, "{}", p.heat_w);
    assert!((p.soak_rate_k_s - 0.63).abs() < 0.005);
    // The warming water takes less and less: 5 % less than the straight line after 10 s.
    let rise = cooler.balance(charge, 300.0).after_k(310.0, 10.0) - 310.0;
    assert!(rise < 6.3 && rise > 5.9, "{rise}");
}

#[test]
fn spraying_water_to_saturation_finds_the_wet_bulb() {
    // Source: thermodynamic wet bulb of PsychroLib 2.5.0 (ASHRAE 2017), 101.325 kPa. 0.25 K: latent heat is taken at
    // 25 °C (0.24 % per 2.4 K away from it) and the Magnus form deviates by up to 0.3 % in pressure, worth 0.05 K.
    for (celsius, humidity, wet_bulb) in [
        (20.0, 0.0043368, 10.853),
        (25.0, 0.0098810, 17.889),
        (30.0, 0.0187952, 25.503),
        (40.0, 0.0139000, 25.093),
        (45.0, 0.0309052, 34.500),
    ] {
        let stream = MoistStream {
            temperature_k: celsius + 273.15,
            pressure_pa: 101_325.0,
            humidity_ratio: humidity,
        };
        let e = stream.evaporate_water(0.1, 1.0);
        assert!(e.saturated);
        let found = e.temperature_k - 273.15;
        assert!(
            (found - wet_bulb).abs() < 0.25,
            "{celsius}: {found} against {wet_bulb}"
        );
    }
}

#[test]
fn full_evaporation_cools_as_computed() {
    // Source: upper bounds at lambda 0.88 from CoolProp latent heats, which leave out the heat capacity of the vapour:
    // ethanol 113, methanol 200, water at 0.2 of a gasoline of ratio 14.6 37, gasoline 26 K. Undoing that here leaves 3 %
    // (air taken at 1.03 instead of 1.006 kJ/kgK in the source), 5 % for gasoline, whose latent heat is "about 350".
    let dry = MoistStream {
        temperature_k: 298.15,
        pressure_pa: 1e5,
        humidity_ratio: 0.0,
    };
    for (liquid, amount, expected, tolerance) in [
        (Liquid::ETHANOL, 1.0 / (0.88 * 9.00), 113.0, 0.03),
        (Liquid::METHANOL, 1.0 / (0.88 * 6.47), 200.0, 0.03),
        (Liquid::WATER, 0.2 / (0.88 * 14.6), 37.0, 0.03),
        (Liquid::GASOLINE, 1.0 / (0.88 * 14.6), 26.0, 0.05),
    ] {
        let drop = 298.15 - dry.evaporate(liquid, amount, 1.0).temperature_k;
        let bound = drop * (1.0 + amount * liquid.vapour_cp_j_kg_k / 1006.0);
        assert!(
            (bound / expected - 1.0).abs() < tolerance,
            "{bound} against {expected}"
        );
    }
}

const ALL: [Arrangement; 6] = [
    Arrangement::Parallel,
    Arrangement::Counterflow,
    Arrangement::CrossflowUnmixed,
    Arrangement::CrossflowUnmixedApproximate,
    Arrangement::CrossflowSmallerMixed,
    Arrangement::CrossflowLargerMixed,
];

proptest! {
    #[test]
    fn effectiveness_lies_between_zero_and_one_and_rises_with_size(
        n in 0.0..30.0_f64, more in 1e-3..5.0_f64, c in 0.0..=1.0_f64
    ) {
        for kind in ALL {
            let (a, b) = (kind.effectiveness(n, c), kind.effectiveness(n + more, c));
            prop_assert!((0.0..=1.0).contains(&a) && (0.0..=1.0).contains(&b), "{:?} {} {}", kind, a, b);
            // 1e-12: rounding of the series where the curve has become flat.
            prop_assert!(b >= a - 1e-12, "{:?} {} {}", kind, a, b);
        }
    }

    #[test]
    fn a_cooler_never_leaves_the_temperatures_it_is_given(
        eps in 0.05..0.95_f64, flow in 0.0..2.0_f64, hot in 280.0..500.0_f64, mass in 260.0..400.0_f64,
        p in 5e4..4e5_f64, air in any::<bool>()
    ) {
        let sink = if air { HeatSink::Air } else { HeatSink::Water };
        let cooler = ChargeCooler::rated(eps, 0.4, 8_000.0, sink);
        let charge = ChargeStream { flow_kg_s: flow, temperature_k: hot, pressure_pa: p, cp_j_kg_k: 1008.0 };
        let out = cooler.at(charge, mass, 295.0);
        let (low, high) = (hot.min(mass), hot.max(mass));
        prop_assert!(out.outlet_temperature_k >= low - 1e-9 && out.outlet_temperature_k <= high + 1e-9);
        prop_assert!(out.outlet_pressure_pa > 0.0 && out.pressure_drop_pa >= 0.0);
        // Heat closes: into the mass, out of it, and the rest warms it.
        let stored = out.soak_rate_k_s * cooler.heat_capacity_j_k;
        prop_assert!((out.heat_w - out.rejected_w - stored).abs() <= 1e-9 * (out.heat_w.abs() + out.rejected_w.abs() + 1.0));
    }

    #[test]
    fn an_endless_heat_capacity_shows_no_soak(t in 280.0..360.0_f64, duration in 0.0..1e5_f64) {
        let b = HeatBalance::between(f64::INFINITY, (300.0, 400.0), (150.0, 300.0));
        prop_assert_eq!(b.after_k(t, duration), t);
        prop_assert_eq!(b.rate_k_s(t), 0.0);
    }

    #[test]
    fn rest_brings_the_core_towards_the_room_and_never_past_it(start in 300.0..380.0_f64, minutes in 0.0..60.0_f64) {
        let cooler = ChargeCooler::rated(0.7, 0.4, 2e4, HeatSink::Water);
        let t = cooler.after_rest_k(start, 295.0, 60.0 * minutes);
        prop_assert!(t <= start + 1e-9 && t >= 295.0 - 1e-9);
    }

    #[test]
    fn evaporation_stops_at_saturation_and_above_the_dew_point(
        t in 285.0..420.0_f64, p in 8e4..3e5_f64, filled in 0.0..1.0_f64, water in 0.0..0.05_f64, share in 0.0..=1.0_f64
    ) {
        let humidity = filled * evaporation::saturation_humidity_ratio(t, p).min(0.03);
        let stream = MoistStream { temperature_k: t, pressure_pa: p, humidity_ratio: humidity };
        let e = stream.evaporate_water(water, share);
        let held = humidity + e.evaporated;
        prop_assert!(held <= evaporation::saturation_humidity_ratio(e.temperature_k, p) * (1.0 + 1e-9));
        prop_assert!((e.evaporated + e.left - water).abs() < 1e-12 && e.temperature_k <= t);
        // The dew point of the inlet stream: its own vapour pressure must not exceed saturation at the end.
        let vapour = p * humidity / (humidity + 0.018015 / 0.028960);
        prop_assert!(vapour <= evaporation::saturation_pressure_pa(e.temperature_k) * (1.0 + 1e-9));
    }
}
