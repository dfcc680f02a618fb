//! A cause put into the model: what the log would show if it were so.
//!
//! Faults of the car change the car and the pull is simulated anew; faults of the rig and its signals change how a sound pull is
//! written down. Two causes at once change one car and one log.

use super::cause::{Cause, Origin};
use super::clutch;
use super::doubts::Doubts;
use super::expect::{Channel, Curve, Entered, Fact, Misfit, SpeedSource, log_factor};
use super::form::Form;
use super::lift::{LIFT_MANIFOLD, Lift};
use super::size::{RETARD_GROWS, SLIP_GROWS};
use crate::air::Day;
use crate::air::atmosphere::{AltimeterSetting, StationPressure};
use crate::car::Onset;
use crate::dyno::{Conditions, Pull, Setup};
use crate::fuel::supply::{FuelSupply, Pump, USUAL_RAIL_PA};
use crate::numeric::straight_held;

/// Everything an explanation starts from.
#[derive(Debug, Clone)]
pub(super) struct Scene<'a> {
    pub(super) setup: &'a Setup,
    pub(super) entered: Entered,
    pub(super) day: Day,
    /// Whether the car stood on the drums unmoved since the good pulls.
    pub(super) same_strapping: bool,
    pub(super) doubts: Doubts,
    pub(super) conditions: Conditions,
    /// Slip that engine over drum speed shows at the engine speeds of power, where it is measured: a share, never below zero.
    pub(super) slid: Option<Vec<(f64, f64)>>,
    /// What the model makes of the change of air and heat since the good pulls; one per curve.
    pub(super) weather: Vec<Vec<f64>>,
    /// The odd pull as a sound car would have made it.
    pub(super) sound: Pull,
    pub(super) misfit: Misfit,
    pub(super) curves: Vec<Curve>,
    pub(super) facts: Vec<(Fact, f64, f64)>,
}

/// A cause in one of its ways, with the number of its sizes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fault {
    pub(super) cause: Cause,
    pub(super) form: Form,
}

/// What a log would show: values of every curve and fact of the scene, and the pull behind them.
#[derive(Debug, Clone)]
pub(super) struct ExpectedLog {
    pub(super) curves: Vec<Vec<f64>>,
    pub(super) facts: Vec<f64>,
    pub(super) pull: Pull,
    /// Whether that is another pull than the sound one.
    pub(super) new_pull: bool,
}

/// Engine speeds at which a pull is simulated; with turbochargers, whose curves bend where the boost arrives, as many as the shaft takes
/// steps: one fewer would double the steps.
const POINTS: usize = 20;
const TURBO_POINTS: usize = 41;
/// Tolerance on the slow states. A hundred times finer than a fit asks for: the charge-temperature signal must be smooth to well under the
/// scatter of a log, or its wobble would be weighed.
pub(super) const TOLERANCE: f64 = 1e-5;
/// How reported engine speed follows from the true one.
#[derive(Debug, Clone, Copy)]
enum Speed {
    True,
    /// Multiplied.
    Scaled(f64),
    /// Late, s.
    Late(f64),
}

/// How a sound signal is written down otherwise.
#[derive(Debug, Clone, Copy)]
struct Written {
    speed: Speed,
    /// Logarithm of the factor on power.
    power: f64,
    /// Logarithm of the factor on engine over drum speed that slip at any load adds.
    ratio: f64,
    /// Whether the drums get less power by the slip that the log shows.
    slides: bool,
    /// Time constant of the charge-temperature signal, s, where it is not the usual one.
    charge_s: Option<f64>,
    /// What a lifted foot takes.
    lift: Lift,
}

impl Written {
    const HONEST: Self = Self {
        speed: Speed::True,
        power: 0.0,
        ratio: 0.0,
        slides: false,
        charge_s: None,
        lift: Lift::NONE,
    };
}

/// A pull being spoiled.
struct Disturbed {
    setup: Setup,
    day: Day,
    conditions: Conditions,
    written: Written,
    facts: Vec<f64>,
    /// Whether it is another pull than the sound one.
    new_pull: bool,
}

