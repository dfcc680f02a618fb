//! `reduce` as a user runs it: the demo's log, the curve it writes taken by a visit, and logs with something wrong.
//!
//! The demo's log is made here, from a car and a drum invented for it; a test makes it again and compares. To store it anew, run
//! that test with `REMAKE_SCENARIOS=1` in the environment.

use std::f64::consts::PI;
use std::fmt::Write as _;

use crate::drum_log_maker::{Phase, Seen, Sensor, World, look, normal};
use crate::scenario_maker::folder;
use crate::shop::Shop;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

const RADIUS_M: f64 = 0.6;
/// Engine rpm per m/s in third and fourth gear.
const THIRD: f64 = 157.0;
const FOURTH: f64 = 113.0;
/// The engine log's clock started so much later, s.
const LATE_S: f64 = 7.31;

/// Force of the demo's engine at the drum, N.
fn demo_force(v: f64, rpm: f64) -> f64 {
    let x = (rpm - 4400.0) / 2700.0;
    let torque = 262.0 * (1.0 - 0.22 * x * x) + 9.0 * (-((rpm - 3300.0) / 500.0).powi(2)).exp();
    torque * rpm * PI / 30.0 / v
}

/// The demo's drums and what was done on them.
fn demo() -> World {
    World {
        force_n: demo_force,
        mass_kg: 1180.0,
        turning_kg: 34.0,
        drag: [190.0, 1.6, 0.045],
        start_m_s: 9.0,
        tip_in_s: 0.03,
        phases: &[
            Phase::Gently {
                gear: FOURTH,
                to_rpm: 1900.0,
                share: 0.6,
            },
            Phase::Pull {
                gear: FOURTH,
                to_rpm: 6650.0,
            },
            Phase::Limiter {
                gear: FOURTH,
                seconds: 0.9,
            },
            Phase::Coast { to_m_s: 55.0 },
            Phase::Brake { to_m_s: 14.0 },
            Phase::Gently {
                gear: THIRD,
                to_rpm: 2500.0,
                share: 0.6,
            },
            Phase::Pull {
                gear: THIRD,
                to_rpm: 6500.0,
            },
            Phase::Shift {
                seconds: 0.45,
                to_gear: FOURTH,
            },
            Phase::Pull {
                gear: FOURTH,
                to_rpm: 6450.0,
            },
            Phase::Coast { to_m_s: 32.0 },
        ],
    }
}

/// The demo's drum log and engine log.
fn demo_logs() -> (String, String) {
    let truth = demo().run();
    let sensor = Sensor {
        jitter: 0.2,
        run_out: [0.002, 0.0],
        engine_noise_rpm: 6.0,
        ..Sensor::at(50.0, 0.012, 11)
    };
    let drum = look(&truth, &sensor, 60.0, (0.0, 1e6));
    let mut out = String::from(
        "# An invented car on invented drums: two pulls, a shift in the second, then a run-down in neutral.\ntime (s),drum speed (rpm),engine speed (rpm)\n",
    );
    for i in 0..drum.time_s.len() {
        let turning = drum.speed_m_s[i] / RADIUS_M * 30.0 / PI;
        writeln!(out, "{:.4},{turning:.2},{:.0}", drum.time_s[i], drum.rpm[i])
            .expect("a String takes all");
    }
    let sensor = Sensor {
        engine_noise_rpm: 8.0,
        ..Sensor::at(20.0, 0.0, 12)
    };
    let engine = look(&truth, &sensor, 60.0, (LATE_S, 1e6));
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let mut other = String::from(
        "time (s),engine speed (rpm),manifold pressure (kPa absolute),charge temperature (°C),lambda\n",
    );
    for i in 0..engine.time_s.len() {
        let rpm = engine.rpm[i];
        writeln!(
            other,
            "{:.3},{rpm:.0},{:.1},{:.1},{:.3}",
            engine.time_s[i] - LATE_S,
            96.5 - 0.0004 * rpm + 0.2 * normal(&mut rng),
            26.0 + 0.0008 * rpm,
            0.88 + 0.004 * normal(&mut rng)
        )
        .expect("a String takes all");
    }
    (out, other)
}

fn numbers(text: &str) -> Vec<f64> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .flat_map(|line| line.split(','))
        .map(|cell| cell.parse().expect("a number"))
        .collect()
}

#[test]
fn the_demo_log_is_what_its_maker_makes() {
    let (drum, engine) = demo_logs();
    let folder = folder("drum_session");
    for (name, made) in [("drum.csv", drum), ("engine.csv", engine)] {
        let path = folder.join(name);
        if std::env::var_os("REMAKE_SCENARIOS").is_some() {
            std::fs::write(&path, &made).expect("the scenario can be written");
        }
        let stored = std::fs::read_to_string(&path).expect("the demo's log");
        let (a, b) = (numbers(&stored), numbers(&made));
        assert_eq!(a.len(), b.len(), "{name}");
        // A last digit may round either way on another machine; engine speed is told to 1 rpm.
        let off = a.iter().zip(&b).filter(|(a, b)| (*a - *b).abs() > 1e-9);
        assert!(off.count() < 20, "{name}");
    }
}

/// The demo in a shop's folder, and its report.
fn demo_shop() -> Shop {
    let shop = Shop::new();
    for name in ["session.toml", "drum.csv", "engine.csv"] {
        let from = folder("drum_session").join(name);
        std::fs::copy(from, shop.path(name)).expect("a scratch copy");
    }
    shop
}

fn field(value: &Value, path: &str) -> f64 {
    value
        .pointer(path)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("{path} in {value}"))
}
