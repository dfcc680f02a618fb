//! The search behind the inverse question: where limits begin, what the draws reach, and where they reach enough.
//!
//! It exists apart from the question because it holds what stays the same from value to value. It refuses to guess: a value
//! that was not asked about is not an answer.

use super::{AtPeak, Bar, Outcome, Reach, ReachError, Spot, Trial, bar_of};
use crate::ask::cautions::cautions;
use crate::ask::draws::{AtCentre, relevel};
use crate::ask::quote::centred;
use crate::ask::quote::draw::{Base, Drawn, Speeds, built};
use crate::ask::quote::evenly::Shares;
use crate::ask::quote::range::quantile;
use crate::ask::quote::strays::readings_of_a_car;
use crate::ask::quote::{DialError, POINTS, QuoteError, Range, account};
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::dyno::Pull;
use crate::dyno::correction::Correction;
use crate::numeric::{Bracket, Progress, RootSettings, find_root, side_by_side};
use crate::parts::{NewPulley, Plan};
use std::cell::RefCell;
use std::rc::Rc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Values at which the centre is looked at, evenly spaced over the range (in the logarithm, where all values are positive). A
/// hump of power narrower than a twentieth of the range would be missed.
const STEPS: usize = 20;
/// Halvings of a step at a border: it is known to 1e-5 of the range.
const HALVINGS: usize = 12;
/// The root is found to this share of the range; power moves by less than 1e-4 of itself over it.
const WITHIN: f64 = 2e-5;
/// Power within this share of the best counts as the same: a seventh of what pulls of one car repeat to.
const LEVEL: f64 = 1e-3;
/// Fewest values in a row that make a level stretch; a crest may fall between two that read alike.
const LEVEL_VALUES: usize = 3;
/// Steps of the search for a crest between two values.
const CREST_STEPS: usize = 10;

/// A stretch of values without a limit, each end with what lies behind it: a bar and its value, or the range's end.
struct Stretch {
    values: Vec<f64>,
    behind: [Option<(f64, Bar)>; 2],
}

/// Everything that stays the same from trial to trial.
pub(super) struct Search<'a> {
    pub(super) reach: &'a Reach<'a>,
    pub(super) after: Car,
    pub(super) range: (f64, f64),
    pub(super) bases: Vec<Option<Base>>,
    pub(super) anchor: Option<Pull>,
    pub(super) correction: Correction,
    /// What the cars built with the values asked about said for all draws.
    pub(super) at_centres: RefCell<Vec<(f64, AtCentre)>>,
    /// The draws of the value asked about last, because the answer is told of the value that the search ends at.
    pub(super) latest: RefCell<Option<(f64, Rc<[Drawn]>)>>,
    /// Pulls of drawn cars made.
    pub(super) made: Made<'a>,
}

/// Pulls of drawn cars made, told one by one.
pub(super) struct Made<'a> {
    count: AtomicUsize,
    told_to: Progress<'a>,
}

impl<'a> Made<'a> {
    pub(super) fn told_to(told_to: Progress<'a>) -> Self {
        Self {
            count: AtomicUsize::new(0),
            told_to,
        }
    }

    pub(super) fn one_more(&self) {
        let before = self.count.fetch_add(1, Ordering::Relaxed);
        self.told_to.tell(before + 1, None);
    }
}

