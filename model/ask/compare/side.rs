//! One of the two sets: its pulls that count, its car where that is known, and how its engine is charged.

use super::CompareError;
use super::axle::Start;
use super::contrast::Entry;
use super::electric::share_w;
use super::gearing::{self, Geared};
use super::weather::{BOOSTED_PA, ChargePressure};
use crate::air::atmosphere::GaugePressure;
use crate::ask::basis::subject_of;
use crate::car::Car;
use crate::dyno::Setup;
use crate::dyno::correction::engine::{Charging, EngineKind};
use crate::dyno::correction::{Correction, Standard, Subject};
use crate::fit::observation::{MeasuredPull, Visit};

/// What a visit states of a pull beside its curve.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Tags {
    /// Charge of the electric axle's battery at the start, 0 to 1.
    pub charge: Option<f64>,
    /// Whether the electric axle helped.
    pub electric_axle: Option<bool>,
    /// A correction that the recording carried and that was undone, and its factor.
    pub undone: Option<(Standard, f64)>,
}

/// One set as it is named.
#[derive(Debug, Clone, Copy)]
pub struct Pulls<'a> {
    /// The visit.
    pub visit: &'a Visit,
    /// What it states of its pulls, in their order.
    pub tags: &'a [Tags],
}

/// One set with the car it was made by, where that is known.
pub(super) struct Side<'a> {
    of: Pulls<'a>,
    setup: Option<Setup>,
    /// Places of the pulls compared: those with the electric axle on, or all where it never was.
    used: Vec<usize>,
}

impl<'a> Side<'a> {
    pub(super) fn new(of: Pulls<'a>, setup: Option<Setup>) -> Self {
        let pulls = of.visit.pulls.iter().enumerate();
        let on: Vec<usize> = pulls
            .filter(|(_, pull)| pull.conditions.axle.on)
            .map(|(i, _)| i)
            .collect();
        let used = if on.is_empty() {
            (0..of.visit.pulls.len()).collect()
        } else {
            on
        };
        Self { of, setup, used }
    }

    /// The visit's name.
    pub(super) fn name(&self) -> &'a str {
        &self.of.visit.name
    }

    pub(super) fn pulls(&self) -> impl Iterator<Item = &'a MeasuredPull> {
        let visit = self.of.visit;
        self.used.iter().map(move |&i| &visit.pulls[i])
    }

    /// What is stated of each pull compared.
    pub(super) fn tags(&self) -> impl Iterator<Item = Tags> {
        let tags = self.of.tags;
        self.used
            .iter()
            .map(move |&i| tags.get(i).copied().unwrap_or_default())
    }

    /// The pulls compared, each by its set and its name.
    fn named(&self) -> impl Iterator<Item = (String, &'a MeasuredPull)> {
        let name = self.name();
        self.pulls()
            .map(move |pull| (format!("{name}: {}", pull.name), pull))
    }

    /// Pulls of the visit that are not compared.
    pub(super) fn left_out(&self) -> usize {
        self.of.visit.pulls.len() - self.used.len()
    }

    pub(super) fn car(&self) -> Option<&Car> {
        self.setup.as_ref().map(|setup| &setup.car)
    }

    /// Whether anything says that the car has an electric axle.
    pub(super) fn electric(&self) -> bool {
        self.car().is_some_and(|car| car.electric.is_some())
            || self
                .tags()
                .any(|tags| tags.charge.is_some() || tags.electric_axle.is_some())
    }

    /// Whether an electric axle, if there is one, helped in any pull.
    pub(super) fn helped(&self) -> bool {
        self.pulls().any(|pull| pull.conditions.axle.on)
    }

    /// Whether pulls state a charge that the car named for them cannot have.
    pub(super) fn of_another_car(&self) -> bool {
        self.car().is_some_and(|car| car.electric.is_none())
            && self.tags().any(|tags| tags.charge.is_some())
    }

    /// The engine as a standard sees it; an unboosted one where the car is not known.
    pub(super) fn subject(&self, mechanical_efficiency: Option<f64>) -> Subject {
        self.car().map_or(
            Subject {
                mechanical_efficiency,
                ..Subject::of(EngineKind::SPARK_UNBOOSTED)
            },
            |car| subject_of(car, mechanical_efficiency),
        )
    }

    /// Highest boost logged above the air outside, Pa; none where the manifold was not logged.
    fn boost_pa(&self) -> Option<f64> {
        let boosts = self.pulls().flat_map(|pull| {
            let station_pa = pull.day.station().pa();
            let bands = pull.curve.bands.iter();
            bands.filter_map(move |band| band.manifold_pa.map(|pa| pa - station_pa))
        });
        boosts.max_by(f64::total_cmp)
    }

    /// Whether the log shows boost of an engine that nobody described.
    pub(super) fn boosted_unknown(&self) -> bool {
        self.car().is_none() && self.boost_pa().is_some_and(|pa| pa > BOOSTED_PA)
    }

    pub(super) fn charge_pressure(&self) -> ChargePressure {
        let boost_pa = self.boost_pa();
        let held = match self.car() {
            Some(car) => matches!(
                subject_of(car, None).engine.charging,
                Charging::Turbo | Charging::TurboCoolantCooled
            ),
            None => boost_pa.is_some_and(|pa| pa > BOOSTED_PA),
        };
        if held {
            ChargePressure::MayBeHeld {
                boost: boost_pa
                    .filter(|pa| *pa > BOOSTED_PA)
                    .map(GaugePressure::from_pa),
            }
        } else {
            ChargePressure::Follows
        }
    }

    pub(super) fn entries(
        &self,
        standard: Standard,
        mechanical_efficiency: Option<f64>,
    ) -> Result<Vec<Entry>, CompareError> {
        let subject = self.subject(mechanical_efficiency);
        self.pulls()
            .map(|pull| {
                let correction = Correction::new(standard, pull.day, &subject)?;
                let electric_w = match &self.setup {
                    Some(setup) => share_w(setup, pull)?,
                    None => Vec::new(),
                };
                Ok(Entry {
                    name: pull.name.clone(),
                    curve: pull.curve.clone(),
                    correction,
                    electric_w,
                })
            })
            .collect()
    }
}

/// How each pull's electric axle was started.
pub(super) fn starts(sides: &[Side<'_>; 2]) -> Vec<Start> {
    let of = |side: &Side<'_>| {
        let starts = side
            .named()
            .zip(side.tags())
            .map(|((name, pull), tags)| Start {
                name,
                on: pull.conditions.axle.on,
                charge: tags.charge,
            });
        starts.collect::<Vec<_>>()
    };
    sides.iter().flat_map(of).collect()
}

/// Pulls of both sets whose gearing differs.
pub(super) fn geared(sides: &[Side<'_>; 2]) -> Option<Geared> {
    let pulls = sides.iter().flat_map(Side::named);
    gearing::geared(pulls.map(|(name, pull)| (name, &pull.curve)))
}
