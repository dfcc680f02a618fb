//! The air in the room, as a weather file or the table `weather` of a visit says it.
//!
//! ```text
//! kind = "weather"
//! version = 1
//! temperature = "14 °C"
//! relative_humidity = "71 %"       # or dew_point, or wet_bulb
//! station_pressure = "911 hPa"     # or sea_level_pressure, or altimeter, each with the altitude
//! altitude = "900 m"
//! ```
//!
//! Which pressure is meant is never guessed: exactly one of three keys, and a station pressure that does not fit a stated
//! altitude is answered by a warning with the value to expect.

use std::path::Path;

use super::belief::{self, KEY_CONFLICT};
use super::diagnostic::{Code, Problems};
use super::table::{Found, Table, TomlFile};
use crate::air::atmosphere::{
    ALTITUDE_RANGE_M, AltimeterSetting, SeaLevelPressure, StationCheck, StationPressure,
    check_station,
};
use crate::air::{Day, DayError, PRESSURE_RANGE_PA, TEMPERATURE_RANGE_K};
use crate::units::{Dimension, show_number};

/// A pressure that does not fit the altitude.
pub const PRESSURE_DOUBTFUL: Code = Code::new("pressure_doubtful");
/// Air that cannot be.
pub const AIR_IMPOSSIBLE: Code = Code::new("air_impossible");
/// No humidity was given.
pub const HUMIDITY_MISSING: Code = Code::new("humidity_missing");

/// Relative humidity where none is stated. At 25 °C the whole range of humidity moves corrected power by 3 %, so the middle
/// is off by at most half of that.
pub const USUAL_HUMIDITY: f64 = 0.5;

const HUMIDITIES: [&str; 3] = ["relative_humidity", "dew_point", "wet_bulb"];
const PRESSURES: [&str; 3] = ["station_pressure", "sea_level_pressure", "altimeter"];

/// A humidity reading.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Humidity {
    /// 0 to 1.
    Relative(f64),
    /// K.
    DewPoint(f64),
    /// K.
    WetBulb(f64),
}

/// A pressure reading, by what it is reduced to.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Pressure {
    Station(StationPressure),
    SeaLevel(SeaLevelPressure),
    Altimeter(AltimeterSetting),
}

/// The readings of a weather table; a pull's own readings replace a visit's one by one.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Readings {
    temperature_k: Option<f64>,
    humidity: Option<Humidity>,
    pressure: Option<Pressure>,
    altitude_m: Option<f64>,
}

impl Readings {
    /// Altitude of the room, where stated, m.
    pub(super) fn altitude_m(&self) -> Option<f64> {
        self.altitude_m
    }
}

/// A weather file read.
#[derive(Debug, Clone, Copy)]
pub struct WeatherFile {
    /// The air.
    pub day: Day,
    /// Altitude of the room, where stated, m.
    pub altitude_m: Option<f64>,
}

/// Reads a weather file from disk.
pub fn open(path: &Path) -> Result<(WeatherFile, Problems), Problems> {
    read(&TomlFile::open(path)?)
}

/// Reads a weather file whose text is here.
pub fn read(file: &TomlFile) -> Result<(WeatherFile, Problems), Problems> {
    file.read(weather)
}

/// Reads the keys of a weather file.
pub(super) fn weather(root: &mut Table<'_>) -> Option<WeatherFile> {
    super::car::head(root, "weather")?;
    root.optional_text("name");
    table(root, None).map(|(day, readings)| WeatherFile {
        day,
        altitude_m: readings.altitude_m,
    })
}

