//! Pistons, head or gasket: another compression ratio.

use super::dial::{Dial, Shown, Turn, never};
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::MustBeGiven;
use super::row::{self, SIZE_DOUBT, rows};
use super::{BuildError, Change, Form};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Pistons, head or gasket.
    CompressionRatio {
        /// New geometric compression ratio.
        ratio: T => number("ratio"),
    }
}

rows! {
    RATIO = row::of_car("ratio", "engine.compression_ratio", SIZE_DOUBT, MustBeGiven, CommonPractice),
}

impl<T> Part for CompressionRatio<T> {
    const KIND: &'static Kind = &Kind::new(
        "compression ratio",
        "compression_ratio",
        "new compression ratio",
        ROWS,
    );
}

pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "compression-ratio",
    help: "Compression ratio",
    words: "compression ratio",
    shown: Shown::Tenths,
    rows: &[("compression_ratio", RATIO)],
    refused: never,
    own: |after| Ok(after.engine.geometry.cylinder.compression_ratio),
    number: |change| match change {
        Change::CompressionRatio(change) => Some(&mut change.ratio),
        _ => None,
    },
    follow: None,
    work: |_, ratio| Ok(CompressionRatio { ratio }.into()),
});

impl Written for CompressionRatio<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let ratio = form.number(&RATIO)?;
        Some(Self { ratio })
    }
}

impl Work for CompressionRatio<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.engine.geometry.cylinder.compression_ratio = self.ratio;
        Ok(())
    }
}
