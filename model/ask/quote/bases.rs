//! What the draws of a quote are before any plan, made once for all the plans of a car: two pulls of every three.
//!
//! While a plan is being written its quote is asked again and again of the same car, in the same air, with the same draws. Only the pulls after the
//! work differ. It refuses to stand for another car, other air or other draws.

use super::draw::{Base, Draw, Drawn, Speeds};
use super::evenly::{Evenly, Shares};
use super::strays::readings_of_a_car;
use super::{Question, QuoteError, USUAL_DRAWS};
use crate::ask::draws::AtCentre;
use crate::ask::fingerprint::Fingerprint;
use crate::dyno::Pull;
use crate::numeric::{Progress, side_by_side};
use std::iter;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The first draws of a question without its plan; none fit no question.
#[derive(Default)]
pub struct Bases {
    /// A name of everything they depend on.
    of: String,
    evenly: Evenly,
    all: Vec<Option<Base>>,
}

impl std::fmt::Debug for Bases {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Bases")
            .field("of", &self.of)
            .field("draws", &self.all.len())
            .finish_non_exhaustive()
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
            .and("seed", &self.seed)
            .name()
    }

    /// The first draws without the plan, 46 kB each: as many as are asked for, or as any plan needs.
    pub fn bases(&self) -> Bases {
        let (evenly, count) = (self.cars_evenly(None), self.draws.unwrap_or(USUAL_DRAWS));
        Bases {
            of: self.base_name(),
            all: side_by_side(count, |index| self.base(index, &evenly)),
            evenly,
        }
    }

    /// So many draws, side by side on the machine's cores: the same in the same order on any number of them, and the same from bases that fit.
    pub(super) fn drawn(
        &self,
        (known, draws): (Option<&Bases>, usize),
        sways: (Option<Vec<f64>>, &[f64]),
        anchor: Option<&Pull>,
        at_centre: &AtCentre,
        progress: Progress<'_>,
    ) -> Result<(Speeds, Vec<Drawn>), QuoteError> {
        let known = known.filter(|known| known.fit(self));
        let (of_car, of_work) = sways;
        let cars = known.map_or_else(|| self.cars_evenly(of_car), |known| known.evenly.clone());
        let works = self.works_evenly(of_work);
        let readings = (readings_of_a_car(draws), Shares::of_strays(self.seed));
        let made = AtomicUsize::new(0);
        let draw = |index: usize| -> Option<Draw> {
            if progress.is_over() {
                return None;
            }
            let done = made.fetch_add(1, Ordering::Relaxed);
            progress.tell(done, Some(draws));
            let made;
            let base = if let Some(base) = known.and_then(|known| known.all.get(index)) {
                base.as_ref()
            } else {
                made = self.base(index, &cars);
                made.as_ref()
            };
            self.finish(base?, (self.plan, &works), (anchor, at_centre), readings)
        };
        // The engine speeds of the first draw that makes the pull are those of all.
        let first = (0..draws).find_map(|index| Some((index, draw(index)?)));
        let Some((first, one)) = first else {
            if progress.is_over() {
                return Err(QuoteError::Over);
            }
            return Ok((Speeds::default(), Vec::new()));
        };
        let speeds = Speeds::of(&one);
        let next = first + 1;
        let rest = side_by_side(draws - next, |k| Some(draw(next + k)?.kept(&speeds)));
        if progress.is_over() {
            return Err(QuoteError::Over);
        }
        let one = one.kept(&speeds);
        let all = iter::once(one).chain(rest.into_iter().flatten());
        let all = all.flatten().collect();
        Ok((speeds, all))
    }
}
