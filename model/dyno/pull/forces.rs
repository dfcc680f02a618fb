//! Forces and accelerations at one engine speed: what reaches the drum, and what the drum makes of it.
//!
//! The engine spins up its own parts as well as the drum, and the tyre slips in proportion to the force that passes, so the
//! acceleration is the root of one smooth equation. A few secant steps settle it.

use crate::car::Coupled;
use crate::driveline::TyreSlip;
use crate::dyno::crank_to_drum::{CrankToDrum, EngineAxle, Rigid, Rolling};
use crate::dyno::{Coupling, Drums, Setup};
use crate::electric::axle::{AxlePower, AxleState};
use crate::numeric::{Real, Vectors, on_this_machine};

/// The drums' state of motion at one engine speed, and the forces behind it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Forces {
    /// Surface speed of the engine axle's drum, m/s.
    pub(super) speed_m_s: f64,
    /// Its acceleration, m/s².
    pub(super) acceleration_m_s2: f64,
    /// Acceleration of the crank, rad/s².
    pub(super) engine_rad_s2: f64,
    /// Crank speed per surface speed, rad/m.
    pub(super) rad_s_per_m_s: f64,
    /// Clutch or converter.
    pub(super) coupled: Coupled,
    /// Slip of the engine axle's tyres.
    pub(super) slip: f64,
    /// Whether those tyres are at their grip.
    pub(super) spinning: bool,
    /// Force at the surface that accelerates the drums and carries their drag, N.
    pub(super) net_n: f64,
    /// Force of the electric axle at the surface, N.
    pub(super) electric_n: f64,
    /// The electric axle.
    pub(super) axle: Option<AxlePower>,
    /// Whether its tyres are at their grip.
    pub(super) electric_spinning: bool,
    /// Surface speed of the second axle's drum, m/s; the first's where they are linked.
    pub(super) second_speed_m_s: f64,
    /// Its acceleration where it turns apart, m/s².
    pub(super) second_acceleration_m_s2: f64,
    /// Force of the brake at the surface, N, and of the second drum's where it turns apart.
    pub(super) brake_n: (f64, f64),
}

/// What a brake holds to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ramp {
    /// Acceleration of the crank, rad/s².
    Engine(f64),
    /// Acceleration of the surface, m/s².
    Surface(f64),
}

impl Ramp {
    /// Whether a free car would run ahead of it.
    fn leads(self, engine_rad_s2: f64, acceleration_m_s2: f64) -> bool {
        match self {
            Self::Engine(rad_s2) => engine_rad_s2 > rad_s2,
            Self::Surface(m_s2) => acceleration_m_s2 > m_s2,
        }
    }
}

/// Secant steps on the acceleration; each shrinks the error a hundredfold.
const STEPS: usize = 8;
/// Last step of a search that has arrived, over 1 m/s² and what was found, and last change of slip and converter: the next would be a hundredth of it.
const LAST_STEP: f64 = 1e-7;
const LAST_CHANGE: f64 = 1e-8;
/// Speeds nearer than this to each other, relative, tell nothing of a growth.
const LEAST_APART: f64 = 1e-4;
/// Last step, over what was found, of a search that runs away: each of its steps is larger than the one before, where those of a search that settles
/// shrink to rounding.
const RUNS_AWAY: f64 = 0.1;

/// One engine speed of a pull: everything but the acceleration to be found.
struct AtSpeed<'a> {
    setup: &'a Setup,
    drums: &'a Drums,
    axle_state: Option<&'a AxleState>,
    engine_axle: &'a EngineAxle<'a>,
    engine_rad_s: f64,
    engine_nm: f64,
    near: Near,
}

/// Where the search for the acceleration starts: from rest, or from what was found at a speed nearby.
#[derive(Debug, Clone, Copy)]
pub(super) struct Near {
    engine_rad_s: f64,
    acceleration_m_s2: f64,
    slip: f64,
    speed_ratio: f64,
    /// How acceleration and slip grew with engine speed up to there, for each rad/s.
    growth: (f64, f64),
    /// How the error falls with the acceleration.
    slope: f64,
}

impl Near {
    /// Nothing is known yet.
    pub(super) const REST: Self = Self {
        engine_rad_s: 0.0,
        acceleration_m_s2: 0.0,
        slip: 0.0,
        speed_ratio: 1.0,
        growth: (0.0, 0.0),
        slope: -1.0,
    };

