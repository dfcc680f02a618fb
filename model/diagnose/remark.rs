//! What is odd about the question itself: good pulls that disagree, a car file that is not this car, columns in another unit.
//!
//! Exists because an answer to a wrong question is worse than none. A remark does not change the answer. It refuses to mend anything.

use super::cause::Cause;
use super::disturb::{ExpectedLog, Scene};
use super::expect::{Channel, Fact};
use super::suspect::{Sign, Suspect};
use super::ways::ANOTHER_RATIO;
use serde::Serialize;

/// Something a person should look at before the answer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "remark", rename_all = "snake_case")]
pub enum Remark {
    /// Power of the good pulls differs among themselves.
    GoodPullsDiffer {
        /// By this, relative.
        by: f64,
    },
    /// Power of the good pulls differs from the car file's.
    GoodPullsAreAnotherCar {
        /// By this, relative.
        by: f64,
    },
    /// The odd pull reads more than the good ones promise.
    ReadsMore {
        /// By this, relative.
        by: f64,
    },
    /// Power is that of another unit: what was read over what was expected is the ratio of kW to hp, or of hp to kW.
    PowerUnit,
    /// Manifold pressure is off by just the room's pressure.
    GaugeForAbsolute,
    /// The odd pull ends well below where the good ones do.
    EndsEarly {
        /// Its last engine speed, rpm.
        odd_rpm: f64,
        /// Theirs, rpm.
        good_rpm: f64,
    },
    /// The likeliest cause is a low battery, and the visit states a charge.
    ChargeContradicted {
        /// The charge stated, 0 to 1.
        charge: f64,
    },
    /// Good pulls and odd one were said to be made in one air, and their rooms were not equally warm.
    AirDiffers {
        /// The odd pull's less that of the good ones, K.
        by_k: f64,
    },
    /// The ratios entered are not those of the good pulls.
    RatiosUnlike {
        /// Entered over theirs.
        factor: f64,
    },
    /// Whatever the likeliest cause is, it leaves a mixture that is lean.
    LeanBesides {
        /// Relative air-fuel ratio above that of good pulls.
        by: f64,
    },
}

impl Remark {
    /// Whether good pulls are so far from the car file that no answer holds: the ratio of powers is then beyond 1.4, either way.
    pub fn forbids_an_answer(self) -> bool {
        matches!(self, Self::GoodPullsAreAnotherCar { by } if by.ln_1p().abs() > FORBIDS.ln())
    }
}

/// Relative differences of power from which a remark is made, of good pulls among themselves, of them from the car file, and upward
/// of the odd pull: far beyond repeats (some 1 %), and beyond what a fitted file misses (common practice, no source).
const DIFFER: f64 = 0.05;
const ANOTHER: f64 = 0.12;
const MORE: f64 = 0.03;
/// Ratio of powers beyond which good pulls are not this car's; no source. Another unit, kW for hp, is 1.34 and has a remark of its own.
const FORBIDS: f64 = 1.4;
/// Share of the good pulls' last engine speed below which a pull ends early: a driver lifts within a few hundredths of where the last
/// pull was lifted (common practice, no source).
const EARLY: f64 = 0.95;
/// Lambda left above that of good pulls from which a mixture is lean enough to be dangerous whatever else is wrong; no source.
const LEAN: f64 = 0.03;
/// 1 hp in kW (550 ft lbf/s).
const HP_KW: f64 = 0.745_7;

/// Everything odd about a question.
pub(super) fn remarks(scene: &Scene<'_>, sound: &ExpectedLog) -> Vec<Remark> {
    let mut out = Vec::new();
    let typed = scene.facts.iter().find(|f| f.0 == Fact::TypedRatio);
    if let Some((_, off, _)) = typed.filter(|f| f.1.abs() > ANOTHER_RATIO) {
        out.push(Remark::RatiosUnlike { factor: off.exp() });
    }
    let levels = scene.misfit.levels(Channel::Power);
    let range = levels
        .iter()
        .copied()
        .reduce(f64::max)
        .zip(levels.iter().copied().reduce(f64::min));
    if let Some((high, low)) = range {
        if (high - low).exp_m1() > DIFFER {
            out.push(Remark::GoodPullsDiffer {
                by: (high - low).exp_m1(),
            });
        }
        let mean = levels.iter().sum::<f64>() / levels.len() as f64;
        if mean.exp_m1().abs() > ANOTHER {
            out.push(Remark::GoodPullsAreAnotherCar { by: mean.exp_m1() });
        }
    }
    let ends = scene.power().and_then(|curve| curve.rpm.last().copied());
    if let Some((end, (_, good))) = ends.zip(scene.misfit.range(Channel::Power))
        && end < EARLY * good
    {
        out.push(Remark::EndsEarly {
            odd_rpm: end,
            good_rpm: good,
        });
    }
    let off = |channel: Channel| -> Option<Vec<f64>> {
        let index = scene.curves.iter().position(|c| c.channel == channel)?;
        let mut off: Vec<f64> = scene.curves[index]
            .measured
            .iter()
            .zip(&sound.curves[index])
            .map(|(m, s)| m - s)
            .collect();
        off.sort_by(f64::total_cmp);
        Some(off)
    };
    let middle = |sorted: &[f64]| sorted[sorted.len() / 2];
    if let Some(power) = off(Channel::Power) {
        let log = middle(&power);
        let spread = power[3 * power.len() / 4] - power[power.len() / 4];
        let unit = (log.abs() + HP_KW.ln()).abs() < 0.02 && spread < 0.03;
        if unit {
            out.push(Remark::PowerUnit);
        } else if log.exp_m1() > MORE {
            out.push(Remark::ReadsMore { by: log.exp_m1() });
        }
    }
    if let Some(manifold) = off(Channel::Manifold) {
        let room_pa = scene.day.station().pa();
        if (middle(&manifold).abs() / room_pa - 1.0).abs() < 0.04 {
            out.push(Remark::GaugeForAbsolute);
        }
    }
    out
}

/// What the answer itself gives to mind, with the charge that was stated for the pull.
pub(super) fn of_answer(suspects: &[Suspect], charge: Option<f64>) -> Vec<Remark> {
    let Some(first) = suspects.first() else {
        return Vec::new();
    };
    let battery = first.explained.cause == Cause::LowBattery;
    let contradicted = charge
        .filter(|_| battery)
        .map(|charge| Remark::ChargeContradicted { charge });
    let mixture = |sign: &Sign| match sign {
        Sign::Curve {
            channel: Channel::Lambda,
            seen,
            explained,
            ..
        } => Some(seen - explained),
        _ => None,
    };
    let left = first.left.iter().find_map(mixture);
    let lean = left
        .filter(|by| *by > LEAN)
        .map(|by| Remark::LeanBesides { by });
    contradicted.into_iter().chain(lean).collect()
}
