//! A recorded case: three good pulls of a car, an odd one, and what was done to it.
//!
//! Exists so that the checks and the study that chose the doubts read the cases alike. It knows the simulator's words and nothing of what is
//! asked of an answer.

use crate::cases::{car, read};
use pullcast::belief::Noise;
use pullcast::diagnose::{Cause, Diagnosis, Doubts, Entered, Question, SpeedSource, Trial};
use pullcast::dyno::Setup;
use pullcast::dyno::correction::Standard;
use pullcast::fit::fitted::calibrate;
use pullcast::fit::observation::{MeasuredPull, Visit};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// The sets, each of other cars, sizes, weather and noise.
pub(crate) const SETS: [&str; 3] = ["first", "second", "third"];

/// Folder of a set.
pub(crate) fn folder(set: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("validation/data/faulty_pulls")
        .join(set)
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
pub(crate) fn cause(answer: &Value) -> Cause {
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
pub(crate) fn true_sizes(answer: &Value, car: &Value) -> Vec<(&'static str, usize, f64)> {
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

pub(crate) struct Case {
    pub(crate) name: String,
    pub(crate) setup: Setup,
    pub(crate) clean: (Visit, Vec<Entered>),
    pub(crate) odd: (MeasuredPull, Entered),
    pub(crate) answer: Value,
    pub(crate) car: Value,
}

impl Case {
    pub(crate) fn read(set: &str, name: &str) -> Self {
        let dir = folder(set).join(name);
        let car = read::json(&dir.join("car.json"));
        let sheet = car::sheet(name, &car, &Value::Null);
        let clean = read::visit(&dir, "clean");
        let fitted = calibrate(&sheet, std::slice::from_ref(&clean), Noise::default())
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let typed = all_entered(&dir, "clean", clean.pulls.len());
        let mut spoiled = read::visit(&dir, "spoiled").pulls;
        Self {
            name: format!("{set} {name}"),
            setup: fitted.sheet.centre,
            clean: (clean, typed),
            odd: (spoiled.remove(0), all_entered(&dir, "spoiled", 1)[0]),
            answer: read::json(&dir.join("answer.json")),
            car,
        }
    }

    /// The question about an odd pull held against good ones.
    pub(crate) fn ask<T>(
        &self,
        good: (Visit, Vec<Entered>),
        odd: (&MeasuredPull, Entered),
        doubts: Doubts,
        answer: impl FnOnce(&Question<'_>) -> T,
    ) -> T {
        answer(&Question {
            setup: &self.setup,
            good: &[good],
            odd: Trial {
                pull: odd.0,
                entered: odd.1,
            },
            before: &[],
            same_strapping: true,
            same_air: true,
            doubts,
        })
    }

    /// What is said of an odd pull held against good ones.
    pub(crate) fn answer(
        &self,
        good: (Visit, Vec<Entered>),
        odd: (&MeasuredPull, Entered),
        doubts: Doubts,
    ) -> Diagnosis {
        self.ask(good, odd, doubts, |question| {
            question
                .answer()
                .unwrap_or_else(|e| panic!("{}: {e}", self.name))
        })
    }

    /// The first good pulls of the case, so many.
    pub(crate) fn good(&self, count: usize) -> (Visit, Vec<Entered>) {
        let (mut visit, mut typed) = self.clean.clone();
        visit.pulls.truncate(count);
        typed.truncate(count);
        (visit, typed)
    }

    /// An odd pull against the first good ones, so many.
    pub(crate) fn diagnose(
        &self,
        odd: (&MeasuredPull, Entered),
        good: usize,
        doubts: Doubts,
    ) -> Diagnosis {
        self.answer(self.good(good), odd, doubts)
    }

    /// The pull that was spoiled, or was not.
    pub(crate) fn spoiled(&self) -> (&MeasuredPull, Entered) {
        (&self.odd.0, self.odd.1)
    }

    /// One good pull held against the others.
    pub(crate) fn diagnose_clean(&self, index: usize, doubts: Doubts) -> Diagnosis {
        let (mut visit, mut typed) = self.clean.clone();
        let odd = (visit.pulls.remove(index), typed.remove(index));
        self.answer((visit, typed), (&odd.0, odd.1), doubts)
    }
}
