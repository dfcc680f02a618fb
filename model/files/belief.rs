//! From a written quantity to a belief, and back to the place it was written at.
//!
//! Car, plan and starter files share these few steps: which doubt is meant, which range is accepted, which default doubt a
//! bare number gets. A [`Place`] outlives the reading of its table, so that a mistake found later (a plan that does not fit
//! the car) still points at its line. It refuses to drop a doubt in silence: a number that cannot carry one says so.

use std::ops::RangeInclusive;

use super::diagnostic::{Code, Problem};
use super::quantity::{Doubt, Quantity};
use super::table::Table;
use crate::belief::parameter::{self, Parameter};
use crate::belief::prior::{Prior, PriorError};
use crate::belief::sheet::{Belief, Origin};
use crate::parts::Row;
use crate::units::Dimension;

/// A written doubt that the number cannot carry.
pub const DOUBT_UNUSED: Code = Code::new("doubt_unused");
/// A doubt larger than its number, which cannot be nothing.
pub const DOUBT_WIDE: Code = Code::new("doubt_wide");
/// A key that belongs to a part the car does not have.
pub const KEY_UNUSED: Code = Code::new("key_unused");
/// Two keys that say the same thing, or contradict each other.
pub const KEY_CONFLICT: Code = Code::new("key_conflict");

/// Where something was written, kept for problems found after its table was read.
#[derive(Debug, Clone)]
pub struct Place(Problem);

impl Place {
    /// The place of a key's value, or of the table if the key is absent.
    pub(super) fn of(table: &Table<'_>, key: &str) -> Self {
        Self(table.problem(key, Code::WRONG_TYPE, ""))
    }

    /// A problem at this place.
    pub fn problem(&self, code: Code, message: impl Into<String>) -> Problem {
        let mut problem = self.0.clone();
        problem.code = code;
        problem.message = message.into();
        problem
    }
}

/// The belief a quantity states, in a model unit of `scale` per SI unit, cut to bounds in that unit. A number without a
/// doubt gets `bare` (relative); with `bare` zero, or on a bound, it is known exactly.
///
/// A range `a .. b` is the middle 90 % of a normal curve; a factor is one standard deviation of a log-normal one.
pub fn prior(
    quantity: &Quantity,
    scale: f64,
    bounds: (f64, f64),
    bare: f64,
) -> Result<Prior, PriorError> {
    let centre = quantity.value_si * scale;
    let (lower, upper) = bounds;
    let sd = match quantity.doubt {
        Doubt::Factor { factor } => {
            return Prior::log_normal(centre, factor.ln(), lower.max(0.0), upper);
        }
        // A doubt that nobody wrote does not forbid the edge of the range.
        Doubt::Exact if centre == lower || centre == upper => 0.0,
        Doubt::Exact => bare * centre.abs(),
        Doubt::PlusMinus { .. } | Doubt::Range { .. } => quantity.sd_si() * scale,
    };
    if sd > 0.0 {
        Prior::normal(centre, sd, lower, upper)
    } else {
        Prior::fixed(centre)
    }
}

/// One catalogue entry read from its table.
#[derive(Debug, Clone)]
pub(super) struct Given {
    pub(super) belief: Belief,
    pub(super) place: Place,
}

/// Reads the number of a catalogue entry; the entry's range and dimension hold.
pub(super) fn entry(
    table: &mut Table<'_>,
    parameter: &'static Parameter,
    required: bool,
) -> Option<Given> {
    let (key, measure) = (parameter.key(), parameter.measure);
    let quantity = if required {
        table.quantity(key, measure.dimension)
    } else {
        table.optional_quantity(key, measure.dimension)
    };
    let unit = measure.unit();
    let limits = unit.to_si(parameter.range.0)..=unit.to_si(parameter.range.1);
    let quantity = table.within(key, quantity, limits.clone())?;
    let made = prior(&quantity, measure.scale, parameter.bounds(), 0.0);
    let prior = accepted(table, key, made)?;
    remark_wide(table, key, &quantity, *limits.start());
    let belief = Belief {
        parameter,
        prior,
        origin: Origin::Given,
    };
    Some(Given {
        belief,
        place: Place::of(table, key),
    })
}

