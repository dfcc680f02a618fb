//! What a figure does not cover, and what to mind before the pull is made.
//!
//! Both lists depend on the car and the work: a caution that does not apply is noise that hides the one that does. They are
//! the trade's common practice, without a source, and defer to local codes and licensed practice.

use crate::car::{Blower, Car, Danger};
use crate::dyno::Pull;
use crate::parts::{self, Blown, NotComputed, Plan, Role};
use serde::{Serialize, Serializer};

/// One thing to mind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Caution {
    /// Which.
    pub caution: Hazard,
    /// The speed it speaks of, m/s: what the tyres' tread reaches, or what they are rated for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub speed_m_s: Option<f64>,
}

/// What to mind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hazard {
    /// A limit that the pull runs into endangers people or parts.
    Limit(Danger),
    /// People beside the car, and what holds it.
    DrumsAndStraps,
    /// Tyres at the drums' speed.
    Tyres,
    /// Carbon monoxide.
    ExhaustGas,
    /// Leaks and fire.
    Fuel,
    /// Boost above the one planned.
    Overboost,
    /// A glowing turbine.
    Turbocharger,
    /// The blower's belt.
    BlowerBelt,
    /// Nitrous oxide and its bottle.
    NitrousOxide,
    /// Methanol.
    WaterMethanol,
    /// The electric axle.
    HighVoltage,
    /// What comes before anything said.
    Rules,
}

impl Hazard {
    /// Every one that no limit brings.
    pub const STANDING: [Self; 11] = [
        Self::DrumsAndStraps,
        Self::Tyres,
        Self::ExhaustGas,
        Self::Fuel,
        Self::Overboost,
        Self::Turbocharger,
        Self::BlowerBelt,
        Self::NitrousOxide,
        Self::WaterMethanol,
        Self::HighVoltage,
        Self::Rules,
    ];

    /// Stable word for machines.
    pub fn id(self) -> &'static str {
        match self {
            Self::Limit(danger) => danger.id(),
            Self::DrumsAndStraps => "drums_and_straps",
            Self::Tyres => "tyres",
            Self::ExhaustGas => "exhaust_gas",
            Self::Fuel => "fuel",
            Self::Overboost => "overboost",
            Self::Turbocharger => "turbocharger",
            Self::BlowerBelt => "blower_belt",
            Self::NitrousOxide => "nitrous_oxide",
            Self::WaterMethanol => "water_methanol",
            Self::HighVoltage => "high_voltage",
            Self::Rules => "rules",
        }
    }
}

impl Serialize for Hazard {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.id())
    }
}

/// What to mind on the drums: first what the limits of this pull bring, then what every pull of such a car does.
pub fn cautions(pull: &Pull, car: &Car) -> Vec<Caution> {
    let mut list = of_limits(pull, car);
    list.extend(of_car(car, pull.tread_m_s()));
    list
}

/// Cautions that follow from the limits a pull runs into.
fn of_limits(pull: &Pull, car: &Car) -> Vec<Caution> {
    let met = |danger: &Danger| {
        let mut limits = pull.limits.iter();
        limits.any(|limit| limit.danger() == Some(*danger))
    };
    let rating = |danger| (danger == Danger::TyreSpeed).then_some(car.thresholds.tyre_speed_m_s);
    Danger::all()
        .filter(met)
        .map(|danger| Caution {
            caution: Hazard::Limit(danger),
            speed_m_s: rating(danger),
        })
        .collect()
}

/// Cautions that apply to any pull of this car, up to a speed of the tyres' tread, m/s.
pub fn of_car(car: &Car, top_m_s: f64) -> Vec<Caution> {
    let boosted = !matches!(car.blower, Blower::None);
    let turbo = car.blower.turbo().is_some();
    let applies = |hazard: &Hazard| match hazard {
        Hazard::Overboost => boosted,
        Hazard::Turbocharger => turbo,
        Hazard::BlowerBelt => boosted && !turbo,
        Hazard::NitrousOxide => car.nitrous.is_some(),
        Hazard::WaterMethanol => car.water_methanol.is_some(),
        Hazard::HighVoltage => car.electric.is_some(),
        _ => true,
    };
    Hazard::STANDING
        .into_iter()
        .filter(applies)
        .map(|caution| Caution {
            caution,
            speed_m_s: (caution == Hazard::Tyres).then_some(top_m_s),
        })
        .collect()
}

