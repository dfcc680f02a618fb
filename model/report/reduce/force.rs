//! The force logged at the drums, in words: what it is taken for, and whether the stated inertia agrees with it.

use super::super::document::Part;
use super::words::pair;
use crate::ask::reduce::{Answer, Curve, Feels, Force};
use crate::drumlog::balance::WINDOW_S;
use crate::drumlog::{Reads, Told};
use crate::report::number::{Units, What};

/// What a logged force is, by its id.
pub(in crate::report) const FORCES: &[(&str, &str)] = &[
    ("all", "all of the force at the drums"),
    ("brake_alone", "the force of the rig's brake alone"),
];

/// By what that is known, by its id.
pub(in crate::report) const TOLD: &[(&str, &str)] = &[
    ("stated", "stated in [drums] of the log's description"),
    ("named", "the name of its column"),
    (
        "by_the_log",
        "the log: how it goes with acceleration and speed",
    ),
];

const fn reads(force: Reads) -> &'static str {
    match force {
        Reads::All => FORCES[0].1,
        Reads::BrakeAlone => FORCES[1].1,
    }
}

const fn told(by: Told) -> &'static str {
    match by {
        Told::Stated => TOLD[0].1,
        Told::Named => TOLD[1].1,
        Told::ByTheLog => TOLD[2].1,
    }
}

/// What power comes from, and the drums' own drag.
pub(super) fn power_from(answer: &Answer) -> String {
    let drag = if answer.drag_added_back {
        "the drums' own drag added back"
    } else {
        "the drums' own drag not added back"
    };
    match &answer.roll_force {
        Some(force) if force.reads == Reads::All => {
            "the logged force at the drums times their speed".to_owned()
        }
        Some(_) => format!("from the brake's logged force and the drums' inertia, {drag}"),
        None if answer.simulates_a_car => {
            "from the mass and the road load that the rig simulates".to_owned()
        }
        None => drag.to_owned(),
    }
}

/// What the doubt of a whole curve comes from.
pub(super) fn in_doubt(answer: &Answer) -> &'static str {
    match &answer.roll_force {
        Some(force) if force.reads == Reads::All => "The force cell's scale and the radius",
        Some(_) => "The force cell's scale, inertia and radius",
        None if answer.simulates_a_car => "The simulated mass and the radius",
        None => "Inertia and radius",
    }
}

/// Whether force and inertia agree: a line, or a warning.
pub(super) fn check(part: &mut Part<'_>, answer: &Answer, units: Units) {
    let Some(force) = &answer.roll_force else {
        return;
    };
    if force.reversed {
        part.labelled(
            "!!  ",
            "The force at the drums is logged negative while the car drives; it is read with its sign reversed.",
            4,
        );
    }
    let Some(feels) = &force.feels else {
        part.paragraph(
            "The logged force does not go with acceleration and speed alone, as where a controlled brake works; so the stated inertia cannot be held against it.",
        );
        return;
    };
    let stated = if answer.simulates_a_car {
        "simulated mass"
    } else {
        "inertia"
    };
    match feels.agrees {
        None => {}
        Some(true) => {
            part.paragraph(format!(
                "Check: the logged force goes with a mass of {} at the drums' surface; the stated {stated} makes {}. They agree.",
                mass(feels.mass_kg, feels.mass_se_kg, units),
                units.show(What::Mass, feels.stated_kg)
            ));
        }
        Some(false) => {
            part.labelled("!!  ", disagrees(force, feels, stated, units), 4);
        }
    }
    if feels.load_is_simulated && !answer.simulates_a_car {
        part.labelled(
            "!!  ",
            format!(
                "Beside its mass the force holds {}: no drum's own drag, but a road load that the rig simulates. Describe it in a table [drums.road_load].",
                load(feels, units)
            ),
            4,
        );
    }
}

fn mass(kg: f64, se_kg: f64, units: Units) -> String {
    let (value, se) = pair(units, What::Mass, kg, se_kg);
    format!("{value} ± {se} {}", units.symbol(What::Mass))
}

/// What would agree, and what the power rests on meanwhile.
fn disagrees(force: &Force, feels: &Feels, stated: &str, units: Units) -> String {
    let would = match (feels.inertia_that_would_agree_kg_m2, feels.inertia_se_kg_m2) {
        (Some(inertia), Some(se)) => {
            let (value, se) = pair(units, What::Inertia, inertia, se);
            format!(
                "drums.inertia {value} ± {se} {}",
                units.symbol(What::Inertia)
            )
        }
        _ => format!(
            "drums.road_load.mass {}",
            mass(feels.mass_kg, feels.mass_se_kg, units)
        ),
    };
    let rests = match force.reads {
        Reads::All => {
            "Power is the logged force times speed all the same and does not depend on the inertia"
        }
        Reads::BrakeAlone => "Power depends on both, and one of them is wrong",
    };
    format!(
        "The logged force goes with a mass of {} at the drums' surface, but the stated {stated} makes {}, {:+.1} % apart: {would} would agree, or a cell that reads {:.3} times as much. {rests}.",
        mass(feels.mass_kg, feels.mass_se_kg, units),
        units.show(What::Mass, feels.stated_kg),
        100.0 * (feels.mass_kg / feels.stated_kg - 1.0),
        feels.stated_kg / feels.mass_kg
    )
}

fn load(feels: &Feels, units: Units) -> String {
    let list: Vec<String> = feels
        .load
        .iter()
        .map(|(speed, newton, se)| {
            let (value, se) = pair(units, What::Force, *newton, *se);
            format!(
                "{value} ± {se} {} at {}",
                units.symbol(What::Force),
                units.show(What::Speed, *speed)
            )
        })
        .collect();
    list.join(", ")
}

/// How the force was read.
pub(super) fn details(part: &mut Part<'_>, answer: &Answer, units: Units) {
    let Some(force) = &answer.roll_force else {
        return;
    };
    let mut text = format!(
        "The logged force is {}, known by {}.",
        reads(force.reads),
        told(force.told_by)
    );
    if force.lag_s != 0.0 {
        add!(
            text,
            " It comes {:.3} ± {:.3} s after the speed, which is taken out.",
            force.lag_s,
            force.lag_se_s
        );
    }
    if let Some(feels) = &force.feels {
        add!(
            text,
            " Beside a mass of {} it holds {}; over {WINDOW_S} s it strays from the two by {} (standard deviation).",
            mass(feels.mass_kg, feels.mass_se_kg, units),
            load(feels, units),
            units.show(What::Force, feels.residual_n)
        );
    }
    part.paragraph(text);
}

/// Noise of the force in a curve.
pub(super) fn noise(curve: &Curve, units: Units) -> Option<String> {
    let newton = curve.force_noise_n?;
    Some(format!(
        "single readings of the force scatter by {}",
        units.show(What::Force, newton)
    ))
}