/// Reads a number of a plan as a belief in the model's unit, within its row's range and with the doubt of a bare one.
pub(super) fn number(table: &mut Table<'_>, row: &Row, required: bool) -> Option<Prior> {
    let (key, measure) = (row.key, row.measure());
    let quantity = if required {
        table.quantity(key, measure.dimension)
    } else {
        table.optional_quantity(key, measure.dimension)
    };
    let limits = limits_si(row);
    let quantity = table.within(key, quantity, limits.clone())?;
    let bounds_si = (*limits.start(), *limits.end());
    let made = prior(&quantity, 1.0, bounds_si, row.bare()).and_then(|si| si.scaled(measure.scale));
    let prior = accepted(table, key, made)?;
    remark_wide(table, key, &quantity, *limits.start());
    Some(prior)
}

/// A row's range, SI.
pub(super) fn limits_si(row: &Row) -> RangeInclusive<f64> {
    let unit = row.measure().unit();
    let (low, high) = row.range();
    unit.to_si(low)..=unit.to_si(high)
}

/// A warning where a number that cannot be nothing is doubted by more than itself.
///
/// It stays a warning: the curve is cut to the number's range, so nothing impossible is drawn, and a person may mean just that. But
/// the middle of what is left lies far above the number written, and a slip of the unit looks the same. A number that may be nothing
/// (a drag, a loss) is rightly written so.
fn remark_wide(table: &mut Table<'_>, key: &str, quantity: &Quantity, lower_si: f64) {
    let sd_si = quantity.sd_si();
    let wide = matches!(
        quantity.doubt,
        Doubt::PlusMinus { .. } | Doubt::Range { .. }
    ) && lower_si > 0.0
        && sd_si > quantity.value_si;
    if wide {
        let message = format!(
            "the tolerance of '{key}' is {:.1} times the value: where zero is impossible, such a range is cut off and no longer centred on it",
            sd_si / quantity.value_si
        );
        let expected = "a tolerance smaller than the value, or a factor, as in \"3 mm */ 2\"";
        table.warning(key, DOUBT_WIDE, message, expected);
    }
}

/// The belief, or the problem that it cannot be one.
pub(super) fn accepted(
    table: &mut Table<'_>,
    key: &str,
    made: Result<Prior, PriorError>,
) -> Option<Prior> {
    made.map_err(|error| {
        let message = format!("'{key}' cannot have this tolerance: {error}");
        table.error(
            key,
            Code::OUT_OF_RANGE,
            message,
            "a value inside its range, not at its edge, where a tolerance is given",
        );
    })
    .ok()
}

/// A number that the model takes as it stands, SI, and may be left out. A written doubt is answered by a warning.
pub(super) fn plain(
    table: &mut Table<'_>,
    key: &str,
    dimension: Dimension,
    limits_si: RangeInclusive<f64>,
) -> Option<f64> {
    let quantity = table.optional_quantity(key, dimension);
    plain_of(table, key, quantity, limits_si)
}

/// As [`plain`], and must be there.
pub(super) fn required_plain(
    table: &mut Table<'_>,
    key: &str,
    dimension: Dimension,
    limits_si: RangeInclusive<f64>,
) -> Option<f64> {
    let quantity = table.quantity(key, dimension);
    plain_of(table, key, quantity, limits_si)
}

fn plain_of(
    table: &mut Table<'_>,
    key: &str,
    quantity: Option<Quantity>,
    limits_si: RangeInclusive<f64>,
) -> Option<f64> {
    let quantity = table.within(key, quantity, limits_si)?;
    if quantity.doubt != Doubt::Exact {
        let message =
            format!("the tolerance of '{key}' is not used: the model takes the value as exact");
        table.warning(key, DOUBT_UNUSED, message, "the value alone");
    }
    Some(quantity.value_si)
}