/// The two to four that this build calls for, worst first; the last is about the drums, as before every pull.
pub fn called_for(all: &[Caution]) -> Vec<Caution> {
    let place = |caution: &&Caution| caution.caution.place();
    let mut ranked: Vec<&Caution> = all.iter().filter(|c| place(c).is_some()).collect();
    ranked.sort_by_key(place);
    if ranked
        .iter()
        .any(|c| c.caution == Hazard::Limit(Danger::TyreSpeed))
    {
        ranked.retain(|c| c.caution != Hazard::Tyres);
    }
    // What may kill who touches it is never crowded out.
    let voltage = ranked.iter().position(|c| c.caution == Hazard::HighVoltage);
    if let Some(at) = voltage.filter(|at| *at >= MOST_OWN) {
        ranked.swap(at, MOST_OWN - 1);
    }
    let drums = all.iter().filter(|c| c.caution == Hazard::DrumsAndStraps);
    ranked
        .into_iter()
        .take(MOST_OWN)
        .chain(drums)
        .copied()
        .collect()
}

/// Most cautions of the build's own in the short list.
const MOST_OWN: usize = 3;

impl Hazard {
    /// Place among what a build calls for, worst first; none for what holds for every pull.
    fn place(self) -> Option<u8> {
        Some(match self {
            Self::Limit(Danger::LeanMixture) => 0,
            Self::Limit(Danger::TyreSpeed) => 1,
            Self::Limit(Danger::SpinningTyres | Danger::SlippingClutch) => 2,
            Self::Limit(Danger::EngineParts | Danger::HotMotor) => 3,
            Self::NitrousOxide => 4,
            Self::Overboost => 5,
            Self::Tyres => 6,
            Self::HighVoltage => 7,
            Self::WaterMethanol => 8,
            Self::Fuel => 9,
            Self::Turbocharger => 10,
            Self::BlowerBelt => 11,
            Self::DrumsAndStraps | Self::ExhaustGas | Self::Rules => return None,
        })
    }
}

/// What a quote does not look at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NotIncluded {
    /// Whether pump, lines and injectors carry the fuel.
    FuelSupply,
    /// The same where the injectors are known.
    PumpAndLines,
    /// The same where the pump is known.
    InjectorsAndLines,
    /// The same where both are known.
    LinesAndFilter,
    /// Whether they hold the torque, the clutch being known.
    GearboxAndShafts,
    /// The same where it is not.
    ClutchAndGearbox,
    /// Coolant over a long pull or a hot day.
    EngineCooling,
    /// How long parts last, a blower's drive among them.
    DurabilityWithBlowerDrive,
    /// How long parts last.
    Durability,
    /// What many pulls leave warm.
    HeatSoak,
    /// Mixture and spark as set by whoever sets them.
    Tuning,
    /// What a turbocharger needs beside itself.
    TurbochargerFittings,
    /// What a blower on a belt needs beside itself.
    BlowerFittings,
    /// The turbocharger that a blower replaces.
    TurbochargerReplaced,
    /// The blower that a turbocharger replaces.
    BlowerReplaced,
    /// Pulses in a new intake or exhaust.
    PulseTuning,
    /// Springs and manners of a new camshaft.
    CamshaftManners,
    /// Springs at a new redline.
    ValveTrain,
}

impl NotIncluded {
    /// Every one.
    pub const ALL: [Self; 18] = [
        Self::FuelSupply,
        Self::PumpAndLines,
        Self::InjectorsAndLines,
        Self::LinesAndFilter,
        Self::GearboxAndShafts,
        Self::ClutchAndGearbox,
        Self::EngineCooling,
        Self::DurabilityWithBlowerDrive,
        Self::Durability,
        Self::HeatSoak,
        Self::Tuning,
        Self::TurbochargerFittings,
        Self::BlowerFittings,
        Self::TurbochargerReplaced,
        Self::BlowerReplaced,
        Self::PulseTuning,
        Self::CamshaftManners,
        Self::ValveTrain,
    ];
}

