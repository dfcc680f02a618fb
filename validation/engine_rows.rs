//! Mean-value engine formulas against hand computations, textbook forms (from memory where said) and Cantera 3.2.

use crate::closed_forms::{blowdown_k, helmholtz_hz, helmholtz_rpm, quarter_wave_rpm};
use proptest::prelude::*;
use pullcast::belief::typical;
use pullcast::car::Facts;
use pullcast::car::engine::Engine;
use pullcast::driveline::gears::{Drive, Gearbox};
use pullcast::engine::breathing::{
    InletValves, Overlap, exhaust_pressure_factor, mach_filling, trapped_fraction,
};
use pullcast::engine::charge_gas::ChargeGas;
use pullcast::engine::combustion::WallLoss;
use pullcast::engine::exhaust::{ExhaustInput, PortLoss, energy_ledger};
use pullcast::engine::friction::{Friction, Oil};
use pullcast::engine::fuel_air::{TableFuel, efficiency};
use pullcast::engine::phasing::{Phasing, retard_factor};
use pullcast::engine::products::Products;
use pullcast::engine::pumping::pumping_pa;
use pullcast::engine::wiebe::Wiebe;
use pullcast::engine::{CylinderGeometry, EngineGeometry};
use pullcast::fuel::Fuel;
use std::f64::consts::PI;

const REFERENCE: CylinderGeometry = CylinderGeometry {
    bore_m: 0.095,
    stroke_m: 0.090,
    rod_m: 0.150,
    compression_ratio: 10.0,
};
const GAS_TABLE: &str = include_str!("data/fuel_air/burned_gas_at_T.csv");

fn close(value: f64, expected: f64, relative: f64) {
    assert!(
        (value / expected - 1.0).abs() < relative,
        "{value} against {expected}"
    );
}

/// Reference cylinder by a separate script: volumes in cm³ to six digits, 0.001 %.
#[test]
fn geometry_matches() {
    close(REFERENCE.swept_volume_m3(), 637.940e-6, 1e-5);
    close(REFERENCE.clearance_volume_m3(), 70.882e-6, 1e-5);
    close(REFERENCE.volume_m3(PI / 6.0), 125.645e-6, 1e-5);
    close(REFERENCE.volume_m3(PI / 2.0), 438.825e-6, 1e-5);
    close(REFERENCE.volume_and_slope(PI / 2.0).1, 318.970e-6, 1e-5);
}

/// Closed form of the Wiebe curve, a = 5, m = 2; 10-90 duration 0.49603 D.
#[test]
fn wiebe_places_ten_fifty_ninety_percent() {
    let burn = Wiebe::new(0.0, 1.0);
    for (fraction, z) in [(0.1, 0.276208), (0.5, 0.517549), (0.9, 0.772233)] {
        close(burn.angle_of_fraction(fraction), z, 3e-6);
    }
    close(
        burn.angle_of_fraction(0.9) - burn.angle_of_fraction(0.1),
        0.49603,
        1e-4,
    );
}

/// Iso-octane, r = 10, λ = 1, T₁ 350 K, residual 5 % (Cantera 3.2): 0.4645 as printed.
#[test]
fn fuel_air_efficiency_at_ten_to_one() {
    close(efficiency(TableFuel::IsoOctane, 10.0, 1.0), 0.4645, 1.2e-4);
}

/// r = 10, γ = 1.4 (ideal cycle; formula from memory of Heywood and Taylor), and γ = 1.3 to four digits.
#[test]
fn exhaust_pressure_factor_matches() {
    for (gamma, ratio, expected) in [
        (1.4, 1.1, 0.992063),
        (1.4, 0.9, 1.007937),
        (1.4, 1.0, 1.0),
        (1.3, 0.7, 1.0256),
        (1.3, 0.9, 1.0085),
        (1.3, 1.1, 0.9915),
        (1.3, 1.5, 0.9573),
    ] {
        let factor = exhaust_pressure_factor(1e5, ratio * 1e5, 10.0, gamma);
        assert!((factor - expected).abs() < 6e-5, "{factor} {expected}");
        // Isentropic form of the same textbook cycle: within 0.2 % up to a ratio of 1.5, 0.3 % there.
        let isentropic = (10.0 - f64::powf(ratio, 1.0 / gamma)) / 9.0;
        close(factor, isentropic, 3e-3);
    }
}

