//! Header cells as words: brackets, separators, and the words that tell gauge from absolute.

use super::PressureReference;

/// `name (unit)` and `name [unit]`, the brackets at the end.
pub(in crate::files) fn split_bracket(cell: &str) -> (&str, Option<&str>) {
    let cell = cell.trim();
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some(inner) = cell.strip_suffix(close)
            && let Some(at) = inner.find(open)
        {
            let unit = inner[at + 1..].trim();
            return (cell[..at].trim(), (!unit.is_empty()).then_some(unit));
        }
    }
    (cell, None)
}

/// Lower-case words; a unit's own signs stay in their word.
pub(in crate::files) fn words_of(name: &str) -> Vec<String> {
    name.to_lowercase()
        .split(|letter: char| {
            letter.is_whitespace() || matches!(letter, '_' | '-' | '.' | ',' | ':')
        })
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

/// Takes the words for gauge and absolute out of the name of a pressure.
pub(super) fn take_reference(words: &mut Vec<String>) -> Option<PressureReference> {
    let is_pressure =
        |word: &String| matches!(word.as_str(), "pressure" | "press" | "map" | "boost");
    if !words.iter().any(is_pressure) {
        return None;
    }
    let found = words.iter().find_map(|word| reference_word(word));
    words.retain(|word| reference_word(word).is_none());
    found
}

pub(super) fn reference_word(word: &str) -> Option<PressureReference> {
    match word.trim_matches(['(', ')', '[', ']']) {
        "abs" | "absolute" => Some(PressureReference::Absolute),
        "gauge" => Some(PressureReference::Gauge),
        _ => None,
    }
}

/// The ways trailing words may spell one unit: `m_s` is m/s, `n_m` is N m.
pub(in crate::files) fn spellings(suffix: &[&str]) -> Vec<String> {
    if suffix.len() < 2 {
        return suffix.iter().map(|&word| word.to_owned()).collect();
    }
    vec![suffix.join("/"), suffix.join(" "), suffix.join("")]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brackets_at_the_end_hold_the_unit() {
        for (cell, name, unit) in [
            ("wheel power (kW)", "wheel power", Some("kW")),
            ("wheel power[kW] ", "wheel power", Some("kW")),
            ("cp (J/(kg K))", "cp", Some("J/(kg K)")),
            ("wheel power ()", "wheel power", None),
            ("wheel_power_kw", "wheel_power_kw", None),
        ] {
            assert_eq!(split_bracket(cell), (name, unit));
        }
    }

    #[test]
    fn only_a_pressure_has_a_reference() {
        let mut words = words_of("Manifold absolute-pressure_kPa");
        assert_eq!(
            take_reference(&mut words),
            Some(PressureReference::Absolute)
        );
        assert_eq!(words, ["manifold", "pressure", "kpa"]);
        let mut words = words_of("wheel_power_abs");
        assert_eq!(take_reference(&mut words), None);
        assert_eq!(words.len(), 3);
    }
}
