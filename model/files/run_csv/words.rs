//! Header cells as words: brackets, separators, factors, and the words that tell gauge from absolute.

use super::PressureReference;
use super::factor::{Factor, before_unit, is_odd_factor, multiplier};
use super::header::is_unit;
use super::lexicon::fold;

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

/// A header cell taken apart.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Head {
    /// Words of the name, as written but for case.
    pub(super) tokens: Vec<String>,
    /// The same, parted where small letters meet capitals too.
    pub(super) humps: Vec<String>,
    /// A unit in brackets.
    pub(super) unit: Option<String>,
    /// What the unit in brackets says a pressure is measured against, apart from the unit: `MAP (kPa) (abs)`.
    pub(super) reference: Option<PressureReference>,
    /// Taken times each number: `RPM x1000`.
    pub(super) scale: f64,
    /// Whether its inverse may be meant.
    pub(super) either: bool,
    /// Air over fuel that counts as lambda 1, where stated: `AFR (14.7)`.
    pub(super) stoichiometric: Option<f64>,
}

/// Takes a header cell apart: brackets wherever they stand, a factor, a stoichiometric ratio.
pub(super) fn head(cell: &str) -> Head {
    let mut head = Head {
        scale: 1.0,
        ..Head::default()
    };
    let (stated, ratio) = stoichiometric(cell);
    head.stoichiometric = ratio;
    let (outside, inside) = brackets(&stated);
    let mut name = outside;
    for bracket in inside {
        let bracket = bracket.trim();
        let (unit, times) = multiplier(bracket);
        let reference = reference_word(&unit.to_lowercase());
        if head.unit.is_none() && is_unit(unit) {
            head.unit = Some(unit.trim().to_owned());
            head.take(times);
        } else if times.is_some() && unit.trim().is_empty() {
            head.take(times);
        } else if reference.is_some() && head.reference.is_none() {
            head.reference = reference;
        } else if head.unit.is_none() && (looks_like_unit(unit) || is_odd_factor(bracket)) {
            head.unit = Some(bracket.to_owned());
        } else if !is_clock_form(bracket) {
            name.push(' ');
            name.push_str(bracket);
        }
    }
    let (name, times) = multiplier(&name);
    head.take(times);
    let (name, times, odd) = before_unit(name);
    head.take(times);
    head.unit = head.unit.or(odd);
    head.tokens = words_of(&name);
    head.humps = words_of(&humped(&name));
    head
}

impl Head {
    fn take(&mut self, factor: Option<Factor>) {
        if let Some(factor) = factor {
            self.scale *= factor.times;
            self.either |= factor.either;
        }
    }
}

/// How a time of day is written, which is no unit: `mm:ss.ss`.
fn is_clock_form(text: &str) -> bool {
    text.contains(':') && text.chars().all(|c| "hHmMsSfz:.,0".contains(c))
}

/// A short text of letters in brackets that is near a unit is one misspelt.
fn looks_like_unit(text: &str) -> bool {
    use crate::units::{UNITS, nearest_spelling};
    let dimensions: Vec<_> = UNITS.iter().map(|unit| unit.dimension).collect();
    let short = (2..=5).contains(&text.trim().chars().count());
    short
        && text.contains(|c: char| c.is_uppercase())
        && text.contains(|c: char| c.is_lowercase())
        && nearest_spelling(text, &dimensions).is_some()
}

/// The text outside all brackets, and each text within; a bracket within a unit stays: `J/(kg K)`, `kPa(a)`.
fn brackets(cell: &str) -> (String, Vec<String>) {
    let (mut outside, mut inside) = (String::new(), Vec::new());
    let mut rest = cell;
    while let Some(at) = rest.find(['(', '[', '{', '<']) {
        let open = rest[at..].chars().next().unwrap_or('(');
        let close = match open {
            '(' => ')',
            '[' => ']',
            '{' => '}',
            _ => '>',
        };
        let body = &rest[at + 1..];
        let mut depth = 0;
        let end = body.char_indices().find(|(_, letter)| {
            if *letter == open {
                depth += 1;
            } else if *letter == close {
                depth -= 1;
            }
            depth < 0
        });
        let Some((end, _)) = end else {
            break;
        };
        outside.push_str(&rest[..at]);
        outside.push(' ');
        inside.push(body[..end].to_owned());
        rest = &body[end + close.len_utf8()..];
    }
    outside.push_str(rest);
    (outside, inside)
}