/// Helmholtz: runner 45 mm dia 0.40 m, 637.94 cm³, r = 10, a = 340 m/s; quarter wave 10200, 7286, 5667 rpm (formulas from memory).
#[test]
fn tuning_anchors_match() {
    let area = PI / 4.0 * 0.045 * 0.045;
    close(
        helmholtz_hz(area, 0.40, 637.94e-6, 10.0, 340.0),
        172.82,
        1e-4,
    );
    close(
        helmholtz_rpm(area, 0.40, 637.94e-6, 10.0, 340.0),
        4938.0,
        1e-4,
    );
    for (order, rpm) in [(2.5, 10_200.0), (3.5, 7286.0), (4.5, 5667.0)] {
        close(quarter_wave_rpm(0.40, 340.0, order), rpm, 1e-4);
    }
}

/// `φ_Z` with `Z_c` = 0.868, p = 4 (separate script, four digits); `Z_c` 0.77 at 240 deg and 0.87 at 270 (two digits).
#[test]
fn mach_filling_matches() {
    for (z, expected) in [
        (0.3, 0.9965),
        (0.5, 0.9742),
        (0.6, 0.9499),
        (0.8, 0.8730),
        (1.0, 0.7757),
        (1.5, 0.5635),
    ] {
        assert!((mach_filling(z, 0.868, 4.0) - expected).abs() < 3e-4, "{z}");
    }
    let valves = |open_duration_deg| InletValves {
        diameter_m: 0.04,
        count: 1,
        mean_flow_coefficient: 0.35,
        open_duration_deg,
        closing_abdc_deg: 50.0,
    };
    assert!((valves(240.0).choking_index() - 0.77).abs() < 5e-3);
    assert!((valves(270.0).choking_index() - 0.87).abs() < 5e-3);
}

/// Retard: 5 .9925, 10 .972, 15 .940, 20 .899, 25 .852 from a crank-angle script; the printed cubic itself misses
/// the point at 25 by 0.0012.
#[test]
fn retard_matches_the_points_it_was_fitted_to() {
    for (late, expected) in [
        (5.0, 0.9925),
        (10.0, 0.972),
        (15.0, 0.940),
        (20.0, 0.899),
        (25.0, 0.852),
    ] {
        assert!((retard_factor(late) - expected).abs() < 1.3e-3, "{late}");
    }
}

/// Mixture: relative to λ = 1: .95 +2.3 %, .92 +2.7, .89 +2.5, .85 +1.6, .80 −.6, .75 −3.8 (derived from a Cantera run at
/// 330 K, 0.1 points in print; 0.35 points for the 20 K).
#[test]
fn mixture_curve_is_flat_and_best_a_little_rich() {
    let work = prior().combustion.prepare(&Fuel::iso_octane(), 10.0);
    for (lambda, percent) in [
        (0.95, 2.3),
        (0.92, 2.7),
        (0.89, 2.5),
        (0.85, 1.6),
        (0.80, -0.6),
        (0.75, -3.8),
    ] {
        let ours = 100.0 * (work.relative(lambda, 1.0) - 1.0);
        assert!((ours - percent).abs() < 0.35, "{lambda}: {ours}");
    }
}

