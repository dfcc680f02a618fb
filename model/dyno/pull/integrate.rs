//! The two ways a pull is integrated over engine speed: by steps that follow the error, and by equal ones for a turbocharger's shaft.

use super::state::{State, WHEEL_RAD_S};
use super::{Moment, Motion};
use crate::car::BOOST_CONTROL_S;
use crate::units;
use ode_solvers::{Dopri5, OutputType, Rk4, System};

/// First step, as a share of the pull, and at most this many seconds: the fastest of the slow states settles in about one.
const FIRST_STEP: f64 = 0.25;
const FIRST_STEP_S: f64 = 1.0;
/// Equal steps of a pull with a turbocharger, at least: a tenth of a second each in a pull of eight. Twice, four times and so on as
/// many in a pull that would take longer than [`SHAFT_STEP_S`] for each at its first acceleration: a shaft settles within a
/// second, and the rule bears some two and a half of its time constants in a step.
const SHAFT_STEPS: usize = 80;
const SHAFT_STEP_S: f64 = 0.5;
/// Doublings allowed; a pull of half an hour needs six.
const MOST_DOUBLINGS: u32 = 8;
/// Steps allowed; a pull takes about ten.
const MOST_STEPS: u32 = 10_000;

/// States at the ends of equal pieces of the pull, by steps that follow the error. `None` when the integrator gives up.
pub(super) fn adaptively(
    motion: &Motion<'_>,
    (from, to): (f64, f64),
    start: State,
    pieces: usize,
    (climb_rad_s2, tolerance): (f64, f64),
) -> Option<Vec<(f64, State)>> {
    let piece = (to - from) / pieces as f64;
    // Everything as in `Dopri5::new`, but the first step: slow states let it be a quarter of the pull. The solver's last output is no
    // better than a straight line, so it is asked for one more.
    let mut solver = Dopri5::from_param(
        motion,
        from,
        to + piece,
        piece,
        start,
        tolerance,
        tolerance,
        0.9,
        0.04,
        0.2,
        10.0,
        to - from,
        (FIRST_STEP * (to - from)).min(FIRST_STEP_S * climb_rad_s2),
        MOST_STEPS,
        1000,
        OutputType::Dense,
    );
    solver.integrate().ok()?;
    let speeds = solver.x_out().iter().copied();
    let mut states: Vec<_> = speeds.zip(solver.y_out().iter().copied()).collect();
    if states.len() > pieces {
        states.truncate(pieces + 1);
        states[pieces].0 = to;
        // Where it stalls beyond the end is no matter.
        motion.stalled.set(false);
    }
    Some(states)
}

/// The same by equal steps of engine speed, several to a piece: a turbocharger's shaft settles in tenths of a second and
/// meets its control at a corner, where steps that follow the error would make the readings jump between two cars that hardly
/// differ.
pub(super) fn in_equal_steps(
    motion: &Motion<'_>,
    (from, to): (f64, f64),
    start: State,
    pieces: usize,
    climb_rad_s2: f64,
) -> Option<Vec<(f64, State)>> {
    let each = shaft_steps((to - from) / climb_rad_s2).div_ceil(pieces);
    let step = (to - from) / (pieces * each) as f64;
    let held = Held { motion, step };
    let mut solver = Rk4::new(&held, from, start, to, step);
    solver.integrate().ok()?;
    let speeds = solver.x_out().iter().copied();
    let states = speeds.zip(solver.y_out().iter().copied()).step_by(each);
    Some(states.take(pieces + 1).collect())
}

/// Fewest equal steps of a pull with a turbocharger that would take so many seconds at its first acceleration.
pub(super) fn shaft_steps(seconds: f64) -> usize {
    let doublings = (0..MOST_DOUBLINGS)
        .find(|k| seconds <= SHAFT_STEP_S * (SHAFT_STEPS << k) as f64)
        .unwrap_or(MOST_DOUBLINGS);
    SHAFT_STEPS << doublings
}

/// The pull in equal steps of engine speed, rad/s: where the gate holds the boost, the shaft closes its distance with a time
/// constant of half a step at the least, well within what the rule bears (a third of a step); shorter ones would overshoot.
struct Held<'a, 'm> {
    motion: &'a Motion<'m>,
    step: f64,
}

impl System<f64, State> for &Held<'_, '_> {
    fn system(&self, speed_rad_s: f64, y: &State, dy: &mut State) {
        let motion = self.motion;
        let rpm = units::rpm(speed_rad_s);
        let engine = {
            let mut sweep = motion.sweep.borrow_mut();
            motion.on_day.roughly_along(rpm, motion.slow(y), &mut sweep)
        };
        let forces = motion.forces(engine.torque_nm, speed_rad_s, y);
        let moment = Moment { engine, forces };
        let climb = motion.climb(&moment);
        *dy = motion.rates_per_s(&moment, y) / climb;
        if moment.engine.shaft.is_some_and(|s| s.gate_share > 0.0) {
            dy[WHEEL_RAD_S] *= climb / climb.max(0.5 * self.step / BOOST_CONTROL_S);
        }
    }

    fn solout(&mut self, _speed_rad_s: f64, _y: &State, _dy: &State) -> bool {
        self.motion.stalled.get()
    }
}
