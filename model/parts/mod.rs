//! What a shop buys and does: one file for each kind of work, with its numbers as rows, what it does to a car, its place in the order,
//! what it replaces, its words and its dial.
//!
//! A plan never edits a car file. Applying it yields a new [`Car`], so any plan works on any car, fitted or not, and two plans compose by
//! standing one after the other. A [`Change`] is generic over what its numbers are: beliefs as they are written in a plan file, or plain
//! numbers drawn from them, so that one list serves the quote's centre and every Monte Carlo draw alike. A part's file reads itself from a
//! [`Form`], and refuses to know the disk.

mod dial;
mod error;
mod form;
mod kind;
mod numbers;
mod plan;
pub mod row;

mod axle_facts;
mod blower;

pub use axle_facts::AxleFacts;
pub use blower::{COOLERS, PULLEY_M, ROTORS};
pub use dial::{Dial, DialError, Shown};
pub use error::BuildError;
pub use form::{Fault, Form, WrittenMap, WrittenTurbine, Wrong};
pub use kind::{Blown, Kind, NotComputed, Rank, Role};
pub use plan::Plan;
pub use pulley::NewPulley;
pub use row::{CLAIM_DOUBT, FACTOR_DOUBT, Holds, LeftOut, Row, SIZE_DOUBT, Span};

use crate::belief::prior::Prior;
use crate::car::Car;
use kind::{Part, Work, Written};
use std::fmt::Write as _;

/// The list of kinds: module and struct of each, in the order in which a person is told of them.
macro_rules! kinds {
    ($($module:ident: $part:ident $(<$t:ident>)?),* $(,)?) => {
        $(mod $module;)*
        // What else a part shows is public in its file.
        $(pub use $module::*;)*

        /// One planned change, with numbers of type `T` in SI.
        #[derive(Debug, Clone, PartialEq)]
        #[non_exhaustive]
        pub enum Change<T> {
            $(#[doc = concat!("See [`", stringify!($part), "`].")] $part(Box<$part $(<$t>)?>)),*
        }

        $(impl<T> From<$part $(<$t>)?> for Change<T> {
            fn from(part: $part $(<$t>)?) -> Self {
                Self::$part(Box::new(part))
            }
        })*

        impl<T> Change<T> {
            /// The same change with every number passed through `convert`, which is told the number's name.
            pub fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> Change<U> {
                match self {
                    $(Self::$part(part) => Change::$part(Box::new(part.map(convert)))),*
                }
            }

            /// What kind of work it is.
            pub fn kind(&self) -> &'static Kind {
                match self {
                    $(Self::$part(_) => <$part $(<$t>)? as Part>::KIND),*
                }
            }

            /// Whether it puts a part or a setting in the place of what was there, so that nothing is left of an earlier change of its
            /// kind.
            pub fn replaces(&self) -> bool {
                match self {
                    $(Self::$part(part) => part.replaces()),*
                }
            }
        }

        impl Change<f64> {
            /// Makes this change to a car.
            fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
                match self {
                    $(Self::$part(part) => part.apply(car)),*
                }
            }
        }

        /// Every kind of work with its reader.
        const READERS: &[(&Kind, fn(&mut dyn Form) -> Option<Change<Prior>>)] = &[
            $((
                <$part $(<kinds!(@prior $t)>)? as Part>::KIND,
                |form| <$part $(<kinds!(@prior $t)>)? as Written>::read(form).map(Change::from),
            )),*
        ];
    };
    (@prior $t:ident) => { Prior };
}

