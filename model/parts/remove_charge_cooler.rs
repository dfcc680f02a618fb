//! The charge cooler taken out.

use super::kind::{Kind, Part, Rank, Role, Work, Written};
use super::{BuildError, Form};
use crate::car::Car;

/// The charge cooler taken out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RemoveChargeCooler;

impl Part for RemoveChargeCooler {
    const KIND: &'static Kind = &Kind {
        rank: Rank::Removal,
        role: Role::NoCooler,
        ..Kind::new("remove charge cooler", "remove_charge_cooler", "charge cooler taken out", &[]).adds_up()
    };
}

impl RemoveChargeCooler {
    pub(super) fn map<T, U>(&self, _: &mut impl FnMut(&'static str, &T) -> U) -> Self {
        self.clone()
    }
}

impl Written for RemoveChargeCooler {
    fn read(_: &mut dyn Form) -> Option<Self> {
        Some(Self)
    }
}

impl Work for RemoveChargeCooler {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.cooler
            .take()
            .map(|_| ())
            .ok_or(BuildError::PartMissing {
                part: "charge cooler",
            })
    }
}
