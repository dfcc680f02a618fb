//! A class file: what the rules of a class ask of a car's power, its power to weight and its boost.
//!
//! ```text
//! kind = "class"
//! version = 1
//! name = "street 225"
//! correction = "sae-j1349"
//! grid = "250 rpm"
//! counts = "highest"
//! tolerance = "2 %"
//! highest_power = "225 kW"
//! highest_power_to_weight = "160 W/kg"   # or "10.3 lb/hp"
//! [boost]
//! highest = "0.9 bar gauge"              # or speed = [...] with gauge = [...]
//! tolerance = "0.05 bar"
//! ```
//!
//! It refuses a file that limits nothing, and a correction that needs to know more of the engine than a rule says.

use std::path::Path;

use super::belief::{self, KEY_CONFLICT};
use super::diagnostic::{Code, Problems};
use super::table::{Table, TomlFile};
use crate::ask::rules::{Class, Declared, Which};
use crate::dyno::correction::Standard;
use crate::units::{Dimension, RPM_PER_RAD_S};

/// A class that limits nothing.
pub const NOTHING_LIMITED: Code = Code::new("nothing_limited");

/// Width of the averages that makes sense, rpm.
const GRID_RPM: (f64, f64) = (50.0, 2000.0);
/// Power that a class may name, W.
const POWER_W: std::ops::RangeInclusive<f64> = 5e3..=5e6;
/// Power to weight that a class may name, W/kg.
const POWER_TO_WEIGHT_W_KG: (f64, f64) = (5.0, 5000.0);
/// Boost that may be declared, Pa above the air outside.
const GAUGE_PA: std::ops::RangeInclusive<f64> = 1e3..=500e3;

/// Reads a class file from disk.
pub fn open(path: &Path) -> Result<(Class, Problems), Problems> {
    read(&TomlFile::open(path)?)
}

/// Reads a class file whose text is here.
pub fn read(file: &TomlFile) -> Result<(Class, Problems), Problems> {
    file.read(class)
}

/// Reads the keys of a class file.
pub(super) fn class(root: &mut Table<'_>) -> Option<Class> {
    super::car::head(root, "class")?;
    let name = root.text("name");
    let standards: Vec<(&str, Standard)> = Standard::all().map(|s| (s.id(), s)).collect();
    let standard = root.choice("correction", &standards);
    let (low, high) = GRID_RPM;
    let limits = low / RPM_PER_RAD_S..=high / RPM_PER_RAD_S;
    let grid = belief::required_plain(root, "grid", Dimension::RotationalSpeed, limits);
    let pulls = root.choice(
        "counts",
        &[("highest", Which::Highest), ("mean", Which::Mean)],
    );
    let tolerance = belief::required_plain(root, "tolerance", Dimension::Ratio, 0.0..=0.2);
    let power = root.found("highest_power", |t| {
        belief::plain(t, "highest_power", Dimension::Power, POWER_W)
    });
    let to_weight = root.found("highest_power_to_weight", power_to_weight);
    let boost = root.found("boost", |t| t.optional_subtable("boost", boost));
    let limited = ["highest_power", "highest_power_to_weight", "boost"];
    if !root.has_any(&limited) {
        let expected = "highest_power, highest_power_to_weight or a table [boost]";
        root.error(
            "highest_power",
            NOTHING_LIMITED,
            "this class limits nothing",
            expected,
        );
        return None;
    }
    Some(Class {
        name: name?,
        standard: standard?,
        // Whole multiples of it count, so the last bits of rad/s must not.
        grid_rpm: (grid? * RPM_PER_RAD_S * 1e6).round() / 1e6,
        pulls: pulls?,
        tolerance: tolerance?,
        power_w: power.optional()?,
        power_to_weight_w_kg: to_weight.optional()?,
        boost: boost.optional()?,
    })
}

/// Power for each mass, or mass for each power, as W/kg.
fn power_to_weight(table: &mut Table<'_>) -> Option<f64> {
    const KEY: &str = "highest_power_to_weight";
    let dimensions = [Dimension::PowerPerMass, Dimension::MassPerPower];
    let quantity = table.optional_quantity_of(KEY, &dimensions)?;
    let (low, high) = POWER_TO_WEIGHT_W_KG;
    if quantity.unit.dimension == Dimension::MassPerPower {
        let quantity = table.within(KEY, Some(quantity), 1.0 / high..=1.0 / low)?;
        return Some(1.0 / quantity.value_si);
    }
    table
        .within(KEY, Some(quantity), low..=high)
        .map(|quantity| quantity.value_si)
}

