//! Compressible flow through restrictions against `fluids` and worked numbers, and its limits.

use proptest::prelude::*;
use pullcast::air::flow::{DuctLoss, OrificeGas, Passage, Side, Throttle, critical_ratio};
use pullcast::air::gas::PerfectGas;
use std::f64::consts::PI;

fn air() -> OrificeGas {
    OrificeGas::new(PerfectGas::AIR)
}

fn gas(gamma: f64, gas_constant_j_kg_k: f64) -> OrificeGas {
    OrificeGas::new(PerfectGas {
        gamma,
        gas_constant_j_kg_k,
    })
}

fn side(pressure_pa: f64, temperature_k: f64) -> Side {
    Side {
        pressure_pa,
        temperature_k,
    }
}

/// Values to five digits from the textbook formula evaluated in Python with `SciPy` 1.17; 0.1 %
/// allowed by their list, the print is finer.
#[test]
fn critical_ratio_and_choked_flow_function_have_their_known_values() {
    for (gamma, ratio, psi) in [(1.4, 0.52828, 0.68473), (1.33, 0.54036, 0.67263)] {
        assert!((critical_ratio(gamma) - ratio).abs() < 6e-6);
        assert!((gas(gamma, 287.0).psi(0.3) - psi).abs() < 6e-6);
    }
}

/// 1 cm² of choked air; a plain script of the total-pressure Mach form (NASA Glenn, Mass Flow
/// Choking). Printed to 1e-6 kg/s.
#[test]
fn choked_air_through_one_square_centimetre() {
    let flow = air().choked_kg_s(1e-4, side(101_325.0, 288.15));
    // 0.1 %: the list's own tolerance; R is 287.05 there, 287.042 here (1.4e-5).
    assert!((flow / 0.024124 - 1.0).abs() < 1e-4, "{flow}");
    let r = PerfectGas::AIR.gas_constant_j_kg_k;
    let mach_form = 1e-4 * 101_325.0 / 288.15_f64.sqrt() * (1.4 / r).sqrt() * 1.2_f64.powf(-3.0);
    assert!((flow / mach_form - 1.0).abs() < 1e-12);
}

/// 80 mm bore, discharge 0.85, 101.325 kPa and 298.15 K (plain script of the formula).
#[test]
fn a_throttle_bore_passes_the_worked_flows() {
    let area = 0.85 * 0.25 * PI * 0.08 * 0.08;
    for (ratio, expected) in [(0.95, 0.45525), (0.98, 0.29278)] {
        let flow = air().flow_kg_s(area, side(101_325.0, 298.15), ratio * 101_325.0);
        assert!(
            (flow / expected - 1.0).abs() < 1e-4,
            "{flow}: printed to 1e-5, gas constant 1.4e-5 apart"
        );
    }
}

/// `fluids` 1.3.1, docstrings of `P_critical_flow` and `is_critical_flow`.
#[test]
fn critical_pressures_are_those_of_fluids() {
    assert!((1.4e6 * critical_ratio(1.289) - 766_812.9).abs() < 1.0);
    let choked = |down_pa: f64| down_pa <= 670e3 * critical_ratio(1.11);
    assert!(!choked(532e3) && choked(101e3));
    let hydrocarbon = gas(1.11, 200.0);
    let flow = |down_pa| hydrocarbon.flow_kg_s(1e-4, side(670e3, 300.0), down_pa);
    assert!(flow(532e3) < flow(101e3) && flow(101e3) == flow(50e3));
}

/// Exhaust orifice: 10 cm², discharge 0.7, 1.5 to 1.0 bar at 1100 K, R 297, gamma 1.33 (plain
/// script; printed to 1e-5).
#[test]
fn exhaust_through_an_orifice() {
    let exhaust = gas(1.33, 297.0);
    assert!((exhaust.psi(1.0 / 1.5) - 0.64753).abs() < 6e-6);
    let flow = exhaust.flow_kg_s(0.7e-3, side(1.5e5, 1100.0), 1e5);
    assert!((flow - 0.11895).abs() < 6e-6, "{flow}");
}

/// Loss of an open throttle at 0.3109 kg/s, discharge 0.90, 101.325 kPa and 298.15 K: 2.66, 2.04,
/// 1.26 kPa (plain script).
#[test]
fn an_open_throttle_costs_the_worked_pressure() {
    for (bore_m, kpa) in [(0.075, 2.66), (0.080, 2.04), (0.090, 1.26)] {
        let throttle = Throttle {
            bore_m,
            discharge: 0.90,
            shut_angle_rad: 0.1,
        };
        let room = side(101_325.0, 298.15);
        let Passage::Passes { downstream_pa } = air().passage(throttle.open_m2(), room, 0.3109)
        else {
            panic!("far from choking")
        };
        let drop_kpa = (101_325.0 - downstream_pa) / 1e3;
        // Printed to 0.01 kPa.
        assert!((drop_kpa - kpa).abs() < 0.005, "{bore_m}: {drop_kpa}");
    }
}

