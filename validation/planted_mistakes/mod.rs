//! Entry mistakes planted into sound recordings: is each seen, and named; is a sound recording left alone?
//!
//! Source: pulls of the independent crank-angle simulator (`validation/data/recorded_pulls`, `faulty_pulls/clean`). A mistake is planted as a
//! shop makes it: numbers of one unit under the header of another, corrected power in the column of power as read, a wrong ratio or inertia in
//! the car file. The thresholds of the guard are not chosen with these cases: they follow from run-out, smoothing, and the doubts of 6.4.

mod planted;

use crate::cases::{car, read};
use crate::diagnosis::case::all_entered;
use planted::{Made, PLANTED, Planted};
use pullcast::ask::guard::{
    Answer, Candidate, Contradiction, Finding, Mistake, Question, Severity,
};
use pullcast::belief::{Prior, Sheet, parameter};
use pullcast::car::Blower;
use pullcast::diagnose::Entered;
use pullcast::dyno::{PowerFrom, Recording};
use pullcast::fit::observation::MeasuredPull;
use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;

/// A sound pull of a known car.
struct Sound {
    name: String,
    /// The car as its file says, and what is known of it besides.
    car: (Value, Value),
    sheet: Sheet,
    pull: MeasuredPull,
    recording: Recording,
    /// Pulls of its visit before it.
    others: Vec<MeasuredPull>,
    entered: Entered,
}

/// All sound pulls in a folder of cases: before the work, and the good ones of the faulty.
fn sound(folder: &Path) -> Vec<Sound> {
    let mut found = Vec::new();
    for name in read::names(folder) {
        let dir = folder.join(&name);
        let car = read::json(&dir.join("car.json"));
        let mods = dir.join("mods.json");
        let mods = if mods.exists() {
            read::json(&mods)
        } else {
            Value::Null
        };
        let part = if dir.join("clean").is_dir() {
            "clean"
        } else {
            "baseline"
        };
        let pulls = read::visit(&dir, part).pulls;
        let entered = all_entered(&dir, part, pulls.len());
        for (index, (pull, entered)) in pulls.iter().cloned().zip(entered).enumerate() {
            let table = dir.join(part).join(format!("run{}.csv", index + 1));
            found.push(Sound {
                name: format!("{name} {}", pull.name),
                sheet: car::sheet(&name, &car, &mods),
                car: (car.clone(), mods.clone()),
                pull,
                recording: read::recording(&table),
                others: pulls[..index].to_vec(),
                entered,
            });
        }
    }
    found
}

/// What became of a planted mistake.
#[derive(Debug, Default, Clone, Copy)]
struct Tally {
    planted: usize,
    /// Not to be seen: the correction of the day changes less than the guard's tolerance.
    mute: usize,
    stopped: usize,
    /// Its name and value are among those given, and it is the first of them.
    named: usize,
    first: usize,
    accused: usize,
    missed: usize,
}

impl Sound {
    /// The guard's answer with a mistake or none, the drum's speed kept or dropped; the value that would agree, if it can be told.
    fn with(&self, planted: Option<Planted>, drum: bool) -> Option<(Answer, Option<f64>)> {
        self.beside(planted, drum, None)
    }

