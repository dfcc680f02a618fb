//! Pulls in a row: what each one reads, what the car had kept of the ones before, and the rest that gives the first one back.
//!
//! It stands below the predicted pull, which is the first of the row. It refuses to call the change a fault: the third pull of a
//! good car reads less than its first.

use super::number::{Units, What};
use super::predict::Peak;
use super::table::{TextTable, WIDTH, paragraph};
use crate::dyno::{Recovery, Runs, Warmth};
use serde::Serialize;

/// Pulls in a row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SequenceReport {
    /// Rest from the end of one pull to the start of the next.
    pub rest_s: f64,
    /// The pulls.
    pub pulls: Vec<PullLine>,
    /// The car when the last one has ended.
    pub after: Kept,
    /// Nearness asked for.
    pub within: f64,
    /// The rest that gives it.
    pub recovery: RecoveryLine,
    /// Change of the last pull's peak, relative, had the air at the inlet warmed by [`INLET_K`] more; none if no day can be so.
    pub change_with_warmer_inlet: Option<f64>,
}

/// Warming of the air at the inlet whose cost is told, K.
pub const INLET_K: f64 = 5.0;

/// One pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullLine {
    /// Its place, from 1.
    pub pull: usize,
    /// Highest power.
    pub peak_power: Peak,
    /// Change of the uncorrected peak from the first pull, relative.
    pub change: f64,
    /// Charge temperature in the manifold at the peak.
    pub charge_at_peak_k: f64,
    /// The car when the pull starts.
    pub start: Kept,
}

/// Temperatures and charge; none where the car lacks the part.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Kept {
    /// Charge-cooler core or water.
    pub core_k: Option<f64>,
    /// Coolant and walls of head and manifold.
    pub walls_k: f64,
    /// Engine oil.
    pub engine_oil_k: f64,
    /// Gear oil.
    pub gear_oil_k: f64,
    /// Tyres that the engine drives.
    pub tyre_k: f64,
    /// Battery.
    pub battery_k: Option<f64>,
    /// Battery charge, 0 to 1.
    pub battery_charge: Option<f64>,
    /// Motor winding.
    pub winding_k: Option<f64>,
    /// Motor case.
    pub case_k: Option<f64>,
}

/// The rest behind the last pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum RecoveryLine {
    /// None is needed.
    AtOnce,
    /// This one.
    After {
        /// The rest.
        rest_s: f64,
    },
    /// No rest does it.
    Never {
        /// Change of peak power that stays, relative.
        change: f64,
        /// What does not recover.
        reason: String,
    },
}

/// Third pull against the first, per cent: with boost and without (common practice, no source).
const USUAL_BOOSTED: &str = "2 to 6 %";
const USUAL_UNBOOSTED: &str = "1 to 3 %";

impl SequenceReport {
    /// Puts pulls in words; `peak` reads a pull's highest point, and parts a car lacks are left out.
    pub fn new(
        runs: &Runs,
        (has_cooler, has_axle): (bool, bool),
        rest_s: f64,
        (within, recovery): (f64, Recovery),
        change_with_warmer_inlet: Option<f64>,
        peak: impl Fn(&crate::dyno::PullPoint) -> Peak,
    ) -> Option<Self> {
        let kept = |w: &Warmth| Kept {
            core_k: has_cooler.then_some(w.core_k),
            walls_k: w.walls_k,
            engine_oil_k: w.engine_oil_k,
            gear_oil_k: w.gear_oil_k,
            tyre_k: w.tyre_k,
            battery_k: has_axle.then_some(w.battery_k),
            battery_charge: has_axle.then_some(w.charge),
            winding_k: has_axle.then_some(w.winding_k),
            case_k: has_axle.then_some(w.case_k),
        };
        let first_w = runs.runs.first()?.pull.peak_power()?.power_w;
        let pulls = runs
            .runs
            .iter()
            .enumerate()
            .map(|(place, run)| {
                let top = run.pull.peak_power()?;
                Some(PullLine {
                    pull: place + 1,
                    peak_power: peak(top),
                    change: top.power_w / first_w - 1.0,
                    charge_at_peak_k: top.engine.charge_k,
                    start: kept(&run.start),
                })
            })
            .collect::<Option<Vec<_>>>()?;
        Some(Self {
            rest_s,
            pulls,
            after: kept(&runs.after),
            within,
            change_with_warmer_inlet,
            recovery: match recovery {
                Recovery::AtOnce => RecoveryLine::AtOnce,
                Recovery::After { rest_s } => RecoveryLine::After { rest_s },
                Recovery::Never {
                    change,
                    charge,
                    first_charge,
                } => RecoveryLine::Never {
                    change,
                    reason: format!(
                        "the battery holds {:.1} % of its charge against {:.1} % before the first pull, and nothing recharges it at rest",
                        100.0 * charge,
                        100.0 * first_charge
                    ),
                },
            },
        })
    }

