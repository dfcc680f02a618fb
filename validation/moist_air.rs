//! Moist air against `PsychroLib` and `CoolProp`, against 40 CFR 1066, and there and back.

use proptest::prelude::*;
use pullcast::air::atmosphere::StationPressure;
use pullcast::air::{Day, moist};
use serde::Deserialize;

#[derive(Deserialize)]
struct State {
    temperature_c: f64,
    relative_humidity_pct: f64,
    pressure_kpa: f64,
    p_sat_kpa_psy: f64,
    p_vapour_kpa_psy: f64,
    p_vapour_kpa_cp: f64,
    dew_point_c_psy: f64,
    dew_point_c_cp: f64,
    wet_bulb_c_psy: f64,
    wet_bulb_c_cp: f64,
    humidity_ratio_kg_kg_psy: f64,
    density_kg_m3_psy: f64,
    density_kg_m3_cp: f64,
}

fn states() -> Vec<(State, Day)> {
    csv::Reader::from_reader(include_str!("data/moist_air/states.csv").as_bytes())
        .deserialize()
        .map(|row| {
            let row: State = row.expect("a row of the file");
            let station = StationPressure::from_pa(row.pressure_kpa * 1e3);
            let humidity = row.relative_humidity_pct / 100.0;
            let day = Day::from_relative_humidity(station, row.temperature_c + 273.15, humidity)
                .expect("every listed state is possible");
            (row, day)
        })
        .collect()
}

fn close(ours: f64, theirs: f64, tolerance: f64, what: &str) {
    assert!(
        (ours - theirs).abs() <= tolerance,
        "{what}: {ours} against {theirs}, tolerance {tolerance}"
    );
}

#[test]
fn moist_air_is_that_of_psychrolib() {
    let states = states();
    assert_eq!(states.len(), 85);
    for (row, day) in states {
        // Printed to 1e-6 kPa (0.001 Pa); 2 % over half a digit for the reader's rounding.
        close(
            moist::saturation_pa(day.temperature_k()) / 1e3,
            row.p_sat_kpa_psy,
            5.1e-7,
            "saturation",
        );
        close(
            day.vapour_pa() / 1e3,
            row.p_vapour_kpa_psy,
            5.1e-7,
            "vapour",
        );
        // PsychroLib stops its iterations at 0.001 K; half a digit of print on top.
        let dew = day.dew_point_k().expect("not dry");
        close(dew - 273.15, row.dew_point_c_psy, 1.5e-3, "dew point");
        let wet = moist::wet_bulb_k(day.temperature_k(), day.vapour_pa(), day.station().pa())
            .expect("below saturation");
        close(wet - 273.15, row.wet_bulb_c_psy, 1.5e-3, "wet bulb");
        // Half a printed digit: 1e-7 and 1e-6.
        close(
            day.humidity_ratio(),
            row.humidity_ratio_kg_kg_psy,
            5.1e-8,
            "humidity ratio",
        );
        close(
            day.density_kg_m3(),
            row.density_kg_m3_psy,
            5.1e-7,
            "density",
        );
    }
}

#[test]
fn moist_air_is_close_to_real_air() {
    for (row, day) in states() {
        // CoolProp's relative humidity counts the enhancement factor: 0.41 to 0.5 % more vapour,
        // less 0.02 % between the two saturation fits and up to 0.05 % for the last printed digit
        // in the driest states.
        let excess = row.p_vapour_kpa_cp * 1e3 / day.vapour_pa() - 1.0;
        assert!((0.003..0.0053).contains(&excess), "{excess}");
        // The enhancement factor nearly cancels between vapour and saturation at the dew point; its
        // change with temperature is left.
        let dew = day.dew_point_k().expect("not dry");
        close(dew - 273.15, row.dew_point_c_cp, 0.017, "dew point");
        close(
            moist::wet_bulb_k(day.temperature_k(), day.vapour_pa(), day.station().pa())
                .expect("below saturation")
                - 273.15,
            row.wet_bulb_c_cp,
            0.026,
            "wet bulb",
        );
        // Compressibility of real air: 0.074 % at -10 °C.
        close(
            day.density_kg_m3() / row.density_kg_m3_cp,
            1.0,
            8e-4,
            "density",
        );
    }
}

/// Saturation pressure of water, hPa: Hyland and Wexler's form by `PsychroLib` 2.5.0, and IAPWS-95 by
/// `CoolProp` 8.0.0.
#[test]
fn saturation_of_water_is_close_to_iapws_95() {
    for (celsius, hyland_wexler, iapws) in [
        (10.0, 12.2800, 12.2820),
        (20.0, 23.3880, 23.3932),
        (25.0, 31.6922, 31.6993),
        (30.0, 42.4603, 42.4697),
        (40.0, 73.8346, 73.8494),
        (50.0, 123.4986, 123.5195),
    ] {
        let ours = moist::saturation_pa(celsius + 273.15) / 100.0;
        close(ours, hyland_wexler, 5.1e-5, "half a printed digit");
        // The two formulations part most at 25 °C, by 2.25e-4 of the value; half a digit of print is 2e-6.
        close(ours / iapws, 1.0, 2.27e-4, "saturation");
    }
}