    /// Acceleration and slip foreseen at an engine speed, m/s².
    fn foreseen(&self, engine_rad_s: f64) -> (f64, f64) {
        let further = engine_rad_s - self.engine_rad_s;
        let (acceleration, slip) = self.growth;
        (
            self.acceleration_m_s2 + further * acceleration,
            self.slip + further * slip,
        )
    }

    /// How both grew from here to what was found at another speed; as before where that is no further, and not at all from rest.
    fn growth_to(&self, engine_rad_s: f64, (acceleration, slip): (f64, f64)) -> (f64, f64) {
        let further = engine_rad_s - self.engine_rad_s;
        if self.engine_rad_s == 0.0 || further.abs() < LEAST_APART * engine_rad_s {
            return self.growth;
        }
        (
            (acceleration - self.acceleration_m_s2) / further,
            (slip - self.slip) / further,
        )
    }
}

/// Engine speeds of a pull, rad/s, and the crank's torque at each, N m.
pub(super) struct Moving<'a> {
    setup: &'a Setup,
    drums: &'a Drums,
    engine_axle: &'a EngineAxle<'a>,
    engine: &'a [(f64, f64)],
    ramp: Option<Ramp>,
}

/// Most steps of the search at many speeds at once, and its last.
const STEPS_ABREAST: usize = 16;
const LAST_STEP_ABREAST: f64 = 1e-9;

impl Forces {
    /// Forces at many speeds at once; `None` where an electric axle, a brake or what slips between crank and gearbox has a say at any, and
    /// where they do not settle.
    pub(super) fn abreast(
        setup: &Setup,
        drums: &Drums,
        engine_axle: &EngineAxle<'_>,
        engine: &[(f64, f64)],
        ramp: Option<Ramp>,
    ) -> Option<Vec<Self>> {
        let alone = drums.coupling == Coupling::Single
            || (setup.car.electric.is_none() && drums.second_mass_kg().is_none());
        let rigid = setup.car.driveline.open_converter().is_none();
        (alone && rigid).then_some(())?;
        on_this_machine(Moving {
            setup,
            drums,
            engine_axle,
            engine,
            ramp,
        })
    }
}

impl Moving<'_> {
    /// One speed's, of what was found at several.
    fn one<R: Real>(
        &self,
        engine_nm: R,
        rolling: &Rolling<R>,
        (acceleration, passed): (R, &Rigid<R>),
        k: usize,
    ) -> Option<Forces> {
        let (engine_rad_s, engine_nm) = (rolling.engine_rad_s.one(k), engine_nm.one(k));
        let (engine_rad_s2, speed_m_s) = (passed.engine_rad_s2.one(k), rolling.speed_m_s.one(k));
        let spinning_up_nm = passed.spinning_up_nm.one(k);
        let holds = self.setup.car.driveline.holds(engine_nm, engine_rad_s2);
        let led = self
            .ramp
            .is_some_and(|ramp| ramp.leads(engine_rad_s2, acceleration.one(k)));
        (holds && !led).then(|| Forces {
            speed_m_s,
            acceleration_m_s2: acceleration.one(k),
            engine_rad_s2,
            rad_s_per_m_s: engine_rad_s / speed_m_s,
            coupled: Coupled {
                gearbox_nm: engine_nm - spinning_up_nm,
                spinning_up_nm,
                speed_ratio: 1.0,
                engine_rad_s2,
                clutch_slips: false,
                converter_overrun: false,
            },
            slip: passed.slip.one(k),
            spinning: (self.engine_axle.tyre)
                .grip_limit(passed.surface_n.one(k))
                .is_some(),
            net_n: passed.transmitted_n.one(k),
            electric_n: 0.0,
            axle: None,
            electric_spinning: false,
            second_speed_m_s: speed_m_s,
            second_acceleration_m_s2: 0.0,
            brake_n: (0.0, 0.0),
        })
    }
}

