//! The question put to a log and its answer: every cause with its probability, size, cost in power and the trace it left.
//!
//! Probabilities follow from the evidences and from what was thought of each cause before. A cause that shows in several ways is
//! as probable as the mean of its ways; the likeliest way speaks for it.

use super::cause::Cause;
use super::describe::{describe, peak_w};
use super::disturb::{Scene, TOLERANCE};
use super::evidence;
use super::expect::{self, Channel, Entered, Misfit, SpeedSource, Trial};
use super::form::Form;
use super::judge::Judge;
use super::next::{self, NextStep};
use super::remark::{self, Remark};
use super::rival::Rival;
use super::suspect::{Explained, Suspect};
use crate::dyno::{Pull, PullError, Setup};
use crate::fit::calibration::{simulate_all, started};
use crate::fit::observation::{MeasuredPull, Visit};
use crate::numeric::{Progress, side_by_side};
use std::sync::atomic::{AtomicUsize, Ordering};

/// An odd pull of a car that is known, and good pulls of the same car to hold it against.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The car on its drums, as it is known; best a fitted one.
    pub setup: &'a Setup,
    /// Visits with good pulls, each with what was entered for its pulls. May be empty; then the model alone says what to expect.
    pub good: &'a [(Visit, Vec<Entered>)],
    /// The odd pull.
    pub odd: Trial<'a>,
    /// Pulls of its visit before it, in order: what they left warm in the car is expected of it.
    pub before: &'a [MeasuredPull],
    /// Whether the car stood on the drums unmoved since the good pulls; if not, the visit strays as a whole.
    pub same_visit: bool,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Diagnosis {
    /// Every cause this car can have, likeliest first.
    pub suspects: Vec<Suspect>,
    /// Good pulls it was held against.
    pub good_pulls: usize,
    /// Channels that were there.
    pub channels: Vec<Channel>,
    /// What would best tell the two likeliest apart, best first.
    pub next: Vec<NextStep>,
    /// Peak power expected of a sound pull on that day, W, and peak power read, W.
    pub peak_w: (f64, f64),
    /// What is odd about the question itself.
    pub remarks: Vec<Remark>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DiagnoseError {
    /// The model cannot make the pull even with a sound car.
    #[error("the car as described cannot make this pull: {0}")]
    Pull(#[from] PullError),
    /// A good pull cannot be made.
    #[error("the car as described cannot make the good pulls")]
    Good,
    /// A pull before the odd one cannot be made.
    #[error("the car as described cannot make the pulls before the odd one")]
    Before,
    /// The odd pull has too few readings of power.
    #[error("the pull has {bands} readings of power; at least {needed} are needed")]
    TooShort {
        /// Bands with power.
        bands: usize,
        /// Needed.
        needed: usize,
    },
    /// The evidence could not be computed even for a sound car.
    #[error("the pull's readings cannot be weighed: one of them is no number")]
    NotWeighed,
}

/// How far an engine may run ahead of a speed computed from the drums: more than tyres slip that still drive.
const AHEAD: f64 = 1.08;
/// Fewest bands of power.
const LEAST_BANDS: usize = 8;

impl Question<'_> {
    /// Weighs all causes.
    pub fn answer(&self) -> Result<Diagnosis, DiagnoseError> {
        self.answer_telling(Progress::SILENT)
    }

    /// As [`Self::answer`], telling how many causes are weighed.
    pub fn answer_telling(&self, progress: Progress<'_>) -> Result<Diagnosis, DiagnoseError> {
        let scene = self.scene()?;
        let sound = scene
            .expected_log(Cause::Nothing, Form::Plain, &[])
            .ok_or(DiagnoseError::NotWeighed)?;
        let judge = Judge::new(&scene, &sound);
        let rivals: Vec<Rival<'_>> = Cause::ALL
            .into_iter()
            .filter(|cause| cause.possible(self.setup))
            .flat_map(|cause| {
                let (scene, judge) = (&scene, &judge);
                scene.forms(cause).into_iter().map(move |form| Rival {
                    scene,
                    judge,
                    cause,
                    form,
                })
            })
            .collect();
        let done = AtomicUsize::new(0);
        let explained = side_by_side(rivals.len(), |index| {
            let explained = rivals[index].explain();
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            progress.tell(done, Some(rivals.len()));
            explained
        });
        let ways: Vec<(Cause, Option<Explained>)> = rivals
            .iter()
            .map(|rival| rival.cause)
            .zip(explained)
            .collect();
        let mut suspects = weighed(&ways, &scene.entered);
        let nothing = suspects
            .iter()
            .find(|s| s.explained.cause == Cause::Nothing)
            .map(|s| s.explained.clone())
            .ok_or(DiagnoseError::NotWeighed)?;
        for suspect in &mut suspects {
            describe(suspect, &nothing, (&scene, &judge), &sound);
        }
        let mut remarks = remark::remarks(&scene, &sound);
        remarks.extend(remark::of_answer(&suspects, self.odd.entered.charge));
        let channels: Vec<Channel> = scene.curves.iter().map(|c| c.channel).collect();
        let next = next::steps(&suspects, &scene);
        let curve = scene
            .curves
            .iter()
            .position(|c| c.channel == Channel::Power);
        let peak_w = curve.map_or((0.0, 0.0), |i| {
            (peak_w(&sound.curves[i]), peak_w(&scene.curves[i].measured))
        });
        Ok(Diagnosis {
            suspects,
            good_pulls: scene.misfit.count(Channel::Power),
            channels,
            next,
            peak_w,
            remarks,
        })
    }

    fn scene(&self) -> Result<Scene<'_>, DiagnoseError> {
        let curves = expect::curves(self.odd.pull, self.setup);
        let bands = curves
            .iter()
            .find(|c| c.channel == Channel::Power)
            .map_or(0, |c| c.rpm.len());
        if bands < LEAST_BANDS {
            return Err(DiagnoseError::TooShort {
                bands,
                needed: LEAST_BANDS,
            });
        }
        let before = Visit {
            name: String::new(),
            pulls: self.before.to_vec(),
        };
        let last = simulate_all(self.setup, &[before], TOLERANCE)
            .map_err(|_| DiagnoseError::Before)?
            .pop();
        let mut conditions = started(self.setup, self.odd.pull, last.as_ref());
        if self.odd.entered.speed_source == SpeedSource::FromDrum {
            // What slips lets the engine run ahead of the speed that the drums tell.
            conditions.to_rpm *= AHEAD;
        }
        let sound =
            Scene::simulate(self.setup, &self.odd.pull.day, &conditions).ok_or_else(|| {
                // Asked again for the reason.
                match self.setup.pull(&self.odd.pull.day, &conditions, 4) {
                    Err(error) => DiagnoseError::Pull(error),
                    Ok(_) => DiagnoseError::NotWeighed,
                }
            })?;
        let visits: Vec<Visit> = self.good.iter().map(|(visit, _)| visit.clone()).collect();
        let mut simulated = simulate_all(self.setup, &visits, TOLERANCE)
            .map_err(|_| DiagnoseError::Good)?
            .into_iter();
        let good: Vec<Vec<(Trial<'_>, Pull)>> = self
            .good
            .iter()
            .map(|(visit, entered)| {
                let pulls = visit.pulls.iter().zip(simulated.by_ref());
                // What was not noted for a pull is nothing.
                let noted = entered
                    .iter()
                    .copied()
                    .chain(std::iter::repeat(Entered::default()));
                pulls
                    .zip(noted)
                    .map(|((pull, made), entered)| (Trial { pull, entered }, made))
                    .collect()
            })
            .collect();
        let trials: Vec<Trial<'_>> = good.iter().flatten().map(|(trial, _)| *trial).collect();
        Ok(Scene {
            setup: self.setup,
            entered: self.odd.entered,
            day: self.odd.pull.day,
            same_visit: self.same_visit,
            conditions,
            misfit: Misfit::of(self.setup, &good),
            knock: self.setup.car.knock_over_mixture(),
            facts: expect::facts(&self.odd, &trials, self.setup, self.same_visit),
            curves,
            sound,
        })
    }

    /// Puts one cause to the scene, for checks.
    fn put<T>(
        &self,
        cause: Cause,
        form: Form,
        ask: impl FnOnce(&Rival<'_>) -> Option<T>,
    ) -> Option<T> {
        let scene = self.scene().ok()?;
        let sound = scene.expected_log(Cause::Nothing, Form::Plain, &[])?;
        let judge = Judge::new(&scene, &sound);
        ask(&Rival {
            scene: &scene,
            judge: &judge,
            cause,
            form,
        })
    }
}

/// Forms gathered into causes, with their probabilities, likeliest first. A form in which the car could not have made the pull has no
/// evidence, but it was one of the ways.
/// Equation (10.4).
fn weighed(all: &[(Cause, Option<Explained>)], entered: &Entered) -> Vec<Suspect> {
    let mut gathered: Vec<(Explained, f64, Vec<Form>)> = Vec::new();
    for cause in Cause::ALL {
        let of_cause = || all.iter().filter(|way| way.0 == cause);
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
        gathered.push((
            (*best).clone(),
            mean + cause.prior_weight(entered).ln(),
            alike,
        ));
    }
    let most = gathered
        .iter()
        .map(|g| g.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = gathered.iter().map(|g| (g.1 - most).exp()).sum();
    let mut suspects: Vec<Suspect> = gathered
        .into_iter()
        .map(|(explained, log, alike)| Suspect {
            explained,
            probability: (log - most).exp() / total,
            alike,
            power_w: 0.0,
            worst: (0.0, 0.0),
            signs: Vec::new(),
            left: Vec::new(),
            traces: Vec::new(),
        })
        .collect();
    suspects.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    suspects
}

/// Forms whose logarithmic evidence differs by less, a factor of four or five, are told together.
const ALIKE: f64 = 1.5;

/// Evidence of an explanation by sampling, for a check of Laplace's.
pub fn evidence_by_sampling(
    question: &Question<'_>,
    found: &Explained,
    draws: usize,
    seed: u64,
) -> Option<evidence::Sampled> {
    question.put(found.cause, found.form, |rival| {
        evidence::by_sampling(rival, found, draws, seed)
    })
}
