//! Scores of diagnoses: whether the true cause comes first, how far stated chances are earned, whether sizes lie in their ranges.

use super::case::{Case, cause, true_sizes};
use pullcast::diagnose::{Cause, Diagnosis, Doubts, chances};
use std::fmt;
use std::time::Instant;

/// A question with a known answer, and what was answered.
#[derive(Clone)]
pub(crate) struct Asked {
    name: String,
    truth: Cause,
    /// Good pulls it was held against.
    pub(crate) good: usize,
    /// With which doubts it was asked.
    doubts: Doubts,
    diagnosis: Diagnosis,
    /// True sizes with the number of the cause they are.
    sizes: Vec<(usize, f64)>,
    seconds: f64,
}

impl Asked {
    /// The odd pull of a case against all good ones.
    pub(crate) fn odd(case: &Case, doubts: Doubts) -> Self {
        let sizes = true_sizes(&case.answer, &case.car).into_iter();
        Self {
            sizes: sizes.map(|s| (s.1, s.2)).collect(),
            ..Self::ask(case, (cause(&case.answer), 3), doubts, || {
                case.diagnose(case.spoiled(), 3, doubts)
            })
        }
    }

    /// The odd pull of a case against all good ones and against one; a good pull against the others and against one; with `all`, every good
    /// pull against the others. As many odd pulls as good ones are held against one: from good ones alone a temper would learn to say nothing.
    pub(crate) fn of(case: &Case, doubts: Doubts, all: bool) -> Vec<Self> {
        let ask = |truth, good, answer: &dyn Fn() -> Diagnosis| {
            Self::ask(case, (truth, good), doubts, answer)
        };
        let clean = &case.clean;
        let mut out = vec![
            Self::odd(case, doubts),
            ask(cause(&case.answer), 1, &|| {
                case.diagnose(case.spoiled(), 1, doubts)
            }),
            ask(Cause::Nothing, 1, &|| {
                case.diagnose((&clean.0.pulls[2], clean.1[2]), 1, doubts)
            }),
        ];
        for index in if all { 0..3 } else { 1..2 } {
            out.push(ask(Cause::Nothing, 2, &|| {
                case.diagnose_clean(index, doubts)
            }));
        }
        out
    }

    fn ask(
        case: &Case,
        (truth, good): (Cause, usize),
        doubts: Doubts,
        answer: impl Fn() -> Diagnosis,
    ) -> Self {
        let start = Instant::now();
        Self {
            name: case.name.clone(),
            truth,
            good,
            doubts,
            diagnosis: answer(),
            sizes: Vec::new(),
            seconds: start.elapsed().as_secs_f64(),
        }
    }

    fn temper(&self, doubts: Doubts) -> f64 {
        if self.good == 1 {
            doubts.temper_of_one
        } else {
            doubts.temper
        }
    }

    /// Chance given to the truth.
    pub(crate) fn chance(&self, temper: f64) -> f64 {
        let chances = chances(&self.diagnosis.hypotheses, temper);
        let own = chances.iter().find(|c| c.0 == self.truth);
        own.map_or(0.0, |c| c.1)
    }

    /// For every true size, the factor on the width of its range that would just hold it.
    pub(crate) fn needs(&self) -> Vec<f64> {
        let suspect = self
            .diagnosis
            .suspects
            .iter()
            .find(|s| s.explained.cause == self.truth);
        let Some(suspect) = suspect else {
            return self.sizes.iter().map(|_| f64::INFINITY).collect();
        };
        let numbers = suspect.explained.numbers();
        self.sizes
            .iter()
            .filter_map(|(index, value)| {
                let (_, middle, (low, high)) = numbers.get(*index)?;
                let side = if value < middle {
                    middle - low
                } else {
                    high - middle
                };
                Some((value - middle).abs() / side.max(1e-12) * self.doubts.size)
            })
            .collect()
    }

    pub(crate) fn line(&self, doubts: Doubts) -> String {
        let chances = chances(&self.diagnosis.hypotheses, self.temper(doubts));
        let first: Vec<String> = chances
            .iter()
            .take(3)
            .map(|c| format!("{:?} {:.3}", c.0, c.1))
            .collect();
        let rank = chances
            .iter()
            .position(|c| c.0 == self.truth)
            .map_or(99, |p| p + 1);
        let widths: Vec<String> = self.needs().iter().map(|w| format!("{w:.2}")).collect();
        format!(
            "{} {:?} against {}: place {rank}, {:.3}; {}; sizes need {}; {} tried; {:.2} s",
            self.name,
            self.truth,
            self.good,
            self.chance(self.temper(doubts)),
            first.join(", "),
            widths.join(" "),
            self.diagnosis.trials.all,
            self.seconds
        )
    }
}

