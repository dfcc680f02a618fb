//! Knock: the delay, the integral and the fast map, against computed cases. The correlation itself is from memory.

use proptest::prelude::*;
use pullcast::engine::CylinderGeometry;
use pullcast::engine::heat_transfer::Walls;
use pullcast::engine::knock::{LivengoodWu, delay_rate_per_s};
use pullcast::engine::knock_map::{BURN_COMPLETENESS, KnockConditions, KnockMap, KnockMapInput};
use pullcast::engine::knock_maps::KnockMaps;
use pullcast::fuel::Fuel;
use std::sync::LazyLock;

const POINTS: &str = include_str!("data/knock/knock_delay_points.csv");
const LIMITS: &str = include_str!("data/knock/limits.csv");
const CASES: &str = include_str!("data/knock/knock.csv");
const ATMOSPHERE_PA: f64 = 101_325.0;

fn numbers(line: &str) -> Vec<f64> {
    line.split(',')
        .map(|cell| cell.parse().unwrap_or(f64::NAN))
        .collect()
}

/// Equation (3.8) as written, computed apart (Python): 40 atm, 900 K, ON 95; 60 atm; ON 100; 950 K. 0.01 % of printed digits.
#[test]
fn delay_matches_the_worked_values() {
    for (atm, kelvin, octane, ms) in [
        (40.0, 900.0, 95.0, 1.5860),
        (60.0, 900.0, 95.0, 0.79604),
        (40.0, 900.0, 100.0, 2.0496),
        (40.0, 950.0, 95.0, 1.1166),
    ] {
        let delay = 1.0 / delay_rate_per_s(atm * ATMOSPHERE_PA, kelvin, octane);
        assert!((delay * 1e3 / ms - 1.0).abs() < 1e-4, "{delay}");
    }
}

/// 64 single values of a Python script of the same formula; rounding only.
#[test]
fn delay_matches_the_table_of_points() {
    let mut seen = 0;
    for line in POINTS.lines().skip(1) {
        let v = numbers(line);
        assert!((delay_rate_per_s(v[1], v[2], v[0]) * v[3] - 1.0).abs() < 1e-12);
        seen += 1;
    }
    assert_eq!(seen, 64);
}

/// The analytic trace of the script: rod ratio 3.5, motored exponent 1.32, D = 2.9, end gas 1.33.
fn trace(angle_deg: f64, ratio: f64, p_ivc: f64, t_ivc: f64, spark: f64, burn: f64) -> (f64, f64) {
    let volume = |degrees: f64| {
        let t = degrees.to_radians();
        1.0 / (ratio - 1.0)
            + 0.5 * (3.5 + 1.0 - t.cos() - (3.5_f64.powi(2) - t.sin().powi(2)).sqrt())
    };
    let motored = p_ivc * (volume(-130.0) / volume(angle_deg)).powf(1.32);
    let z = ((angle_deg - spark) / burn).max(0.0);
    let pressure = motored * (1.0 + 2.9 * (1.0 - (-5.0 * z.powi(3)).exp()));
    (pressure, t_ivc * (pressure / p_ivc).powf(0.33 / 1.33))
}

/// All 432 integrals (`SciPy` DOP853 at 1e-12). The trapezoid at 0.25° has an error of 2e-5; 1e-4 leaves room for the kink
/// at the spark.
#[test]
fn integral_matches_scipy_on_the_analytic_trace() {
    let mut seen = 0;
    for line in CASES.lines().skip(1) {
        let v = numbers(line);
        let (octane, rpm, spark, burn, expected) = (v[0], v[1], v[5], v[6], v[7]);
        let at = |angle: f64| trace(angle, v[2], v[3], v[4], spark, burn);
        let (p, t) = at(-130.0);
        let mut integral = LivengoodWu::start(p, t, octane);
        let step = 0.25;
        let mut onset = None;
        let mut angle = -130.0;
        while angle < spark + burn {
            angle += step;
            let (p, t) = at(angle);
            let before = integral.integral;
            integral.advance(step / (6.0 * rpm), p, t);
            if onset.is_none() && integral.integral >= 1.0 {
                onset =
                    Some(angle - step * (integral.integral - 1.0) / (integral.integral - before));
            }
        }
        assert!(
            (integral.integral / expected - 1.0).abs() < 1e-4,
            "{line}: {}",
            integral.integral
        );
        // Onset angle printed where it exists; chord inversion at 0.25° is good to 0.01°.
        match onset {
            Some(angle) => assert!((angle - v[9]).abs() < 0.01, "{line}: {angle}"),
            None => assert!(v[9].is_nan()),
        }
        seen += 1;
    }
    assert_eq!(seen, 432);
}

