//! A block of draws: the piece of work that one thread takes, and the piece of the sample from which errors are told.

use super::draw::{Curve, Ground, HELD_OUT, Machine, Numbers, Way};
use super::shares::Swapped;
use super::surface::Reading;
use crate::car::Limits;

/// Draws in a block.
pub(super) const BLOCK: u64 = 20;
/// Hours of a draw of which the whole curve is kept, at most.
const CURVES: usize = 8;
/// Causes of variance: weather, car, work, rig.
pub(super) const GROUPS: usize = 4;

/// One car in one hour, or before and after in two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Number of the draw.
    pub draw: u64,
    /// Places of the hours of the reading before and after.
    pub hours: (usize, usize),
    /// Reading before, as the drums show it.
    pub before: Shown,
    /// Reading after; without work the second reading of the same car.
    pub after: Shown,
}

/// What the drums show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Peak power, W.
    pub power_w: f64,
    /// Electric share of it, W.
    pub electric_w: f64,
    /// Peak torque, N m.
    pub torque_nm: f64,
}

impl Shown {
    fn new(reading: &Reading, scale: f64) -> Self {
        Self {
            power_w: scale * reading.power_w,
            electric_w: scale * reading.electric_w,
            torque_nm: scale * reading.torque_nm,
        }
    }
}

/// What a block of draws came to.
#[derive(Debug, Default)]
pub(super) struct Block {
    pub(super) samples: Vec<Sample>,
    /// Curves before and after, as the drums show them.
    pub(super) curves: Vec<[Curve; 2]>,
    pub(super) swapped: Vec<Swapped<GROUPS>>,
    /// Errors of the surfaces used, at pulls held out.
    pub(super) errors: Vec<f64>,
    /// Largest error of a surface that was refused.
    pub(super) refused: f64,
    /// Limits of the pulls held out.
    pub(super) limits: Vec<Limits>,
    pub(super) by_surface: usize,
    pub(super) by_pulls: usize,
    pub(super) failed: usize,
}

/// A draw that could make its pulls.
struct Made {
    index: u64,
    numbers: Numbers,
    machine: Machine,
    way: Way,
}

impl Ground<'_> {
    /// Draws `first..last`.
    pub(super) fn block(&self, first: u64, last: u64) -> Block {
        let mut block = Block::default();
        let made: Vec<Made> = (first..last)
            .filter_map(|index| {
                let made = self.one(index, &mut block);
                block.failed += usize::from(made.is_none());
                made
            })
            .collect();
        for (place, own) in made.iter().enumerate() {
            let partner = &made[(place + 1) % made.len()];
            if made.len() > 1 {
                block.swapped.extend(self.swapped(own, partner));
            }
        }
        block
    }

    /// One draw in all its hours.
    fn one(&self, index: u64, block: &mut Block) -> Option<Made> {
        let numbers = self.numbers(index);
        let machine = self.machine(&numbers, &numbers, &numbers)?;
        let held_out: Vec<usize> = numbers
            .hours
            .iter()
            .map(|pair| pair.1)
            .take(HELD_OUT)
            .collect();
        let (way, held) = self.way(&machine, &held_out)?;
        let (scale, second_scale) = numbers.rig.scale;
        let mut samples = Vec::with_capacity(numbers.hours.len());
        for &hours in &numbers.hours {
            let second = self.readings(&machine, &way, hours.1)?;
            let before = if hours.0 == hours.1 {
                second.0
            } else {
                self.readings(&machine, &way, hours.0)?.0
            };
            samples.push(Sample {
                draw: index,
                hours,
                before: Shown::new(&before, scale),
                after: Shown::new(&second.1, second_scale),
            });
        }
        let step = numbers.hours.len().div_ceil(CURVES).max(1);
        let mut curves = Vec::new();
        for &(_, place) in numbers.hours.iter().step_by(step) {
            let [mut before, mut after] = self.curves(&machine, &way, place)?;
            for point in &mut before {
                point.1 *= scale;
            }
            for point in &mut after {
                point.1 *= second_scale;
            }
            curves.push([before, after]);
        }
        block.samples.extend(samples);
        block.curves.extend(curves);
        block
            .limits
            .extend(held.pulls.iter().map(|pull| pull.limits));
        match way {
            Way::Surfaces(_) => {
                block.by_surface += 1;
                block.errors.extend(held.errors);
            }
            Way::Pulls => {
                block.by_pulls += 1;
                let worst = held
                    .errors
                    .iter()
                    .fold(block.refused, |worst, e| worst.max(e.abs()));
                block.refused = worst;
            }
        }
        Some(Made {
            index,
            numbers,
            machine,
            way,
        })
    }

    /// The peak after the work of a draw, of its partner, and of the draw with one cause of the partner at a time.
    fn swapped(&self, own: &Made, partner: &Made) -> Option<Swapped<GROUPS>> {
        debug_assert!(own.index != partner.index, "a draw is not its own partner");
        let hour = |made: &Made| made.numbers.hours[made.numbers.picked].1;
        let read = |made: &Made, place: usize| {
            Some(self.readings(&made.machine, &made.way, place)?.1.power_w)
        };
        let scale = |made: &Made| made.numbers.rig.scale.1;
        let electric = self.question.sheet.centre.car.electric.is_some();
        // A pull of its own where no machine at hand is the one asked for.
        let mixed = |car: &Made, work: &Made, rig: &Made| {
            let machine = self.machine(&car.numbers, &work.numbers, &rig.numbers)?;
            let pulls = self.pulls(&machine, &self.hours[hour(own)].air)?;
            Some(Reading::of(&pulls.1)?.power_w)
        };
        let plain = self.question.plan.is_none();
        let value = read(own, hour(own))?;
        let of_car = if plain && !electric {
            read(partner, hour(own))?
        } else {
            mixed(partner, own, own)?
        };
        let of_work = if plain {
            value
        } else {
            mixed(own, partner, own)?
        };
        let of_rig = if electric {
            mixed(own, own, partner)?
        } else {
            value
        };
        Some(Swapped {
            own: scale(own) * value,
            partner: scale(partner) * read(partner, hour(partner))?,
            swapped: [
                scale(own) * read(own, hour(partner))?,
                scale(own) * of_car,
                scale(own) * of_work,
                scale(partner) * of_rig,
            ],
        })
    }
}
