//! Recorded pulls with one known fault each, or none: is the true cause named first?
//!
//! Source: pulls of an independent crank-angle simulator, three good ones and one spoiled by exactly one cause (see
//! `validation/data/faulty_pulls/README.md`). It shares no shortcut with the mean-value model that diagnoses them.

use crate::cases::{car, read};
use pullcast::belief::Noise;
use pullcast::diagnose::{
    Cause, Diagnosis, Entered, Question, Sampled, SpeedSource, Trial, evidence_by_sampling,
};
use pullcast::dyno::Setup;
use pullcast::dyno::correction::Standard;
use pullcast::fit::fitted::calibrate;
use pullcast::fit::observation::{MeasuredPull, Visit};
use serde_json::Value;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/faulty_pulls")
}

/// What a head file says was entered.
fn entered(head: &Value) -> Entered {
    let typed = &head["dyno_settings"];
    let gear = typed["gear_ratio"].as_f64();
    let last = typed["final_drive"].as_f64();
    Entered {
        drum_inertia_kg_m2: typed["drum_inertia_kgm2"].as_f64(),
        overall_ratio: gear.zip(last).map(|(gear, last)| gear * last),
        standard: match head["correction_standard"].as_str() {
            Some("sae_j1349") => Some(Standard::SaeJ1349),
            None => None,
            Some(other) => panic!("{other}"),
        },
        speed_source: match head["engine_speed_source"].as_str() {
            Some(text) if text.starts_with("computed") => SpeedSource::FromDrum,
            _ => SpeedSource::Own,
        },
        altitude_m: head["weather"]["elevation_m"].as_f64(),
        charge: head["battery_state_of_charge_pct_start"]
            .as_f64()
            .map(|c| 0.01 * c),
    }
}

pub(crate) fn all_entered(dir: &Path, visit: &str, count: usize) -> Vec<Entered> {
    (1..=count)
        .map(|n| entered(&read::json(&dir.join(visit).join(format!("run{n}.json")))))
        .collect()
}

/// The cause as the simulator names it.
fn cause(answer: &Value) -> Cause {
    match answer["cause"].as_str().expect("a cause") {
        "none" => Cause::Nothing,
        "station_pressure_as_sea_level" => Cause::PressureMixedUp,
        "wrong_correction_standard" => Cause::Correction,
        "wrong_gear_ratio_entered" => Cause::Gear,
        "wrong_drum_inertia" => Cause::DrumInertia,
        "tyre_slip" => Cause::TyreSlip,
        "clutch_slip" => Cause::ClutchSlip,
        "belt_slip" => Cause::BeltSlip,
        "heat_soak" => Cause::HeatSoak,
        "knock_retard" => Cause::KnockRetard,
        "mixture_lean" => Cause::Lean,
        "mixture_rich" => Cause::Rich,
        "boost_leak" => Cause::BoostLeak,
        "restricted_intake" => Cause::RestrictedIntake,
        "restricted_exhaust" => Cause::RestrictedExhaust,
        "low_battery" => Cause::LowBattery,
        "weak_fuel" => Cause::WeakFuel,
        other => panic!("unknown cause {other}"),
    }
}

