//! Stations as they come, and what is wrong with them.

use super::*;

fn read(text: &str) -> Result<(Station, Problems), Problems> {
    parse("hours.csv", text.as_bytes(), &Options::default())
}

/// Two months of every third hour, as rows of `time,t,td,p`.
fn rows(of: impl Fn(i64) -> (f64, f64, f64)) -> String {
    let start = time::days(2025, 3, 1) * 1440;
    let row = |k: i64| {
        let (day, _, hour) = time::local(start + 180 * k);
        let since = day - time::days(2025, 3, 1);
        let (month, of_month) = if since < 31 {
            (3, since + 1)
        } else {
            (4, since - 30)
        };
        let (t, td, p) = of(k);
        format!("2025-{month:02}-{of_month:02}T{hour:02}:00,{t:.1},{td:.1},{p:.1}\n")
    };
    (0..400).map(row).collect()
}

fn air(k: i64) -> (f64, f64, f64) {
    let k = k as f64;
    (
        12.0 + 6.0 * (0.7 * k).sin(),
        4.0 + 2.0 * (0.05 * k).sin(),
        910.0 + 8.0 * (0.03 * k).sin(),
    )
}

/// What an airfield at this altitude would report, by the constants of ISO 2533.
fn altimeter_hpa(station_hpa: f64, altitude_m: f64) -> f64 {
    let n = 0.190_263;
    (station_hpa.powf(n) + 1013.25_f64.powf(n) * 0.0065 * altitude_m / 288.15).powf(1.0 / n)
}

const HEADER: &str =
    "# elevation: 900 m\ntime,temperature (°C),dew point (°C),station pressure (hPa)\n";

#[test]
fn a_clean_station_is_read_whole() {
    let (station, warnings) = read(&format!("{HEADER}{}", rows(air))).expect("a station");
    assert!(warnings.is_empty(), "{warnings:?}");
    let cleaning = &station.cleaning;
    assert_eq!(
        (
            cleaning.rows,
            cleaning.kept,
            cleaning.step_min,
            cleaning.gaps
        ),
        (400, 400, 180, 0)
    );
    assert_eq!(cleaning.empty_months, [1, 2, 5, 6, 7, 8, 9, 10, 11, 12]);
    let first = station.hours[0];
    assert_eq!((first.month, first.hour), (3, 0));
    assert!((first.air.station().pa() - 91_000.0).abs() < 1.0);
}

#[test]
fn shapes_of_exports_say_the_same() {
    let text = rows(air);
    let (plain, _) = read(&format!("{HEADER}{text}")).expect("a station");
    let semicolons = text.replace(',', ";").replace('.', ",");
    let (other, _) = read(&format!(
        "# Elevation: 900 m\nDate_Time;T_C;Td_C;station_pressure_hPa\n{semicolons}"
    ))
    .expect("semicolons and decimal commas");
    assert_eq!(plain.hours, other.hours);
    // By UTC, five hours ahead of the shop's clock.
    let utc = text.replace(":00,", ":00Z,");
    let (shifted, _) = read(&format!("# utc offset: -5 h\n{HEADER}{utc}")).expect("UTC");
    assert_eq!((shifted.hours[0].month, shifted.hours[0].hour), (2, 19));
    let (_, warnings) = read(&format!("{HEADER}{utc}")).expect("UTC without an offset");
    assert!(warnings.with_code(TIME_UTC).next().is_some());
}

