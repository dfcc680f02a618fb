//! One key of a kind of work: what stands there, in which unit and range, how far a bare number is doubted, what holds where it is
//! left out, what it means and where that is from.
//!
//! The rows exist so that the reader of plan files, the search for a number ([`super::Dial`]) and the book speak of one number. A number
//! that a car has too takes unit, range and meaning from the catalogue (`of_car`) and refuses others of its own.

use std::fmt;

use crate::belief::parameter::{self, Basis, Guess, Measure, Parameter};
use crate::belief::prior::Prior;

/// Doubt on what a maker claims of efficiency or power, relative; common practice, no source.
pub const CLAIM_DOUBT: f64 = 0.03;
/// Doubt on a size or ratio stated by a maker, relative; common practice, no source.
pub const SIZE_DOUBT: f64 = 0.005;
/// Doubt on a factor of flow area or back pressure that nobody measured, relative; common practice, no source.
pub const FACTOR_DOUBT: f64 = 0.10;

/// One key of a kind of work.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// Its name in a plan file.
    pub key: &'static str,
    /// What stands there.
    pub holds: Holds,
    /// What holds where it is left out.
    pub left_out: LeftOut,
    /// What it means.
    pub meaning: &'static str,
    /// Where default and doubt come from.
    pub basis: Basis,
}

