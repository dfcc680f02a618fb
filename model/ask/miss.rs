//! One draw of what the model misses: of a change of power, mechanism by mechanism, and of a curve past the speeds where it was measured.
//!
//! The effects are read off the two pulls of the draw itself, so a draw with more boost carries more doubt about it: a range grows with the
//! distance from what was measured, in charge as in speed. Each mechanism strays for itself, so nothing vanishes where effects cancel.

use super::draws::{Levelled, relevel};
use crate::belief::sheet::standard_normal;
use crate::belief::{MeasuredSpeeds, Mechanism, Miss};
use crate::car::{Blower, Car};
use crate::dyno::{Pull, PullPoint};
use crate::parts::{Change, NotComputed, Plan};
use rand::Rng;
use std::array;

/// Distance in ln(speed) over which what is missed of a mechanism turns over: a law that errs, errs alike over much of a pull. No source.
const BROAD: f64 = 1.0;
/// The same for waves: the width of tuning humps (chapter 2).
const NARROW: f64 = 0.25;
/// Indicated power over power at the drums, at most: near standstill of the curve the ratio says nothing.
const MOST_LEVERAGE: f64 = 2.0;
/// Farthest from measured speeds, in ln(speed), that growth is followed: a factor of 2.7.
const FARTHEST: f64 = 1.0;

/// What one draw misses: numbers N(0, 1).
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::ask) struct Missed {
    /// Of each mechanism, in the order of [`Mechanism::ALL`]: in phase and a quarter of a turn behind.
    pairs: [(f64, f64); 7],
    /// Of the curve below and above the measured speeds.
    beyond: (f64, f64),
}

/// What of the work makes doubts that do not go with a gain.
#[derive(Debug, Clone, Copy)]
pub(in crate::ask) struct Doubts {
    /// Sizes.
    pub(in crate::ask) sizes: Miss,
    /// Kinds of work that move waves.
    pub(in crate::ask) waves: f64,
    /// Where the car was measured.
    pub(in crate::ask) measured: Option<MeasuredSpeeds>,
}

impl Doubts {
    /// Of work that made a car what it is.
    pub(in crate::ask) fn of<T>(
        sizes: Miss,
        plan: Option<&Plan<T>>,
        built: &Car,
        measured: Option<MeasuredSpeeds>,
    ) -> Self {
        // Behind a turbine, and from filter to blower, no pipe is tuned.
        let turbo = built.blower.turbo().is_some();
        let blown = !matches!(built.blower, Blower::None);
        let moves = |change: &&Change<T>| match change.kind().not_computed {
            Some(NotComputed::PulseTuning) if matches!(change, Change::Intake(_)) => !blown,
            Some(NotComputed::PulseTuning) => !turbo,
            Some(NotComputed::CamshaftManners) => true,
            _ => false,
        };
        let moved = plan.map_or(0, |plan| plan.changes.iter().filter(moves).count());
        Self {
            sizes,
            waves: moved as f64,
            measured,
        }
    }

    /// How far, in ln(power), a curve may stray below and above the measured speeds; zero inside them.
    fn beyond(&self, rpm: f64) -> (f64, f64) {
        let away = self.measured.map_or(0.0, |measured| measured.outside(rpm));
        let away = self.sizes.beyond * away.clamp(-FARTHEST, FARTHEST);
        ((-away).max(0.0), away.max(0.0))
    }
}

impl Missed {
    pub(in crate::ask) fn draw<R: Rng + ?Sized>(rng: &mut R) -> Self {
        Self::of_numbers(&array::from_fn(|_| standard_normal(rng)))
    }

    /// From its numbers, pair by pair.
    pub(in crate::ask) fn of_numbers(numbers: &[f64; NUMBERS]) -> Self {
        let pair = |k: usize| (numbers[2 * k], numbers[2 * k + 1]);
        Self {
            pairs: array::from_fn(pair),
            beyond: pair(NUMBERS / 2 - 1),
        }
    }

    /// What is missed of a mechanism, as a share of its effect.
    pub(in crate::ask) fn of(&self, mechanism: Mechanism, turns: &Turns, sizes: &Miss) -> f64 {
        let (a, b) = self.pairs[mechanism as usize];
        let (cos, sin) = turns.of(mechanism);
        sizes.bias_of(mechanism) + sizes.of(mechanism) * (a * cos + b * sin)
    }

    /// Power of the engine with what is missed of the effects that changed it, over that without.
    /// Equation (8.6).
    pub(in crate::ask) fn of_effects(&self, at: &Effects, sizes: &Miss) -> f64 {
        let missed = |m: Mechanism| at.shares[m as usize] * self.of(m, &at.turns, sizes);
        Mechanism::ALL.into_iter().map(missed).sum::<f64>().exp()
    }

    /// Bends a curve outside the measured speeds, ever more with the distance.
    /// Equation (8.6).
    pub(in crate::ask) fn beyond<P: Levelled>(&self, points: &mut [P], doubts: &Doubts) {
        if doubts.measured.is_none() {
            return;
        }
        relevel(points, |rpm| {
            let (below, above) = doubts.beyond(rpm);
            (below * self.beyond.0 + above * self.beyond.1).exp()
        });
    }