    /// The same with a force logged at the drums that gives this share of the true power.
    fn beside(
        &self,
        planted: Option<Planted>,
        drum: bool,
        cell: Option<f64>,
    ) -> Option<(Answer, Option<f64>)> {
        let mut recording = self.recording.clone();
        recording.force_w = cell.map(|cell| recording.power_w.iter().map(|w| cell * w).collect());
        let mut sheet = self.sheet.clone();
        if !drum {
            recording.drum_rad_s = None;
        }
        let mut agrees = None;
        let mut pull = self.pull.clone();
        let mut entered = self.entered;
        if !matches!(planted, None | Some(Planted::Noted(..))) {
            // What was typed would give a wrong number of the car file away at once.
            entered.drum_inertia_kg_m2 = None;
            entered.overall_ratio = None;
        }
        match planted {
            None => {}
            Some(Planted::Happened(_, happens)) => {
                let mut made = Made {
                    recording,
                    pull,
                    others: self.others.clone(),
                    altitude_m: self.entered.altitude_m,
                    blown: !matches!(sheet.centre.car.blower, Blower::None),
                };
                agrees = happens(&mut made);
                (recording, pull) = (made.recording, made.pull);
            }
            Some(Planted::Reading(mistake, factor)) => {
                if mistake == Mistake::TorqueLbFtAsNm {
                    recording.power_from = PowerFrom::Torque;
                }
                if let Some(factor) = factor {
                    recording.power_w.iter_mut().for_each(|w| *w *= factor);
                    agrees = Some(factor);
                } else if let Some(corrected) = recording.corrected_w.take() {
                    let sum = |values: &[f64]| values.iter().sum::<f64>();
                    let factor = sum(&corrected) / sum(&recording.power_w);
                    recording.power_w = corrected;
                    agrees = Some(factor);
                }
            }
            Some(Planted::Size(factor)) => {
                let (mut car, mods) = self.car.clone();
                for length in ["bore_mm", "stroke_mm"] {
                    car[length] = (car[length].as_f64().expect("a length") * factor.cbrt()).into();
                }
                agrees = Some(sheet.centre.car.engine.geometry.displacement_m3());
                sheet = car::sheet(&self.name, &car, &mods);
            }
            Some(Planted::Entry(_, path, factor) | Planted::Noted(_, path, factor)) => {
                let found = parameter::find(path).expect("a number of the catalogue");
                let slot = (found.slot)(&mut sheet.centre).expect("every car has it");
                agrees = Some(*slot);
                *slot *= factor;
                let value = *slot;
                let own = sheet.beliefs.iter_mut().find(|b| b.parameter == found);
                own.expect("it is believed").prior = Prior::fixed(value).expect("finite");
            }
        }
        let Ok(curve) = recording.reduce(read::BAND_RPM) else {
            // It is refused as no pull at all.
            return None;
        };
        let pull = MeasuredPull { curve, ..pull };
        let question = Question {
            sheet: &sheet,
            pull: &pull,
            others: &self.others,
            entered: &entered,
            trusted: false,
        };
        Some((question.answer(), agrees))
    }
}

/// A value that a finding names lies within this of the true one: what a tyre slips, and its doubt.
const VALUE: f64 = 0.035;

fn tally(sound: &[Sound], planted: Planted, drum: bool, text: &mut String) -> Tally {
    let mut tally = Tally::default();
    let mistake = match planted {
        Planted::Reading(mistake, _)
        | Planted::Entry(mistake, ..)
        | Planted::Noted(mistake, ..)
        | Planted::Happened(mistake, _) => mistake,
        Planted::Size(_) => Mistake::Displacement,
    };
    for case in sound {
        let Some((answer, Some(agrees))) = case.with(Some(planted), drum) else {
            continue;
        };
        tally.planted += 1;
        let right = |f: &Finding, c: &Candidate| {
            let off = (c.value_that_would_agree / agrees).ln().abs();
            // How fast a log should be is no number that was changed.
            c.mistake == mistake && (agrees.is_nan() || off < VALUE.max(f.within))
        };
        let findings = &answer.findings;
        let stops = findings.iter().any(|f| f.severity == Severity::Stops);
        tally.stopped += usize::from(stops);
        let first = |f: &Finding| f.candidates.first().is_some_and(|c| right(f, c));
        if findings
            .iter()
            .any(|f| f.candidates.iter().any(|c| right(f, c)))
        {
            tally.named += 1;
            tally.first += usize::from(findings.iter().any(first));
        } else if findings.is_empty() {
            let mute = mistake == Mistake::CorrectedPowerAsRead && (agrees - 1.0).abs() < 0.01;
            tally.mute += usize::from(mute);
            tally.missed += usize::from(!mute);
        } else {
            tally.accused += 1;
            let _ = writeln!(text, "  accused: {} {answer:?}", case.name);
        }
    }
    tally
}

/// Every mistake planted into every pull.
fn study(sound: &[Sound], drum: bool, text: &mut String) -> Vec<(&'static str, Tally)> {
    PLANTED
        .iter()
        .map(|(name, planted)| {
            let t = tally(sound, *planted, drum, text);
            let _ = writeln!(
                text,
                "{name:<24} stopped {:3}, named {:3} (first {:3}), others named {:3}, no word {:3} of {:3}; not to be seen {:3}",
                t.stopped,
                t.named,
                t.first,
                t.accused,
                t.missed,
                t.planted - t.mute,
                t.mute
            );
            (*name, t)
        })
        .collect()
}

/// Sound pulls that get a word, and those that are stopped.
fn alarms(sound: &[Sound], drum: bool, text: &mut String) -> (usize, usize) {
    let mut found = (0, 0);
    for case in sound {
        let findings = case.with(None, drum).expect("a pull").0.findings;
        if !findings.is_empty() {
            found.0 += 1;
            let _ = writeln!(text, "  alarm: {} {findings:?}", case.name);
        }
        let stops = |f: &Finding| f.severity == Severity::Stops;
        found.1 += usize::from(findings.iter().any(stops));
    }
    found
}

