//! What blowers and coolers have in common, whichever a car has or a plan fits: words for their kinds, pulley, drive ratio, maps.

use super::dial::{Dial, DialError, Shown, Turn, never};
use super::row::{self, Holds, LeftOut, Row};
use super::{Change, centrifugal_blower, displacement_blower};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::parameter::{Guess, Measure};
use crate::boost::RotorKind;
use crate::boost::centrifugal::MILLED_TIP_LIMIT_M_S;
use crate::cooling::HeatSink;

/// Blower pulley where none is stated, m; common practice, no source.
pub const PULLEY_M: f64 = 0.080;

/// The families of displacement blowers by their words.
pub const ROTORS: &[(&str, RotorKind)] = &RotorKind::WORDS;

/// Kinds of charge cooler by their words.
pub const COOLERS: &[(&str, HeatSink)] = &[
    ("air to air", HeatSink::Air),
    ("air to water", HeatSink::Water),
];

pub(super) const PULLEY_DIAMETER: Row = row::number(
    "pulley_diameter",
    Measure::MM,
    (30.0, 400.0),
    0.0,
    LeftOut::Usual(Guess::Exact(1e3 * PULLEY_M)),
    "diameter of the pulley on the blower",
    CommonPractice,
);
pub(super) const TIP_SPEED_LIMIT: Row = row::plain(
    "tip_speed_limit",
    Measure::M_S,
    (200.0, 800.0),
    LeftOut::Usual(Guess::Exact(MILLED_TIP_LIMIT_M_S.0)),
    "highest rim speed of the wheel",
    CommonPractice,
);
pub(super) const MAP: Row = row::other(
    "map",
    Holds::Other("name of a file"),
    LeftOut::Described("`map_points` or `rated_point`"),
    "measured map of the compressor, see below",
);
pub(super) const MAP_POINTS: Row = row::other(
    "map_points",
    Holds::Other("a table"),
    LeftOut::Described("`map` or `rated_point`"),
    "the same as lists, see below",
);
pub(super) const RATED_POINT: Row = row::other(
    "rated_point",
    Holds::Other("a table"),
    LeftOut::Described("`map` or `map_points`"),
    "one point from which a map is drawn, see below",
);

/// Drive ratio of a blower that the plan adds.
pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "drive-ratio",
    help: "Drive ratio of the blower that the plan adds, and with it the boost",
    words: "drive ratio of the new blower",
    shown: Shown::Plain,
    rows: &[
        ("displacement_blower", displacement_blower::DRIVE_RATIO),
        ("centrifugal_blower", centrifugal_blower::DRIVE_RATIO),
    ],
    refused: never,
    own: |_| Err(DialError::NoNewBlower),
    number: |change| match change {
        Change::DisplacementBlower(blower) => Some(&mut blower.drive_ratio),
        Change::CentrifugalBlower(blower) => Some(&mut blower.drive_ratio),
        _ => None,
    },
    follow: None,
    work: |_, _| Err(DialError::NoNewBlower),
});