/// Reads a table of readings on top of others, and makes the day.
pub(super) fn table(table: &mut Table<'_>, base: Option<&Readings>) -> Option<(Day, Readings)> {
    let base = base.copied().unwrap_or_default();
    let temperature = Dimension::Temperature;
    let limits = TEMPERATURE_RANGE_K.0..=TEMPERATURE_RANGE_K.1;
    let temperature_k = match base.temperature_k {
        None => belief::required_plain(table, "temperature", temperature, limits),
        Some(before) => table
            .found("temperature", |t| {
                belief::plain(t, "temperature", temperature, limits)
            })
            .or(before),
    };
    let (low, high) = ALTITUDE_RANGE_M;
    let altitude = table.found("altitude", |t| {
        belief::plain(t, "altitude", Dimension::Length, low..=high)
    });
    let altitude_m = altitude.or_else(|| base.altitude_m);
    let humidity = humidity(table, base.humidity);
    let pressure = pressure(table, base.pressure);
    let (humidity, pressure) = (humidity?, pressure?);
    if !matches!(pressure, Pressure::Station(_)) && altitude_m.is_none() {
        if altitude == Found::Absent {
            table.error(
                "altitude",
                Code::KEY_MISSING,
                "a pressure reduced to sea level needs the altitude of the room",
                "altitude = \"... m\", or a station pressure",
            );
        }
        return None;
    }
    let readings = Readings {
        temperature_k: Some(temperature_k?),
        humidity: Some(humidity),
        pressure: Some(pressure),
        altitude_m,
    };
    let day = day(table, &readings)?;
    Some((day, readings))
}

/// The one key of a group that is written, or a problem if there is more than one.
fn only(table: &mut Table<'_>, keys: [&'static str; 3]) -> Result<Option<&'static str>, ()> {
    let written: Vec<_> = keys.into_iter().filter(|key| table.has(key)).collect();
    match written[..] {
        [] => Ok(None),
        [key] => Ok(Some(key)),
        [first, second, ..] => {
            let message = format!("'{first}' and '{second}' are both given");
            let expected = format!("exactly one of: {}", keys.join(", "));
            table.error(second, KEY_CONFLICT, message, expected);
            Err(())
        }
    }
}

fn humidity(table: &mut Table<'_>, base: Option<Humidity>) -> Option<Humidity> {
    let key = only(table, HUMIDITIES).ok()?;
    let kelvin = TEMPERATURE_RANGE_K.0..=TEMPERATURE_RANGE_K.1;
    Some(match key {
        Some("relative_humidity") => Humidity::Relative(belief::plain(
            table,
            "relative_humidity",
            Dimension::Ratio,
            0.0..=1.0,
        )?),
        Some("dew_point") => Humidity::DewPoint(belief::plain(
            table,
            "dew_point",
            Dimension::Temperature,
            kelvin,
        )?),
        Some(key) => Humidity::WetBulb(belief::plain(table, key, Dimension::Temperature, kelvin)?),
        None => base.unwrap_or_else(|| {
            let message = "no humidity is given; 50 % is assumed";
            let expected = format!("one of: {}", HUMIDITIES.join(", "));
            table.warning("relative_humidity", HUMIDITY_MISSING, message, expected);
            Humidity::Relative(USUAL_HUMIDITY)
        }),
    })
}

fn pressure(table: &mut Table<'_>, base: Option<Pressure>) -> Option<Pressure> {
    let (low, high) = PRESSURE_RANGE_PA;
    let Some(key) = only(table, PRESSURES).ok()? else {
        if base.is_none() {
            table.error(
                "station_pressure",
                Code::KEY_MISSING,
                "no pressure is given",
                format!("exactly one of: {}", PRESSURES.join(", ")),
            );
        }
        return base;
    };
    let pa = belief::plain(table, key, Dimension::BarometricPressure, low..=high)?;
    Some(match key {
        "station_pressure" => Pressure::Station(StationPressure::from_pa(pa)),
        "sea_level_pressure" => Pressure::SeaLevel(SeaLevelPressure::from_pa(pa)),
        _ => Pressure::Altimeter(AltimeterSetting::from_pa(pa)),
    })
}

