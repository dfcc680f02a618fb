//! Logs of odd pulls made by the program's own model: honest straying put on a simulated pull, and whatever was spoiled.

use crate::laws::{drums, mild};
use pullcast::belief::sheet::standard_normal;
use pullcast::car::Car;
use pullcast::diagnose::{Diagnosis, Doubts, Entered, Question, SpeedSource, Trial};
use pullcast::dyno::correction::Standard;
use pullcast::dyno::{Band, Conditions, Curve, Pull, RigTrace, Setup};
use pullcast::fit::observation::{MeasuredPull, ReadAt, Visit};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

pub(crate) const BANDS: u32 = 48;
/// Inertia typed in over that of the drums, where it is wrong.
pub(crate) const TYPED: f64 = 0.91;

/// How a log is made of a pull.
#[derive(Clone, Copy)]
pub(crate) struct Log {
    /// Factor on power.
    pub(crate) power: f64,
    /// Whether the mixture is logged.
    pub(crate) lambda: bool,
    /// Whether drum speed is logged.
    pub(crate) drum_speed: bool,
    /// Correction in the corrected column.
    pub(crate) applied: Standard,
    /// What else becomes of a band on its way into the log.
    pub(crate) altered: fn(&mut Band),
}

pub(crate) const HONEST: Log = Log {
    power: 1.0,
    lambda: true,
    drum_speed: true,
    applied: Standard::SaeJ1349,
    altered: |_| (),
};

fn conditions(setup: &Setup) -> Conditions {
    Conditions::rested(setup.car.engine.redline_rpm)
}

/// Bands of a simulated pull as a rig would have them: a scale, a wander, scatter, sensors with an offset.
pub(crate) fn logged(setup: &Setup, pull: &Pull, log: Log, seed: u64) -> MeasuredPull {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut normal = |sd: f64| sd * standard_normal(&mut rng);
    let scale = 1.0 + normal(0.006);
    let (bend, phase) = (normal(0.002), normal(2.0));
    let (manifold, charge, lambda) = (normal(200.0), normal(1.2), normal(0.006));
    let (first, last) = (pull.points[0].rpm, pull.points[pull.points.len() - 1].rpm);
    let bands = (0..BANDS)
        .map(|k| {
            let share = f64::from(k) / f64::from(BANDS - 1);
            let rpm = first + share * (last - first);
            let wander = 1.0 + bend * (8.0 * share + phase).sin() + normal(0.001);
            let power_w = pull.reading(rpm, |p| p.power_w) * scale * wander * log.power;
            let drum_rad_s = pull.reading(rpm, |p| p.speed_m_s) / setup.drums.radius_m;
            let mut band = Band {
                rpm,
                power_w,
                power_se_w: 0.002 * power_w,
                manifold_pa: Some(
                    pull.reading(rpm, |p| p.engine.manifold_pa) + manifold + normal(60.0),
                ),
                charge_k: Some(pull.reading(rpm, |p| p.sensor_k) + charge + normal(0.1)),
                lambda: log
                    .lambda
                    .then(|| pull.reading(rpm, |p| p.engine.cylinder.lambda) + lambda),
                engine_per_drum: log
                    .drum_speed
                    .then(|| rpm * TAU / 60.0 / drum_rad_s * (1.0 + normal(0.0008))),
                blower_per_engine: None,
                spark_deg: None,
                fuel_kg_s: None,
                air_kg_s: None,
                samples: 12,
            };
            (log.altered)(&mut band);
            band
        })
        .collect();
    let factor = |standard: Standard| {
        let subject = pullcast::dyno::correction::Subject::of(
            pullcast::dyno::correction::engine::EngineKind::SPARK_UNBOOSTED,
        );
        let correction = pullcast::dyno::correction::Correction::new(standard, mild(), &subject);
        correction.expect("needs only the air").factor
    };
    let rig = RigTrace {
        implied_inertia_kg_m2: log
            .drum_speed
            .then(|| setup.drums.inertia_kg_m2 * log.power * (1.0 + normal(0.0005))),
        engine_inertia_kg_m2: Some(engine_inertia_kg_m2(pull) * log.power * (1.0 + normal(0.005))),
        applied_factor: Some(factor(log.applied)),
        interval_s: None,
        duration_s: None,
        energy: None,
    };
    MeasuredPull {
        read_at: ReadAt::Drums,
        level_doubt: None,
        name: format!("pull {seed}"),
        day: mild(),
        conditions: conditions(setup),
        rest_s: None,
        curve: Curve {
            bands,
            band_rpm: 100.0,
            correlated_samples: 1.0,
            noise: 0.003,
            rig,
            dropped_start: 0,
            dropped_end: 0,
        },
    }
}

/// Twice the energy that the drums got over the gain of engine speed squared.
fn engine_inertia_kg_m2(pull: &Pull) -> f64 {
    let work_j: f64 = pull
        .points
        .windows(2)
        .map(|p| 0.5 * (p[0].power_w + p[1].power_w) * (p[1].time_s - p[0].time_s))
        .sum();
    let squared = |rpm: f64| (rpm * TAU / 60.0).powi(2);
    let (first, last) = (pull.points[0].rpm, pull.points[pull.points.len() - 1].rpm);
    2.0 * work_j / (squared(last) - squared(first))
}

pub(crate) fn entered(setup: &Setup) -> Entered {
    Entered {
        drum_inertia_kg_m2: Some(setup.drums.inertia_kg_m2),
        overall_ratio: Some(setup.car.driveline.train.ratio()),
        standard: Some(Standard::SaeJ1349),
        speed_source: SpeedSource::Own,
        altitude_m: None,
        charge: None,
    }
}

pub(crate) fn setup(car: Car) -> Setup {
    Setup {
        car,
        drums: drums(),
    }
}

pub(crate) fn pull(setup: &Setup) -> Pull {
    setup.pull(&mild(), &conditions(setup), 60).expect("a pull")
}

/// Three good pulls of a car, and one whose car or log is spoiled.
pub(crate) fn diagnosis(
    sound: &Setup,
    spoil: impl Fn(&mut Setup),
    log: Log,
    seed: u64,
) -> Diagnosis {
    let good_pull = pull(sound);
    let good = Visit {
        name: "good".into(),
        pulls: (0..3)
            .map(|n| {
                logged(
                    sound,
                    &good_pull,
                    Log {
                        lambda: log.lambda,
                        drum_speed: log.drum_speed,
                        ..HONEST
                    },
                    100 * seed + n,
                )
            })
            .collect(),
    };
    let mut spoiled = sound.clone();
    spoil(&mut spoiled);
    let odd = logged(&spoiled, &pull(&spoiled), log, 100 * seed + 7);
    let typed = entered(sound);
    let question = Question {
        setup: sound,
        good: &[(good, vec![typed; 3])],
        odd: Trial {
            pull: &odd,
            entered: Entered {
                drum_inertia_kg_m2: typed.drum_inertia_kg_m2.map(|i| i * log.power),
                ..typed
            },
        },
        before: &[],
        same_strapping: true,
        same_air: true,
        doubts: Doubts::CHOSEN,
    };
    question.answer().expect("a diagnosis")
}
