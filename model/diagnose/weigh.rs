//! The question put to a log and its answer: every cause with its probability, size, cost in power and the trace it left.
//!
//! Probabilities follow from the evidences and from what was thought of each cause before. A cause that shows in several ways is
//! as probable as the mean of its ways; the likeliest way speaks for it.

use super::blind::{self, Blind};
use super::cause::{Cause, Origin};
use super::describe::{describe, peak_w};
use super::disturb::{ExpectedLog, Fault, Scene, TOLERANCE};
use super::doubts::Doubts;
use super::evidence;
use super::expect::{self, Channel, Curve, Entered, Misfit, SpeedSource, Trial};
use super::form::Form;
use super::judge::{Judge, smoothed};
use super::next::{self, NextStep};
use super::pair::{self, Alone};
use super::remark::{self, Remark};
use super::rival::{AtSizes, Rival, Trials};
use super::suspect::{Explained, Suspect};
use super::weights::{Hypothesis, Weighing};
use crate::dyno::{Pull, PullError, Setup};
use crate::fit::observation::{MeasuredPull, Visit};
use crate::fit::simulated::{Simulated, simulate_all, started};
use crate::numeric::{Progress, side_by_side};
use nalgebra::DVector;
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
    pub same_strapping: bool,
    /// Whether the air of the room is that of the good pulls: the barometer is then held against theirs.
    pub same_air: bool,
    /// Doubts chosen on recorded cases.
    pub doubts: Doubts,
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
    /// What this log cannot show.
    pub blind: Vec<Blind>,
    /// Every explanation weighed, for who would weigh them otherwise.
    pub hypotheses: Vec<Hypothesis>,
    /// Sizes tried in all searches.
    pub trials: Trials,
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
/// Change of the room's temperature within which two pulls were made in one air, K (common practice, no source).
const SAME_AIR_K: f64 = 4.0;
/// Fewest bands of power.
const LEAST_BANDS: usize = 8;

