//! What open tables of catalogued engines taught about engines that nobody measured.
//!
//! A bare car's torque hangs on numbers that no shop knows. Their centres and doubts are learned here from some 150 engines of 1985, 1993
//! and 2015 of which a catalogue prints rated power and its speed, of half also peak torque: by empirical Bayes, doubts by the
//! greatest evidence, scored on families of engines left out (`cargo run --release --example catalogue_engines -- FOLDER`). Only these
//! numbers ship; the tables' licences keep some of them out of the repository. Few numbers: what the tables could not tell apart from
//! nothing (era beside valves, size of cylinder) is not here. Equation (8.14) gives them their place.

use super::parameter::Guess::{self, LogNormal, Normal};
use crate::car::{Engine, Fuelling};

/// Logarithm of [`crate::car::Breathing::level`] midway between two and four valves a cylinder, injection.
const LEVEL: f64 = 0.072;
/// What two inlet valves in place of one add to it.
const TWO_INLET_VALVES: f64 = 0.112;
/// What a carburettor takes from it: its venturi, and a manifold warm enough to evaporate.
const CARBURETTOR: f64 = 0.098;
/// Doubt of the level, as a share.
const LEVEL_DOUBT: f64 = 0.035;
/// Speed over the redline past which filling falls. The tables print the speed of rated power and no redline, which was taken to lie a tenth
/// above it (common practice, no source): engines stray from that tenth by half of it, and the doubt says so.
const FADE: (f64, f64) = (0.905, 0.06);

/// Filling at low inlet Mach index, on port density, by the valves and by how fuel meets the air.
/// Equation (8.14).
pub(super) fn level(engine: &Engine) -> Guess {
    let valves = if engine.valves.count >= 2 { 0.5 } else { -0.5 };
    let carburettor = match engine.fuelling {
        Fuelling::Injection => 0.0,
        Fuelling::Carburettor => CARBURETTOR,
    };
    let level = (LEVEL + TWO_INLET_VALVES * valves - carburettor).exp();
    Normal(level, LEVEL_DOUBT * level)
}

/// Speed over the redline past which filling falls.
pub(super) const fn fade() -> Guess {
    LogNormal(FADE.0, FADE.1)
}

/// Indicated work over that of the ideal cycle: the centre is of fuel consumption, the doubt what the tables leave.
pub(super) const WORK: Guess = Normal(0.81, 0.02);
/// Relative change of filling per 2500 rpm.
pub(super) const TILT: Guess = Normal(0.0, 0.02);
/// Friction in proportion to piston speed, kPa at 10 m/s: the centre from memory, the doubt what the tables leave.
pub(super) const LINEAR_FRICTION: Guess = Normal(45.0, 10.0);
