//! A number for each hour of the day of each month: months across, hours down, the stronger the shade the more.

use super::super::HourCell;
use super::{LETTER, LINE, NARROW, escaped, letters, wrapped};

const MONTHS: [&str; 12] = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
];
/// Shades from the least number to the most, and from which on letters are light.
const SHADES: [f64; 5] = [0.06, 0.2, 0.4, 0.66, 0.92];
const LIGHT_FROM: usize = 3;
const LEFT: f64 = 30.0;
const ROW: f64 = 19.0;

/// Draws the table; its height, nothing where no hour is known.
pub(super) fn draw(out: &mut String, name: &str, cells: &[HourCell], width: f64) -> f64 {
    let values = || cells.iter().map(|c| c.value);
    let (low, high) = (
        values().fold(f64::INFINITY, f64::min),
        values().fold(f64::NEG_INFINITY, f64::max),
    );
    if low > high {
        return 0.0;
    }
    let across = (width - LEFT) / 12.0;
    let names = wrapped(name, letters(width, LETTER));
    let top = LINE * (names.len() as f64 + 1.0) + 8.0;
    let decimals = usize::from(high - low < 10.0 && width > NARROW);
    for (row, name) in names.iter().enumerate() {
        add!(
            out,
            "<text class=\"name\" x=\"0\" y=\"{:.0}\">{}</text>\n",
            12.0 + LINE * row as f64,
            escaped(name)
        );
    }
    for (month, label) in MONTHS.iter().enumerate() {
        let label = if width > NARROW { label } else { &label[..1] };
        add!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{label}</text>\n",
            LEFT + across * (month as f64 + 0.5),
            top - 6.0
        );
    }
    let mut hours: Vec<u8> = cells.iter().map(|c| c.hour).collect();
    hours.sort_unstable();
    hours.dedup();
    for (row, hour) in hours.iter().enumerate() {
        add!(
            out,
            "<text class=\"small\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{hour}</text>\n",
            LEFT - 6.0,
            top + ROW * (row as f64 + 0.5) + 4.0
        );
    }
    for cell in cells {
        let share = (cell.value - low) / (high - low).max(f64::MIN_POSITIVE);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "held between 0 and 4"
        )]
        let shade = (share * SHADES.len() as f64).clamp(0.0, 4.0) as usize;
        let (x, y) = (
            LEFT + across * (f64::from(cell.month) - 1.0),
            top + ROW * hours.iter().position(|h| *h == cell.hour).unwrap_or(0) as f64,
        );
        let class = if shade >= LIGHT_FROM { "on" } else { "off" };
        add!(
            out,
            "<rect class=\"shade\" fill-opacity=\"{}\" x=\"{x:.1}\" y=\"{y:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\n\
             <text class=\"{class} small\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{:.decimals$}</text>\n",
            SHADES[shade],
            across - 1.0,
            ROW - 1.0,
            x + 0.5 * across,
            y + 0.5 * ROW + 4.0,
            cell.value
        );
    }
    top + ROW * hours.len() as f64 + 6.0
}
