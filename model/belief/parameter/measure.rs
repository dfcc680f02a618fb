//! How a number of the catalogue is written and how the model holds it.
//!
//! Files are written in a shop's units; the model holds SI, with two exceptions that correlations are written in (engine
//! speed in rpm, crank angle in deg) and a few coefficients that a person states at a round speed (drag at 50 m/s).
//! The factor between SI and the model's number is kept here and nowhere else.

use crate::units::{self, Dimension, Unit, find};

/// Dimension and unit of a written number, and the model's number for one SI unit of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// What it measures.
    pub dimension: Dimension,
    /// Symbol of the unit it is written in; empty for plain numbers.
    pub symbol: &'static str,
    /// Model's number per SI unit.
    pub scale: f64,
}

impl Measure {
    /// Plain number.
    pub const RATIO: Self = Self::si(Dimension::Ratio, "");
    /// Length in mm.
    pub const MM: Self = Self::si(Dimension::Length, "mm");
    /// Length in m.
    pub const M: Self = Self::si(Dimension::Length, "m");
    /// Mass in kg.
    pub const KG: Self = Self::si(Dimension::Mass, "kg");
    /// Volume in L.
    pub const L: Self = Self::si(Dimension::Volume, "L");
    /// Speed in m/s.
    pub const M_S: Self = Self::si(Dimension::Speed, "m/s");
    /// Voltage in V.
    pub const V: Self = Self::si(Dimension::ElectricPotential, "V");
    /// Energy in MJ.
    pub const MJ: Self = Self::si(Dimension::Energy, "MJ");
    /// Time in s.
    pub const S: Self = Self::si(Dimension::Time, "s");
    /// Pressure difference in kPa.
    pub const KPA: Self = Self::si(Dimension::PressureDifference, "kPa");
    /// Temperature in °C.
    pub const DEG_C: Self = Self::si(Dimension::Temperature, "°C");
    /// Temperature difference in K.
    pub const KELVIN: Self = Self::si(Dimension::TemperatureDifference, "K");
    /// Power in kW.
    pub const KW: Self = Self::si(Dimension::Power, "kW");
    /// Torque in N m.
    pub const NM: Self = Self::si(Dimension::Torque, "N m");
    /// Moment of inertia in kg m².
    pub const KG_M2: Self = Self::si(Dimension::Inertia, "kg m²");
    /// Moment of inertia in kg cm².
    pub const KG_CM2: Self = Self::si(Dimension::Inertia, "kg cm²");
    /// Force in N.
    pub const N: Self = Self::si(Dimension::Force, "N");
    /// Heat capacity in kJ/K.
    pub const KJ_K: Self = Self::si(Dimension::HeatCapacity, "kJ/K");
    /// Heat flow per kelvin in W/K.
    pub const W_K: Self = Self::si(Dimension::ThermalConductance, "W/K");
    /// Mass flow in g/s.
    pub const G_S: Self = Self::si(Dimension::MassFlow, "g/s");
    /// Mass flow in kg/min.
    pub const KG_MIN: Self = Self::si(Dimension::MassFlow, "kg/min");
    /// Volume per turn in L/rev.
    pub const L_REV: Self = Self::si(Dimension::DisplacementPerRev, "L/rev");
    /// Area in mm².
    pub const MM2: Self = Self::si(Dimension::Area, "mm²");
    /// Resistance in ohm.
    pub const OHM: Self = Self::si(Dimension::Resistance, "ohm");
    /// Fuel flow of one injector in cm³/min.
    pub const CM3_MIN: Self = Self::si(Dimension::VolumeFlow, "cm3/min");
    /// Fuel flow of a pump in L/h.
    pub const L_H: Self = Self::si(Dimension::VolumeFlow, "L/h");
    /// Time in ms.
    pub const MS: Self = Self::si(Dimension::Time, "ms");
    /// Angle in deg, held in rad.
    pub const ANGLE: Self = Self::si(Dimension::Angle, "deg");
    /// Shaft speed in rad/s.
    pub const RAD_S: Self = Self::si(Dimension::RotationalSpeed, "rad/s");
    /// Shaft speed in rpm, held in rad/s.
    pub const SHAFT_RPM: Self = Self::si(Dimension::RotationalSpeed, "rpm");
    /// Engine speed in rpm, held in rpm.
    pub const RPM: Self = Self {
        dimension: Dimension::RotationalSpeed,
        symbol: "rpm",
        scale: units::RPM_PER_RAD_S,
    };
    /// Crank angle in deg, held in deg.
    pub const DEG: Self = Self {
        dimension: Dimension::Angle,
        symbol: "deg",
        scale: 180.0 / std::f64::consts::PI,
    };
    /// Friction that grows with piston speed, written at 10 m/s.
    pub const KPA_AT_10_M_S: Self = Self {
        dimension: Dimension::PressureDifference,
        symbol: "kPa",
        scale: 0.1,
    };
    /// Friction that grows with piston speed squared, written at 10 m/s.
    pub const KPA_AT_10_M_S_SQUARED: Self = Self {
        dimension: Dimension::PressureDifference,
        symbol: "kPa",
        scale: 0.01,
    };
    /// Drag that grows with speed squared, written at 50 m/s.
    pub const N_AT_50_M_S: Self = Self {
        dimension: Dimension::Force,
        symbol: "N",
        scale: 1.0 / 2500.0,
    };
    /// Drag that grows with speed, written at 50 m/s.
    pub const N_AT_50_M_S_IN_PROPORTION: Self = Self {
        dimension: Dimension::Force,
        symbol: "N",
        scale: 1.0 / 50.0,
    };

    const fn si(dimension: Dimension, symbol: &'static str) -> Self {
        Self {
            dimension,
            symbol,
            scale: 1.0,
        }
    }

    /// The unit it is written in. A test holds that every symbol is in the table.
    pub fn unit(self) -> &'static Unit {
        find(self.symbol, self.dimension).unwrap_or_else(|_| self.dimension.si_unit())
    }

    /// The model's number for a written one.
    pub fn to_model(self, written: f64) -> f64 {
        self.unit().to_si(written) * self.scale
    }

    /// The model's number for a written difference.
    pub fn difference_to_model(self, written: f64) -> f64 {
        self.unit().difference_to_si(written) * self.scale
    }

    /// The written number for a model's.
    pub fn from_model(self, model: f64) -> f64 {
        self.unit().from_si(model / self.scale)
    }

    /// The written difference for a model's.
    pub fn difference_from_model(self, model: f64) -> f64 {
        self.unit().difference_from_si(model / self.scale)
    }
}

#[cfg(test)]
mod tests {
    use super::super::catalogue;
    use super::*;

    #[test]
    fn every_symbol_of_the_catalogue_is_in_the_table_of_units() {
        for parameter in catalogue() {
            let measure = parameter.measure;
            // Plain numbers have no symbol.
            let plain = measure.symbol.is_empty() && measure.dimension == Dimension::Ratio;
            assert!(
                plain || find(measure.symbol, measure.dimension).is_ok(),
                "{} '{}'",
                parameter.path,
                measure.symbol
            );
        }
    }

    #[test]
    fn written_and_model_numbers_go_there_and_back() {
        for measure in [
            Measure::RPM,
            Measure::DEG_C,
            Measure::N_AT_50_M_S,
            Measure::KPA,
        ] {
            assert!((measure.from_model(measure.to_model(37.0)) - 37.0).abs() < 1e-12);
        }
        assert!((Measure::RPM.to_model(6500.0) - 6500.0).abs() < 1e-9);
    }
}
