//! A pull: the car accelerating its drums from low engine speed to the redline at full load.
//!
//! Engine speed climbs all through a pull, so it serves as the independent variable: time, temperatures, charge and the
//! second drum's speed are integrated over it, and every reading falls on the engine speed it is asked at. The
//! drums' own equation, force = mass × acceleration with tyre slip between, is algebraic at each speed. A car
//! that cannot accelerate any further ends its pull there, with the limit named. A brake, where the rig has one, holds the
//! acceleration to its ramp and takes the force that is left. It refuses shifts.
//!
//! ```text
//! (m_d + m_v) dv/dt = F_engine + F_axle − F_rolling − F_drag − F_brake,      dy/dω = (dy/dt)/(dω/dt)
//! ```

mod along;
mod forces;
mod integrate;
mod readings;
mod state;

use super::crank_to_drum::{CrankToDrum, EngineAxle, Rolling};
use super::{Brake, Coupling, Drums, Setup};
use crate::air::Day;
use crate::car::{Limits, OnADay, OperatingPoint, Slow, Sweep};
use crate::electric::axle::AxleLimit;
use crate::units;
use along::Steps;
use forces::{Forces, Near, Ramp};
use ode_solvers::System;
use readings::read_off;
pub(crate) use readings::reading;
use state::{
    BATTERY_K, CASE_K, CHARGE, CONTROL_CA50_DEG, CORE_K, SCALE, SECOND_M_S, SENSOR_K, State,
    TIME_S, WHEEL_RAD_S, WINDING_K, axle_state, credible, value,
};
use std::cell::{Cell, RefCell};

/// How a pull is started.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Engine speed at which the throttle has opened, rpm.
    pub from_rpm: f64,
    /// Engine speed at which the pull ends, rpm; the redline unless it stops short.
    pub to_rpm: f64,
    /// Charge-cooler core or water at the start, K; `None` for a car that has stood at ambient temperature.
    pub core_k: Option<f64>,
    /// State of the electric axle at the start.
    pub axle: AxleStart,
}

/// State of the electric axle at the start of a pull; without an axle it has no effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxleStart {
    /// Whether the axle helps.
    pub on: bool,
    /// Charge of the battery, 0 to 1.
    pub charge: f64,
    /// Battery temperature, K; `None` for ambient.
    pub battery_k: Option<f64>,
    /// Motor temperature, K; `None` for its coolant's.
    pub motor_k: Option<f64>,
    /// Temperature of the motor's case where it differs from that, K.
    pub case_k: Option<f64>,
}

impl Conditions {
    /// A pull from 30 % of the redline to the redline of a rested car, axle on with four fifths of charge.
    pub fn rested(redline_rpm: f64) -> Self {
        Self {
            from_rpm: 0.3 * redline_rpm,
            to_rpm: redline_rpm,
            core_k: None,
            axle: AxleStart::RESTED,
        }
    }
}

impl AxleStart {
    /// On, rested, with four fifths of charge.
    pub const RESTED: Self = Self {
        on: true,
        charge: 0.8,
        battery_k: None,
        motor_k: None,
        case_k: None,
    };
}

/// Readings at one engine speed of a pull.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PullPoint {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Time since the start, s.
    pub time_s: f64,
    /// Surface speed of the (engine axle's) drum, m/s.
    pub speed_m_s: f64,
    /// Surface acceleration, m/s².
    pub acceleration_m_s2: f64,
    /// Power the drums read, both axles together, W.
    pub power_w: f64,
    /// Torque that goes with it at engine speed, N m.
    pub torque_nm: f64,
    /// Power of the engine at its crankshaft here, what turns its own inertia included, W.
    pub crank_w: f64,
    /// Force the brake takes at the surface of the (engine axle's) drum, N; 0 on an inertia rig.
    pub brake_n: f64,
    /// Electric share of that reading, W.
    pub electric_w: f64,
    /// Charge-temperature sensor, K: it lags.
    pub sensor_k: f64,
    /// Charge-cooler core or water, K.
    pub core_k: f64,
    /// Battery charge, 0 to 1.
    pub charge: f64,
    /// Motor winding temperature, K.
    pub winding_k: f64,
    /// Motor case temperature, K.
    pub case_k: f64,
    /// Battery temperature, K.
    pub battery_k: f64,
    /// Power at the battery's terminals, W.
    pub battery_power_w: f64,
    /// Share of the motor's torque that its winding's temperature leaves; 1 without an axle.
    pub derating: f64,
    /// Speed of the gearbox's input over the engine's; 1 but for an open converter.
    pub converter_ratio: f64,
    /// Engine speed over that of the (engine axle's) drum.
    pub engine_per_drum: f64,
    /// Tyre slip of the engine axle.
    pub slip: f64,
    /// What limits the electric axle.
    pub axle_limit: Option<AxleLimit>,
    /// Whether the driven tyres are at their grip.
    pub spinning: bool,
    /// All limits met here: the engine's, and those between crank and drum.
    pub limits: Limits,
    /// The engine's operating point.
    pub engine: OperatingPoint,
}

