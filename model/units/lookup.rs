//! From a written unit to its row in the table, for an expected dimension.
//!
//! Tolerant of the trade's many ways to write the same thing (`lb-ft`, `LB FT`, `kg·m²`), strict where two readings
//! exist. It refuses to pick between candidates; the error carries them so that the caller can ask.

use std::fmt;
use std::sync::LazyLock;

use super::table::AMBIGUOUS;
use super::{Dimension, UNITS, Unit};

/// Why a written unit was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum LookupError {
    /// More than one reading; the candidates say how to write each.
    Ambiguous {
        /// As written in the file.
        written: String,
        /// Spellings that would be understood.
        candidates: Vec<String>,
    },
    /// A pressure unit that does not say against what it is measured.
    GaugeOrAbsolute {
        /// As written in the file.
        written: String,
        /// Spellings that would be understood.
        candidates: Vec<String>,
    },
    /// Only the case of the letters separates milli from mega.
    CaseMatters {
        /// As written in the file.
        written: String,
        /// The unit whose letters these are.
        candidate: &'static str,
    },
    /// A known unit of something else.
    WrongDimension {
        /// As written in the file.
        written: String,
        /// What the unit measures.
        measures: Dimension,
        /// What was asked for.
        expected: Vec<Dimension>,
    },
    /// Not in the table at all.
    Unknown {
        /// As written in the file.
        written: String,
        /// The closest accepted spelling, when one is close.
        nearest: Option<&'static str>,
        /// What was asked for.
        expected: Vec<Dimension>,
    },
}

impl LookupError {
    /// The units that would have been taken, for "expected: ..." lines.
    pub fn candidates(&self) -> String {
        match self {
            Self::Ambiguous { candidates, .. } | Self::GaugeOrAbsolute { candidates, .. } => {
                candidates.join(" or ")
            }
            Self::CaseMatters { candidate, .. } => (*candidate).to_owned(),
            Self::WrongDimension { expected, .. } | Self::Unknown { expected, .. } => {
                accepted_any(expected)
            }
        }
    }
}

impl fmt::Display for LookupError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ambiguous {
                written,
                candidates,
            } => {
                write!(
                    f,
                    "the unit '{written}' has more than one meaning: {}?",
                    candidates.join(" or ")
                )
            }
            Self::GaugeOrAbsolute {
                written,
                candidates,
            } => {
                write!(
                    f,
                    "'{written}' does not say gauge or absolute: {}?",
                    candidates.join(" or ")
                )
            }
            Self::CaseMatters { written, candidate } => write!(
                f,
                "'{written}': the case of the letters separates milli from mega; is '{candidate}' meant?"
            ),
            Self::WrongDimension {
                written,
                measures,
                expected,
            } => {
                write!(
                    f,
                    "'{written}' is {}, but {} is expected",
                    measures.words(),
                    words_of(expected)
                )
            }
            Self::Unknown {
                written,
                nearest,
                expected,
            } => {
                write!(
                    f,
                    "'{written}' is not a known unit for {}",
                    words_of(expected)
                )?;
                match nearest {
                    Some(nearest) => write!(f, "; did you mean '{nearest}'?"),
                    None => Ok(()),
                }
            }
        }
    }
}

impl std::error::Error for LookupError {}

/// One spelling of one unit, tidied once.
struct Spelling {
    unit: &'static Unit,
    exact: String,
    folded: String,
}

static SPELLINGS: LazyLock<Vec<Spelling>> = LazyLock::new(|| {
    UNITS
        .iter()
        .flat_map(|unit| {
            std::iter::once(&unit.symbol)
                .chain(unit.spellings)
                .map(move |spelling| {
                    let exact = tidy(spelling);
                    Spelling {
                        unit,
                        folded: exact.to_lowercase(),
                        exact,
                    }
                })
        })
        .collect()
});

/// The unit written, read as a unit of `dimension`.
///
/// ```
/// use pullcast::units::{Dimension, find};
/// assert_eq!(find("lb-ft", Dimension::Torque).expect("common").symbol, "lb ft");
/// assert!(find("psi", Dimension::GaugePressure).is_err(), "gauge or absolute must be said");
/// ```
pub fn find(written: &str, dimension: Dimension) -> Result<&'static Unit, LookupError> {
    find_any(written, &[dimension])
}

