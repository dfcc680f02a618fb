//! Words for the kinds of planned work, as they stand in the middle of a sentence.

use crate::parts;

/// Words for a kind of change.
pub(super) fn of(id: &str) -> Option<&'static str> {
    parts::kinds()
        .find(|kind| kind.id == id)
        .map(|kind| kind.words)
}

/// The same, and a plain word for a kind without a row.
pub(super) fn kind_words(id: &str) -> &'static str {
    of(id).unwrap_or("change")
}