impl Search<'_> {
    pub(super) fn answer(&self, own: f64) -> Result<(Outcome, Vec<Trial>), ReachError> {
        let (stretches, mut trials) = self.stretches(own)?;
        let mut tried: Vec<(f64, f64)> = Vec::new();
        let mut found: Option<f64> = None;
        for (value, inner) in outwards(&stretches, |v| self.away(v, own)) {
            let power_w = self.sure_w(value)?;
            tried.push((value, power_w));
            if power_w >= self.reach.target_w {
                // Between this value and its neighbour toward the plan's own, which does not reach it, if there is one.
                found = Some(match inner {
                    Some(inner) => self.root(inner, value)?,
                    None => value,
                });
                break;
            }
        }
        trials.extend(tried.iter().map(|(value, power_w)| Trial {
            value: *value,
            sure_w: Some(*power_w),
            limit: None,
        }));
        let answer = match found {
            Some(value) if value == own => Outcome::AsPlanned(self.spot(value)?),
            Some(value) => Outcome::At(self.spot(value)?),
            None => self.unreached(own, &stretches, &tried)?,
        };
        trials.sort_by(|a, b| a.value.total_cmp(&b.value));
        Ok((answer, trials))
    }

    /// How far a value is from the plan's own, in the coordinate.
    fn away(&self, value: f64, own: f64) -> f64 {
        (self.reach.coordinate(value) - self.reach.coordinate(own)).abs()
    }

    /// The stretches free of limits at the centre, and the values that are not.
    fn stretches(&self, own: f64) -> Result<(Vec<Stretch>, Vec<Trial>), ReachError> {
        let reach = self.reach;
        let (low, high) = (
            reach.coordinate(self.range.0),
            reach.coordinate(self.range.1),
        );
        let step = (high - low) / STEPS as f64;
        let mut values: Vec<f64> = (1..STEPS)
            .map(|i| reach.value(low + step * i as f64))
            .filter(|v| self.away(*v, own) > 0.05 * step)
            .collect();
        // The ends and the plan's own as they are written, not through a logarithm and back.
        values.extend([self.range.0, self.range.1]);
        if own > self.range.0 && own < self.range.1 {
            values.push(own);
        }
        values.sort_by(f64::total_cmp);
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut crossed = Vec::new();
        let mut last: Option<(f64, Option<Bar>)> = None;
        for value in values {
            let bar = self.bar(value)?;
            match (last, bar) {
                (None, None) => stretches.push(Stretch {
                    values: vec![value],
                    behind: [None, None],
                }),
                (Some((_, None)), None) => {
                    if let Some(open) = stretches.last_mut() {
                        open.values.push(value);
                    }
                }
                (Some((before, Some(_))), None) => {
                    let (free, behind) = self.border(value, before)?;
                    let mut values = vec![free, value];
                    values.dedup();
                    stretches.push(Stretch {
                        values,
                        behind: [Some(behind), None],
                    });
                }
                (Some((before, None)), Some(_)) => {
                    let (free, behind) = self.border(before, value)?;
                    if let Some(open) = stretches.last_mut() {
                        open.values.push(free);
                        open.values.dedup();
                        open.behind[1] = Some(behind);
                    }
                }
                (_, Some(_)) => {}
            }
            if bar.is_some() {
                crossed.push(Trial {
                    value,
                    sure_w: None,
                    limit: bar,
                });
            }
            last = Some((value, bar));
        }
        Ok((stretches, crossed))
    }

    /// The last value without a limit between one without and one with, and the first with it.
    /// Equation (8.7).
    fn border(&self, free: f64, crossed: f64) -> Result<(f64, (f64, Bar)), ReachError> {
        let reach = self.reach;
        let (mut free, mut crossed) = (free, crossed);
        let mut bar = self.bar(crossed)?;
        for _ in 0..HALVINGS {
            let middle = reach.value(0.5 * (reach.coordinate(free) + reach.coordinate(crossed)));
            match self.bar(middle)? {
                None => free = middle,
                met => (crossed, bar) = (middle, met),
            }
        }
        let bar = bar.unwrap_or(Bar::stalled(None));
        Ok((free, (crossed, bar)))
    }

    /// The car at the centre of its beliefs with the number set.
    fn centre(&self, value: f64) -> Result<Result<Pull, Bar>, ReachError> {
        let question = self.reach.question;
        let plan = self.plan(value)?.map(|_, _, prior| prior.centre());
        let at_centre = self.at_centre(value)?;
        let setup = built(&question.sheet.centre, &plan, &at_centre).map_err(QuoteError::from)?;
        let pull = setup.pull(&question.after.day, &question.ends(&setup), POINTS);
        let moved = pull.map(|pull| question.moved_of(pull, &plan, &setup));
        Ok(moved.map_err(|_| Bar::stalled(None)))
    }

    /// What the car built with the number set says for all draws; a value asked about before has its answer.
    fn at_centre(&self, value: f64) -> Result<AtCentre, ReachError> {
        let mut known = self.at_centres.borrow_mut();
        if let Some((_, answer)) = known.iter().find(|(of, _)| *of == value) {
            return Ok(answer.clone());
        }
        let plan = self.plan(value)?.map(|_, _, prior| prior.centre());
        let built = self
            .reach
            .question
            .centre_built(&plan)
            .map_err(QuoteError::from)?;
        let answer = AtCentre::of(&built.car);
        known.push((value, answer.clone()));
        Ok(answer)
    }

    /// What stands in the way of a value, at the centre.
    fn bar(&self, value: f64) -> Result<Option<Bar>, ReachError> {
        Ok(match self.centre(value)? {
            Ok(pull) => bar_of(&pull),
            Err(bar) => Some(bar),
        })
    }

    fn plan(&self, value: f64) -> Result<Plan<Prior>, DialError> {
        let reach = self.reach;
        reach.dial.set(reach.question.plan, &self.after, value)
    }

    fn draws(&self, value: f64) -> Result<Rc<[Drawn]>, ReachError> {
        if let Some((of, draws)) = &*self.latest.borrow()
            && *of == value
        {
            return Ok(Rc::clone(draws));
        }
        let plan = self.plan(value)?;
        let question = self.reach.question;
        let at_centre = self.at_centre(value)?;
        let (bases, anchor, made) = (&self.bases, self.anchor.as_ref(), &self.made);
        let works = question.works_evenly(&question.work_sways(&plan, &at_centre));
        let shares = Shares::of_strays(question.seed);
        let readings = (readings_of_a_car(bases.len()), shares);
        let drawn = side_by_side(bases.len(), |i| {
            let base = bases[i].as_ref()?;
            made.one_more();
            let draw = question.finish(base, (&plan, &works), (anchor, &at_centre), readings)?;
            // Only its peaks are looked at.
            Some(draw.kept(&Speeds::default()))
        });
        let mut draws: Vec<Drawn> = drawn.into_iter().flatten().flatten().collect();
        if let Ok(mut pull) = self.centre(value)? {
            let alike = question.alike(&mut draws);
            relevel(&mut pull.points, |_| alike);
            centred::side(&mut draws, |d| &mut d.after, &pull, &[]);
        }
        let draws: Rc<[Drawn]> = draws.into();
        *self.latest.borrow_mut() = Some((value, Rc::clone(&draws)));
        Ok(draws)
    }

    /// Peak power of a draw, as the target is meant, W.
    fn figure_w(&self, draw: &Drawn) -> f64 {
        let after = &draw.after;
        let read_w = after.scale * after.peak.power_w;
        if !self.reach.corrected {
            return read_w;
        }
        let electric_w = after.scale * after.peak.electric_w;
        self.correction
            .apply(read_w - electric_w, electric_w)
            .total_w
    }

    /// Figures of all draws, ascending; one that cannot make the pull with the work reads nothing.
    fn figures_w(&self, draws: &[Drawn]) -> Vec<f64> {
        let able = self.bases.iter().flatten().count() * readings_of_a_car(self.bases.len());
        let mut figures: Vec<f64> = draws.iter().map(|d| self.figure_w(d)).collect();
        figures.resize(able, 0.0);
        figures.sort_by(f64::total_cmp);
        figures
    }

    /// Power that is reached with the stated chance, W.
    fn sure_w(&self, value: f64) -> Result<f64, ReachError> {
        let figures = self.figures_w(&self.draws(value)?);
        Ok(quantile(&figures, 1.0 - self.reach.chance))
    }

    /// Equation (8.7).
    fn root(&self, short: f64, enough: f64) -> Result<f64, ReachError> {
        let reach = self.reach;
        let mut failed = None;
        let root = find_root(
            |x| match self.sure_w(reach.value(x)) {
                Ok(power_w) => power_w - reach.target_w,
                Err(error) => {
                    failed = Some(error);
                    f64::NAN
                }
            },
            reach.coordinate(short),
            reach.coordinate(enough),
            RootSettings::within(
                WITHIN * (reach.coordinate(self.range.1) - reach.coordinate(self.range.0)),
            ),
        );
        failed.map_or(Ok(reach.value(root.x)), Err)
    }

    fn spot(&self, value: f64) -> Result<Spot, ReachError> {
        let draws = self.draws(value)?;
        let figures = self.figures_w(&draws);
        let reaching = figures
            .iter()
            .filter(|w| **w >= self.reach.target_w)
            .count();
        let centre = self.centre(value)?.map_err(|_| QuoteError::TooFewDraws {
            failed: figures.len(),
            draws: figures.len(),
        })?;
        let sure_w = quantile(&figures, 1.0 - self.reach.chance);
        let ambient_pa = self.reach.question.after.day.station().pa();
        let dial = self.reach.dial;
        let pulley = if dial.is_pulley() {
            let planned = dial.own(self.reach.question.plan, &self.after)?;
            let drive = self.after.blower.drive();
            drive.map(|drive| NewPulley::at(value, drive, planned))
        } else {
            None
        };
        Ok(Spot {
            value,
            pulley,
            sure_w,
            short_w: self.reach.target_w - sure_w,
            chance: reaching as f64 / figures.len() as f64,
            limits: account::limits(&centre, &draws),
            cautions: cautions(&centre, &self.after),
            power_w: Range::of(figures),
            peak: AtPeak::of(&centre, ambient_pa),
        })
    }

    /// What stands in the way where no value tried reaches the target: the best value, and what lies beyond it.
    fn unreached(
        &self,
        own: f64,
        stretches: &[Stretch],
        tried: &[(f64, f64)],
    ) -> Result<Outcome, ReachError> {
        let Some((best, _)) = tried.iter().max_by(|a, b| a.1.total_cmp(&b.1)).copied() else {
            // Every value is barred; the plan's own says by what.
            let bar = self.bar(own)?.unwrap_or(Bar::stalled(None));
            return Ok(Outcome::Barred {
                best: None,
                from: own,
                bar,
            });
        };
        let stretch = stretches.iter().find(|s| s.values.contains(&best));
        let place = stretch.and_then(|s| s.values.iter().position(|v| *v == best));
        let (Some(stretch), Some(place)) = (stretch, place) else {
            return Ok(Outcome::Turns {
                best: self.spot(best)?,
            });
        };
        let powers: Vec<f64> = stretch
            .values
            .iter()
            .map(|value| {
                let found = tried.iter().find(|(tried, _)| tried == value);
                found.map_or(f64::NAN, |(_, power_w)| *power_w)
            })
            .collect();
        if let Some((first, last)) = level(&powers, place) {
            let over = &stretch.values[first..=last];
            let nearest = over
                .iter()
                .copied()
                .min_by(|a, b| self.away(*a, own).total_cmp(&self.away(*b, own)));
            return Ok(Outcome::Levels {
                best: self.spot(nearest.unwrap_or(best))?,
                over: (stretch.values[first], stretch.values[last]),
            });
        }
        let last = stretch.values.len() - 1;
        let outside = match place {
            0 => Some(stretch.behind[0]),
            p if p == last => Some(stretch.behind[1]),
            _ => None,
        };
        match outside {
            Some(Some((from, bar))) => Ok(Outcome::Barred {
                best: Some(self.spot(best)?),
                from,
                bar,
            }),
            Some(None) => Ok(Outcome::OutOfRange {
                best: self.spot(best)?,
            }),
            None => self.crest(own, stretch.values[place - 1], stretch.values[place + 1]),
        }
    }

    /// The crest between two values, by golden section; it may reach what the values tried did not.
    fn crest(&self, own: f64, low: f64, high: f64) -> Result<Outcome, ReachError> {
        let reach = self.reach;
        let ends = (reach.coordinate(low), reach.coordinate(high));
        let short_w = |x: f64| self.sure_w(reach.value(x)).map(|power_w| -power_w);
        let mut bracket = Bracket::new(short_w, ends)?;
        for _ in 0..CREST_STEPS {
            bracket.narrow(short_w)?;
        }
        let (x, short_w) = bracket.best();
        let power_w = -short_w;
        if power_w < reach.target_w {
            return Ok(Outcome::Turns {
                best: self.spot(reach.value(x))?,
            });
        }
        let nearer = if self.away(low, own) < self.away(high, own) {
            low
        } else {
            high
        };
        Ok(Outcome::At(self.spot(self.root(nearer, reach.value(x))?)?))
    }
}

