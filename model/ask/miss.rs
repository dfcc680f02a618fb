//! One draw of what the model misses: of a change of power, mechanism by mechanism, and of a curve past the speeds where it was measured.
//!
//! The effects are read off the two pulls of the draw itself, so a draw with more boost carries more doubt about it: a range grows with the
//! distance from what was measured, in charge as in speed. Each mechanism strays for itself, so nothing vanishes where effects cancel.

use super::draws::relevel;
use crate::belief::sheet::standard_normal;
use crate::belief::{MeasuredSpeeds, Mechanism, Miss};
use crate::car::{Blower, Car};
use crate::dyno::{Pull, PullPoint};
use crate::parts::{Change, NotComputed, Plan};
use rand::Rng;

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
}

impl Missed {
    pub(in crate::ask) fn draw<R: Rng + ?Sized>(rng: &mut R) -> Self {
        let mut pair = || (standard_normal(rng), standard_normal(rng));
        Self {
            pairs: std::array::from_fn(|_| pair()),
            beyond: pair(),
        }
    }

    /// What is missed of a mechanism at an engine speed: N(0, 1) at each, alike over a distance in ln(speed).
    ///
    /// ```text
    /// ξ(N) = a cos(ln N/ℓ) + b sin(ln N/ℓ)
    /// ```
    ///
    /// Equation (8.6).
    pub(in crate::ask) fn at(&self, mechanism: Mechanism, rpm: f64) -> f64 {
        let (a, b) = self.pairs[mechanism as usize];
        let distance = if mechanism == Mechanism::Waves {
            NARROW
        } else {
            BROAD
        };
        let turn = rpm.ln() / distance;
        a * turn.cos() + b * turn.sin()
    }

    /// What is missed of a mechanism at an engine speed, as a share of its effect.
    pub(in crate::ask) fn of(&self, mechanism: Mechanism, rpm: f64, sizes: &Miss) -> f64 {
        sizes.bias_of(mechanism) + sizes.of(mechanism) * self.at(mechanism, rpm)
    }

    /// Bends a curve outside the measured speeds, ever more with the distance.
    /// Equation (8.6).
    pub(in crate::ask) fn beyond(&self, pull: &mut Pull, doubts: &Doubts) {
        let Some(measured) = doubts.measured else {
            return;
        };
        relevel(pull, |rpm| {
            let away = measured.outside(rpm).clamp(-FARTHEST, FARTHEST);
            let strays = if away > 0.0 {
                self.beyond.1
            } else {
                self.beyond.0
            };
            (doubts.sizes.beyond * away.abs() * strays).exp()
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
            let engine_w = point.power_w - point.electric_w;
            if engine_w <= 0.0 {
                continue;
            }
            let effects = effects(before, point, doubts.waves);
            let missed: f64 = Mechanism::ALL
                .into_iter()
                .map(|m| effects[m as usize] * self.of(m, point.rpm, &doubts.sizes))
                .sum();
            let power_w = point.electric_w + engine_w * missed.exp();
            point.torque_nm *= power_w / point.power_w;
            point.crank_w *= missed.exp();
            point.power_w = power_w;
        }
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
