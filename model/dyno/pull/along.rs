//! A pull computed where its readings are wanted, and nowhere else.
//!
//! What a pull carries along (core, battery and motor temperatures, charge, a second drum) moves slowly, so from one reading to the next
//! it is foreseen from the rates before, the car is asked once, and the rate found corrects what was foreseen. A turbocharger's shaft is quick: its speed
//! at the end of a step is found with the operating point there. The sensor acts on nothing, the clock on nothing but an axle that is still coming in;
//! both are integrated afterwards. It gives up where foreseen and corrected states are too far apart: then steps that follow the error must do it.
//!
//! Source: the predictor-corrector pair of Adams, Bashforth and Moulton (E. Hairer, S. P. Nørsett and G. Wanner, Solving Ordinary
//! Differential Equations I, ch. III.1; from memory).

use super::forces::Forces;
use super::integrate::shaft_steps;
use super::state::{CONTROL_CA50_DEG, SCALE, SENSOR_K, State, TIME_S, WHEEL_RAD_S, value};
use super::{KNOCK_RESPONSE_S, LEAST_ACCELERATION_M_S2, Moment, Motion, SENSOR_S};
use crate::car::{BOOST_CONTROL_S, OperatingPoint};
use crate::numeric::greatest;
use crate::units;

/// Time constants of the boost control in a step, at most, of the rule of third order: from six on it swings ever wider, and the end's rate alone must do.
const LONGEST: f64 = 5.0;
/// Fewest steps of a pull; readings further apart get points between them.
const FEWEST_STEPS: usize = 24;
/// Tolerances within which the slow states must be foreseen, and the share of one beyond which the car is asked again.
const FORESIGHT: f64 = 10.0;
const NEAR_ENOUGH: f64 = 0.1;
/// Times that it is asked again.
const MOST_ROUNDS: usize = 3;

/// The engine's points side by side, where nothing that it leaves behind at one speed acts on its next point; an axle and a second drum, which do carry
/// something along, ask nothing of them.
pub(super) fn abreast(motion: &Motion<'_>, steps: &Steps) -> Option<Vec<OperatingPoint>> {
    motion.on_day.abreast(&steps.rpm())
}