impl Vectors for Moving<'_> {
    type Output = Option<Vec<Forces>>;

    /// Equation (6.5).
    #[inline(always)]
    fn run<R: Real>(self, like: R) -> Self::Output {
        let mut found = Vec::with_capacity(self.engine.len());
        let last = self.engine.len().saturating_sub(1);
        let one_kg = 1.0 / self.drums.mass_kg();
        // Each search begins with what was found eight speeds below.
        let (mut acceleration, mut slip, mut slope) = (like, like, like.of(Near::REST.slope));
        let mut last_nm = like.of(1.0);
        for first in (0..self.engine.len()).step_by(R::COUNT) {
            let engine_rad_s = like.made(|k| self.engine[(first + k).min(last)].0);
            let engine_nm = like.made(|k| self.engine[(first + k).min(last)].1);
            let more = engine_nm / last_nm;
            (acceleration, slip) = (acceleration * more, slip * more);
            last_nm = engine_nm;
            let (mut before, mut before_error) = (like, like);
            let mut open = like.below(engine_rad_s);
            let mut step = 0;
            loop {
                let rolling = self.engine_axle.rolling(engine_rad_s, like.of(1.0), slip);
                let passed = (self.engine_axle).passes_rigidly(engine_nm, &rolling, acceleration);
                let drag_n = self.drums.drag_at_n(rolling.speed_m_s);
                let error = (passed.transmitted_n - drag_n) * one_kg - acceleration;
                let most = (acceleration.abs() + 1.0) * LAST_STEP_ABREAST;
                let still = error.abs().below(most)
                    & (passed.slip - slip).abs().below(like.of(LAST_CHANGE));
                open = R::without(open, still);
                if !R::any(open) {
                    for k in 0..R::COUNT.min(self.engine.len() - first) {
                        found.push(self.one(engine_nm, &rolling, (acceleration, &passed), k)?);
                    }
                    break;
                }
                if step == STEPS_ABREAST {
                    return None;
                }
                if step > 0 {
                    let secant = (error - before_error) / (acceleration - before);
                    let steep = secant.below(like.of(-0.2)) & like.of(-5.0).below(secant);
                    slope = R::choose(steep & open, secant, slope);
                }
                (before, before_error) = (acceleration, error);
                acceleration = R::choose(open, acceleration - error / slope, acceleration);
                slip = R::choose(open, passed.slip, slip);
                step += 1;
            }
        }
        Some(found)
    }
}

/// What follows from a guess of the surface acceleration and the slip.
struct Trial {
    speed_m_s: f64,
    coupled: Coupled,
    passed: TyreSlip,
    net_n: f64,
    second: SecondAxle,
}

