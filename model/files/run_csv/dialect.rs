//! Separator and decimal sign of a recording, decided from evidence only.

/// What marks decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecimalMark {
    /// 0.5
    Point,
    /// 0,5
    Comma,
}

/// The separator of a header line: whichever of tab, semicolon and comma divides it most often, outside quotes and
/// brackets. On a tie the rarer sign in running text wins: tab, then semicolon.
pub(in crate::files) fn separator(header: &str) -> u8 {
    let (mut tabs, mut semicolons, mut commas) = (0, 0, 0);
    let (mut quoted, mut depth) = (false, 0_u32);
    for letter in header.chars() {
        match letter {
            '"' => quoted = !quoted,
            _ if quoted => {}
            '(' | '[' => depth += 1,
            ')' | ']' => depth = depth.saturating_sub(1),
            '\t' => tabs += 1,
            ';' => semicolons += 1,
            ',' if depth == 0 => commas += 1,
            _ => {}
        }
    }
    if tabs > 0 && tabs >= semicolons && tabs >= commas {
        b'\t'
    } else if semicolons > 0 && semicolons >= commas {
        b';'
    } else {
        b','
    }
}

/// What was seen of points and commas inside numbers.
#[derive(Debug, Default)]
pub(super) struct MarksSeen {
    /// A number with a point.
    pub(super) point: bool,
    /// A number with a comma: its line and text.
    pub(super) comma: Option<(usize, String)>,
    /// A comma that cannot group thousands, so that all commas are decimal.
    pub(super) comma_proven: bool,
}

impl MarksSeen {
    pub(super) fn note_comma(&mut self, number: &str, line: usize) {
        if self.comma.is_none() {
            self.comma = Some((line, number.to_owned()));
        }
        self.comma_proven = self.comma_proven || !may_group_thousands(number);
    }
}

/// Whether the commas of a number sit where thousands are grouped: `6,500` but neither `6,50` nor `0,125`.
fn may_group_thousands(number: &str) -> bool {
    let mut groups = number.trim_start_matches(['+', '-']).split(',');
    let first = groups.next().unwrap_or_default();
    let leads = (1..=3).contains(&first.len())
        && !first.starts_with('0')
        && first.bytes().all(|b| b.is_ascii_digit());
    leads && groups.all(|group| group.len() == 3 && group.bytes().all(|b| b.is_ascii_digit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_separator_divides_the_header() {
        for (header, expected) in [
            ("time_s,engine_rpm,wheel_power_kw", b','),
            ("time (s);power, wheel (kW);engine (rpm)", b';'),
            ("time (s)\tengine (rpm)", b'\t'),
            ("time_s;\"a,b,c,d\"", b';'),
            ("time_s", b','),
        ] {
            assert_eq!(separator(header), expected, "{header}");
        }
    }

    #[test]
    fn grouping_is_told_from_decimals() {
        for (number, grouping) in [
            ("6,500", true),
            ("-6,500", true),
            ("1,234,567", true),
            ("6,50", false),
            ("0,125", false),
            ("1234,567", false),
        ] {
            assert_eq!(may_group_thousands(number), grouping, "{number}");
        }
    }
}