/// Blanks where small letters meet capitals.
fn humped(name: &str) -> String {
    let mut out = String::with_capacity(name.len() + 4);
    let mut before: Option<char> = None;
    let mut letters = name.chars().peekable();
    while let Some(letter) = letters.next() {
        let next_small = letters.peek().is_some_and(|c| c.is_lowercase());
        if letter.is_uppercase()
            && before.is_some_and(|b| {
                b.is_lowercase() || b.is_ascii_digit() || (b.is_uppercase() && next_small)
            })
        {
            out.push(' ');
        }
        out.push(letter);
        before = Some(letter);
    }
    out
}

/// The text without a stoichiometric ratio, and the ratio: a number from 5.5 to 16 in the name of a mixture, or the fuel's word. Of petrol 14.7, of its
/// blend with 85 % ethanol 9.8: common practice of mixture gauges, no source.
fn stoichiometric(cell: &str) -> (String, Option<f64>) {
    let folded = fold(cell);
    if !["afr", "air", "a/f", "mixture", "lambda"]
        .iter()
        .any(|word| folded.contains(word))
    {
        return (cell.to_owned(), None);
    }
    let mut kept = Vec::new();
    let mut ratio = None;
    for word in cell.split_inclusive([' ', '(', ')', '[', ']', '_', '=', '@']) {
        let bare = word.trim_matches([' ', '(', ')', '[', ']', '_', '=', '@']);
        let number = bare
            .trim_end_matches(":1")
            .replace(',', ".")
            .parse::<f64>()
            .ok();
        let number = number.filter(|n| (5.5..=16.0).contains(n) && bare.contains(['.', ',']));
        let fuel = match bare.to_lowercase().as_str() {
            "petrol" | "gasoline" | "gas" | "benzin" | "essence" => Some(14.7),
            "e85" => Some(9.8),
            "methanol" => Some(6.46),
            "stoich" | "stoichiometric" | "st" | ":1" => Some(f64::NAN),
            _ => None,
        };
        match number.or(fuel) {
            Some(found) => {
                ratio = if found.is_nan() { ratio } else { Some(found) };
                // The brackets stay.
                kept.push(word.replace(bare, " "));
            }
            None => kept.push(word.to_owned()),
        }
    }
    match ratio {
        Some(_) => (
            kept.concat()
                .replace("()", " ")
                .replace("( )", " ")
                .replace("[ ]", " "),
            ratio,
        ),
        None => (cell.to_owned(), None),
    }
}

/// The words without those for gauge and absolute, and what they say.
pub(super) fn take_reference(words: &[String]) -> (Vec<String>, Option<PressureReference>) {
    let found = words.iter().find_map(|word| reference_word(word));
    let kept = words.iter().filter(|word| reference_word(word).is_none());
    (kept.cloned().collect(), found)
}

pub(super) fn reference_word(word: &str) -> Option<PressureReference> {
    match fold(word.trim().trim_matches(['(', ')', '[', ']'])).as_str() {
        "abs" | "absolute" | "absolut" | "absolue" | "absolu" | "absoluta" | "assoluta"
        | "assoluto" | "a" => Some(PressureReference::Absolute),
        "gauge" | "rel" | "relative" | "relativ" | "relatif" | "relativa" | "g" => {
            Some(PressureReference::Gauge)
        }
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
    fn a_header_is_taken_apart() {
        let unit = |cell: &str| head(cell).unit;
        assert_eq!(unit("Power [kW] (corrected)").as_deref(), Some("kW"));
        assert_eq!(
            head("Power [kW] (corrected)").tokens,
            ["power", "corrected"]
        );
        assert_eq!(unit("Kraft (N)").as_deref(), Some("N"));
        assert_eq!(head("RPM x1000").scale, 1000.0);
        assert_eq!(head("n (1000/min)").scale, 1000.0);
        assert_eq!(unit("n (1000/min)").as_deref(), Some("/min"));
        assert_eq!(head("Temp 100").scale, 1.0);
        assert_eq!(head("AFR (14.7:1)").stoichiometric, Some(14.7));
        assert_eq!(head("AFR petrol").tokens, ["afr"]);
        assert_eq!(head("WheelPowerKW").humps, ["wheel", "power", "kw"]);
        assert_eq!(
            head("MAP (kPa) (abs)").reference,
            Some(PressureReference::Absolute)
        );
    }

    #[test]
    fn words_for_gauge_and_absolute_are_taken_out() {
        let words = words_of("Manifold absolute-pressure_kPa");
        let (kept, reference) = take_reference(&words);
        assert_eq!(reference, Some(PressureReference::Absolute));
        assert_eq!(kept, ["manifold", "pressure", "kpa"]);
    }
}
