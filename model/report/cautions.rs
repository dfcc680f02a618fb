//! What a figure does not cover, and what to mind before the pull is made.
//!
//! Both lists depend on the car and the work: a caution that does not apply is noise that hides the one that does. They are
//! the trade's common practice, without a source, and defer to local codes and licensed practice.

use crate::build::{Breathing, Change, Plan};
use crate::car::{Blower, Car, Danger, Limits};
use serde::Serialize;

/// One thing to mind.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Caution {
    /// What it is about.
    pub about: &'static str,
    /// What to mind.
    pub text: String,
}

/// Cautions that apply to a pull of this car; `drum_speed` is the highest surface speed, as shown.
pub fn of_pull(car: &Car, drum_speed: &str) -> Vec<Caution> {
    let mut list = vec![
        caution(
            "drums and straps",
            "Nobody beside, ahead of or behind the car while the drums turn. Look over straps, \
            anchors and chocks before every pull; more power than last time loads them more.",
        ),
        caution(
            "tyres",
            &format!(
                "Drum surface reaches about {drum_speed}. The tyres must be rated for it, free of damage, \
            at road pressure, and not older than their maker allows."
            ),
        ),
        caution(
            "exhaust gas",
            "Full-load exhaust holds carbon monoxide. Extract it at the pipe, ventilate the cell, and keep \
            a CO alarm where people stand.",
        ),
        caution(
            "fuel",
            "Look for leaks at pressure before the first pull; an extinguisher within reach, no open flame.",
        ),
    ];
    if !matches!(car.blower, Blower::None) {
        list.push(caution(
            "overboost",
            "Raise load in steps and log pressure, mixture and knock; stop at the first sign of \
            detonation or of a boost above the one planned.",
        ));
        list.push(if car.blower.turbo().is_some() {
            caution(
                "turbocharger",
                "Turbine and manifold glow after a pull: nothing that burns near them, and let the engine idle before it is \
                shut off.",
            )
        } else {
            caution(
                "blower belt",
                "Guard the belt and keep clear of its plane; a torn one strikes.",
            )
        });
    }
    if car.nitrous.is_some() {
        list.push(caution(
            "nitrous oxide",
            "Start with the smallest jet and log mixture and knock; a nozzle that loses its fuel melts pistons. \
            Bottle upright, below 50 °C, its vent led outside; the gas puts people to sleep without warning.",
        ));
    }
    if car.water_methanol.is_some() {
        list.push(caution(
            "water-methanol",
            "Methanol is poisonous and burns unseen: gloves, air, water at hand. The spark must fall back by \
            itself when the spray stops.",
        ));
    }
    if car.electric.is_some() {
        list.push(caution(
            "high voltage",
            "The electric axle carries dangerous voltage, also with the car switched off. Only \
            people qualified and authorised for it open or isolate the system.",
        ));
    }
    list.push(caution(
        "rules",
        "Local codes, the makers' limits and licensed practice come before anything said here.",
    ));
    list
}

/// Cautions that follow from the limits a pull runs into; `tyre_rating` is the tyres' rated speed, as shown.
pub fn of_limits(limits: Limits, tyre_rating: &str) -> Vec<Caution> {
    let met = |danger: &Danger| limits.iter().any(|limit| limit.danger() == Some(*danger));
    Danger::all()
        .filter(met)
        .map(|danger| caution(danger.about(), &danger.text(tyre_rating)))
        .collect()
}

fn caution(about: &'static str, text: &str) -> Caution {
    Caution {
        about,
        text: text.to_owned(),
    }
}

/// What was not looked at, given the car and the work that is planned.
pub fn not_included(plan: &Plan<f64>, before: &Car, after: &Car) -> Vec<&'static str> {
    let boosted = !matches!(after.blower, Blower::None);
    let mut list = vec![
        match (
            after.fuel_supply.injectors.is_some(),
            after.fuel_supply.pump.is_some(),
        ) {
            (false, false) => {
                "fuel supply: whether pump, lines and injectors carry the fuel this power burns"
            }
            (true, false) => "fuel pump and lines: whether they carry the fuel this power burns",
            (false, true) => "injectors and lines: whether they carry the fuel this power burns",
            (true, true) => "fuel lines and filter: whether they hold the rail's pressure",
        },
        if after.driveline.clutch_nm.is_some() {
            "gearbox and shafts: whether they hold the torque"
        } else {
            "clutch and gearbox: whether they hold the torque"
        },
        "engine cooling over a long pull or a hot day",
        if after.blower.drive().is_some() {
            "durability: pistons, rods, gasket, bearings, blower drive"
        } else {
            "durability: pistons, rods, gasket, bearings"
        },
        "heat soak over many pulls: one pull of a rested car is computed (`predict --pulls` makes a row)",
        "the tuner's skill: the mixture and the best spark the fuel allows are taken as set",
    ];
    if boosted {
        list.push(if after.blower.turbo().is_some() {
            "crank-case ventilation, the turbocharger's oil feed, and whether its gate passes the gas it must"
        } else {
            "crank-case ventilation, belt tensioner and pulley wear"
        });
    }
    list.extend(exchanged(plan, before));
    let breathes = |c: &Change<f64>| {
        matches!(
            c,
            Change::Exhaust { .. }
                | Change::Intake { .. }
                | Change::Breathing(Breathing::Headers { .. })
        )
    };
    if plan.changes.iter().any(breathes) {
        list.push(
            "pulse tuning of the new intake or exhaust: only its loss of pressure is computed",
        );
    }
    let cam = |c: &Change<f64>| matches!(c, Change::Breathing(Breathing::Camshaft(_)));
    if plan.changes.iter().any(cam) {
        list.push(
            "valve train and idle: whether springs, clearances and manners suit the new camshaft",
        );
    }
    if plan
        .changes
        .iter()
        .any(|c| matches!(c, Change::Redline { .. }))
    {
        list.push("valve train: whether springs and lifters follow the new redline");
    }
    list
}

/// How a car is blown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Blown {
    Not,
    ByBelt,
    ByExhaust,
}

/// What comes off when a blower takes the place of another kind: the plan need not take it off first, so it must be told.
fn exchanged(plan: &Plan<f64>, before: &Car) -> Vec<&'static str> {
    let mut there = match before.blower {
        Blower::None => Blown::Not,
        Blower::Turbo(_) => Blown::ByExhaust,
        Blower::Displacement { .. } | Blower::Centrifugal { .. } => Blown::ByBelt,
    };
    let mut list = Vec::new();
    for change in &plan.changes {
        let next = match change {
            Change::DisplacementBlower(_) | Change::CentrifugalBlower(_) => Blown::ByBelt,
            Change::Turbocharger(_) => Blown::ByExhaust,
            Change::RemoveBlower => Blown::Not,
            _ => continue,
        };
        list.extend(match (there, next) {
            (Blown::ByExhaust, Blown::ByBelt) => Some(
                "the turbocharger, which the new blower replaces: manifold and pipes in its place are not computed, the back pressure \
                 stays as it was behind the turbine",
            ),
            (Blown::ByBelt, Blown::ByExhaust) => Some(
                "the belt-driven blower, which the turbocharger replaces: a cooler built into it and its pipes are taken over as they are",
            ),
            _ => None,
        });
        there = next;
    }
    list
}