impl AtSpeed<'_> {
    /// `speed_ratio` is what an open converter showed last; 1 without one.
    /// Equation (6.5).
    fn trial(&self, acceleration_m_s2: f64, slip: f64, speed_ratio: f64) -> Trial {
        let axle = self.engine_axle;
        let rolling = axle.rolling(self.engine_rad_s, speed_ratio, slip);
        let CrankToDrum {
            coupled, passed, ..
        } = axle.passes(self.engine_nm, &rolling, acceleration_m_s2);
        let speed_m_s = rolling.speed_m_s;
        // Separate drums turn apart; any others share this axle's motion.
        let second = if self.drums.second_mass_kg().is_some() {
            SecondAxle::default()
        } else {
            let (setup, drums) = (self.setup, self.drums);
            second_axle(setup, drums, speed_m_s, acceleration_m_s2, self.axle_state)
        };
        Trial {
            speed_m_s,
            coupled,
            passed,
            net_n: passed.transmitted_n + second.force_n,
            second,
        }
    }

    /// The acceleration that the force it leaves gives the drums, m/s².
    /// Equation (6.5).
    fn settle(&self) -> (f64, Trial, Near) {
        let mass_kg = self.drums.mass_kg();
        let (mut acceleration, mut slip) = self.near.foreseen(self.engine_rad_s);
        let mut slope = self.near.slope;
        let (mut before, mut before_error) = (f64::NAN, f64::NAN);
        let mut last_step = f64::NAN;
        let mut trial = self.trial(acceleration, slip, self.near.speed_ratio);
        for _ in 0..STEPS {
            let drag_n = self.drums.drag_at_n(trial.speed_m_s);
            let error = (trial.net_n - drag_n) / mass_kg - acceleration;
            let secant = (error - before_error) / (acceleration - before);
            (before, before_error) = (acceleration, error);
            // Differences near rounding tell nothing of the slope.
            if (-5.0..-0.2).contains(&secant) {
                slope = secant;
            }
            let step = -error / slope;
            acceleration += step;
            last_step = step.abs();
            slip = trial.passed.slip;
            let ratio = trial.coupled.speed_ratio;
            trial = self.trial(acceleration, slip, ratio);
            if step.abs() <= LAST_STEP * (1.0 + acceleration.abs())
                && (trial.passed.slip - slip).abs() < LAST_CHANGE
                && (trial.coupled.speed_ratio - ratio).abs() < LAST_CHANGE
            {
                break;
            }
        }
        if !last_step.is_finite() || last_step > RUNS_AWAY * (1.0 + acceleration.abs()) {
            // What turns with the engine weighs so much more than the drums that the search runs away: such a car does not move them.
            let Near {
                acceleration_m_s2,
                slip,
                speed_ratio,
                ..
            } = Near::REST;
            let standing = self.trial(acceleration_m_s2, slip, speed_ratio);
            return (acceleration_m_s2, standing, Near::REST);
        }
        let found = (acceleration, trial.passed.slip);
        let near = Near {
            engine_rad_s: self.engine_rad_s,
            acceleration_m_s2: acceleration,
            slip: trial.passed.slip,
            growth: self.near.growth_to(self.engine_rad_s, found),
            speed_ratio: trial.coupled.speed_ratio,
            slope,
        };
        (acceleration, trial, near)
    }

    /// The same where a brake may hold to a ramp: the acceleration, and the force the brake takes, N.
    /// Equation (6.5).
    fn led(&self, ramp: Option<Ramp>) -> (f64, Trial, f64, Near) {
        let (free, at_free, near) = self.settle();
        let Some(ramp) = ramp else {
            return (free, at_free, 0.0, near);
        };
        let follows = ramp.leads(at_free.coupled.engine_rad_s2, free);
        // An engine that flares against its converter climbs as it likes, whatever the drum does.
        if !follows || at_free.coupled.converter_overrun {
            return (free, at_free, 0.0, near);
        }
        let (mut acceleration, mut trial) = (free, at_free);
        for _ in 0..STEPS {
            // The crank climbs in proportion to the surface, but for a converter and the tyre's slip, which a few rounds settle.
            let next = match ramp {
                Ramp::Engine(rad_s2) => acceleration * rad_s2 / trial.coupled.engine_rad_s2,
                Ramp::Surface(m_s2) => m_s2,
            };
            let moved = (next - acceleration).abs();
            acceleration = next;
            let (slip, ratio) = (trial.passed.slip, trial.coupled.speed_ratio);
            trial = self.trial(acceleration, slip, ratio);
            if moved <= 1e-12 * (1.0 + acceleration) && (trial.passed.slip - slip).abs() < 1e-12 {
                break;
            }
        }
        let taken = trial.net_n
            - self.drums.drag_at_n(trial.speed_m_s)
            - self.drums.mass_kg() * acceleration;
        (acceleration, trial, taken.max(0.0), near)
    }
}

