//! Separator and decimal sign of a table.

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
}
