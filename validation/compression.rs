//! Compression against Cantera, `CoolProp` and `fluids`.

use crate::closed_forms::polytropic_exponent;
use crate::closed_forms::{compress_moist, frozen_at};
use proptest::prelude::*;
use pullcast::air::compression::{Compressed, compress};
use pullcast::air::gas::{MoistAir, PerfectGas};
use pullcast::air::moist::density_kg_m3;
use serde::Deserialize;

#[derive(Deserialize)]
#[expect(non_snake_case, reason = "columns of the file")]
struct Case {
    p1_Pa: f64,
    T1_K: f64,
    W_kg_per_kg_dry: f64,
    pressure_ratio: f64,
    eta_isentropic: f64,
    cp1_J_kgK: f64,
    gamma1: f64,
    rho1_ideal: f64,
    T2_cg_K: f64,
    w_cg_J_kg: f64,
    T2s_ig_K: f64,
    T2_ig_K: f64,
    ws_ig_J_kg: f64,
    w_ig_J_kg: f64,
    T2_real_K: f64,
    w_real_J_kg: f64,
    drive_ig_W: f64,
}

fn cases() -> Vec<Case> {
    csv::Reader::from_reader(include_str!("data/compression/compression.csv").as_bytes())
        .deserialize()
        .map(|row| row.expect("a row of the file"))
        .collect()
}

fn relative(ours: f64, theirs: f64) -> f64 {
    (ours / theirs - 1.0).abs()
}

/// The gas constant is ASHRAE's 287.042, Cantera's mixture has 287.039: 1.1e-5 in cp and work. The
/// polynomials carry seven digits.
const CONSTANT: f64 = 1.5e-5;

#[test]
fn compression_is_that_of_an_ideal_mixture_in_cantera() {
    let cases = cases();
    assert_eq!(cases.len(), 2310);
    for case in cases {
        let air = MoistAir::new(case.W_kg_per_kg_dry);
        assert!(relative(air.cp_j_kg_k(case.T1_K), case.cp1_J_kgK) < CONSTANT);
        assert!(relative(air.gamma(case.T1_K), case.gamma1) < 2e-6);
        let Compressed {
            isentropic_k,
            outlet_k,
            work_j_kg,
        } = compress_moist(case.T1_K, case.pressure_ratio, case.eta_isentropic, &air);
        // 1 mK: seven digits of the coefficients, amplified by 1/eta.
        assert!(
            (isentropic_k - case.T2s_ig_K).abs() < 1e-3,
            "{isentropic_k} {}",
            case.T2s_ig_K
        );
        assert!(
            (outlet_k - case.T2_ig_K).abs() < 1e-3,
            "{outlet_k} {}",
            case.T2_ig_K
        );
        assert!(relative(work_j_kg, case.w_ig_J_kg) < CONSTANT);
        assert!(relative(work_j_kg * case.eta_isentropic, case.ws_ig_J_kg) < CONSTANT);
        assert!(relative(0.150 * work_j_kg / 0.95, case.drive_ig_W) < CONSTANT);
    }
}

/// Real moist air by `CoolProp`: up to 0.2 K in outlet temperature and 0.06 % in work, the honest
/// distance of ideal gases.
#[test]
fn compression_is_close_to_real_moist_air() {
    for case in cases() {
        let air = MoistAir::new(case.W_kg_per_kg_dry);
        let ours = compress_moist(case.T1_K, case.pressure_ratio, case.eta_isentropic, &air);
        assert!(
            (ours.outlet_k - case.T2_real_K).abs() < 0.2,
            "{} {}",
            ours.outlet_k,
            case.T2_real_K
        );
        assert!(relative(ours.work_j_kg, case.w_real_J_kg) < 6e-4);
    }
}

#[test]
fn the_constant_gamma_form_is_the_closed_form_and_close_to_the_mixture() {
    let (mut worst_k, mut worst_work): (f64, f64) = (0.0, 0.0);
    for case in cases() {
        let air = frozen_at(&MoistAir::new(case.W_kg_per_kg_dry), case.T1_K);
        let ours = compress(case.T1_K, case.pressure_ratio, case.eta_isentropic, &air);
        assert!((ours.outlet_k - case.T2_cg_K).abs() < 1e-3);
        assert!(relative(ours.work_j_kg, case.w_cg_J_kg) < CONSTANT);
        worst_k = worst_k.max((ours.outlet_k - case.T2_ig_K).abs());
        worst_work = worst_work.max(relative(ours.work_j_kg, case.w_ig_J_kg));
    }
    // What the doc comment of `compress` states, and no less: the claim is a measurement.
    assert!((3.5..3.65).contains(&worst_k), "{worst_k}");
    assert!((0.0005..0.00065).contains(&worst_work), "{worst_work}");
}

#[test]
fn inlet_density_is_that_of_the_mixture() {
    for case in cases() {
        let vapour_pa =
            pullcast::air::moist::vapour_from_humidity_ratio_pa(case.p1_Pa, case.W_kg_per_kg_dry);
        assert!(
            relative(
                density_kg_m3(case.p1_Pa, case.T1_K, vapour_pa),
                case.rho1_ideal
            ) < CONSTANT
        );
    }
}

/// Outlet temperatures by the closed form, gamma 1.4 (plain script, printed to 1 mK; the form is
/// that of `fluids` 1.3.1).
#[test]
fn outlet_temperatures_of_the_worked_cases() {
    for (ratio, efficiency, kelvin) in [
        (1.5, 1.0, 334.770),
        (1.5, 0.65, 354.489),
        (2.0, 0.62, 403.471),
    ] {
        let ours = compress(298.15, ratio, efficiency, &PerfectGas::AIR).outlet_k;
        assert!((ours - kelvin).abs() < 6e-4, "{ours} {kelvin}");
    }
}

/// `fluids` 1.3.1, docstring of `polytropic_exponent`.
#[test]
fn polytropic_exponent_is_that_of_fluids() {
    let exponent = polytropic_exponent(1.4, 0.78).expect("finite");
    assert!((exponent - 1.578035).abs() < 5e-7, "printed to 1e-6");
}

proptest! {
    #[test]
    fn more_pressure_or_less_efficiency_costs_more_work(
        ratio in 0.3..4.0_f64,
        efficiency in 0.2..0.99_f64,
        kelvin in 230.0..340.0_f64,
        humidity in 0.0..0.05_f64,
    ) {
        let air = MoistAir::new(humidity);
        let base = compress_moist(kelvin, ratio, efficiency, &air);
        prop_assert!(compress_moist(kelvin, ratio + 0.01, efficiency, &air).work_j_kg > base.work_j_kg);
        prop_assert!(compress_moist(kelvin, ratio, efficiency + 0.01, &air).work_j_kg < base.work_j_kg);
        let fast = compress(kelvin, ratio, efficiency, &frozen_at(&air, kelvin));
        prop_assert!(fast.outlet_k > 0.0 && fast.work_j_kg.is_finite() && base.outlet_k > 0.0);
        prop_assert!((base.work_j_kg > 0.0) == (ratio > 1.0));
    }
}
