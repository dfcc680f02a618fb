//! A bar for each row, its name and its figure above it.

use super::super::Bar;
use super::scale::Scale;
use super::{LINE, escaped, letters, width_of, wrapped};

/// Height of a bar, and below it.
const BAR: f64 = 12.0;
const GAP: f64 = 12.0;
const EDGE: f64 = 14.0;

/// Draws the bars; their height, nothing where there is none.
pub(super) fn draw(out: &mut String, axis: &str, rows: &[Bar], width: f64) -> f64 {
    let ends = rows.iter().flat_map(|row| [row.from, row.to]);
    let (low, high) = ends
        .filter(|end| end.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), end| {
            (low.min(end), high.max(end))
        });
    if low > high {
        return 0.0;
    }
    let parts = ((width - 2.0 * EDGE) / 75.0).clamp(3.0, 10.0);
    let scale = Scale::up((low, high), false, parts, (EDGE, width - EDGE));
    let mut body = String::new();
    let mut y = 0.0;
    for row in rows {
        let room = letters(width - width_of(&row.text) - 24.0, 7.0);
        let names = wrapped(&row.name, room);
        for (line, name) in names.iter().enumerate() {
            add!(
                body,
                "<text class=\"row halo\" x=\"{EDGE}\" y=\"{:.1}\">{}</text>\n",
                y + 12.0 + LINE * line as f64,
                escaped(name)
            );
        }
        add!(
            body,
            "<text class=\"name halo\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>\n",
            width - EDGE,
            y + 12.0,
            escaped(&row.text)
        );
        y += LINE * names.len().max(1) as f64 + 2.0;
        let (from, to) = (scale.at(row.from), scale.at(row.to));
        add!(
            body,
            "<rect class=\"{}\" x=\"{from:.1}\" y=\"{y:.1}\" width=\"{:.1}\" height=\"{BAR}\" rx=\"2\"/>\n",
            row.pen.class(),
            (to - from).max(1.5)
        );
        if let Some(middle) = row.middle {
            let x = scale.at(middle);
            add!(
                body,
                "<path class=\"stroke\" d=\"M{x:.1} {y:.1}v{BAR}\"/>\n"
            );
        }
        y += BAR + GAP;
    }
    for tick in scale.ticks() {
        let x = scale.at(tick);
        add!(
            out,
            "<path class=\"grid\" d=\"M{x:.1} 0V{y:.1}\"/>\n<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>\n",
            y + 15.0,
            scale.label(tick)
        );
    }
    add!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>\n{body}",
        width - EDGE,
        y + 33.0,
        escaped(axis)
    );
    y + 42.0
}