/// Readings at the ends of equal pieces of the pull, up to the first at which the car has stalled; the first is known. `None` where the
/// slow states are not foreseen well enough.
///
/// ```text
/// y*ₖ₊₁ = yₖ + h/12 (23 fₖ − 16 fₖ₋₁ + 5 fₖ₋₂),   yₖ₊₁ = yₖ + h/24 (9 f*ₖ₊₁ + 19 fₖ − 5 fₖ₋₁ + fₖ₋₂),   f = dy/dω
/// t(ω) = ∫ dω/(dω/dt),      τ dT_s/dt = T − T_s
/// ```
///
/// One order less for each rate that is not known yet. Time by the cubic through four paces, the sensor exactly for a charge temperature
/// that is straight in time between two.
/// Equation (6.5).
pub(super) fn readings(
    motion: &Motion<'_>,
    (start, first): (State, Moment),
    (steps, abreast): (Steps, Option<Vec<OperatingPoint>>),
    tolerance: f64,
) -> Option<impl Iterator<Item = (f64, State, Moment)>> {
    let Steps {
        each, count, step, ..
    } = steps;
    let mut states = Vec::with_capacity(count + 1);
    let mut moments = Vec::with_capacity(count + 1);
    let mut paces = Vec::with_capacity(count + 1);
    let turbo = motion.wheel_range.is_some();
    let mut rates = Rates::for_a_shaft(turbo);
    let feeds_back = motion.feeds_back();
    let rate_of = |moment: &Moment, y: &State| {
        let pace = 1.0 / motion.climb(moment);
        (pace, motion.rates_per_s(moment, y) * (step * pace))
    };
    let known = abreast.as_ref().filter(|_| !feeds_back);
    let forces = known.and_then(|engine| forces_abreast(motion, &steps, engine));
    let mut y = start;
    let (pace, rate) = rate_of(&first, &y);
    rates.push(rate);
    paces.push(pace);
    states.push(y);
    moments.push(first);
    for k in 1..=count {
        let mut guess = if feeds_back { y + rates.foreseen() } else { y };
        let mut foreseen_pace = next(&paces);
        let (past, share) = rates.past(step * foreseen_pace);
        let come = y + past;
        let mut round = 0;
        let (pace, stalled) = loop {
            moments.truncate(k);
            let mut coming_up_s = 0.0;
            if turbo {
                coming_up_s = share * step * foreseen_pace;
                guess[WHEEL_RAD_S] = come[WHEEL_RAD_S];
            }
            moments.push(match (&abreast, &forces) {
                (Some(engine), Some(forces)) => Moment {
                    engine: engine[k],
                    forces: forces[k],
                },
                (Some(engine), None) => motion.moment_of(&engine[k], steps.speed_at(k), &guess),
                _ => motion.moment(steps.speed_at(k), &guess, coming_up_s),
            });
            let moment = &moments[k];
            let stalled = moment.forces.acceleration_m_s2 < LEAST_ACCELERATION_M_S2;
            if stalled || !feeds_back {
                break (1.0 / motion.climb(moment), stalled);
            }
            let misheard = if turbo {
                come_up(&mut guess, &come, &moment.engine, coming_up_s)
            } else {
                0.0
            };
            let (pace, rate) = rate_of(moment, &guess);
            let corrected = come + rate * share;
            let missed = missed(&corrected, &guess).max(misheard);
            // Asked for the last time, the whole tolerance will do: the other way there would change every reading by more.
            let enough = if round < MOST_ROUNDS {
                NEAR_ENOUGH
            } else {
                1.0
            };
            if missed < enough * tolerance {
                guess = corrected;
                rates.push(rate);
                break (pace, stalled);
            }
            round += 1;
            let foreseen = turbo || missed < FORESIGHT * tolerance;
            if round > MOST_ROUNDS || !foreseen {
                return None;
            }
            (guess, foreseen_pace) = (corrected, pace);
        };
        y = guess;
        paces.push(pace);
        states.push(y);
        if stalled {
            break;
        }
    }
    // Whether the car stalled between two readings.
    motion.stalled.set((moments.len() - 1) % each != 0);
    let mut clock_s = 0.0;
    let mut sensor_k = value(&start, SENSOR_K);
    let mut charge_k = moments[0].engine.charge_k;
    let readings = moments
        .into_iter()
        .zip(states)
        .enumerate()
        .map(move |(k, (moment, mut y))| {
            let now_k = moment.engine.charge_k;
            if k > 0 {
                let seconds = step * between(&paces, k - 1);
                clock_s += seconds;
                sensor_k = lagged(sensor_k, (charge_k, now_k), seconds);
            }
            charge_k = now_k;
            y[TIME_S] = clock_s / SCALE[TIME_S];
            y[SENSOR_K] = sensor_k / SCALE[SENSOR_K];
            (steps.speed_at(k), y, moment)
        });
    Some(readings.step_by(each))
}

/// Forces at all speeds at once, where no state acts on them.
fn forces_abreast(
    motion: &Motion<'_>,
    steps: &Steps,
    engine: &[OperatingPoint],
) -> Option<Vec<Forces>> {
    let speeds = engine.iter().enumerate();
    let engine: Vec<_> = speeds
        .map(|(k, point)| (steps.speed_at(k), point.torque_nm))
        .collect();
    let Motion {
        setup,
        drums,
        engine_axle,
        ramp,
        ..
    } = motion;
    Forces::abreast(setup, drums, engine_axle, &engine, *ramp)
}

/// Shaft speed and what the boost control has heard at the end of a step, as the point found there has them; how far that is from what the point was asked with,
/// where it holds boost back.
fn come_up(state: &mut State, come: &State, point: &OperatingPoint, coming_up_s: f64) -> f64 {
    let asked = state[CONTROL_CA50_DEG];
    let share = coming_up_s / KNOCK_RESPONSE_S;
    let ca50 = point.cylinder.ca50_deg / SCALE[CONTROL_CA50_DEG];
    state[CONTROL_CA50_DEG] = (come[CONTROL_CA50_DEG] + share * ca50) / (1.0 + share);
    state[WHEEL_RAD_S] = point.blower.speed_rad_s / SCALE[WHEEL_RAD_S];
    let held_back = point.shaft.is_some_and(|s| s.held_back_pa > 0.0);
    if held_back {
        (state[CONTROL_CA50_DEG] - asked).abs()
    } else {
        0.0
    }
}