/// A simulated pull.
#[derive(Debug, Clone, PartialEq)]
pub struct Pull {
    /// Readings, in order of engine speed.
    pub points: Vec<PullPoint>,
    /// Engine speed at which the car could not accelerate further, if it came to that.
    pub stalled_rpm: Option<f64>,
    /// All limits met.
    pub limits: Limits,
    /// Temperatures and charge at the end.
    pub end: EndState,
}

/// What a pull leaves behind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndState {
    /// Charge-cooler core or water, K.
    pub core_k: f64,
    /// Battery charge.
    pub charge: f64,
    /// Battery temperature, K.
    pub battery_k: f64,
    /// Motor winding temperature, K.
    pub winding_k: f64,
    /// Motor case temperature, K.
    pub case_k: f64,
}

/// Why there is no pull.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PullError {
    /// The car does not accelerate even at the start.
    #[error(
        "the car cannot accelerate these drums at {rpm:.0} rpm: {force_n:.0} N at the tyres against {drag_n:.0} N of drag; \
         look at the gear, the tyre radius, the drums, and the drive of a blower"
    )]
    CannotAccelerate {
        /// Engine speed, rpm.
        rpm: f64,
        /// Net force at the tyres, N.
        force_n: f64,
        /// Drag of the drums, N.
        drag_n: f64,
    },
    /// Start and end leave no room.
    #[error("a pull must climb: from {from_rpm:.0} rpm to {to_rpm:.0} rpm")]
    NoRange {
        /// Start, rpm.
        from_rpm: f64,
        /// End, rpm.
        to_rpm: f64,
    },
    /// The integrator gave up.
    #[error("the pull could not be integrated at {rpm:.0} rpm")]
    Integration {
        /// Engine speed, rpm.
        rpm: f64,
    },
}

/// Time constant of a charge-temperature sensor, s (1.5, 0.5 to 3; common practice, no source).
pub const SENSOR_S: f64 = 1.5;
/// Time in which a boost control answers to spark held back by knock, s (common practice, no source).
/// Equation (5.14).
const KNOCK_RESPONSE_S: f64 = 0.3;
/// Least acceleration of a pull, m/s²: below it the car is at its top speed on these drums.
/// Equation (6.5).
const LEAST_ACCELERATION_M_S2: f64 = 0.02;
/// Relative and absolute tolerance on the scaled states. Readings depend on them weakly: a tenth of it changes power by
/// less than 1e-5 (`tests/laws.rs`).
const TOLERANCE: f64 = 1e-4;

impl Setup {
    /// Simulates a pull on a day, with readings at `count` engine speeds from start to end.
    pub fn pull(
        &self,
        day: &Day,
        conditions: &Conditions,
        count: usize,
    ) -> Result<Pull, PullError> {
        self.pull_to_tolerance(day, conditions, count, TOLERANCE)
    }

    /// The same to another tolerance on the slow states. A pull in which none of them feeds back, and one with a turbocharger, go in equal
    /// steps whatever the tolerance; of these it says how often the car is asked at the end of one.
    pub fn pull_to_tolerance(
        &self,
        day: &Day,
        conditions: &Conditions,
        count: usize,
        tolerance: f64,
    ) -> Result<Pull, PullError> {
        simulate(self, day, conditions, count, (tolerance, false))
    }

    /// The same with every state integrated, whether it feeds back or not: what the quick way is held to.
    pub fn integrated_pull(
        &self,
        day: &Day,
        conditions: &Conditions,
        count: usize,
        tolerance: f64,
    ) -> Result<Pull, PullError> {
        simulate(self, day, conditions, count, (tolerance, true))
    }

