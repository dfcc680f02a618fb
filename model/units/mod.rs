//! Shop units at the border: what a written unit means, and its value in SI.
//!
//! Everything inside the model is an SI `f64`; a person writes hp, lb ft, psi gauge or °F. This module exists so that
//! those two worlds meet in exactly one table. A unit is looked up *for an expected dimension*, because the trade
//! reuses symbols (C is Celsius in a temperature, lb is a mass but never a force). It refuses to guess: a spelling
//! with more than one meaning comes back as [`LookupError::Ambiguous`] with the candidates, and pressure without
//! "gauge" or "absolute" is refused wherever the difference matters.
//!
//! | written | means | because |
//! |---|---|---|
//! | `hp` | 550 ft lbf/s | the metric one is written `PS` |
//! | `kPa` as [`Dimension::Pressure`] | refused | could be gauge or absolute |
//! | `kPa` as [`Dimension::BarometricPressure`] | absolute | a barometer reads nothing else |
//! | `gal`, `ton` | refused | US and imperial differ |
//! | `mJ/kg` | refused | case separates milli from mega |

mod lookup;
mod show;
mod table;
mod turning;

pub use lookup::{LookupError, accepted, find, find_any, nearest_spelling};
pub use show::{show, show_number};
pub use table::{GRAVITY_M_S2, INCH_OF_MERCURY_PA, POUND_FORCE_N, PSI_PA, UNITS};
pub use turning::{RAD_S_PER_RPM, RPM_PER_RAD_S, rad_s, rpm, seconds_per_rad};

/// What a number measures; decides which units may be written for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Dimension {
    /// Bore, stroke, pulley and tyre size; SI m.
    Length,
    /// Throttle, valve and frontal area; SI m².
    Area,
    /// Displacement, plenum volume; SI m³.
    Volume,
    /// Car, wheel and charge mass; SI kg.
    Mass,
    /// SI s.
    Time,
    /// Plain number or per cent; SI 1.
    Ratio,
    /// Absolute pressure where gauge would be a plausible reading, so the word must be written; SI Pa.
    Pressure,
    /// Absolute pressure of the air outside, which no instrument reads as gauge; SI Pa.
    BarometricPressure,
    /// Pressure above the surrounding air; SI Pa.
    GaugePressure,
    /// Difference of two pressures, such as a pressure drop; SI Pa.
    PressureDifference,
    /// Temperature with its zero; SI K.
    Temperature,
    /// Difference of two temperatures; SI K.
    TemperatureDifference,
    /// Road and drum surface speed; SI m/s.
    Speed,
    /// Shaft speed; SI rad/s.
    RotationalSpeed,
    /// Crank and spark angle; SI rad.
    Angle,
    /// SI N.
    Force,
    /// SI N m.
    Torque,
    /// SI W.
    Power,
    /// Battery content, heat; SI J.
    Energy,
    /// Moment of inertia; SI kg m².
    Inertia,
    /// SI kg/s.
    MassFlow,
    /// SI m³/s.
    VolumeFlow,
    /// Heating value, latent heat; SI J/kg.
    SpecificEnergy,
    /// Heat capacity of a thing; SI J/K.
    HeatCapacity,
    /// Heat capacity of a material; SI J/(kg K).
    SpecificHeat,
    /// Heat flow for each kelvin of difference; SI W/K.
    ThermalConductance,
    /// SI kg/m³.
    Density,
    /// SI V.
    ElectricPotential,
    /// SI A.
    ElectricCurrent,
    /// SI ohm.
    Resistance,
    /// Volume moved in one turn of a displacement machine; SI m³ for each revolution.
    DisplacementPerRev,
    /// Fuel burned for work done; SI kg/J.
    SpecificFuelConsumption,
    /// Power for each mass of a car; SI W/kg.
    PowerPerMass,
    /// Mass of a car for each power; SI kg/W.
    MassPerPower,
}

