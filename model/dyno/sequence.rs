//! Pulls in a row with a rest between them, and the rest that gives the first pull back.
//!
//! A car that has just pulled is not the car that pulled: its cooler is warm, its walls, oils and tyres are, its battery is
//! emptier. [`super::soak`] says by how much; here the pulls are strung together. The first one is a plain pull, to the digit.
//! It refuses air that changes from pull to pull.

use super::pull::{Conditions, PullError};
use super::soak::{Bodies, Warmth};
use super::{Pull, Setup};
use crate::air::Day;
use crate::numeric::{RootSettings, find_root};

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Sequence<'a> {
    /// The car on its drums, as it stands before the first pull.
    pub setup: &'a Setup,
    /// What in it stores heat.
    pub bodies: Bodies,
    /// The air of all pulls.
    pub day: Day,
    /// How the first pull is started.
    pub conditions: Conditions,
    /// Pulls, at least one.
    pub pulls: usize,
    /// Rest from the end of one pull to the start of the next, s.
    pub rest_s: f64,
    /// Engine speeds at which each pull is simulated.
    pub points: usize,
}

/// One pull of a sequence.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// The car when it starts.
    pub start: Warmth,
    /// The pull.
    pub pull: Pull,
}

/// The pulls made.
#[derive(Debug, Clone, PartialEq)]
pub struct Runs {
    /// In order.
    pub runs: Vec<Run>,
    /// The car when the last one has ended.
    pub after: Warmth,
}

/// How long the car has to rest behind the sequence until its next pull comes near the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Recovery {
    /// The next pull is near enough without any rest.
    AtOnce,
    /// After this rest, s, and after any longer one.
    After {
        /// The rest.
        rest_s: f64,
    },
    /// However long it rests: heat goes, the charge of the battery does not come back.
    Never {
        /// What stays lost or gained of peak power, relative.
        change: f64,
        /// Charge of the battery now.
        charge: f64,
        /// Charge before the first pull.
        first_charge: f64,
    },
}

/// Longest rest that is looked at, s: two days, in which the slowest lump has forgotten everything.
const LONGEST_S: f64 = 172_800.0;
/// Shortest rest but none, s, and the steps from there to the longest: each twice the last.
const SHORTEST_S: f64 = 10.0;
/// The rest is found to this share of itself.
const REST_WITHIN: f64 = 1e-3;

impl Sequence<'_> {
    /// Makes the pulls.
    pub fn run(&self) -> Result<Runs, PullError> {
        self.run_after(&vec![Some(self.rest_s); self.pulls.max(1) - 1])
    }

    /// Makes a first pull, and one more after each of these rests, s; where none is given, the car starts rested.
    pub fn run_after(&self, rests_s: &[Option<f64>]) -> Result<Runs, PullError> {
        let rested = self.rested();
        let mut runs: Vec<Run> = Vec::with_capacity(rests_s.len() + 1);
        let mut after = rested;
        for rest_s in std::iter::once(&None).chain(rests_s) {
            let run = match rest_s {
                None => Run {
                    start: rested,
                    pull: self.setup.pull(&self.day, &self.conditions, self.points)?,
                },
                Some(rest_s) => {
                    let start = self.rest(&after, *rest_s);
                    Run {
                        start,
                        pull: self.pull_from(&start)?,
                    }
                }
            };
            after = run
                .start
                .after_pull(self.setup, &self.bodies, &rested, &run.pull);
            runs.push(run);
        }
        Ok(Runs { runs, after })
    }

    /// The rest behind these pulls after which a pull peaks within a share of the first.
    ///
    /// Rests are tried from the longest down, so that the answer holds for every longer rest tried; the crossing is then closed in
    /// on by a bracketed root search.
    /// Equation (6.12).
    pub fn recovery(&self, runs: &Runs, within: f64) -> Result<Recovery, PullError> {
        let peak = |pull: &Pull| pull.peak_power().map_or(f64::NAN, |p| p.power_w);
        let first_w = runs.runs.first().map_or(f64::NAN, |run| peak(&run.pull));
        let change = |rest_s: f64| -> Result<f64, PullError> {
            let start = self.rest(&runs.after, rest_s);
            Ok(peak(&self.pull_from(&start)?) / first_w - 1.0)
        };
        let at_last = change(LONGEST_S)?;
        if at_last.abs() > within {
            return Ok(Recovery::Never {
                change: at_last,
                charge: runs.after.charge,
                first_charge: self.conditions.axle.charge,
            });
        }
        let mut good_s = LONGEST_S;
        loop {
            let shorter = if good_s > 2.0 * SHORTEST_S {
                0.5 * good_s
            } else {
                0.0
            };
            if change(shorter)?.abs() > within {
                return Self::close_in(&change, within, (shorter, good_s));
            }
            if shorter == 0.0 {
                return Ok(Recovery::AtOnce);
            }
            good_s = shorter;
        }
    }

    fn close_in(
        change: &dyn Fn(f64) -> Result<f64, PullError>,
        within: f64,
        (bad_s, good_s): (f64, f64),
    ) -> Result<Recovery, PullError> {
        let mut failed = None;
        let root = find_root(
            |rest_s| match change(rest_s) {
                Ok(change) => change.abs() - within,
                Err(error) => {
                    failed = Some(error);
                    f64::NAN
                }
            },
            bad_s,
            good_s,
            RootSettings::within(REST_WITHIN * good_s),
        );
        match failed {
            Some(error) => Err(error),
            None => Ok(Recovery::After { rest_s: root.x }),
        }
    }

    /// What the last pull would change by, relative, had the air at the inlet warmed by so many kelvin at unchanged vapour: no
    /// lump follows that air, so a row says what it would cost. `None` where no day can be so.
    ///
    /// The warmer air is given to the whole pull, so a core that is cooled by it warms with it.
    pub fn warmer_inlet(&self, runs: &Runs, kelvin: f64) -> Result<Option<f64>, PullError> {
        let Some(last) = runs.runs.last() else {
            return Ok(None);
        };
        let air = &self.day;
        let Ok(day) =
            Day::from_vapour(air.station(), air.temperature_k() + kelvin, air.vapour_pa())
        else {
            return Ok(None);
        };
        let warmer = Self { day, ..*self };
        let peak = warmer.pull_from(&last.start)?;
        Ok(peak
            .peak_power()
            .zip(last.pull.peak_power())
            .map(|(warm, cool)| warm.power_w / cool.power_w - 1.0))
    }

    /// The car before the first pull, to which every rest leads back.
    fn rested(&self) -> Warmth {
        Warmth::at_start(self.setup, self.day.temperature_k(), &self.conditions)
    }

    fn rest(&self, from: &Warmth, rest_s: f64) -> Warmth {
        let ambient_k = self.day.temperature_k();
        from.after_rest(self.setup, &self.bodies, &self.rested(), ambient_k, rest_s)
    }

    fn pull_from(&self, start: &Warmth) -> Result<Pull, PullError> {
        let (setup, conditions) = start.put_into(self.setup, &self.conditions);
        setup.pull(&self.day, &conditions, self.points)
    }
}
