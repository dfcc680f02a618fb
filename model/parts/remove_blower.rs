//! The blower taken off.

use super::kind::{Kind, Part, Rank, Role, Work, Written};
use super::{BuildError, Form};
use crate::car::{Blower, Car};

/// The blower taken off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RemoveBlower;

impl Part for RemoveBlower {
    const KIND: &'static Kind = &Kind {
        rank: Rank::Removal,
        role: Role::NoBlower,
        ..Kind::new("remove blower", "remove_blower", "blower taken off", &[]).adds_up()
    };
}

impl RemoveBlower {
    pub(super) fn map<T, U>(&self, _: &mut impl FnMut(&'static str, &T) -> U) -> Self {
        self.clone()
    }
}

impl Written for RemoveBlower {
    fn read(_: &mut dyn Form) -> Option<Self> {
        Some(Self)
    }
}

impl Work for RemoveBlower {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        if matches!(car.blower, Blower::None) {
            return Err(BuildError::PartMissing { part: "blower" });
        }
        car.blower = Blower::None;
        Ok(())
    }
}
