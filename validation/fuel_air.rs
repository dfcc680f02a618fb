//! The ideal fuel-air cycle against the whole computed table (Cantera 3.2) and values computed apart from it.

use proptest::prelude::*;
use pullcast::engine::fuel_air::{MixtureCurve, TableFuel, condition_factor, efficiency};
use pullcast::fuel::Fuel;

const TABLE: &str = include_str!("data/fuel_air/fuel_air_otto.csv");

struct Row {
    fuel: TableFuel,
    ratio: f64,
    lambda: f64,
    t1_k: f64,
    p1_pa: f64,
    residual: f64,
    efficiency: f64,
    work_j_kg_charge: f64,
    fuel_kg_kg_charge: f64,
}

fn rows() -> impl Iterator<Item = Row> {
    TABLE.lines().skip(1).map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |index: usize| cells[index].parse::<f64>().expect("number");
        Row {
            fuel: *TableFuel::ALL
                .iter()
                .find(|fuel| fuel.key() == cells[0])
                .expect("fuel"),
            ratio: number(1),
            lambda: number(2),
            t1_k: number(3),
            p1_pa: number(4),
            residual: number(5),
            efficiency: number(16),
            work_j_kg_charge: number(14),
            fuel_kg_kg_charge: number(15),
        }
    })
}

fn is_base(row: &Row) -> bool {
    row.t1_k == 350.0 && row.p1_pa == 1e5 && row.residual == 0.05
}

/// The nodes carry the printed eight digits; nothing may move them.
#[test]
fn every_node_of_the_table_is_reproduced() {
    let mut seen = 0;
    for row in rows().filter(|row| is_base(row) && row.ratio.fract() == 0.0) {
        let ours = efficiency(row.fuel, row.ratio, row.lambda);
        assert!((ours / row.efficiency - 1.0).abs() < 1e-10);
        seen += 1;
    }
    assert!(seen >= 630, "{seen}");
}

/// r = 9.5 was computed but is no node of ours: a true error of the interpolation in compression, below 2e-4.
#[test]
fn a_compression_ratio_between_nodes_is_met() {
    let mut seen = 0;
    for row in rows().filter(|row| is_base(row) && row.ratio == 9.5) {
        let ours = efficiency(row.fuel, row.ratio, row.lambda);
        assert!(
            (ours / row.efficiency - 1.0).abs() < 2e-4,
            "{} {}",
            row.lambda,
            ours / row.efficiency
        );
        seen += 1;
    }
    assert!(seen >= 4);
}

/// All 576 rows at other temperature, pressure and residual: the linear-in-logarithm factor is within 0.55 % of efficiency.
/// Its least-squares worst is 0.51 %; interpolation at r = 9.5 adds a little.
#[test]
fn conditions_move_efficiency_as_computed() {
    let mut worst = 0.0_f64;
    for row in rows().filter(|row| row.fuel == TableFuel::IsoOctane && !is_base(row)) {
        let ours = efficiency(row.fuel, row.ratio, row.lambda)
            * condition_factor(row.lambda, row.t1_k, row.p1_pa, row.residual);
        worst = worst.max((ours / row.efficiency - 1.0).abs());
    }
    assert!(worst < 5.5e-3 && worst > 1e-4, "{worst}");
}

/// A separate Cantera run at T₁ 330 K, residual 5 %, λ = 1: r 8 .4316, 9 .4503, 9.5 .4587, 10 .4665, 10.5 .4739, 11 .4809,
/// 11.5 .4874, 12 .4936, 13 .5051, 14 .5155 (printed to 1e-4). 0.2 % for the temperature factor.
#[test]
fn efficiency_at_330_kelvin_matches_a_separate_run() {
    for (ratio, expected) in [
        (8.0, 0.4316),
        (9.0, 0.4503),
        (9.5, 0.4587),
        (10.0, 0.4665),
        (10.5, 0.4739),
        (11.0, 0.4809),
        (11.5, 0.4874),
        (12.0, 0.4936),
        (13.0, 0.5051),
        (14.0, 0.5155),
    ] {
        let ours =
            efficiency(TableFuel::IsoOctane, ratio, 1.0) * condition_factor(1.0, 330.0, 1e5, 0.05);
        assert!(
            (ours / expected - 1.0).abs() < 2e-3,
            "{ratio} {ours} {expected}"
        );
    }
}

