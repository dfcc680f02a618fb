//! The crank-angle layer: one settled point (5 ms are the limit, one core) and a full-load map of 20 (0.2 s, two cores).

use divan::Bencher;
use pullcast::cycle::valve::{EXHAUST_FLOW, INLET_FLOW, Valve};
use pullcast::cycle::{CycleInput, CylinderCycle, Spark, USUAL_BURNING_SHARE, over_speed};
use pullcast::engine::CylinderGeometry;
use pullcast::engine::heat_transfer::Walls;
use pullcast::engine::wiebe::BurnScaling;
use pullcast::fuel::Fuel;

/// A two-valve-a-side cylinder, knock-limited below 3500 rpm without boost.
fn input(rpm: f64, inlet_pa: f64) -> CycleInput {
    let inlet = Valve {
        diameter_m: 0.036,
        count: 2,
        lift_m: 0.0095,
        duration_deg: 245.0,
        centre_line_deg: 112.0,
        flow: INLET_FLOW,
    };
    CycleInput {
        geometry: CylinderGeometry {
            bore_m: 0.095,
            stroke_m: 0.09,
            rod_m: 0.15,
            compression_ratio: 10.0,
        },
        rpm,
        fuel: Fuel::petrol(95.0, None),
        lambda: 0.88,
        humidity_ratio: 0.008,
        inlet_pa,
        inlet_k: 310.0,
        exhaust_pa: 108e3,
        inlet,
        exhaust: Valve {
            diameter_m: 0.031,
            flow: EXHAUST_FLOW,
            ..inlet
        },
        burn: BurnScaling::default(),
        burning_share: USUAL_BURNING_SHARE,
        walls: Some(Walls::default()),
        octane: 95.0,
        delay_multiplier: 1.0,
        spark: Spark::Search { retard_deg: 0.0 },
    }
}

fn cycle(rpm: f64, inlet_pa: f64) -> CylinderCycle {
    CylinderCycle::new(input(rpm, inlet_pa)).expect("an admitted input")
}

#[divan::bench(args = [1000.0, 2000.0, 4000.0, 7000.0])]
fn settled_point(bencher: Bencher, rpm: f64) {
    bencher.bench(|| cycle(rpm, 98e3).run());
}

#[divan::bench(args = [1000.0, 2000.0, 4000.0, 7000.0])]
fn settled_point_boosted(bencher: Bencher, rpm: f64) {
    bencher.bench(|| cycle(rpm, 170e3).run());
}

#[divan::bench]
fn gas_of_a_mixture(bencher: Bencher) {
    bencher.bench(|| cycle(3000.0, 98e3));
}

/// The engine's own exchange of gas, half an engine of each kind.
#[divan::bench(sample_count = 20)]
fn map_of_20_points(bencher: Bencher) {
    bencher.bench(|| {
        let cycles: Vec<CylinderCycle> = (0..20)
            .map(|k| cycle(1200.0 + 300.0 * f64::from(k), 98e3))
            .collect();
        over_speed(&cycles)
    });
}
