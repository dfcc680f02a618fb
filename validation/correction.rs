//! Weather corrections against factors worked out elsewhere, the few worked examples that could be
//! read, and their laws.

use crate::closed_forms::{density_ratio_from_both, dry_60f_over_j1349};
use proptest::prelude::*;
use pullcast::air::Day;
use pullcast::air::atmosphere::{GaugePressure, StationPressure};
use pullcast::dyno::correction::boosted::{BoostLaw, pressure_part};
use pullcast::dyno::correction::engine::{Charging, EngineKind, Fuelling, Ignition};
use pullcast::dyno::correction::site::{
    SiteAdjustment, SiteEngine, UNSTATED_MECHANICAL_EFFICIENCY,
};
use pullcast::dyno::correction::{
    Breach, Correction, CorrectionError, PressureUsed, Standard, Subject,
};
use serde::Deserialize;

#[derive(Deserialize)]
struct Row {
    standard: String,
    engine_kind: String,
    mechanical_efficiency: Option<f64>,
    qc_mg_l: Option<f64>,
    pressure_kpa: f64,
    temperature_c: f64,
    relative_humidity_pct: f64,
    vapour_kpa: f64,
    factor: f64,
    factor_coolprop: f64,
}

impl Row {
    fn factor_on(&self, day: Day) -> f64 {
        if self.standard == "iso-3046" {
            let engine = match self.engine_kind.as_str() {
                "ci_turbo_charge_cooled" => SiteEngine::DieselTurboCooled,
                "si_gas_na" => SiteEngine::GasUnboosted,
                other => panic!("no such engine in the file: {other}"),
            };
            return SiteAdjustment::new(engine, &day, 298.15, UNSTATED_MECHANICAL_EFFICIENCY).alpha;
        }
        let subject = Subject {
            mechanical_efficiency: self.mechanical_efficiency,
            fuelling: self.qc_mg_l.map(|qc_mg_l| Fuelling { qc_mg_l }),
            ..spark()
        };
        let standard: Standard = self
            .standard
            .parse()
            .expect("the file uses this program's words");
        Correction::new(standard, day, &subject)
            .expect("the row gives all that is needed")
            .factor
    }
}

fn spark() -> Subject {
    Subject::of(EngineKind::SPARK_UNBOOSTED)
}

fn day(pressure_kpa: f64, temperature_c: f64, vapour_kpa: f64) -> Day {
    Day::from_vapour(
        StationPressure::from_pa(pressure_kpa * 1e3),
        temperature_c + 273.15,
        vapour_kpa * 1e3,
    )
    .expect("possible air")
}

fn factor(standard: Standard, day: Day) -> f64 {
    Correction::new(standard, day, &spark())
        .expect("needs nothing more")
        .factor
}

fn rows() -> Vec<Row> {
    csv::Reader::from_reader(include_str!("data/correction/factors.csv").as_bytes())
        .deserialize()
        .map(|row| row.expect("a row of the file"))
        .collect()
}

#[test]
fn every_factor_of_the_table_comes_out_from_its_vapour_pressure() {
    let rows = rows();
    assert_eq!(rows.len(), 146);
    for row in rows {
        let ours = row.factor_on(day(row.pressure_kpa, row.temperature_c, row.vapour_kpa));
        // 2e-6: vapour pressure and factor are both printed to 1e-6.
        assert!(
            (ours - row.factor).abs() < 2e-6,
            "{} {} {ours}",
            row.standard,
            row.factor
        );
    }
}

#[test]
fn every_factor_of_the_table_comes_out_from_its_humidity() {
    for row in rows() {
        let station = StationPressure::from_pa(row.pressure_kpa * 1e3);
        let humid = Day::from_relative_humidity(
            station,
            row.temperature_c + 273.15,
            row.relative_humidity_pct / 100.0,
        )
        .expect("possible air");
        let ours = row.factor_on(humid);
        // Two vapour-pressure libraries, 0.52 % apart at most (the enhancement factor): 3.5e-4 in
        // the factor.
        assert!(
            (ours - row.factor).abs() < 3.5e-4,
            "{} {} {ours}",
            row.standard,
            row.factor
        );
        assert!(
            (ours - row.factor_coolprop).abs() < 3.5e-4,
            "{} {} {ours}",
            row.standard,
            row.factor_coolprop
        );
    }
}