/// Sizes that the simulator states in the terms of this model: the answer's key, which size of the cause it is, and the factor
/// to its unit.
fn true_sizes(answer: &Value, car: &Value) -> Vec<(&'static str, usize, f64)> {
    let size = &answer["size"];
    let read = |key: &str| size[key].as_f64();
    let mut out = Vec::new();
    let mut push = |key: &'static str, index: usize, value: Option<f64>| {
        if let Some(value) = value {
            out.push((key, index, value));
        }
    };
    let over = |a: &str, b: &str| Some(read(a)? / read(b)?);
    match cause(answer) {
        Cause::Gear | Cause::DrumInertia => push("entered over true", 0, over("entered", "true")),
        Cause::BeltSlip => {
            push("greatest slip", 0, read("max_fraction"));
            push("from", 1, read("from_rpm"));
        }
        Cause::HeatSoak => {
            let cooled = usize::from(car.get("intercooler").is_some());
            if cooled == 1 {
                push("core rise", 0, read("core_rise_k"));
            }
            push("inlet rise", cooled, read("inlet_rise_k"));
        }
        // Told as spark by the simulator and as half the burn here; a degree of spark moves half the burn by about one.
        Cause::KnockRetard => {
            push("retard", 0, read("retard_deg"));
            push("from", 1, read("from_rpm"));
        }
        Cause::BoostLeak => push("area", 0, read("area_mm2").map(|a| 1e-6 * a)),
        Cause::RestrictedIntake | Cause::RestrictedExhaust => {
            push("area left", 0, read("area_factor"));
        }
        Cause::LowBattery => push("charge", 0, read("soc")),
        Cause::ClutchSlip => push(
            "capacity",
            0,
            read("static_capacity_over_peak_transmitted_torque"),
        ),
        Cause::Lean => push(
            "leaner",
            0,
            read("lam").zip(read("lam_clean")).map(|(a, b)| a - b),
        ),
        Cause::Rich => push(
            "richer",
            0,
            read("lam").zip(read("lam_clean")).map(|(a, b)| b - a),
        ),
        _ => {}
    }
    out
}

struct Case {
    name: String,
    setup: Setup,
    clean: (Visit, Vec<Entered>),
    odd: (MeasuredPull, Entered),
    answer: Value,
    car: Value,
}

impl Case {
    fn read(name: &str) -> Self {
        let dir = folder().join(name);
        let car = read::json(&dir.join("car.json"));
        let sheet = car::sheet(name, &car, &Value::Null);
        let clean = read::visit(&dir, "clean");
        let fitted = calibrate(&sheet, std::slice::from_ref(&clean), Noise::default())
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let typed = all_entered(&dir, "clean", clean.pulls.len());
        let mut spoiled = read::visit(&dir, "spoiled").pulls;
        Self {
            name: name.to_owned(),
            setup: fitted.sheet.centre,
            clean: (clean, typed),
            odd: (spoiled.remove(0), all_entered(&dir, "spoiled", 1)[0]),
            answer: read::json(&dir.join("answer.json")),
            car,
        }
    }

