//! Numbers as a customer reads them: the unit asked for, and only digits that carry meaning.
//!
//! Reports hold SI; this is the one place where a report's number becomes text. A range is told with the digits its own width
//! allows, because the third decimal of a number known to five per cent is noise. It refuses to convert anything
//! for the machine-readable output, which stays SI.

pub use crate::ask::quote::Range as Span;
use crate::units::{Dimension, Unit, find};
use serde::Serialize;

/// Units of the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Units {
    /// kW, N m, kPa, °C.
    #[default]
    Metric,
    /// hp, lb ft, psi, °F.
    Shop,
}

/// What a number measures, and so in which unit it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// W inside.
    Power,
    /// N m inside.
    Torque,
    /// Pa inside; whether gauge or absolute is said in words beside it.
    Pressure,
    /// K inside.
    Temperature,
    /// K inside, a difference.
    TemperatureDifference,
    /// m/s inside.
    Speed,
    /// kg/s inside.
    MassFlow,
    /// N inside.
    Force,
    /// rpm inside.
    Rpm,
    /// rpm inside, of a peak: told to the nearest 50, because a curve is flat at its top.
    PeakRpm,
    /// deg inside.
    CrankAngle,
    /// A plain number.
    Ratio,
    /// A plain number told to a tenth.
    Octane,
    /// m inside.
    Length,
    /// m/s inside, of a piston.
    PistonSpeed,
    /// A ratio shown as per cent.
    Percent,
    /// kg/m³ inside.
    Density,
    /// m/s² inside.
    Acceleration,
    /// kg m² inside.
    Inertia,
    /// kg inside.
    Mass,
    /// s inside.
    Time,
    /// W/kg inside.
    PowerToWeight,
}

/// How many decimals a single number is told with.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Digits {
    /// None from this size on, one from a tenth of it, two below.
    BySize(f64),
    /// Always so many.
    Fixed(usize),
    /// So many, and one more below this size.
    OneMoreBelow(f64, usize),
}

/// How a quantity is shown.
struct Row {
    /// Symbol in metric and in shop units.
    symbols: (&'static str, &'static str),
    /// Where it is converted: the dimension under which the table of units knows the symbols.
    dimension: Option<Dimension>,
    /// Digits of a single number.
    digits: Digits,
}

const fn row(
    metric: &'static str,
    shop: &'static str,
    dimension: Option<Dimension>,
    digits: Digits,
) -> Row {
    Row {
        symbols: (metric, shop),
        dimension,
        digits,
    }
}

impl What {
    /// Three figures of power, torque and road speed, a tenth of a kPa or degree, whole rpm.
    fn row(self) -> Row {
        use Digits::{BySize, Fixed, OneMoreBelow};
        let degrees = Some(Dimension::TemperatureDifference);
        match self {
            Self::Power => row("kW", "hp", Some(Dimension::Power), BySize(100.0)),
            Self::Torque => row("N m", "lb ft", Some(Dimension::Torque), BySize(100.0)),
            Self::Pressure => row("kPa", "psi", Some(Dimension::PressureDifference), Fixed(1)),
            Self::Temperature => row("°C", "°F", Some(Dimension::Temperature), Fixed(1)),
            Self::TemperatureDifference => row("K", "°F", degrees, Fixed(1)),
            Self::Speed => row("km/h", "mph", Some(Dimension::Speed), BySize(100.0)),
            Self::PistonSpeed => row("m/s", "ft/s", Some(Dimension::Speed), Fixed(1)),
            Self::MassFlow => row("g/s", "lb/min", Some(Dimension::MassFlow), BySize(100.0)),
            Self::Force => row("N", "lbf", Some(Dimension::Force), BySize(10.0)),
            Self::Length => row("mm", "in", Some(Dimension::Length), BySize(100.0)),
            // Three figures of air, in either unit.
            Self::Density => row(
                "kg/m³",
                "lb/ft³",
                Some(Dimension::Density),
                OneMoreBelow(0.5, 3),
            ),
            Self::Rpm | Self::PeakRpm => row("rpm", "rpm", None, Fixed(0)),
            Self::CrankAngle => row("deg", "deg", None, Fixed(1)),
            Self::Ratio => row("", "", None, Fixed(3)),
            Self::Octane => row("", "", None, Fixed(1)),
            Self::Percent => row("%", "%", None, Fixed(1)),
            Self::Acceleration => row("m/s²", "ft/s²", None, Fixed(2)),
            Self::Inertia => row("kg m²", "lb ft²", Some(Dimension::Inertia), Fixed(3)),
            Self::Mass => row("kg", "lb", Some(Dimension::Mass), BySize(100.0)),
            Self::Time => row("s", "s", None, Fixed(2)),
            Self::PowerToWeight => row(
                "W/kg",
                "hp/short ton",
                Some(Dimension::PowerPerMass),
                BySize(100.0),
            ),
        }
    }