/// SAE J1349's form (label JUN90, read in a quotation) with 298.15 K in place of 298: 3.4e-5 apart
/// at most, printed to 1e-4. 60 °F over J1349 from the same script.
#[test]
fn j1349_and_60f_of_the_worked_cases() {
    for (dry_kpa, celsius, expected) in [(97.1, 30.0, 1.0331), (95.0, 35.0, 1.0701)] {
        let ours = factor(Standard::SaeJ1349, day(dry_kpa, celsius, 0.0));
        assert!((ours - expected).abs() < 1e-4, "{ours} {expected}");
    }
    for (dry_kpa, celsius, expected) in [(99.0, 25.0, 1.0401), (95.0, 35.0, 1.0297)] {
        let air = day(dry_kpa, celsius, 0.0);
        let ours = factor(Standard::Dry60F, air) / factor(Standard::SaeJ1349, air);
        // 101.325 kPa and 288.7 K there, 29.92 inHg (101.321 kPa) and 519.7/1.8 K here: 6e-5;
        // printed to 1e-4.
        assert!((ours - expected).abs() < 1.5e-4, "{ours} {expected}");
    }
}

/// Table derived from the two formulas: D, J1349, 60 °F, their ratio, 60 °F with 0.85, ISO 1585 at
/// the same D by pressure alone.
#[test]
fn the_60f_factor_is_1_040_of_j1349_at_its_reference_and_falls_as_air_thins() {
    let mut last = f64::INFINITY;
    for (d, j1349, dry_60f, ratio, with_085, iso) in [
        (0.920, 0.9056, 0.9568, 1.0566, 1.0480, 0.9048),
        (1.000, 1.0000, 1.0400, 1.0400, 1.0473, 1.0000),
        (1.070, 1.0826, 1.1128, 1.0279, 1.0467, 1.0846),
        (1.125, 1.1475, 1.1701, 1.0197, 1.0463, 1.1518),
        (1.200, 1.2360, 1.2481, 1.0098, 1.0459, 1.2446),
        (1.300, 1.3540, 1.3521, 0.9986, 1.0454, 1.3700),
    ] {
        let air = day(99.0 / d, 25.0, 0.0);
        let near = |ours: f64, printed: f64| {
            assert!((ours - printed).abs() < 6e-5, "{d}: {ours} {printed}");
        };
        near(factor(Standard::SaeJ1349, air), j1349);
        // The table's 60 °F column is rounded from r = 1.0400; r is 1.04005, and R 1.04009 with
        // exact constants.
        assert!((factor(Standard::Dry60F, air) - dry_60f).abs() < 1.2e-4);
        assert!((dry_60f_over_j1349(d) - ratio).abs() < 1.2e-4);
        near(
            factor(Standard::Dry60F, air) / factor(Standard::SaeJ1349, air),
            dry_60f_over_j1349(d),
        );
        assert!(
            (factor(Standard::Dry60FEfficiency85, air) / factor(Standard::SaeJ1349, air)
                - with_085)
                .abs()
                < 1.2e-4
        );
        near(factor(Standard::Iso1585, air), iso);
        let now = dry_60f_over_j1349(d);
        assert!(now < last);
        last = now;
        let back = density_ratio_from_both(now).expect("a real pair");
        assert!((back - d).abs() < 1e-12);
    }
}

/// A printed workshop table (110 entries, 995 to 1040 hPa, 0 to 50 °C): two of its entries, read to
/// 1e-4.
#[test]
fn the_square_root_form_of_80_1269_is_that_of_a_printed_table() {
    for (hpa, celsius, printed) in [(1000.0, 50.0, 1.0307), (1040.0, 0.0, 0.9111)] {
        let ours = factor(Standard::Eec80_1269, day(hpa / 10.0, celsius, 0.0));
        assert!((ours - printed).abs() < 5e-5, "{ours} {printed}");
    }
}

