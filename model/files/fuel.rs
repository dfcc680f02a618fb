//! The fuel as a shop names it: kind, ethanol by volume, octane.
//!
//! Car and plan files share it. Octane is a property of what is in the tank, so it is asked for where it decides the
//! knock limit; only pure alcohols bring their own.

use super::belief::{self, KEY_CONFLICT};
use super::diagnostic::Code;
use super::table::Table;
use crate::units::Dimension;

pub use crate::fuel::{FuelKind, MOTOR_OCTANE_DOUBT};

/// Reads `kind_key` and `ethanol`. Without a kind it is petrol.
pub(super) fn kind(table: &mut Table<'_>, kind_key: &str) -> Option<FuelKind> {
    let word = table.found(kind_key, |t| {
        t.optional_choice(kind_key, &FuelKind::WORDS.map(|word| (word, word)))
    });
    let ethanol = belief::plain(table, "ethanol", Dimension::Ratio, 0.0..=1.0);
    let has_ethanol = table.has("ethanol");
    match word.or("petrol")? {
        "petrol with ethanol" => {
            if !has_ethanol {
                table.error(
                    "ethanol",
                    Code::KEY_MISSING,
                    "petrol with ethanol needs its ethanol content by volume",
                    "ethanol = \"10 %\", as measured: pump blends vary with the season",
                );
            }
            Some(FuelKind::PetrolWithEthanol {
                ethanol_volume_fraction: ethanol?,
            })
        }
        other => {
            if has_ethanol {
                table.error(
                    "ethanol",
                    KEY_CONFLICT,
                    format!("'ethanol' is given, but the fuel is {other}"),
                    format!("{kind_key} = \"petrol with ethanol\", or no 'ethanol'"),
                );
            }
            Some(match other {
                "ethanol" => FuelKind::Ethanol,
                "methanol" => FuelKind::Methanol,
                _ => FuelKind::Petrol,
            })
        }
    }
}
