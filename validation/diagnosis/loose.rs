//! A clutch that breaks loose put on a recorded good pull: an engine and a drum, each with an inertia of its own.
//!
//! Exists because no change of a pull band by band makes an engine that runs away from its gearbox. It refuses heat in the clutch: what it keeps while
//! it slips is one torque.

use pullcast::dyno::{Band, Pull, PullPoint, Setup};
use pullcast::fit::observation::MeasuredPull;
use std::f64::consts::TAU;

/// Torque kept while slipping over what is held before: friction that moves is less than friction that stands (common practice, no source).
const MOVES: f64 = 0.93;
/// Longest step, s; and after how many times the sound pull's time a pull is given up.
const STEP_S: f64 = 2e-3;
const GIVEN_UP: f64 = 3.0;

/// A moment of the pull: engine speed, that of a locked clutch, rpm; power, W.
#[derive(Clone, Copy)]
struct Moment {
    engine: f64,
    locked: f64,
    power_w: f64,
}

/// The sound pull, whose clutch is locked, with the inertia ahead of the clutch.
struct Locked<'a> {
    pull: &'a Pull,
    ahead_kg_m2: f64,
}

impl Locked<'_> {
    fn at(&self, rpm: f64, of: fn(&PullPoint) -> f64) -> f64 {
        self.pull.reading(rpm, of)
    }

    /// rad/s² of the crank: by the drum's acceleration, since gear and tyre keep their ratio in a few rpm.
    fn climb(&self, rpm: f64) -> f64 {
        let (a, v) = (
            self.at(rpm, |p| p.acceleration_m_s2),
            self.at(rpm, |p| p.speed_m_s),
        );
        rpm * TAU / 60.0 * a / v
    }

    fn through_nm(&self, rpm: f64) -> f64 {
        self.at(rpm, |p| p.engine.torque_nm) - self.ahead_kg_m2 * self.climb(rpm)
    }
}

/// The pull with a clutch that holds a share of the greatest torque of the sound pull.
///
/// ```text
/// J ω̇ = T(ω) − T_c,   the drum's acceleration and the engine's power there by T_c over the torque of a locked clutch
/// ```
///
/// Newton's law on both sides of the clutch, by Heun's method.
pub(crate) fn clutch(
    odd: &mut MeasuredPull,
    (setup, sound): (&Setup, &Pull),
    holds: f64,
    from_drum: bool,
) {
    let ahead_kg_m2 = setup.car.driveline.parts.ahead_of_clutch_kg_m2();
    let of = Locked {
        pull: sound,
        ahead_kg_m2,
    };
    let (first, last) = (
        sound.points[0].rpm,
        sound.points[sound.points.len() - 1].rpm,
    );
    let most_nm = sound.points.iter().map(|p| of.through_nm(p.rpm));
    let (static_nm, moving_nm) = {
        let held = holds * most_nm.fold(0.0, f64::max);
        (held, MOVES * held)
    };
    let rpm = |rad_s: f64| rad_s * 60.0 / TAU;
    // Slopes of engine and locked speed, rpm/s, and the share of the engine's power that passes.
    let slopes = |engine: f64, locked: f64, slips: bool| {
        let locked_nm = of.through_nm(locked).max(1.0);
        let passes = if slips { moving_nm / locked_nm } else { 1.0 };
        let (all_w, electric_w) = (
            of.at(locked, |p| p.power_w),
            of.at(locked, |p| p.electric_w),
        );
        let power_w = electric_w + (all_w - electric_w) * passes;
        let drum = rpm(of.climb(locked)) * power_w / all_w.max(1.0);
        let own = (of.at(engine, |p| p.engine.torque_nm) - moving_nm) / ahead_kg_m2;
        (if slips { rpm(own) } else { drum }, drum, power_w)
    };
    let (mut engine, mut locked, mut slips, mut time_s) = (first, first, false, 0.0);
    let longest_s = GIVEN_UP * sound.points[sound.points.len() - 1].time_s;
    let mut moments = Vec::new();
    while locked < last && time_s < longest_s {
        slips = (slips && engine > locked) || of.through_nm(locked) > static_nm;
        if !slips {
            engine = locked;
        }
        let here = slopes(engine, locked, slips);
        moments.push(Moment {
            engine,
            locked,
            power_w: here.2,
        });
        let next = slopes(
            (engine + STEP_S * here.0).min(last),
            locked + STEP_S * here.1,
            slips,
        );
        // The limiter holds the engine.
        engine = (engine + 0.5 * STEP_S * (here.0 + next.0)).min(last);
        locked += 0.5 * STEP_S * (here.1 + next.1);
        time_s += STEP_S;
    }
    let width_rpm = odd.curve.band_rpm;
    let told = |m: &Moment| if from_drum { m.locked } else { m.engine };
    let written = |band: &Band| {
        let inside = moments
            .iter()
            .filter(|m| (told(m) - band.rpm).abs() <= 0.5 * width_rpm);
        let inside: Vec<&Moment> = inside.collect();
        let count = inside.len() as f64;
        let mean = |of: &dyn Fn(&Moment) -> f64| inside.iter().map(|m| of(m)).sum::<f64>() / count;
        // An engine that runs through a band within a row leaves none there.
        if inside.is_empty() {
            return None;
        }
        let mut band = *band;
        band.power_w *= mean(&|m| m.power_w) / of.at(band.rpm, |p| p.power_w);
        if from_drum {
            let moved = |of_point: fn(&PullPoint) -> f64| {
                mean(&|m| of.at(m.engine, of_point) - of.at(m.locked, of_point))
            };
            let by = |value: Option<f64>, by: f64| value.map(|v| v + by);
            band.manifold_pa = by(band.manifold_pa, moved(|p| p.engine.manifold_pa));
            band.charge_k = by(band.charge_k, moved(|p| p.sensor_k));
            band.lambda = by(band.lambda, moved(|p| p.engine.cylinder.lambda));
            band.spark_deg = by(band.spark_deg, moved(|p| -p.engine.cylinder.ca50_deg));
        } else {
            let flare = mean(&|m| m.engine / m.locked);
            band.engine_per_drum = band.engine_per_drum.map(|r| r * flare);
        }
        Some(band)
    };
    // What the log then says of the inertia at engine speed: work over the gain of its square.
    let inertia = |moments: &[Moment]| {
        let work: f64 = moments.iter().map(|m| m.power_w).sum();
        let (from, to) = (told(&moments[0]), told(&moments[moments.len() - 1]));
        work / (to * to - from * from)
    };
    let sound_w: f64 = sound
        .points
        .windows(2)
        .map(|p| 0.5 * (p[0].power_w + p[1].power_w) * (p[1].time_s - p[0].time_s) / STEP_S)
        .sum();
    let by = inertia(&moments) / (sound_w / (last * last - first * first));
    let rig = &mut odd.curve.rig;
    rig.engine_inertia_kg_m2 = rig.engine_inertia_kg_m2.map(|i| i * by);
    odd.curve.bands = odd.curve.bands.iter().filter_map(written).collect();
}
