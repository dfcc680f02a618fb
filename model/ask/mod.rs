//! Each question a shop asks, as a question and its answer.
//!
//! A verb of the program, a page or a binding asks the same: a `Question` made of checked values, answered by a structure of ids and SI
//! numbers that can be serialised. Gates are part of the answer. Nothing here words a sentence, reads a file, prints, or knows an exit code.

pub mod basis;
pub mod cautions;
pub mod compare;
pub mod correct;
pub mod diagnose;
pub mod draws;
pub mod fingerprint;
pub mod fit;
pub mod guard;
pub mod inertia;
pub mod limits;
mod miss;
pub mod offset;
pub mod predict;
pub mod quote;
pub mod record;
pub mod reduce;
pub mod rules;
pub mod spread;
pub mod trace;
mod work;

pub use crate::numeric::Progress;
pub use work::WorkError;
