//! How far a long computation is, told in counts to whoever asked. It knows no clock: when to show what is for the one who is told.

use std::fmt;

/// Teller how much is done, and of how much where that is known.
type Teller<'a> = &'a (dyn Fn(usize, Option<usize>) + Sync);

/// Where a computation tells how far it is. It may be told from several threads.
#[derive(Clone, Copy, Default)]
pub struct Progress<'a>(Option<Teller<'a>>);

impl<'a> Progress<'a> {
    /// Teller to nobody.
    pub const SILENT: Self = Self(None);

    /// Teller to this.
    pub fn to(told: Teller<'a>) -> Self {
        Self(Some(told))
    }

    pub(crate) fn tell(self, done: usize, of: Option<usize>) {
        if let Some(told) = self.0 {
            told(done, of);
        }
    }
}

impl fmt::Debug for Progress<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Progress")
    }
}
