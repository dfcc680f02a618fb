//! The table `posterior` of a fitted car file: how the numbers hang together after a fit.
//!
//! Numbers that a fit ties (air flow against drive efficiency) are each nearly as doubtful as before; only together they
//! are known. A file of means and deviations alone would lose that, so the correlations stand here, as the lower
//! triangle, one row per number. They are rounded; see `decimals` for why the matrix stays positive definite.

use nalgebra::DMatrix;

use super::belief::{self, Place};
use super::car::KnockTable;
use super::diagnostic::{Code, Problem};
use super::table::Table;
use crate::belief::sheet::{Correlation, MeasuredSpeeds, Origin, Sheet};
use crate::engine::CylinderGeometry;
use crate::engine::knock_map::KnockMap;
use crate::units::{Dimension, rpm};
use std::sync::Arc;

/// A posterior that does not belong to the numbers of its file.
pub const POSTERIOR_MISMATCH: Code = Code::new("posterior_mismatch");

/// The fit that left a file ended badly, or its pulls contradicted it.
pub const FIT_IN_DOUBT: Code = Code::new("fit_in_doubt");

/// Engine speeds that pulls may cover, rad/s.
const SPEEDS: std::ops::RangeInclusive<f64> = 10.0..=3000.0;

/// How far a fit may have moved the car from its knock table: sizes (relative), compression ratio (relative), mixture. A fit
/// keeps the table it began with, and its steps are smaller than this.
const TABLE_REACH: (f64, f64, f64) = (0.15, 0.01, 0.06);

/// The table as read.
#[derive(Debug, Clone)]
pub struct PosteriorTable {
    order: Vec<String>,
    lower: Vec<Vec<f64>>,
    knock: Option<KnockTable>,
    fitted: bool,
    /// What speaks against the fit.
    reservations: Vec<String>,
    measured: Option<MeasuredSpeeds>,
    reservations_place: Place,
    order_place: Place,
    rows_place: Place,
}

pub(super) fn read(table: &mut Table<'_>) -> Option<PosteriorTable> {
    let order = table.optional_texts("order");
    let rows = table.optional_texts("correlation");
    let knock = table.optional_subtable("knock_table", knock_table);
    let fitted = table.optional_boolean("fitted");
    let reservations = table.optional_texts("reservations").unwrap_or_default();
    let speed = |table: &mut Table<'_>, key: &'static str| {
        belief::plain(table, key, Dimension::RotationalSpeed, SPEEDS).map(rpm)
    };
    let (from, to) = (speed(table, "measured_from"), speed(table, "measured_to"));
    let measured = from.zip(to).map(|(from_rpm, to_rpm)| MeasuredSpeeds {
        from_rpm: from_rpm.min(to_rpm),
        to_rpm: to_rpm.max(from_rpm),
    });
    let lower = rows.and_then(|rows| {
        let read: Vec<_> = rows.iter().map(|row| numbers(table, row)).collect();
        read.into_iter().collect::<Option<Vec<_>>>()
    });
    let (has_order, has_rows) = (table.has("order"), table.has("correlation"));
    if has_order != has_rows {
        let key = if has_order { "order" } else { "correlation" };
        let message = "'order' and 'correlation' belong together";
        table.error(key, Code::KEY_MISSING, message, "both lists, or neither");
        return None;
    }
    if (has_order && order.is_none()) || (has_rows && lower.is_none()) {
        return None;
    }
    Some(PosteriorTable {
        order: order.unwrap_or_default(),
        lower: lower.unwrap_or_default(),
        knock,
        fitted: fitted.unwrap_or(true),
        reservations,
        measured,
        reservations_place: Place::of(table, "reservations"),
        order_place: Place::of(table, "order"),
        rows_place: Place::of(table, "correlation"),
    })
}

fn numbers(table: &mut Table<'_>, row: &str) -> Option<Vec<f64>> {
    let read: Option<Vec<f64>> = row
        .split_whitespace()
        .map(|word| word.parse().ok().filter(|x: &f64| x.is_finite()))
        .collect();
    if read.is_none() {
        let message = format!("'{row}' is not a row of correlations");
        let expected = "numbers from -1 to 1, separated by blanks";
        table.error("correlation", Code::NUMBER_INVALID, message, expected);
    }
    read
}

fn knock_table(table: &mut Table<'_>) -> Option<KnockTable> {
    let length = Dimension::Length;
    let bore = belief::required_plain(table, "bore", length, 0.03..=0.3);
    let stroke = belief::required_plain(table, "stroke", length, 0.02..=0.3);
    let rod = belief::required_plain(table, "rod_length", length, 0.03..=0.8);
    let ratio = belief::required_plain(table, "compression_ratio", Dimension::Ratio, 3.0..=25.0);
    let lambda = belief::required_plain(table, "lambda", Dimension::Ratio, 0.5..=1.5);
    Some(KnockTable {
        bore_m: bore?,
        stroke_m: stroke?,
        rod_m: rod?,
        compression_ratio: ratio?,
        lambda: lambda?,
    })
}

impl PosteriorTable {
    /// What speaks against the fit that left this file, a warning each.
    pub(super) fn warnings(&self) -> impl Iterator<Item = Problem> {
        let place = &self.reservations_place;
        self.reservations
            .iter()
            .map(|text| place.problem(FIT_IN_DOUBT, text.as_str()).warning())
    }