    /// Decimals of a single number.
    fn decimals(self, value: f64) -> usize {
        let size = value.abs();
        match self.row().digits {
            Digits::BySize(large) if size >= large => 0,
            Digits::BySize(large) if size >= 0.1 * large => 1,
            Digits::BySize(_) => 2,
            Digits::OneMoreBelow(small, decimals) if size < small => decimals + 1,
            Digits::Fixed(decimals) | Digits::OneMoreBelow(_, decimals) => decimals,
        }
    }
}

/// A chance with the digits that mean something: none is told as certain, and none as impossible.
pub fn chance(probability: f64) -> String {
    if probability >= CERTAIN {
        "over 99 %".to_owned()
    } else if probability < 1.0 - CERTAIN {
        "under 1 %".to_owned()
    } else {
        format!("{:.0} %", 100.0 * probability)
    }
}

/// A chance counted in draws, with its standard error where its digits mean something.
pub fn chance_counted(probability: f64, error: f64) -> String {
    if (1.0 - CERTAIN..CERTAIN).contains(&probability) {
        format!("({:.0} ± {:.0}) %", 100.0 * probability, 100.0 * error)
    } else {
        chance(probability)
    }
}

/// From here on a chance is told without its digits: what was left out of a model is worth more than the rest (common practice, no source).
pub const CERTAIN: f64 = 0.99;

