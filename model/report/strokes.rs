//! Power over engine speed as a chart of plain characters: one line per engine speed, bands as strokes.
//!
//! Before and after share one scale, so the eye sees what the work is worth and whether the bands touch. It
//! refuses to be read off to the digit; the table beside it does that.

use super::number::{Span, Units, What};
use serde::Serialize;

/// One line of the chart.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Row {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Power before, W.
    pub before: Option<Span>,
    /// Power after, W.
    pub after: Span,
}

/// Columns around the drawing: the engine speed, and a number at the end of the scale.
const MARGIN: usize = 16;
/// Widest drawing: strokes say no more on a wider one.
const MOST_COLUMNS: usize = 90;

/// Draws the rows, at most `width` columns wide: `:` and `o` for band and middle before, `=` and `#` after.
pub fn power_chart(rows: &[Row], units: Units, width: usize) -> String {
    let columns = width.saturating_sub(MARGIN).clamp(20, MOST_COLUMNS);
    let convert = |w: f64| units.convert(What::Power, w);
    let most = rows
        .iter()
        .map(|r| convert(r.after.p95).max(r.before.map_or(0.0, |b| convert(b.p95))))
        .fold(0.0, f64::max);
    let step = tick(most);
    if most <= 0.0 || !most.is_finite() {
        return String::new();
    }
    let top = step * (most / step).ceil();
    let column = |value: f64| {
        // Between 0 and `columns` by construction of `top`.
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "held in the drawing's width"
        )]
        let at = (value / top * columns as f64)
            .round()
            .clamp(0.0, columns as f64) as usize;
        at
    };
    let mut out = format!("{:>8}  ", units.symbol(What::Power));
    let mut scale = vec![' '; columns + 8];
    let mut value = 0.0;
    while value <= top * 1.0001 {
        for (i, c) in format!("{value:.0}").chars().enumerate() {
            scale[column(value) + i] = c;
        }
        value += step;
    }
    out.push_str(scale.iter().collect::<String>().trim_end());
    out.push('\n');
    for row in rows {
        let mut line = vec![' '; columns + 1];
        let mut draw = |span: &Span, band: char, middle: char| {
            let (low, high) = (column(convert(span.p5)), column(convert(span.p95)));
            line[low..=high].fill(band);
            line[column(convert(span.p50))] = middle;
        };
        if let Some(before) = &row.before {
            draw(before, ':', 'o');
        }
        draw(&row.after, '=', '#');
        let text: String = line.iter().collect();
        add!(out, "{:>8.0} |{}\n", row.rpm, text.trim_end());
    }
    out.push_str("          :o: before, its range and middle    =#= after\n");
    out
}

/// A round step that divides the scale into three to seven parts.
fn tick(most: f64) -> f64 {
    let decade = 10_f64.powf(most.max(1.0).log10().floor());
    [0.1, 0.2, 0.5, 1.0]
        .into_iter()
        .map(|s| s * decade)
        .find(|step| most / step <= 7.0)
        .unwrap_or(2.0 * decade)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_stand_where_their_values_are() {
        let flat = |w: f64| Span {
            p5: 0.9 * w,
            p50: w,
            p95: 1.1 * w,
        };
        let rows = [Row {
            rpm: 3000.0,
            before: Some(flat(100e3)),
            after: flat(200e3),
        }];
        let chart = power_chart(&rows, Units::Metric, 80);
        let line = chart.lines().nth(1).expect("one row");
        let at = |c: char| line.find(c).expect("drawn") as f64 - 10.0;
        // The scale ends at 250 kW: 100 kW is two fifths of 64 columns, 200 kW four fifths; half a column of rounding.
        assert!((at('o') - 25.6).abs() <= 0.5, "{chart}");
        assert!((at('#') - 51.2).abs() <= 0.5, "{chart}");
        assert!(line.contains(":o:") && line.contains("=#="), "{chart}");
    }

    #[test]
    fn no_rows_no_chart() {
        assert_eq!(power_chart(&[], Units::Metric, 80), "");
    }
}
