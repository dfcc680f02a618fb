//! Fuels against atom balances, NASA polynomials (Cantera 3.2) and printed property tables.

use crate::closed_forms::required_injector_kg_s;
use pullcast::fuel::{
    AIR_PER_OXYGEN, Fuel, NITROUS_DECOMPOSITION_J_KG, NITROUS_OXYGEN_FRACTION, injector_flow_kg_s,
    stoichiometric_air_fuel,
};

const FUELS: &str = include_str!("data/fuel_air/fuels.csv");

/// Column of `fuels.csv` (Cantera 3.2, `CoolProp` 8.0) for a fuel.
pub(crate) fn table(fuel: &str, column: &str) -> f64 {
    let mut lines = FUELS.lines();
    let head: Vec<&str> = lines.next().expect("header").split(',').collect();
    let index = head
        .iter()
        .position(|name| *name == column)
        .expect("column");
    let row = lines
        .find(|line| line.split(',').next() == Some(fuel))
        .expect("fuel");
    row.split(',')
        .nth(index)
        .and_then(|cell| cell.parse().ok())
        .expect("number")
}

/// Atom balance by hand with 23.144 % oxygen by mass in air: 14.60, 15.13, 9.00, 6.47 (printed to 0.01).
#[test]
fn air_demand_follows_the_atoms() {
    for (h, o, expected) in [
        (1.87, 0.0, 14.60),
        (2.25, 0.0, 15.13),
        (3.0, 0.5, 9.00),
        (4.0, 1.0, 6.47),
    ] {
        assert!(
            (stoichiometric_air_fuel(h, o) - expected).abs() < 0.006,
            "{h} {o}"
        );
    }
}

/// Cantera 3.2 on air without carbon dioxide: its ratios are 0.06 % lower, so 0.1 % is the honest tolerance.
#[test]
fn pure_fuels_match_the_nasa_polynomials() {
    for (name, fuel) in [
        ("isooctane", Fuel::iso_octane()),
        ("ethanol", Fuel::ethanol()),
        ("methanol", Fuel::methanol()),
    ] {
        let close = |value: f64, column: &str, tolerance: f64| {
            let expected = table(name, column);
            assert!(
                (value / expected - 1.0).abs() < tolerance,
                "{name} {column}: {value} {expected}"
            );
        };
        close(fuel.stoichiometric_air_fuel, "AFR_stoich", 1e-3);
        close(fuel.lower_heating_value_j_kg, "LHV_liquid_J_kg", 1e-6);
        close(
            fuel.lower_heating_value_vapour_j_kg,
            "LHV_vapour_J_kg",
            1e-6,
        );
        close(fuel.latent_heat_j_kg, "hvap_298_J_kg", 1e-5);
        close(fuel.molar_mass_kg_kmol, "M_kg_kmol", 1e-5);
    }
}

/// Lower heating value of the vapour from the NASA polynomials: 44.650, 27.731, 21.104 MJ/kg (0.1 %).
#[test]
fn heating_values_of_the_vapour() {
    for (fuel, expected) in [
        (Fuel::iso_octane(), 44.650),
        (Fuel::ethanol(), 27.731),
        (Fuel::methanol(), 21.104),
    ] {
        assert!((fuel.lower_heating_value_vapour_j_kg * 1e-6 / expected - 1.0).abs() < 1e-3);
    }
}

/// E10 and E85 by volume against the values used in the trade (US DOE AFDC ranges and blends by mass): heating value 1 %,
/// air demand 1 %, latent heat 3 % (the petrol's own is ± 6 %), density 0.5 %. Ethanol by mass near 11 and 86 %.
#[test]
fn blends_by_volume_match_printed_e10_and_e85() {
    let petrol = Fuel::petrol(95.0, Some(85.0));
    for (volume, lhv, afr, latent, density, mass) in [
        (0.10, 41.6e6, 14.0, 410e3, 747.0, 0.11),
        (0.85, 29.2e6, 9.80, 839e3, 782.0, 0.86),
    ] {
        let blend = Fuel::petrol_with_ethanol(petrol, volume);
        assert!((blend.lower_heating_value_j_kg / lhv - 1.0).abs() < 0.01);
        assert!((blend.stoichiometric_air_fuel / afr - 1.0).abs() < 0.01);
        assert!((blend.latent_heat_j_kg / latent - 1.0).abs() < 0.03);
        assert!((blend.density_kg_m3 / density - 1.0).abs() < 0.005);
        assert!((blend.ethanol_mass_fraction - mass).abs() < 0.005);
    }
}