    /// The steps from the crank to the drum at a point of a pull of this car.
    pub fn crank_to_drum(&self, point: &PullPoint) -> CrankToDrum {
        let axle = EngineAxle::of(self);
        let rolling = Rolling {
            speed_m_s: point.speed_m_s,
            ..axle.rolling(units::rad_s(point.rpm), point.converter_ratio, point.slip)
        };
        axle.passes(point.engine.torque_nm, &rolling, point.acceleration_m_s2)
    }
}

/// The pull as the integrator sees it.
struct Motion<'a> {
    on_day: OnADay<'a>,
    setup: &'a Setup,
    drums: Drums,
    engine_axle: EngineAxle<'a>,
    start: &'a Conditions,
    /// What a brake holds to.
    ramp: Option<Ramp>,
    /// Shaft speeds a turbocharger is asked about, rad/s.
    wheel_range: Option<(f64, f64)>,
    /// Last operating points: the start of the next search.
    sweep: RefCell<Sweep>,
    /// Last acceleration: the start of the next search.
    near: Cell<Near>,
    /// Whether the car could not accelerate at the last state asked about.
    stalled: Cell<bool>,
}

/// Everything at one engine speed and state.
#[derive(Clone, Copy)]
struct Moment {
    engine: OperatingPoint,
    forces: Forces,
}

impl Motion<'_> {
    /// Whether any state but clock and sensor can change, and so act on what follows.
    fn feeds_back(&self) -> bool {
        let (car, coupling) = (&self.setup.car, self.drums.coupling);
        let helped = car.electric.is_some() && self.start.axle.on && coupling != Coupling::Single;
        let turbo = self.wheel_range.is_some();
        turbo || helped || car.cooler.is_some() || self.drums.second_mass_kg().is_some()
    }

    /// A turbocharger's shaft may come up from its speed for a time, s, at the acceleration it then has.
    fn moment(&self, speed_rad_s: f64, y: &State, coming_up_s: f64) -> Moment {
        let rpm = units::rpm(speed_rad_s);
        let mut sweep = self.sweep.borrow_mut();
        let slow = Slow {
            coming_up_s,
            ..self.slow(y)
        };
        let engine = self.on_day.along(rpm, slow, &mut sweep);
        self.moment_of(&engine, speed_rad_s, y)
    }

    /// The same with the engine's point known.
    fn moment_of(&self, engine: &OperatingPoint, speed_rad_s: f64, y: &State) -> Moment {
        Moment {
            engine: *engine,
            forces: self.forces(engine.torque_nm, speed_rad_s, y),
        }
    }

    fn slow(&self, y: &State) -> Slow {
        Slow {
            core_k: credible(value(y, CORE_K)),
            wheel_rad_s: self
                .wheel_range
                .map(|(low, high)| value(y, WHEEL_RAD_S).clamp(low, high)),
            coming_up_s: 0.0,
            control_ca50_deg: value(y, CONTROL_CA50_DEG),
        }
    }

    fn forces(&self, engine_nm: f64, speed_rad_s: f64, y: &State) -> Forces {
        let axle = self.start.axle.on.then(|| axle_state(y));
        let (forces, near) = Forces::at(
            self.setup,
            &self.drums,
            &self.engine_axle,
            (speed_rad_s, engine_nm),
            axle.as_ref(),
            (value(y, SECOND_M_S).max(0.0), self.ramp),
            self.near.get(),
        );
        self.near.set(near);
        forces
    }

    /// Searches as after the first point, whatever was asked since.
    fn start_anew(&self, first: &Moment) {
        self.sweep.replace(Sweep::after(&first.engine));
        self.near.set(Near::REST);
    }

    /// How fast engine speed climbs at a moment, rad/s².
    fn climb(&self, moment: &Moment) -> f64 {
        // A stalled car is found afterwards from the readings; here its time is only kept finite.
        self.stalled
            .set(moment.forces.acceleration_m_s2 < LEAST_ACCELERATION_M_S2);
        moment
            .forces
            .engine_rad_s2
            .max(LEAST_ACCELERATION_M_S2 * moment.forces.rad_s_per_m_s)
    }

    /// Equation (6.5).
    fn rates_per_s(&self, moment: &Moment, y: &State) -> State {
        let mut rate = State::zeros();
        rate[TIME_S] = 1.0;
        rate[CORE_K] = moment.engine.cooler.map_or(0.0, |c| c.soak_rate_k_s);
        rate[SENSOR_K] = (moment.engine.charge_k - value(y, SENSOR_K)) / SENSOR_S;
        if let (Some(drive), Some(power)) = (&self.setup.car.electric, &moment.forces.axle) {
            let axle = drive.axle.rate(power, &axle_state(y));
            rate[CHARGE] = axle.charge_per_s;
            rate[BATTERY_K] = axle.battery_k_s;
            rate[WINDING_K] = axle.winding_k_s;
            rate[CASE_K] = axle.case_k_s;
        }
        rate[SECOND_M_S] = moment.forces.second_acceleration_m_s2;
        if let Some(shaft) = &moment.engine.shaft {
            rate[WHEEL_RAD_S] = shaft.wheel_rad_s2;
            rate[CONTROL_CA50_DEG] =
                (moment.engine.cylinder.ca50_deg - value(y, CONTROL_CA50_DEG)) / KNOCK_RESPONSE_S;
        }
        for (r, scale) in rate.iter_mut().zip(SCALE) {
            *r /= scale;
        }
        rate
    }
}