/// Work per kilogram of air relative to λ = 1 at r = 10, a separate Cantera run at T₁ = 330 K printed to three digits: 0.15 %,
/// of which 0.05 % is the print and the rest λ = 0.70, where the temperature factor is held from 0.80.
#[test]
fn work_per_air_peaks_slightly_rich() {
    let curve = MixtureCurve::new(&Fuel::iso_octane(), 10.0);
    let one = curve.work_j_kg_air(1.0);
    for (lambda, expected) in [
        (1.20, 0.869),
        (1.10, 0.933),
        (1.05, 0.967),
        (0.95, 1.007),
        (0.92, 1.006),
        (0.90, 1.004),
        (0.88, 1.001),
        (0.85, 0.9965),
        (0.80, 0.987),
        (0.75, 0.975),
        (0.70, 0.960),
    ] {
        let cooler = |lambda: f64| condition_factor(lambda, 330.0, 1e5, 0.05);
        let ours = curve.work_j_kg_air(lambda) * cooler(lambda) / (one * cooler(1.0));
        assert!((ours - expected).abs() < 1.5e-3, "{lambda} {ours}");
    }
}

/// The curve's work against the table's own work per kilogram of charge. Fuel constants differ by 0.06 % in air demand
/// (carbon dioxide in air); 0.15 %.
#[test]
fn work_per_air_is_the_tables_work() {
    for (key, fuel) in [
        (TableFuel::IsoOctane, Fuel::iso_octane()),
        (TableFuel::Ethanol, Fuel::ethanol()),
        (TableFuel::Methanol, Fuel::methanol()),
    ] {
        let curve = MixtureCurve::new(&fuel, 11.0);
        for row in rows().filter(|row| is_base(row) && row.fuel == key && row.ratio == 11.0) {
            let fuel_per_air = 1.0 / (fuel.stoichiometric_air_fuel * row.lambda);
            let per_air = row.work_j_kg_charge * fuel_per_air / row.fuel_kg_kg_charge;
            assert!(
                (curve.work_j_kg_air(row.lambda) / per_air - 1.0).abs() < 1.5e-3,
                "{key:?} {}",
                row.lambda
            );
        }
    }
}

/// Vapour fuel, per kilogram of air, against iso-octane: ethanol +3.8 %, methanol +8.8 % (a separate Cantera run; 0.4 points).
#[test]
fn alcohols_give_more_work_per_kilogram_of_air() {
    let work = |fuel: Fuel| MixtureCurve::new(&fuel, 10.0).work_j_kg_air(1.0);
    let base = work(Fuel::iso_octane());
    assert!(
        (work(Fuel::ethanol()) / base - 1.038).abs() < 4e-3,
        "{}",
        work(Fuel::ethanol()) / base
    );
    assert!(
        (work(Fuel::methanol()) / base - 1.088).abs() < 4e-3,
        "{}",
        work(Fuel::methanol()) / base
    );
}

proptest! {
    #[test]
    fn efficiency_rises_with_compression_and_with_leanness(
        fuel in 0_usize..6, ratio in 7.0_f64..15.0, lambda in 0.65_f64..1.45,
    ) {
        let fuel = TableFuel::ALL[fuel];
        let here = efficiency(fuel, ratio, lambda);
        prop_assert!(efficiency(fuel, ratio + 0.1, lambda) > here);
        prop_assert!(efficiency(fuel, ratio, lambda + 0.01) > here);
        prop_assert!(here < 1.0 - ratio.powf(-0.4));
    }
}