#[test]
fn every_row_left_out_is_counted_under_its_reason() {
    let mut lines: Vec<String> = rows(air).lines().map(str::to_owned).collect();
    lines[3] = lines[3].replace(",9", ",M,9");
    lines[3] = "2025-03-01T09:00,12.0,,910.0".to_owned();
    lines[7] = "2025-03-01T21:00,5.0,9.0,910.0".to_owned();
    lines[9] = "2025-03-01T21:00,5.0,4.0,910.0".to_owned();
    lines[11] = "sometime,5.0,4.0,910.0".to_owned();
    lines[13] = "2025-03-02T15:00,95.0,4.0,910.0".to_owned();
    for (k, line) in lines.iter_mut().enumerate().skip(100).take(40) {
        let time = line.split(',').next().expect("a time").to_owned();
        *line = format!(
            "{time},7.0,{:.1},{:.1}",
            2.0 + 0.01 * k as f64,
            905.0 + 0.1 * k as f64
        );
    }
    let (station, warnings) = read(&format!("{HEADER}{}\n", lines.join("\n"))).expect("a station");
    let count = |reason: Reason| {
        let left = station
            .cleaning
            .left_out
            .iter()
            .find(|left| left.reason == reason);
        left.map_or(0, |left| left.rows)
    };
    let reasons = [
        Reason::Missing,
        Reason::Humidity,
        Reason::Repeated,
        Reason::Time,
        Reason::Range,
        Reason::Stuck,
    ];
    assert_eq!(reasons.map(count), [1, 1, 1, 1, 1, 39]);
    assert_eq!(station.cleaning.kept, 400 - 44);
    assert!(station.cleaning.gaps >= 4 && station.cleaning.longest_gap_min >= 39 * 180);
    assert!(warnings.with_code(ROWS_LEFT_OUT).next().is_some());
}

#[test]
fn a_pressure_is_declared_and_fits_or_is_refused() {
    let code = |text: &str, code: Code| {
        let problems = match read(text) {
            Ok((_, warnings)) => warnings,
            Err(problems) => problems,
        };
        assert!(problems.with_code(code).next().is_some(), "{problems:?}");
    };
    let text = rows(air);
    let sea = rows(|k| (air(k).0, air(k).1, air(k).2 + 104.0));
    code(
        &format!("# elevation: 900 m\ntime,T_C,Td_C,p_hPa\n{text}"),
        PRESSURE_KIND,
    );
    code(&format!("{HEADER}{sea}"), PRESSURE_KIND);
    let reduced = "time,T_C,Td_C,sea_level_pressure_hPa\n";
    code(
        &format!("# elevation: 900 m\n{reduced}{text}"),
        PRESSURE_KIND,
    );
    code(&format!("{reduced}{sea}"), Code::KEY_MISSING);
    code(
        &format!("{}{text}", HEADER.replace("900", "1100")),
        ELEVATION_DOUBTFUL,
    );
    code(
        &format!("{HEADER}{}", rows(|k| (air(k).0, 3.0, air(k).2))),
        COLUMN_CONSTANT,
    );
    code(
        &format!("{HEADER}03/04/2025 10:00,5,4,910\n{text}"),
        TIME_AMBIGUOUS,
    );
    code(
        &format!("time,T_C,Td_C,station_pressure\n{text}"),
        Code::UNIT_MISSING,
    );
    code(
        "time,T_C,station_pressure_hPa\n2025-01-01T00:00,5,910\n",
        Code::COLUMNS_UNKNOWN,
    );
    // The same air, whichever way it is reported.
    let (direct, _) = read(&format!("{HEADER}{text}")).expect("a station");
    let at = |k: usize| direct.hours[k].air;
    let settings: Vec<f64> = (0..400)
        .map(|k| altimeter_hpa(at(k).station().pa() / 100.0, 900.0))
        .collect();
    let altimeter = rows(|k| {
        (
            air(k).0,
            air(k).1,
            settings[usize::try_from(k).expect("a row")],
        )
    });
    let (other, _) = read(&format!(
        "# elevation: 900 m\ntime,T_C,Td_C,altimeter_hPa\n{altimeter}"
    ))
    .expect("airfield");
    for (a, b) in direct.hours.iter().zip(&other.hours) {
        // Reports are rounded to 0.1 hPa.
        assert!((a.air.station().pa() - b.air.station().pa()).abs() < 6.0);
    }
}