kinds! {
    displacement_blower: DisplacementBlower<T>,
    centrifugal_blower: CentrifugalBlower<T>,
    turbocharger: TurboChoice<T>,
    boost: Boost<T>,
    remove_blower: RemoveBlower,
    pulley: Pulley<T>,
    charge_cooler: CoolerChoice<T>,
    remove_charge_cooler: RemoveChargeCooler,
    intake: Intake<T>,
    throttle: Throttle<T>,
    headers: Headers<T>,
    exhaust: Exhaust<T>,
    camshaft: Camshaft<T>,
    cylinder_head: CylinderHead<T>,
    bore_stroke: BoreStroke<T>,
    compression_ratio: CompressionRatio<T>,
    fuel: FuelChoice<T>,
    tank_mix: TankMix<T>,
    octane: Octane<T>,
    spark: Spark<T>,
    tune: Retune<T>,
    water_methanol: WaterMethanolKit<T>,
    nitrous: NitrousKit<T>,
    mixture: Mixture<T>,
    redline: Redline<T>,
    gearing: Gearing<T>,
    wheels: Wheels<T>,
    electric_axle: AxleCalibration<T>,
    add_electric_axle: AddedAxle<T>,
    injectors: InjectorChoice<T>,
    fuel_pump: PumpChoice<T>,
    fuel_rail: RailChoice<T>,
    flywheel: Flywheel<T>,
    turning_parts: TurningChange<T>,
    driveline_oil: OilChoice<T>,
    clutch: ClutchChoice<T>,
    converter: ConverterChoice<T>,
    belt: BeltChoice<T>,
    battery: BatteryChoice<T>,
    tyres: TyreChoice<T>,
    mass: MassChange<T>,
}

/// The numbers that a search may turn, in the order in which a shop would think of them.
const DIALS: &[Dial] = &[
    pulley::DIAL,
    boost::DIAL,
    blower::DIAL,
    fuel::OCTANE,
    fuel::ETHANOL,
    compression_ratio::DIAL,
    intake::DIAL,
    exhaust::DIAL,
    mixture::DIAL,
    redline::DIAL,
    gearing::GEAR_DIAL,
    gearing::FINAL_DRIVE_DIAL,
];

/// Every kind of work.
pub fn kinds() -> impl ExactSizeIterator<Item = &'static Kind> {
    READERS.iter().map(|(kind, _)| *kind)
}

impl Change<Prior> {
    /// Reads a change of the kind at a place of [`kinds`].
    pub fn read(place: usize, form: &mut dyn Form) -> Option<Self> {
        let (kind, read) = READERS.get(place)?;
        // A reader that stops early does not make the rest unknown.
        form.has_any(kind.rows);
        read(form)
    }
}

impl<T> Change<T> {
    /// Whether it is about the same part or setting as another.
    pub fn same_part(&self, other: &Self) -> bool {
        self.kind().id == other.kind().id
    }
}

/// What may stand in a plan file, as the lines of the table in docs/files.md.
pub fn reference() -> String {
    let mut lines = String::new();
    for kind in kinds() {
        if kind.rows.is_empty() {
            let _ = writeln!(lines, "| `{}` | – | | {} | | |", kind.word, kind.words);
        }
        for row in kind.rows {
            // Writing to a String cannot fail.
            let _ = writeln!(lines, "| `{}` | {row}", kind.word);
            if let Holds::Table(rows) = row.holds {
                for inner in rows {
                    let _ = writeln!(lines, "| `{}.{}` | {inner}", kind.word, row.key);
                }
            }
        }
    }
    lines
}

/// A belief for a number nobody stated.
fn usual(mean: f64, sd: f64, lower: f64, upper: f64) -> Option<Prior> {
    Prior::normal(mean, sd, lower, upper).ok()
}

/// A number known exactly.
fn exactly(value: f64) -> Option<Prior> {
    Prior::fixed(value).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_kind_stands_once_and_every_dial_belongs_to_one() {
        let words: BTreeSet<&str> = kinds().map(|kind| kind.word).collect();
        let ids: BTreeSet<&str> = kinds().map(|kind| kind.id).collect();
        assert_eq!((words.len(), ids.len()), (kinds().len(), kinds().len()));
        let dials: BTreeSet<&str> = Dial::ALL.iter().map(|dial| dial.id()).collect();
        assert_eq!(dials.len(), Dial::ALL.len());
        for dial in Dial::ALL {
            let (low, high) = dial.range();
            assert!(low < high, "{dial:?}");
        }
    }

    #[test]
    fn every_row_has_a_meaning_room_and_a_default_inside_it() {
        for kind in kinds() {
            let keys: BTreeSet<&str> = kind.rows.iter().map(|row| row.key).collect();
            assert_eq!(keys.len(), kind.rows.len(), "{}", kind.word);
            for row in kind.rows {
                let (low, high) = row.bounds();
                assert!(!row.means().is_empty() && low < high, "{row}");
                let usual = matches!(row.left_out, LeftOut::Usual(_) | LeftOut::AsOfCar);
                assert_eq!(row.usual().is_some(), usual, "{row}");
            }
        }
    }
}
