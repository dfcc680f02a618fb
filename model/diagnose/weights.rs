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
use super::form::Form;
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

    /// Causes with their chances, likeliest first. A form in which the car could not have made the pull has no evidence, but it was one
    /// of the ways.
    /// Equation (10.4).
    pub(super) fn suspects(
        &self,
        singles: &[(Cause, Option<Explained>)],
        pairs: &[Explained],
    ) -> Vec<Suspect> {
        let mut all: Vec<(Explained, f64, Vec<Form>)> = Vec::new();
        for cause in Cause::ALL {
            let of_cause = || singles.iter().filter(|way| way.0 == cause);
            let mut forms: Vec<&Explained> = of_cause().filter_map(|way| way.1.as_ref()).collect();
            forms.sort_by(|a, b| b.log_evidence.total_cmp(&a.log_evidence));
            let Some(best) = forms.first() else {
                continue;
            };
            let sum: f64 = forms
                .iter()
                .map(|f| (f.log_evidence - best.log_evidence).exp())
                .sum();
            let mean = best.log_evidence + (sum / of_cause().count() as f64).ln();
            let alike = forms[1..]
                .iter()
                .filter(|f| f.log_evidence > best.log_evidence - ALIKE)
                .map(|f| f.form)
                .collect();
            let log = self.temper * mean + self.prior(cause).ln();
            all.push(((*best).clone(), log, alike));
        }
        for pair in pairs {
            let Some((other, _)) = pair.with else {
                continue;
            };
            let prior = self.prior(pair.cause) * self.prior(other) * SECOND;
            let log = self.temper * pair.log_evidence + prior.ln();
            all.push((pair.clone(), log, Vec::new()));
        }
        let most = all.iter().map(|a| a.1).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = all.iter().map(|a| (a.1 - most).exp()).sum();
        let mut suspects: Vec<Suspect> = Vec::new();
        for cause in Cause::ALL {
            let at_work = all
                .iter()
                .filter_map(|a| Some((a.0.part(cause)?, (a.1 - most).exp() / total, &a.2)));
            let mut at_work: Vec<_> = at_work.collect();
            at_work.sort_by(|a, b| b.1.total_cmp(&a.1));
            let probability = at_work.iter().map(|a| a.1).sum();
            let Some((explained, _, alike)) = at_work.into_iter().next() else {
                continue;
            };
            suspects.push(Suspect {
                explained,
                probability,
                alike: alike.clone(),
                power_w: 0.0,
                worst: (0.0, 0.0),
                signs: Vec::new(),
                left: Vec::new(),
                traces: Vec::new(),
            });
        }
        suspects.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        suspects
    }
}