/// The engine whose numbers stand at the middle of their priors: 95 x 90 mm, eight cylinders.
fn prior() -> Engine {
    typical(Facts {
        name: "eight".into(),
        cylinders: 8,
        bore_m: REFERENCE.bore_m,
        stroke_m: REFERENCE.stroke_m,
        compression_ratio: REFERENCE.compression_ratio,
        inlet_valves: 2,
        fuelling: pullcast::car::Fuelling::Injection,
        redline_rpm: 6500.0,
        fuel: Fuel::petrol(95.0, None),
        drive: Drive::Rear,
        gearbox: Gearbox::Manual,
        gear_ratio: 1.0,
        final_ratio: 3.5,
        tyre_radius_m: 0.33,
    })
    .engine
}

/// About +2.4 % per unit of compression near 10 (from memory of measured engines): 2.0..2.8.
#[test]
fn a_unit_of_compression_gains_what_engines_gain() {
    let gain = prior()
        .combustion
        .compression_gain(&Fuel::petrol(95.0, None), 11.0)
        - 1.0;
    assert!((0.020..0.028).contains(&gain), "{gain}");
}

/// Worked chain at 6000 rpm (separate script): 5.103 l, 0.2709 kg/s, pumping 8.2, friction 39.5, brake 250.3 kW. Indicated
/// 298.0 kW at 1.1 MJ/kg; ours at the prior mean within its own 5 %; friction at 1.55 bar implies 60 bar and C at 0.04..0.055.
#[test]
fn worked_chain_is_inside_the_priors() {
    let engine = EngineGeometry {
        cylinder: REFERENCE,
        cylinders: 8,
    };
    close(engine.displacement_m3(), 5.103e-3, 2e-4);
    let work = prior()
        .combustion
        .prepare(&Fuel::petrol(95.0, None), 10.0)
        .work_j_kg_air(0.88);
    close(0.2709 * work, 298.0e3, 0.05);
    let friction = prior().friction.mean_pressure_pa(18.0, 60e5, 1.0);
    close(
        engine.power_of_mean_pressure_w(friction, 6000.0),
        39.5e3,
        0.32,
    );
    close(engine.power_of_mean_pressure_w(1e5, 6000.0), 25.5e3, 2e-3);
    let pumping = pumping_pa(98.5e3, 110e3, 1.15, 0.5, 20e3);
    assert!((4e3..10e3).contains(&engine.power_of_mean_pressure_w(pumping, 6000.0)));
}

/// Cross-check only: rubbing, reciprocating and auxiliary terms of Patton, Nitschke & Heywood 1989 (from memory) for a 95 × 90
/// V8 at 6000 rpm are 137 kPa without valve gear, 1.5..1.6 bar in all; later engines 25 % less, the prior ± 35 %.
#[test]
fn friction_prior_brackets_a_component_model() {
    let friction = prior().friction;
    let total = friction.mean_pressure_pa(18.0, 60e5, 1.0);
    let low = Friction {
        constant_pa: 30e3,
        per_speed_pa_s_m: 3.5e3,
        ..friction
    };
    assert!(low.mean_pressure_pa(18.0, 60e5, 1.0) < 1.6e5 && total > 1.37e5);
}

/// 60 °C oil adds 8..15 % to friction at 18 m/s, 60 bar (from memory).
#[test]
fn cold_oil_costs_eight_to_fifteen_percent() {
    let friction = prior().friction;
    let factor = Oil::default().factor(333.15, friction.oil_exponent);
    let rise = friction.mean_pressure_pa(18.0, 60e5, factor)
        / friction.mean_pressure_pa(18.0, 60e5, 1.0)
        - 1.0;
    assert!((0.08..0.15).contains(&rise), "{rise}");
}

struct GasRow {
    ethanol: bool,
    lambda: f64,
    kelvin: f64,
    cells: Vec<f64>,
}