    /// A pull held against good ones.
    fn ask<T>(
        &self,
        good: (Visit, Vec<Entered>),
        odd: &(MeasuredPull, Entered),
        before: &[MeasuredPull],
        answer: impl FnOnce(&Question<'_>) -> T,
    ) -> T {
        answer(&Question {
            setup: &self.setup,
            good: &[good],
            odd: Trial {
                pull: &odd.0,
                entered: odd.1,
            },
            before,
            same_visit: true,
        })
    }

    fn diagnose(&self) -> Diagnosis {
        self.ask(self.clean.clone(), &self.odd, &[], |question| {
            question
                .answer()
                .unwrap_or_else(|e| panic!("{}: {e}", self.name))
        })
    }

    /// One good pull held against the others.
    fn diagnose_clean(&self, index: usize) -> Diagnosis {
        let (mut visit, mut typed) = self.clean.clone();
        let odd = (visit.pulls.remove(index), typed.remove(index));
        self.ask(
            (visit, typed),
            &odd,
            &self.clean.0.pulls[..index],
            |question| {
                question
                    .answer()
                    .unwrap_or_else(|e| panic!("{}: {e}", self.name))
            },
        )
    }
}

/// What became of a case.
struct Outcome {
    line: String,
    /// Place of the true cause, from 1.
    rank: usize,
    /// Sizes that lie in their 90 % intervals, and all.
    held: (usize, usize),
    /// Clean pulls called clean, and all.
    clean: (usize, usize),
    /// Log-evidence by Laplace and by sampling, of the true cause where it has sizes.
    evidence: Option<(Cause, f64, Sampled)>,
}

const SAMPLES: usize = 300;

impl Outcome {
    fn of(name: &str) -> Self {
        let case = Case::read(name);
        let diagnosis = case.diagnose();
        let truth = cause(&case.answer);
        let rank = diagnosis
            .suspects
            .iter()
            .position(|s| s.explained.cause == truth)
            .unwrap_or_else(|| panic!("{name}: {truth:?} is not among the causes"));
        let suspect = &diagnosis.suspects[rank];
        let mut line = format!(
            "{name} {truth:?}: place {}, probability {:.3}, power {:+.1} kW at the peak",
            rank + 1,
            suspect.probability,
            1e-3 * suspect.power_w
        );
        let mut held = (0, 0);
        for (what, index, value) in true_sizes(&case.answer, &case.car) {
            let (low, high) = suspect.explained.intervals[index];
            let inside = (low..=high).contains(&value);
            held.0 += usize::from(inside);
            held.1 += 1;
            let _ = write!(
                line,
                "; {what} {value:.4e} in {low:.4e} to {high:.4e}{}",
                if inside { "" } else { " MISS" }
            );
        }
        let second = &diagnosis.suspects[usize::from(rank == 0)];
        let _ = write!(
            line,
            "; next {:?} {:.3}",
            second.explained.cause, second.probability
        );
        let clean = (0..case.clean.0.pulls.len())
            .filter(|i| {
                let first = &case.diagnose_clean(*i).suspects[0];
                if first.explained.cause != Cause::Nothing {
                    let _ = write!(line, "; clean {} called {:?}", i + 1, first.explained.cause);
                }
                first.explained.cause == Cause::Nothing
            })
            .count();
        let evidence = (!suspect.explained.values.is_empty()).then(|| {
            let sampled = case.ask(case.clean.clone(), &case.odd, &[], |question| {
                evidence_by_sampling(question, &suspect.explained, SAMPLES, 1)
            });
            let sampled = sampled.unwrap_or_else(|| panic!("{name}: no sample"));
            (truth, suspect.explained.log_evidence, sampled)
        });
        Self {
            line,
            rank: rank + 1,
            held,
            clean: (clean, case.clean.0.pulls.len()),
            evidence,
        }
    }
}

#[test]
fn the_cause_of_a_recorded_fault_is_named() {
    let outcomes: Vec<Outcome> = read::names(&folder())
        .iter()
        .map(|name| Outcome::of(name))
        .collect();
    let table = outcomes.iter().fold(String::new(), |mut text, o| {
        let _ = writeln!(text, "{}", o.line);
        text
    });
    eprintln!("{table}");
    let share = |count: usize, all: usize| count as f64 / all as f64;
    let within = |rank: usize| outcomes.iter().filter(|o| o.rank <= rank).count();
    let (first, second) = (
        share(within(1), outcomes.len()),
        share(within(2), outcomes.len()),
    );
    // The bounds set for this version of the model.
    assert!(
        first >= 0.80 && second >= 0.92,
        "first {first:.2}, in the first two {second:.2}\n{table}"
    );
    let sum = |of: fn(&Outcome) -> (usize, usize)| {
        outcomes
            .iter()
            .map(of)
            .fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1))
    };
    let (clean, all) = sum(|o| o.clean);
    assert!(
        share(clean, all) >= 0.90,
        "{clean} of {all} clean pulls called clean\n{table}"
    );
    let (held, all) = sum(|o| o.held);
    assert!(
        share(held, all) >= 0.80,
        "{held} of {all} sizes held\n{table}"
    );
    // Laplace takes the peak for a paraboloid. A factor of e² in the evidence is what two rivals must differ by before anybody would
    // act on it. A slipping clutch's trace has steps, where the search ends on a lower peak than the highest (measured: 5.6 lower,
    // evidence 4.4 too small); there it may only be too careful, and by no more than a half over that.
    for (cause, laplace, sampled) in outcomes.iter().filter_map(|o| o.evidence) {
        let off = sampled.log_evidence - laplace;
        let most = if cause == Cause::ClutchSlip { 6.6 } else { 2.0 };
        let said = format!("{cause:?}: {laplace:.2} against {sampled:?}");
        assert!((-2.0..most).contains(&off), "{said}");
        assert!(sampled.above_peak < 1.3 * most, "{said}");
        // Fewer would be no sample.
        assert!(sampled.effective_draws > 10.0, "{said}");
    }
}
