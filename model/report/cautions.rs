//! What a figure does not cover, and what to mind before the pull is made, in words.
//!
//! They are the trade's common practice, without a source, and defer to local codes and licensed practice. A speed stands where the words
//! have `{speed}`, or `{rating}` for one that tyres are rated for.

use super::number::{Units, What};
use super::{Document, Level};
use crate::ask::cautions::{self, Hazard, NotIncluded};
use crate::car::Danger;
use serde::Serialize;

/// One thing to mind, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Caution {
    /// What it is about.
    pub about: &'static str,
    /// What to mind.
    pub text: String,
}

impl cautions::Caution {
    /// In one line of a terminal.
    fn brief(&self, units: Units) -> String {
        let speed = self
            .speed_m_s
            .map_or_else(String::new, |m_s| units.show(What::Speed, m_s));
        brief(self.caution).replace("{speed}", &speed)
    }

    /// In words, a speed in these units.
    pub(super) fn point_in(&self, units: Units) -> String {
        self.sentence(|m_s| units.show(What::Speed, m_s))
    }

    fn sentence(&self, speed: impl Fn(f64) -> String) -> String {
        let caution = worded(
            self.caution,
            &self.speed_m_s.map_or_else(String::new, speed),
        );
        format!("{}: {}", caution.about, caution.text)
    }
}

/// The few that this build calls for, in a line each where only the answer is shown, and the full list among the details.
pub(super) fn add(document: &mut Document, all: &[cautions::Caution], units: Units) {
    let few = cautions::called_for(all);
    document
        .at(Level::Brief)
        .section("Before the pull:")
        .list(few.iter().map(|caution| caution.brief(units)));
    document
        .at(Level::Detail)
        .space()
        .section("Before the pull")
        .list(all.iter().map(|caution| caution.point_in(units)));
}

/// The cautions that matter most, each in a line.
pub(super) fn most(all: &[cautions::Caution], most: usize, units: Units) -> Vec<String> {
    let few = cautions::called_for(all);
    few.iter()
        .take(most)
        .map(|caution| caution.brief(units))
        .collect()
}

/// What to mind, in a line of 76 characters at most.
const fn brief(hazard: Hazard) -> &'static str {
    match hazard {
        Hazard::Limit(Danger::LeanMixture) => {
            "Goes lean: out of fuel supply. Do not run this pull until that is fixed."
        }
        Hazard::Limit(Danger::TyreSpeed) => {
            "Tyres are rated for {speed} and would go past it: lift before that."
        }
        Hazard::Limit(Danger::SpinningTyres) => {
            "Tyres reach the limit of their grip: lift at once if they spin."
        }
        Hazard::Limit(Danger::SlippingClutch) => {
            "The clutch would slip and burn: lift at once if the engine flares."
        }
        Hazard::Limit(Danger::EngineParts) => {
            "EGT, cylinder pressure or piston speed past its threshold: see --details."
        }
        Hazard::Limit(Danger::HotMotor) => {
            "Motor would overheat: shorter pulls, longer rests, log its temperature."
        }
        Hazard::DrumsAndStraps => {
            "Check straps, chocks, exhaust extraction and CO alarm; nobody near the car."
        }
        Hazard::Tyres => "Tyres will see {speed}: rated for it, undamaged, at road pressure?",
        Hazard::ExhaustGas => "Full-load exhaust holds carbon monoxide: extract it at the pipe.",
        Hazard::Fuel => "Look for fuel leaks at pressure first; extinguisher within reach.",
        Hazard::Overboost => {
            "Boost: step up to full load, log boost, AFR and knock, stop at any knock."
        }
        Hazard::Turbocharger => {
            "Turbine and manifold glow after a pull: let it idle before shut-off."
        }
        Hazard::BlowerBelt => "Guard the blower belt and stay out of its plane.",
        Hazard::NitrousOxide => {
            "Nitrous: smallest jet first; a nozzle short of fuel melts pistons."
        }
        Hazard::WaterMethanol => {
            "Methanol is poisonous and burns unseen; spark must drop if the spray stops."
        }
        Hazard::HighVoltage => {
            "High voltage: only qualified people open or isolate the electric axle."
        }
        Hazard::Rules => "Local codes and the makers' limits come first.",
    }
}

fn worded(hazard: Hazard, speed: &str) -> Caution {
    match hazard {
        Hazard::Limit(danger) => Caution {
            about: danger.about(),
            text: danger.text(speed),
        },
        standing => {
            let (about, text) = words(standing);
            Caution {
                about,
                text: text.replace("{speed}", speed),
            }
        }
    }
}

