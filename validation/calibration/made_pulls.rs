//! Pulls of a known car as its drums would record them, with the very errors the fit believes in: those of the visit, of each pull, of the shape
//! and of every sensor.

use pullcast::air::Day;
use pullcast::belief::noise::{INDEPENDENT_PIECES, Noise, SensorError};
use pullcast::belief::sheet::standard_normal;
use pullcast::dyno::{Band, Conditions, Curve, RigTrace, Setup};
use pullcast::fit::observation::{MeasuredPull, ReadAt, Visit};
use rand_chacha::ChaCha8Rng;

/// Bands of a curve.
const BANDS: usize = 22;
/// Pulls of a visit.
const PULLS: usize = 3;
/// Points of the true pull.
const POINTS: usize = 28;

/// What the pulls are made in.
pub(crate) struct Course {
    pub(crate) day: Day,
    pub(crate) conditions: Conditions,
    /// Bands lie between these engine speeds, rpm: inside those of the pull.
    pub(crate) bands_rpm: (f64, f64),
    /// Relative white noise of one band.
    pub(crate) white: f64,
}

/// Smooth error over engine speed: independent at [`INDEPENDENT_PIECES`] points, straight between them.
fn smooth(rng: &mut ChaCha8Rng, sd: f64) -> impl Fn(f64) -> f64 + use<> {
    let knots: Vec<(f64, f64)> = (0..INDEPENDENT_PIECES)
        .map(|i| {
            let share = f64::from(i) / f64::from(INDEPENDENT_PIECES - 1);
            (share, sd * standard_normal(rng))
        })
        .collect();
    move |share: f64| {
        let high = knots
            .partition_point(|(at, _)| *at < share)
            .clamp(1, knots.len() - 1);
        let ((a, low), (b, high)) = (knots[high - 1], knots[high]);
        low + (share.clamp(0.0, 1.0) - a) / (b - a) * (high - low)
    }
}

/// A sensor's error over a visit: its offset and a smooth part.
fn astray(rng: &mut ChaCha8Rng, sensor: SensorError) -> impl Fn(f64) -> f64 + use<> {
    let offset = sensor.offset * standard_normal(rng);
    let shape = smooth(rng, sensor.shape);
    move |share| offset + shape(share)
}

/// Three pulls of a car as its drums would record them; none where it cannot make the pull. Errors of shape and of sensors are the car's, so all
/// pulls share them; visit and pull scales are drawn as the noise says.
pub(crate) fn measured(
    truth: &Setup,
    noise: &Noise,
    course: &Course,
    rng: &mut ChaCha8Rng,
) -> Option<Visit> {
    let pull = truth.pull(&course.day, &course.conditions, POINTS).ok()?;
    let shape = smooth(rng, noise.shape);
    let (manifold, charge, lambda, gearing) = (
        astray(rng, noise.manifold),
        astray(rng, noise.charge),
        astray(rng, noise.lambda),
        astray(rng, noise.drum_ratio),
    );
    let visit_scale = (noise.visit * standard_normal(rng)).exp();
    let (low, high) = course.bands_rpm;
    let pulls = (0..PULLS)
        .map(|index| {
            let scale = visit_scale * (noise.pull * standard_normal(rng)).exp();
            let bands = (0..BANDS)
                .map(|k| {
                    let share = k as f64 / (BANDS - 1) as f64;
                    let rpm = low + share * (high - low);
                    let power = pull.reading(rpm, |p| p.power_w);
                    let white = course.white * standard_normal(rng);
                    Band {
                        rpm,
                        power_w: power * scale * (1.0 + shape(share) + white),
                        power_se_w: course.white * power,
                        manifold_pa: Some(
                            pull.reading(rpm, |p| p.engine.manifold_pa) + manifold(share),
                        ),
                        charge_k: Some(pull.reading(rpm, |p| p.sensor_k) + charge(share)),
                        lambda: Some(
                            pull.reading(rpm, |p| p.engine.cylinder.lambda) + lambda(share),
                        ),
                        engine_per_drum: Some(
                            pull.reading(rpm, |p| p.engine_per_drum) * (1.0 + gearing(share)),
                        ),
                        blower_per_engine: None,
                        spark_deg: None,
                        fuel_kg_s: None,
                        air_kg_s: None,
                        samples: 20,
                    }
                })
                .collect();
            MeasuredPull {
                read_at: ReadAt::Drums,
                level_doubt: None,
                name: format!("pull {index}"),
                day: course.day,
                conditions: course.conditions,
                rest_s: None,
                curve: Curve {
                    bands,
                    band_rpm: 100.0,
                    correlated_samples: 1.0,
                    noise: course.white,
                    rig: RigTrace::default(),
                    dropped_start: 0,
                    dropped_end: 0,
                },
            }
        })
        .collect();
    Some(Visit {
        name: "made".into(),
        pulls,
    })
}