impl Units {
    /// Symbol shown.
    pub fn symbol(self, what: What) -> &'static str {
        let (metric, shop) = what.row().symbols;
        match self {
            Self::Metric => metric,
            Self::Shop => shop,
        }
    }

    /// The unit in the table of units, where conversion is needed.
    fn unit(self, what: What) -> Option<&'static Unit> {
        // A test holds that every symbol is in the table.
        find(self.symbol(what), what.row().dimension?).ok()
    }

    /// The shown number for an inside one.
    pub fn convert(self, what: What, inside: f64) -> f64 {
        match (self.unit(what), what) {
            (Some(unit), _) => unit.from_si(inside),
            (None, What::Percent) => 100.0 * inside,
            (None, What::Acceleration) if self == Self::Shop => inside / FOOT_M,
            (None, What::PeakRpm) => PEAK_RPM * (inside / PEAK_RPM).round(),
            (None, _) => inside,
        }
    }

    /// A number without its unit, to be put in a column.
    pub fn cell(self, what: What, inside: f64) -> String {
        let value = self.convert(what, inside);
        let decimals = what.decimals(value);
        without_sign_of_zero(format!("{value:.decimals$}"))
    }

    /// A number with its unit.
    pub fn show(self, what: What, inside: f64) -> String {
        with_symbol(self.cell(what, inside), self.symbol(what))
    }

    /// A number with its sign and unit.
    pub fn show_change(self, what: What, inside: f64) -> String {
        let value = self.convert(what, inside);
        let decimals = what.decimals(value);
        with_symbol(
            without_sign_of_zero(format!("{value:+.decimals$}")),
            self.symbol(what),
        )
    }

    /// A fixed sentence whose kPa, bar and °C are said in these units.
    pub fn constants(self, text: &str) -> String {
        let mut words: Vec<String> = text.split(' ').map(str::to_owned).collect();
        for i in 1..words.len() {
            let unit = words[i].trim_end_matches([',', ';', ')', '.']);
            let (what, inside): (_, fn(f64) -> f64) = match unit {
                "kPa" => (What::Pressure, |x| 1e3 * x),
                "bar" => (What::Pressure, |x| 1e5 * x),
                "°C" => (What::Temperature, |x| x + 273.15),
                _ => continue,
            };
            if self == Self::Metric {
                continue;
            }
            // A metric equivalent in brackets behind the unit asked for is dropped.
            if words[i - 1].starts_with('(') {
                let ending = words[i].trim_start_matches(unit).trim_start_matches(')');
                (words[i - 1], words[i]) = (String::new(), ending.to_owned());
                continue;
            }
            let Ok(number) = words[i - 1].parse() else {
                continue;
            };
            let ending = words[i][unit.len()..].to_owned();
            // `15 to 35 °C` has two numbers of one unit.
            if i > 2
                && words[i - 2] == "to"
                && let Ok(low) = words[i - 3].parse()
            {
                words[i - 3] = self.cell(what, inside(low));
            }
            words[i - 1] = self.cell(what, inside(number));
            words[i] = format!("{}{ending}", self.symbol(what));
        }
        let text = words.join(" ");
        text.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .replace(" ,", ",")
    }

    /// `361 to 389 kW (middle 375)`.
    pub fn range(self, what: What, range: &Span) -> String {
        self.range_as(what, range, false)
    }

    /// The same with signs, for a gain.
    pub fn range_of_change(self, what: What, range: &Span) -> String {
        self.range_as(what, range, true)
    }

    /// A range and its middle apart, each with its unit: `361 to 389 kW` and `375 kW`.
    pub fn range_and_middle(self, what: What, range: &Span) -> (String, String) {
        self.rounded_alike(what, range, false)
    }

    /// The same with signs, for a gain.
    pub fn range_and_middle_of_change(self, what: What, range: &Span) -> (String, String) {
        self.rounded_alike(what, range, true)
    }

    fn range_as(self, what: What, range: &Span, signed: bool) -> String {
        let (shown, middle) = self.rounded_alike(what, range, signed);
        if shown == middle {
            return shown;
        }
        let bare = middle.strip_suffix(self.symbol(what)).unwrap_or(&middle);
        format!("{shown} (middle {})", bare.trim_end())
    }

    fn rounded_alike(self, what: What, range: &Span, signed: bool) -> (String, String) {
        let at = |inside| self.convert(what, inside);
        let (low, middle, high) = (at(range.p5), at(range.p50), at(range.p95));
        let decimals = decimals_for_width(high - low);
        let text = |value: f64| {
            without_sign_of_zero(if signed {
                format!("{value:+.decimals$}")
            } else {
                format!("{value:.decimals$}")
            })
        };
        if text(low) == text(high) {
            let one = if signed {
                self.show_change(what, range.p50)
            } else {
                self.show(what, range.p50)
            };
            return (one.clone(), one);
        }
        let with = |number| with_symbol(number, self.symbol(what));
        (
            with(format!("{} to {}", text(low), text(high))),
            with(text(middle)),
        )
    }
}

fn with_symbol(number: String, symbol: &str) -> String {
    if symbol.is_empty() {
        number
    } else {
        format!("{number} {symbol}")
    }
}

