//! What a kind of work is called, where it stands among the others and what may be written of it.

use super::row::Row;
use super::{BuildError, Form};
use crate::car::Car;

/// A kind of work.
#[derive(Debug)]
pub struct Kind {
    /// Its word in a plan file.
    pub word: &'static str,
    /// Its stable name in JSON.
    pub id: &'static str,
    /// What a report calls it.
    pub words: &'static str,
    /// Place in the order in which parts are put together.
    pub rank: Rank,
    /// How it stands to a blower or a charge cooler.
    pub role: Role,
    /// Whether it puts a part or a setting in the place of what was there, whatever that was; others (a factor, a mass, a lighter
    /// flywheel) add up.
    pub replaces: bool,
    /// What may stand in such a change.
    pub rows: &'static [Row],
    /// What nobody computes of it, for a person to mind.
    pub not_computed: Option<NotComputed>,
}

impl Kind {
    /// A part or setting of its own, in the place of what was there.
    pub(super) const fn new(
        word: &'static str,
        id: &'static str,
        words: &'static str,
        rows: &'static [Row],
    ) -> Self {
        Self {
            word,
            id,
            words,
            rank: Rank::Part,
            role: Role::Other,
            replaces: true,
            rows,
            not_computed: None,
        }
    }

    /// The same where it adds to what is there.
    pub(super) const fn adds_up(self) -> Self {
        Self {
            replaces: false,
            ..self
        }
    }
}

/// Order in which parts are put together, for a list of parts is not a history.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rank {
    /// Bore and stroke: the head is measured against them.
    Block,
    /// The cylinder head: a camshaft is measured against it.
    Head,
    /// What comes off.
    Removal,
    /// Most parts.
    Part,
    /// Blowers, whose turbine is made for the engine.
    Blower,
    /// What sits on a blower or gives way to it.
    OnBlower,
}

/// How a kind of work stands to a blower or a charge cooler: which pieces of a plan only work together hangs on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Fits a blower.
    Blower(Blown),
    /// Takes the blower off.
    NoBlower,
    /// Is a part of a blower: its pulley.
    OnBlower,
    /// Sets a blower: the plan's, or the car's own.
    SetsBlower,
    /// Fits a charge cooler.
    Cooler,
    /// Takes the charge cooler out.
    NoCooler,
    /// None of these.
    Other,
}

/// What is left to a person's judgement of a kind of work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotComputed {
    /// Pulses in new ducts.
    PulseTuning,
    /// Springs, clearances and idle of a new camshaft.
    CamshaftManners,
    /// Springs and lifters at a new redline.
    ValveTrain,
}

/// How a car is blown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blown {
    /// Not.
    Not,
    /// By a blower on a belt.
    ByBelt,
    /// By a turbocharger.
    ByExhaust,
}

/// A kind of work as a plan file states it.
pub(super) trait Written: Sized {
    /// Reads it; `None` where the form has noted what is wrong.
    fn read(form: &mut dyn Form) -> Option<Self>;
}

/// A kind of work with its numbers drawn.
pub(super) trait Work {
    /// Does it to a car.
    fn apply(&self, car: &mut Car) -> Result<(), BuildError>;
}

/// A kind of work, whatever its numbers are.
pub(super) trait Part {
    /// What kind it is.
    const KIND: &'static Kind;

    /// Whether it leaves nothing of an earlier change of its kind.
    fn replaces(&self) -> bool {
        Self::KIND.replaces
    }
}
