//! What a figure does not cover, and what to mind before the pull is made.
//!
//! Both lists depend on the car and the work: a caution that does not apply is noise that hides the one that does. They are
//! the trade's common practice, without a source, and defer to local codes and licensed practice.

use crate::car::{Blower, Car, Limit, Limits};
use crate::parts::{self, Blown, Plan, Role};
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
    let any = |which: &[Limit]| which.iter().any(|limit| limits.contains(*limit));
    let mut list = Vec::new();
    if any(&[Limit::InjectorDuty, Limit::FuelPump, Limit::LeanMisfire]) {
        list.push(caution(
            "lean mixture",
            "The fuel supply cannot follow the air: a lean mixture at full load overheats and melts pistons and valves within \
            seconds. Do not make this pull before the fuel supply is enlarged; log mixture and fuel pressure.",
        ));
    }
    if any(&[Limit::TyreSpeed]) {
        list.push(caution(
            "tyre speed",
            &format!(
                "The tyres are rated for {tyre_rating} and would turn faster, spinning included; on a drum they also heat faster \
                than on a road. End the pull below that speed, or use a lower gear or other tyres."
            ),
        ));
    }
    if any(&[Limit::TyreGrip]) {
        list.push(caution(
            "spinning tyres",
            "The tyres would reach their grip on the drums: a spinning tyre heats, throws rubber and lets the engine flare. \
            Lift at once if it happens; more straps only within what anchors and tyres bear.",
        ));
    }
    if any(&[Limit::ClutchSlip]) {
        list.push(caution(
            "slipping clutch",
            "The clutch would slip and overheat, and the engine flare to its limiter. Lift at once if it happens.",
        ));
    }
    if any(&[
        Limit::ExhaustTemperature,
        Limit::PeakPressure,
        Limit::PistonSpeed,
    ]) {
        list.push(caution(
            "engine parts",
            "Exhaust temperature, cylinder pressure or piston speed pass the thresholds named above; what the parts bear, \
            only their makers can say.",
        ));
    }
    list
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
    for kind in parts::kinds() {
        let planned = plan
            .changes
            .iter()
            .any(|change| change.kind().id == kind.id);
        let told = kind
            .not_computed
            .filter(|told| planned && !list.contains(told));
        list.extend(told);
    }
    list
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
        let next = match change.kind().role {
            Role::Blower(blown) => blown,
            Role::NoBlower => Blown::Not,
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
