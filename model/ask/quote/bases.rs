//! What the draws of a quote are before any plan, made once for all the plans of a car: two pulls of every three.
//!
//! While a plan is being written its quote is asked again and again of the same car, in the same air, with the same draws. Only the pulls after the
//! work differ. It refuses to stand for another car, other air or other draws.

use super::draw::{Base, Draw, Drawn, Speeds};
use super::{Question, QuoteError};
use crate::ask::draws::AtCentre;
use crate::ask::fingerprint::Fingerprint;
use crate::dyno::Pull;
use crate::numeric::{Progress, side_by_side};
use std::iter;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The draws of a question without its plan; none fit no question.
#[derive(Default)]
pub struct Bases {
    /// A name of everything they depend on.
    of: String,
    all: Vec<Option<Base>>,
}

impl std::fmt::Debug for Bases {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Bases")
            .field("of", &self.of)
            .field("draws", &self.all.len())
            .finish()
    }
}

impl Bases {
    /// Whether they are the draws of a question.
    pub fn fit(&self, question: &Question<'_>) -> bool {
        self.of == question.base_name()
    }
}

impl Question<'_> {
    /// A name of what a draw depends on before any plan.
    fn base_name(&self) -> String {
        Fingerprint::of(self.sheet)
            .air(Some(&self.before.air.day))
            .air(Some(&self.after.day))
            .and("start", &self.before.conditions)
            .and("draws", &(self.draws, self.seed))
            .name()
    }

    /// The draws without the plan, 46 kB each.
    pub fn bases(&self) -> Bases {
        Bases {
            of: self.base_name(),
            all: side_by_side(self.draws, |index| self.base(index)),
        }
    }

    /// The draws, side by side on the machine's cores: the same in the same order on any number of them, and the same from bases that fit.
    pub(super) fn drawn(
        &self,
        known: Option<&Bases>,
        anchor: Option<&Pull>,
        at_centre: &AtCentre,
        progress: Progress<'_>,
    ) -> Result<(Speeds, Vec<Drawn>), QuoteError> {
        let known = known.filter(|known| known.fit(self));
        let made = AtomicUsize::new(0);
        let draw = |index: usize| -> Option<Draw> {
            if progress.is_over() {
                return None;
            }
            let done = made.fetch_add(1, Ordering::Relaxed);
            progress.tell(done, Some(self.draws));
            let made;
            let base = if let Some(known) = known {
                known.all.get(index)?.as_ref()
            } else {
                made = self.base(index);
                made.as_ref()
            };
            self.finish(base?, self.plan, anchor, at_centre)
        };
        // The engine speeds of the first draw that makes the pull are those of all.
        let first = (0..self.draws).find_map(|index| Some((index, draw(index)?)));
        let Some((first, one)) = first else {
            if progress.is_over() {
                return Err(QuoteError::Over);
            }
            return Ok((Speeds::default(), Vec::new()));
        };
        let speeds = Speeds::of(&one);
        let next = first + 1;
        let rest = side_by_side(self.draws - next, |k| Some(draw(next + k)?.kept(&speeds)));
        if progress.is_over() {
            return Err(QuoteError::Over);
        }
        let one = one.kept(&speeds);
        let all = iter::once(one).chain(rest.into_iter().flatten());
        let all = all.flatten().collect();
        Ok((speeds, all))
    }
}