impl Dimension {
    /// The dimension in words, as messages name it ("a gauge pressure").
    pub fn words(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Area => "an area",
            Self::Volume => "a volume",
            Self::Mass => "a mass",
            Self::Time => "a time",
            Self::Ratio => "a plain number",
            Self::Pressure => "an absolute pressure",
            Self::BarometricPressure => "a barometric (absolute) pressure",
            Self::GaugePressure => "a gauge pressure",
            Self::PressureDifference => "a pressure difference",
            Self::Temperature => "a temperature",
            Self::TemperatureDifference => "a temperature difference",
            Self::Speed => "a speed",
            Self::RotationalSpeed => "a rotational speed",
            Self::Angle => "an angle",
            Self::Force => "a force",
            Self::Torque => "a torque",
            Self::Power => "a power",
            Self::Energy => "an energy",
            Self::Inertia => "a moment of inertia",
            Self::MassFlow => "a mass flow",
            Self::VolumeFlow => "a volume flow",
            Self::SpecificEnergy => "an energy per mass",
            Self::HeatCapacity => "a heat capacity",
            Self::SpecificHeat => "a heat capacity per mass",
            Self::ThermalConductance => "a heat flow per kelvin",
            Self::Density => "a density",
            Self::ElectricPotential => "a voltage",
            Self::ElectricCurrent => "a current",
            Self::Resistance => "an electric resistance",
            Self::DisplacementPerRev => "a volume per revolution",
            Self::SpecificFuelConsumption => "a fuel consumption per work",
            Self::PowerPerMass => "a power per mass",
            Self::MassPerPower => "a mass per power",
        }
    }

    /// The dimension of a doubt on this quantity: pressures and temperatures doubt by a difference.
    #[must_use]
    pub fn of_difference(self) -> Self {
        match self {
            Self::Pressure | Self::BarometricPressure | Self::GaugePressure => {
                Self::PressureDifference
            }
            Self::Temperature => Self::TemperatureDifference,
            other => other,
        }
    }

    /// The unit with factor one, first of its dimension in the table.
    pub fn si_unit(self) -> &'static Unit {
        // `every_dimension_has_its_si_unit_first` proves the search succeeds; the fallback is never reached.
        UNITS
            .iter()
            .find(|unit| unit.dimension == self)
            .unwrap_or(&UNITS[0])
    }
}

/// One unit of one dimension: `si = (value + shift) · multiply / divide`.
///
/// Multiplier and divisor are kept apart because most factors are exact only as a ratio: `92.7 mm` divided by 1000 is the
/// nearest number to 0.0927, multiplied by 0.001 it is not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// How reports write it.
    pub symbol: &'static str,
    /// Other accepted spellings, beside the symbol.
    pub spellings: &'static [&'static str],
    /// What it measures.
    pub dimension: Dimension,
    /// Added to the written value first (temperature scales only).
    pub shift: f64,
    /// Numerator of the factor to SI.
    pub multiply: f64,
    /// Denominator of the factor to SI.
    pub divide: f64,
    /// Whether another case of the same letters is another unit (MJ and mJ).
    pub case_matters: bool,
}

impl Unit {
    /// The written value in SI.
    ///
    /// ```
    /// use pullcast::units::{Dimension, find};
    /// let fahrenheit = find("°F", Dimension::Temperature).expect("a listed unit");
    /// assert!((fahrenheit.to_si(212.0) - 373.15).abs() < 1e-12);
    /// ```
    pub fn to_si(&self, value: f64) -> f64 {
        (value + self.shift) * self.multiply / self.divide
    }

    /// The SI value in this unit.
    pub fn from_si(&self, value_si: f64) -> f64 {
        value_si * self.divide / self.multiply - self.shift
    }

    /// A difference (a doubt, a step) written in this unit, in SI: the zero of the scale plays no part.
    pub fn difference_to_si(&self, difference: f64) -> f64 {
        difference * self.multiply / self.divide
    }

    /// An SI difference in this unit.
    pub fn difference_from_si(&self, difference_si: f64) -> f64 {
        difference_si * self.divide / self.multiply
    }

    /// The factor to SI as one number.
    pub fn factor(&self) -> f64 {
        self.multiply / self.divide
    }
}
