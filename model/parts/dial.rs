//! The one number of a plan that a search may turn: where it stands, how far it goes, and the plan with it set.
//!
//! A dial belongs to a kind of work, whose row gives its range and the doubt of a bare value. Where the plan has that work, its last
//! change of the kind is turned; where it has not, the work is put at the plan's end, as a plan file would have it. It refuses parts the
//! car will not have.

use std::fmt;

use super::row::Row;
use super::{Change, DIALS, Plan};
use crate::belief::Shape;
use crate::belief::prior::{Prior, PriorError};
use crate::car::Car;
use serde::{Serialize, Serializer};

/// A number that can be turned.
#[derive(Clone, Copy)]
pub struct Dial(&'static Turn);

/// What a kind of work says of the number it lets a search turn.
pub(super) struct Turn {
    /// Its word on the command line.
    pub(super) id: &'static str,
    /// What it is, for the command line's help.
    pub(super) help: &'static str,
    /// What a shop would call it.
    pub(super) words: &'static str,
    /// How a value is shown.
    pub(super) shown: Shown,
    /// The kinds of work that have it, with the number's row in each.
    pub(super) rows: &'static [(&'static str, Row)],
    /// Why a car after the plan cannot have it turned.
    pub(super) refused: fn(&Car) -> Option<DialError>,
    /// Where a car after the plan has it, if no work of the plan says.
    pub(super) own: fn(&Car) -> Result<f64, DialError>,
    /// The number in a change that has it.
    pub(super) number: fn(&mut Change<Prior>) -> Option<&mut Prior>,
    /// What else of that change follows a new value; told before the number is set.
    pub(super) follow: Option<Follow>,
    /// Work that does nothing but set the number.
    pub(super) work: fn(&Car, Prior) -> Result<Change<Prior>, DialError>,
}

/// Sets what follows a number.
type Follow = fn(&mut Change<Prior>, f64) -> Result<(), PriorError>;

/// How a dial's value is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// A plain number to sensible digits.
    Plain,
    /// A plain number to one decimal.
    Tenths,
    /// A share in per cent.
    PerCent,
    /// Engine speed.
    Rpm,
}

/// Why a dial cannot be turned.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DialError {
    /// No blower on a belt, so no pulley.
    #[error("the car has no blower on a belt after this plan, so no pulley can be changed")]
    NoBlower,
    /// No turbocharger, so no boost to set.
    #[error("the car has no turbocharger after this plan, so no boost can be set")]
    NoTurbocharger,
    /// The plan adds no blower.
    #[error(
        "the plan adds no blower whose drive ratio could be chosen; a pulley changes that of a blower already there"
    )]
    NoNewBlower,
    /// A value that is no belief.
    #[error(transparent)]
    Value(#[from] PriorError),
}

impl Dial {
    pub(super) const fn new(turn: &'static Turn) -> Self {
        Self(turn)
    }

    /// Every dial, in the order in which a shop would think of them.
    pub const ALL: &'static [Self] = DIALS;

    /// The dial of a word.
    pub fn named(id: &str) -> Option<Self> {
        Self::ALL.iter().find(|dial| dial.id() == id).copied()
    }

    /// Whether it is the pulley of a blower.
    pub fn is_pulley(self) -> bool {
        self == super::pulley::DIAL
    }