/// A blend of the printed surrogate by mass: the rules (mass-additive) against Cantera on the blended moles, 0.1 %.
#[test]
fn mass_rules_reproduce_the_blended_surrogate() {
    for (name, w) in [("trf_eth11", 0.11), ("trf_eth86", 0.86)] {
        for column in ["AFR_stoich", "LHV_vapour_J_kg", "hvap_298_J_kg"] {
            let mixed = (1.0 - w) * table("trf", column) + w * table("ethanol", column);
            assert!(
                (mixed / table(name, column) - 1.0).abs() < 1e-3,
                "{name} {column}"
            );
        }
    }
}

/// Octane of E10 made from RON 95: +1..3 numbers; chemical octane of E85 100..104 (from memory of the trade).
#[test]
fn octane_of_ethanol_blends_is_in_the_usual_range() {
    let petrol = Fuel::petrol(95.0, Some(85.0));
    let e10 = Fuel::petrol_with_ethanol(petrol, 0.10);
    assert!(
        (1.0..=3.0).contains(&(e10.research_octane - 95.0)),
        "{}",
        e10.research_octane
    );
    let e85 = Fuel::petrol_with_ethanol(petrol, 0.85);
    assert!(
        (100.0..=104.0).contains(&e85.chemical_octane_index(0.0)),
        "{}",
        e85.chemical_octane_index(0.0)
    );
}

/// Full evaporation at λ = 0.88 (computed with `CoolProp` latent heats): 26, 32, 91, 113, 200 K; 5 % for the lumped heat
/// capacity and the petrol's own latent heat.
#[test]
fn evaporation_cools_by_the_latent_heat() {
    let petrol = Fuel::petrol(95.0, None);
    for (fuel, expected) in [
        (petrol, 26.0),
        (Fuel::petrol_with_ethanol(petrol, 0.10), 32.0),
        (Fuel::petrol_with_ethanol(petrol, 0.85), 91.0),
        (Fuel::ethanol(), 113.0),
        (Fuel::methanol(), 200.0),
    ] {
        assert!((fuel.full_evaporation_drop_k(0.88) / expected - 1.0).abs() < 0.05);
    }
}

/// Laminar flame speed at 298 K, 1 atm, φ of the peak: the coefficients themselves (Metghalchi & Keck, from memory).
#[test]
fn flame_speed_at_the_reference_state_is_the_peak() {
    let fuel = Fuel::iso_octane();
    let speed = fuel.laminar_flame_speed_m_s(1.0 / 1.13, 298.0, 101_325.0, 0.0);
    assert!((speed - 0.263).abs() < 1e-9);
    assert!(fuel.laminar_flame_speed_m_s(1.0 / 1.13, 298.0, 101_325.0, 0.1) < speed);
    assert!(fuel.laminar_flame_speed_m_s(1.0 / 1.13, 600.0, 2e6, 0.0) > speed);
}

/// Hand computation: 0.36352 oxygen by mass, 1 kg stands for 1.571 kg of air; decomposition 1853.996 kJ/kg (81.6 kJ/mol).
#[test]
fn nitrous_oxide_carries_oxygen_and_heat() {
    assert!((NITROUS_OXYGEN_FRACTION / 0.36352 - 1.0).abs() < 1e-4);
    assert!((NITROUS_OXYGEN_FRACTION * AIR_PER_OXYGEN / 1.571 - 1.0).abs() < 1e-3);
    assert!((NITROUS_DECOMPOSITION_J_KG * 44.013e-6 / 81.6 - 1.0).abs() < 1e-3);
}

/// Hand computation: 400 kW, 300 g/kWh, 8 injectors, duty 0.85: 294.1 g/min, 394.8 cm³/min at 0.745 kg/l; 3 to 4 bar ×1.155.
#[test]
fn injector_size_follows_from_power() {
    let flow_g_min = required_injector_kg_s(400e3, 0.300 / 3.6e6, 8, 0.85) * 60e3;
    assert!(
        (flow_g_min / 294.1 - 1.0).abs() < 1e-3 && (flow_g_min / 0.745 / 394.8 - 1.0).abs() < 1e-3
    );
    assert!((injector_flow_kg_s(1.0, 3e5, 4e5, 1.0) - 1.155).abs() < 5e-4);
}
