//! Limits a pull runs into: from which engine speed, how often, and what lifts them.
//!
//! The model reports a limit as a fact of an operating point; here it becomes a line for the person who can do something
//! about it. The remedies are the trade's common practice, without a source; each names the part, never a make.

use super::number::{Units, What};
use super::table::bullet;
use crate::ask::quote::LimitSeen;
use crate::car::Limit;
use crate::dyno::{Pull, PullPoint};
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
    /// Whether the reading there is what the limit lets through, and not what engine or motor could give.
    pub caps_power: bool,
    /// What lifts it.
    pub remedy: &'static str,
}

impl LimitLine {
    /// As a bullet point.
    pub fn text(&self, units: Units) -> String {
        let mut text = self.limit.to_owned();
        if let (Some(from), Some(to)) = (self.from_rpm, self.to_rpm) {
            let (first, last) = (units.cell(What::Rpm, from), units.show(What::Rpm, to));
            if units.cell(What::Rpm, to) == first {
                add!(text, ", at {last}");
            } else {
                add!(text, ", from {first} to {last}");
            }
        }
        if let Some(share) = self.share_of_draws {
            if share > 0.0 && share < 0.005 {
                text.push_str(" (under 1 % of the draws)");
            } else {
                add!(text, " ({:.0} % of the draws)", 100.0 * share);
            }
        }
        let capped = if self.caps_power {
            " It caps the power."
        } else {
            ""
        };
        bullet(&format!("{text}.{capped} {}", self.remedy))
    }
}

impl From<&LimitSeen> for LimitLine {
    fn from(seen: &LimitSeen) -> Self {
        Self {
            limit: seen.limit.words(),
            from_rpm: seen.rpm.map(|r| r.0),
            to_rpm: seen.rpm.map(|r| r.1),
            share_of_draws: Some(seen.share),
            caps_power: seen.limit.caps_power(),
            remedy: remedy(seen.limit),
        }
    }
}

/// Every limit of a simulated pull: engine and blower, clutch, tyres, electric axle, drums.
pub fn of_pull(pull: &Pull) -> Vec<LimitLine> {
    let mut lines: Vec<LimitLine> = Limit::ALL
        .iter()
        .filter_map(|&limit| {
            let met = |p: &&PullPoint| p.limits.contains(limit);
            let mut rpm = pull.points.iter().filter(met).map(|p| p.rpm);
            let from = rpm.next()?;
            Some(LimitLine {
                limit: limit.words(),
                from_rpm: Some(from),
                to_rpm: Some(rpm.next_back().unwrap_or(from)),
                share_of_draws: None,
                caps_power: limit.caps_power(),
                remedy: remedy(limit),
            })
        })
        .collect();
    if let Some(rpm) = pull.stalled_rpm {
        lines.push(LimitLine {
            limit: "the car cannot accelerate these drums any further",
            from_rpm: Some(rpm),
            to_rpm: Some(rpm),
            share_of_draws: None,
            caps_power: false,
            remedy: "A lower gear reaches higher engine speed.",
        });
    }
    lines
}

/// What caps the power at one moment of a pull, in words.
pub fn caps(point: &PullPoint) -> Vec<&'static str> {
    let capping = point.limits.iter().filter(|limit| limit.caps_power());
    capping.map(Limit::words).collect()
}

/// What lifts a limit.
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
        Limit::Surge => {
            "Less pressure at that flow: less boost asked for, on a belt a larger pulley, or a smaller compressor."
        }
        Limit::Choke => "A larger compressor.",
        Limit::MapSpeed => {
            "Less boost asked for, on a belt a larger pulley; beyond the fastest line the map says nothing."
        }
        Limit::TipSpeed => {
            "Less boost asked for, on a belt a larger pulley, now: past this speed a wheel may burst."
        }
        Limit::MapEfficiency => "A compressor that fits this flow and pressure.",
        Limit::BoostHeldBack => {
            "More octane or a cooler charge lets it stand; the boost asked for is more than this fuel bears."
        }
        Limit::BoostShort => {
            "A smaller turbine or a slower pull brings the boost earlier; at the top, a compressor and turbine that fit the flow."
        }
        Limit::CoolerPressure => "A larger core.",
        Limit::SprayHeldBack => {
            "A smaller nozzle: what is sprayed beyond half of the fuel is not counted, and floods a real engine."
        }
        Limit::InletMach => {
            "Larger valves, more open area or a better port; more revs bring little more air."
        }
        Limit::Unsettled => "The figure there is the best found; do not promise it.",
        Limit::InjectorDuty => {
            "Larger injectors or more rail pressure. A lean mixture at full load melts pistons: do not make this pull."
        }
        Limit::FuelPump => {
            "A larger pump, or a second one. A lean mixture at full load melts pistons: do not make this pull."
        }
        Limit::LeanMisfire => {
            "More fuel; without it the engine misfires and the figure there is none."
        }
        Limit::ExhaustTemperature => {
            "A richer mixture, less retard or fewer seconds at full load; know what manifold, valves and probes bear."
        }
        Limit::PeakPressure => {
            "Later spark, less boost or less compression; stronger pistons, gasket and studs bear more."
        }
        Limit::PistonSpeed => "A lower rev limit; stronger rods, pistons and rings bear more.",
        Limit::ClutchSlip => {
            "A clutch of more capacity. The reading there is the most it passes, and it burns."
        }
        Limit::ConverterCapacity => {
            "Lock it, start the pull at higher engine speed, or fit a converter of lower stall speed."
        }
        Limit::TyreGrip => {
            "More strap load, other tyres or a higher gear; the reading there is not the engine's."
        }
        Limit::TyreSpeed => {
            "Tyres of a higher speed rating, or a lower gear; do not make this pull on these."
        }
        Limit::AxleBattery => "More charge or a warmer battery gives more.",
        Limit::AxleHeat => "Let it cool between pulls.",
        Limit::AxleTaper => "That is its calibration; another gear or calibration moves it.",
        Limit::AxleRamp => "Start the pull at lower engine speed.",
        Limit::AxleTopSpeed => "A higher gear keeps it below; above it the axle is dragged along.",
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
        let once = LimitLine::from(&LimitSeen {
            rpm: Some((3000.0, 3000.2)),
            ..seen
        });
        assert!(once.text(Units::Metric).contains("back, at 3000 rpm ("));
        assert!(
            flat.starts_with("- knock holds the spark back, from 3000 to 6500 rpm (87 % of the draws). More octane"),
            "{text}"
        );
    }

    #[test]
    fn every_remedy_is_a_sentence() {
        assert!(Limit::ALL.iter().all(|&limit| remedy(limit).ends_with('.')));
    }
}
