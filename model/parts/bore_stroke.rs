//! Another bore, stroke or both.

use super::kind::{Kind, Part, Rank, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Stays;
use super::row::{self, SIZE_DOUBT, rows};
use super::{BuildError, Fault, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Another bore, stroke or both.
    BoreStroke {
        /// New bore, if it changes, m.
        bore_m: Option<T> => maybe("bore"),
        /// New stroke, if it changes, m.
        stroke_m: Option<T> => maybe("stroke"),
        /// New connecting rod, if it changes, m.
        rod_m: Option<T> => maybe("rod_length"),
        /// New compression ratio, if it changes.
        compression_ratio: Option<T> => maybe("compression_ratio"),
    }
}

/// Shortest rod over stroke with which a crank turns clear of the piston; road engines have 1.4 to 2. Common practice, no
/// source.
///
/// Equation (11.4).
pub const SHORTEST_ROD: f64 = 1.1;

rows! {
    BORE = row::of_car("bore", "engine.bore", 0.0, Stays, Fact),
    STROKE = row::of_car("stroke", "engine.stroke", 0.0, Stays, Fact),
    ROD = row::of_car("rod_length", "engine.rod_length", 0.0, Stays, Fact),
    COMPRESSION = row::of_car("compression_ratio", "engine.compression_ratio", SIZE_DOUBT, Stays, CommonPractice),
}

impl<T> Part for BoreStroke<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::Block,
        ..Kind::new(
            "bore and stroke",
            "bore_and_stroke",
            "new bore and stroke",
            ROWS,
        )
    };
}

impl Written for BoreStroke<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        if !form.has_any(&[BORE, STROKE]) {
            let message = "this change of displacement changes neither bore nor stroke";
            let expected = "bore, stroke, or both";
            form.error(BORE.key, Fault::Missing, message, expected);
            return None;
        }
        Some(Self {
            bore_m: form.number(&BORE),
            stroke_m: form.number(&STROKE),
            rod_m: form.number(&ROD),
            compression_ratio: form.number(&COMPRESSION),
        })
    }
}

impl Work for BoreStroke<f64> {
    /// Another displacement: valves, ducts and the flows at which losses are stated stay what they are.
    ///
    /// Equation (11.4).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let cylinder = &mut car.engine.geometry.cylinder;
        let before = cylinder.swept_volume_m3();
        cylinder.bore_m = self.bore_m.unwrap_or(cylinder.bore_m);
        cylinder.stroke_m = self.stroke_m.unwrap_or(cylinder.stroke_m);
        cylinder.rod_m = self.rod_m.unwrap_or(cylinder.rod_m);
        let kept = cylinder.compression_ratio;
        cylinder.compression_ratio = self.compression_ratio.unwrap_or(kept);
        // Area-time of the overlap stays, over another displacement.
        car.engine.overlap_deg_m *= before / cylinder.swept_volume_m3();
        if cylinder.rod_m < SHORTEST_ROD * cylinder.stroke_m {
            return Err(BuildError::ShortRod {
                rod_mm: 1e3 * cylinder.rod_m,
                stroke_mm: 1e3 * cylinder.stroke_m,
            });
        }
        Ok(())
    }
}