#[test]
fn flow_function_joins_choking_with_zero_slope() {
    for gamma in [1.2, 1.33, 1.4, 1.6] {
        let gas = gas(gamma, 287.0);
        let critical = gas.critical_ratio();
        let step = 1e-5;
        // The curve is a parabola there with curvature of order 2: psi falls by step² and the slope
        // by 2 step.
        assert!((gas.psi(critical) - gas.psi(critical + step)).abs() < 4.0 * step * step);
        assert!(gas.psi(critical) - gas.psi(critical + 1e-2) > 1e-6);
        assert_eq!(gas.psi(1.0), 0.0);
    }
}

/// Mass flow through 1000 mm² from `first` to `second`, kg/s; negative when it runs back.
fn signed_kg_s(gas: &OrificeGas, first: Side, second: Side) -> f64 {
    if first.pressure_pa >= second.pressure_pa {
        gas.flow_kg_s(1e-3, first, second.pressure_pa)
    } else {
        -gas.flow_kg_s(1e-3, second, first.pressure_pa)
    }
}

proptest! {
    #[test]
    fn choked_flow_ignores_downstream_pressure(gamma in 1.1..1.66_f64, share in 0.0..1.0_f64, pa in 1e4..1e6_f64) {
        let gas = gas(gamma, 287.0);
        let up = side(pa, 400.0);
        let down = share * gas.critical_ratio() * pa;
        prop_assert_eq!(gas.flow_kg_s(1e-3, up, down * (1.0 - 1e-12)), gas.choked_kg_s(1e-3, up));
    }

    #[test]
    fn flow_is_proportional_to_upstream_pressure(ratio in 0.0..1.0_f64, pa in 1e4..1e6_f64, scale in 0.1..10.0_f64) {
        let flow = |pa: f64| air().flow_kg_s(1e-3, side(pa, 300.0), ratio * pa);
        // Rounding of the ratio is worth 1e-16/(1 − x) near no flow.
        prop_assert!((flow(scale * pa) - scale * flow(pa)).abs() <= 1e-10 * scale * pa * 1e-5);
    }

    #[test]
    fn flow_falls_monotonically_with_downstream_pressure_through_zero(
        gamma in 1.1..1.66_f64,
        pa in 2e4..5e5_f64,
        low in 0.0..2.0_f64,
        step in 1e-6..0.5_f64,
    ) {
        let gas = gas(gamma, 287.0);
        let flow = |ratio: f64| signed_kg_s(&gas, side(pa, 310.0), side(ratio * pa, 350.0));
        let (more, less) = (flow(low), flow(low + step));
        prop_assert!(more.is_finite() && less.is_finite());
        prop_assert!(less <= more);
        if low + step > gas.critical_ratio() + 1e-3 && low < 1.0 / gas.critical_ratio() {
            prop_assert!(less < more);
        }
    }

    #[test]
    fn swapping_the_sides_turns_the_flow(a in 2e4..5e5_f64, b in 2e4..5e5_f64) {
        let (first, second) = (side(a, 310.0), side(b, 350.0));
        prop_assert_eq!(signed_kg_s(&air(), first, second), -signed_kg_s(&air(), second, first));
    }

    #[test]
    fn the_curve_has_no_step_at_the_small_drop_joint(gamma in 1.1..1.66_f64) {
        let gas = gas(gamma, 287.0);
        let (outside, inside) = (gas.psi(0.999 - 1e-12), gas.psi(0.999 + 1e-12));
        // Slope there is about 22: 2e-12 apart gives 5e-11.
        prop_assert!(outside >= inside && outside - inside < 1e-10);
    }

    #[test]
    fn a_flow_that_passes_leaves_the_pressure_that_made_it(ratio in 0.56..0.99999_f64, pa in 2e4..5e5_f64) {
        let flow = air().flow_kg_s(1e-3, side(pa, 300.0), ratio * pa);
        let Passage::Passes { downstream_pa } = air().passage(1e-3, side(pa, 300.0), flow) else {
            return Err(TestCaseError::fail("not choked above the critical ratio"));
        };
        // Near choking the curve is flat and 1e-16 in flow is 1e-14 in ratio; 1e-9 is far above
        // either.
        prop_assert!((downstream_pa / pa - ratio).abs() < 1e-9);
    }

    #[test]
    fn every_flow_through_a_duct_has_an_upstream_pressure(k in 0.0..1e7_f64, flow in -1.0..1.0_f64, pa in 5e4..2e5_f64) {
        let duct = DuctLoss { k };
        prop_assert!(duct.upstream_pa(flow, 300.0, pa).is_finite());
        prop_assert_eq!(duct.drop_pa(0.0, side(pa, 300.0)), 0.0);
    }
}