impl Scene<'_> {
    /// The curve of power.
    pub(super) fn power(&self) -> Option<&Curve> {
        self.curves.iter().find(|c| c.channel == Channel::Power)
    }

    /// Whether the log has a channel.
    pub(super) fn has(&self, channel: Channel) -> bool {
        self.curves.iter().any(|c| c.channel == channel)
    }

    /// Simulates a pull with this scene's number of points.
    pub(super) fn simulate(setup: &Setup, day: &Day, conditions: &Conditions) -> Option<Pull> {
        let points = if setup.car.blower.turbo().is_some() {
            TURBO_POINTS
        } else {
            POINTS
        };
        let pull = setup
            .pull_to_tolerance(day, conditions, points, TOLERANCE)
            .ok()?;
        (pull.points.len() >= 4).then_some(pull)
    }

    /// What the log would show for a cause with sizes `x`; nothing where the car could not have made the pull.
    pub(super) fn expected_log(&self, cause: Cause, form: Form, x: &[f64]) -> Option<ExpectedLog> {
        self.expected_log_of(&[(Fault { cause, form }, x)])
    }

    /// The same of causes at work together, each with its own sizes.
    pub(super) fn expected_log_of(&self, faults: &[(Fault, &[f64])]) -> Option<ExpectedLog> {
        let mut made = Disturbed {
            setup: self.setup.clone(),
            day: self.day,
            conditions: self.conditions,
            written: Written::HONEST,
            facts: vec![0.0; self.facts.len()],
            new_pull: false,
        };
        let mut clutch = None;
        for (fault, x) in faults {
            let size = x.first().copied().unwrap_or_default();
            let second = x.get(1).copied().unwrap_or_default();
            match (fault.cause, fault.form) {
                (cause, form) if cause.place() == Origin::Rig => {
                    self.at_rig(&mut made, cause, form, size)?;
                }
                (Cause::ClutchSlip, Form::Plain) => clutch = Some((size, second)),
                (Cause::TyreSlip, Form::AnyLoad) => {
                    made.written.ratio = size.ln_1p();
                    made.written.slides = true;
                }
                (Cause::Lift, form) => made.written.lift = Lift::of(self.setup, form, size, second),
                (cause, _) if cause.place() == Origin::Nowhere => {}
                (cause, _) => {
                    made.new_pull = true;
                    self.in_car(&mut made, cause, size, second);
                }
            }
        }
        let pull = if made.new_pull {
            Self::simulate(&made.setup, &made.day, &made.conditions)?
        } else {
            self.sound.clone()
        };
        let mut curves = self.written(&made.setup, &pull, &made.written);
        let climbs = if let Some((from_rpm, keeps)) = clutch {
            self.flare(&mut curves, (&made.setup, &pull), from_rpm, keeps)
        } else {
            self.log_engine_inertia(&made.setup, &pull, &made.written)
        };
        let sound = self.log_engine_inertia(self.setup, &self.sound, &Written::HONEST);
        if let Some((climbs, sound)) = climbs.zip(sound) {
            self.fact(&mut made, Fact::EngineInertia, climbs - sound);
        }
        Some(ExpectedLog {
            curves,
            facts: made.facts,
            pull,
            new_pull: made.new_pull,
        })
    }

    /// A fact that a cause changes.
    fn fact(&self, made: &mut Disturbed, which: Fact, value: f64) {
        for (slot, known) in made.facts.iter_mut().zip(&self.facts) {
            if known.0 == which {
                *slot += value;
            }
        }
    }

    /// Faults of settings and signals.
    fn at_rig(&self, made: &mut Disturbed, cause: Cause, form: Form, size: f64) -> Option<()> {
        match (cause, form) {
            (Cause::PressureMixedUp, _) => {
                made.new_pull = true;
                let altitude_m = self.entered.altitude_m.unwrap_or(size);
                let typed_pa = self.day.station().pa();
                let station = AltimeterSetting::from_pa(typed_pa).to_station(altitude_m);
                made.day = at_pressure(&self.day, station)?;
                self.fact(made, Fact::Pressure, typed_pa - station.pa());
            }
            (Cause::Correction, Form::CorrectedWith(standard)) => {
                let declared = log_factor(self.entered.standard?, &self.day)?;
                let other = log_factor(standard, &self.day)?;
                self.fact(made, Fact::AppliedFactor, other - declared);
            }
            (Cause::Correction, Form::AlreadyCorrected(standard)) => {
                let factor = log_factor(standard, &self.day)?;
                made.written.power += factor;
                self.fact(made, Fact::ImpliedInertia, factor);
            }
            // A pick-up does not ask what was told.
            (Cause::Gear, Form::WrongEntry) if self.entered.speed_source == SpeedSource::Own => {
                self.fact(made, Fact::TypedRatio, size.ln());
            }
            (Cause::Gear, Form::WrongEntry | Form::NotAsNoted) => {
                made.new_pull = true;
                made.written.speed = Speed::Scaled(size);
                made.conditions.from_rpm /= size;
                made.conditions.to_rpm /= size;
                if form == Form::WrongEntry {
                    self.fact(made, Fact::TypedRatio, size.ln());
                }
            }
            (Cause::Gear, _) => {
                if form == Form::DrivenAsEntered {
                    self.fact(made, Fact::TypedRatio, size.ln());
                }
                made.new_pull = true;
                made.setup.car.driveline.train.stages.first_mut()?.ratio *= size;
                // The rig still works with the ratio it was told.
                if self.entered.speed_source == SpeedSource::FromDrum {
                    made.written.speed = Speed::Scaled(1.0 / size);
                    made.conditions.from_rpm *= size;
                    made.conditions.to_rpm *= size;
                }
            }
            (Cause::DrumInertia, _) => {
                made.written.power += size.ln();
                self.fact(made, Fact::ImpliedInertia, size.ln());
                if form == Form::Plain {
                    self.fact(made, Fact::TypedInertia, size.ln());
                }
            }
            (_, Form::SpeedScale) => {
                made.new_pull = true;
                made.written.speed = Speed::Scaled(size);
                made.conditions.from_rpm /= size;
                made.conditions.to_rpm /= size;
            }
            (_, Form::SpeedSignal) => {
                made.new_pull = true;
                made.written.speed = Speed::Late(size);
                made.conditions.to_rpm = later(&self.sound, made.conditions.to_rpm, size);
            }
            _ => made.written.charge_s = Some(size),
        }
        Some(())
    }

    /// Faults of the car.
    fn in_car(&self, made: &mut Disturbed, cause: Cause, size: f64, second: f64) {
        let car = &mut made.setup.car;
        let redline = car.engine.redline_rpm;
        let onset = |grows: f64| Onset {
            size,
            from_rpm: second,
            over_rpm: grows * redline,
        };
        match cause {
            Cause::TyreSlip => {
                car.driveline.tyre.grip *= size;
                car.driveline.tyre.slip_stiffness *= second;
            }
            Cause::ClutchSlip => {
                if let Some(converter) = &mut car.driveline.converter {
                    converter.stall_torque_nm *= size;
                }
            }
            Cause::BeltSlip => car.defects.lost_drive = onset(SLIP_GROWS),
            // Held back over the whole range, it has no onset.
            Cause::KnockRetard if second == 0.0 => {
                car.defects.late_burn = Onset {
                    size,
                    from_rpm: -1.0,
                    over_rpm: 1.0,
                };
            }
            Cause::KnockRetard => car.defects.late_burn = onset(RETARD_GROWS),
            Cause::HeatSoak if car.cooler.is_some() => {
                car.defects.inlet_rise_k = second;
                let room_k = made.day.temperature_k();
                made.conditions.core_k = Some(made.conditions.core_k.unwrap_or(room_k) + size);
            }
            Cause::HeatSoak => car.defects.inlet_rise_k = size,
            Cause::Lean | Cause::Rich => {
                car.tune.lambda += if cause == Cause::Lean { size } else { -size };
                car.retabulate_knock();
            }
            Cause::BoostLeak => car.defects.leak_m2 = size,
            Cause::RestrictedIntake => car.intake.loss_pa /= size * size,
            Cause::RestrictedExhaust => {
                car.exhaust.back_pressure_pa = narrowed_pa(car.exhaust.back_pressure_pa, size);
            }
            Cause::LowBattery => made.conditions.axle.charge = size,
            Cause::MotorDerate => made.conditions.axle.motor_k = Some(size),
            Cause::WeakFuel => car.fuel_supply = self.weak_supply(size),
            _ => {
                let points = &self.sound.points;
                let middle_m_s = 0.5 * (points[0].speed_m_s + points[points.len() - 1].speed_m_s);
                let line = &mut car.driveline;
                let now_n = line.tyre.rolling_force_n(middle_m_s, line.tyre_k);
                line.tyre.rolling_coefficient *= 1.0 + size / now_n;
            }
        }
    }

    /// True engine speed where a log reports one, rpm.
    fn true_rpm(&self, setup: &Setup, pull: &Pull, speed: Speed, reported: f64) -> f64 {
        let ratio = |setup: &Setup, pull: &Pull| {
            Channel::DrumRatio
                .simulated(setup, pull, reported)
                .unwrap_or_default()
        };
        match speed {
            Speed::Scaled(factor) => reported / factor,
            Speed::Late(late_s) => later(pull, reported, late_s),
            // A speed computed from the drums does not see what slips; the engine turns faster by that.
            Speed::True if self.entered.speed_source == SpeedSource::FromDrum => {
                let more = ratio(setup, pull) - ratio(self.setup, &self.sound);
                reported * more.exp()
            }
            Speed::True => reported,
        }
    }

    /// Logarithm of the inertia at engine speed that a log of this pull would show over the middle of its speeds, `2 ∫P dt/(ω₂² − ω₁²)`;
    /// nothing where the log does not tell it.
    fn log_engine_inertia(&self, setup: &Setup, pull: &Pull, written: &Written) -> Option<f64> {
        const PIECES: usize = 48;
        let (low, high) = self.middle_rpm()?;
        let at = |place: usize| {
            let reported = low + (high - low) * place as f64 / PIECES as f64;
            let rpm = self.true_rpm(setup, pull, written.speed, reported);
            (
                pull.reading(rpm, |p| p.time_s),
                pull.reading(rpm, |p| p.power_w),
            )
        };
        let work_j: f64 = (0..PIECES)
            .map(|k| {
                let ((t0, p0), (t1, p1)) = (at(k), at(k + 1));
                0.5 * (p0 + p1) * (t1 - t0)
            })
            .sum();
        Some(written.power + (work_j.max(1.0) / (high * high - low * low)).ln())
    }

    /// Engine speeds well inside the log, rpm, where it tells the inertia at engine speed.
    fn middle_rpm(&self) -> Option<(f64, f64)> {
        self.facts.iter().find(|f| f.0 == Fact::EngineInertia)?;
        let rpm = &self.power()?.rpm;
        let (first, last) = (rpm[0], rpm[rpm.len() - 1]);
        let margin = 0.1 * (last - first);
        Some((first + margin, last - margin))
    }

    /// The curves of a simulated pull as the log would hold them, set right by the misfit of good pulls.
    fn written(&self, setup: &Setup, pull: &Pull, written: &Written) -> Vec<Vec<f64>> {
        let slow = written.charge_s.map(|s| slow_signal(pull, s));
        let value = |channel: Channel, reported: f64| {
            let rpm = self.true_rpm(setup, pull, written.speed, reported);
            let off = (reported / rpm).ln();
            let said = match (channel, &slow) {
                (Channel::Charge, Some(slow)) => Some(straight_held(slow, rpm)),
                _ => channel.simulated(setup, pull, rpm),
            };
            let moved = match channel {
                Channel::Power => {
                    let slid = self.slid.as_ref().filter(|_| written.slides);
                    let slid = slid.map_or(0.0, |slid| straight_held(slid, reported));
                    written.power + (-written.lift.at(rpm)).ln_1p() - slid.ln_1p()
                }
                Channel::DrumRatio => off + written.ratio,
                Channel::BlowerRatio => -off,
                Channel::Manifold => {
                    -LIFT_MANIFOLD * written.lift.at(rpm) * said.unwrap_or_default()
                }
                Channel::Charge | Channel::Lambda | Channel::Spark => 0.0,
            };
            said.unwrap_or_default() + self.misfit.at(channel, rpm) + moved
        };
        self.curves
            .iter()
            .map(|curve| {
                curve
                    .rpm
                    .iter()
                    .map(|rpm| value(curve.channel, *rpm))
                    .collect()
            })
            .collect()
    }

    /// The curves with a slipping clutch, in place of those of the locked one; the logarithm of the inertia at engine speed that they
    /// show, where the log tells it.
    fn flare(
        &self,
        curves: &mut [Vec<f64>],
        (setup, locked): (&Setup, &Pull),
        from_rpm: f64,
        keeps: f64,
    ) -> Option<f64> {
        let power = self.power()?;
        let last_rpm = power.rpm[power.rpm.len() - 1];
        let width_rpm = (last_rpm - power.rpm[0]) / (power.rpm.len() - 1) as f64;
        let from_drum = self.entered.speed_source == SpeedSource::FromDrum;
        // A pick-up shows where the engine was stopped; a speed computed from the drums does not.
        let limiter_rpm = if from_drum {
            self.setup.car.engine.redline_rpm.max(last_rpm)
        } else {
            last_rpm
        };
        let moments = clutch::slipping(setup, locked, (from_rpm, keeps), limiter_rpm);
        for (curve, values) in self.curves.iter().zip(curves) {
            for (rpm, value) in curve.rpm.iter().zip(values) {
                let Some(mean) = clutch::in_band(&moments, *rpm, width_rpm, from_drum) else {
                    continue;
                };
                match curve.channel {
                    Channel::Power => {
                        *value = mean.log_power + self.misfit.at(Channel::Power, *rpm);
                    }
                    Channel::DrumRatio if !from_drum => *value += mean.log_flare,
                    Channel::DrumRatio => {}
                    // The engine is ahead of what the drums tell.
                    channel if from_drum => {
                        let said = channel.simulated(setup, locked, mean.engine_rpm);
                        *value =
                            said.unwrap_or_default() + self.misfit.at(channel, mean.engine_rpm);
                    }
                    _ => {}
                }
            }
        }
        clutch::log_inertia(&moments, from_drum)
    }

    /// A pump that brings a share of the greatest demand of the sound pull, whatever the pressure.
    fn weak_supply(&self, share: f64) -> FuelSupply {
        let most_kg_s = self
            .sound
            .points
            .iter()
            .map(|p| p.engine.cylinder.fuel_kg_s)
            .fold(0.0, f64::max);
        let pump = Pump {
            flow_m3_s: share * most_kg_s / self.setup.car.fuel.density_kg_m3,
            rated_pressure_pa: USUAL_RAIL_PA,
            fall_per_100_kpa: 0.0,
        };
        FuelSupply {
            pump: Some(pump),
            ..self.setup.car.fuel_supply
        }
    }
}