impl Forces {
    pub(super) fn at(
        setup: &Setup,
        drums: &Drums,
        engine_axle: &EngineAxle<'_>,
        (engine_rad_s, engine_nm): (f64, f64),
        axle_state: Option<&AxleState>,
        (second_speed_m_s, ramp): (f64, Option<Ramp>),
        near: Near,
    ) -> (Self, Near) {
        let at_speed = AtSpeed {
            setup,
            drums,
            axle_state,
            engine_axle,
            engine_rad_s,
            engine_nm,
            near,
        };
        let (acceleration_m_s2, found, brake_n, near) = at_speed.led(ramp);
        let mut forces = Self {
            speed_m_s: found.speed_m_s,
            acceleration_m_s2,
            engine_rad_s2: found.coupled.engine_rad_s2,
            coupled: found.coupled,
            rad_s_per_m_s: engine_rad_s / found.speed_m_s,
            slip: found.passed.slip,
            spinning: found.passed.limit.is_some(),
            net_n: found.net_n,
            electric_n: found.second.force_n,
            axle: found.second.power,
            electric_spinning: found.second.spinning,
            second_speed_m_s: found.speed_m_s,
            second_acceleration_m_s2: 0.0,
            brake_n: (brake_n, 0.0),
        };
        if let Some(second_kg) = drums.second_mass_kg() {
            let own = |a: f64| second_axle(setup, drums, second_speed_m_s, a, axle_state);
            // The second axle's own parts turn with its drum: two points settle a linear equation.
            let (at_rest, at_one) = (own(0.0).force_n, own(1.0).force_n);
            let slope = at_one - at_rest;
            let drag = drums.drag_at_n(second_speed_m_s);
            forces.second_speed_m_s = second_speed_m_s;
            let free = (at_rest - drag) / (second_kg - slope);
            // Its own brake leads it along with the first drum.
            let led = ramp.is_some() && free > acceleration_m_s2;
            forces.second_acceleration_m_s2 = if led { acceleration_m_s2 } else { free };
            let second = own(forces.second_acceleration_m_s2);
            (forces.electric_n, forces.axle) = (second.force_n, second.power);
            if led {
                forces.brake_n.1 = second.force_n - drag - second_kg * acceleration_m_s2;
            }
            forces.electric_spinning = second.spinning;
        }
        (forces, near)
    }

    /// Power the rig shows, both axles together, W.
    pub(super) fn reading_w(&self, drums: &Drums) -> f64 {
        let (mass, brake_n) = (drums.mass_kg(), self.brake_n.0);
        let first = drums.reading_w(mass, self.acceleration_m_s2, brake_n, self.speed_m_s);
        first + self.second_reading_w(drums).unwrap_or(0.0)
    }

    /// What a second drum that turns apart shows, W.
    fn second_reading_w(&self, drums: &Drums) -> Option<f64> {
        let mass = drums.second_mass_kg()?;
        let (acceleration, brake_n) = (self.second_acceleration_m_s2, self.brake_n.1);
        Some(drums.reading_w(mass, acceleration, brake_n, self.second_speed_m_s))
    }

    /// Electric share of that reading, W.
    ///
    /// On linked drums the two axles' shares of the surface force are counted before drag, which no split can assign.
    pub(super) fn electric_reading_w(&self, drums: &Drums) -> f64 {
        match self.second_reading_w(drums) {
            Some(reading_w) if self.axle.is_some() => reading_w,
            Some(_) => 0.0,
            None => self.electric_n * self.speed_m_s,
        }
    }
}

/// The electric axle on its drum; nothing without one.
#[derive(Debug, Clone, Copy, Default)]
struct SecondAxle {
    /// Force at the drum's surface, N.
    force_n: f64,
    power: Option<AxlePower>,
    spinning: bool,
}

/// The electric axle on the drum's surface; its wheels are dragged along where it is off or absent from the
/// state. Zero on a single drum, where that axle stands still.
fn second_axle(
    setup: &Setup,
    drums: &Drums,
    speed_m_s: f64,
    acceleration_m_s2: f64,
    state: Option<&AxleState>,
) -> SecondAxle {
    let (Some(drive), false) = (&setup.car.electric, drums.coupling == Coupling::Single) else {
        return SecondAxle::default();
    };
    let tyre = drums.under(&drive.tyre);
    let radius = tyre.radius_at_m(speed_m_s);
    let mut slip = 0.0;
    let mut out = SecondAxle::default();
    // Slip is a few per cent and moves the motor's torque by less than that of itself: two passes leave 1e-4 of it.
    for _ in 0..2 {
        let axle_rad_s = speed_m_s * (1.0 + slip) / radius;
        let power = state.map(|s| drive.axle.power_at_hub(axle_rad_s, s));
        let torque_nm = power.as_ref().map_or(0.0, |p| p.torque_nm)
            - drive.inertia_kg_m2 * acceleration_m_s2 / radius;
        let surface_n =
            torque_nm / radius - tyre.rolling_force_n(speed_m_s, setup.car.driveline.tyre_k);
        let passed = tyre.slip(surface_n);
        slip = passed.slip;
        out = SecondAxle {
            force_n: passed.transmitted_n,
            power,
            // A wheel that runs away in the first pass outruns its motor's torque in the second: it spins all the same.
            spinning: out.spinning || passed.limit.is_some(),
        };
    }
    out
}
