//! What the pieces of a plan gain together, and one by one.
//!
//! It stands below the gains of a quote. It refuses a range: the figures are of one car, the likeliest.

use super::number::{Units, What};
use super::quote::change_words;
use super::table::{TextTable, WIDTH, paragraph};
use crate::ask::quote::Interactions;
use crate::belief::prior::Prior;
use crate::build::Plan;
use serde::Serialize;

/// Gains in peak power at the centre of all beliefs, uncorrected, in the air of the pull after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InteractionsReport {
    /// Of the whole plan.
    pub together_w: f64,
    /// Sum of the pieces; none where one of them cannot make the pull alone.
    pub one_by_one_w: Option<f64>,
    /// The pieces.
    pub pieces: Vec<Piece>,
}

/// Work that stands alone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Piece {
    /// Places of its changes in the plan, from 1.
    pub changes: Vec<usize>,
    /// In words.
    pub words: String,
    /// Its gain alone; none where the car cannot make the pull so.
    pub gain_w: Option<f64>,
}

impl InteractionsReport {
    /// Puts them in words.
    pub fn new(found: &Interactions, plan: &Plan<Prior>) -> Self {
        let words = |place: &usize| plan.changes.get(place - 1).map_or("change", change_words);
        Self {
            together_w: found.together_w,
            one_by_one_w: found.one_by_one_w(),
            pieces: found
                .pieces
                .iter()
                .map(|piece| Piece {
                    words: piece
                        .places
                        .iter()
                        .map(words)
                        .collect::<Vec<_>>()
                        .join(" with "),
                    changes: piece.places.clone(),
                    gain_w: piece.gain_w,
                })
                .collect(),
        }
    }

    /// For a person.
    pub(super) fn text(&self, units: Units) -> String {
        let power = |w| units.show_change(What::Power, w);
        if self.pieces.len() < 2 {
            return paragraph(
                "",
                "The changes of this plan only work together; there is nothing to take apart.",
                0,
                WIDTH,
            );
        }
        let sum = self.one_by_one_w.map_or_else(
            || "and not all of it can be pulled alone".to_owned(),
            |w| format!("one by one {}", power(w)),
        );
        let mut out = paragraph(
            "",
            &format!(
                "Together {}, {sum}: peak power of the likeliest car, uncorrected, each piece alone on the car as it is; \
                 what needs another piece counts with it.",
                power(self.together_w)
            ),
            0,
            WIDTH,
        );
        let mut table = TextTable::new("lr");
        for piece in &self.pieces {
            table.row([
                piece.words.clone(),
                piece.gain_w.map_or_else(|| "no pull".to_owned(), power),
            ]);
        }
        out.push_str(&table.render());
        out
    }
}