/// What it is about, and what to mind; a danger that comes with a limit has its words in its own row.
pub(super) const fn words(hazard: Hazard) -> (&'static str, &'static str) {
    match hazard {
        Hazard::Limit(_) => ("", ""),
        Hazard::DrumsAndStraps => (
            "drums and straps",
            "Nobody beside, ahead of or behind the car while the drums turn. Look over straps, \
            anchors and chocks before every pull; more power than last time loads them more.",
        ),
        Hazard::Tyres => (
            "tyres",
            "Their tread reaches about {speed}. The tyres must be rated for it, free of damage, \
            at road pressure, and not older than their maker allows.",
        ),
        Hazard::ExhaustGas => (
            "exhaust gas",
            "Full-load exhaust holds carbon monoxide. Extract it at the pipe, ventilate the cell, and keep \
            a CO alarm where people stand.",
        ),
        Hazard::Fuel => (
            "fuel",
            "Look for leaks at pressure before the first pull; an extinguisher within reach, no open flame.",
        ),
        Hazard::Overboost => (
            "overboost",
            "Raise load in steps and log pressure, mixture and knock; stop at the first sign of \
            detonation or of a boost above the one planned.",
        ),
        Hazard::Turbocharger => (
            "turbocharger",
            "Turbine and manifold glow after a pull: nothing that burns near them, and let the engine idle before it is \
            shut off.",
        ),
        Hazard::BlowerBelt => (
            "blower belt",
            "Guard the belt and keep clear of its plane; a torn one strikes.",
        ),
        Hazard::NitrousOxide => (
            "nitrous oxide",
            "Start with the smallest jet and log mixture and knock; a nozzle that loses its fuel melts pistons. \
            Bottle upright and out of the sun, its vent led outside; the gas puts people to sleep without warning.",
        ),
        Hazard::WaterMethanol => (
            "water-methanol",
            "Methanol is poisonous and burns unseen: gloves, air, water at hand. The spark must fall back by \
            itself when the spray stops.",
        ),
        Hazard::HighVoltage => (
            "high voltage",
            "The electric axle carries dangerous voltage, also with the car switched off. Only \
            people qualified and authorised for it open or isolate the system.",
        ),
        Hazard::Rules => (
            "rules",
            "Local codes, the makers' limits and licensed practice come before anything said here.",
        ),
    }
}

/// The words of an id.
pub(super) fn words_of(id: &str) -> Option<(&'static str, &'static str)> {
    let standing = Hazard::STANDING.into_iter().find(|h| h.id() == id);
    let of_limit = || Danger::all().find(|danger| danger.id() == id);
    standing
        .map(words)
        .or_else(|| of_limit().map(|danger| (danger.about(), danger.template())))
}

impl NotIncluded {
    /// As a point of a quote.
    pub const fn words(self) -> &'static str {
        match self {
            Self::FuelSupply => {
                "fuel supply: whether pump, lines and injectors carry the fuel this power burns"
            }
            Self::PumpAndLines => {
                "fuel pump and lines: whether they carry the fuel this power burns"
            }
            Self::InjectorsAndLines => {
                "injectors and lines: whether they carry the fuel this power burns"
            }
            Self::LinesAndFilter => "fuel lines and filter: whether they hold the rail's pressure",
            Self::GearboxAndShafts => "gearbox and shafts: whether they hold the torque",
            Self::ClutchAndGearbox => "clutch and gearbox: whether they hold the torque",
            Self::EngineCooling => "engine cooling over a long pull or a hot day",
            Self::DurabilityWithBlowerDrive => {
                "durability: pistons, rods, gasket, bearings, blower drive"
            }
            Self::Durability => "durability: pistons, rods, gasket, bearings",
            Self::HeatSoak => {
                "heat soak over many pulls: one pull of a rested car is computed (`predict --pulls` makes a row)"
            }
            Self::Tuning => {
                "the tuner's skill: the mixture and the best spark the fuel allows are taken as set"
            }
            Self::TurbochargerFittings => {
                "crank-case ventilation, the turbocharger's oil feed, and whether its gate passes the gas it must"
            }
            Self::BlowerFittings => "crank-case ventilation, belt tensioner and pulley wear",
            Self::TurbochargerReplaced => {
                "the turbocharger, which the new blower replaces: manifold and pipes in its place are not computed, the back pressure \
                 stays as it was behind the turbine"
            }
            Self::BlowerReplaced => {
                "the belt-driven blower, which the turbocharger replaces: a cooler built into it and its pipes are taken over as they are"
            }
            Self::PulseTuning => {
                "pulse tuning of the new intake or exhaust: only its loss of pressure is computed"
            }
            Self::CamshaftManners => {
                "valve train and idle: whether springs, clearances and manners suit the new camshaft"
            }
            Self::ValveTrain => "valve train: whether springs and lifters follow the new redline",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_caution_has_a_line_of_its_own_that_fits() {
        let dangers = Danger::all().map(Hazard::Limit);
        for caution in Hazard::STANDING.into_iter().chain(dangers) {
            let caution = cautions::Caution {
                caution,
                speed_m_s: Some(77.0),
            };
            for units in [Units::Metric, Units::Shop] {
                let line = caution.brief(units);
                assert!(line.chars().count() <= 76, "{line}");
            }
        }
    }
}
