//! Faults of known size put on recorded good pulls: what the model makes of the fault, added to a pull that a rig recorded.
//!
//! Exists for questions that no recorded case answers: from which size on a cause is found, and whether two at once are. The straying of
//! the pull is a recording's own, the trace of the fault the model's own, so what is found this way is the best that can be hoped for.

use super::case::Case;
use super::loose;
use pullcast::air::Day;
use pullcast::air::atmosphere::{AltimeterSetting, StationPressure};
use pullcast::car::Onset;
use pullcast::diagnose::{Cause, Entered, SpeedSource};
use pullcast::dyno::correction::engine::EngineKind;
use pullcast::dyno::correction::{Correction, Standard, Subject};
use pullcast::dyno::{Conditions, Pull, PullPoint, Setup};
use pullcast::fit::observation::MeasuredPull;
use pullcast::fuel::supply::{Pump, USUAL_RAIL_PA};

/// A cause that is put in.
pub(crate) struct Ladder {
    pub(crate) cause: Cause,
    /// What its size is.
    pub(crate) what: &'static str,
    /// Sizes it is put in with, smallest first.
    pub(crate) sizes: &'static [f64],
    /// Sizes between which it is put in with another.
    pub(crate) loud: (f64, f64),
}

const fn ladder(
    cause: Cause,
    what: &'static str,
    sizes: &'static [f64],
    loud: (f64, f64),
) -> Ladder {
    Ladder {
        cause,
        what,
        sizes,
        loud,
    }
}

/// Causes that are put in.
pub(crate) const LADDERS: [Ladder; 16] = [
    ladder(
        Cause::PressureMixedUp,
        "sea-level pressure typed in a room this high, m",
        &[25.0, 50.0, 100.0, 200.0, 400.0],
        (100.0, 1000.0),
    ),
    ladder(
        Cause::Correction,
        "DIN 70020 in place of SAE J1349, share of the difference",
        &[1.0],
        (1.0, 1.0),
    ),
    ladder(
        Cause::Gear,
        "ratio typed too high by, %",
        &[0.25, 0.5, 1.0, 2.0, 4.0, 8.0],
        (4.0, 12.0),
    ),
    ladder(
        Cause::DrumInertia,
        "inertia typed too high by, %",
        &[0.25, 0.5, 1.0, 2.0, 4.0],
        (3.0, 10.0),
    ),
    ladder(
        Cause::TyreSlip,
        "slip at any load, %",
        &[1.25, 2.5, 5.0, 10.0, 20.0],
        (5.0, 15.0),
    ),
    ladder(
        Cause::BeltSlip,
        "speed lost, %",
        &[1.0, 2.0, 4.0, 8.0, 16.0],
        (8.0, 20.0),
    ),
    ladder(
        Cause::HeatSoak,
        "intake air warmer by, K",
        &[3.0, 6.0, 12.0, 24.0, 48.0],
        (20.0, 40.0),
    ),
    ladder(
        Cause::KnockRetard,
        "spark later by, deg",
        &[1.0, 2.0, 4.0, 8.0, 16.0],
        (8.0, 16.0),
    ),
    ladder(
        Cause::Lean,
        "λ higher by",
        &[0.01, 0.02, 0.04, 0.08, 0.16],
        (0.08, 0.2),
    ),
    ladder(
        Cause::Rich,
        "λ lower by",
        &[0.01, 0.02, 0.04, 0.08, 0.16],
        (0.08, 0.2),
    ),
    ladder(
        Cause::BoostLeak,
        "hole, mm²",
        &[10.0, 20.0, 40.0, 80.0, 160.0, 320.0],
        (80.0, 200.0),
    ),
    ladder(
        Cause::RestrictedIntake,
        "passages narrowed by, % of their area",
        &[10.0, 20.0, 40.0, 60.0, 75.0],
        (55.0, 75.0),
    ),
    ladder(
        Cause::RestrictedExhaust,
        "passages narrowed by, % of their area",
        &[10.0, 20.0, 40.0, 60.0, 75.0],
        (50.0, 65.0),
    ),
    ladder(
        Cause::WeakFuel,
        "short of the greatest demand by, %",
        &[1.5, 3.0, 6.0, 12.0, 24.0],
        (8.0, 20.0),
    ),
    ladder(
        Cause::Drag,
        "drag, N",
        &[25.0, 50.0, 100.0, 200.0, 400.0],
        (100.0, 250.0),
    ),
    ladder(
        Cause::Lift,
        "power lost, %",
        &[2.0, 4.0, 8.0, 16.0, 32.0],
        (8.0, 25.0),
    ),
];