/// A day with another pressure and the same readings of temperature and humidity.
fn at_pressure(day: &Day, station: StationPressure) -> Option<Day> {
    Day::from_relative_humidity(station, day.temperature_k(), day.relative_humidity()).ok()
}

/// Back pressure of an exhaust whose every passage is narrowed to a share of its area, Pa: the loss coefficient grows with the
/// inverse square, and the gas upstream is denser for it. `Δp (p₀ + Δp) ∝ 1/a²`; derived from the duct law.
/// Equation (10.10).
fn narrowed_pa(back_pa: f64, area_share: f64) -> f64 {
    const OUTSIDE_PA: f64 = 101_325.0;
    let product = back_pa * (OUTSIDE_PA + back_pa) / (area_share * area_share);
    0.5 * ((OUTSIDE_PA * OUTSIDE_PA + 4.0 * product).sqrt() - OUTSIDE_PA)
}

/// True engine speed when a signal that is late by `late_s` shows `reported`, rpm.
/// Equation (10.10).
fn later(pull: &Pull, reported: f64, late_s: f64) -> f64 {
    reported + late_s * clutch::climb_rpm_s(pull, reported)
}

/// Charge temperature through a first-order signal: engine speed, rpm, and what is shown, K. Exact for a charge that changes
/// in proportion to time between points.
fn slow_signal(pull: &Pull, constant_s: f64) -> Vec<(f64, f64)> {
    let mut shown = pull.points[0].engine.charge_k;
    let (mut before_s, mut before_k) = (pull.points[0].time_s, shown);
    pull.points
        .iter()
        .map(|point| {
            let (step_s, charge_k) = (point.time_s - before_s, point.engine.charge_k);
            if step_s > 0.0 {
                let kept = (-step_s / constant_s).exp();
                let lag_k = (charge_k - before_k) * constant_s / step_s;
                shown = charge_k - lag_k + kept * (shown - before_k + lag_k);
            }
            (before_s, before_k) = (point.time_s, charge_k);
            (point.rpm, shown)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_open_exhaust_keeps_its_back_pressure_and_a_narrow_one_obeys_the_duct_law() {
        assert!((narrowed_pa(18e3, 1.0) - 18e3).abs() < 1e-9);
        let half = narrowed_pa(18e3, 0.5);
        let law = |pa: f64| pa * (101_325.0 + pa);
        assert!((law(half) / law(18e3) - 4.0).abs() < 1e-12);
    }

    #[test]
    fn a_signal_as_slow_as_the_usual_one_is_the_usual_one() {
        let setup = Setup::example();
        let air = StationPressure::from_pa(99_000.0);
        let day = Day::from_vapour(air, 295.0, 800.0).expect("a day");
        let conditions = Conditions {
            core_k: None,
            ..Conditions::rested(6500.0)
        };
        let pull = Scene::simulate(&setup, &day, &conditions).expect("a pull");
        for (rpm, shown) in slow_signal(&pull, crate::dyno::pull::SENSOR_S) {
            let own = pull.reading(rpm, |p| p.sensor_k);
            // Between twenty points the charge is not quite straight in time.
            assert!((shown - own).abs() < 0.3, "{rpm}: {shown} {own}");
        }
    }
}