/// High-pressure rows (30 bar) of the Cantera table.
fn gas_rows() -> impl Iterator<Item = GasRow> {
    GAS_TABLE.lines().skip(1).filter_map(|line| {
        let cells: Vec<f64> = line
            .split(',')
            .map(|cell| cell.parse().unwrap_or(f64::NAN))
            .collect();
        let row = GasRow {
            ethanol: line.starts_with("ethanol"),
            lambda: cells[1],
            kelvin: cells[2],
            cells,
        };
        (row.cells[3] > 1e6).then_some(row)
    })
}

fn fuel_of(row: &GasRow) -> Fuel {
    if row.ethanol {
        Fuel::ethanol()
    } else {
        Fuel::iso_octane()
    }
}

/// Heat-capacity ratio of the fresh charge, λ 0.75..1.2: 1.2e-3 is the fit's own worst.
#[test]
fn unburned_gamma_follows_the_table() {
    let mut seen = 0;
    for row in gas_rows().filter(|row| row.cells[6].is_finite() && row.lambda <= 1.2) {
        let ours = ChargeGas::new(&fuel_of(&row), row.lambda).unburned_gamma(row.kelvin);
        assert!(
            (ours - row.cells[6]).abs() < 1.2e-3,
            "{} {}: {ours}",
            row.lambda,
            row.kelvin
        );
        seen += 1;
    }
    assert!(seen > 100);
}

/// Energy released and warmth together: `h_b(T)` − `h_u(298)` from equilibrium at 1000..1600 K against ours. 1.2 % of the released
/// energy: composition at 1000..1400 K lies off the 1740 K freeze (rich), dissociation begins at 1600 K.
#[test]
fn enthalpy_of_products_closes_with_the_equilibrium_table() {
    let rows: Vec<GasRow> = gas_rows().collect();
    let mut seen = 0;
    for row in rows
        .iter()
        .filter(|row| (1200.0..=1600.0).contains(&row.kelvin))
    {
        let fuel = fuel_of(row);
        let fresh = rows
            .iter()
            .find(|other| {
                other.ethanol == row.ethanol && other.lambda == row.lambda && other.kelvin == 300.0
            })
            .expect("row at 300 K");
        let fresh_298 = fresh.cells[7] - 1.85 * fresh.cells[5];
        let products = Products::burned(&fuel, row.lambda);
        let ours =
            (products.sensible_enthalpy_j(row.kelvin) - products.released_j) / products.mass_kg;
        let expected = row.cells[12] - fresh_298;
        let released = products.released_j / products.mass_kg;
        assert!(
            (ours - expected).abs() < 0.012 * released,
            "{} {}: {ours} {expected}",
            row.lambda,
            row.kelvin
        );
        seen += 1;
    }
    assert!(seen >= 40, "{seen}");
}

/// Unreleased energy of rich products: carbon monoxide and hydrogen of the equilibrium at 1800 K against the closed water-gas
/// form frozen at 1740 K; 0.3 % of the fuel's energy.
#[test]
fn rich_products_keep_back_the_energy_equilibrium_keeps() {
    for row in gas_rows().filter(|row| row.kelvin == 1800.0 && row.lambda < 1.0) {
        let fuel = fuel_of(&row);
        let (molar, monoxide, hydrogen) = (row.cells[8], row.cells[15], row.cells[17]);
        let kept_j_kg = (monoxide * 282.98e6 + hydrogen * 241.82e6) / molar;
        let fuel_kg = 1.0 / (1.0 + fuel.stoichiometric_air_fuel * row.lambda);
        let expected = 1.0 - kept_j_kg / (fuel_kg * fuel.lower_heating_value_vapour_j_kg);
        let burned = Products::burned(&fuel, row.lambda);
        let given = (burned.mass_kg - 1.0) * fuel.lower_heating_value_vapour_j_kg;
        let ours = burned.released_j / given;
        assert!(
            (ours - expected).abs() < 3e-3,
            "{}: {ours} {expected}",
            row.lambda
        );
    }
    // Per kilogram of air, relative to stoichiometric: .964 at .90, .943 at .85, .920 at .80 (hand computation).
    let per_air = |lambda: f64| Products::burned(&Fuel::iso_octane(), lambda).released_j;
    for (lambda, expected) in [(0.90, 0.964), (0.85, 0.943), (0.80, 0.920)] {
        assert!(
            (per_air(lambda) / per_air(1.0) - expected).abs() < 1.5e-3,
            "{lambda}"
        );
    }
}