/// Causes that are put in alone.
pub(crate) const ALONE: [Ladder; 4] = [
    ladder(
        Cause::LowBattery,
        "charge at the start lower by, % of it",
        &[20.0, 40.0, 60.0, 75.0, 90.0],
        (75.0, 90.0),
    ),
    ladder(
        Cause::MotorDerate,
        "motor warmer at the start by, K",
        &[20.0, 40.0, 60.0, 80.0, 100.0],
        (80.0, 100.0),
    ),
    ladder(
        Cause::SensorLag,
        "engine speed shown late by, s",
        &[0.05, 0.1, 0.2, 0.4, 0.8],
        (0.3, 0.8),
    ),
    ladder(
        Cause::ClutchSlip,
        "clutch holds less than the greatest torque by, %",
        &[0.5, 1.0, 2.0, 4.0, 8.0],
        (2.0, 8.0),
    ),
];

/// Rounds in which the altimeter setting of a room is found: each leaves less than a tenth of what the one before did.
const ROUNDS: usize = 12;

/// What is put on a pull.
struct Spoil {
    setup: Setup,
    conditions: Conditions,
    /// Factor on power by engine speed.
    power: Box<dyn Fn(f64) -> f64>,
    /// Factors on engine over drum speed, and on the engine speed that is shown.
    ratio: f64,
    shown: f64,
    /// How late engine speed is shown, s.
    late_s: f64,
    /// Share of the greatest torque that the clutch holds, where it does not hold all.
    clutch: Option<f64>,
    /// Factor on manifold pressure by engine speed.
    manifold: Box<dyn Fn(f64) -> f64>,
    /// Factors on the power that the rig works out, and on the correction it applies.
    rig: f64,
    applied: f64,
    entered: Entered,
    day: Day,
}

/// A recorded good pull with faults put on it; nothing where the car cannot have one of them.
pub(crate) fn spoiled(
    case: &Case,
    pull: &MeasuredPull,
    entered: Entered,
    faults: &[(Cause, f64)],
) -> Option<(MeasuredPull, Entered)> {
    let sound = &case.setup;
    let mut conditions = pull.conditions;
    let bands = &pull.curve.bands;
    conditions.from_rpm = bands.first()?.rpm;
    conditions.to_rpm = bands.last()?.rpm;
    let before = sound.pull(&pull.day, &conditions, 40).ok()?;
    let mut spoil = Spoil {
        setup: sound.clone(),
        conditions,
        power: Box::new(|_| 1.0),
        ratio: 1.0,
        shown: 1.0,
        late_s: 0.0,
        clutch: None,
        manifold: Box::new(|_| 1.0),
        rig: 1.0,
        applied: 1.0,
        entered,
        day: pull.day,
    };
    for (cause, size) in faults {
        if !cause.possible(sound) {
            return None;
        }
        put(&mut spoil, *cause, *size, pull, &before)?;
    }
    let after = spoil.setup.pull(&pull.day, &spoil.conditions, 40).ok()?;
    let mut odd = pull.clone();
    for band in &mut odd.curve.bands {
        let rpm = band.rpm;
        let change = |of: fn(&PullPoint) -> f64| {
            let read = |pull: &Pull| pull.reading(rpm, of);
            (read(&before), read(&after))
        };
        let (was, is) = change(|p| p.power_w);
        band.power_w *= is / was * (spoil.power)(rpm) * spoil.rig;
        let moved = |value: Option<f64>, (was, is): (f64, f64)| value.map(|v| v + is - was);
        band.manifold_pa = moved(band.manifold_pa, change(|p| p.engine.manifold_pa))
            .map(|pa| pa * (spoil.manifold)(rpm));
        band.charge_k = moved(band.charge_k, change(|p| p.sensor_k));
        band.lambda = moved(band.lambda, change(|p| p.engine.cylinder.lambda));
        band.spark_deg = moved(band.spark_deg, change(|p| -p.engine.cylinder.ca50_deg));
        let (was, is) = change(|p| p.rpm / p.speed_m_s);
        band.engine_per_drum = band.engine_per_drum.map(|r| r * is / was * spoil.ratio);
        let late = 1.0 - spoil.late_s * climb_rpm_s(&after, rpm) / rpm;
        band.engine_per_drum = band.engine_per_drum.map(|r| r * late);
        band.rpm *= spoil.shown * late;
    }
    if let Some(holds) = spoil.clutch {
        let from_drum = entered.speed_source == SpeedSource::FromDrum;
        loose::clutch(&mut odd, (&spoil.setup, &after), holds, from_drum);
    }
    odd.day = spoil.day;
    let rig = &mut odd.curve.rig;
    rig.implied_inertia_kg_m2 = rig.implied_inertia_kg_m2.map(|i| i * spoil.rig);
    rig.engine_inertia_kg_m2 = rig.engine_inertia_kg_m2.map(|i| i * spoil.rig);
    rig.applied_factor = rig.applied_factor.map(|f| f * spoil.applied);
    Some((odd, spoil.entered))
}

