//! How far a long computation is, told in counts to whoever asked, who may want no answer any more. It knows no clock: when to show what is for the
//! one who is told.

use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};

/// Teller how much is done, and of how much where that is known.
type Teller<'a> = &'a (dyn Fn(usize, Option<usize>) + Sync);

/// Where a computation tells how far it is. It may be told from several threads.
#[derive(Clone, Copy, Default)]
pub struct Progress<'a> {
    told: Option<Teller<'a>>,
    over: Option<&'a AtomicBool>,
}

impl<'a> Progress<'a> {
    /// Told to nobody.
    pub const SILENT: Self = Self {
        told: None,
        over: None,
    };

    /// Told to this.
    pub fn to(told: Teller<'a>) -> Self {
        Self {
            told: Some(told),
            over: None,
        }
    }

    /// Until this is set: a computation that looks at it may then end without an answer.
    #[must_use]
    pub fn until(self, over: &'a AtomicBool) -> Self {
        Self {
            over: Some(over),
            ..self
        }
    }

    pub(crate) fn tell(self, done: usize, of: Option<usize>) {
        if let Some(told) = self.told {
            told(done, of);
        }
    }

    /// Whether nobody waits for the answer any more.
    pub(crate) fn is_over(self) -> bool {
        self.over.is_some_and(|over| over.load(Ordering::Relaxed))
    }
}

impl fmt::Debug for Progress<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Progress")
    }
}
