//! What a car file makes of what a shop knows.

use super::*;
use crate::belief::parameter;
use crate::belief::sheet::Origin;

/// What a shop may know at the least.
const MINIMAL: &str = r#"
kind = "car"
version = 1
name = "estate"
[engine]
cylinders = 6
displacement = "2.98 L"
compression_ratio = 10.2
redline = "6500 rpm"
[fuel]
research_octane = 95
[driveline]
gear = 1.0
final_drive = 3.46
[wheels]
tyre_radius = "0.318 m"
[drums]
inertia = "240 kg m2"
radius = "0.35 m"
"#;

fn load(text: &str) -> (CarFile, Problems) {
    let file = TomlFile::parse("car.toml", text).unwrap_or_else(|p| panic!("{p}"));
    read(&file, Path::new("")).unwrap_or_else(|p| panic!("{p}"))
}

fn centre(car: &CarFile, path: &str) -> f64 {
    let belief = car.sheet.beliefs.iter().find(|b| b.parameter.path == path);
    belief.unwrap_or_else(|| panic!("no {path}")).prior.centre()
}

#[test]
fn the_least_a_shop_knows_is_enough_and_its_displacement_is_kept() {
    let (car, warnings) = load(MINIMAL);
    assert!(warnings.is_empty(), "{warnings}");
    let litres = |setup: &crate::dyno::Setup| 1e3 * setup.car.engine.geometry.displacement_m3();
    assert!((litres(&car.sheet.centre) - 2.98).abs() < 1e-9);
    // Bore and stroke stray by several per cent, their product by the 0.4 % the correlation leaves: over 300 draws the
    // scatter of the displacement is known to 4 %, so 0.6 % is far outside of chance.
    let mut rng: rand_chacha::ChaCha8Rng = rand::SeedableRng::seed_from_u64(5);
    let draws: Vec<_> = (0..300)
        .map(|_| car.sheet.setup_at(&car.sheet.draw(&mut rng)))
        .collect();
    let spread = |of: &dyn Fn(&crate::dyno::Setup) -> f64| {
        let mean = draws.iter().map(of).sum::<f64>() / 300.0;
        (draws
            .iter()
            .map(|s| (of(s) / mean - 1.0).powi(2))
            .sum::<f64>()
            / 300.0)
            .sqrt()
    };
    assert!(spread(&litres) < 0.006, "{}", spread(&litres));
    let bore = spread(&|s| s.car.engine.geometry.cylinder.bore_m);
    assert!((bore / (SQUARE_DOUBT / 3.0) - 1.0).abs() < 0.2, "{bore}");
    // Nearly everything is a default, and the motor octane follows from the research one.
    let given = car
        .sheet
        .beliefs
        .iter()
        .filter(|b| b.origin == Origin::Given)
        .count();
    assert_eq!(given, 8);
    assert!((centre(&car, "fuel.motor_octane") - 85.0).abs() < 1e-12);
}

#[test]
fn gear_and_final_drive_of_a_transaxle_are_two_numbers() {
    let (car, _) = load(&MINIMAL.replace("gear = 1.0", "gear = 1.36\ndrive = \"front\""));
    let train = &car.sheet.centre.car.driveline.train;
    assert!(
        (train.ratio() - 1.36 * 3.46).abs() < 1e-12,
        "{}",
        train.ratio()
    );
    // The single stage's efficiency is kept: 0.975.
    let whole = crate::driveline::StageLoss::TRANSAXLE.mesh_efficiency;
    assert!((train.mesh_efficiency() - whole).abs() < 1e-12);
}