    /// For a person.
    pub(super) fn text(&self, units: Units) -> String {
        let mut out = format!(
            "\nPulls in a row, {} of rest between them; temperatures at the start of each pull, charge at its peak\n",
            duration(self.rest_s)
        );
        out.push_str(&self.table(units));
        out.push('\n');
        out.push_str(&paragraph("", &self.recovery_sentence(), 0, WIDTH));
        if let Some(third) = self.pulls.get(2) {
            let text = format!(
                "The third pull changes by {} here; the trade sees {USUAL_BOOSTED} less with boost and {USUAL_UNBOOSTED} less without \
                 (common practice, no source).",
                units.show_change(What::Percent, third.change)
            );
            out.push_str(&paragraph("", &text, 0, WIDTH));
        }
        out.push_str(&paragraph(
            "",
            "Walls are coolant, head and manifold. Every part is one lump of a usual size; at rest it drifts back to where it stood \
             before the first pull, the cooler to the air outside. Warm oils and tyres turn easier, which helps.",
            0,
            WIDTH,
        ));
        let cost = self
            .change_with_warmer_inlet
            .map_or_else(String::new, |change| {
                format!(
                    ": {} more at the inlet would change the last pull by {}",
                    units.show(What::TemperatureDifference, INLET_K),
                    units.show_change(What::Percent, change)
                )
            });
        out.push_str(&paragraph(
            "",
            &format!(
                "The air under the bonnet and the blower's case are not followed, and on the drums they are often what costs most{cost}."
            ),
            0,
            WIDTH,
        ));
        out
    }

    fn table(&self, units: Units) -> String {
        let mut table = TextTable::new("r");
        let (power, kelvin) = (units.symbol(What::Power), units.symbol(What::Temperature));
        let mut head = vec!["pull", "peak", "corr.", "change", "charge"];
        let mut symbols = vec!["", power, power, "%", kelvin];
        let has = |of: fn(&Kept) -> Option<f64>| of(&self.after).is_some();
        if has(|k| k.core_k) {
            head.push("core");
            symbols.push(kelvin);
        }
        head.extend(["walls", "oil", "gears", "tyres"]);
        symbols.extend([kelvin; 4]);
        if has(|k| k.battery_k) {
            head.extend(["battery", "filled", "winding"]);
            symbols.extend([kelvin, "%", kelvin]);
        }
        table.row(head);
        table.row(symbols);
        let kept = |k: &Kept| {
            let degrees = |x: f64| units.cell(What::Temperature, x);
            let mut row: Vec<String> = k.core_k.map(degrees).into_iter().collect();
            row.extend([k.walls_k, k.engine_oil_k, k.gear_oil_k, k.tyre_k].map(degrees));
            row.extend(k.battery_k.map(degrees));
            row.extend(k.battery_charge.map(|x| units.cell(What::Percent, x)));
            row.extend(k.winding_k.map(degrees));
            row
        };
        for p in &self.pulls {
            let change = if p.pull == 1 {
                String::new()
            } else {
                format!("{:+.2}", 100.0 * p.change)
            };
            let mut row = vec![
                p.pull.to_string(),
                units.cell(What::Power, p.peak_power.power_w),
                units.cell(What::Power, p.peak_power.corrected_power_w),
                change,
                units.cell(What::Temperature, p.charge_at_peak_k),
            ];
            row.extend(kept(&p.start));
            table.row(row);
        }
        let mut row = vec!["after".to_owned()];
        row.resize(5, String::new());
        row.extend(kept(&self.after));
        table.row(row);
        table.render()
    }

    fn recovery_sentence(&self) -> String {
        let within = Units::Metric.show(What::Percent, self.within);
        match &self.recovery {
            RecoveryLine::AtOnce => {
                format!("One more pull peaks within {within} of the first even without a rest.")
            }
            RecoveryLine::After { rest_s } => format!(
                "One more pull peaks within {within} of the first after {} of rest.",
                duration(*rest_s)
            ),
            RecoveryLine::Never { change, reason } => format!(
                "No rest brings one more pull within {within} of the first: {reason}; peak power stays {} off.",
                Units::Metric.show_change(What::Percent, *change)
            ),
        }
    }
}

/// A time as a person says it: seconds below two minutes, then minutes, then hours.
fn duration(seconds: f64) -> String {
    let whole = seconds.round();
    let (minutes, hours) = ((whole / 60.0).floor(), (whole / 3600.0).floor());
    if whole < 120.0 && whole % 60.0 != 0.0 || whole < 60.0 {
        format!("{whole:.0} s")
    } else if whole < 7200.0 {
        let rest = whole - 60.0 * minutes;
        if rest == 0.0 {
            format!("{minutes:.0} min")
        } else {
            format!("{minutes:.0} min {rest:.0} s")
        }
    } else {
        format!("{hours:.0} h {:.0} min", minutes - 60.0 * hours)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_told_in_the_units_people_use() {
        let told = [0.0, 90.0, 60.0, 120.0, 380.4, 7800.0].map(duration);
        assert_eq!(
            told,
            ["0 s", "90 s", "1 min", "2 min", "6 min 20 s", "2 h 10 min"]
        );
    }
}