/// Where a car is asked.
#[derive(Debug, Clone, Copy)]
pub(super) struct Steps {
    from: f64,
    to: f64,
    /// Steps from one reading to the next, and in all.
    each: usize,
    count: usize,
    /// Their length, rad/s.
    step: f64,
}

impl Steps {
    /// For readings at the ends of so many equal pieces of a pull.
    pub(super) fn new((from, to): (f64, f64), pieces: usize) -> Self {
        Self::at_least(FEWEST_STEPS, (from, to), pieces)
    }

    fn at_least(fewest: usize, (from, to): (f64, f64), pieces: usize) -> Self {
        let each = fewest.div_ceil(pieces);
        let count = pieces * each;
        Self {
            from,
            to,
            each,
            count,
            step: (to - from) / count as f64,
        }
    }

    /// The same for a turbocharger's shaft, which is quick, in a pull that begins with such an acceleration, rad/s².
    pub(super) fn of_a_shaft(self, climb_rad_s2: f64) -> Self {
        let seconds = (self.to - self.from) / climb_rad_s2;
        let pieces = self.count / self.each;
        Self::at_least(shaft_steps(seconds), (self.from, self.to), pieces)
    }

    fn speed_at(&self, k: usize) -> f64 {
        if k == self.count {
            self.to
        } else {
            self.from + self.step * k as f64
        }
    }

    /// Engine speeds at which the car is asked, rpm.
    fn rpm(&self) -> Vec<f64> {
        let speeds = (0..=self.count).map(|k| units::rpm(self.speed_at(k)));
        speeds.collect()
    }
}

/// Changes of the states over one step at the rates of the last points, the newest first.
struct Rates {
    last: [Option<State>; 3],
    /// A quick shaft under its control is stable by the rule of one order less.
    shaft: bool,
}

impl Rates {
    const fn for_a_shaft(shaft: bool) -> Self {
        Self {
            last: [None; 3],
            shaft,
        }
    }

    fn push(&mut self, rate: State) {
        let [last, before, _] = self.last;
        self.last = [Some(rate), last, before];
    }

    /// Change over the next step, from the rates known.
    fn foreseen(&self) -> State {
        match self.last {
            [Some(a), Some(b), Some(c)] => (a * 23.0 - b * 16.0 + c * 5.0) / 12.0,
            [Some(a), Some(b), None] => a * 1.5 - b * 0.5,
            [Some(a), ..] => a,
            _ => State::zeros(),
        }
    }

    /// Change over the next step, of so many seconds, as far as the rates known go, and the share that the rate at its end has in it.
    fn past(&self, seconds: f64) -> (State, f64) {
        match self.last {
            _ if self.shaft && seconds > LONGEST * BOOST_CONTROL_S => (State::zeros(), 1.0),
            [Some(a), Some(b), Some(c)] if !self.shaft => {
                ((a * 19.0 - b * 5.0 + c) / 24.0, 9.0 / 24.0)
            }
            [Some(a), Some(b), _] => ((a * 8.0 - b) / 12.0, 5.0 / 12.0),
            [Some(a), ..] => (a * 0.5, 0.5),
            _ => (State::zeros(), 1.0),
        }
    }
}

/// The next of equally spaced values, on the polynomial through the last three.
fn next(values: &[f64]) -> f64 {
    match values {
        [.., a, b, c] => 3.0 * (c - b) + a,
        [a, b] => 2.0 * b - a,
        [a] => *a,
        [] => f64::NAN,
    }
}

/// Greatest distance of the slow states from where the car was asked; clock and sensor have no say.
fn missed(corrected: &State, asked: &State) -> f64 {
    let apart = (corrected - asked).abs();
    let slow = apart.iter().enumerate();
    greatest(
        slow.filter(|(n, _)| ![TIME_S, SENSOR_K].contains(n))
            .map(|(_, m)| *m),
    )
}

