//! Pulls in a row, in words: below the predicted pull, which is the first of the row.

use super::Level;
use super::document::Document;
use super::number::{Units, What};
use super::table::TextTable;
use crate::ask::predict::{INLET_K, Kept, Lasting, PullLine, RecoveryLine, Sequence};

/// Third pull against the first, per cent: with boost and without (common practice, no source).
const USUAL_BOOSTED: &str = "2 to 6 %";
const USUAL_UNBOOSTED: &str = "1 to 3 %";

/// Pulls that the answer shows; of more, the first ones and the last.
const MOST_SHOWN: usize = 3;

/// What each pull reads and the rest that brings the first one back, below the predicted pull.
pub(super) fn answer(document: &mut Document, row: &Sequence, boosted: bool, units: Units) {
    document.at(Level::Brief).table(brief(row, units));
    let usual = if boosted {
        USUAL_BOOSTED
    } else {
        USUAL_UNBOOSTED
    };
    document.at(Level::Brief).paragraph(format!(
        "Heat under the hood is not modelled: {usual} less by pull 3 is usual."
    ));
    document.at(Level::Answer).paragraph(recovery(row, units));
}

/// Each pull with the rest before it, its peak and its intake air.
fn brief(row: &Sequence, units: Units) -> TextTable {
    let mut table = TextTable::new("lr");
    table.head(["", "peak", "corrected", "change", "IAT at the peak"]);
    let count = row.pulls.len();
    for p in &row.pulls {
        if count > MOST_SHOWN && p.pull >= MOST_SHOWN && p.pull < count {
            continue;
        }
        let name = if p.pull == 1 {
            "pull 1".to_owned()
        } else {
            format!("pull {}, rested {}", p.pull, duration(row.rest_s))
        };
        table.row([
            name,
            units.show(What::Power, p.peak_power.power_w),
            units.show(What::Power, p.peak_power.corrected_power_w),
            change(p),
            units.show(What::Temperature, p.charge_at_peak_k),
        ]);
    }
    table
}

/// Change from the first pull, per cent.
fn change(p: &PullLine) -> String {
    if p.pull == 1 {
        String::new()
    } else {
        format!("{:+.1} %", 100.0 * p.change + 0.0)
    }
}

/// What the car has kept at each start, and what the figures leave out.
pub(super) fn details(document: &mut Document, row: &Sequence, units: Units) {
    let mut part = document.at(Level::Detail);
    part.space()
        .section(format!(
            "Pulls in a row, {} of rest between them; temperatures at the start of each pull, IAT at its peak",
            duration(row.rest_s)
        ))
        .table(table(row, units))
        .space();
    if let Some(third) = row.pulls.get(2) {
        part.paragraph(format!(
            "The third pull changes by {} here; usual is {USUAL_BOOSTED} less with boost and {USUAL_UNBOOSTED} less without \
             (common practice, no source).",
            units.show_change(What::Percent, third.change)
        ));
    }
    part.paragraph(
        "Walls are coolant, head and manifold. Every part is one lump of usual size; at rest it drifts back to where it was before the \
         first pull, the intercooler to the air outside. Warm oil and tyres turn more easily, which helps.",
    );
    let cost = row
        .change_with_warmer_inlet
        .map_or_else(String::new, |change| {
            format!(
                ": inlet air {} warmer would change the last pull by {}",
                units.show(What::TemperatureDifference, INLET_K),
                units.show_change(What::Percent, change)
            )
        });
    part.paragraph(format!(
        "Heat under the hood and in the blower case is not modelled, and on the drums it often costs most{cost}."
    ));
}

fn table(row: &Sequence, units: Units) -> TextTable {
    let mut table = TextTable::new("r");
    let (power, kelvin) = (units.symbol(What::Power), units.symbol(What::Temperature));
    let mut head = vec!["pull", "peak", "corr.", "change", "IAT"];
    let mut symbols = vec!["", power, power, "%", kelvin];
    let has = |of: fn(&Kept) -> Option<f64>| of(&row.after).is_some();
    if has(|k| k.core_k) {
        head.push("cooler");
        symbols.push(kelvin);
    }
    head.extend(["walls", "oil", "gears", "tyres"]);
    symbols.extend([kelvin; 4]);
    if has(|k| k.battery_k) {
        head.extend(["battery", "level", "winding"]);
        symbols.extend([kelvin, "%", kelvin]);
    }
    table.row(head);
    table.row(symbols);
    let kept = |k: &Kept| {
        let degrees = |x: f64| units.cell(What::Temperature, x);
        let mut cells: Vec<String> = k.core_k.map(degrees).into_iter().collect();
        cells.extend([k.walls_k, k.engine_oil_k, k.gear_oil_k, k.tyre_k].map(degrees));
        cells.extend(k.battery_k.map(degrees));
        cells.extend(k.battery_charge.map(|x| units.cell(What::Percent, x)));
        cells.extend(k.winding_k.map(degrees));
        cells
    };
    for p in &row.pulls {
        let change = if p.pull == 1 {
            String::new()
        } else {
            format!("{:+.2}", 100.0 * p.change)
        };
        let mut cells = vec![
            p.pull.to_string(),
            units.cell(What::Power, p.peak_power.power_w),
            units.cell(What::Power, p.peak_power.corrected_power_w),
            change,
            units.cell(What::Temperature, p.charge_at_peak_k),
        ];
        cells.extend(kept(&p.start));
        table.row(cells);
    }
    let mut cells = vec!["after".to_owned()];
    cells.resize(5, String::new());
    cells.extend(kept(&row.after));
    table.row(cells);
    table
}

fn recovery(row: &Sequence, units: Units) -> String {
    let within = units.show(What::Percent, row.within);
    match row.recovery {
        RecoveryLine::AtOnce => {
            format!("The next pull peaks within {within} of the first even without a rest.")
        }
        RecoveryLine::After { rest_s } => format!(
            "The next pull peaks within {within} of the first after {} of rest.",
            duration(rest_s)
        ),
        RecoveryLine::Never {
            change,
            reason: Lasting::BatteryCharge,
            charge,
            first_charge,
        } => format!(
            "No rest brings the next pull within {within} of the first: the battery is at {}, was {}, and rest does not charge it; \
             peak power stays {} off.",
            units.show(What::Percent, charge),
            units.show(What::Percent, first_charge),
            units.show_change(What::Percent, change)
        ),
    }
}

/// A time as a person says it: seconds below two minutes, then minutes, then hours.
pub(super) fn duration(seconds: f64) -> String {
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