/// A number rounded to nothing has no sign.
fn without_sign_of_zero(text: String) -> String {
    match text.strip_prefix(['-', '+']) {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// A foot, m (exact by definition).
const FOOT_M: f64 = 0.3048;

/// Step in which the engine speed of a peak is told.
const PEAK_RPM: f64 = 50.0;

/// Decimals that a width allows: the last digit is at most a tenth of it.
fn decimals_for_width(width: f64) -> usize {
    if width >= 10.0 {
        0
    } else if width >= 1.0 {
        1
    } else {
        2
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_chance_is_told_as_certain_or_as_impossible() {
        assert_eq!([1.0, 0.992].map(chance), ["over 99 %", "over 99 %"]);
        assert_eq!([0.0, 0.004].map(chance), ["under 1 %", "under 1 %"]);
        assert_eq!([0.012, 0.5, 0.984].map(chance), ["1 %", "50 %", "98 %"]);
        assert_eq!(chance_counted(0.0, 0.0), "under 1 %");
        assert_eq!(chance_counted(0.42, 0.021), "(42 ± 2) %");
    }

    const ALL: [What; 22] = [
        What::Power,
        What::Torque,
        What::Pressure,
        What::Temperature,
        What::TemperatureDifference,
        What::Speed,
        What::MassFlow,
        What::Force,
        What::Rpm,
        What::PeakRpm,
        What::CrankAngle,
        What::Ratio,
        What::Octane,
        What::Length,
        What::PistonSpeed,
        What::Percent,
        What::Density,
        What::Acceleration,
        What::Inertia,
        What::Mass,
        What::Time,
        What::PowerToWeight,
    ];

    #[test]
    fn every_converted_symbol_is_in_the_table_of_units() {
        for units in [Units::Metric, Units::Shop] {
            let converted = ALL
                .iter()
                .filter(|what| units.unit(**what).is_some())
                .count();
            assert_eq!(converted, 14, "{units:?}");
        }
    }

    #[test]
    fn ranges_carry_the_digits_their_width_allows() {
        let span = |p5, p50, p95| Span { p5, p50, p95 };
        for (units, what, range, shown) in [
            (
                Units::Metric,
                What::Power,
                span(361.2e3, 375.4e3, 388.9e3),
                "361 to 389 kW (middle 375)",
            ),
            // 1 hp is 745.69987 W (550 ft lbf/s).
            (
                Units::Shop,
                What::Power,
                span(361.2e3, 375.4e3, 388.9e3),
                "484 to 522 hp (middle 503)",
            ),
            (
                Units::Metric,
                What::Torque,
                span(300.12, 300.55, 301.61),
                "300.1 to 301.6 N m (middle 300.6)",
            ),
            (Units::Metric, What::Power, span(2e5, 2e5, 2e5), "200 kW"),
        ] {
            assert_eq!(units.range(what, &range), shown);
        }
        assert_eq!(
            Units::Metric.range_of_change(What::Percent, &span(-0.012, 0.013, 0.041)),
            "-1.2 to +4.1 % (middle +1.3)"
        );
    }

    #[test]
    fn a_fixed_sentence_is_said_in_either_unit() {
        let text = "reference: 99 kPa dry, 25 °C; 60 °F";
        assert_eq!(Units::Metric.constants(text), text);
        // 99 kPa over 6.894757 kPa (a pound-force on a square inch).
        assert_eq!(
            Units::Shop.constants(text),
            "reference: 14.4 psi dry, 77.0 °F; 60 °F"
        );
        // 1 bar is 14.503774 psi.
        assert_eq!(
            Units::Shop.constants("1 to 2 bar boost"),
            "14.5 to 29.0 psi boost"
        );
        assert_eq!(
            Units::Shop.constants("29.92 inHg (101.32 kPa) dry, 60 °F (15.6 °C)"),
            "29.92 inHg dry, 60 °F"
        );
    }

    #[test]
    fn single_numbers_carry_three_figures_and_no_sign_of_zero() {
        assert_eq!(Units::Metric.show(What::Power, 375_430.0), "375 kW");
        assert_eq!(Units::Metric.show(What::Power, 37_543.0), "37.5 kW");
        assert_eq!(Units::Shop.show(What::Temperature, 298.15), "77.0 °F");
        assert_eq!(Units::Metric.show(What::Temperature, 273.149), "0.0 °C");
        assert_eq!(Units::Metric.show(What::Ratio, 0.88), "0.880");
        assert_eq!(Units::Shop.show_change(What::Power, 0.0), "0.00 hp");
        assert_eq!(Units::Metric.show(What::PeakRpm, 6163.0), "6150 rpm");
        // 1 lb/ft³ is 16.01846 kg/m³ (0.45359237 kg over 0.3048³ m³).
        assert_eq!(Units::Shop.show(What::Density, 1.2), "0.0749 lb/ft³");
    }
}
