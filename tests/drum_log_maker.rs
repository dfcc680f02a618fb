//! Makes drum logs of an invented car: a drum that is driven, shifted, held at a limiter and left to coast, seen through a
//! sensor with noise, jitter, teeth and run-out.
//!
//! The truth is a torque over engine speed chosen here, integrated apart from the reduction that has to find it. It is no evidence
//! for an engine; it is evidence for what the reduction makes of a drum.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What happens, one phase after another.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Phase {
    /// Full throttle in a gear (engine rpm per m/s) up to an engine speed.
    Pull { gear: f64, to_rpm: f64 },
    /// Part throttle in a gear up to an engine speed.
    Gently { gear: f64, to_rpm: f64, share: f64 },
    /// Clutch out, engine falling to the next gear's speed.
    Shift { seconds: f64, to_gear: f64 },
    /// Held by the limiter: power on and off, ten times a second.
    Limiter { gear: f64, seconds: f64 },
    /// Throttle closed, in gear for a moment and then in neutral, down to a speed.
    Coast { to_m_s: f64 },
    /// Braked down to a speed.
    Brake { to_m_s: f64 },
}

/// Drum, car and what is done.
#[derive(Debug, Clone, Copy)]
pub(crate) struct World {
    /// Force at the surface while driven, N, over (speed in m/s, engine speed in rpm).
    pub(crate) force_n: fn(f64, f64) -> f64,
    /// Mass that the drum credits, kg.
    pub(crate) mass_kg: f64,
    /// Mass of car parts that turn with it, kg.
    pub(crate) turning_kg: f64,
    /// Drag at rest N, per m/s, per m²/s².
    pub(crate) drag: [f64; 3],
    pub(crate) start_m_s: f64,
    /// Time in which the force comes up after the throttle has opened, s.
    pub(crate) tip_in_s: f64,
    pub(crate) phases: &'static [Phase],
}

/// The truth at fine steps.
#[derive(Debug, Clone, Default)]
pub(crate) struct Truth {
    pub(crate) time_s: Vec<f64>,
    pub(crate) speed_m_s: Vec<f64>,
    pub(crate) way_m: Vec<f64>,
    pub(crate) rpm: Vec<f64>,
    /// Reading without noise: credited mass times acceleration times speed, W.
    pub(crate) power_w: Vec<f64>,
    /// First row of every phase.
    pub(crate) begins: Vec<usize>,
}

/// Fine step, s.
pub(crate) const FINE_S: f64 = 0.001;
const IDLE_RPM: f64 = 850.0;

impl World {
    pub(crate) fn run(&self) -> Truth {
        let mut truth = Truth::default();
        let (mut v, mut s, mut t) = (self.start_m_s, 0.0_f64, 0.0_f64);
        let mut rpm = IDLE_RPM;
        for phase in self.phases {
            truth.begins.push(truth.time_s.len());
            let since = t;
            loop {
                let x: f64 = t - since;
                let drag = |v: f64| self.drag[0] + v * (self.drag[1] + v * self.drag[2]);
                let (driving, over): (f64, bool) = match *phase {
                    Phase::Pull { gear, to_rpm } => {
                        rpm = gear * v;
                        let up = if self.tip_in_s > 0.0 {
                            1.0 - f64::exp(-x / self.tip_in_s)
                        } else {
                            1.0
                        };
                        (up * (self.force_n)(v, rpm), rpm >= to_rpm)
                    }
                    Phase::Gently {
                        gear,
                        to_rpm,
                        share,
                    } => {
                        rpm = gear * v;
                        (share * (self.force_n)(v, rpm.max(1000.0)), rpm >= to_rpm)
                    }
                    Phase::Shift { seconds, to_gear } => {
                        rpm += (to_gear * v - rpm) * FINE_S / 0.08;
                        (0.0, x >= seconds)
                    }
                    Phase::Limiter { gear, seconds } => {
                        rpm = gear * v;
                        let on = (x * 10.0).fract() < 0.25;
                        let full = (self.force_n)(v, rpm);
                        (if on { full } else { -0.12 * full }, x >= seconds)
                    }
                    Phase::Coast { to_m_s } => {
                        let in_gear = x < 0.3;
                        rpm += (IDLE_RPM - rpm) * FINE_S / 0.8;
                        (if in_gear { -250.0 } else { 0.0 }, v <= to_m_s)
                    }
                    Phase::Brake { to_m_s } => {
                        rpm += (IDLE_RPM - rpm) * FINE_S / 0.5;
                        (-6000.0, v <= to_m_s)
                    }
                };
                if over {
                    break;
                }
                let a = (driving - drag(v)) / (self.mass_kg + self.turning_kg);
                truth.time_s.push(t);
                truth.speed_m_s.push(v);
                truth.way_m.push(s);
                truth.rpm.push(rpm);
                truth.power_w.push(self.mass_kg * a * v);
                // The force hardly changes within a step.
                s += v * FINE_S + 0.5 * a * FINE_S * FINE_S;
                v += a * FINE_S;
                t += FINE_S;
            }
        }
        truth
    }
}