impl Question<'_> {
    /// Weighs all causes.
    pub fn answer(&self) -> Result<Diagnosis, DiagnoseError> {
        self.answer_telling(Progress::SILENT)
    }

    /// As [`Self::answer`], telling how many causes are weighed.
    pub fn answer_telling(&self, progress: Progress<'_>) -> Result<Diagnosis, DiagnoseError> {
        let mut scene = self.scene()?;
        let sound = scene
            .expected_log(Cause::Nothing, Form::Plain, &[])
            .ok_or(DiagnoseError::NotWeighed)?;
        scene.slid = slid(&scene, &sound);
        let judge = Judge::new(&scene, &sound);
        let rival = |faults: Vec<Fault>| Rival {
            scene: &scene,
            judge: &judge,
            faults,
        };
        let rivals: Vec<Rival<'_>> = Cause::ALL
            .into_iter()
            .filter(|cause| cause.possible(self.setup))
            .flat_map(|cause| {
                scene
                    .forms(cause)
                    .into_iter()
                    .map(move |form| Fault { cause, form })
            })
            .map(|fault| rival(vec![fault]))
            .collect();
        let explained = explain_all(&rivals, progress);
        let mut ways: Vec<(Cause, Option<Explained>)> = Vec::new();
        let mut alone: Vec<Alone> = Vec::new();
        let mut trials = Trials::default();
        for (rival, found) in rivals.iter().zip(explained) {
            let cause = rival.first().cause;
            let explained = found.map(|(explained, grid)| {
                trials += explained.trials;
                if cause.place() != Origin::Nowhere {
                    alone.push(Alone {
                        fault: rival.first(),
                        grid,
                        peak: explained.peak.0.clone(),
                    });
                }
                explained
            });
            ways.push((cause, explained));
        }
        let weighing = Weighing {
            entered: &scene.entered,
            temper: self.doubts.temper(scene.misfit.count(Channel::Power)),
            inside: judge.inside(&scene),
        };
        let mut suspects = weighing.suspects(&ways, &[]);
        let odd = suspects
            .first()
            .map(|s| &s.explained)
            .filter(|e| e.cause != Cause::Nothing);
        let pairs = odd
            .map(|first| pair::explained((&scene, &judge), &alone, first))
            .unwrap_or_default();
        for pair in &pairs {
            trials += pair.trials;
        }
        if !pairs.is_empty() {
            suspects = weighing.suspects(&ways, &pairs);
        }
        let nothing = suspects
            .iter()
            .find(|s| s.explained.cause == Cause::Nothing)
            .map(|s| s.explained.clone())
            .ok_or(DiagnoseError::NotWeighed)?;
        for suspect in &mut suspects {
            describe(suspect, &nothing, (&scene, &judge), &sound);
        }
        let mut remarks = remark::remarks(&scene, &sound);
        if let Some(by_k) = self.air_differs_k().filter(|_| self.same_air) {
            remarks.push(Remark::AirDiffers { by_k });
        }
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
            blind: blind::blind(&scene),
            hypotheses: weighing.hypotheses(&ways, &pairs),
            trials,
        })
    }

    /// By how much warmer the room is than at the good pulls, K, where that is another air.
    fn air_differs_k(&self) -> Option<f64> {
        let good = self.good.iter().flat_map(|(visit, _)| &visit.pulls);
        let kelvin: Vec<f64> = good.map(|pull| pull.day.temperature_k()).collect();
        let mean = kelvin.iter().sum::<f64>() / kelvin.len() as f64;
        let by_k = self.odd.pull.day.temperature_k() - mean;
        (by_k.abs() > SAME_AIR_K).then_some(by_k)
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
            .pop()
            .and_then(Simulated::pull);
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
            .into_iter()
            .filter_map(Simulated::pull);
        let good: Vec<Vec<(Trial<'_>, Pull)>> = self
            .good
            .iter()
            .map(|(visit, entered)| {
                let pulls = visit.on_drums().zip(simulated.by_ref());
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
        let same_air = self.same_air && self.air_differs_k().is_none();
        let trials: Vec<Trial<'_>> = good.iter().flatten().map(|(trial, _)| *trial).collect();
        Ok(Scene {
            setup: self.setup,
            entered: self.odd.entered,
            day: self.odd.pull.day,
            same_strapping: self.same_strapping,
            slid: None,
            doubts: self.doubts,
            conditions,
            weather: weather(self.setup, &curves, &sound, &good),
            misfit: Misfit::of(self.setup, &good),
            facts: expect::facts(&self.odd, &trials, self.setup, same_air),
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
        let mut scene = self.scene().ok()?;
        let sound = scene.expected_log(Cause::Nothing, Form::Plain, &[])?;
        scene.slid = slid(&scene, &sound);
        let judge = Judge::new(&scene, &sound);
        ask(&Rival {
            scene: &scene,
            judge: &judge,
            faults: vec![Fault { cause, form }],
        })
    }
}

/// Every cause's best way to explain the pull, in the order given; the longest searches first, or one core would be left with one at the
/// end.
fn explain_all(
    rivals: &[Rival<'_>],
    progress: Progress<'_>,
) -> Vec<Option<(Explained, Vec<AtSizes>)>> {
    let mut order: Vec<usize> = (0..rivals.len()).collect();
    order.sort_by_key(|index| std::cmp::Reverse(rivals[*index].sizes().len()));
    let done = AtomicUsize::new(0);
    let mut explained: Vec<_> = side_by_side(order.len(), |place| {
        let explained = rivals[order[place]].explain();
        let done = done.fetch_add(1, Ordering::Relaxed) + 1;
        progress.tell(done, Some(rivals.len()));
        (order[place], explained)
    });
    explained.sort_by_key(|(index, _)| *index);
    explained.into_iter().map(|(_, found)| found).collect()
}

/// Slip that the log shows beyond a sound pull, over engine speed; nothing where speed is not measured apart from the drum's.
fn slid(scene: &Scene<'_>, sound: &ExpectedLog) -> Option<Vec<(f64, f64)>> {
    if scene.entered.speed_source == SpeedSource::FromDrum {
        return None;
    }
    let index = scene
        .curves
        .iter()
        .position(|c| c.channel == Channel::DrumRatio)?;
    let curve = &scene.curves[index];
    let off = curve.measured.iter().zip(&sound.curves[index]);
    let off = DVector::from_iterator(curve.rpm.len(), off.map(|(m, s)| (m - s).exp_m1().max(0.0)));
    let rpm = curve.rpm.iter().copied();
    Some(rpm.zip(smoothed(&off).iter().copied()).collect())
}

/// What the model makes of the change of air and of heat left in the car since the good pulls, curve by curve.
/// Equation (10.2).
fn weather(
    setup: &Setup,
    curves: &[Curve],
    sound: &Pull,
    good: &[Vec<(Trial<'_>, Pull)>],
) -> Vec<Vec<f64>> {
    let pulls: Vec<&Pull> = good.iter().flatten().map(|(_, pull)| pull).collect();
    let change = |curve: &Curve, rpm: f64| {
        let now = curve.channel.simulated(setup, sound, rpm)?;
        let then = pulls
            .iter()
            .map(|pull| curve.channel.simulated(setup, pull, rpm))
            .sum::<Option<f64>>()?;
        (!pulls.is_empty()).then(|| now - then / pulls.len() as f64)
    };
    curves
        .iter()
        .map(|curve| {
            let rpm = curve.rpm.iter();
            rpm.map(|rpm| change(curve, *rpm).unwrap_or(0.0)).collect()
        })
        .collect()
}

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
