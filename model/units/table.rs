//! The table of units: spellings and exact factors.
//!
//! One row for each unit of each dimension; a unit that serves two dimensions (kPa as gauge and as difference) has two
//! rows, because its meaning differs. Factors are exact by definition unless the row says otherwise: inch, foot, pound
//! and mile since the international agreement of 1959; lbf and hp through the standard gravity 9.80665 m/s². The
//! mercury columns are the conventional ones at 0 °C. Values from memory, checked against an independent table in
//! `validation/units.rs`.

use std::f64::consts::PI;

use super::{Dimension, Unit};

/// Standard gravity, m/s² (exact by definition). Equations (1.3), (6.16) and (11.8).
pub const GRAVITY_M_S2: f64 = 9.80665;
/// International pound, kg (exact).
const POUND_KG: f64 = 0.45359237;
/// Pound-force, N: pound times standard gravity, exact.
pub const POUND_FORCE_N: f64 = 4.4482216152605;
/// Pound-force foot, N m: exact.
const POUND_FORCE_FOOT_NM: f64 = 1.3558179483314004;
/// Inch, m (exact).
const INCH_M: f64 = 0.0254;
/// Foot, m (exact).
const FOOT_M: f64 = 0.3048;
/// Pound-force per square inch, Pa.
pub const PSI_PA: f64 = POUND_FORCE_N / (INCH_M * INCH_M);
/// Cubic inch, m³ (exact).
const CUBIC_INCH_M3: f64 = 1.6387064e-5;
/// Conventional inch of mercury at 0 °C, Pa (seven digits; the 60 °F column is 0.28 % lower and is not used).
pub const INCH_OF_MERCURY_PA: f64 = 3386.389;
/// Conventional millimetre of mercury, Pa (nine digits).
const MILLIMETRE_OF_MERCURY_PA: f64 = 133.322387;
/// Mechanical horsepower, 550 ft lbf/s, W.
const HORSEPOWER_W: f64 = 550.0 * POUND_FORCE_FOOT_NM;
/// A British thermal unit (International Table) to a pound, J/kg (exact).
const BTU_PER_POUND_J_KG: f64 = 2326.0;
/// The same unit, J: exact.
const BTU_J: f64 = BTU_PER_POUND_J_KG * POUND_KG;
/// Metric horsepower, 75 kgf m/s, W (exact).
const METRIC_HORSEPOWER_W: f64 = 735.49875;

const fn unit(
    dimension: Dimension,
    symbol: &'static str,
    spellings: &'static [&'static str],
    multiply: f64,
    divide: f64,
) -> Unit {
    Unit {
        symbol,
        spellings,
        dimension,
        shift: 0.0,
        multiply,
        divide,
        case_matters: false,
    }
}

/// A unit whose prefix letter decides between milli and mega.
const fn strict(
    dimension: Dimension,
    symbol: &'static str,
    spellings: &'static [&'static str],
    multiply: f64,
    divide: f64,
) -> Unit {
    Unit {
        symbol,
        spellings,
        dimension,
        shift: 0.0,
        multiply,
        divide,
        case_matters: true,
    }
}

const fn scale(
    symbol: &'static str,
    spellings: &'static [&'static str],
    shift: f64,
    divide: f64,
) -> Unit {
    let dimension = Dimension::Temperature;
    Unit {
        symbol,
        spellings,
        dimension,
        shift,
        multiply: 1.0,
        divide,
        case_matters: false,
    }
}

use Dimension as D;

