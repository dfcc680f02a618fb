//! Why a pull looks wrong: rival explanations of one odd pull, weighed by how well each accounts for everything in the log.
//!
//! A [`Cause`] is one thing that may be wrong, with the car or with the rig, described by at most two numbers ([`size`]).
//! Each is put into the model (`disturb`) and its sizes are found that fit the log best; how probable it is follows from its
//! evidence (`evidence`), which counts against a cause every size it could have had and has not. What the model misses of this car is
//! known from good pulls and taken off first (`expect`); how far an honest pull strays is told by `noise`. Last comes the
//! measurement that would tell the two likeliest of those named apart ([`next`]). Two faults at once are weighed where no single one suffices (`pair`). It refuses three.

mod blind;
pub mod cause;
mod clutch;
mod describe;
mod disturb;
mod doubted;
mod doubts;
mod evidence;
mod expect;
mod foresee;
mod form;
mod judge;
mod lift;
pub mod next;
mod noise;
mod pair;
mod remark;
mod rival;
mod search;
mod shape;
pub mod size;
mod suspect;
mod ways;
mod weigh;
mod weights;

pub use blind::Blind;
pub use cause::{Cause, Origin};
pub use doubts::Doubts;
pub use evidence::Sampled;
pub use expect::{Channel, Entered, Fact, SpeedSource, Trial};
pub use form::Form;
pub use remark::Remark;
pub use rival::Trials;
pub use size::{Size, SizeMeasure};
pub use suspect::{Explained, Sign, Suspect, Trace};
pub use weigh::{DiagnoseError, Diagnosis, Question, evidence_by_sampling};
pub use weights::{Hypothesis, chances};