/// What stands under a key.
#[derive(Debug, Clone, Copy)]
pub enum Holds {
    /// A number with its doubt.
    Number {
        /// Unit and range.
        span: Span,
        /// Doubt of a number written without one, relative; 0 takes it as exact.
        bare: f64,
    },
    /// A number that the model takes as it stands.
    Plain(Span),
    /// A whole number from the one to the other.
    Count(i64, i64),
    /// `true` or `false`.
    Switch,
    /// One of these words.
    Word(fn() -> Vec<&'static str>),
    /// A table of these.
    Table(&'static [Row]),
    /// What several kinds read alike: a map, a boost curve, a maker's printed point.
    Other(&'static str),
}

/// Unit in which a number is written, and least and greatest value in it.
#[derive(Debug, Clone, Copy)]
pub enum Span {
    /// The kind's own.
    Own(Measure, (f64, f64)),
    /// Those of a car's number, by its path in the catalogue.
    OfCar(&'static str),
}

/// What holds where a key is left out.
#[derive(Debug, Clone, Copy)]
pub enum LeftOut {
    /// Nothing: it must be there.
    MustBeGiven,
    /// What the car has.
    Stays,
    /// The usual number with its doubt, in the written unit.
    Usual(Guess),
    /// The catalogue's default of the same number of a car, which leans on no other number.
    AsOfCar,
    /// Something that its reader finds, told in words.
    Described(&'static str),
}

impl Row {
    /// The same with a meaning of its own.
    pub(super) const fn meaning(self, meaning: &'static str) -> Self {
        Self { meaning, ..self }
    }

    /// The car's number of which it takes unit and range.
    fn parameter(&self) -> Option<&'static Parameter> {
        match self.span() {
            Some(Span::OfCar(path)) => parameter::find(path),
            _ => None,
        }
    }

    fn span(&self) -> Option<Span> {
        match self.holds {
            Holds::Number { span, .. } | Holds::Plain(span) => Some(span),
            _ => None,
        }
    }

    /// Unit in which it is written; a plain number's for what is no number.
    pub fn measure(&self) -> Measure {
        match self.span() {
            Some(Span::Own(measure, _)) => measure,
            _ => self.parameter().map_or(Measure::RATIO, |p| p.measure),
        }
    }

    /// Least and greatest value in that unit; without end for what is no number.
    pub fn range(&self) -> (f64, f64) {
        match self.span() {
            Some(Span::Own(_, range)) => range,
            _ => self
                .parameter()
                .map_or((f64::NEG_INFINITY, f64::INFINITY), |p| p.range),
        }
    }

    /// Least and greatest value in the model's unit.
    pub fn bounds(&self) -> (f64, f64) {
        let (low, high) = self.range();
        let measure = self.measure();
        (measure.to_model(low), measure.to_model(high))
    }

    /// The default of a number that is known exactly where it is left out, in the model's unit.
    pub(super) fn exactly(&self) -> Option<f64> {
        self.usual().map(|prior| prior.centre())
    }

    /// Doubt of a number written without one, relative.
    pub fn bare(&self) -> f64 {
        match self.holds {
            Holds::Number { bare, .. } => bare,
            _ => 0.0,
        }
    }

    /// Least and greatest whole number.
    pub(super) fn counts(&self) -> (i64, i64) {
        match self.holds {
            Holds::Count(low, high) => (low, high),
            _ => (0, i64::MAX),
        }
    }

    /// What it means; a car's number means the same here.
    pub fn means(&self) -> &'static str {
        match self.parameter() {
            Some(parameter) if self.meaning.is_empty() => parameter.meaning,
            _ => self.meaning,
        }
    }

    /// The default in the written unit.
    fn guess(&self) -> Option<Guess> {
        match self.left_out {
            LeftOut::Usual(guess) => Some(guess),
            LeftOut::AsOfCar => self.parameter().and_then(Parameter::usual),
            _ => None,
        }
    }

    /// The default as a belief in the model's unit.
    pub fn usual(&self) -> Option<Prior> {
        self.guess()?.prior(self.measure(), self.bounds()).ok()
    }
}

/// A number in doubt, with its fields in reading order.
pub(super) const fn number(
    key: &'static str,
    measure: Measure,
    range: (f64, f64),
    bare: f64,
    left_out: LeftOut,
    meaning: &'static str,
    basis: Basis,
) -> Row {
    let span = Span::Own(measure, range);
    Row {
        key,
        holds: Holds::Number { span, bare },
        left_out,
        meaning,
        basis,
    }
}

/// A number in doubt that a car has too.
pub(super) const fn of_car(
    key: &'static str,
    path: &'static str,
    bare: f64,
    left_out: LeftOut,
    basis: Basis,
) -> Row {
    let span = Span::OfCar(path);
    Row {
        key,
        holds: Holds::Number { span, bare },
        left_out,
        meaning: "",
        basis,
    }
}

/// A number that the model takes as it stands.
pub(super) const fn plain(
    key: &'static str,
    measure: Measure,
    range: (f64, f64),
    left_out: LeftOut,
    meaning: &'static str,
    basis: Basis,
) -> Row {
    Row {
        key,
        holds: Holds::Plain(Span::Own(measure, range)),
        left_out,
        meaning,
        basis,
    }
}

/// What is no number.
pub(super) const fn other(
    key: &'static str,
    holds: Holds,
    left_out: LeftOut,
    meaning: &'static str,
) -> Row {
    Row {
        key,
        holds,
        left_out,
        meaning,
        basis: Basis::Fact,
    }
}

/// Names rows and lists them: `rows! { RATIO = number("ratio", …), SHARE = number("share", …) }`.
macro_rules! rows {
    ($($(#[$doc:meta])* $name:ident = $row:expr),* $(,)?) => {
        $($(#[$doc])* const $name: $crate::parts::row::Row = $row;)*
        /// What may stand in such a change.
        const ROWS: &[$crate::parts::row::Row] = &[$($name),*];
    };
}
pub(super) use rows;

/// The words of a list of choices, for [`Holds::Word`].
macro_rules! words {
    ($choices:expr) => {
        $crate::parts::row::Holds::Word(|| $choices.iter().map(|(word, _)| *word).collect())
    };
}
pub(super) use words;

fn with_unit(text: &str, symbol: &str) -> String {
    if symbol.is_empty() {
        text.to_owned()
    } else {
        format!("{text} {symbol}")
    }
}

/// A guess as a person writes it, in the written unit.
fn as_written(guess: Guess, symbol: &str) -> String {
    match guess {
        Guess::Normal(mean, sd) => with_unit(&format!("{} ± {}", tidy(mean), tidy(sd)), symbol),
        Guess::LogNormal(median, sd_ln) => {
            let factor = (100.0 * sd_ln.exp()).round() / 100.0;
            format!("{} */ {factor}", with_unit(&tidy(median), symbol))
        }
        Guess::Exact(value) => with_unit(&tidy(value), symbol),
    }
}

/// A number without the digits that a change of unit left behind.
fn tidy(value: f64) -> String {
    let rounded = (value * 1e9).round() / 1e9;
    format!("{rounded}")
}

/// The row as a line of the table in docs/files.md, after its kind's word: what stands there, range, meaning, default, basis.
impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let symbol = self.measure().symbol;
        let (low, high) = self.range();
        let range = || with_unit(&format!("{} to {}", tidy(low), tidy(high)), symbol);
        let holds = match self.holds {
            Holds::Number { bare, .. } if bare > 0.0 => {
                format!("{}, ± {} %", range(), tidy(100.0 * bare))
            }
            Holds::Number { .. } => range(),
            Holds::Plain(_) => format!("{}, without doubt", range()),
            Holds::Count(low, high) => format!("whole number, {low} to {high}"),
            Holds::Switch => "`true` or `false`".to_owned(),
            Holds::Word(words) => words()
                .iter()
                .map(|word| format!("`{word}`"))
                .collect::<Vec<_>>()
                .join(", "),
            Holds::Table(_) => "a table".to_owned(),
            Holds::Other(what) => what.to_owned(),
        };
        let left_out = match self.left_out {
            LeftOut::MustBeGiven => "must be given".to_owned(),
            LeftOut::Stays => "no change".to_owned(),
            LeftOut::Described(text) => text.to_owned(),
            LeftOut::Usual(_) | LeftOut::AsOfCar => self
                .guess()
                .map_or_else(String::new, |g| as_written(g, symbol)),
        };
        let basis = match self.basis {
            Basis::Fact => String::new(),
            basis => basis.to_string(),
        };
        write!(
            f,
            "`{}` | {holds} | {} | {left_out} | {basis} |",
            self.key,
            self.means()
        )
    }
}
