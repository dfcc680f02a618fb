//! Limits a pull runs into: from which engine speed, how often, and what lifts them.
//!
//! The model reports a limit as a fact of an operating point; here it becomes a line for the person who can do something
//! about it. The remedies are the trade's common practice, without a source; each names the part, never a make.

use super::number::{Units, What};
use super::table::bullet;
use crate::car::Limit;
use crate::dyno::Pull;
use crate::electric::axle::AxleLimit;
use crate::electric::motor::MotorLimit;
use crate::quote::LimitSeen;
use serde::Serialize;

/// One limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LimitLine {
    /// What happens, in the trade's words.
    pub limit: &'static str,
    /// Lowest engine speed at which it holds; none when only some draws meet it.
    pub from_rpm: Option<f64>,
    /// Highest.
    pub to_rpm: Option<f64>,
    /// Share of the draws that meet it, where draws were made.
    pub share_of_draws: Option<f64>,
    /// What lifts it.
    pub remedy: &'static str,
}

impl LimitLine {
    /// As a bullet point.
    pub fn text(&self, units: Units) -> String {
        let mut text = self.limit.to_owned();
        if let (Some(from), Some(to)) = (self.from_rpm, self.to_rpm) {
            add!(
                text,
                ", from {} to {}",
                units.cell(What::Rpm, from),
                units.show(What::Rpm, to)
            );
        }
        if let Some(share) = self.share_of_draws {
            if share > 0.0 && share < 0.005 {
                text.push_str(" (under 1 % of the draws)");
            } else {
                add!(text, " ({:.0} % of the draws)", 100.0 * share);
            }
        }
        bullet(&format!("{text}. {}", self.remedy))
    }
}

impl From<&LimitSeen> for LimitLine {
    fn from(seen: &LimitSeen) -> Self {
        Self {
            limit: seen.limit.words(),
            from_rpm: seen.rpm.map(|r| r.0),
            to_rpm: seen.rpm.map(|r| r.1),
            share_of_draws: Some(seen.share),
            remedy: remedy(seen.limit),
        }
    }
}

/// Every limit of a simulated pull: engine and blower, tyres, electric axle, drums.
pub fn of_pull(pull: &Pull) -> Vec<LimitLine> {
    let line = |limit, remedy, met: &dyn Fn(&crate::dyno::PullPoint) -> bool| {
        let mut rpm = pull.points.iter().filter(|p| met(p)).map(|p| p.rpm);
        let from = rpm.next()?;
        let to_rpm = Some(rpm.next_back().unwrap_or(from));
        Some(LimitLine {
            limit,
            from_rpm: Some(from),
            to_rpm,
            share_of_draws: None,
            remedy,
        })
    };
    let mut lines: Vec<LimitLine> = Limit::ALL
        .into_iter()
        .filter_map(|limit| {
            line(limit.words(), remedy(limit), &|p| {
                p.engine.limits.contains(limit)
            })
        })
        .collect();
    lines.extend(line(
        "the tyres spin on the drums",
        "More strap load, other tyres or a higher gear; the reading there is not the engine's.",
        &|p| p.spinning,
    ));
    for (binds, words, remedy) in AXLE {
        lines.extend(line(words, remedy, &|p| p.axle_limit.is_some_and(binds)));
    }
    if let Some(rpm) = pull.stalled_rpm {
        lines.push(LimitLine {
            limit: "the car cannot accelerate these drums any further",
            from_rpm: Some(rpm),
            to_rpm: Some(rpm),
            share_of_draws: None,
            remedy: "A lower gear reaches higher engine speed.",
        });
    }
    lines
}

/// Whether an electric limit is the one meant; what to call it; what lifts it.
type AxleRow = (fn(AxleLimit) -> bool, &'static str, &'static str);

/// What holds the electric axle back. Its own torque-speed envelope is no limit of the build and is left out.
const AXLE: [AxleRow; 5] = [
    (
        |l| l == AxleLimit::Battery,
        "the battery holds the electric axle back",
        "More charge or a warmer battery gives more.",
    ),
    (
        |l| l == AxleLimit::Heat,
        "the motor's winding is hot and its torque cut",
        "Let it cool between pulls.",
    ),
    (
        |l| l == AxleLimit::Taper,
        "the electric axle fades out toward its shift point",
        "That is its calibration; another gear or calibration moves it.",
    ),
    (
        |l| l == AxleLimit::Ramp,
        "the electric axle is still ramping up",
        "Start the pull at lower engine speed.",
    ),
    (
        |l| l == AxleLimit::Motor(MotorLimit::TopSpeed),
        "the electric motor is at its highest speed",
        "A higher gear keeps it below; above it the axle is dragged along.",
    ),
];

/// What lifts a limit of the engine or its blower.
pub const fn remedy(limit: Limit) -> &'static str {
    match limit {
        Limit::Knock => {
            "More octane, a cooler charge, less boost or less compression lets the spark come back."
        }
        Limit::KnockTable => "Take the figure there as a warning, not as a number.",
        Limit::BeltSlip => "A wider belt, more wrap or a larger pair of pulleys holds it.",
        Limit::BlowerSpeed => {
            "A larger pulley on the blower brings it back within its rating; do not run it so."
        }
        Limit::BlowerBypass => "A larger blower, or a smaller pulley if its speed allows.",
        Limit::BlowerChoked => "A larger blower.",
        Limit::Surge => "Less pressure at that flow: a larger pulley, or a smaller compressor.",
        Limit::Choke => "A larger compressor.",
        Limit::MapSpeed => "A larger pulley; beyond the fastest line the map says nothing.",
        Limit::TipSpeed => "A larger pulley, now: past this speed a wheel may burst.",
        Limit::MapEfficiency => "A compressor that fits this flow and pressure.",
        Limit::BoostShort => {
            "Below the knee the turbocharger is still coming up; at the top a larger turbine or less boost."
        }
        Limit::CoolerPressure => "A larger core.",
        Limit::InletMach => {
            "Larger valves, more open area or a better port; more revs bring little more air."
        }
        Limit::Unsettled => "The figure there is the best found; do not promise it.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_told_with_its_speeds_its_share_and_its_remedy() {
        let seen = LimitSeen {
            limit: Limit::Knock,
            rpm: Some((3000.0, 6500.0)),
            share: 0.87,
        };
        let text = LimitLine::from(&seen).text(Units::Metric);
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            flat.starts_with("- knock holds the spark back, from 3000 to 6500 rpm (87 % of the draws). More octane"),
            "{text}"
        );
    }

    #[test]
    fn every_remedy_is_a_sentence() {
        assert!(
            Limit::ALL
                .into_iter()
                .all(|limit| remedy(limit).ends_with('.'))
        );
    }
}