fn put(
    spoil: &mut Spoil,
    cause: Cause,
    size: f64,
    pull: &MeasuredPull,
    before: &Pull,
) -> Option<()> {
    let car = &mut spoil.setup.car;
    let redline = car.engine.redline_rpm;
    let share = 0.01 * size;
    match cause {
        Cause::PressureMixedUp => {
            let station = pull.day.station();
            let mut typed_pa = station.pa();
            for _ in 0..ROUNDS {
                let told = AltimeterSetting::from_pa(typed_pa).to_station(size);
                typed_pa += station.pa() - told.pa();
            }
            spoil.entered.altitude_m = Some(size);
            let (typed, day) = (StationPressure::from_pa(typed_pa), &pull.day);
            let (kelvin, humidity) = (day.temperature_k(), day.relative_humidity());
            spoil.day = Day::from_relative_humidity(typed, kelvin, humidity).ok()?;
            // The rig corrects with what was typed.
            if let Some(standard) = spoil.entered.standard {
                spoil.applied *= factor(standard, &spoil.day)? / factor(standard, day)?;
            }
        }
        Cause::Gear => {
            spoil.entered.overall_ratio = spoil.entered.overall_ratio.map(|r| r * (1.0 + share));
            if spoil.entered.speed_source == SpeedSource::FromDrum {
                spoil.shown *= 1.0 + share;
                spoil.ratio *= 1.0 + share;
            }
        }
        Cause::DrumInertia => {
            let typed = &mut spoil.entered.drum_inertia_kg_m2;
            *typed = typed.map(|i| i * (1.0 + share));
            spoil.rig *= 1.0 + share;
        }
        Cause::Correction => {
            let day = &pull.day;
            let other = factor(Standard::Din70020, day)? / factor(Standard::SaeJ1349, day)?;
            spoil.applied *= 1.0 + size * (other - 1.0);
        }
        Cause::TyreSlip => {
            if spoil.entered.speed_source == SpeedSource::FromDrum {
                return None;
            }
            spoil.ratio *= 1.0 + share;
            spoil.power = Box::new(move |_| 1.0 / (1.0 + share));
        }
        Cause::BeltSlip => {
            car.defects.lost_drive = Onset {
                size: share,
                from_rpm: 0.6 * redline,
                over_rpm: 0.25 * redline,
            };
        }
        Cause::HeatSoak => car.defects.inlet_rise_k = size,
        Cause::KnockRetard => {
            car.defects.late_burn = Onset {
                size,
                from_rpm: 0.4 * redline,
                over_rpm: 0.15 * redline,
            };
        }
        Cause::Lean | Cause::Rich => {
            car.tune.lambda += if cause == Cause::Lean { size } else { -size };
            car.retabulate_knock();
        }
        Cause::BoostLeak => car.defects.leak_m2 = 1e-6 * size,
        Cause::RestrictedIntake => car.intake.loss_pa /= (1.0 - share).powi(2),
        Cause::RestrictedExhaust => car.exhaust.back_pressure_pa /= (1.0 - share).powi(2),
        Cause::WeakFuel => {
            let most = before.points.iter().map(|p| p.engine.cylinder.fuel_kg_s);
            car.fuel_supply.pump = Some(Pump {
                flow_m3_s: (1.0 - share) * most.fold(0.0, f64::max) / car.fuel.density_kg_m3,
                rated_pressure_pa: USUAL_RAIL_PA,
                fall_per_100_kpa: 0.0,
            });
        }
        Cause::Drag => {
            let tyre = &mut car.driveline.tyre;
            let speed_m_s = before.points[before.points.len() / 2].speed_m_s;
            let now_n = tyre.rolling_force_n(speed_m_s, car.driveline.tyre_k);
            car.driveline.tyre.rolling_coefficient *= 1.0 + size / now_n;
        }
        Cause::Lift => {
            let lost =
                move |rpm: f64| share * ((rpm - 0.75 * redline) / (0.02 * redline)).clamp(0.0, 1.0);
            spoil.power = Box::new(move |rpm| 1.0 - lost(rpm));
            spoil.manifold = Box::new(move |rpm| 1.0 - 0.8 * lost(rpm));
        }
        Cause::LowBattery => spoil.conditions.axle.charge *= 1.0 - share,
        Cause::MotorDerate => {
            spoil.conditions.axle.motor_k = Some(before.points.first()?.winding_k + size);
        }
        Cause::SensorLag => {
            if spoil.entered.speed_source == SpeedSource::FromDrum {
                return None;
            }
            spoil.late_s = size;
        }
        Cause::ClutchSlip => spoil.clutch = Some(1.0 - share),
        _ => return None,
    }
    Some(())
}

/// How fast engine speed climbs in a pull, rpm/s.
fn climb_rpm_s(pull: &Pull, rpm: f64) -> f64 {
    const STEP_RPM: f64 = 50.0;
    let at = |rpm: f64| {
        (
            pull.reading(rpm, |p| p.rpm),
            pull.reading(rpm, |p| p.time_s),
        )
    };
    let ((from_rpm, from_s), (to_rpm, to_s)) = (at(rpm - STEP_RPM), at(rpm + STEP_RPM));
    (to_rpm - from_rpm) / (to_s - from_s)
}

fn factor(standard: Standard, day: &Day) -> Option<f64> {
    let subject = Subject::of(EngineKind::SPARK_UNBOOSTED);
    let correction = Correction::new(standard, *day, &subject).ok()?;
    Some(correction.factor)
}
