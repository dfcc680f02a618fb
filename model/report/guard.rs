//! What a recording contradicts, in words: the two things that disagree, the entries that would agree, and what is taken on trust.
//!
//! A finding becomes a problem of the recording's file with the header of its column, like any other mistake in a file.

use super::number::{Units, What};
use crate::ask::guard::{
    Answer, Candidate, Contradiction, Finding, Mistake, OnTrust, Question, Severity,
};
use crate::belief::Sheet;
use crate::diagnose::Entered;
use crate::files::visit::Recorded;
use crate::files::{Code, Problem, Problems, VisitFile};
use crate::fit::observation::{MeasuredPull, ReadAt};
use crate::units::show_number;

/// A recording contradicts itself or the car file.
pub const RECORDING_CONTRADICTS: Code = Code::new("recording_contradicts");

/// What holding the recordings of some visits brought.
#[derive(Debug, Clone)]
pub struct Guarded {
    /// One for each recording of a pull on drums.
    pub answers: Vec<Answer>,
    /// What they contradict; an error where nothing may be built on it.
    pub problems: Problems,
}

/// Holds recordings against themselves and the car before anything is built on them. Of pulls of one visit that show the same, the first speaks
/// for all. Where it may not stop, what would be an error is a warning.
pub fn held(sheet: &Sheet, visits: &[VisitFile], may_stop: bool, units: Units) -> Guarded {
    let mut answers = Vec::new();
    let mut problems = Problems::new();
    for file in visits {
        // A curve at the crank knows no drums that could contradict it.
        let drums: Vec<MeasuredPull> = file.visit.on_drums().cloned().collect();
        let read_at = file.visit.pulls.iter().map(|pull| pull.read_at);
        let noted: Vec<(&Entered, &Recorded)> = (file.entered.iter().zip(&file.recordings))
            .zip(read_at)
            .filter_map(|(noted, read_at)| (read_at == ReadAt::Drums).then_some(noted))
            .collect();
        let of_visit: Vec<Answer> = drums
            .iter()
            .zip(&noted)
            .enumerate()
            .map(|(index, (pull, (entered, recorded)))| {
                let trusted = recorded.trusted || !may_stop;
                Question {
                    sheet,
                    pull,
                    others: &drums[..index],
                    entered,
                    trusted,
                }
                .answer()
            })
            .collect();
        let found: Vec<_> = of_visit
            .iter()
            .zip(noted.iter().map(|(_, recorded)| *recorded))
            .flat_map(|(answer, recorded)| answer.findings.iter().map(move |f| (f, recorded)))
            .collect();
        let alike = |a: usize, b: usize| found[a].0.is_like(found[b].0);
        for index in 0..found.len() {
            if (0..index).any(|before| alike(before, index)) {
                continue;
            }
            let others = (index + 1..found.len())
                .filter(|&o| alike(index, o))
                .count();
            let (finding, recorded) = found[index];
            problems.push(problem(finding, recorded, others, units));
        }
        answers.extend(of_visit);
    }
    Guarded { answers, problems }
}

/// A finding as a problem of its recording; `others` of the visit's pulls show the same.
fn problem(finding: &Finding, of: &Recorded, others: usize, units: Units) -> Problem {
    let column = match finding.finding {
        Contradiction::GearingOfTheLog
        | Contradiction::GearingOfTheVisit
        | Contradiction::RowsOfTheLog => &of.engine_header,
        _ => &of.power_header,
    };
    let place = match finding.finding {
        Contradiction::StationPressure
        | Contradiction::RoomTemperature
        | Contradiction::EntriesOfTheRig => "the visit".to_owned(),
        Contradiction::ChargeTemperature => "charge temperature".to_owned(),
        Contradiction::ManifoldOfTheRoom | Contradiction::MeanPressure => {
            "manifold pressure".to_owned()
        }
        _ => format!("column '{column}'"),
    };
    let message = format!(
        "{place}: {} by a factor of {:.3}; up to {:.1} % would pass",
        contradiction(finding.finding),
        finding.ratio,
        100.0 * finding.within
    );
    let agree: Vec<String> = finding
        .candidates
        .iter()
        .map(|candidate| agrees(candidate, units))
        .collect();
    let mut help = if finding.severity == Severity::Stops {
        "it is not used; if the recording is right as it stands, say so in its [[pull]]: trust_recording = true"
            .to_owned()
    } else {
        "check the entry before anything is built on it: a fit would bend the car to agree"
            .to_owned()
    };
    if others > 0 {
        add!(
            help,
            "; {others} more pull{} of this visit show{} the same",
            if others == 1 { "" } else { "s" },
            if others == 1 { "s" } else { "" }
        );
    }
    let mut problem = Problem::of_file(RECORDING_CONTRADICTS, &of.file, message)
        .value(format!("{:.3}", finding.ratio))
        .help(help);
    if !agree.is_empty() {
        problem = problem.expected(agree.join(", or "));
    }
    match finding.severity {
        Severity::Stops => problem,
        Severity::Warns => problem.warning(),
    }
}