/// The unit written, read as a unit of the first of `dimensions` that has it.
pub fn find_any(written: &str, dimensions: &[Dimension]) -> Result<&'static Unit, LookupError> {
    let exact = tidy(written);
    let folded = exact.to_lowercase();
    let shown = || written.trim().to_owned();

    for &dimension in dimensions {
        if let Some((_, _, candidates)) = AMBIGUOUS
            .iter()
            .find(|(of, spelling, _)| *of == dimension && *spelling == folded)
        {
            let candidates = candidates.iter().map(|&symbol| symbol.to_owned()).collect();
            return Err(LookupError::Ambiguous {
                written: shown(),
                candidates,
            });
        }
        match read_as(&exact, &folded, dimension) {
            Reading::Unit(unit) => return Ok(unit),
            Reading::WrongCase(candidate) => {
                return Err(LookupError::CaseMatters {
                    written: shown(),
                    candidate,
                });
            }
            Reading::None => {}
        }
    }
    if dimensions
        .iter()
        .any(|of| matches!(of, Dimension::Pressure | Dimension::GaugePressure))
        && let Reading::Unit(unit) = read_as(&exact, &folded, Dimension::PressureDifference)
    {
        let candidates = vec![
            format!("{} gauge", unit.symbol),
            format!("{} absolute", unit.symbol),
        ];
        return Err(LookupError::GaugeOrAbsolute {
            written: shown(),
            candidates,
        });
    }
    let expected = dimensions.to_vec();
    let elsewhere = SPELLINGS.iter().find(|s| s.exact == exact).or_else(|| {
        SPELLINGS
            .iter()
            .find(|s| s.folded == folded && !s.unit.case_matters)
    });
    Err(match elsewhere {
        Some(s) => LookupError::WrongDimension {
            written: shown(),
            measures: s.unit.dimension,
            expected,
        },
        None => LookupError::Unknown {
            written: shown(),
            nearest: nearest_spelling(written, dimensions),
            expected,
        },
    })
}

enum Reading {
    Unit(&'static Unit),
    WrongCase(&'static str),
    None,
}

fn read_as(exact: &str, folded: &str, dimension: Dimension) -> Reading {
    let mut of_dimension = SPELLINGS.iter().filter(|s| s.unit.dimension == dimension);
    if let Some(s) = of_dimension.clone().find(|s| s.exact == exact) {
        return Reading::Unit(s.unit);
    }
    match of_dimension.find(|s| s.folded == folded) {
        Some(s) if s.unit.case_matters => Reading::WrongCase(s.unit.symbol),
        Some(s) => Reading::Unit(s.unit),
        None => Reading::None,
    }
}

/// The symbols accepted for a dimension, as a list for messages.
pub fn accepted(dimension: Dimension) -> String {
    let symbols: Vec<&str> = UNITS
        .iter()
        .filter(|unit| unit.dimension == dimension)
        .map(|unit| unit.symbol)
        .collect();
    match dimension {
        Dimension::Ratio => "a plain number or %".to_owned(),
        _ => symbols.join(", "),
    }
}

fn accepted_any(dimensions: &[Dimension]) -> String {
    dimensions
        .iter()
        .map(|&of| accepted(of))
        .collect::<Vec<_>>()
        .join(", ")
}

fn words_of(dimensions: &[Dimension]) -> String {
    dimensions
        .iter()
        .map(|of| of.words())
        .collect::<Vec<_>>()
        .join(" or ")
}

/// The accepted spelling closest to what was written, when a slip of the finger explains the difference.
pub fn nearest_spelling(written: &str, dimensions: &[Dimension]) -> Option<&'static str> {
    let folded = tidy(written).to_lowercase();
    let letters = folded.chars().count();
    // One slip changes the length by one at most; the distance itself takes much longer, and a file may ask ten thousand times.
    let near = |s: &&Spelling| s.folded.chars().count().abs_diff(letters) <= 1;
    SPELLINGS
        .iter()
        .filter(|s| dimensions.contains(&s.unit.dimension))
        .filter(near)
        .map(|s| {
            (
                strsim::damerau_levenshtein(&s.folded, &folded),
                s.unit.symbol,
            )
        })
        .filter(|(distance, _)| *distance <= 1 && letters > 1)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, symbol)| symbol)
}