/// Counts over many questions.
#[derive(Debug, Default)]
pub(crate) struct Score {
    odd: usize,
    first: usize,
    two: usize,
    odd_by_one: (usize, usize),
    sound: (usize, usize),
    sound_by_one: (usize, usize),
    held: (usize, usize),
    /// Chance of the first, and whether it was right.
    pub(crate) stated: Vec<(f64, bool)>,
    seconds: Vec<f64>,
    /// Sizes tried in the longest search.
    pub(crate) most_tried: usize,
}

impl Score {
    pub(crate) fn add(&mut self, asked: &Asked, doubts: Doubts) {
        let chances = chances(&asked.diagnosis.hypotheses, asked.temper(doubts));
        let place = chances
            .iter()
            .position(|c| c.0 == asked.truth)
            .unwrap_or(99);
        let right = place == 0;
        self.stated.push((chances[0].1, right));
        self.seconds.push(asked.seconds);
        self.most_tried = self.most_tried.max(asked.diagnosis.trials.all);
        match (asked.truth, asked.good) {
            (Cause::Nothing, 1) => add(&mut self.sound_by_one, right),
            (Cause::Nothing, _) => add(&mut self.sound, right),
            (_, 1) => add(&mut self.odd_by_one, right),
            _ => {
                self.odd += 1;
                self.first += usize::from(right);
                self.two += usize::from(place < 2);
            }
        }
        for needs in asked.needs() {
            add(&mut self.held, needs <= doubts.size);
        }
    }

    /// Of the answers above 90 %: how many were right, and how many there are.
    fn sure(&self) -> (usize, usize) {
        let mut count = (0, 0);
        for &(_, right) in self.stated.iter().filter(|s| s.0 > 0.9) {
            add(&mut count, right);
        }
        count
    }

    /// Shares of all that was asked.
    pub(crate) fn shares(&self) -> Shares {
        let share = |(right, all): (usize, usize)| right as f64 / all.max(1) as f64;
        Shares {
            first: share((self.first, self.odd)),
            first_two: share((self.two, self.odd)),
            sound: share((
                self.sound.0 + self.sound_by_one.0,
                self.sound.1 + self.sound_by_one.1,
            )),
            sizes_held: share(self.held),
            sure_and_right: share(self.sure()),
        }
    }
}

/// Shares of what was asked.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shares {
    pub(crate) first: f64,
    pub(crate) first_two: f64,
    pub(crate) sound: f64,
    pub(crate) sizes_held: f64,
    /// Of the answers above 90 %, those that were right.
    pub(crate) sure_and_right: f64,
}

fn add(count: &mut (usize, usize), right: bool) {
    count.0 += usize::from(right);
    count.1 += 1;
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let alarms = self.sound.1 + self.sound_by_one.1 - self.sound.0 - self.sound_by_one.0;
        let longest = self.seconds.iter().copied().fold(0.0, f64::max);
        let (shares, sure) = (self.shares(), self.sure());
        let percent = |share: f64| 100.0 * share;
        write!(
            f,
            "first {} of {} ({:.0} %), first two {} ({:.0} %), first by one good pull {} of {}, sound {} of {} ({} of {} by one good pull; {:.0} %; {alarms} false alarms), \
             sizes held {} of {} ({:.0} %), above 90 % {} of {} right ({:.0} %), {:.2} s ({longest:.2} at most)",
            self.first,
            self.odd,
            percent(shares.first),
            self.two,
            percent(shares.first_two),
            self.odd_by_one.0,
            self.odd_by_one.1,
            self.sound.0,
            self.sound.1,
            self.sound_by_one.0,
            self.sound_by_one.1,
            percent(shares.sound),
            self.held.0,
            self.held.1,
            percent(shares.sizes_held),
            sure.0,
            sure.1,
            percent(shares.sure_and_right),
            self.seconds.iter().sum::<f64>() / self.seconds.len().max(1) as f64,
        )
    }
}