/// Every unit, the SI unit of a dimension first.
///
/// Spellings are compared after tidying (see [`super::find`]): `·`, `*`, `-` and repeated blanks count as one blank, `²`
/// as 2, `^` vanishes, blanks around `/` vanish.
#[rustfmt::skip]
pub static UNITS: &[Unit] = &[
    unit(D::Length, "m", &["metre", "meter", "metres", "meters"], 1.0, 1.0),
    unit(D::Length, "mm", &[], 1.0, 1000.0),
    unit(D::Length, "cm", &[], 1.0, 100.0),
    unit(D::Length, "km", &[], 1000.0, 1.0),
    unit(D::Length, "in", &["inch", "inches", "\""], INCH_M, 1.0),
    unit(D::Length, "ft", &["foot", "feet"], FOOT_M, 1.0),
    unit(D::Area, "m2", &["sq m"], 1.0, 1.0),
    unit(D::Area, "cm2", &["sq cm"], 1.0, 1e4),
    unit(D::Area, "mm2", &["sq mm"], 1.0, 1e6),
    unit(D::Area, "in2", &["sq in"], INCH_M * INCH_M, 1.0),
    unit(D::Area, "ft2", &["sq ft"], FOOT_M * FOOT_M, 1.0),
    unit(D::Volume, "m3", &[], 1.0, 1.0),
    unit(D::Volume, "L", &["litre", "liter", "litres", "liters", "dm3"], 1.0, 1000.0),
    unit(D::Volume, "cm3", &["cc", "ccm", "ml", "cu cm"], 1.0, 1e6),
    unit(D::Volume, "cu in", &["in3", "ci", "cid", "cubic inch", "cubic inches"], CUBIC_INCH_M3, 1.0),
    unit(D::Volume, "US gal", &["gal us", "us gallon"], 231.0 * CUBIC_INCH_M3, 1.0),
    unit(D::Volume, "imp gal", &["gal imp", "imperial gallon"], 4.54609, 1000.0),
    unit(D::Mass, "kg", &[], 1.0, 1.0),
    unit(D::Mass, "g", &["gram", "grams"], 1.0, 1000.0),
    strict(D::Mass, "mg", &[], 1.0, 1e6),
    unit(D::Mass, "t", &["tonne", "metric ton"], 1000.0, 1.0),
    unit(D::Mass, "lb", &["lbs", "lbm", "pound", "pounds"], POUND_KG, 1.0),
    unit(D::Time, "s", &["sec", "secs", "second", "seconds", "sek", "sekunden", "seg", "segundos", "秒", "mp", "сек"], 1.0, 1.0),
    unit(D::Time, "ms", &["msec", "millisecond", "milliseconds"], 1.0, 1000.0),
    unit(D::Time, "µs", &["us", "μs", "microsecond", "microseconds"], 1.0, 1e6),
    unit(D::Time, "min", &["minute", "minutes"], 60.0, 1.0),
    unit(D::Time, "h", &["hr", "hour", "hours"], 3600.0, 1.0),
    unit(D::Ratio, "1", &["-", ":1", "lambda", "λ"], 1.0, 1.0),
    unit(D::Ratio, "%", &["percent", "per cent", "pct", "prozent", "procent"], 1.0, 100.0),
    unit(D::Pressure, "Pa absolute", &["pa abs", "pa a"], 1.0, 1.0),
    unit(D::Pressure, "kPa absolute", &["kpa abs", "abs kpa", "kpa a", "kpaa", "kpa(a)", "kpa(abs)"], 1000.0, 1.0),
    unit(D::Pressure, "hPa absolute", &["hpa abs", "abs hpa", "hpa a"], 100.0, 1.0),
    unit(D::Pressure, "bar absolute", &["bar abs", "abs bar", "bar a", "bara", "bar(a)", "bar(abs)"], 1e5, 1.0),
    unit(D::Pressure, "mbar absolute", &["mbar abs", "abs mbar", "mbara", "mbar a", "mbar(a)", "mbar(abs)"], 100.0, 1.0),
    unit(
        D::Pressure,
        "psi absolute",
        &["psi abs", "psia", "psi a", "psi(a)", "psi(abs)"],
        POUND_FORCE_N,
        INCH_M * INCH_M,
    ),
    unit(D::Pressure, "kgf/cm2 absolute", &["kg/cm2 absolute", "kg/cm2 abs", "kgf/cm2 abs"], GRAVITY_M_S2 * 1e4, 1.0),
    unit(D::Pressure, "inHg absolute", &["inhg abs", "in hg abs"], INCH_OF_MERCURY_PA, 1.0),
    unit(D::Pressure, "mmHg absolute", &["mmhg abs", "mm hg abs"], MILLIMETRE_OF_MERCURY_PA, 1.0),
    unit(D::BarometricPressure, "Pa", &["pa abs", "pa absolute"], 1.0, 1.0),
    unit(D::BarometricPressure, "hPa", &["hpa abs", "hpa absolute"], 100.0, 1.0),
    unit(D::BarometricPressure, "kPa", &["kpa abs", "kpa absolute"], 1000.0, 1.0),
    unit(D::BarometricPressure, "mbar", &["mb", "mbar abs", "mbar absolute"], 100.0, 1.0),
    unit(D::BarometricPressure, "bar", &["bar abs", "bar absolute"], 1e5, 1.0),
    unit(D::BarometricPressure, "inHg", &["in hg", "\"hg", "\" hg", "inhg abs", "inhg absolute"], INCH_OF_MERCURY_PA, 1.0),
    unit(
        D::BarometricPressure,
        "mmHg",
        &["mm hg", "torr", "mmhg abs", "mmhg absolute"],
        MILLIMETRE_OF_MERCURY_PA,
        1.0,
    ),
    unit(D::BarometricPressure, "psi absolute", &["psi abs", "psia", "psi"], POUND_FORCE_N, INCH_M * INCH_M),
    unit(D::GaugePressure, "Pa gauge", &["pa g"], 1.0, 1.0),
    unit(D::GaugePressure, "kPa gauge", &["kpa g", "kpag", "kpa(g)", "kpa boost", "kpa rel", "kpa relative", "kpa relativ"], 1000.0, 1.0),
    unit(D::GaugePressure, "bar gauge", &["bar g", "barg", "bar(g)", "bar boost", "bar rel", "bar relative", "bar relativ", "barü", "bar ü", "bar(ü)"], 1e5, 1.0),
    unit(D::GaugePressure, "mbar gauge", &["mbar g", "mbarg", "mbar(g)", "mbar rel", "mbar relative", "mbar relativ"], 100.0, 1.0),
    unit(
        D::GaugePressure,
        "psi gauge",
        &["psi g", "psig", "psi(g)", "psi boost", "psi rel"],
        POUND_FORCE_N,
        INCH_M * INCH_M,
    ),
    unit(D::GaugePressure, "kgf/cm2 gauge", &["kg/cm2 gauge", "kgf/cm2 g"], GRAVITY_M_S2 * 1e4, 1.0),
    unit(D::GaugePressure, "inHg gauge", &["inhg g", "in hg gauge"], INCH_OF_MERCURY_PA, 1.0),
    unit(D::PressureDifference, "Pa", &[], 1.0, 1.0),
    unit(D::PressureDifference, "kPa", &[], 1000.0, 1.0),
    unit(D::PressureDifference, "hPa", &[], 100.0, 1.0),
    unit(D::PressureDifference, "mbar", &["mb"], 100.0, 1.0),
    unit(D::PressureDifference, "bar", &[], 1e5, 1.0),
    unit(D::PressureDifference, "psi", &[], POUND_FORCE_N, INCH_M * INCH_M),
    unit(D::PressureDifference, "kgf/cm2", &["kg/cm2"], GRAVITY_M_S2 * 1e4, 1.0),
    unit(D::PressureDifference, "inHg", &["in hg", "\"hg", "\" hg"], INCH_OF_MERCURY_PA, 1.0),
    unit(D::PressureDifference, "mmHg", &["mm hg", "torr"], MILLIMETRE_OF_MERCURY_PA, 1.0),
    scale("K", &["kelvin"], 0.0, 1.0),
    scale("°C", &["c", "degc", "deg c", "celsius", "grad c", "gradc", "degrees c"], 273.15, 1.0),
    scale("°F", &["f", "degf", "deg f", "fahrenheit", "degrees f"], 459.67, 1.8),
    unit(D::TemperatureDifference, "K", &["kelvin", "°C", "c", "degc", "deg c", "celsius"], 1.0, 1.0),
    unit(D::TemperatureDifference, "°F", &["f", "degf", "deg f", "fahrenheit"], 1.0, 1.8),
    unit(D::Speed, "m/s", &["mps"], 1.0, 1.0),
    unit(D::Speed, "km/h", &["kmh", "kph", "km/hr", "kmph", "kmt", "km/t", "km/u", "km/std"], 1.0, 3.6),
    unit(D::Speed, "mph", &["mi/h", "mile/h", "miles/h", "mi/hr"], 0.44704, 1.0),
    unit(D::Speed, "ft/s", &["fps"], FOOT_M, 1.0),
    unit(D::Speed, "ft/min", &[], FOOT_M, 60.0),
    unit(D::RotationalSpeed, "rad/s", &[], 1.0, 1.0),
    unit(D::RotationalSpeed, "rpm", &[
            "1/min", "rev/min", "revs/min", "r/min", "min 1", "/min", "u/min", "tr/min", "t/min", "t/mn", "tr/mn", "giri/min", "g/min", "obr/min", "v/min",
            "varv/min", "omw/min", "o/min", "upm", "rot/min", "ot/min", "ford/min", "kierr/min", "omdr/min",
        ], PI, 30.0),
    unit(D::RotationalSpeed, "rev/s", &["1/s", "rps", "r/s"], 2.0 * PI, 1.0),
    unit(D::Angle, "rad", &["radian", "radians"], 1.0, 1.0),
    unit(D::Angle, "deg", &["°", "degree", "degrees", "deg ca", "°ca", "° ca"], PI, 180.0),
    unit(D::Force, "N", &["newton", "newtons"], 1.0, 1.0),
    unit(D::Force, "kN", &[], 1000.0, 1.0),
    unit(D::Force, "lbf", &["lb f", "lbs f", "pound force"], POUND_FORCE_N, 1.0),
    unit(D::Force, "kgf", &["kp", "kg f", "kgs"], GRAVITY_M_S2, 1.0),
    unit(D::Torque, "N m", &["nm", "mn", "newton metre", "newton meter", "newton metres", "newton meters"], 1.0, 1.0),
    unit(D::Torque, "kN m", &["knm"], 1000.0, 1.0),
    unit(D::Torque, "daN m", &["danm", "mdan", "m dan"], 10.0, 1.0),
    unit(
        D::Torque,
        "lb ft",
        &[
            "lbf ft",
            "ft lb",
            "ft lbf",
            "lbft",
            "ftlb",
            "lbs ft",
            "ft lbs",
            "pound feet",
            "lbs/ft",
            "lb/ft",
            "ft/lb",
            "ft/lbs",
            "lbsft",
            "ftlbs",
            "ftlbf",
            "lbfft",
        ],
        POUND_FORCE_FOOT_NM,
        1.0,
    ),
    unit(D::Torque, "lb in", &["lbf in", "in lb", "in lbf", "in lbs"], POUND_FORCE_N * INCH_M, 1.0),
    unit(D::Torque, "kgf m", &["kgm", "kg m", "kp m", "mkp", "kgfm", "kpm", "mkg", "m kg"], GRAVITY_M_S2, 1.0),
    unit(D::Power, "W", &["watt", "watts"], 1.0, 1.0),
    unit(D::Power, "kW", &["kilowatt", "kilowatts"], 1000.0, 1.0),
    strict(D::Power, "MW", &[], 1e6, 1.0),
    unit(D::Power, "hp", &["horsepower", "bhp", "whp", "hp imp", "imperial hp", "mechanical hp"], HORSEPOWER_W, 1.0),
    unit(D::Power, "PS", &["metric hp", "hp metric", "hp(m)", "cv", "ch", "pk", "hk", "km", "ks", "k", "le", "hv", "hpm"], METRIC_HORSEPOWER_W, 1.0),
    unit(D::Energy, "J", &["joule", "joules"], 1.0, 1.0),
    unit(D::Energy, "kJ", &[], 1000.0, 1.0),
    strict(D::Energy, "MJ", &[], 1e6, 1.0),
    unit(D::Energy, "Wh", &["w h"], 3600.0, 1.0),
    unit(D::Energy, "kWh", &["kw h"], 3.6e6, 1.0),
    unit(D::Inertia, "kg m2", &["kgm2"], 1.0, 1.0),
    unit(D::Inertia, "kg cm2", &["kgcm2"], 1.0, 1e4),
    unit(D::Inertia, "g m2", &["gm2"], 1.0, 1000.0),
    unit(D::Inertia, "lb ft2", &["lbm ft2", "lbft2"], POUND_KG * FOOT_M * FOOT_M, 1.0),
    unit(D::Inertia, "lb in2", &["lbm in2"], POUND_KG * INCH_M * INCH_M, 1.0),
    unit(D::MassFlow, "kg/s", &[], 1.0, 1.0),
    unit(D::MassFlow, "g/s", &[], 1.0, 1000.0),
    unit(D::MassFlow, "kg/min", &[], 1.0, 60.0),
    unit(D::MassFlow, "g/min", &[], 1.0, 6e4),
    unit(D::MassFlow, "kg/h", &["kg/hr"], 1.0, 3600.0),
    unit(D::MassFlow, "lb/s", &["lbm/s", "lbs/s"], POUND_KG, 1.0),
    unit(D::MassFlow, "lb/min", &["lbm/min", "lbs/min"], POUND_KG, 60.0),
    unit(D::MassFlow, "lb/h", &["lb/hr", "lbm/h", "lbs/h", "lbs/hr", "pph"], POUND_KG, 3600.0),
    unit(D::VolumeFlow, "m3/s", &[], 1.0, 1.0),
    unit(D::VolumeFlow, "m3/min", &[], 1.0, 60.0),
    unit(D::VolumeFlow, "m3/h", &["m3/hr"], 1.0, 3600.0),
    unit(D::VolumeFlow, "L/s", &[], 1.0, 1000.0),
    unit(D::VolumeFlow, "L/min", &["lpm", "litre/min"], 1.0, 6e4),
    unit(D::VolumeFlow, "L/h", &["lph", "l/hr"], 1.0, 3.6e6),
    unit(D::VolumeFlow, "US gal/h", &["gal/h us", "us gph"], 231.0 * CUBIC_INCH_M3, 3600.0),
    unit(D::VolumeFlow, "cm3/min", &["cc/min", "ml/min", "ccm/min"], 1.0, 6e7),
    unit(D::VolumeFlow, "cfm", &["ft3/min", "cu ft/min"], FOOT_M * FOOT_M * FOOT_M, 60.0),
    unit(D::SpecificEnergy, "J/kg", &[], 1.0, 1.0),
    unit(D::SpecificEnergy, "kJ/kg", &["j/g"], 1000.0, 1.0),
    strict(D::SpecificEnergy, "MJ/kg", &["kJ/g"], 1e6, 1.0),
    unit(D::SpecificEnergy, "Btu/lb", &["btu/lbm"], BTU_PER_POUND_J_KG, 1.0),
    unit(D::HeatCapacity, "J/K", &["j/°c", "j/degc"], 1.0, 1.0),
    unit(D::HeatCapacity, "kJ/K", &["kj/°c", "kj/degc"], 1000.0, 1.0),
    unit(D::HeatCapacity, "Btu/°F", &["btu/f", "btu/degf"], BTU_J * 1.8, 1.0),
    unit(D::SpecificHeat, "J/(kg K)", &["j/kg/k", "j/kg k", "j/kgk"], 1.0, 1.0),
    unit(D::SpecificHeat, "kJ/(kg K)", &["kj/kg/k", "kj/kg k", "kj/kgk", "j/g/k"], 1000.0, 1.0),
    unit(D::ThermalConductance, "W/K", &["w/°c", "w/degc"], 1.0, 1.0),
    unit(D::ThermalConductance, "kW/K", &["kw/°c", "kw/degc"], 1000.0, 1.0),
    unit(D::ThermalConductance, "Btu/(h °F)", &["btu/h/f", "btu/h/°f", "btu/(h f)", "btu/(hr °f)"], BTU_J * 1.8, 3600.0),
    unit(D::Density, "kg/m3", &["g/l"], 1.0, 1.0),
    unit(D::Density, "kg/L", &["g/cm3", "g/cc", "g/ml", "kg/dm3"], 1000.0, 1.0),
    unit(D::Density, "lb/ft3", &["lbm/ft3"], POUND_KG, FOOT_M * FOOT_M * FOOT_M),
    unit(D::ElectricPotential, "V", &["volt", "volts"], 1.0, 1.0),
    unit(D::ElectricPotential, "kV", &[], 1000.0, 1.0),
    strict(D::ElectricPotential, "mV", &[], 1.0, 1000.0),
    unit(D::ElectricCurrent, "A", &["amp", "amps", "ampere"], 1.0, 1.0),
    strict(D::ElectricCurrent, "mA", &[], 1.0, 1000.0),
    unit(D::Resistance, "ohm", &["ohms"], 1.0, 1.0),
    strict(D::Resistance, "mohm", &["milliohm"], 1.0, 1000.0),
    unit(D::Resistance, "kohm", &[], 1000.0, 1.0),
    unit(D::DisplacementPerRev, "m3/rev", &[], 1.0, 1.0),
    unit(D::DisplacementPerRev, "L/rev", &["l/r", "litre/rev"], 1.0, 1000.0),
    unit(D::DisplacementPerRev, "cm3/rev", &["cc/rev", "cc/r", "ml/rev"], 1.0, 1e6),
    unit(D::DisplacementPerRev, "cu in/rev", &["in3/rev"], CUBIC_INCH_M3, 1.0),
    unit(D::SpecificFuelConsumption, "kg/J", &[], 1.0, 1.0),
    unit(D::SpecificFuelConsumption, "g/kWh", &["g/kw h", "g/(kw h)"], 1.0, 3.6e9),
    unit(D::PowerPerMass, "W/kg", &["kW/t"], 1.0, 1.0),
    unit(D::PowerPerMass, "kW/kg", &[], 1000.0, 1.0),
    unit(D::PowerPerMass, "hp/lb", &["bhp/lb", "whp/lb"], HORSEPOWER_W, POUND_KG),
    unit(D::PowerPerMass, "hp/short ton", &["hp/us ton"], HORSEPOWER_W, 2000.0 * POUND_KG),
    unit(D::PowerPerMass, "PS/t", &[], METRIC_HORSEPOWER_W, 1000.0),
    unit(D::MassPerPower, "kg/W", &[], 1.0, 1.0),
    unit(D::MassPerPower, "kg/kW", &[], 1.0, 1000.0),
    unit(D::MassPerPower, "lb/hp", &["lbs/hp", "lb/bhp", "lb/whp"], POUND_KG, HORSEPOWER_W),
    unit(D::MassPerPower, "kg/PS", &[], 1.0, METRIC_HORSEPOWER_W),
    unit(
        D::SpecificFuelConsumption,
        "lb/(hp h)",
        &["lb/hp h", "lb/hph", "lb/hp hr"],
        POUND_KG,
        HORSEPOWER_W * 3600.0,
    ),
];

/// Spellings with more than one meaning, which are refused with their candidates.
pub(super) static AMBIGUOUS: &[(D, &str, &[&str])] = &[
    (D::Volume, "gal", &["US gal", "imp gal"]),
    (D::Volume, "gallon", &["US gal", "imp gal"]),
    (D::Mass, "ton", &["t", "kg", "lb"]),
    (D::Time, "m", &["min", "ms"]),
    (D::RotationalSpeed, "hz", &["rev/s", "rpm"]),
    (D::Temperature, "deg", &["°C", "°F", "K"]),
    (D::Temperature, "°", &["°C", "°F", "K"]),
    (D::Temperature, "t", &["°C", "°F", "K"]),
    (D::TemperatureDifference, "deg", &["K", "°F"]),
    (D::TemperatureDifference, "°", &["K", "°F"]),
];