/// One way to write what the trade writes in many: see [`UNITS`].
fn tidy(written: &str) -> String {
    let trimmed = written.trim();
    if trimmed == "-" {
        return trimmed.to_owned();
    }
    let mut tidied = String::with_capacity(trimmed.len());
    for letter in trimmed.chars() {
        match letter {
            '²' => tidied.push('2'),
            '³' => tidied.push('3'),
            '¹' => tidied.push('1'),
            '\u{2126}' | '\u{3a9}' => tidied.push_str("ohm"),
            'º' | '˚' => tidied.push('°'),
            '℃' => tidied.push_str("°C"),
            '℉' => tidied.push_str("°F"),
            '^' => {}
            '·' | '⋅' | '•' | '*' | '×' | '-' | '⁻' | '−' | '.' | '_' => tidied.push(' '),
            other if other.is_whitespace() => tidied.push(' '),
            other => tidied.push(other),
        }
    }
    let spaced = tidied
        .replace('/', " / ")
        .replace(" per ", " / ")
        .replace('°', " °");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    words
        .join(" ")
        .replace(" / ", "/")
        .replace("/ ", "/")
        .replace("° ", "°")
        .replace("( ", "(")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_trades_spellings_reach_the_same_unit() {
        for (dimension, symbol, spellings) in [
            (
                Dimension::Torque,
                "lb ft",
                vec![
                    "lb-ft", "lbf ft", "ft lb", "ft-lb", "LB FT", "lbf·ft", "ft.lbf",
                ],
            ),
            (
                Dimension::Torque,
                "N m",
                vec!["Nm", "N m", "N·m", "N.m", "N-m", "nm", "NM"],
            ),
            (
                Dimension::Inertia,
                "kg m2",
                vec!["kg m2", "kg·m²", "kg m^2", "kgm2", "kg*m^2", "kg-m2"],
            ),
            (
                Dimension::RotationalSpeed,
                "rpm",
                vec!["rpm", "RPM", "1/min", "rev/min", "min⁻¹", "min-1"],
            ),
            (
                Dimension::Temperature,
                "°C",
                vec!["C", "°C", "degC", "deg C", "ºC", "° C", "℃", "c"],
            ),
            (
                Dimension::GaugePressure,
                "psi gauge",
                vec!["psig", "psi g", "PSI gauge", "psi(g)"],
            ),
            (Dimension::Power, "PS", vec!["PS", "ps", "metric hp"]),
            (Dimension::Volume, "cm3", vec!["cc", "cm³", "ccm", "mL"]),
            (
                Dimension::ThermalConductance,
                "kW/K",
                vec!["kW/K", "kw / k", "kW per K", "kW/°C"],
            ),
            (Dimension::Resistance, "mohm", vec!["mΩ", "mohm"]),
        ] {
            for spelling in spellings {
                assert_eq!(
                    find(spelling, dimension).map(|u| u.symbol),
                    Ok(symbol),
                    "{spelling}"
                );
            }
        }
    }

    #[test]
    fn ambiguous_units_come_back_with_candidates() {
        let gallons = find("gal", Dimension::Volume).expect_err("US or imperial");
        assert_eq!(gallons.candidates(), "US gal or imp gal");
        for dimension in [Dimension::Pressure, Dimension::GaugePressure] {
            let psi = find("psi", dimension).expect_err("gauge or absolute");
            assert_eq!(psi.candidates(), "psi gauge or psi absolute");
        }
        assert!(matches!(
            find("mj/kg", Dimension::SpecificEnergy),
            Err(LookupError::CaseMatters { .. })
        ));
        assert!(matches!(
            find("mJ/kg", Dimension::SpecificEnergy),
            Err(LookupError::CaseMatters { .. })
        ));
        assert!(matches!(
            find("T", Dimension::Temperature),
            Err(LookupError::Ambiguous { .. })
        ));
    }

    #[test]
    fn a_unit_of_something_else_is_named() {
        let error = find("lb", Dimension::Force).expect_err("lb is a mass");
        assert_eq!(error.to_string(), "'lb' is a mass, but a force is expected");
        assert_eq!(error.candidates(), "N, kN, lbf, kgf");
        let error = find("kPa gauge", Dimension::Pressure).expect_err("gauge");
        assert_eq!(
            error.to_string(),
            "'kPa gauge' is a gauge pressure, but an absolute pressure is expected"
        );
    }

    #[test]
    fn a_slip_gets_the_nearest_unit() {
        let error = find("kWW", Dimension::Power).expect_err("unknown");
        assert_eq!(
            error.to_string(),
            "'kWW' is not a known unit for a power; did you mean 'kW'?"
        );
        let error = find("furlong", Dimension::Length).expect_err("unknown");
        assert_eq!(
            error.to_string(),
            "'furlong' is not a known unit for a length"
        );
    }

    #[test]
    fn no_spelling_has_two_rows_in_one_dimension() {
        for (i, a) in SPELLINGS.iter().enumerate() {
            for b in &SPELLINGS[i + 1..] {
                let same = a.unit.dimension == b.unit.dimension && a.folded == b.folded;
                assert!(
                    !same || a.unit == b.unit,
                    "{} and {}",
                    a.unit.symbol,
                    b.unit.symbol
                );
            }
        }
    }

    #[test]
    fn every_dimension_has_its_si_unit_first() {
        for unit in UNITS {
            let si = unit.dimension.si_unit();
            assert_eq!(
                (si.dimension, si.to_si(1.0)),
                (unit.dimension, 1.0),
                "{}",
                unit.symbol
            );
        }
    }
}
