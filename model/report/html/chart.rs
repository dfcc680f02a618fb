//! Power over engine speed as a drawing: ribbons from the fifth to the ninety-fifth percentile, a line along the middle, names at its end.
//!
//! Before is dashed and lighter or darker than after, so that colour is not needed to tell them apart. Power starts at zero, so that a gain looks
//! as large as it is.

use super::super::chart::{Row, tick};
use super::super::number::{Span, Units, What};
use super::escaped;

/// Size of the drawing, and the room left at its left, right, top and bottom.
const SIZE: (f64, f64) = (720.0, 380.0);
const ROOM: (f64, f64, f64, f64) = (52.0, 70.0, 26.0, 44.0);
/// Least distance of two names, one above the other.
const APART: f64 = 16.0;

/// From rpm and shown power to the drawing.
struct Scale {
    rpm: (f64, f64),
    top: f64,
}

impl Scale {
    fn x(&self, rpm: f64) -> f64 {
        let (low, high) = self.rpm;
        ROOM.0 + (rpm - low) / (high - low).max(1.0) * (SIZE.0 - ROOM.0 - ROOM.1)
    }

    fn y(&self, power: f64) -> f64 {
        ROOM.2 + (1.0 - power / self.top) * (SIZE.1 - ROOM.2 - ROOM.3)
    }
}

/// A curve: engine speed with what is shown there.
type Course = Vec<(f64, Span)>;

/// Adds the chart; nothing where there is no power to draw.
pub(super) fn figure(out: &mut String, rows: &[Row], units: Units) {
    let shown = |span: Span| {
        let at = |w: f64| units.convert(What::Power, w);
        Span {
            p5: at(span.p5),
            p50: at(span.p50),
            p95: at(span.p95),
        }
    };
    let after: Course = rows.iter().map(|r| (r.rpm, shown(r.after))).collect();
    let before: Course = rows
        .iter()
        .filter_map(|r| Some((r.rpm, shown(r.before?))))
        .collect();
    let most = after
        .iter()
        .chain(&before)
        .map(|(_, span)| span.p95)
        .fold(0.0, f64::max);
    let (Some((first, _)), Some((last, _))) = (after.first(), after.last()) else {
        return;
    };
    if most <= 0.0 || !most.is_finite() {
        return;
    }
    let step = tick(most);
    let scale = Scale {
        rpm: (*first, *last),
        top: step * (most / step).ceil(),
    };
    let symbol = escaped(units.symbol(What::Power));
    let compared = if before.is_empty() {
        ""
    } else {
        ", before and after"
    };
    add!(
        out,
        "<figure>\n<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Power in {symbol} over engine speed{compared}; the numbers stand in the \
         table\">\n",
        SIZE.0,
        SIZE.1
    );
    grid(out, &scale, step, &symbol);
    let named = !before.is_empty();
    for (course, class) in [(&before, "before"), (&after, "after")] {
        ribbon(out, course, class, &scale);
    }
    for (course, class) in [(&before, "before"), (&after, "after")] {
        line(out, course, class, &scale);
    }
    if named {
        names(out, &before, &after, &scale);
    }
    add!(
        out,
        "</svg>\n<figcaption>Power in {symbol} over engine speed in rpm. The line is the middle; nine times in ten the reading lies in the ribbon.\
         </figcaption>\n</figure>\n"
    );
}

fn grid(out: &mut String, scale: &Scale, step: f64, symbol: &str) {
    let (left, right) = (ROOM.0, SIZE.0 - ROOM.1);
    let (top, bottom) = (ROOM.2, SIZE.1 - ROOM.3);
    let mut value = 0.0;
    while value <= scale.top * 1.0001 {
        let y = scale.y(value);
        add!(
            out,
            "<path class=\"grid\" d=\"M{left:.0} {y:.1}H{right:.0}\"/>\n\
             <text x=\"{:.0}\" y=\"{:.1}\" text-anchor=\"end\">{value:.0}</text>\n",
            left - 8.0,
            y + 4.5
        );
        value += step;
    }
    add!(
        out,
        "<text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"end\">{symbol}</text>\n",
        left - 8.0,
        top - 14.0
    );
    let (low, high) = scale.rpm;
    let step = tick(high - low).max(1.0);
    let mut rpm = step * (low / step).ceil();
    while rpm <= high {
        let x = scale.x(rpm);
        add!(
            out,
            "<path class=\"grid\" d=\"M{x:.1} {bottom:.0}v5\"/>\n\
             <text x=\"{x:.1}\" y=\"{:.0}\" text-anchor=\"middle\">{rpm:.0}</text>\n",
            bottom + 20.0
        );
        rpm += step;
    }
    add!(
        out,
        "<text x=\"{right:.0}\" y=\"{:.0}\" text-anchor=\"end\">rpm</text>\n",
        bottom + 38.0
    );
}

