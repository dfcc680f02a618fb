//! From evidences to chances: ways gathered into causes, evidence tempered, a floor below which nothing is named.
//!
//! ```text
//! p(cause) ∝ w (mean over its ways of Z)^τ
//! ```
//!
//! The chance of a cause is that of its being at work, alone or with another. Exists apart from the evidences so that what was chosen on
//! recorded cases acts in one place. It refuses to look at a log.

use super::cause::{Cause, Origin};
use super::expect::Entered;
use super::suspect::{Explained, Suspect};

/// What is known of a log beside its evidences.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighing<'a> {
    pub(super) entered: &'a Entered,
    /// Share of a logarithmic evidence that counts.
    pub(super) temper: f64,
    /// Whether everything logged lies within what honest pulls stray by.
    pub(super) inside: bool,
}

/// Chance of a second fault beside a first (common practice, no source).
const SECOND: f64 = 0.03;
/// Factor on causes in the car, and on something unknown, while everything lies within repeatability: what small faults would do there, a
/// sound pull does as often (common practice, no source).
const FLOOR: f64 = 0.2;
/// Forms whose logarithmic evidence differs by less, a factor of four or five, are told together.
const ALIKE: f64 = 1.5;

impl Weighing<'_> {
    fn prior(&self, cause: Cause) -> f64 {
        let small = self.inside && (cause.place() == Origin::Car || cause == Cause::NoneOfThese);
        cause.prior_weight(self.entered) * if small { FLOOR } else { 1.0 }
    }

    /// Every explanation with its evidence: a cause as the mean of its ways, and two at work together.
    /// Equation (10.4).
    pub(super) fn hypotheses(
        &self,
        singles: &[(Cause, Option<Explained>)],
        pairs: &[Explained],
    ) -> Vec<Hypothesis> {
        let alone = Cause::ALL.into_iter().filter_map(|cause| {
            let ways = singles.iter().filter(|way| way.0 == cause);
            let logs: Vec<Option<f64>> = ways
                .map(|way| way.1.as_ref().map(|e| e.log_evidence))
                .collect();
            let best = logs.iter().copied().flatten().reduce(f64::max)?;
            // A form in which the car could not have made the pull has no evidence, but it was one of the ways.
            let sum: f64 = logs
                .iter()
                .copied()
                .flatten()
                .map(|log| (log - best).exp())
                .sum();
            Some(Hypothesis {
                causes: [Some(cause), None],
                log_evidence: best + (sum / logs.len() as f64).ln(),
                log_prior: self.prior(cause).ln(),
            })
        });
        let together = pairs.iter().filter_map(|pair| {
            let (other, _) = pair.with?;
            Some(Hypothesis {
                causes: [Some(pair.cause), Some(other)],
                log_evidence: pair.log_evidence,
                log_prior: (self.prior(pair.cause) * self.prior(other) * SECOND).ln(),
            })
        });
        alone.chain(together).collect()
    }

    /// Causes with their chances, likeliest first.
    /// Equation (10.4).
    pub(super) fn suspects(
        &self,
        singles: &[(Cause, Option<Explained>)],
        pairs: &[Explained],
    ) -> Vec<Suspect> {
        let hypotheses = self.hypotheses(singles, pairs);
        chances(&hypotheses, self.temper)
            .into_iter()
            .filter_map(|(cause, probability)| {
                let likeliest = hypotheses
                    .iter()
                    .filter(|h| h.causes.contains(&Some(cause)))
                    .max_by(|a, b| a.log(self.temper).total_cmp(&b.log(self.temper)))?;
                let mut forms: Vec<&Explained> = singles
                    .iter()
                    .filter(|way| way.0 == cause)
                    .filter_map(|way| way.1.as_ref())
                    .collect();
                forms.sort_by(|a, b| b.log_evidence.total_cmp(&a.log_evidence));
                let (explained, alike) = if likeliest.causes[1].is_some() {
                    let pair = pairs
                        .iter()
                        .find(|p| [Some(p.cause), p.with.map(|w| w.0)] == likeliest.causes)?;
                    (pair.part(cause)?, Vec::new())
                } else {
                    let (best, others) = forms.split_first()?;
                    let alike = others
                        .iter()
                        .filter(|f| f.log_evidence > best.log_evidence - ALIKE)
                        .map(|f| f.form);
                    ((*best).clone(), alike.collect())
                };
                Some(Suspect {
                    explained,
                    probability,
                    alike,
                    power_w: 0.0,
                    worst: (0.0, 0.0),
                    signs: Vec::new(),
                    left: Vec::new(),
                    traces: Vec::new(),
                })
            })
            .collect()
    }
}

/// One explanation: a cause, or two together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hypothesis {
    /// What is at work.
    pub causes: [Option<Cause>; 2],
    /// Logarithm of its evidence.
    pub log_evidence: f64,
    /// Logarithm of its probability before the log was read, but for a common summand.
    pub log_prior: f64,
}

impl Hypothesis {
    fn log(&self, temper: f64) -> f64 {
        temper * self.log_evidence + self.log_prior
    }
}

/// Chance of each cause to be at work, alone or with another, likeliest first; `temper` is the share of a logarithmic evidence that counts.
/// Equation (10.4).
pub fn chances(hypotheses: &[Hypothesis], temper: f64) -> Vec<(Cause, f64)> {
    let logs = hypotheses.iter().map(|h| h.log(temper));
    let most = logs.fold(f64::NEG_INFINITY, f64::max);
    let weight = |h: &Hypothesis| (h.log(temper) - most).exp();
    let total: f64 = hypotheses.iter().map(weight).sum();
    let mut out: Vec<(Cause, f64)> = Cause::ALL
        .into_iter()
        .filter_map(|cause| {
            let of_cause = hypotheses
                .iter()
                .filter(|h| h.causes.contains(&Some(cause)));
            let weights: Vec<f64> = of_cause.map(weight).collect();
            (!weights.is_empty()).then(|| (cause, weights.iter().sum::<f64>() / total))
        })
        .collect();
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}
