//! A question that a file leaves, to be answered on the spot.

use serde::Serialize;

/// A question about one column of a recording.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Asked {
    /// Its header, or its number after `#`.
    pub column: String,
    /// What is asked.
    pub question: String,
    /// Names under which it would be read, the likeliest first.
    pub answers: Vec<String>,
}
