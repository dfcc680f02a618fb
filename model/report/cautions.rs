//! What a figure does not cover, and what to mind before the pull is made, in words.
//!
//! They are the trade's common practice, without a source, and defer to local codes and licensed practice. A speed stands where the words
//! have `{speed}`, or `{rating}` for one that tyres are rated for.

use super::number::{Units, What};
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
    /// In words, a speed in both units: whoever reads it may be used to either.
    pub(super) fn point(&self) -> String {
        self.sentence(|m_s| {
            format!(
                "{} ({})",
                Units::Metric.show(What::Speed, m_s),
                Units::Shop.show(What::Speed, m_s)
            )
        })
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
            "Drum surface reaches about {speed}. The tyres must be rated for it, free of damage, \
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
            Bottle upright, below 50 °C, its vent led outside; the gas puts people to sleep without warning.",
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

/// The cautions that matter most, each in one line: what a limit of this pull brings first, then by how many people or parts it can hurt.
pub(super) fn brief(cautions: &[cautions::Caution], most: usize, units: Units) -> Vec<String> {
    const ORDER: [Hazard; 11] = [
        Hazard::DrumsAndStraps,
        Hazard::HighVoltage,
        Hazard::NitrousOxide,
        Hazard::Overboost,
        Hazard::WaterMethanol,
        Hazard::Tyres,
        Hazard::ExhaustGas,
        Hazard::Fuel,
        Hazard::Turbocharger,
        Hazard::BlowerBelt,
        Hazard::Rules,
    ];
    let place = |caution: &&cautions::Caution| {
        let standing = ORDER.iter().position(|hazard| *hazard == caution.caution);
        standing.map_or(0, |place| place + 1)
    };
    let mut sorted: Vec<&cautions::Caution> = cautions.iter().collect();
    sorted.sort_by_key(place);
    let speed = |m_s| units.show(What::Speed, m_s);
    sorted
        .into_iter()
        .take(most)
        .map(|caution| {
            let speed = caution.speed_m_s.map_or_else(String::new, speed);
            in_a_line(caution.caution).replace("{speed}", &speed)
        })
        .collect()
}

/// A caution in one line.
const fn in_a_line(hazard: Hazard) -> &'static str {
    match hazard {
        Hazard::Limit(Danger::LeanMixture) => {
            "fuel runs short and the engine goes lean: do not make this pull"
        }
        Hazard::Limit(Danger::TyreSpeed) => {
            "tyres rated for {speed} would turn faster: end the pull below it"
        }
        Hazard::Limit(Danger::SpinningTyres) => {
            "the tyres may spin on the drums: lift at once if they do"
        }
        Hazard::Limit(Danger::SlippingClutch) => {
            "the clutch may slip and the engine flare: lift at once"
        }
        Hazard::Limit(Danger::EngineParts) => {
            "past the usual limits: ask the makers what the engine parts take"
        }
        Hazard::Limit(Danger::HotMotor) => {
            "the electric motor would overheat: shorter pulls, longer rests, log its temperature"
        }
        Hazard::DrumsAndStraps => {
            "nobody near the car while the drums turn; check straps and chocks first"
        }
        Hazard::Tyres => "tyres rated for {speed}, undamaged, at road pressure",
        Hazard::ExhaustGas => "extract the exhaust at the pipe, with a CO alarm in the cell",
        Hazard::Fuel => "check for fuel leaks; extinguisher within reach",
        Hazard::Overboost => "raise load in steps; stop at the first sign of detonation",
        Hazard::Turbocharger => "the turbo glows after a pull: nothing near it that burns",
        Hazard::BlowerBelt => "guard the blower belt and keep out of its plane",
        Hazard::NitrousOxide => "nitrous: smallest jet first, mixture and knock logged",
        Hazard::WaterMethanol => {
            "methanol is poisonous and its flame invisible: gloves, water at hand"
        }
        Hazard::HighVoltage => "high voltage, also when switched off: qualified people only",
        Hazard::Rules => "local codes and the makers' limits come first",
    }
}