/// First and last place of the level stretch about the best of some powers; none where too few of its neighbours read the same.
/// Equation (8.7).
fn level(powers_w: &[f64], best: usize) -> Option<(usize, usize)> {
    let least_w = powers_w[best] * (1.0 - LEVEL);
    let same = |w: &&f64| **w >= least_w;
    let first = best - powers_w[..best].iter().rev().take_while(same).count();
    let last = best + powers_w[best + 1..].iter().take_while(same).count();
    (last + 1 - first >= LEVEL_VALUES).then_some((first, last))
}

/// Values of all stretches from the plan's own outwards, each with its neighbour toward it in the same stretch.
fn outwards(stretches: &[Stretch], away: impl Fn(f64) -> f64) -> Vec<(f64, Option<f64>)> {
    let mut order: Vec<(f64, Option<f64>)> = Vec::new();
    for stretch in stretches {
        for (i, value) in stretch.values.iter().enumerate() {
            let beside = [
                i.checked_sub(1).and_then(|j| stretch.values.get(j)),
                stretch.values.get(i + 1),
            ];
            let inner = beside
                .into_iter()
                .flatten()
                .copied()
                .filter(|other| away(*other) < away(*value))
                .min_by(|a, b| away(*a).total_cmp(&away(*b)));
            order.push((*value, inner));
        }
    }
    order.sort_by(|a, b| away(a.0).total_cmp(&away(b.0)));
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plateau_is_told_from_a_crest() {
        // A crest, sampled beside its top: the neighbours lose 0.04 % and 0.4 %.
        assert_eq!(level(&[98.0, 99.6, 100.0, 99.96, 99.0], 2), None);
        // Rising to a plateau that rounding tilts, with the best in its middle, at its start and at the end of the range.
        assert_eq!(level(&[90.0, 99.999, 100.0, 99.998], 2), Some((1, 3)));
        assert_eq!(level(&[90.0, 100.0, 99.999, 99.998], 1), Some((1, 3)));
        assert_eq!(level(&[90.0, 99.999, 99.998, 100.0], 3), Some((1, 3)));
        // Two that read alike may stand on either side of a crest; a hole ends the stretch.
        assert_eq!(level(&[90.0, 100.0, 100.0, 90.0], 2), None);
        assert_eq!(level(&[100.0, f64::NAN, 100.0, 100.0], 3), None);
        assert_eq!(level(&[100.0], 0), None);
    }
}