/// The same states by Magnus' form (17.62, 243.12, 6.112; from memory): its published distance from
/// IAPWS-95 is 0.32 %. Row "30 °C, 60 %": vapour 2540.2 Pa by that form, humidity ratio .015995,
/// power factor .97493, oxygen .2042.
#[test]
fn a_warm_damp_day_costs_two_and_a_half_percent_of_oxygen() {
    let magnus_pa: f64 = 0.6 * 611.2 * (17.62_f64 * 30.0 / (243.12 + 30.0)).exp();
    close(
        magnus_pa,
        2540.2,
        0.05,
        "the row's own arithmetic, printed to 0.1 Pa",
    );
    let ours = moist::vapour_from_relative_humidity_pa(303.15, 0.6);
    close(
        ours / magnus_pa,
        1.0,
        3.2e-3 + 2.3e-4,
        "two published forms",
    );
    let station = StationPressure::from_pa(101_325.0);
    let day = Day::from_vapour(station, 303.15, magnus_pa).expect("an ordinary day");
    // 0.1 %: the row's ratio is from 0.622, ours from 0.621945.
    close(day.humidity_ratio() / 0.015995, 1.0, 1e-3, "humidity ratio");
    close(day.dry_fraction(), 0.97493, 5e-6, "printed to 1e-5");
    close(day.oxygen_mole_fraction(), 0.2042, 1e-4, "printed to 1e-4");
}

/// Worked line of 40 CFR 1066.615: 7.14741 g/kg from 2.93 kPa saturation, 37.5 %, 96.71 kPa.
#[test]
fn humidity_ratio_is_that_of_40_cfr_1066() {
    let grams = 1e3 * moist::humidity_ratio(96_710.0, 0.375 * 2930.0);
    // Its molar masses give 0.621955 where ASHRAE prints 0.621945: 1.6e-5; the print adds 7e-7.
    close(grams / 7.14741, 1.0, 1.7e-5, "humidity");
}

/// Wet bulb by ASHRAE eqns 33 and 35 as `PsychroLib` 2.5.0 has them, printed to 0.1 Pa.
#[test]
fn thermodynamic_wet_bulb_gives_the_worked_vapour_pressures() {
    for (celsius, wet, kpa, vapour_kpa) in [
        (30.0, 20.0, 101.325, 1.6849),
        (25.0, 15.0, 84.0, 1.1646),
        (35.0, 22.0, 101.325, 1.7955),
        (20.0, 18.0, 98.0, 1.9377),
    ] {
        let ours = moist::vapour_from_wet_bulb_pa(celsius + 273.15, wet + 273.15, kpa * 1e3);
        close(ours / 1e3, vapour_kpa, 5.1e-5, "vapour");
    }
}

proptest! {
    #[test]
    fn humidity_goes_to_dew_point_and_back(celsius in -40.0..60.0_f64, humidity in 0.01..1.0_f64) {
        let temperature_k = celsius + 273.15;
        let station = StationPressure::from_pa(95_000.0);
        let day = Day::from_relative_humidity(station, temperature_k, humidity).expect("possible");
        let dew = day.dew_point_k().expect("within the equations");
        prop_assert!(dew <= temperature_k + 1e-8);
        // The two saturation fits leave a step of 2e-5 at the triple point; anywhere else 1e-9 K of
        // inversion.
        let back = moist::vapour_from_dew_point_pa(dew) / day.vapour_pa();
        let tolerance = if (dew - 273.16).abs() < 1e-3 { 3e-5 } else { 1e-9 };
        prop_assert!((back - 1.0).abs() < tolerance);
    }

    #[test]
    fn wet_bulb_lies_between_dew_point_and_air(celsius in 2.0..50.0_f64, humidity in 0.02..1.0_f64, pa in 7e4..1.05e5_f64) {
        let day = Day::from_relative_humidity(StationPressure::from_pa(pa), celsius + 273.15, humidity).expect("possible");
        let wet = moist::wet_bulb_k(day.temperature_k(), day.vapour_pa(), pa).expect("below saturation");
        prop_assert!(wet <= day.temperature_k() + 1e-6);
        prop_assert!(wet >= day.dew_point_k().expect("not dry") - 0.05);
    }

    #[test]
    fn damper_hotter_or_thinner_air_is_never_denser(celsius in -30.0..50.0_f64, humidity in 0.0..0.9_f64, pa in 6e4..1.1e5_f64) {
        let day = |pa, celsius, humidity| {
            Day::from_relative_humidity(StationPressure::from_pa(pa), celsius + 273.15, humidity).expect("possible")
        };
        let base = day(pa, celsius, humidity);
        for other in [day(pa, celsius, humidity + 0.1), day(pa, celsius + 1.0, humidity), day(pa - 500.0, celsius, humidity)] {
            prop_assert!(other.density_kg_m3() < base.density_kg_m3());
            prop_assert!(other.dry_pa() < base.dry_pa() || other.temperature_k() > base.temperature_k());
        }
    }
}
