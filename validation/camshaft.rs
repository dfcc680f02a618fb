//! Another camshaft's closing against a cylinder filled through its valve alone, computed apart from the model.

use pullcast::engine::CylinderGeometry;
use pullcast::engine::breathing::InletValves;
use pullcast::engine::camshaft::closing_factor;

const TABLE: &str = include_str!("data/camshaft/camshaft.csv");

/// Filling at 1000 rpm with 245 deg and a coefficient of 0.35, by closing.
fn filling(closing: &str) -> f64 {
    TABLE
        .lines()
        .find(|line| line.starts_with(&format!("245,{closing},0.35,1000,")))
        .and_then(|line| line.rsplit(',').next()?.parse().ok())
        .expect("a row for this closing")
}

#[test]
fn far_below_the_ram_speed_a_moved_closing_gives_back_what_the_valve_lets_out() {
    let cylinder = CylinderGeometry {
        bore_m: 0.086,
        stroke_m: 0.086,
        rod_m: 0.1393,
        compression_ratio: 10.5,
    };
    let valves = InletValves {
        diameter_m: 0.375 * 0.086,
        count: 2,
        mean_flow_coefficient: 0.35,
        open_duration_deg: 245.0,
        closing_abdc_deg: 55.0,
    };
    for (moved, closing) in [(9.0, "64"), (-9.0, "46")] {
        let computed = filling(closing) / filling("55");
        let factor = closing_factor(&valves, &cylinder, moved, 1000.0, 1e9);
        // The angle at which the valve is as good as shut is a round number: a degree of it moves the factor by 0.001.
        assert!(
            (factor - computed).abs() < 0.004,
            "{moved}: {factor} {computed}"
        );
    }
}
