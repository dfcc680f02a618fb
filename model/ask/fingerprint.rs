//! A short name for what an answer was computed from: two answers of one version with the same name had the same inputs.
//!
//! It is taken of the numbers as parsed, not of the files: a comment, another unit of the same value or another order of the plan's parts leaves it
//! as it is. It refuses to prove anything against somebody who wants two inputs to look alike: it has too few digits for that.

use super::quote::order::canonical;
use crate::air::Day;
use crate::belief::prior::Prior;
use crate::belief::sheet::Sheet;
use crate::fit::observation::Visit;
use crate::parts::Plan;
use sha2::{Digest, Sha256};
use std::fmt::{self, Debug, Write};

/// Inputs being named one after the other.
#[derive(Debug, Clone)]
pub struct Fingerprint(Sha256);

/// What is written goes into the hash.
impl Write for Fingerprint {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0.update(text.as_bytes());
        Ok(())
    }
}

/// Bytes of the hash that are shown.
const BYTES: usize = 6;

impl Fingerprint {
    /// Of a car as its file was read: every number with its doubt, and the setup at the centre of them.
    pub fn of(sheet: &Sheet) -> Self {
        let mut fingerprint = Self(Sha256::new());
        for belief in &sheet.beliefs {
            let path = belief.parameter.path;
            fingerprint = fingerprint.and(path, &(belief.prior, belief.origin));
        }
        fingerprint
            .and("centre", &sheet.centre)
            .and("correlation", &sheet.correlation)
    }

    /// And of the planned work, in whatever order.
    #[must_use]
    pub fn plan(self, plan: Option<&Plan<Prior>>) -> Self {
        self.and("plan", &plan.map(canonical))
    }

    /// And of measured pulls.
    #[must_use]
    pub fn visits(self, visits: &[Visit]) -> Self {
        self.and("visits", &visits)
    }

    /// And of the air of the pull.
    #[must_use]
    pub fn air(self, day: Option<&Day>) -> Self {
        self.and("air", &day)
    }

    /// And of any other setting. Numbers are written so that each has one text and no two share one.
    #[must_use]
    pub fn and(mut self, name: &str, value: &dyn Debug) -> Self {
        // Writing into a hash cannot fail.
        let _ = write!(self, "{name}={value:?};");
        self
    }

    /// Twelve hexadecimal digits.
    pub fn name(self) -> String {
        let hash = self.0.finalize();
        hash.iter()
            .take(BYTES)
            .fold(String::new(), |mut text, byte| {
                let _ = write!(text, "{byte:02x}");
                text
            })
    }
}
