//! One centre for all questions: the car at the middle of every belief, which `predict` shows, is the middle of a quote too.
//!
//! Beliefs stand about the best that is known of each number, and much that strays from its best costs power (a burn off its best phasing,
//! pipes off their speed) and never gains it. Draws of many numbers so lie lower than any likely car, the more the less is known. What they know is
//! the spread about the centre, and the ratio of one to another; the level is the centre's. The strays of the drums are moved too, so that
//! the few hundred drawn move no middle either.

use super::draw::{Drawn, Peak, Side, Speeds};
use crate::dyno::Pull;
use crate::numeric::upper_median;

/// Moves draws so that the middle of each curve and of each peak is that of the pull at the centre.
/// Equation (8.6).
pub(super) fn centred(draws: &mut [Drawn], speeds: &Speeds, [before, same_day, after]: [&Pull; 3]) {
    let own = peaks(draws, |d| d.same_day, &Peak::of(same_day));
    scale_peaks(draws, |d| &mut d.same_day, &own);
    side(draws, |d| &mut d.before, before, &speeds.before);
    side(draws, |d| &mut d.after, after, &speeds.after);
}

/// One side of it.
pub(super) fn side(
    draws: &mut [Drawn],
    of: fn(&mut Drawn) -> &mut Side,
    centre: &Pull,
    speeds: &[f64],
) {
    let peak = Peak::of(centre);
    let factors = peaks(draws, |d| of(d).peak, &peak);
    scale_peaks(draws, |d| &mut of(d).peak, &factors);
    // The car's own level is the centre's; what the drums stray then leaves the middle of the readings there too.
    let read = |d: &mut Drawn| of(d).scale * of(d).peak.power_w;
    let strays = ratio(peak.power_w, upper_median(draws.iter_mut().map(read)));
    for draw in draws.iter_mut() {
        of(draw).scale *= strays;
    }
    for (place, &rpm) in speeds.iter().enumerate() {
        let read = |d: &mut Drawn| of(d).scale * of(d).curve_w[place];
        let middle = upper_median(draws.iter_mut().map(read));
        let factor = ratio(centre.reading(rpm, |p| p.power_w), middle);
        let crank = upper_median(draws.iter_mut().map(|d| of(d).crank_w[place]));
        let crank = ratio(centre.reading(rpm, |p| p.crank_w), crank);
        for draw in draws.iter_mut() {
            of(draw).curve_w[place] *= factor;
            of(draw).crank_w[place] *= crank;
        }
    }
}

/// Centre over middle of the figures of a peak.
struct Factors {
    power: f64,
    torque: f64,
    crank_power: f64,
    crank_torque: f64,
}

fn peaks(draws: &mut [Drawn], of: impl Fn(&mut Drawn) -> Peak, centre: &Peak) -> Factors {
    let mut factor = |figure: fn(&Peak) -> f64| {
        let middle = upper_median(draws.iter_mut().map(|d| figure(&of(d))));
        ratio(figure(centre), middle)
    };
    Factors {
        power: factor(|peak| peak.power_w),
        torque: factor(|peak| peak.torque_nm),
        crank_power: factor(|peak| peak.crank_w),
        crank_torque: factor(|peak| peak.crank_nm),
    }
}

fn scale_peaks(draws: &mut [Drawn], of: impl Fn(&mut Drawn) -> &mut Peak, factors: &Factors) {
    for draw in draws {
        let peak = of(draw);
        peak.power_w *= factors.power;
        peak.torque_nm *= factors.torque;
        peak.crank_w *= factors.crank_power;
        peak.crank_nm *= factors.crank_torque;
    }
}

/// One where there is no ratio.
fn ratio(centre: f64, middle: Option<f64>) -> f64 {
    middle
        .map(|middle| centre / middle)
        .filter(|factor| factor.is_finite() && *factor > 0.0)
        .unwrap_or(1.0)
}
