//! What the pieces of a plan gain together, and one by one.
//!
//! It stands below the gains of a quote. It refuses a range: the figures are of one car, the likeliest.

use super::Level;
use super::document::Document;
use super::kind::kind_words;
use super::number::{Units, What};
use super::table::TextTable;
use crate::ask::quote::Interactions;

/// Below the gains of a quote.
pub(super) fn document(found: &Interactions, units: Units) -> Document {
    let mut document = Document::new();
    let mut part = document.at(Level::Detail);
    let power = |w| units.show_change(What::Power, w);
    if found.pieces.len() < 2 {
        part.paragraph(
            "The parts of this plan only work together, so there is nothing to take apart.",
        );
        return document;
    }
    let sum = found.one_by_one_w.map_or_else(
        || "but not every part can be run alone".to_owned(),
        |w| format!("{} if each is added alone", power(w)),
    );
    part.paragraph(format!(
        "All parts together {}, {sum} (peak power of the most likely car, uncorrected). A part that needs another is counted with it.",
        power(found.together_w)
    ));
    let mut table = TextTable::new("lr");
    for piece in &found.pieces {
        table.row([
            piece
                .changes
                .iter()
                .map(|id| kind_words(id))
                .collect::<Vec<_>>()
                .join(" with "),
            piece.gain_w.map_or_else(|| "no pull".to_owned(), power),
        ]);
    }
    part.table(table);
    document
}