    /// Gives a sheet its correlations and its knock table.
    pub(super) fn apply(&self, sheet: &mut Sheet) -> Result<(), Box<Problem>> {
        let close = |a: f64, b: f64, share: f64| (a / b - 1.0).abs() <= share;
        let now = sheet.centre.car.engine.geometry.cylinder;
        let lambda = sheet.centre.car.tune.lambda;
        // A file edited by hand has left the old table behind; then the new one stays.
        let fits = |table: &&KnockTable| {
            close(table.bore_m, now.bore_m, TABLE_REACH.0)
                && close(table.stroke_m, now.stroke_m, TABLE_REACH.0)
                && close(table.rod_m, now.rod_m, TABLE_REACH.0)
                && close(
                    table.compression_ratio,
                    now.compression_ratio,
                    TABLE_REACH.1,
                )
                && (table.lambda - lambda).abs() <= TABLE_REACH.2
        };
        if let Some(table) = self.knock.as_ref().filter(fits) {
            let knock = &mut sheet.centre.car.engine.knock;
            knock.made_for.geometry = CylinderGeometry {
                bore_m: table.bore_m,
                stroke_m: table.stroke_m,
                rod_m: table.rod_m,
                compression_ratio: table.compression_ratio,
            };
            knock.made_for.lambda = table.lambda;
            knock.map = Arc::new(KnockMap::build(&knock.made_for));
        }
        sheet.measured = self.measured;
        if self.order.is_empty() {
            return Ok(());
        }
        let mismatch = |place: &Place, message: String, expected: String| {
            Err(Box::new(
                place
                    .problem(POSTERIOR_MISMATCH, message)
                    .expected(expected),
            ))
        };
        let free: Vec<&str> = sheet.free().map(|belief| belief.parameter.path).collect();
        let n = free.len();
        let at: Option<Vec<usize>> = free
            .iter()
            .map(|path| self.order.iter().position(|name| name == path))
            .collect();
        let Some(at) = at.filter(|_| self.order.len() == n) else {
            let message = "the posterior does not belong to the inputs of this file";
            let expected = format!("{n} names: {}", free.join(", "));
            return mismatch(&self.order_place, message.to_owned(), expected);
        };
        if self.lower.len() != n
            || self
                .lower
                .iter()
                .enumerate()
                .any(|(i, row)| row.len() != i + 1)
        {
            let message = format!("{} rows of correlations for {n} numbers", self.lower.len());
            let expected =
                "the lower triangle: one number in the first row, two in the second, and so on";
            return mismatch(&self.rows_place, message, expected.to_owned());
        }
        let entry = |i: usize, j: usize| self.lower[i.max(j)][i.min(j)];
        let matrix = DMatrix::from_fn(n, n, |i, j| entry(at[i], at[j]));
        match Correlation::new(matrix) {
            Ok(correlation) => sheet.correlation = Some(correlation),
            Err(error) => {
                let expected = "correlations as a fit wrote them";
                return mismatch(&self.rows_place, error.to_string(), expected.to_owned());
            }
        }
        if !self.fitted {
            return Ok(());
        }
        for belief in sheet
            .beliefs
            .iter_mut()
            .filter(|belief| !belief.prior.is_fixed())
        {
            belief.origin = Origin::Fitted;
        }
        Ok(())
    }
}

/// Decimals to which a correlation matrix may be rounded.
///
/// ```text
/// n · ½ · 10^−d ≤ λ_min / 100
/// ```
///
/// Rounding moves every entry by at most ½·10^−d, so it is a symmetric matrix of norm at most n·½·10^−d that is added, and no
/// eigenvalue moves by more than that (Weyl): with d decimals the smallest keeps 99 % of itself and stays positive. At
/// least four, at most seventeen (every digit a double has).
pub(super) fn decimals(matrix: &DMatrix<f64>) -> usize {
    let n = matrix.nrows() as f64;
    let least = matrix.clone().symmetric_eigenvalues().min();
    if least <= 0.0 {
        return 17;
    }
    let needed = (50.0 * n / least).log10().ceil().clamp(4.0, 17.0);
    (4..=17)
        .find(|d| f64::from(*d) >= needed)
        .map_or(17, |d| usize::try_from(d).unwrap_or(17))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding_to_the_decimals_given_keeps_a_nearly_singular_matrix_positive() {
        let matrix = DMatrix::from_row_slice(
            3,
            3,
            &[1.0, 0.99995, 0.3, 0.99995, 1.0, 0.301, 0.3, 0.301, 1.0],
        );
        let least = matrix.clone().symmetric_eigenvalues().min();
        let d = decimals(&matrix);
        let step = 10_f64.powi(-i32::try_from(d).expect("few"));
        let rounded = matrix.map(|x| (x / step).round() * step);
        let kept = rounded.symmetric_eigenvalues().min();
        assert!(
            (kept / least - 1.0).abs() < 0.01,
            "{d} decimals: {kept} against {least}"
        );
        assert_eq!(decimals(&DMatrix::identity(2, 2)), 4);
    }
}
