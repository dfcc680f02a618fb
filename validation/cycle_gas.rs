//! Gas of the crank-angle layer against frozen and equilibrium gas computed with Cantera 3.2, and its closed phase against the
//! equilibrium fuel-air cycle of the same source (`data/fuel_air/README.md`).

use pullcast::cycle::closed::ClosedPhase;
use pullcast::cycle::gas::{FROZEN_K, WorkingGas};
use pullcast::engine::CylinderGeometry;
use pullcast::engine::wiebe::Wiebe;
use pullcast::fuel::{Fuel, stoichiometric_air_fuel};
use std::f64::consts::PI;

const AT_T: &str = include_str!("data/fuel_air/burned_gas_at_T.csv");
const OTTO: &str = include_str!("data/fuel_air/fuel_air_otto.csv");
const GAS_CONSTANT: f64 = 8314.462618;

/// The fuels of the tables; the petrol surrogate with composition, molar mass and heating value of `fuels.csv`.
fn fuel(key: &str) -> Fuel {
    let surrogate = Fuel {
        hydrogen_per_carbon: 14.2 / 7.5,
        molar_mass_kg_kmol: 104.3961,
        lower_heating_value_vapour_j_kg: 43_542_318.0,
        stoichiometric_air_fuel: stoichiometric_air_fuel(14.2 / 7.5, 0.0),
        ..Fuel::petrol(95.0, None)
    };
    match key {
        "isooctane" => Fuel::iso_octane(),
        "ethanol" => Fuel::ethanol(),
        "methanol" => Fuel::methanol(),
        "trf" => surrogate,
        "trf_eth11" => Fuel::blend(surrogate, Fuel::ethanol(), 0.11),
        "trf_eth86" => Fuel::blend(surrogate, Fuel::ethanol(), 0.86),
        other => panic!("no fuel {other}"),
    }
}

/// Fuel and numbers of every line; empty cells become NaN.
fn rows(text: &'static str) -> impl Iterator<Item = (&'static str, Vec<f64>)> {
    text.lines().skip(1).map(|line| {
        let (key, rest) = line.split_once(',').expect("cells");
        let numbers = rest.split(',').map(|cell| cell.parse().unwrap_or(f64::NAN));
        (key, numbers.collect())
    })
}

/// Fresh charge, 300 to 1000 K, λ 0.75 to 1.4, iso-octane and ethanol. Air here has 23.144 % oxygen, the tables' 23.158 %: that
/// is the difference in every number. Measured: molar mass 3.5e-5, `c_p` 9.3e-5, γ 4e-5, enthalpy 0.32 kJ/kg.
#[test]
fn fresh_charge_is_that_of_the_tables() {
    let mut seen = 0;
    for (key, n) in rows(AT_T).filter(|(_, n)| n[1] <= 1000.0) {
        let [lambda, kelvin] = [n[0], n[1]];
        let gas = WorkingGas::new(&fuel(key), lambda, 0.0).fresh;
        let (enthalpy, cp) = gas.enthalpy_and_cp(kelvin);
        let molar_mass = GAS_CONSTANT / gas.gas_constant_j_kg_k;
        assert!((molar_mass / n[3] - 1.0).abs() < 5e-5, "{key} {lambda}");
        assert!((cp / n[4] - 1.0).abs() < 1.2e-4, "{key} {lambda} {kelvin}");
        assert!((gas.gamma(kelvin) - n[5]).abs() < 6e-5);
        assert!((enthalpy - n[6]).abs() < 400.0, "{key} {lambda} {kelvin}");
        seen += 1;
    }
    assert!(seen > 250, "{seen}");
}

/// Solved composition from 1600 K on: the tables hold seventeen species, this layer eleven. Mole fractions within 1.5e-4 (the
/// oxygen of the air), molar mass within 7e-5.
#[test]
fn equilibrium_is_that_of_the_tables() {
    let mut worst = 0.0_f64;
    for (key, n) in rows(AT_T).filter(|(_, n)| n[1] >= 1600.0) {
        let [lambda, kelvin, pascal] = [n[0], n[1], n[2]];
        let mix = WorkingGas::new(&fuel(key), lambda, 0.0).composition(kelvin, pascal);
        // Places in `equilibrium::ORDER` of the columns CO2, CO, H2O, H2, O2, NO, OH.
        let total: f64 = mix.kmol_kg.iter().sum();
        for (place, column) in [
            (3, 13),
            (4, 14),
            (5, 15),
            (6, 16),
            (1, 17),
            (10, 18),
            (7, 19),
        ] {
            worst = worst.max((mix.kmol_kg[place] / total - n[column]).abs());
        }
        let molar_mass = 1.0 / total / n[7] - 1.0;
        assert!(
            molar_mass.abs() < 7e-5,
            "{key} {lambda} {kelvin}: {molar_mass}"
        );
    }
    assert!(worst < 1.5e-4, "{worst}");
}