    /// Its word on the command line, and in JSON.
    pub const fn id(self) -> &'static str {
        self.0.id
    }

    /// What it is, for the command line's help.
    pub const fn help(self) -> &'static str {
        self.0.help
    }

    /// What a shop would call the number.
    pub const fn words(self) -> &'static str {
        self.0.words
    }

    /// How a value is shown.
    pub const fn shown(self) -> Shown {
        self.0.shown
    }

    /// Least and greatest value, as a plan file admits them in any of the kinds of work; the model's unit is the written one.
    pub fn range(self) -> (f64, f64) {
        let bounds = self.0.rows.iter().map(|(_, row)| row.range());
        bounds.fold((f64::INFINITY, f64::NEG_INFINITY), |all, one| {
            (all.0.min(one.0), all.1.max(one.1))
        })
    }

    /// The range for this plan: a drive ratio's depends on the kind of blower.
    pub fn range_in(self, plan: &Plan<Prior>) -> (f64, f64) {
        let row = |change: &Change<Prior>| {
            let id = change.kind().id;
            self.0.rows.iter().find(|(kind, _)| *kind == id)
        };
        match plan.changes.iter().rev().find_map(row) {
            Some((_, row)) => row.range(),
            None => self.range(),
        }
    }

    /// Where the plan leaves the number; `after` is the car after it.
    pub fn own(self, plan: &Plan<Prior>, after: &Car) -> Result<f64, DialError> {
        if let Some(refused) = (self.0.refused)(after) {
            return Err(refused);
        }
        match plan.changes.iter().rev().find_map(|c| self.number(c)) {
            Some(prior) => Ok(prior.centre()),
            None => (self.0.own)(after),
        }
    }

    /// The plan with the number set; its doubt stays in proportion. `after` is the car after the plan as it stands.
    pub fn set(
        self,
        plan: &Plan<Prior>,
        after: &Car,
        value: f64,
    ) -> Result<Plan<Prior>, DialError> {
        let mut turned = plan.clone();
        let has = |change: &Change<Prior>| self.number(change).is_some();
        match turned.changes.iter().rposition(has) {
            Some(place) => self.turn(&mut turned.changes[place], value)?,
            None => turned.changes.push(self.work(after, value)?),
        }
        Ok(turned)
    }

    fn number(self, change: &Change<Prior>) -> Option<Prior> {
        (self.0.number)(&mut change.clone()).copied()
    }

    fn turn(self, change: &mut Change<Prior>, value: f64) -> Result<(), DialError> {
        if let Some(follow) = self.0.follow {
            follow(change, value)?;
        }
        if let Some(number) = (self.0.number)(change) {
            *number = moved(number, value)?;
        }
        Ok(())
    }

    /// The value as a plan file would have it without a doubt.
    fn work(self, after: &Car, value: f64) -> Result<Change<Prior>, DialError> {
        let bare = self.0.rows.first().map_or(0.0, |(_, row)| row.bare());
        let number = if bare > 0.0 {
            believed(value, bare * value)
        } else {
            Prior::fixed(value)
        };
        (self.0.work)(after, number?)
    }
}

impl PartialEq for Dial {
    fn eq(&self, other: &Self) -> bool {
        self.id() == other.id()
    }
}

impl Eq for Dial {}

impl Serialize for Dial {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.id().replace('-', "_"))
    }
}

impl fmt::Debug for Dial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Dial({})", self.id())
    }
}

/// For a number that no car refuses.
pub(super) fn never(_: &Car) -> Option<DialError> {
    None
}

/// A belief about a positive number, cut where nobody would look for it.
fn believed(value: f64, sd: f64) -> Result<Prior, PriorError> {
    Prior::normal(value, sd, 0.5 * value, 2.0 * value)
}

/// The belief moved to another value, its doubt in proportion.
pub(super) fn moved(prior: &Prior, value: f64) -> Result<Prior, PriorError> {
    if prior.is_fixed() {
        return Prior::fixed(value);
    }
    match prior.shape() {
        Shape::Normal => believed(value, prior.sd() * value / prior.centre()),
        Shape::LogNormal => Prior::log_normal(value, prior.sd(), 0.5 * value, 2.0 * value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moved_belief_keeps_its_relative_doubt() {
        let prior = Prior::normal(2.0, 0.02, 0.3, 10.0).expect("a belief");
        let there = moved(&prior, 3.0).expect("a belief");
        assert!((there.centre() - 3.0).abs() < 1e-15 && (there.sd() - 0.03).abs() < 1e-15);
        let fixed = moved(&Prior::fixed(0.88).expect("a number"), 0.85).expect("a number");
        assert!(fixed.is_fixed() && fixed.centre() == 0.85);
    }
}