const REFERENCE: CylinderGeometry = CylinderGeometry {
    bore_m: 0.095,
    stroke_m: 0.090,
    rod_m: 0.150,
    compression_ratio: 10.0,
};

fn input(compression_ratio: f64) -> KnockMapInput {
    KnockMapInput {
        geometry: CylinderGeometry {
            compression_ratio,
            ..REFERENCE
        },
        fuel: Fuel::petrol(95.0, None),
        lambda: 0.88,
        residual_fraction: 0.05,
        completeness: BURN_COMPLETENESS,
        walls: Some(Walls::default()),
    }
}

static MAP: LazyLock<KnockMap> = LazyLock::new(|| KnockMap::build(&input(10.0)));

fn conditions(bar: f64, kelvin: f64, rpm: f64, octane: f64, duration: f64) -> KnockConditions {
    KnockConditions {
        pressure_pa: bar * 1e5,
        temperature_k: kelvin,
        rpm,
        octane,
        burn_duration_deg: duration,
        delay_multiplier: 1.0,
    }
}

/// Limit by bisection on whole crank-angle cycles.
fn direct_limit(input: &KnockMapInput, at: &KnockConditions) -> f64 {
    let (mut low, mut high) = (-5.0, 65.0);
    for _ in 0..18 {
        let middle = 0.5 * (low + high);
        if input.cycle(at, middle).run().knock_integral > 1.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Knock-limited CA50 of the reference cylinder at λ = 0.88 from a closed cycle of a Python script (`make_limits.py`: SciPy LSODA, iso-octane,
/// the same heat). Empty: earlier than 2 deg. Tolerance 1.0 deg: half of it the map's own against whole cycles, the rest for gases that
/// differ by 0.003 in their heat-capacity ratio and 1 % of heat.
#[test]
fn limits_agree_with_an_independent_cycle() {
    // The script's gas is iso-octane, its wall area 2 A_p + 4 V/B.
    let walls = Some(Walls {
        head_factor: 1.0,
        ..Walls::default()
    });
    let map = KnockMap::build(&KnockMapInput {
        fuel: Fuel::iso_octane(),
        walls,
        ..input(10.0)
    });
    let (mut held, mut free) = (0, 0);
    for line in LIMITS.lines().skip(1) {
        let v = numbers(line);
        let limit = map
            .knock_limit_near(&conditions(v[0], v[1], v[3], v[2], v[4]), 0.0, 0.0)
            .ca50_deg;
        let expected = v[5];
        if expected.is_nan() {
            assert!(limit < 3.0, "{line}: {limit}");
            free += 1;
        } else {
            assert!((limit - expected).abs() < 1.0, "{line}: {limit}");
            held += 1;
        }
    }
    assert!(held > 25 && free > 2, "{held} {free}");
}

/// The level is Douaud & Eyzat's at borderline knock of engines without boost: integrals with their own numbers, from the Python cycle
/// (`make_limits.py` prints them), against this program's cycle with the numbers in use. 5 %: 3 % of the rounded constant, the
/// rest of gases and heat that differ by 1 %; it is a tenth of the doubt of the delay.
#[test]
fn the_level_is_douaud_and_eyzats_at_borderline_knock() {
    let input = KnockMapInput {
        fuel: Fuel::iso_octane(),
        walls: Some(Walls {
            head_factor: 1.0,
            ..Walls::default()
        }),
        ..input(10.0)
    };
    for (at, theirs) in [
        (conditions(1.05, 352.0, 1500.0, 91.0, 42.0), 1.4420),
        (conditions(1.10, 355.0, 2500.0, 95.0, 48.0), 0.8861),
    ] {
        let ours = input.cycle(&at, 15.0).run().knock_integral;
        assert!((ours / theirs - 1.0).abs() < 0.05, "{ours} {theirs}");
    }
}

/// Earliest half burn of best torque that is believed of any engine, deg: a limit before it is never run.
const EARLIEST_BEST_DEG: f64 = 4.0;

/// The map against whole cycles over 0.9..2.6 bar, 300..420 K, 2000..6500 rpm, 38..78 deg: measured worst 0.28 deg.
#[test]
fn map_is_within_a_third_of_a_degree_of_the_cycle() {
    let input = input(10.0);
    let mut checked = 0;
    for bar in [0.9, 1.6, 2.6] {
        for kelvin in [300.0, 343.0, 420.0] {
            for (rpm, duration) in [
                (2000.0, 38.0),
                (2000.0, 78.0),
                (4000.0, 52.0),
                (6500.0, 64.0),
            ] {
                let at = conditions(bar, kelvin, rpm, 95.0, duration);
                let limit = MAP.knock_limit_near(&at, EARLIEST_BEST_DEG, EARLIEST_BEST_DEG);
                if limit.limited && !limit.beyond_table {
                    let direct = direct_limit(&input, &at);
                    assert!(
                        (limit.ca50_deg - direct).abs() < 0.35,
                        "{at:?}: {} {direct}",
                        limit.ca50_deg
                    );
                    checked += 1;
                }
            }
        }
    }
    assert!(checked > 15, "{checked}");
}

/// Largest differences between shared maps and maps made for the same cylinder, over mixtures where the parabolas err most and either side
/// of the places where the gas bends (λ 0.75 and 1): of the limit, deg, and of the peak pressure, relative.
fn worst_of_shared(maps: &KnockMaps, cylinders: &[[f64; 4]]) -> (f64, f64) {
    let (mut worst_deg, mut worst_peak) = (0.0_f64, 0.0_f64);
    let mut limited = 0;
    for &[bore, stroke, rod, ratio] in cylinders {
        for lambda in [0.53, 0.66, 0.723, 0.776, 0.848, 0.9, 0.974, 1.03, 1.15] {
            let asked = KnockMapInput {
                geometry: CylinderGeometry {
                    bore_m: bore * REFERENCE.bore_m,
                    stroke_m: stroke * REFERENCE.stroke_m,
                    rod_m: rod * REFERENCE.rod_m,
                    compression_ratio: ratio * REFERENCE.compression_ratio,
                },
                lambda,
                ..input(10.0)
            };
            assert!(maps.hold(&asked));
            let (shared, made) = (maps.at(&asked), KnockMap::build(&asked));
            for (bar, kelvin, rpm) in [
                (1.0, 350.0, 2000.0),
                (1.5, 340.0, 4000.0),
                (2.4, 380.0, 6000.0),
            ] {
                let at = conditions(bar, kelvin, rpm, 95.0, 55.0);
                let limits = [&shared, &made].map(|map: &KnockMap| {
                    map.knock_limit_near(&at, EARLIEST_BEST_DEG, EARLIEST_BEST_DEG)
                });
                limited += usize::from(limits[0].limited && !limits[0].beyond_table);
                worst_deg = worst_deg.max((limits[0].ca50_deg - limits[1].ca50_deg).abs());
                for ca50 in [4.0, 14.0, 26.0, 41.0] {
                    let peak = |map: &KnockMap| map.peak_pressure_ratio(kelvin, 55.0, ca50);
                    worst_peak = worst_peak.max((peak(&shared) / peak(&made) - 1.0).abs());
                }
            }
        }
    }
    assert!(limited > 12 * cylinders.len(), "{limited}");
    (worst_deg, worst_peak)
}

/// Maps had from the shared ones are those made for the same cylinder and mixture. Measured: itself 0.016 deg and 0.02 % of the peak, within
/// 5 % 0.016 deg and 0.13 %, out to 20 % 0.047 deg and 1.2 %, the last where a late burn meets the compression peak: the map strays ten times
/// as far from whole cycles.
#[test]
fn shared_maps_are_those_made_for_their_cylinder_and_mixture() {
    let maps = KnockMaps::new(input(10.0));
    let (deg, peak) = worst_of_shared(&maps, &[[1.0; 4]]);
    assert!(deg < 0.04 && peak < 1e-3, "itself: {deg} {peak}");
    let near = [
        [1.0, 1.0, 1.0, 0.96],
        [1.0, 1.0, 1.0, 1.02],
        [1.02, 0.96, 1.0, 1.0],
        [0.97, 1.05, 1.03, 1.0],
        [1.02, 0.96, 0.97, 0.98],
    ];
    let (deg, peak) = worst_of_shared(&maps, &near);
    assert!(deg < 0.04 && peak < 2e-3, "near: {deg} {peak}");
    let far = [
        [1.0, 1.0, 1.0, 0.9],
        [1.0, 1.0, 1.0, 1.1],
        [0.9, 1.2, 1.0, 1.0],
        [1.1, 0.84, 1.0, 1.0],
        [0.95, 1.1, 1.05, 1.06],
    ];
    let (deg, peak) = worst_of_shared(&maps, &far);
    assert!(deg < 0.05 && peak < 0.02, "far: {deg} {peak}");
}

/// A node is the map itself; octane is no business of a map; another fuel or a far cylinder is not held, and then made.
#[test]
fn shared_maps_know_what_they_hold() {
    let maps = KnockMaps::new(input(10.0));
    let node = KnockMapInput {
        lambda: 0.875,
        ..input(10.0)
    };
    assert_eq!(maps.at(&node), KnockMap::build(&node));
    let better = KnockMapInput {
        fuel: Fuel::petrol(102.0, None),
        ..node
    };
    assert!(maps.hold(&better));
    let elsewhere = [
        input(12.4),
        KnockMapInput {
            fuel: Fuel::iso_octane(),
            ..node
        },
        KnockMapInput {
            geometry: CylinderGeometry {
                bore_m: 0.118,
                ..node.geometry
            },
            ..node
        },
    ];
    for other in elsewhere {
        assert!(!maps.hold(&other));
        assert_eq!(maps.at(&other), KnockMap::build(&other));
    }
}

/// Peak pressure of the map against whole cycles: measured worst 2.1 %, where a late burn meets the compression peak.
#[test]
fn peak_pressure_of_the_map_follows_the_cycle() {
    let input = input(10.0);
    for kelvin in [305.0, 350.0, 440.0] {
        for duration in [40.0, 57.0, 80.0] {
            for ca50 in [2.0, 8.0, 24.0, 37.0, 52.0] {
                let at = conditions(1.4, kelvin, 4000.0, 95.0, duration);
                let direct = input.cycle(&at, ca50).run().peak_pressure_pa / at.pressure_pa;
                let mapped = MAP.peak_pressure_ratio(kelvin, duration, ca50);
                assert!(
                    (mapped / direct - 1.0).abs() < 0.025,
                    "{kelvin} {duration} {ca50}: {mapped} {direct}"
                );
            }
        }
    }
}

proptest! {
    #[test]
    fn integral_rises_with_pressure_and_heat_and_falls_with_octane_speed_and_retard(
        bar in 0.5_f64..3.0, kelvin in 290.0_f64..465.0, rpm in 1000.0_f64..8000.0,
        octane in 85.0_f64..110.0, duration in 35.0_f64..85.0, ca50 in 0.0_f64..50.0,
    ) {
        let at = conditions(bar, kelvin, rpm, octane, duration);
        let integral = |at: KnockConditions| MAP.knock_integral(&at, ca50);
        let here = integral(at);
        let denser = integral(KnockConditions { pressure_pa: at.pressure_pa * 1.01, ..at });
        let hotter = integral(KnockConditions { temperature_k: kelvin + 1.0, ..at });
        let better = integral(KnockConditions { octane: octane + 0.5, ..at });
        let faster = integral(KnockConditions { rpm: rpm * 1.01, ..at });
        prop_assert!(denser > here && hotter > here);
        prop_assert!(better < here && faster < here);
        prop_assert!(MAP.knock_integral(&at, ca50 + 0.5) < here);
    }

    #[test]
    fn limit_is_never_earlier_than_best_torque_and_always_finite(
        bar in 0.1_f64..8.0, kelvin in 200.0_f64..700.0, rpm in 300.0_f64..12_000.0,
        octane in 60.0_f64..130.0, duration in 15.0_f64..120.0, mbt in 2.0_f64..14.0,
    ) {
        let limit = MAP.knock_limit_near(&conditions(bar, kelvin, rpm, octane, duration), mbt, mbt);
        prop_assert!(limit.ca50_deg.is_finite() && limit.ca50_deg >= mbt);
        prop_assert!(limit.limited || limit.ca50_deg == mbt);
    }
}