/// Integral from one of equally spaced values to the next, in steps: the cubic through the four values around it, at the ends the
/// parabola through three.
fn between(values: &[f64], from: usize) -> f64 {
    let v = |k: usize| values[k];
    match (from, values.len()) {
        (_, 0..=2) => 0.5 * (v(from) + v(from + 1)),
        (0, _) => (5.0 * v(0) + 8.0 * v(1) - v(2)) / 12.0,
        (k, n) if k + 2 == n => (5.0 * v(k + 1) + 8.0 * v(k) - v(k - 1)) / 12.0,
        (k, _) => (13.0 * (v(k) + v(k + 1)) - v(k - 1) - v(k + 2)) / 24.0,
    }
}

/// A sensor of time constant [`SENSOR_S`] behind a temperature that goes straight from one value to another, K.
fn lagged(sensor_k: f64, (from_k, to_k): (f64, f64), seconds: f64) -> f64 {
    let z = seconds / SENSOR_S;
    if z < 1e-9 {
        return sensor_k;
    }
    let ramp_k = (to_k - from_k) / z;
    to_k - ramp_k + (sensor_k - from_k + ramp_k) * (-z).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Day;
    use crate::car::OnADay;
    use crate::dyno::Setup;

    fn speeds(count: u32) -> Vec<f64> {
        let last = f64::from(count.max(2) - 1);
        (0..count)
            .map(|k| 2000.0 + 5000.0 * f64::from(k) / last)
            .collect()
    }

    #[test]
    fn every_vector_unit_finds_the_same_points_to_the_last_bit() {
        let car = Setup::example().car;
        let on_day = OnADay::new(&car, Day::reference());
        let found = on_day.abreast_on_each_unit(&speeds(28));
        assert!(found[0].is_some());
        assert!(found.windows(2).all(|pair| pair[0] == pair[1]));
    }

    #[test]
    fn points_side_by_side_stand_in_order_however_many() {
        let car = Setup::example().car;
        let on_day = OnADay::new(&car, Day::reference());
        for count in [1, 2, 7, 8, 9, 17, 90] {
            let rpm = speeds(count);
            let points = on_day.abreast(&rpm).expect("points");
            assert!(points.iter().map(|p| p.rpm).eq(rpm), "{count}");
        }
        assert!(on_day.abreast(&[]).is_none());
    }

    #[test]
    fn a_shaft_under_its_control_dies_down_in_steps_of_any_length() {
        // y' = −y/τ: each step solves y = come + share · rate for the rate at its end.
        for seconds in [0.03, 0.3, 0.7, 0.8, 1.0, 3.0, 30.0] {
            let per_step = -seconds / BOOST_CONTROL_S;
            let mut rates = Rates::for_a_shaft(true);
            let mut y = State::zeros();
            y[WHEEL_RAD_S] = 1.0;
            rates.push(y * per_step);
            for _ in 0..60 {
                let (past, share) = rates.past(seconds);
                y = (y + past) / (1.0 - share * per_step);
                rates.push(y * per_step);
            }
            assert!(y[WHEEL_RAD_S].abs() < 1e-3, "{seconds}: {}", y[WHEEL_RAD_S]);
        }
    }

    #[test]
    fn the_rule_is_exact_for_a_parabola() {
        let values: Vec<f64> = (0..6).map(|k| f64::from(k * k)).collect();
        for k in 0..5_usize {
            let x = k as f64;
            let exact = ((x + 1.0).powi(3) - x.powi(3)) / 3.0;
            assert!((between(&values, k) - exact).abs() < 1e-12, "{k}");
        }
    }

    #[test]
    fn a_sensor_arrives_and_does_not_overshoot() {
        assert!((lagged(300.0, (350.0, 350.0), 1e3) - 350.0).abs() < 1e-9);
        let sensor = lagged(300.0, (350.0, 350.0), SENSOR_S);
        // One time constant leaves 1/e of the step.
        assert!((sensor - (350.0 - 50.0 / std::f64::consts::E)).abs() < 1e-9);
    }
}