impl System<f64, State> for &Motion<'_> {
    fn system(&self, speed_rad_s: f64, y: &State, dy: &mut State) {
        let moment = self.moment(speed_rad_s, y, 0.0);
        *dy = self.rates_per_s(&moment, y) / self.climb(&moment);
    }

    /// The last state asked about is the end of the step just taken: no further where the car has stalled.
    fn solout(&mut self, _speed_rad_s: f64, _y: &State, _dy: &State) -> bool {
        self.stalled.get()
    }
}

fn simulate(
    setup: &Setup,
    day: &Day,
    conditions: &Conditions,
    count: usize,
    (tolerance, integrated): (f64, bool),
) -> Result<Pull, PullError> {
    let (from_rpm, to_rpm) = (conditions.from_rpm, conditions.to_rpm);
    if !(from_rpm > 0.0 && to_rpm > from_rpm && to_rpm.is_finite()) {
        return Err(PullError::NoRange { from_rpm, to_rpm });
    }
    let (from, to) = (units::rad_s(from_rpm), units::rad_s(to_rpm));
    let on_day = OnADay::new(&setup.car, *day);
    let motion = Motion {
        wheel_range: on_day.wheel_range_rad_s(),
        on_day,
        setup,
        drums: setup.drums,
        engine_axle: EngineAxle::of(setup),
        start: conditions,
        ramp: setup.drums.machine.brake.map(|brake| match brake {
            Brake::EngineRamp { rpm_per_s } => Ramp::Engine(units::rad_s(rpm_per_s)),
            Brake::SurfaceRamp { m_s2 } => Ramp::Surface(m_s2),
            Brake::Sweep { seconds } => Ramp::Engine((to - from) / seconds),
        }),
        sweep: RefCell::default(),
        near: Cell::new(Near::REST),
        stalled: Cell::new(false),
    };
    let pieces = count.max(2) - 1;
    let steps = Steps::new((from, to), pieces);
    let abreast = (!integrated)
        .then(|| along::abreast(&motion, &steps))
        .flatten();
    let (start, first) = beginning(&motion, day, from, abreast.as_deref());
    if first.forces.acceleration_m_s2 < LEAST_ACCELERATION_M_S2 {
        let force_n = first.forces.net_n;
        return Err(PullError::CannotAccelerate {
            rpm: from_rpm,
            force_n,
            drag_n: motion.drums.drag_at_n(first.forces.speed_m_s),
        });
    }
    if !integrated {
        let steps = match motion.wheel_range {
            Some(_) => steps.of_a_shaft(first.forces.engine_rad_s2),
            None => steps,
        };
        let quickly = along::readings(&motion, (start, first), (steps, abreast), tolerance);
        if let Some(readings) = quickly {
            return read_off(&motion, start, readings);
        }
        motion.start_anew(&first);
    }
    let states = if motion.wheel_range.is_some() {
        integrate::in_equal_steps(
            &motion,
            (from, to),
            start,
            pieces,
            first.forces.engine_rad_s2,
        )
    } else {
        integrate::adaptively(
            &motion,
            (from, to),
            start,
            pieces,
            (first.forces.engine_rad_s2, tolerance),
        )
    };
    let states = states.ok_or(PullError::Integration { rpm: to_rpm })?;
    motion.start_anew(&first);
    let readings = states
        .into_iter()
        .map(|(speed, y)| (speed, y, motion.moment(speed, &y, 0.0)));
    read_off(&motion, start, readings)
}