/// Enthalpy of fresh air with fuel vapour above 25 °C, J per kg of dry air: heat capacities 1007 and 1650 J/kgK (from
/// memory, near 320 K; the whole term is 1 % of the balance).
fn fresh_j(products: &Products, kelvin: f64) -> f64 {
    (1007.0 + (products.mass_kg - 1.0) * 1650.0) * (kelvin - 298.15)
}

fn full_load(ca50_deg: f64, lambda: f64) -> (Products, ExhaustInput) {
    let fuel = Fuel::petrol(95.0, None);
    let products = Products::burned(&fuel, lambda);
    let work = prior()
        .combustion
        .prepare(&fuel, 10.0)
        .work_j_kg_air(lambda);
    let wall_share = WallLoss::default().share(15.0, 1.0, ca50_deg);
    let input = ExhaustInput {
        completeness: 0.96,
        work_j_kg_air: work * prior().phasing.relative_work(ca50_deg) - 30e3,
        wall_share,
        inlet_j_kg_air: fresh_j(&products, 320.0),
        humidity_ratio: 0.0,
        flow_kg_s: 0.29,
    };
    (products, input)
}

/// Full load: 1050..1250 K behind the manifold (common practice). The ledger closes by an independent sum of its terms to 1e-9, and the
/// enthalpy at the temperature is that of the composition.
#[test]
fn exhaust_temperature_and_ledger_at_full_load() {
    let (products, input) = full_load(8.0, 0.88);
    let ledger = energy_ledger(&products, &input, &PortLoss::default());
    assert!((1050.0..1250.0).contains(&ledger.manifold_k), "{ledger:?}");
    let out = ledger.work_j_kg_air
        + ledger.wall_heat_j_kg_air
        + ledger.port_heat_j_kg_air
        + ledger.manifold_j_kg_air;
    close(out, ledger.released_j_kg_air + ledger.inlet_j_kg_air, 1e-9);
    close(
        products.sensible_enthalpy_j(ledger.valve_k),
        ledger.exhaust_j_kg_air,
        1e-9,
    );
}

/// Gradients of the temperature at the valve: retard of 10 deg heats (a script's T4 +80 K at valve opening; the mean of the whole
/// outflow moves less), richer cools (−10 K per −0.01 λ there for T4; a few K here).
#[test]
fn retard_heats_and_richness_cools_the_exhaust() {
    let valve = |ca50: f64, lambda: f64| {
        let (products, input) = full_load(ca50, lambda);
        energy_ledger(&products, &input, &PortLoss::default()).valve_k
    };
    let retard = valve(18.0, 0.88) - valve(8.0, 0.88);
    assert!((35.0..85.0).contains(&retard), "{retard}");
    let rich = (valve(8.0, 0.85) - valve(8.0, 0.90)) / 5.0;
    assert!((-12.0..-2.0).contains(&rich), "{rich}");
}