fn day(table: &mut Table<'_>, readings: &Readings) -> Option<Day> {
    let (temperature_k, altitude_m) = (readings.temperature_k?, readings.altitude_m);
    let station = match (readings.pressure?, altitude_m) {
        (Pressure::Station(station), _) => {
            warn(table, check_station(station, altitude_m));
            station
        }
        (Pressure::SeaLevel(pressure), Some(altitude)) => {
            pressure.to_station(altitude, temperature_k)
        }
        (Pressure::Altimeter(setting), Some(altitude)) => setting.to_station(altitude),
        (_, None) => return None,
    };
    let (key, made) = match readings.humidity? {
        Humidity::Relative(share) => (
            "relative_humidity",
            Day::from_relative_humidity(station, temperature_k, share),
        ),
        Humidity::DewPoint(kelvin) => (
            "dew_point",
            Day::from_dew_point(station, temperature_k, kelvin),
        ),
        Humidity::WetBulb(kelvin) => (
            "wet_bulb",
            Day::from_wet_bulb(station, temperature_k, kelvin),
        ),
    };
    match made {
        Ok(day) => Some(day),
        Err(error) => {
            let (key, expected) = match error {
                DayError::Pressure { .. } => {
                    ("altitude", "readings that give 40 to 120 kPa in the room")
                }
                DayError::Temperature { .. } => ("temperature", "-60 to 70 °C"),
                _ => (key, "a humidity this air can have"),
            };
            table.error(key, AIR_IMPOSSIBLE, error.to_string(), expected);
            None
        }
    }
}

fn warn(table: &mut Table<'_>, check: StationCheck) {
    let hpa =
        |p: &StationPressure| format!("about {} hPa in the room", show_number(p.pa() / 100.0, 4));
    let expected = match &check {
        StationCheck::Plausible | StationCheck::AltitudeOutOfRange { .. } => return,
        StationCheck::LooksLikeSeaLevel { expected, .. }
        | StationCheck::LooksReducedTwice { expected, .. }
        | StationCheck::TooHigh { expected, .. } => hpa(expected),
        StationCheck::OutOfRangeWithoutAltitude { .. } => {
            "700 to 1050 hPa, or the altitude".to_owned()
        }
    };
    let mut problem = table
        .problem("station_pressure", PRESSURE_DOUBTFUL, check.to_string())
        .expected(expected)
        .warning();
    if matches!(check, StationCheck::LooksLikeSeaLevel { .. }) {
        problem = problem.help("a weather report's value belongs under 'sea_level_pressure', an airfield's under 'altimeter'");
    }
    table.push(problem);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Result<(Day, Problems), Problems> {
        let text = format!("kind = \"weather\"\nversion = 1\n{text}");
        read(&TomlFile::parse("weather.toml", &text)?)
            .map(|(weather, warnings)| (weather.day, warnings))
    }

    #[test]
    fn the_three_pressures_meet_in_the_room() {
        // US airfield: 30.00 inHg at 1609 m is 836.59 hPa in the room (ISO 2533 constants, see air::atmosphere).
        let (day, warnings) =
            of("temperature = \"15 °C\"\nrelative_humidity = \"40 %\"\naltimeter = \"30.00 inHg\"\naltitude = \"1609 m\"\n")
                .expect("a day");
        assert!(
            (day.station().pa() - 83_659.0).abs() < 5.0,
            "{}",
            day.station().pa()
        );
        assert!(warnings.is_empty());
        // The reduction to sea level and back is the same formula: 1013.1 hPa, 15 °C, 1609 m gives 840 hPa.
        let (day, _) =
            of("temperature = \"15 °C\"\ndew_point = \"5 °C\"\nsea_level_pressure = \"1013.1 hPa\"\naltitude = \"1609 m\"\n")
                .expect("a day");
        assert!(
            (day.station().pa() - 84_000.0).abs() < 10.0,
            "{}",
            day.station().pa()
        );
    }

    #[test]
    fn a_reduced_pressure_without_altitude_is_asked_back() {
        let problem = of(
            "temperature = \"15 °C\"\nwet_bulb = \"10 °C\"\nsea_level_pressure = \"1013 hPa\"\n",
        )
        .expect_err("no altitude")
        .only();
        assert_eq!(problem.code, Code::KEY_MISSING);
        assert!(problem.message.contains("altitude"), "{problem}");
    }
}