    /// What is missed of the step from one pull to another in the same air. An electric axle's share stays as it is.
    ///
    /// ```text
    /// P ← P · exp[Σ x_m (β_m + s_m ξ_m(N))]
    /// ```
    ///
    /// with `x_m` the effect on power that goes through a mechanism ([`effects`]).
    /// Equation (8.6).
    pub(in crate::ask) fn of_change(&self, after: &mut Pull, before: &Pull, doubts: &Doubts) {
        for point in &mut after.points {
            let effects = Effects::of(before, point, doubts.waves);
            point.change_engine(self.of_effects(&effects, &doubts.sizes));
        }
    }
}

/// Numbers N(0, 1) behind what is missed: a pair for each mechanism, and one for the curve outside the measured speeds.
pub(in crate::ask) const NUMBERS: usize = 2 * (Mechanism::ALL.len() + 1);

/// Where an engine speed stands on the waves of what is missed.
///
/// ```text
/// ξ(N) = a cos(ln N/ℓ) + b sin(ln N/ℓ)
/// ```
///
/// N(0, 1) at each speed, alike over a distance ℓ in ln(speed).
/// Equation (8.6).
#[derive(Debug, Clone, Copy)]
pub(in crate::ask) struct Turns {
    broad: (f64, f64),
    narrow: (f64, f64),
}

impl Turns {
    pub(in crate::ask) fn at(rpm: f64) -> Self {
        let cos_and_sin = |distance: f64| {
            let turn = rpm.ln() / distance;
            (turn.cos(), turn.sin())
        };
        Self {
            broad: cos_and_sin(BROAD),
            narrow: cos_and_sin(NARROW),
        }
    }

    const fn of(&self, mechanism: Mechanism) -> (f64, f64) {
        match mechanism {
            Mechanism::Waves => self.narrow,
            _ => self.broad,
        }
    }
}

/// What goes through each mechanism at an engine speed.
#[derive(Debug, Clone, Copy)]
pub(in crate::ask) struct Effects {
    /// Shares of power, in the order of [`Mechanism::ALL`].
    shares: [f64; Mechanism::ALL.len()],
    turns: Turns,
}

impl Effects {
    /// On the step from a pull to a point of another.
    pub(in crate::ask) fn of(before: &Pull, after: &PullPoint, waves: f64) -> Self {
        Self {
            shares: effects(before, after, waves),
            turns: Turns::at(after.rpm),
        }
    }

    /// How a reading's logarithm goes with each number of [`Missed`].
    pub(in crate::ask) fn slopes(&self, rpm: f64, doubts: &Doubts) -> [f64; NUMBERS] {
        let (below, above) = doubts.beyond(rpm);
        array::from_fn(|k| match Mechanism::ALL.get(k / 2) {
            Some(&m) => {
                let (cos, sin) = self.turns.of(m);
                let size = self.shares[m as usize] * doubts.sizes.of(m);
                size * if k % 2 == 0 { cos } else { sin }
            }
            None if k % 2 == 0 => below,
            None => above,
        })
    }
}

/// Shares of power that go through each mechanism on the step from a pull to a point of another, in the order of [`Mechanism::ALL`].
///
/// ```text
/// air = g ln(ṁ'/ṁ)    phasing = g ln(φ'/φ)    work = g ln(W'/W) − air − phasing    g = W'/P'
/// gas exchange, blower = (power taken' − power taken)/P'
/// driveline = ln(P'/crank') − ln(P/crank)    waves = √(kinds of work that move them)
/// ```
///
/// W indicated, P at the drums without an electric share.
/// Equation (8.6).
pub(in crate::ask) fn effects(before: &Pull, after: &PullPoint, waves: f64) -> [f64; 7] {
    let rpm = after.rpm;
    let was = |of: &dyn Fn(&PullPoint) -> f64| before.reading(rpm, of);
    let engine_w = |p: &PullPoint| p.power_w - p.electric_w;
    let reads_w = engine_w(after);
    let ledger = &after.engine.ledger;
    let leverage = (ledger.indicated_w / reads_w).clamp(1.0, MOST_LEVERAGE);
    let grew = |of: &dyn Fn(&PullPoint) -> f64| (of(after) / was(of)).ln();
    let air = leverage * grew(&|p| p.engine.air_kg_s);
    let phasing = leverage * grew(&|p| p.engine.cylinder.phasing_factor);
    let work = leverage * grew(&|p| p.engine.ledger.indicated_w) - air - phasing;
    let taken = |of: &dyn Fn(&PullPoint) -> f64| (of(after) - was(of)) / reads_w;
    let effects = [
        air,
        phasing,
        work,
        taken(&|p| p.engine.ledger.pumping_w),
        taken(&|p| p.engine.ledger.blower_w),
        grew(&|p| engine_w(p) / p.engine.ledger.brake_w()),
        waves.sqrt(),
    ];
    effects.map(|x| if x.is_finite() { x } else { 0.0 })
}