/// A sensor and its clock.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sensor {
    pub(crate) rate_hz: f64,
    /// Noise of the speed, m/s.
    pub(crate) noise_m_s: f64,
    /// Jitter of the time between samples, as a share of it; the log shows the true time.
    pub(crate) jitter: f64,
    /// Run-out of the first and second harmonic, as a share of speed.
    pub(crate) run_out: [f64; 2],
    /// Step to which speed is rounded, m/s.
    pub(crate) step_m_s: f64,
    pub(crate) radius_m: f64,
    /// Noise of engine speed, rpm.
    pub(crate) engine_noise_rpm: f64,
    pub(crate) seed: u64,
}

impl Sensor {
    pub(crate) const fn at(rate_hz: f64, noise_m_s: f64, seed: u64) -> Self {
        Self {
            rate_hz,
            noise_m_s,
            jitter: 0.0,
            run_out: [0.0; 2],
            step_m_s: 0.0,
            radius_m: 0.6,
            engine_noise_rpm: 5.0,
            seed,
        }
    }
}

/// What the sensor logged.
#[derive(Debug, Clone, Default)]
pub(crate) struct Seen {
    pub(crate) time_s: Vec<f64>,
    pub(crate) speed_m_s: Vec<f64>,
    pub(crate) counts: Vec<f64>,
    pub(crate) rpm: Vec<f64>,
}

pub(crate) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let (a, b): (f64, f64) = (rng.random_range(1e-12..1.0), rng.random_range(0.0..1.0));
    (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// Looks at the truth between two times through a sensor with a toothed wheel of `teeth`.
pub(crate) fn look(truth: &Truth, sensor: &Sensor, teeth: f64, within_s: (f64, f64)) -> Seen {
    let mut rng = ChaCha8Rng::seed_from_u64(sensor.seed);
    let mut seen = Seen::default();
    let last = truth.time_s.len() - 2;
    let mut i = 0_u32;
    loop {
        let wobble = sensor.jitter * (rng.random_range(0.0..1.0) - 0.5);
        let t = within_s.0 + (f64::from(i) + 0.5 + wobble) / sensor.rate_hz;
        i += 1;
        // Fine times are all before this one.
        let row = truth.time_s.partition_point(|&fine| fine <= t).max(1) - 1;
        if t > within_s.1 || row > last {
            return seen;
        }
        let share = (t - truth.time_s[row]) / FINE_S;
        let at = |values: &[f64]| values[row] + share * (values[row + 1] - values[row]);
        let way = at(&truth.way_m);
        let angle = way / sensor.radius_m;
        let [one, two] = sensor.run_out;
        let swing = 1.0 + one * (angle + 0.7).cos() + two * (2.0 * angle + 2.0).sin();
        let mut speed = at(&truth.speed_m_s) * swing + sensor.noise_m_s * normal(&mut rng);
        if sensor.step_m_s > 0.0 {
            speed = (speed / sensor.step_m_s).round() * sensor.step_m_s;
        }
        // The integral of the swing.
        let turned = angle + one * (angle + 0.7).sin() - 0.5 * two * (2.0 * angle + 2.0).cos();
        seen.time_s.push((t * 1e6).round() / 1e6);
        seen.speed_m_s.push(speed);
        seen.counts
            .push((turned * teeth / std::f64::consts::TAU + 3.3).floor());
        seen.rpm
            .push(at(&truth.rpm) + sensor.engine_noise_rpm * normal(&mut rng));
    }
}