#[test]
fn a_displacement_too_small_for_its_cylinders_is_told_with_what_would_be_taken() {
    let text = |litres: &str| {
        format!(
            "kind = \"car\"\nversion = 1\nname = \"kart\"\n[engine]\ncylinders = 1\ndisplacement = \"{litres}\"\ncompression_ratio = 9\nredline = \"9000 rpm\"\n"
        )
    };
    let problems = |litres: &str| {
        let file = TomlFile::parse("car.toml", &text(litres)).expect("TOML");
        read(&file, Path::new("")).expect_err("more is missing")
    };
    let of_size = |litres: &str| {
        let all = problems(litres);
        let mut found = all.iter().filter(|p| p.message.contains("displacement"));
        found.next().cloned()
    };
    let small = of_size("50 cc").expect("too small");
    assert!(small.message.contains("39.93 mm each"), "{small}");
    // 40 mm each way: π/4 · 4³ cm³ = 50.27 cm³.
    let expected = small.expected.expect("what is taken");
    assert!(expected.contains("above 0.05027 L"), "{expected}");
    assert!(of_size("51 cc").is_none());
}

#[test]
fn displacement_fills_in_the_stroke_and_must_agree_when_both_are_given() {
    let (car, _) = load(&MINIMAL.replace("redline", "bore = \"82 mm\"\nredline"));
    // 2980 cm³ / (6 · π/4 · 8.2² cm²) = 9.405 cm.
    assert!((centre(&car, "engine.stroke") - 0.094_05).abs() < 1e-5);
    load(&MINIMAL.replace("redline", "bore = \"84 mm\"\nstroke = \"89.6 mm\"\nredline"));
    let clash = MINIMAL.replace("redline", "bore = \"84 mm\"\nstroke = \"80 mm\"\nredline");
    let file = TomlFile::parse("car.toml", &clash).unwrap_or_else(|p| panic!("{p}"));
    let problem = read(&file, Path::new(""))
        .expect_err("they disagree")
        .only();
    assert_eq!(
        (problem.code, problem.line),
        (crate::files::belief::KEY_CONFLICT, Some(7))
    );
    // 6 · π/4 · 8.4² · 8.0 cm³ = 2660 cm³.
    assert!(
        problem
            .expected
            .as_deref()
            .is_some_and(|e| e.contains("2.660 L")),
        "{problem:?}"
    );
}

#[test]
fn a_mass_becomes_tyre_loads() {
    let (car, _) = load(&MINIMAL.replace("[engine]", "[car]\nmass = \"1600 kg\"\n[engine]"));
    // Half of 1600 kg · 9.80665 m/s².
    assert!((centre(&car, "wheels.load") - 7845.32).abs() < 1e-6);
}

#[test]
fn claims_of_a_blower_are_met_by_the_machine() {
    let text = format!(
        "{MINIMAL}[blower]\nkind = \"screw\"\ndrive_ratio = 2.1\ndisplacement = \"1.7 L/rev\"\n[blower.claims]\n\
         pressure_ratio = 1.8\nshaft_speed = \"14000 rpm\"\nvolumetric_efficiency = \"93 %\"\nisentropic_efficiency = \"70 %\"\n"
    );
    let (car, _) = load(&text);
    let (machine, drive) = car
        .sheet
        .centre
        .car
        .blower
        .displacement()
        .expect("a blower");
    assert!((drive.overall_ratio() - 2.1).abs() < 1e-12);
    let inlet = crate::boost::Inlet {
        pressure_pa: 1e5,
        temperature_k: 298.15,
        gas: crate::air::gas::PerfectGas::AIR,
    };
    let point = machine.at_outlet_pressure(inlet, 14_000.0 * std::f64::consts::PI / 30.0, 1.8e5);
    assert!(
        (point.volumetric_efficiency - 0.93).abs() < 1e-6,
        "{}",
        point.volumetric_efficiency
    );
    assert!(
        (point.adiabatic_efficiency - 0.70).abs() < 1e-6,
        "{}",
        point.adiabatic_efficiency
    );
}

#[test]
fn a_rod_shorter_than_the_crank_allows_is_refused_at_its_line() {
    let text = MINIMAL.replace("[engine]", "[engine]\nrod_length = \"60 mm\"");
    let file = TomlFile::parse("car.toml", &text).unwrap_or_else(|p| panic!("{p}"));
    let problems = read(&file, Path::new("")).expect_err("a rod too short");
    let found: Vec<_> = problems.iter().map(|p| (p.code, p.line)).collect();
    assert_eq!(found, [(ROD_SHORT, Some(6))]);
}

