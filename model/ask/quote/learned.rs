//! What the shop's own closed jobs change of a quote, and what a quote will teach once its job is closed.
//!
//! Every draw is also made with what is missed in general, so the answer can say what it would be without those jobs; and with mechanisms that miss
//! nothing, so that a reading can tell what they missed. It refuses to hide what it moved: the middle and the width stand beside each other.

use super::Question;
use super::answer::LEAST_EFFECT;
use super::draw::{Drawn, peak_w};
use super::range::Range;
use crate::ask::miss::{Missed, effects};
use crate::belief::prior::{HALF_WIDTH_90, Prior};
use crate::belief::{Mechanism, Miss};
use crate::car::Car;
use crate::dyno::{Pull, Setup};
use crate::fit::own_jobs::{ClosedJob, LEARNED_OF, Learned};
use crate::numeric::upper_median;
use crate::parts::Plan;
use serde::Serialize;

/// What closed jobs changed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnJobs {
    /// Closed jobs that it was learned from.
    pub jobs: usize,
    /// Peak power after the work without them, W.
    pub without_w: Range,
    /// Middle with them over that without, less one.
    pub middle: f64,
    /// Width of the range with them over that without.
    pub width: f64,
    /// What was learned of each mechanism that this work goes through.
    pub mechanisms: Vec<OwnMiss>,
    /// What jobs of the same kinds of work had alike; none where no closed job had any of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kinds: Option<OwnKinds>,
}

/// What jobs of the same kinds of work had alike beside what the mechanisms miss: shares of power.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OwnKinds {
    /// Power read over power computed.
    pub bias: f64,
    /// Its standard deviation.
    pub bias_doubt: f64,
}

/// What was learned of a mechanism: shares of its effect on power.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OwnMiss {
    /// Which.
    pub mechanism: Mechanism,
    /// What all jobs have in common: power read over power computed.
    pub bias: f64,
    /// Its standard deviation.
    pub bias_doubt: f64,
    /// From job to job, standard deviation.
    pub spread: f64,
}

/// What a reading of the finished work is held against to learn from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Faultless {
    /// Middle of the peak with nothing learned, W.
    middle_w: f64,
    /// Standard deviation of its logarithm with mechanisms that miss nothing.
    own: f64,
    /// Shares of the peak that go through each mechanism.
    pub(super) effects: [f64; LEARNED_OF],
    /// The part of `own` that is of car, parts and waves.
    pub(super) parts: f64,
    /// Kinds of the work, each once.
    kinds: Vec<&'static str>,
}

impl Faultless {
    /// What the job tells once it is closed by a reading.
    pub fn closed(&self, read_w: f64) -> ClosedJob {
        ClosedJob {
            missed: (read_w / self.middle_w).ln(),
            own: self.own,
            effects: self.effects,
            parts: self.parts,
            kinds: self.kinds.iter().map(|&kind| kind.to_owned()).collect(),
        }
    }
}

/// Kinds of a plan's work, each once.
fn kinds<T>(plan: &Plan<T>) -> Vec<&'static str> {
    let mut kinds: Vec<&'static str> = plan.changes.iter().map(|change| change.kind().id).collect();
    kinds.sort_unstable();
    kinds.dedup();
    kinds
}

/// How far car, parts and waves move a drawn car's gain, with mechanisms that miss nothing: logarithms about their middle.
fn of_parts(draws: &[Drawn]) -> Vec<f64> {
    let gain = |draw: &Drawn| (draw.faultless_w / draw.same_day.power_w).ln();
    let middle = upper_median(draws.iter().map(gain)).unwrap_or(f64::NAN);
    draws.iter().map(|draw| gain(draw) - middle).collect()
}

/// Standard deviation of that, from both ends of its range.
fn doubt_of_parts(moves: Vec<f64>) -> f64 {
    let range = Range::of(moves);
    (range.p95 - range.p5) / (2.0 * HALF_WIDTH_90)
}