/// What is said of a contradiction, up to its factor.
pub(super) const fn contradiction(id: Contradiction) -> &'static str {
    match id {
        Contradiction::EnergyOfTheDrum => {
            "the energy of the recorded power is not what the drum gained, off"
        }
        Contradiction::GearingOfTheLog => {
            "engine speed over drum speed is not the car's gearing and tyre, off"
        }
        Contradiction::EnergyThroughTheGearing => {
            "the energy of the recorded power is not what the drum gains through this car's gearing, off"
        }
        Contradiction::StationPressure => {
            "the pressure entered is not that of this altitude in any weather, off"
        }
        Contradiction::RoomTemperature => "the room was never that warm, off",
        Contradiction::ChargeTemperature => {
            "the charge is hotter at the start than an intake gets, off"
        }
        Contradiction::ManifoldOfTheRoom => {
            "an open throttle without a blower does not hold this pressure against the room, off"
        }
        Contradiction::MeanPressure => {
            "no engine of this displacement makes this torque of this manifold pressure, off from the usual"
        }
        Contradiction::CourseOfThePull => {
            "torque falls away inside the pull, to a share of what stands about it, off"
        }
        Contradiction::RowsOfTheLog => {
            "the log is too slow for this pull: rows fill only a share of its engine speeds, off"
        }
        Contradiction::EntriesOfTheRig => {
            "what was typed into the rig is not what the car file says, off"
        }
        Contradiction::PullsOfTheVisit => "the pulls of this visit do not repeat, off",
        Contradiction::GearingOfTheVisit => {
            "engine speed over drum speed is not that of the other pulls of this visit, off"
        }
        Contradiction::TorqueOfTheEngine => {
            "the torque is not that of an engine of this displacement, even with all else in its file in doubt, off"
        }
        Contradiction::PowerOfTheForce => {
            "the recorded power is not the force logged at the drums times their speed, off"
        }
    }
}

/// A mistake by name.
pub(super) const fn mistake(id: Mistake) -> &'static str {
    match id {
        Mistake::PowerHpAsKw => "power in hp under the name kW",
        Mistake::PowerKwAsHp => "power in kW under the name hp",
        Mistake::PowerPsAsKw => "power in PS under the name kW",
        Mistake::PowerKwAsPs => "power in kW under the name PS",
        Mistake::TorqueLbFtAsNm => "torque in lb ft under the name N m",
        Mistake::TorqueNmAsLbFt => "torque in N m under the name lb ft",
        Mistake::TorqueKgfMAsNm => "torque in kgf m under the name N m",
        Mistake::ForceLbfAsN => "force in lbf under the name N",
        Mistake::ForceCell => "scale of the force cell",
        Mistake::BrakeForceAlone => {
            "the brake's force alone, without what the drums' inertia takes"
        }
        Mistake::CorrectedPowerAsRead => "corrected power in the column of power as read",
        Mistake::DragAddedBack => {
            "drum drag added back by the rig and not in the car file, or the other way round"
        }
        Mistake::DrumInertia => "inertia of the drums",
        Mistake::EnginePickUp => "a pick-up that counts double or half",
        Mistake::Gear => "gear ratio",
        Mistake::FinalDrive => "final drive",
        Mistake::TyreRadius => "tyre radius",
        Mistake::DrumRadius => "radius of the drums",
        Mistake::SeaLevelPressure => "pressure reduced to sea level in place of the room's",
        Mistake::FahrenheitAsCelsius => "degrees Fahrenheit under the name Celsius",
        Mistake::CelsiusAsFahrenheit => "degrees Celsius under the name Fahrenheit",
        Mistake::GaugeForAbsolute => "gauge pressure taken for absolute",
        Mistake::AbsoluteForGauge => "absolute pressure taken for gauge",
        Mistake::BoostPsiAsKpa => "boost in psi under the name kPa",
        Mistake::BoostKpaAsPsi => "boost in kPa under the name psi",
        Mistake::Displacement => "displacement of the engine",
        Mistake::ThrottleLift => "a lift or a shift inside the pull",
        Mistake::SlowLog => "a log too slow for the pull",
        Mistake::AnotherCar => "a pull of another car, or of another state of it",
    }
}

