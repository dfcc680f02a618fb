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
const CASES: &str = include_str!("data/knock/knock.csv");
const ATMOSPHERE_PA: f64 = 101_325.0;

fn numbers(line: &str) -> Vec<f64> {
    line.split(',')
        .map(|cell| cell.parse().unwrap_or(f64::NAN))
        .collect()
}

/// Douaud & Eyzat as written, computed apart: 40 atm, 800 K, ON 95; 60 atm; ON 100; 850 K. 0.01 % of printed digits.
#[test]
fn delay_matches_the_worked_values() {
    for (atm, kelvin, octane, ms) in [
        (40.0, 800.0, 95.0, 3.2441),
        (60.0, 800.0, 95.0, 1.6283),
        (40.0, 800.0, 100.0, 3.8626),
        (40.0, 850.0, 95.0, 2.4533),
    ] {
        let delay = 1.0 / delay_rate_per_s(atm * ATMOSPHERE_PA, kelvin, octane);
        assert!((delay * 1e3 / ms - 1.0).abs() < 1e-4);
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

/// Knock-limited CA50 of the reference cylinder at λ = 0.88, from an independent script (its heat release is not stated).
/// NaN: best torque, i.e. a limit earlier than about 8 deg. Tolerance 2.0 deg: 4 % of heat released, the doubt of
/// [`BURN_COMPLETENESS`], moves the limit by 1.2 deg and the gas model by 0.3; measured worst 1.6 deg, ours later.
#[test]
fn limits_agree_with_an_independent_cycle() {
    const MBT: f64 = f64::NAN;
    let cases: [(f64, f64, f64, [f64; 3]); 12] = [
        (1.0, 350.0, 87.0, [18.0, MBT, MBT]),
        (1.0, 350.0, 91.0, [15.0, MBT, MBT]),
        (1.0, 350.0, 98.0, [10.0, MBT, MBT]),
        (1.4, 350.0, 91.0, [26.0, 14.5, MBT]),
        (1.4, 350.0, 95.0, [23.0, 11.5, MBT]),
        (1.4, 350.0, 98.0, [21.0, 9.0, MBT]),
        (1.5, 370.0, 91.0, [32.0, 19.0, 12.0]),
        (1.5, 370.0, 95.0, [28.5, 16.0, 8.5]),
        (1.5, 370.0, 98.0, [26.0, 14.0, MBT]),
        (2.0, 360.0, 91.0, [45.0, 27.0, 20.5]),
        (2.0, 360.0, 98.0, [36.0, 22.0, 15.5]),
        (2.0, 360.0, 105.0, [30.0, 17.5, 11.0]),
    ];
    // The script's gas was iso-octane, its wall area 2 A_p + 4 V/B.
    let walls = Some(Walls {
        head_factor: 1.0,
        ..Walls::default()
    });
    let map = KnockMap::build(&KnockMapInput {
        fuel: Fuel::iso_octane(),
        walls,
        ..input(10.0)
    });
    for (bar, kelvin, octane, limits) in cases {
        for ((rpm, duration), expected) in [(2000.0, 48.0), (4000.0, 55.0), (6000.0, 62.0)]
            .into_iter()
            .zip(limits)
        {
            let limit = map
                .knock_limit_near(&conditions(bar, kelvin, rpm, octane, duration), 0.0, 0.0)
                .ca50_deg;
            let label = format!("{bar} bar {kelvin} K ON {octane} {rpm} rpm: {limit:.1}");
            if expected.is_nan() {
                assert!(limit < 10.0, "{label}");
            } else {
                assert!(
                    (limit - expected).abs() < 2.0,
                    "{label}, expected {expected}"
                );
            }
        }
    }
}

/// Slopes at 4000 rpm, 1.4 bar, 350 K, ON 95 of the same independent script, per +10 K, +0.1 bar, +1 r, −3 ON: +1.0, +2.5, +4, +2
/// deg. They are printed to half a degree and depend on where they are taken: 40 %.
#[test]
fn slopes_of_the_limit_have_the_printed_size() {
    let base = conditions(1.4, 350.0, 4000.0, 95.0, 55.0);
    let limit = |at: &KnockConditions| MAP.knock_limit_near(at, 0.0, 0.0).ca50_deg;
    let here = limit(&base);
    let hotter = limit(&KnockConditions {
        temperature_k: 360.0,
        ..base
    }) - here;
    let denser = limit(&KnockConditions {
        pressure_pa: 1.5e5,
        ..base
    }) - here;
    let poorer = limit(&KnockConditions {
        octane: 92.0,
        ..base
    }) - here;
    let tighter = KnockMap::build(&input(11.0))
        .knock_limit_near(&base, 0.0, 0.0)
        .ca50_deg
        - here;
    for (slope, expected) in [(hotter, 1.0), (denser, 2.5), (tighter, 4.0), (poorer, 2.0)] {
        assert!((slope / expected - 1.0).abs() < 0.4, "{slope} {expected}");
    }
}

/// The map against whole cycles over 0.9..2.6 bar, 300..420 K, 2000..6500 rpm, 38..78 deg: measured worst 0.41 deg.
#[test]
fn map_is_within_half_a_degree_of_the_cycle() {
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
                let limit = MAP.knock_limit_near(&at, -1.0, -1.0);
                if limit.limited && !limit.beyond_table {
                    let direct = direct_limit(&input, &at);
                    assert!(
                        (limit.ca50_deg - direct).abs() < 0.5,
                        "{at:?}: {} {direct}",
                        limit.ca50_deg
                    );
                    checked += 1;
                }
            }
        }
    }
    assert!(checked > 20, "{checked}");
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
                let limits =
                    [&shared, &made].map(|map: &KnockMap| map.knock_limit_near(&at, -1.0, -1.0));
                assert_eq!(limits[0].limited, limits[1].limited);
                limited += usize::from(limits[0].limited && !limits[0].beyond_table);
                worst_deg = worst_deg.max((limits[0].ca50_deg - limits[1].ca50_deg).abs());
                for ca50 in [4.0, 14.0, 26.0, 41.0] {
                    let peak = |map: &KnockMap| map.peak_pressure_ratio(kelvin, 55.0, ca50);
                    worst_peak = worst_peak.max((peak(&shared) / peak(&made) - 1.0).abs());
                }
            }
        }
    }
    assert!(limited > 20 * cylinders.len(), "{limited}");
    (worst_deg, worst_peak)
}

/// Maps had from the shared ones are those made for the same cylinder and mixture. Measured: itself 0.031 deg and 0.02 % of the peak, within
/// 5 % 0.035 deg and 0.13 %, out to 20 % 0.045 deg and 1.2 %, the last where a late burn meets the compression peak: the map strays ten times
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
