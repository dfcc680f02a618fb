//! What a cause makes of a log: its cost in power, the parts that speak for it, and what it leaves unexplained.
//!
//! Exists because a chance alone is no answer: a person wants to see the trace. It refuses to hide what a likely cause does not explain: that
//! may be the second fault, or the dangerous one.

use super::cause::Cause;
use super::disturb::{ExpectedLog, Scene};
use super::doubted::log_normal_of_one;
use super::expect::Channel;
use super::judge::{Judge, smoothed};
use super::suspect::{Explained, Sign, Suspect, Trace};
use nalgebra::DVector;

/// Least rise of the logarithmic likelihood worth telling.
const TELLING: f64 = 1.0;
/// Standard deviations from which something is left unexplained.
const LEFT: f64 = 4.0;

/// Fills in what a cause costs, which part of the log speaks for it, and what it leaves.
pub(super) fn describe(
    suspect: &mut Suspect,
    nothing: &Explained,
    (scene, judge): (&Scene<'_>, &Judge),
    sound: &ExpectedLog,
) {
    let none = suspect.explained.cause == Cause::NoneOfThese;
    let sds = judge.standard_deviations(scene, &suspect.explained);
    for (index, curve) in scene.curves.iter().enumerate() {
        let explained = &suspect.explained;
        let shown = &explained.shown.curves[index];
        let n = curve.rpm.len();
        let seen: Vec<f64> = (0..n)
            .map(|i| curve.measured[i] - sound.curves[index][i])
            .collect();
        let made: Vec<f64> = (0..n).map(|i| shown[i] - sound.curves[index][i]).collect();
        if curve.channel == Channel::Power {
            suspect.power_w = peak_w(shown) - peak_w(&sound.curves[index]);
            if let Some(i) = loudest(&made) {
                suspect.worst = (curve.rpm[i], made[i].exp_m1());
            }
        }
        // None of the causes makes anything; it is told where the log strays most.
        let at = loudest(if none { &seen } else { &made });
        let weight = explained.parts[index] - nothing.parts[index];
        if let (true, Some(i)) = (weight >= TELLING, at) {
            suspect.signs.push(Sign::Curve {
                channel: curve.channel,
                rpm: curve.rpm[i],
                seen: seen[i],
                explained: made[i],
                weight,
            });
        }
        if !none {
            let off = DVector::from_iterator(n, seen.iter().zip(&made).map(|(s, m)| s - m));
            let sds = &sds[index];
            let apart: Vec<f64> = smoothed(&off)
                .iter()
                .zip(sds)
                .map(|(o, sd)| o / sd)
                .collect();
            if let Some(i) = loudest(&apart).filter(|i| apart[*i].abs() >= LEFT) {
                suspect.left.push(Sign::Curve {
                    channel: curve.channel,
                    rpm: curve.rpm[i],
                    seen: seen[i],
                    explained: made[i],
                    weight: apart[i].abs(),
                });
            }
        }
        suspect.traces.push(Trace {
            channel: curve.channel,
            points: (0..n).map(|i| (curve.rpm[i], seen[i], made[i])).collect(),
        });
    }
    for ((fact, seen, sd), made) in scene.facts.iter().zip(&suspect.explained.shown.facts) {
        let sign = |weight| Sign::Fact {
            fact: *fact,
            seen: *seen,
            explained: *made,
            weight,
        };
        let off = (seen - made) / sd;
        let gained = if none {
            Judge::fact_of_anything(*fact, *seen, *sd) - log_normal_of_one(*seen, *sd)
        } else {
            0.5 * (seen / sd).powi(2) - 0.5 * off * off
        };
        if gained >= TELLING {
            suspect.signs.push(sign(gained));
        }
        if !none && off.abs() >= LEFT {
            suspect.left.push(sign(off.abs()));
        }
    }
    let heavier = |a: &Sign, b: &Sign| b.weight().total_cmp(&a.weight());
    suspect.signs.sort_by(heavier);
    suspect.left.sort_by(heavier);
}

fn loudest(values: &[f64]) -> Option<usize> {
    (0..values.len()).max_by(|a, b| values[*a].abs().total_cmp(&values[*b].abs()))
}

/// Peak of a curve of logarithms of power, W.
pub(super) fn peak_w(logs: &[f64]) -> f64 {
    logs.iter().copied().fold(f64::NEG_INFINITY, f64::max).exp()
}