/// What would agree.
fn agrees(candidate: &Candidate, units: Units) -> String {
    let value = candidate.value_that_would_agree;
    match candidate.mistake {
        Mistake::DrumInertia => {
            format!("drums.inertia {}", units.show(What::Inertia, value))
        }
        Mistake::Gear => format!("driveline.gear {}", show_number(value, 4)),
        Mistake::FinalDrive => format!("driveline.final_drive {}", show_number(value, 4)),
        Mistake::TyreRadius => format!("wheels.tyre_radius {}", units.show(What::Length, value)),
        Mistake::DrumRadius => format!("drums.radius {}", units.show(What::Length, value)),
        Mistake::DragAddedBack => format!("drums.drag_added_back = {}", value > 0.5),
        Mistake::SeaLevelPressure => {
            format!("station pressure {}", units.show(What::Pressure, value))
        }
        Mistake::FahrenheitAsCelsius => {
            format!(
                "{}: degrees Fahrenheit",
                units.show(What::Temperature, value)
            )
        }
        Mistake::CelsiusAsFahrenheit => format!(
            "a charge of {}: degrees Celsius",
            units.show(What::Temperature, value)
        ),
        Mistake::GaugeForAbsolute
        | Mistake::AbsoluteForGauge
        | Mistake::BoostPsiAsKpa
        | Mistake::BoostKpaAsPsi => format!(
            "manifold pressure {}: {}",
            units.show(What::Pressure, value),
            mistake(candidate.mistake)
        ),
        Mistake::Displacement => format!("a displacement of {:.2} l", 1e3 * value),
        Mistake::ThrottleLift => format!(
            "a pull without a lift or shift at {}",
            units.show(What::Rpm, value)
        ),
        Mistake::SlowLog => format!("a log of {value:.0} rows a second"),
        Mistake::AnotherCar => "pulls of one car in one state".to_owned(),
        Mistake::ForceCell => format!(
            "a force cell of the right scale: it would read {} times too much",
            show_number(value, 4)
        ),
        Mistake::BrakeForceAlone => format!(
            "all of the force: this looks like {}; reduce the log with its drums (pullcast reduce)",
            mistake(candidate.mistake)
        ),
        Mistake::EnginePickUp if value < 1.0 => {
            format!("engine speed times {}", show_number(1.0 / value, 2))
        }
        Mistake::EnginePickUp => format!("engine speed divided by {}", show_number(value, 2)),
        Mistake::CorrectedPowerAsRead => {
            format!("power as read: this looks corrected, by a factor of {value:.3}")
        }
        other => format!("the right unit: this looks like {}", mistake(other)),
    }
}

/// What is taken on trust, of all recordings together: the most that any of them leaves open.
pub fn on_trust(recordings: &[Answer]) -> Option<&'static str> {
    let worst = recordings
        .iter()
        .map(|r| r.on_trust)
        .max_by_key(|t| *t as u8)?;
    Some(trust(worst))
}

pub(super) const fn trust(id: OnTrust) -> &'static str {
    match id {
        OnTrust::InertiaWithPower => {
            "taken on trust: the inertia of the drums; an error in it that the recorded power shares would not show"
        }
        OnTrust::PowerInertiaGearing => {
            "taken on trust: without logged drum speed, power, inertia and gearing can only be checked to about 10 %"
        }
        OnTrust::All => {
            "taken on trust: the unit of power, the inertia of the drums and the gearing; nothing in the log can hold them"
        }
    }
}