/// Ideal fuel-air cycle, λ = 0.9, r = 10 (Cantera 3.2): first law with the table's own work and no walls, against blowdown from the
/// table's T4, p4. Two routes to the same mean temperature; 4 % for blowdown's constant γ and shifting equilibrium.
#[test]
fn first_law_agrees_with_ideal_blowdown() {
    let text = include_str!("data/fuel_air/fuel_air_otto.csv");
    let line = text
        .lines()
        .find(|l| l.starts_with("isooctane,10,0.9,350.0,100000.0,0.05"))
        .expect("row");
    let v: Vec<f64> = line
        .split(',')
        .map(|cell| cell.parse().unwrap_or(f64::NAN))
        .collect();
    let fuel = Fuel::iso_octane();
    let products = Products::burned(&fuel, 0.9);
    let air_per_charge = v[15] * fuel.stoichiometric_air_fuel * 0.9;
    let input = ExhaustInput {
        completeness: 1.0,
        work_j_kg_air: v[14] / air_per_charge,
        wall_share: 0.0,
        // The table's 350 K is the mixture with 5 % residual at about 1180 K; the fresh part then entered at 302 K.
        inlet_j_kg_air: fresh_j(&products, 302.0),
        humidity_ratio: 0.0,
        flow_kg_s: 0.3,
    };
    let ledger = energy_ledger(&products, &input, &PortLoss::default());
    let blown = blowdown_k(v[11], v[12], 1e5, products.gamma(1450.0));
    close(ledger.valve_k, blown, 0.04);
}

proptest! {
    #[test]
    fn filling_times_index_never_passes_the_choking_bound(z in 0.0_f64..5.0, zc in 0.4_f64..1.2, p in 2.0_f64..8.0) {
        let filling = mach_filling(z, zc, p);
        prop_assert!(filling <= 1.0 && filling * z <= zc * (1.0 + 1e-12));
        prop_assert!(mach_filling(z + 0.01, zc, p) < filling + 1e-12);
    }

    #[test]
    fn trapped_air_is_linear_and_one_without_back_pressure(p in 0.3e5_f64..3e5, pe in 0.9e5_f64..3e5, r in 7.0_f64..15.0) {
        let sum = trapped_fraction(p, pe, r, 1.35);
        let twice = trapped_fraction(2.0 * p, 2.0 * pe, r, 1.35);
        prop_assert!((twice - 2.0 * sum).abs() < 1e-6);
        prop_assert!((exhaust_pressure_factor(p, p, r, 1.35) - 1.0).abs() < 1e-12);
        let gain = Overlap { factor_deg_m: 2.0 }.gain(p, pe, 3000.0, r, 1.35);
        prop_assert!((-0.85..=1.0 / (r - 1.0)).contains(&gain) && (gain > 0.0) == (p > pe));
    }

    #[test]
    fn retard_never_raises_torque_past_best(late in 0.0_f64..70.0, multiplier in 0.5_f64..1.8) {
        let phasing = Phasing { mbt_ca50_deg: 8.0, retard_multiplier: multiplier };
        prop_assert!(phasing.relative_work(8.0 + late + 0.5) <= phasing.relative_work(8.0 + late));
        prop_assert!(phasing.relative_work(8.0 - late) <= 1.0);
    }

    #[test]
    fn friction_is_positive_and_rises_with_speed_and_cold(sp in 0.1_f64..30.0, bar in 10.0_f64..150.0, oil_k in 270.0_f64..420.0) {
        let friction = prior().friction;
        let factor = Oil::default().factor(oil_k, friction.oil_exponent);
        let here = friction.mean_pressure_pa(sp, bar * 1e5, factor);
        prop_assert!(here > 0.0 && friction.mean_pressure_pa(sp + 0.1, bar * 1e5, factor) > here);
        let hotter = Oil::default().factor(oil_k + 5.0, friction.oil_exponent);
        prop_assert!(friction.mean_pressure_pa(sp, bar * 1e5, hotter) < here);
    }

    #[test]
    fn more_work_means_a_cooler_exhaust(work in 0.2e6_f64..1.3e6, lambda in 0.7_f64..1.3) {
        let (products, input) = full_load(8.0, lambda);
        let at = |work_j_kg_air: f64| {
            energy_ledger(&products, &ExhaustInput { work_j_kg_air, ..input }, &PortLoss::default())
        };
        let (less, more) = (at(work), at(work + 1e4));
        prop_assert!(more.valve_k < less.valve_k && less.manifold_k.is_finite());
    }
}