/// What was not looked at, given the car and the work that is planned.
pub fn not_included<T>(plan: &Plan<T>, before: &Car, after: &Car) -> Vec<NotIncluded> {
    use NotIncluded as Not;
    let supply = &after.fuel_supply;
    let mut list = vec![
        match (supply.injectors.is_some(), supply.pump.is_some()) {
            (false, false) => Not::FuelSupply,
            (true, false) => Not::PumpAndLines,
            (false, true) => Not::InjectorsAndLines,
            (true, true) => Not::LinesAndFilter,
        },
        if after.driveline.clutch_nm.is_some() {
            Not::GearboxAndShafts
        } else {
            Not::ClutchAndGearbox
        },
        Not::EngineCooling,
        if after.blower.drive().is_some() {
            Not::DurabilityWithBlowerDrive
        } else {
            Not::Durability
        },
        Not::HeatSoak,
        Not::Tuning,
    ];
    if !matches!(after.blower, Blower::None) {
        list.push(if after.blower.turbo().is_some() {
            Not::TurbochargerFittings
        } else {
            Not::BlowerFittings
        });
    }
    list.extend(exchanged(plan, before));
    for kind in parts::kinds() {
        let planned = plan.changes.iter().any(|c| c.kind().id == kind.id);
        let open = kind
            .not_computed
            .filter(|_| planned)
            .map(|open| match open {
                NotComputed::PulseTuning => Not::PulseTuning,
                NotComputed::CamshaftManners => Not::CamshaftManners,
                NotComputed::ValveTrain => Not::ValveTrain,
            });
        list.extend(open.filter(|open| !list.contains(open)));
    }
    list
}

/// What comes off when a blower takes the place of another kind: the plan need not take it off first, so it must be told.
fn exchanged<T>(plan: &Plan<T>, before: &Car) -> Vec<NotIncluded> {
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
            (Blown::ByExhaust, Blown::ByBelt) => Some(NotIncluded::TurbochargerReplaced),
            (Blown::ByBelt, Blown::ByExhaust) => Some(NotIncluded::BlowerReplaced),
            _ => None,
        });
        there = next;
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::car::added::Nitrous;
    use crate::dyno::Setup;

    fn hazards(car: &Car) -> Vec<Hazard> {
        of_car(car, 50.0).iter().map(|c| c.caution).collect()
    }

    #[test]
    fn a_hazard_of_a_part_is_told_of_cars_that_have_it_alone() {
        let mut car = Setup::example().car;
        let of_parts = [
            Hazard::Overboost,
            Hazard::Turbocharger,
            Hazard::BlowerBelt,
            Hazard::NitrousOxide,
            Hazard::WaterMethanol,
            Hazard::HighVoltage,
        ];
        let plain = hazards(&car);
        assert!(of_parts.iter().all(|h| !plain.contains(h)), "{plain:?}");
        assert_eq!(plain.len() + of_parts.len(), Hazard::STANDING.len());
        car.nitrous = Some(Nitrous {
            flow_kg_s: 0.02,
            from_rpm: 3000.0,
            evaporated_share: 0.9,
        });
        assert!(hazards(&car).contains(&Hazard::NitrousOxide));
    }

    #[test]
    fn tyres_beyond_their_rating_are_not_told_of_twice() {
        let caution = |caution| Caution {
            caution,
            speed_m_s: None,
        };
        let told = |list: &[Hazard]| -> Vec<Hazard> {
            let all: Vec<Caution> = list.iter().copied().map(caution).collect();
            called_for(&all).iter().map(|c| c.caution).collect()
        };
        let beyond = Hazard::Limit(Danger::TyreSpeed);
        let drums = Hazard::DrumsAndStraps;
        assert_eq!(told(&[drums, Hazard::Tyres]), [Hazard::Tyres, drums]);
        assert_eq!(told(&[beyond, drums, Hazard::Tyres]), [beyond, drums]);
    }
}