/// The table that a cycle reads instead of solving, at 1600 to 3000 K, 1 and 30 bar: enthalpy within 1.6 kJ/kg of up to 4 MJ/kg, gas
/// constant within 5e-5; and γ of an isentropic change in shifting equilibrium, which needs all six slopes, within 0.004.
#[test]
fn tabled_burned_gas_and_its_slopes_are_those_of_the_tables() {
    let (mut worst_h, mut worst_r, mut worst_gamma) = (0.0_f64, 0.0_f64, 0.0_f64);
    for (key, n) in rows(AT_T).filter(|(_, n)| n[1] > FROZEN_K) {
        let [lambda, kelvin, pascal] = [n[0], n[1], n[2]];
        let at = WorkingGas::new(&fuel(key), lambda, 0.0).burned_state(kelvin, pascal);
        let r = at.gas_constant_j_kg_k;
        worst_h = worst_h.max((at.enthalpy_j_kg - n[11]).abs());
        worst_r = worst_r.max((GAS_CONSTANT / r / n[7] - 1.0).abs());
        // dh = v dp along an isentrope gives dT/dp; γ = −(v/p)/(dv/dp).
        let v = r * kelvin / pascal;
        let kelvin_by_pa = (v - at.enthalpy_by_pa) / at.enthalpy_by_k;
        let v_by_pa = (at.gas_constant_by_k * kelvin + r) / pascal * kelvin_by_pa
            + (at.gas_constant_by_pa * kelvin - v) / pascal;
        worst_gamma = worst_gamma.max((-v / (pascal * v_by_pa) - n[10]).abs());
    }
    assert!(worst_h < 1.7e3, "{worst_h}");
    assert!(worst_r < 5e-5, "{worst_r}");
    assert!(worst_gamma < 4e-3, "{worst_gamma}");
}

/// No walls, an instant burn, the same start: the equilibrium fuel-air cycle, over six fuels, compression 8 to 14, λ 0.70 to 1.40,
/// and for iso-octane start temperature, pressure and residual. Demanded: 0.3 %. Measured: 0.02 %, of which the air's oxygen is half
/// and the composition that stands still below 1500 K the rest. Energy closes to 1e-5 of the fuel's even in a burn of half a degree.
#[test]
fn an_instant_burn_without_walls_is_the_fuel_air_cycle() {
    let (mut worst, mut drift, mut seen) = (0.0_f64, 0.0_f64, 0);
    for (index, (key, n)) in rows(OTTO).enumerate() {
        // Every fifth row: coprime to the table's periods, so that every fuel, ratio, λ and condition comes up.
        if index % 5 != 0 {
            continue;
        }
        let [ratio, lambda, start_k, start_pa, residual_fraction] = [n[0], n[1], n[2], n[3], n[4]];
        let gas = WorkingGas::new(&fuel(key), lambda, 0.0);
        let geometry = CylinderGeometry {
            bore_m: 0.095,
            stroke_m: 0.09,
            rod_m: 0.15,
            compression_ratio: ratio,
        };
        let charge = gas.fresh.with(&gas.burned, residual_fraction);
        let mass_kg = start_pa * geometry.volume_m3(PI) / (charge.gas_constant_j_kg_k * start_k);
        let result = ClosedPhase {
            geometry,
            gas: &gas,
            start_rad: -PI,
            end_rad: PI,
            mass_kg,
            residual_fraction,
            temperature_k: start_k,
            burn: Some(Wiebe::new(-0.25_f64.to_radians(), 0.5_f64.to_radians())),
            burning_share: 1.0,
            walls: None,
            rpm: 3000.0,
            octane: 95.0,
            delay_multiplier: 1.0,
            step_factor: 1.0,
        }
        .run();
        let heat_j = mass_kg * (1.0 - residual_fraction) * gas.fuel_share * gas.heating_value_j_kg;
        worst = worst.max((result.work_j / heat_j / n[15] - 1.0).abs());
        let energy = result.end_energy_j + result.work_j - result.start_energy_j;
        drift = drift.max((energy / heat_j).abs());
        seen += 1;
    }
    assert!(worst < 3e-3, "{worst}");
    assert!(drift < 1e-5, "{drift}");
    assert!(seen > 200, "{seen}");
}