#[test]
fn oddities_are_warned_about_at_their_lines() {
    let text = MINIMAL
        .replace("research_octane = 95", "research_octane = 75")
        .replace("0.35 m", "0.1 m")
        + "[electric_axle]\npeak_power = \"80 kW\"\npeak_torque = \"200 N m\"\nreduction = 9.5\n";
    let (_, warnings) = load(&text);
    let found: Vec<_> = warnings.iter().map(|w| (w.code, w.line)).collect();
    assert_eq!(
        found,
        [
            (OCTANE_LOW, Some(11)),
            (DRUM_MASS_ODD, Some(18)),
            (AXLE_NOT_ON_DRUMS, Some(21))
        ]
    );
    let unused = MINIMAL.replace(
        "[wheels]",
        "[blower]\nkind = \"none\"\nleak_area = \"40 mm2\"\n[wheels]",
    );
    let (_, warnings) = load(&unused);
    assert_eq!(
        warnings.first().map(|w| (w.code, w.line)),
        Some((KEY_UNUSED, Some(17)))
    );
}

#[test]
fn ethanol_in_the_fuel_changes_its_air_demand_and_keeps_its_octane() {
    let text = MINIMAL.replace(
        "[fuel]",
        "[fuel]\nkind = \"petrol with ethanol\"\nethanol = \"10 %\"",
    );
    let (car, _) = load(&text);
    let fuel = &car.sheet.centre.car.fuel;
    // E10 is printed with an air-fuel ratio of 14.0 to 14.1 (US DOE AFDC); ours of 14.60 petrol gives 14.01.
    assert!(
        (14.0..14.1).contains(&fuel.stoichiometric_air_fuel),
        "{}",
        fuel.stoichiometric_air_fuel
    );
    assert_eq!(fuel.research_octane, 95.0);
}

/// Every part that a car file can have, with what must be stated of it.
const EVERYTHING: &str = "[blower]\nkind = \"screw\"\ndisplacement = \"0.9 L/rev\"\ndrive_ratio = 2.1\n\
    [cooler]\nkind = \"air to water\"\n[electric_axle]\npeak_power = \"80 kW\"\npeak_torque = \"200 N m\"\n\
    reduction = 9.5\n[injectors]\nflow = \"440 cm3/min\"\n[fuel_pump]\nflow = \"190 L/h\"\n[clutch]\ncapacity = \"500 N m\"\n";

#[test]
fn the_catalogue_sets_every_number_of_its_own() {
    let (car, _) = load(
        &(MINIMAL.replace(
            "radius = \"0.35 m\"",
            "radius = \"0.35 m\"\ncoupling = \"linked\"",
        ) + EVERYTHING),
    );
    let mut centre = car.sheet.centre.clone();
    for parameter in parameter::catalogue() {
        if let Some(value) = (parameter.slot)(&mut centre) {
            assert!(
                value.is_finite(),
                "{} is left without a number",
                parameter.path
            );
        }
    }
    // Whatever else stood at the place of a number with a default, the sheet puts the default there.
    for parameter in parameter::catalogue() {
        let mut other = car.sheet.centre.clone();
        let Some(value) = (parameter.slot)(&mut other) else {
            continue;
        };
        *value *= 1.01;
        let spoilt = parameter.default_prior(&other);
        let stands_by_itself =
            spoilt.is_some() && parameter.default_prior(&car.sheet.centre) == spoilt;
        if !stands_by_itself {
            continue;
        }
        let beliefs = car.sheet.beliefs.iter();
        let rest: Vec<_> = beliefs
            .filter(|b| b.parameter != parameter)
            .copied()
            .collect();
        let again = Sheet::new(other, &rest).unwrap_or_else(|error| panic!("{error}"));
        let found = again.beliefs.iter().find(|b| b.parameter == parameter);
        let before = car.sheet.beliefs.iter().find(|b| b.parameter == parameter);
        assert_eq!(
            found.map(|b| b.prior),
            before.map(|b| b.prior),
            "{}",
            parameter.path
        );
    }
}
