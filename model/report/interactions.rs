//! What the pieces of a plan gain together, and one by one.
//!
//! It stands below the gains of a quote. It refuses a range: the figures are of one car, the likeliest.

use super::Level;
use super::document::Document;
use super::kind::kind_words;
use super::number::{Units, What};
use super::table::TextTable;
use crate::ask::quote::Interactions;

/// Below the gains of a quote; `changes` are the kinds of the plan's changes, in its order.
pub(super) fn document(found: &Interactions, changes: &[&str], units: Units) -> Document {
    let mut document = Document::new();
    let mut part = document.at(Level::Detail);
    let power = |w| units.show_change(What::Power, w);
    if found.pieces.len() < 2 {
        part.paragraph(
            "The changes of this plan only work together; there is nothing to take apart.",
        );
        return document;
    }
    let sum = found.one_by_one_w.map_or_else(
        || "and not all of it can be pulled alone".to_owned(),
        |w| format!("one by one {}", power(w)),
    );
    part.paragraph(format!(
        "Together {}, {sum}: peak power of the likeliest car, uncorrected, each piece alone on the car as it is; \
         what needs another piece counts with it.",
        power(found.together_w)
    ));
    let words = |place: &usize| changes.get(place - 1).map_or("change", |id| kind_words(id));
    let mut table = TextTable::new("lr");
    for piece in &found.pieces {
        table.row([
            piece
                .changes
                .iter()
                .map(words)
                .collect::<Vec<_>>()
                .join(" with "),
            piece.gain_w.map_or_else(|| "no pull".to_owned(), power),
        ]);
    }
    part.table(table);
    document
}