impl Question<'_> {
    /// Moves a pull after the work at the centre by what all jobs of the shop missed alike.
    /// Equation (8.15).
    pub(super) fn moved(&self, after: &mut Pull, same_day: &Pull, plan: &Plan<f64>, built: &Car) {
        let general = self.noise.miss;
        let sizes = match &self.learned {
            Some(learned) => learned.middle(&general),
            None => general.of_bias_alone(),
        };
        if sizes.bias != Miss::NONE.bias {
            let doubts = self.doubts(sizes, plan, built);
            Missed::default().of_change(after, same_day, &doubts);
        }
    }

    /// Moves draws by what jobs of the same kinds had alike, and takes so much of the parts' doubt off; gives the factor of the middle.
    ///
    /// ```text
    /// ln P ← ln P + [√(1 − α Σw²) − 1] d + p √α Σ w γ,   Σ over the kinds that closed jobs had
    /// ```
    ///
    /// d: how far car, parts and waves move the draw's gain from the middle; p: its standard deviation.
    /// Equation (8.15).
    pub(super) fn alike(&self, draws: &mut [Drawn]) -> f64 {
        let kinds = kinds(self.plan);
        let learned = self.learned.as_deref();
        let told = learned.and_then(|learned| Some((learned, learned.told_of_kinds(&kinds)?.0)));
        let Some((learned, middle)) = told else {
            return 1.0;
        };
        let moves = of_parts(draws);
        let doubt = doubt_of_parts(moves.clone());
        // Draws without power tell no logarithm, and leave nothing to be moved by.
        if !doubt.is_finite() {
            return 1.0;
        }
        for (draw, moved) in draws.iter_mut().zip(moves) {
            let alike = learned.alike(draw.car.index, &kinds);
            let left = (1.0 - alike.share).sqrt() - 1.0;
            let factor = (left * moved + alike.shift * doubt).exp();
            if factor.is_finite() {
                draw.after.level(factor);
            }
        }
        (middle * doubt).exp()
    }

    /// The same of a car built so, from the pull of the car before in the same air.
    pub(super) fn moved_of(&self, mut after: Pull, plan: &Plan<f64>, built: &Setup) -> Pull {
        let centre = &self.sheet.centre;
        if self.learned.is_some()
            && let Ok(same_day) = centre.pull(&self.after.day, &self.ends(centre), super::POINTS)
        {
            self.moved(&mut after, &same_day, plan, &built.car);
        }
        after
    }
}

/// Peaks as read with nothing learned, the middle at that of the centre.
pub(super) fn without(draws: &[Drawn], centre_w: f64) -> Range {
    about(draws, centre_w, |draw| draw.general_w)
}

fn about(draws: &[Drawn], centre_w: f64, of: fn(&Drawn) -> f64) -> Range {
    let read = |draw: &Drawn| draw.after.scale * of(draw);
    let middle = upper_median(draws.iter().map(read)).unwrap_or(f64::NAN);
    Range::of(draws.iter().map(|d| read(d) * centre_w / middle).collect())
}

/// What the finished work will be held against.
pub(super) fn faultless(
    draws: &[Drawn],
    (plan, doubts_waves): (&Plan<Prior>, f64),
    [before, after]: [&Pull; 2],
) -> Faultless {
    let centre_w = peak_w(after);
    let range = about(draws, centre_w, |draw| draw.faultless_w);
    let effects = after
        .peak_power()
        .map_or([0.0; Mechanism::ALL.len()], |peak| {
            // An electric share of the reading misses nothing of these.
            let engine = (peak.power_w - peak.electric_w) / peak.power_w;
            effects(before, peak, doubts_waves).map(|x| x * engine)
        });
    Faultless {
        middle_w: centre_w,
        own: (range.p95 / range.p5).ln() / (2.0 * HALF_WIDTH_90),
        parts: doubt_of_parts(of_parts(draws)),
        kinds: kinds(plan),
        effects: std::array::from_fn(|m| effects[m]),
    }
}

/// What was learned, and what it changed.
pub(super) fn own_jobs(
    learned: &Learned,
    faultless: &Faultless,
    (with_w, without_w): (Range, Range),
) -> OwnJobs {
    let width = |range: &Range| range.p95 - range.p5;
    let told = |(mechanism, effect): (&Mechanism, &f64)| {
        let (bias, bias_doubt, spread) = learned.told(*mechanism)?;
        (effect.abs() > LEAST_EFFECT).then_some(OwnMiss {
            mechanism: *mechanism,
            bias,
            bias_doubt,
            spread,
        })
    };
    OwnJobs {
        jobs: learned.jobs,
        without_w,
        middle: with_w.p50 / without_w.p50 - 1.0,
        width: width(&with_w) / width(&without_w),
        mechanisms: Mechanism::ALL
            .iter()
            .zip(&faultless.effects)
            .filter_map(told)
            .collect(),
        kinds: learned
            .told_of_kinds(&faultless.kinds)
            .map(|(bias, doubt)| OwnKinds {
                bias: faultless.parts * bias,
                bias_doubt: faultless.parts * doubt,
            }),
    }
}