/// GOST 10150-2014 annex E: 14.2 l, 1900 rpm, 16.3 g/s, boost ratio 2.28 falls below the exponent's
/// band.
#[test]
fn fuel_per_cycle_of_the_worked_engine_is_below_the_band() {
    let fuelling = Fuelling {
        // Grams a litre and four-stroke cycle, over the boost ratio.
        qc_mg_l: 120_000.0 * 16.3 / (14.2 * 1900.0) / 2.28,
    };
    // Printed here to 0.01: 31.80.
    assert!(
        (fuelling.qc_mg_l - 31.80).abs() < 0.005,
        "{}",
        fuelling.qc_mg_l
    );
    assert_eq!(
        Standard::Iso15550DieselTurboAir.engine_exponent(fuelling),
        0.2
    );
    // The clamps of ISO 15550 are continuous to the third digit: 0.036 × 37.2 − 1.14 = 0.1992.
    let at_clamp = Standard::Iso15550DieselTurboAir.engine_exponent(Fuelling { qc_mg_l: 37.2 });
    assert!((at_clamp - 0.2).abs() < 1e-3);
}

/// Pressure part of the correction by what holds the boost; derived table, printed to 1e-3.
#[test]
fn the_pressure_part_shrinks_with_what_holds_the_boost() {
    for (kpa, follows, by_50, by_100, by_150) in [
        (95.0, 1.050, 1.033, 1.024, 1.019),
        (90.0, 1.118, 1.076, 1.056, 1.044),
        (84.0, 1.211, 1.132, 1.096, 1.076),
        (80.0, 1.280, 1.173, 1.125, 1.098),
    ] {
        let held = |kpa_gauge: f64| BoostLaw::HeldGauge(GaugePressure::from_pa(kpa_gauge * 1e3));
        for (law, printed) in [
            (BoostLaw::FollowsAmbient, follows),
            (held(50.0), by_50),
            (held(100.0), by_100),
            (held(150.0), by_150),
        ] {
            let ours = pressure_part(kpa * 1e3, law);
            assert!((ours - printed).abs() < 6e-4, "{kpa}: {ours} {printed}");
        }
        assert_eq!(pressure_part(kpa * 1e3, BoostLaw::HeldAbsolute), 1.0);
    }
}

#[test]
fn what_a_form_needs_is_asked_for_and_what_it_cannot_take_is_refused() {
    let air = day(95.0, 25.0, 1.0);
    let with = |standard, subject| Correction::new(standard, air, &subject).map(|c| c.factor);
    assert_eq!(
        with(Standard::SaeJ1349StatedEfficiency, spark()),
        Err(CorrectionError::NeedsMechanicalEfficiency(
            Standard::SaeJ1349StatedEfficiency
        ))
    );
    assert_eq!(
        with(Standard::Iso1585DieselTurbo, spark()),
        Err(CorrectionError::NeedsFuelling(Standard::Iso1585DieselTurbo))
    );
    let bad = Subject {
        mechanical_efficiency: Some(85.0),
        ..spark()
    };
    assert_eq!(
        with(Standard::SaeJ1349StatedEfficiency, bad),
        Err(CorrectionError::MechanicalEfficiency { efficiency: 85.0 })
    );
    let bad = Subject {
        fuelling: Some(Fuelling { qc_mg_l: f64::NAN }),
        ..spark()
    };
    assert!(matches!(
        with(Standard::Iso1585DieselTurbo, bad),
        Err(CorrectionError::Fuelling { .. })
    ));
}