/// What is declared of boost.
fn boost(table: &mut Table<'_>) -> Option<Declared> {
    let difference = Dimension::PressureDifference;
    let tolerance = belief::required_plain(table, "tolerance", difference, 0.0..=100e3);
    let (cap, curve) = (table.has("highest"), table.has_any(&["speed", "gauge"]));
    if cap == curve {
        let (key, code) = if cap {
            ("speed", KEY_CONFLICT)
        } else {
            ("highest", Code::KEY_MISSING)
        };
        let message = "boost is declared as one pressure or as a curve over engine speed";
        let expected = "highest = \"0.9 bar gauge\", or the lists 'speed' and 'gauge'";
        table.error(key, code, message, expected);
        return None;
    }
    let gauge = Dimension::GaugePressure;
    let points = if cap {
        let highest = belief::required_plain(table, "highest", gauge, GAUGE_PA);
        vec![(0.0, highest?)]
    } else {
        curve_points(table)?
    };
    Some(Declared {
        points,
        tolerance_pa: tolerance?,
    })
}

/// The points of a declared curve, at least two, in order of engine speed.
fn curve_points(table: &mut Table<'_>) -> Option<Vec<(f64, f64)>> {
    let speeds = table.quantities("speed", Dimension::RotationalSpeed);
    let pressures = table.quantities("gauge", Dimension::GaugePressure);
    let (speeds, pressures) = (speeds?, pressures?);
    if speeds.len() != pressures.len() || speeds.len() < 2 {
        let (is, are) = (pressures.len(), speeds.len());
        table.error(
            "gauge",
            Code::FIELD_COUNT,
            format!("{is} pressures at {are} speeds"),
            "as many pressures as speeds, and at least two",
        );
        return None;
    }
    if speeds.windows(2).any(|w| w[1].value_si <= w[0].value_si) || speeds[0].value_si < 0.0 {
        let message = "the speeds of the declared boost are not in rising order";
        let expected = "engine speeds in rising order";
        table.error("speed", Code::OUT_OF_RANGE, message, expected);
        return None;
    }
    for pressure in &pressures {
        table.within("gauge", Some(*pressure), GAUGE_PA)?;
    }
    let points = speeds.iter().zip(&pressures);
    Some(
        points
            .map(|(speed, pressure)| (speed.value_si * RPM_PER_RAD_S, pressure.value_si))
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "kind = \"class\"\nversion = 1\nname = \"street\"\ncorrection = \"sae-j1349\"\ngrid = \"250 rpm\"\ncounts = \"mean\"\ntolerance = \"2 %\"\n";

    fn parsed(more: &str) -> Result<Class, Problems> {
        let file = TomlFile::parse("class.toml", &format!("{TEXT}{more}"))?;
        read(&file).map(|(class, _)| class)
    }

    #[test]
    fn power_to_weight_may_be_written_either_way_up() {
        let of = |text: &str| {
            let class = parsed(&format!("highest_power_to_weight = \"{text}\"\n"));
            class.unwrap_or_else(|p| panic!("{p}")).power_to_weight_w_kg
        };
        // 10 lb/hp: 745.69987 W over 10 pounds of 0.45359237 kg (exact by definition).
        let found = of("10 lb/hp").expect("a limit");
        assert!(
            (found - 745.699_871_58 / 4.535_923_7).abs() < 1e-6,
            "{found}"
        );
        assert_eq!(of("160 W/kg"), Some(160.0));
        assert_eq!(of("0.16 kW/kg"), Some(160.0));
        assert!((of("6.25 kg/kW").expect("a limit") - 160.0).abs() < 1e-9);
    }

    #[test]
    fn what_a_class_cannot_mean_is_refused_where_it_stands() {
        for (more, code) in [
            ("", NOTHING_LIMITED),
            ("highest_power = \"2 kW\"\n", Code::OUT_OF_RANGE),
            (
                "highest_power_to_weight = \"2000 lb/hp\"\n",
                Code::OUT_OF_RANGE,
            ),
            ("[boost]\ntolerance = \"5 kPa\"\n", Code::KEY_MISSING),
            (
                "[boost]\ntolerance = \"5 kPa\"\nhighest = \"90 kPa gauge\"\nspeed = [\"2000 rpm\"]\n",
                KEY_CONFLICT,
            ),
            (
                "[boost]\ntolerance = \"5 kPa\"\nspeed = [\"3000 rpm\", \"2000 rpm\"]\ngauge = [\"50 kPa gauge\", \"60 kPa gauge\"]\n",
                Code::OUT_OF_RANGE,
            ),
            (
                "[boost]\ntolerance = \"5 kPa\"\nspeed = [\"3000 rpm\"]\ngauge = [\"50 kPa gauge\"]\n",
                Code::FIELD_COUNT,
            ),
        ] {
            let problems = parsed(more).expect_err(more);
            assert!(
                problems.with_code(code).next().is_some(),
                "{more}: {problems}"
            );
        }
    }

    #[test]
    fn a_declared_curve_is_read_in_rpm_and_pascals() {
        let more = "[boost]\ntolerance = \"5 kPa\"\nspeed = [\"2000 rpm\", \"6000 rpm\"]\ngauge = [\"50 kPa gauge\", \"0.9 bar gauge\"]\n";
        let class = parsed(more).unwrap_or_else(|p| panic!("{p}"));
        let boost = class.boost.expect("declared");
        assert!((boost.points[1].0 - 6000.0).abs() < 1e-6 && boost.points[1].1 == 90e3);
    }
}