/// Everything of the catalogue that a car file states.
#[derive(Debug, Clone, Default)]
pub(super) struct Stated {
    pub(super) list: Vec<Given>,
}

impl Stated {
    /// Reads every entry that stands in this table; the listed keys must be there.
    pub(super) fn read(&mut self, table: &mut Table<'_>, required: &[&str]) {
        self.read_but(table, required, &[]);
    }

    /// The same without the keys that its caller reads in a way of its own.
    pub(super) fn read_but(&mut self, table: &mut Table<'_>, required: &[&str], apart: &[&str]) {
        // A shop's profile holds the same tables further in.
        let name = table
            .path()
            .rsplit('.')
            .next()
            .unwrap_or_default()
            .to_owned();
        let here = |p: &&Parameter| p.table() == name && !apart.contains(&p.key());
        for parameter in parameter::catalogue().filter(here) {
            let given = entry(table, parameter, required.contains(&parameter.key()));
            self.list.extend(given);
        }
    }

    /// The centre of a stated number, in the model's unit.
    pub(super) fn centre(&self, path: &str) -> Option<f64> {
        self.find(path).map(|given| given.belief.prior.centre())
    }

    /// A stated number.
    pub(super) fn find(&self, path: &str) -> Option<&Given> {
        self.list
            .iter()
            .find(|given| given.belief.parameter.path == path)
    }

    /// Adds a belief that follows from other statements, unless the number itself is stated.
    pub(super) fn imply(
        &mut self,
        path: &str,
        made: Result<Prior, PriorError>,
        origin: Origin,
        place: &Place,
    ) -> Result<(), Box<Problem>> {
        let Some(parameter) = parameter::find(path).filter(|_| self.find(path).is_none()) else {
            return Ok(());
        };
        let (lower, upper) = parameter.bounds();
        let outside = match &made {
            Ok(prior) => Some(prior.centre()).filter(|x| !(lower..=upper).contains(x)),
            Err(PriorError::CentreOutsideBounds { centre, .. }) => Some(*centre),
            Err(_) => None,
        };
        if let Some(centre) = outside {
            let unit = parameter.measure.unit();
            let show = |model: f64| crate::units::show(model / parameter.measure.scale, unit);
            let message = format!("{path} would be {}", show(centre));
            let problem = place.problem(Code::OUT_OF_RANGE, message);
            let expected = format!("{path} within {} to {}", show(lower), show(upper));
            return Err(Box::new(problem.expected(expected)));
        }
        let prior = made.map_err(|error| {
            let message = format!("{path} follows from this: {error}");
            Box::new(place.problem(Code::OUT_OF_RANGE, message))
        })?;
        self.list.push(Given {
            belief: Belief {
                parameter,
                prior,
                origin,
            },
            place: place.clone(),
        });
        Ok(())
    }

    /// The beliefs alone.
    pub(super) fn beliefs(&self) -> Vec<Belief> {
        self.list.iter().map(|given| given.belief).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::quantity::parse;
    use super::*;

    #[test]
    fn each_written_doubt_becomes_its_curve() {
        let of = |text: &str, bare: f64| {
            let quantity = parse(text, Dimension::Ratio).expect("a ratio");
            prior(&quantity, 1.0, (0.0, 10.0), bare).expect("a belief")
        };
        assert!(of("2.0", 0.0).is_fixed());
        assert!((of("2.0", 0.03).sd() - 0.06).abs() < 1e-15);
        assert!((of("0.69 ± 0.03", 0.5).sd() - 0.03).abs() < 1e-15);
        // The middle 90 % of a normal curve is 2 · 1.645 standard deviations wide (tables of the normal distribution).
        assert!((of("0.62 .. 0.76", 0.0).sd() - 0.14 / 3.29).abs() < 1e-15);
        let factor = of("1.5 */ 1.2", 0.0);
        assert_eq!(factor.shape(), crate::belief::Shape::LogNormal);
        assert!((factor.quantile(0.8413447460685429) / 1.8 - 1.0).abs() < 1e-9);
    }
}