#[test]
fn a_factor_is_never_clamped_and_its_breaches_are_told() {
    let mountain = Correction::new(Standard::Iso1585, day(78.0, 10.0, 0.2456), &spark())
        .expect("spark ignition");
    assert!(mountain.factor > 1.29 && !mountain.holds());
    assert!(
        mountain
            .breaches
            .iter()
            .any(|b| matches!(b, Breach::Factor { .. }))
    );
    let turbo = Subject::of(EngineKind {
        ignition: Ignition::Spark,
        charging: Charging::Turbo,
    });
    let boosted =
        Correction::new(Standard::SaeJ1349, day(99.0, 25.0, 0.0), &turbo).expect("spark ignition");
    assert_eq!(boosted.breaches, [Breach::BoostedConvention]);
}

#[test]
fn no_weather_is_no_correction() {
    for standard in Standard::all() {
        let air = match standard {
            Standard::Dry60F | Standard::Dry60FEfficiency85 => {
                day(29.92 * 3.386389, (519.7 - 459.7 - 32.0) / 1.8, 0.0)
            }
            Standard::Dry85F => day(29.00 * 3.386389, (85.0 - 32.0) / 1.8, 0.0),
            Standard::Din70020 => day(101.3, 20.0, 1.0),
            Standard::Eec80_1269 => day(99.0, 25.0, 1.0),
            _ => day(99.0, 25.0, 0.0),
        };
        let subject = Subject {
            mechanical_efficiency: Some(0.8),
            fuelling: Some(Fuelling { qc_mg_l: 50.0 }),
            ..spark()
        };
        let ours = Correction::new(standard, air, &subject)
            .expect("all given")
            .factor;
        assert!((ours - 1.0).abs() < 1e-12, "{standard}: {ours}");
    }
}

proptest! {
    #[test]
    fn damper_hotter_or_thinner_air_never_lowers_a_dry_air_factor(
        kpa in 70.0..105.0_f64,
        celsius in -20.0..45.0_f64,
        humidity in 0.0..0.9_f64,
        qc_mg_l in 10.0..100.0_f64,
    ) {
        let air = |kpa: f64, celsius: f64, humidity| {
            Day::from_relative_humidity(StationPressure::from_pa(kpa * 1e3), celsius + 273.15, humidity).expect("possible")
        };
        let subject = Subject {
            mechanical_efficiency: Some(0.8),
            fuelling: Some(Fuelling { qc_mg_l }),
            ..spark()
        };
        for standard in Standard::all().filter(|s| *s != Standard::None) {
            let factor = |day| Correction::new(standard, day, &subject).expect("all given").factor;
            let base = factor(air(kpa, celsius, humidity));
            let damper = factor(air(kpa, celsius, humidity + 0.1));
            prop_assert!(base.is_finite() && base > 0.0);
            if standard.pressure_used() == PressureUsed::Dry {
                prop_assert!(damper > base);
            } else {
                prop_assert_eq!(damper, base);
            }
            prop_assert!(factor(air(kpa, celsius + 1.0, humidity)) > base);
            prop_assert!(factor(air(kpa - 1.0, celsius, humidity)) > base);
        }
    }

    #[test]
    fn boost_that_is_held_is_never_corrected_more(kpa in 70.0..99.0_f64, gauge in 0.0..200.0_f64) {
        let part = pressure_part(kpa * 1e3, BoostLaw::HeldGauge(GaugePressure::from_pa(gauge * 1e3)));
        prop_assert!(part <= pressure_part(kpa * 1e3, BoostLaw::FollowsAmbient));
        prop_assert!(part >= pressure_part(kpa * 1e3, BoostLaw::HeldAbsolute));
    }

    #[test]
    fn the_electric_share_passes_unchanged(engine in 0.0..1e6_f64, electric in -1e5..3e5_f64, kpa in 75.0..104.0_f64) {
        let correction = Correction::new(Standard::SaeJ1349, day(kpa, 25.0, 0.5), &spark()).expect("spark ignition");
        let power = correction.apply(engine, electric);
        prop_assert_eq!(power.electric_w, electric);
        prop_assert!((power.total_w + power.electric_not_added_w - correction.factor * (engine + electric)).abs() < 1e-6);
    }
}