#[test]
fn planted_mistakes_are_named_and_sound_recordings_pass() {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data");
    let folders = [
        "recorded_pulls",
        "faulty_pulls/first",
        "faulty_pulls/second",
        "faulty_pulls/third",
    ];
    let sound: Vec<Sound> = folders.iter().flat_map(|f| sound(&data.join(f))).collect();
    // What a log without drum speed can tell: a unit, and a step of the gearbox. The rest lies near what a tyre may slip.
    let rough = [
        "hp as kW",
        "kW as hp",
        "lb ft as N m",
        "gear 25 % too long",
        "gear 25 % too short",
    ];
    for drum in [true, false] {
        let mut text = format!("drum speed logged: {drum}\n");
        let (false_alarms, stopped) = alarms(&sound, drum, &mut text);
        let rows = study(&sound, drum, &mut text);
        eprintln!(
            "{text}{false_alarms} of {} sound pulls get a word",
            sound.len()
        );
        assert_eq!(stopped, 0, "a sound pull is stopped\n{text}");
        // At most one in fifty.
        assert!(50 * false_alarms <= sound.len(), "{text}");
        let told = rows.iter().filter(|(name, _)| drum || rough.contains(name));
        let (named, of) = told.fold((0, 0), |(named, of), (_, t)| {
            (named + t.named, of + t.planted - t.mute)
        });
        assert!(100 * named >= 95 * of, "{named} of {of}\n{text}");
        let planted: usize = rows.iter().map(|(_, t)| t.planted).sum();
        let accused: usize = rows.iter().map(|(_, t)| t.accused).sum();
        assert!(50 * accused <= planted, "{accused} of {planted}\n{text}");
    }
}

#[test]
fn a_logged_force_says_which_of_power_and_inertia_is_mistyped() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/recorded_pulls");
    let sound = sound(&folder);
    let units = [
        Mistake::PowerHpAsKw,
        Mistake::PowerKwAsHp,
        Mistake::CorrectedPowerAsRead,
    ];
    let all = |findings: &[Finding]| -> Vec<Mistake> {
        let candidates = findings.iter().flat_map(|f| &f.candidates);
        candidates.map(|c| c.mistake).collect()
    };
    let mut accused = 0;
    for case in &sound {
        for cell in [0.99, 1.0, 1.01] {
            // Within what a cell is calibrated to, 1 %, nothing is said.
            for drum in [true, false] {
                let (answer, _) = case.beside(None, drum, Some(cell)).expect("a pull");
                let word = answer
                    .findings
                    .iter()
                    .any(|f| f.finding == Contradiction::PowerOfTheForce);
                assert!(!word, "{} {cell}: {answer:?}", case.name);
            }
            for (name, planted) in PLANTED {
                let Planted::Entry(Mistake::DrumInertia, ..) = planted else {
                    continue;
                };
                let (answer, _) = case
                    .beside(Some(planted), true, Some(cell))
                    .expect("a pull");
                let of_the_drum = answer
                    .findings
                    .iter()
                    .find(|f| f.finding == Contradiction::EnergyOfTheDrum);
                let found =
                    of_the_drum.unwrap_or_else(|| panic!("{} {name}: {answer:?}", case.name));
                let named = all(std::slice::from_ref(found));
                assert!(named.contains(&Mistake::DrumInertia), "{name}: {found:?}");
                // Neither a unit nor a correction: the force bears the power out.
                assert!(
                    !named.iter().any(|m| units.contains(m)),
                    "{name}: {found:?}"
                );
            }
            // Without the drum's speed nothing but the force can tell a correction.
            for (name, mistake) in [
                ("hp as kW", Mistake::PowerHpAsKw),
                ("kW as hp", Mistake::PowerKwAsHp),
                ("corrected power as read", Mistake::CorrectedPowerAsRead),
            ] {
                let planted = PLANTED
                    .iter()
                    .find(|(of, _)| *of == name)
                    .expect("planted")
                    .1;
                let Some((answer, Some(factor))) = case.beside(Some(planted), false, Some(cell))
                else {
                    continue;
                };
                // Less than the cell's own doubt is not to be seen.
                if (factor / cell).ln().abs() < 0.02 {
                    continue;
                }
                let named = all(&answer.findings).contains(&mistake);
                accused += usize::from(!named);
                assert!(
                    named || mistake == Mistake::CorrectedPowerAsRead,
                    "{} {name} {cell}: {answer:?}",
                    case.name
                );
            }
        }
    }
    // A correction and the cell's doubt together may look like another standard's or none: one in ten.
    assert!(
        10 * accused <= 9 * sound.len(),
        "{accused} of {}",
        9 * sound.len()
    );
}