fn ribbon(out: &mut String, course: &Course, class: &str, scale: &Scale) {
    if course.len() < 2 {
        return;
    }
    let upper = course.iter().map(|(rpm, span)| (*rpm, span.p95));
    let lower = course.iter().rev().map(|(rpm, span)| (*rpm, span.p5));
    let outline = path(upper.chain(lower), scale);
    add!(out, "<path class=\"ribbon {class}\" d=\"{outline}Z\"/>\n");
}

fn line(out: &mut String, course: &Course, class: &str, scale: &Scale) {
    if course.len() < 2 {
        return;
    }
    let middle = path(course.iter().map(|(rpm, span)| (*rpm, span.p50)), scale);
    add!(out, "<path class=\"line {class}\" d=\"{middle}\"/>\n");
}

fn path(points: impl Iterator<Item = (f64, f64)>, scale: &Scale) -> String {
    let mut out = String::new();
    for (number, (rpm, power)) in points.enumerate() {
        let pen = if number == 0 { 'M' } else { 'L' };
        add!(out, "{pen}{:.1} {:.1}", scale.x(rpm), scale.y(power));
    }
    out
}

/// The names at the ends of the lines, pushed apart where the lines end close together.
fn names(out: &mut String, before: &Course, after: &Course, scale: &Scale) {
    let end = |course: &Course| {
        course
            .last()
            .map(|(rpm, span)| (scale.x(*rpm), scale.y(span.p50)))
    };
    let (Some((x, y)), Some((at_x, at_y))) = (end(after), end(before)) else {
        return;
    };
    let push = ((APART - (y - at_y).abs()) / 2.0).max(0.0);
    let way = if y <= at_y { -push } else { push };
    for (name, x, y) in [("after", x, y + way), ("before", at_x, at_y - way)] {
        add!(
            out,
            "<text class=\"{name}\" x=\"{:.1}\" y=\"{:.1}\">{name}</text>\n",
            x + 8.0,
            y + 4.5
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat(w: f64) -> Span {
        Span {
            p5: 0.9 * w,
            p50: w,
            p95: 1.1 * w,
        }
    }

    #[test]
    fn lines_stand_where_their_values_are() {
        let row = |rpm| Row {
            rpm,
            before: None,
            after: flat(200e3),
        };
        let mut out = String::new();
        figure(&mut out, &[row(3000.0), row(5000.0)], Units::Metric);
        // 220 kW end the ribbon, so the scale ends at 250 kW, as in the text's chart; it runs over 310 from the top at 26, and 200 kW lie a fifth
        // of it below the top.
        let expected = "class=\"line after\" d=\"M52.0 88.0L650.0 88.0\"";
        assert!(out.contains(expected), "{expected} in {out}");
        assert!(!out.contains("before"), "{out}");
    }

    #[test]
    fn names_of_lines_that_end_together_do_not_cover_each_other() {
        let row = |rpm| Row {
            rpm,
            before: Some(flat(100e3)),
            after: flat(101e3),
        };
        let mut out = String::new();
        figure(&mut out, &[row(3000.0), row(5000.0)], Units::Shop);
        let y = |name: &str| {
            let (_, rest) = out
                .split_once(&format!("<text class=\"{name}\""))
                .expect("named");
            let (_, rest) = rest.split_once("y=\"").expect("a place");
            let (number, _) = rest.split_once('"').expect("a number");
            number.parse::<f64>().expect("a number")
        };
        // Printed to a tenth each.
        assert!(y("before") - y("after") >= APART - 0.2, "{out}");
    }

    #[test]
    fn no_power_no_figure() {
        let mut out = String::new();
        figure(&mut out, &[], Units::Metric);
        assert_eq!(out, "");
    }
}
