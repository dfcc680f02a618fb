//! The rival causes: what each is, which cars can have it, and the ways in which it may show.
//!
//! Exists so that a cause is listed once; physics, words and tests refer to it. It refuses causes that no log or setting could show.

use super::disturb::Scene;
use super::expect::{Channel, Entered, Fact, SpeedSource, log_factor};
use crate::dyno::Setup;
use crate::dyno::correction::Standard;

/// One thing that may be wrong with a pull.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// Nothing: within repeatability.
    Nothing,
    /// Pressure reduced to sea level was entered as the room's.
    PressureMixedUp,
    /// Reported power carries another correction than it says.
    Correction,
    /// Gear or final drive entered is not the one driven.
    Gear,
    /// Inertia entered is not that of the drums.
    DrumInertia,
    /// Tyres slip on the drum.
    TyreSlip,
    /// The clutch slips, the lock-up clutch of an automatic, or an open converter more than it did.
    ClutchSlip,
    /// The blower's belt slips.
    BeltSlip,
    /// Intake and charge cooler are hot from standing or from pulls before.
    HeatSoak,
    /// Spark held back by knock more than it was.
    KnockRetard,
    /// Mixture leaner than it was.
    Lean,
    /// Mixture richer than it was.
    Rich,
    /// Charge escapes through a hole.
    BoostLeak,
    /// Something narrows the intake.
    RestrictedIntake,
    /// Something narrows the exhaust.
    RestrictedExhaust,
    /// Battery of the electric axle low.
    LowBattery,
    /// Motor of the electric axle held back by heat.
    MotorDerate,
    /// Fuel delivery falls short of the demand.
    WeakFuel,
    /// Tyres, straps or brakes drag.
    Drag,
    /// Engine-speed or temperature signal late.
    SensorLag,
    /// None of these.
    NoneOfThese,
}

/// One way in which a cause shows; most causes have one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Form {
    /// The only way.
    Plain,
    /// The corrected column was made with this standard.
    CorrectedWith(Standard),
    /// The uncorrected column holds power already corrected with this standard.
    AlreadyCorrected(Standard),
    /// The rig was told another gear than the one driven.
    Told,
    /// The rig works with another number than the one noted down as entered.
    NotAsNoted,
    /// Another gear was driven than the one known.
    Driven,
    /// An open converter takes less torque at a speed than it did.
    OpenConverter,
    /// The signal of engine speed is late.
    SpeedSignal,
    /// The signal of engine speed counts wrongly: it shows the true speed times a number.
    SpeedScale,
    /// The signal of charge temperature is slower than usual.
    TemperatureSignal,
}

/// How often a charge that was stated is not that at the start: read on another day, or off the wrong line (no source).
const STATED_WRONG: f64 = 0.1;

impl Cause {
    /// All causes, *nothing* first and *none of these* last.
    pub const ALL: [Self; 21] = [
        Self::Nothing,
        Self::PressureMixedUp,
        Self::Correction,
        Self::Gear,
        Self::DrumInertia,
        Self::TyreSlip,
        Self::ClutchSlip,
        Self::BeltSlip,
        Self::HeatSoak,
        Self::KnockRetard,
        Self::Lean,
        Self::Rich,
        Self::BoostLeak,
        Self::RestrictedIntake,
        Self::RestrictedExhaust,
        Self::LowBattery,
        Self::MotorDerate,
        Self::WeakFuel,
        Self::Drag,
        Self::SensorLag,
        Self::NoneOfThese,
    ];

    /// Probability before the log is read, but for a common factor: a pull that is brought for a diagnosis is as likely sound as
    /// not, and no fault is favoured (common practice, no source). *None of these* is held to be rare, since its looseness explains
    /// anything.
    /// A battery whose charge was stated is low only where the statement is wrong.
    /// Equation (10.4).
    pub fn prior_weight(self, entered: &Entered) -> f64 {
        match self {
            Self::Nothing => 18.0,
            Self::NoneOfThese => 0.5,
            Self::LowBattery if entered.charge.is_some() => STATED_WRONG,
            _ => 1.0,
        }
    }

    /// Whether the car or the rig can have it at all.
    pub fn possible(self, setup: &Setup) -> bool {
        let car = &setup.car;
        match self {
            Self::BeltSlip => car.blower.drive().is_some(),
            Self::BoostLeak => car.blower.drive().is_some() || car.blower.turbo().is_some(),
            Self::LowBattery | Self::MotorDerate => car.electric.is_some(),
            _ => true,
        }
    }

    /// The ways in which it may show in what there is of a log; none where it could not.
    pub(super) fn forms(self, scene: &Scene<'_>) -> Vec<Form> {
        let entered = &scene.entered;
        match self {
            Self::Correction => {
                let declared = entered.standard;
                // A standard that needs more than the air cannot be tried.
                let others = || {
                    Standard::all()
                        .filter(|s| *s != Standard::None && log_factor(*s, &scene.day).is_some())
                };
                let applied = scene.facts.iter().any(|f| f.0 == Fact::AppliedFactor);
                let relabelled = others()
                    .filter(|s| {
                        let known = declared.filter(|d| log_factor(*d, &scene.day).is_some());
                        applied && known.is_some_and(|d| d != *s)
                    })
                    .map(Form::CorrectedWith);
                relabelled
                    .chain(others().map(Form::AlreadyCorrected))
                    .collect()
            }
            // A pick-up sees what is driven and does not ask what was told.
            Self::Gear => match entered.speed_source {
                SpeedSource::FromDrum => {
                    let noted = scene.facts.iter().any(|f| f.0 == Fact::TypedRatio);
                    let other = noted.then_some(Form::NotAsNoted);
                    [Form::Told, Form::Driven]
                        .into_iter()
                        .chain(other)
                        .collect()
                }
                SpeedSource::Own => vec![Form::Driven],
            },
            Self::DrumInertia => {
                let noted = scene.facts.iter().any(|f| f.0 == Fact::TypedInertia);
                let other = noted.then_some(Form::NotAsNoted);
                [Form::Plain].into_iter().chain(other).collect()
            }
            Self::LowBattery | Self::MotorDerate if !scene.conditions.axle.on => Vec::new(),
            Self::ClutchSlip if scene.setup.car.driveline.open_converter().is_some() => {
                vec![Form::OpenConverter]
            }
            Self::SensorLag => {
                let signals = [
                    (entered.speed_source == SpeedSource::Own, Form::SpeedSignal),
                    (entered.speed_source == SpeedSource::Own, Form::SpeedScale),
                    (scene.has(Channel::Charge), Form::TemperatureSignal),
                ];
                signals.into_iter().filter(|s| s.0).map(|s| s.1).collect()
            }
            _ => vec![Form::Plain],
        }
    }
}