/// The first state, and everything at it.
fn beginning(
    motion: &Motion<'_>,
    day: &Day,
    from_rad_s: f64,
    abreast: Option<&[OperatingPoint]>,
) -> (State, Moment) {
    let start = motion.start;
    let ambient_k = day.temperature_k();
    let coolant_k = motion
        .setup
        .car
        .electric
        .as_ref()
        .map_or(ambient_k, |d| d.axle.motor.heat.coolant_k);
    let motor_k = start.axle.motor_k.unwrap_or(coolant_k);
    let core_k = start.core_k.unwrap_or(ambient_k);
    let from_rpm = units::rpm(from_rad_s);
    let wheel_rad_s = motion.on_day.start_wheel_rad_s(from_rpm);
    let slow = Slow {
        core_k,
        wheel_rad_s,
        coming_up_s: 0.0,
        control_ca50_deg: 0.0,
    };
    let alone = || (motion.on_day).along(from_rpm, slow, &mut motion.sweep.borrow_mut());
    let engine = abreast.map_or_else(alone, |points| points[0]);
    // A second drum that turns apart starts as fast as the first.
    let second_m_s = motion.drums.second_mass_kg().map_or(0.0, |_| {
        let (forces, _) = Forces::at(
            motion.setup,
            &motion.drums,
            &motion.engine_axle,
            (from_rad_s, engine.torque_nm),
            None,
            (0.0, motion.ramp),
            Near::REST,
        );
        forces.speed_m_s
    });
    let battery_k = start.axle.battery_k.unwrap_or(ambient_k);
    let mut y = State::from([
        0.0,
        core_k,
        engine.charge_k,
        start.axle.charge,
        battery_k,
        motor_k,
        start.axle.case_k.unwrap_or(motor_k),
        second_m_s,
        wheel_rad_s.unwrap_or_default(),
        0.0,
    ]);
    for (value, scale) in y.iter_mut().zip(SCALE) {
        *value /= scale;
    }
    let forces = motion.forces(engine.torque_nm, from_rad_s, &y);
    (y, Moment { engine, forces })
}

/// Speed of a tyre's tread over a drum's surface, m/s: with slip it runs ahead of the drum.
pub(super) fn tread_m_s(surface_m_s: f64, slip: f64) -> f64 {
    surface_m_s * (1.0 + slip)
}

impl Pull {
    /// Highest speed of the driven tyres' tread, m/s: what they have to be rated for.
    pub fn tread_m_s(&self) -> f64 {
        let speeds = self.points.iter().map(|p| tread_m_s(p.speed_m_s, p.slip));
        speeds.fold(0.0, f64::max)
    }

    /// The point of highest power.
    pub fn peak_power(&self) -> Option<&PullPoint> {
        self.points
            .iter()
            .max_by(|a, b| a.power_w.total_cmp(&b.power_w))
    }

    /// The point of highest torque.
    pub fn peak_torque(&self) -> Option<&PullPoint> {
        self.points
            .iter()
            .max_by(|a, b| a.torque_nm.total_cmp(&b.torque_nm))
    }

    /// A reading at any engine speed within the pull, by cubic interpolation through the four nearest points; the nearest
    /// end outside it.
    pub fn reading(&self, rpm: f64, of: impl Fn(&PullPoint) -> f64) -> f64 {
        reading(&self.points, rpm, |p| p.rpm, of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pull_of_few_points_is_read_at_the_nearest() {
        let setup = Setup::example();
        let conditions = Conditions::rested(setup.car.engine.redline_rpm);
        let pull = setup
            .pull(&Day::reference(), &conditions, 3)
            .expect("a pull");
        let [first, middle, last] = &pull.points[..] else {
            panic!("{} points", pull.points.len());
        };
        for point in [first, middle, last] {
            for off_rpm in [-50.0, 0.0, 50.0] {
                let read = pull.reading(point.rpm + off_rpm, |p| p.power_w);
                assert_eq!(read, point.power_w, "{} rpm", point.rpm + off_rpm);
            }
        }
    }
}
