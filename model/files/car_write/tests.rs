//! A written car file is the same car.

use super::*;
use crate::air::Day;
use crate::air::atmosphere::StationPressure;
use crate::belief::prior::{Prior, Shape};
use crate::belief::sheet::{Correlation, Origin};
use crate::dyno::Conditions;
use crate::files::car::{self, CarFile};
use crate::files::table::TomlFile;
use nalgebra::DMatrix;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const FACTS: &str = r#"
kind = "car"
version = 1
name = "a \"quoted\" estate"
[car]
mass = "1700 kg"
[engine]
cylinders = 6
bore = "84 mm"
stroke = "89.6 mm"
compression_ratio = 9.8
redline = "6500 rpm"
[tune]
lambda = "0.85 ± 0.01"
[fuel]
kind = "petrol with ethanol"
ethanol = "10 %"
research_octane = 98
[driveline]
gear = 1.0
final_drive = 3.46
[wheels]
tyre_radius = "0.318 m"
[drums]
inertia = "240 kg m2"
radius = "0.35 m"
coupling = "linked"
"#;
const BOOST: &str = r#"
[blower]
kind = "screw"
displacement = "1.7 L/rev ± 0.5 %"
drive_ratio = 1.7
max_speed = "22000 rpm"
[cooler]
kind = "air to water"
[electric_axle]
peak_power = "60 kW ± 3 %"
peak_torque = "180 N m ± 3 %"
reduction = 9.1
battery_voltage = "320 V"
cut_speed = "900 rpm"
"#;
const CENTRIFUGAL: &str = r#"
[blower]
kind = "centrifugal"
drive_ratio = 7.5
[blower.map_points]
wheel_diameter = "100 mm"
reference_pressure = "100 kPa"
reference_temperature = "25 °C"
speed = ["30000 rpm", "30000 rpm", "30000 rpm", "30000 rpm", "50000 rpm", "50000 rpm", "50000 rpm", "50000 rpm"]
flow = ["120 g/s", "170 g/s", "220 g/s", "260 g/s", "220 g/s", "300 g/s", "380 g/s", "440 g/s"]
pressure_ratio = [1.35, 1.34, 1.28, 1.16, 2.1, 2.05, 1.85, 1.5]
efficiency = [0.70, 0.74, 0.72, 0.6, 0.72, 0.77, 0.73, 0.6]
"#;
const TURBO: &str = r#"
[blower]
kind = "turbocharger"
count = 2
turbine_area = "420 mm2 ± 5 %"
[blower.boost_curve]
speed = ["1500 rpm", "6500 rpm"]
gauge = ["60 kPa gauge", "50 kPa gauge"]
[blower.rated_point]
wheel_diameter = "50 mm"
reference_pressure = "100 kPa"
reference_temperature = "25 °C"
pressure_ratio = 1.8
flow = "140 g/s"
efficiency = 0.73
speed = "120000 rpm"
"#;
const TURBINE_MAP: &str = r#"
[blower.turbine_map_points]
reference_pressure = "101.325 kPa"
reference_temperature = "15 °C"
bearings = "in the efficiency"
flow = ["80 g/s", "95 g/s", "100 g/s", "101 g/s"]
expansion_ratio = [1.3, 1.5, 1.75, 2.0]
efficiency = [0.62, 0.66, 0.65, 0.64]
"#;

fn load(text: &str) -> CarFile {
    let file = TomlFile::parse("car.toml", text).unwrap_or_else(|p| panic!("{p}"));
    car::read(&file, Path::new(""))
        .unwrap_or_else(|p| panic!("{p}"))
        .0
}

/// The text of a car, with its account.
fn written(car: &CarFile, sheet: &Sheet, account: &[&str]) -> String {
    let account: Vec<String> = account.iter().map(|line| (*line).to_owned()).collect();
    let account = Account {
        origin: &account,
        reservations: &[],
    };
    to_text(car, sheet, &account, Path::new(""))
}

/// Readings of a pull: power, torque and manifold pressure over the engine speed.
fn readings(sheet: &Sheet) -> Vec<f64> {
    let day =
        Day::from_relative_humidity(StationPressure::from_pa(95e3), 290.0, 0.5).expect("a day");
    let setup = &sheet.centre;
    let redline = setup.car.engine.redline_rpm;
    let pull = setup
        .pull(&day, &Conditions::rested(redline), 12)
        .expect("a pull");
    pull.points
        .iter()
        .flat_map(|p| [p.power_w, p.torque_nm, p.engine.manifold_pa])
        .collect()
}

/// The sheet as a fit leaves it: centres moved, doubts smaller, everything tied to everything.
fn fitted(mut sheet: Sheet) -> Sheet {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let n = sheet.free_count();
    for belief in sheet.beliefs.iter_mut().filter(|b| !b.prior.is_fixed()) {
        let z: f64 = 1.2 * rng.random::<f64>() - 0.6;
        let p = belief.prior;
        let sd = p.sd() * (0.3 + 0.7 * rng.random::<f64>());
        let moved = p.from_z(z);
        belief.prior = match p.shape() {
            Shape::Normal => Prior::normal(moved, sd, p.lower(), p.upper()),
            Shape::LogNormal => Prior::log_normal(moved, sd, p.lower(), p.upper()),
        }
        .expect("inside its bounds");
        belief.origin = Origin::Fitted;
        if let Some(slot) = (belief.parameter.slot)(&mut sheet.centre) {
            *slot = moved;
        }
    }
    // A Gram matrix of vectors that share two directions: smallest eigenvalue near 0.01.
    let rows = DMatrix::from_fn(n, n + 2, |i, j| match j {
        0 | 1 => 2.0 * rng.random::<f64>() - 1.0,
        j if j == i + 2 => 0.15,
        _ => 0.02 * (rng.random::<f64>() - 0.5),
    });
    let gram = &rows * rows.transpose();
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        if i == j {
            1.0
        } else {
            gram[(i, j)] / (gram[(i, i)] * gram[(j, j)]).sqrt()
        }
    });
    sheet.correlation = Some(Correlation::new(matrix).expect("a Gram matrix"));
    sheet
}

#[test]
fn a_car_file_written_and_read_again_predicts_the_same() {
    let mapped = TURBO.replace("turbine_area = \"420 mm2 ± 5 %\"", "") + TURBINE_MAP;
    for more in ["", BOOST, CENTRIFUGAL, TURBO, &mapped] {
        let read = load(&format!("{FACTS}{more}"));
        let sheet = fitted(read.sheet.clone());
        let text = written(&read, &sheet, &["fitted on three pulls"]);
        assert!(text.starts_with(&format!(
            "{ACCOUNT}\n{ACCOUNT_SIGN}fitted on three pulls\n\n"
        )));
        let again = load(&text);
        assert_eq!(again.sheet.centre.car.name, "a \"quoted\" estate");
        for (a, b) in readings(&sheet).iter().zip(readings(&again.sheet)) {
            // Nine digits of each of some sixty numbers; none moves a reading by more than ten times its own share.
            assert!((b / a - 1.0).abs() < 1e-6, "{a} became {b} with '{more}'");
        }
        // A second writing changes nothing but the remark that a default is now given: the digits written are those read.
        let once_more = written(&again, &again.sheet, &["fitted on three pulls"]);
        for (first, second) in text.lines().zip(once_more.lines()) {
            let value = |line: &str| line.split("  # ").next().unwrap_or_default().to_owned();
            assert_eq!(value(first), value(second));
        }
    }
}

#[test]
fn draws_of_the_written_car_have_the_same_covariance() {
    let read = load(&format!("{FACTS}{BOOST}"));
    let sheet = fitted(read.sheet.clone());
    let again = load(&written(&read, &sheet, &[])).sheet;
    let covariance = |sheet: &Sheet| {
        let matrix = sheet
            .correlation
            .as_ref()
            .expect("a fitted sheet")
            .matrix()
            .clone();
        let sd: Vec<f64> = sheet.free().map(|b| b.prior.sd()).collect();
        DMatrix::from_fn(sd.len(), sd.len(), |i, j| matrix[(i, j)] * sd[i] * sd[j])
    };
    let (before, after) = (covariance(&sheet), covariance(&again));
    for i in 0..before.nrows() {
        for j in 0..before.ncols() {
            let size = (before[(i, i)] * before[(j, j)]).sqrt();
            // Doubts keep six digits, correlations at least four decimals.
            assert!(
                (after[(i, j)] - before[(i, j)]).abs() < 1e-4 * size,
                "{i} {j}"
            );
        }
    }
    // The same stream gives the same draw, to the rounding of the file; a hundredth of a deviation is a hundred times that.
    let (mut a, mut b) = (ChaCha8Rng::seed_from_u64(3), ChaCha8Rng::seed_from_u64(3));
    for _ in 0..20 {
        for (x, y) in sheet.draw(&mut a).iter().zip(again.draw(&mut b)) {
            assert!((x - y).abs() < 0.01, "{x} {y}");
        }
    }
    assert!(again.free().all(|b| b.origin == Origin::Fitted));
}

#[test]
fn a_posterior_of_other_numbers_is_refused_at_its_line() {
    let read = load(FACTS);
    let sheet = fitted(read.sheet.clone());
    let text = written(&read, &sheet, &[]).replace("  \"breathing.tilt\",\n", "");
    let file = TomlFile::parse("car.toml", &text).unwrap_or_else(|p| panic!("{p}"));
    let problem = car::read(&file, Path::new(""))
        .expect_err("one name short")
        .only();
    assert_eq!(problem.code, super::super::posterior::POSTERIOR_MISMATCH);
    let line = text.lines().position(|l| l == "order = [").map(|at| at + 1);
    assert_eq!(problem.line, line);
}

#[test]
fn saving_is_whole_or_not_at_all() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("car.toml");
    let read = load(FACTS);
    save(
        &path,
        &read,
        &read.sheet,
        &Account::default(),
        Overwrite::Refuse,
    )
    .expect("a new file");
    let (again, warnings) = car::open(&path).unwrap_or_else(|p| panic!("{p}"));
    assert!(warnings.is_empty(), "{warnings}");
    assert_eq!(
        again.parts,
        crate::files::Parts {
            reference_flow_kg_s: again.parts.reference_flow_kg_s,
            ..read.parts
        }
    );
    assert!(
        save(
            &path,
            &again,
            &again.sheet,
            &Account::default(),
            Overwrite::Refuse
        )
        .is_err()
    );
}

#[test]
fn a_car_fitted_on_a_recorded_pull_survives_its_file() {
    // A recording of an independent crank-angle simulator (see its README), of a car known by its displacement.
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("validation/data/recorded_pulls/na_pd_v8_cooled/baseline");
    let visit = "kind = \"visit\"\nversion = 1\nname = \"baseline\"\n[weather]\ntemperature = \"12.7 °C\"\n\
        relative_humidity = \"60 %\"\nstation_pressure = \"98.61 kPa\"\naltitude = \"213 m\"\n[[pull]]\n\
        file = \"run1.csv\"\nmanifold_pressure = \"absolute\"\n";
    let visit = TomlFile::parse("visit.toml", visit).unwrap_or_else(|p| panic!("{p}"));
    let (visit, _) = crate::files::visit::read(&visit, &folder).unwrap_or_else(|p| panic!("{p}"));
    let car = load(
        "kind = \"car\"\nversion = 1\nname = \"v8\"\n[engine]\ncylinders = 8\ndisplacement = \"5.03 L\"\n\
         compression_ratio = 10.8\nredline = \"7000 rpm\"\n[fuel]\nresearch_octane = 95\n[driveline]\ngear = 1.015\n\
         final_drive = 3.48\n[wheels]\ntyre_radius = \"0.326 m\"\n[drums]\ninertia = \"268.9 kg m2\"\nradius = \"0.5 m\"\n",
    );
    let noise = crate::belief::Noise::default();
    let fitted = crate::fit::fitted::calibrate(&car.sheet, &[visit.visit], noise).expect("a fit");
    let again = load(&written(&car, &fitted.sheet, &[])).sheet;
    for (a, b) in readings(&fitted.sheet).iter().zip(readings(&again)) {
        // Nine digits of each of some sixty numbers, as above; measured: 2e-9.
        assert!((b / a - 1.0).abs() < 1e-6, "{a} became {b}");
    }
    let correlation = |sheet: &Sheet| sheet.correlation.clone().expect("a fit leaves one");
    let moved = correlation(&fitted.sheet).matrix() - correlation(&again).matrix();
    // Seven decimals are written for this matrix: half a unit of the last.
    assert!(moved.amax() <= 0.5001e-7, "{}", moved.amax());
    // Bore and stroke moved together: the displacement the shop knows is kept within its 0.4 %, three times over.
    let litres = 1e3 * again.centre.car.engine.geometry.displacement_m3();
    assert!((litres / 5.03 - 1.0).abs() < 0.0126, "{litres}");
}

/// A shop's own file, in a way of its own.
const OWN: &str = r#"#:schema ./car.schema.json
# The estate of the upland post; ask for the key at the gate.
kind = "car"
version = 1
name = "estate" # as painted on the door

# Engine number under the bonnet.
[engine]
redline          = "6500 rpm"   # by the lamp
cylinders        = 6
# From the papers.
displacement     = "2980 cm3"
compression_ratio = "10.2 ± 0.1" # measured

[fuel]
research_octane = 95

[combustion] # put in by hand
level = "0.80 ± 0.02"

[drums]
# Weighed in spring.
inertia = "240 kg m2"
radius = "0.35 m"

[driveline]
gear = 1.0
final_drive = 3.46
[wheels]
tyre_radius = "0.318 m"
# The end.
"#;

#[test]
fn what_the_shop_wrote_stays_and_a_refit_replaces_only_what_a_fit_wrote() {
    let read = load(OWN);
    let sheet = fitted(read.sheet.clone());
    let once = written(&read, &sheet, &["Calibrated on 3 pulls.", "Mind: a wall."]);
    let expected = "#:schema ./car.schema.json\n# Fitted by pullcast; the next fit replaces this account:\n\
        #   Calibrated on 3 pulls.\n#   Mind: a wall.\n\n# The estate of the upland post; ask for the key at the gate.\n";
    assert!(once.starts_with(expected), "{once}");
    // Every line that holds no doubtful number stands as it stood, in the same order.
    let mut lines = once.lines();
    let touched = [
        "displacement",
        "compression_ratio",
        "research_octane",
        "level",
    ];
    let kept = |line: &&str| !line.is_empty() && !touched.iter().any(|key| line.starts_with(key));
    for line in OWN.lines().filter(kept) {
        assert!(lines.any(|found| found == line), "{line} in\n{once}");
    }
    // A number that was doubted is changed where it stands, and its remark stays.
    let line = |text: &str, key: &str| {
        let found = text.lines().find(|line| line.starts_with(key));
        found
            .unwrap_or_else(|| panic!("no {key} in\n{text}"))
            .to_owned()
    };
    assert!(line(&once, "compression_ratio = \"10.").ends_with("\" # measured"));
    assert!(line(&once, "level = \"0.").contains(" ± 0.0"));
    // The displacement gives way to bore and stroke, at its place, and is not lost.
    let place = once.find("# From the papers.\n# displacement     = \"2980 cm3\"\n");
    let (place, next) = (
        place.expect("kept as a remark"),
        once.find("compression_ratio ="),
    );
    assert!(
        once[place..next.expect("there")].contains("\nbore = \""),
        "{once}"
    );
    assert!(
        once[place..next.expect("there")].contains("\nstroke = \""),
        "{once}"
    );
    // Tables that were not there follow the one before them in the catalogue.
    let at = |text: &str| once.find(text).unwrap_or_else(|| panic!("no {text}"));
    assert!(at("\n[engine]") < at("\n[breathing]") && at("\n[breathing]") < at("\n[fuel]"));
    assert!(at("# The end.") < at("\n[posterior]"));

    let read = load(&once);
    let again = fitted(read.sheet.clone());
    let twice = written(&read, &again, &["Calibrated on 4 pulls."]);
    assert!(!twice.contains("3 pulls") && !twice.contains("a wall"));
    assert_eq!(twice.matches("the next fit replaces").count(), 1);
    assert_eq!(twice.matches("\n[posterior]").count(), 1);
    assert_eq!(twice.matches("# The end.").count(), 1);
    // One line less in the account; everything else keeps its line.
    assert_eq!(twice.lines().count() + 1, once.lines().count());
    let read = load(&twice);
    assert_eq!(difference(&read, &read.parts, &again), None);
}

#[test]
fn a_car_in_tables_on_one_line_or_keys_with_points_is_written_too() {
    let text = "kind = \"car\"\r\nversion = 1\r\nname = \"estate\"\r\nwheels.tyre_radius = \"0.318 m\"\r\n\
        fuel = { research_octane = 95 }\r\ndriveline = { gear = 1.0, final_drive = 3.46 }\r\n\
        engine.cylinders = 6\r\nengine.displacement = \"2.98 L\"\r\nengine.compression_ratio = 10.2\r\n\
        engine.redline = \"6500 rpm\"\r\n[drums]\r\ninertia = \"240 kg m2\" # weighed\r\nradius = \"0.35 m\"\r\n";
    let read = load(text);
    let sheet = fitted(read.sheet.clone());
    let text = written(&read, &sheet, &[]);
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    assert!(text.contains("# weighed\r\n"));
    let again = load(&text);
    assert_eq!(difference(&again, &read.parts, &sheet), None);
}

#[test]
fn no_name_makes_an_account_that_cannot_be_read() {
    let read = load(FACTS);
    let text = written(&read, &read.sheet, &["a\rb\u{7}c\nkind = 3\u{85}"]);
    let comment = "#   a[U+000D]b[U+0007]c[U+000A]kind = 3[U+0085]\n";
    assert!(text.contains(comment), "{text}");
    load(&text);
}

#[test]
fn a_car_written_to_another_folder_finds_its_map() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = |name: &str| folder.path().join(name);
    for name in ["maps", "cars", "fitted"] {
        std::fs::create_dir(path(name)).expect("a folder");
    }
    let mut map =
        "# wheel diameter: 100 mm\n# reference pressure: 100 kPa\n# reference temperature: 25 °C\n\
        corrected flow (g/s), pressure ratio, efficiency, speed (rpm)\n"
            .to_owned();
    for (speed, flows, ratios) in [
        (30_000, [120, 170, 220, 260], [1.35, 1.34, 1.28, 1.16]),
        (50_000, [220, 300, 380, 440], [2.1, 2.05, 1.85, 1.5]),
    ] {
        for (flow, ratio) in flows.iter().zip(ratios) {
            map += &[
                flow.to_string(),
                ratio.to_string(),
                "0.72".to_owned(),
                speed.to_string(),
            ]
            .join(", ");
            map.push('\n');
        }
    }
    std::fs::write(path("maps/wheel.csv"), map).expect("a map");
    let blower = "[blower]\nkind = \"centrifugal\"\ndrive_ratio = 7.5\nmap = \"../maps/wheel.csv\" # on the bench\n";
    std::fs::write(
        path("cars/car.toml"),
        format!("#:schema ./car.schema.json\n{FACTS}{blower}"),
    )
    .expect("a car");
    std::fs::write(path("cars/car.schema.json"), "{}").expect("a schema");
    let (read, _) = car::open(&path("cars/car.toml")).unwrap_or_else(|p| panic!("{p}"));
    for (to, expected) in [
        (
            "cars/fitted.toml",
            "map = \"../maps/wheel.csv\" # on the bench\n",
        ),
        ("fitted.toml", "map = \"maps/wheel.csv\" # on the bench\n"),
        (
            "fitted/car.toml",
            "map = \"../maps/wheel.csv\" # on the bench\n",
        ),
    ] {
        save(
            &path(to),
            &read,
            &read.sheet,
            &Account::default(),
            Overwrite::Refuse,
        )
        .unwrap_or_else(|p| panic!("{p}"));
        let text = std::fs::read_to_string(path(to)).expect("written");
        assert!(text.contains(expected), "{text}");
        let (again, _) = car::open(&path(to)).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(again.parts.blower, read.parts.blower);
    }
    let text = std::fs::read_to_string(path("fitted/car.toml")).expect("written");
    assert!(
        text.starts_with("#:schema ../cars/car.schema.json\n"),
        "{text}"
    );
}

#[test]
fn a_file_that_would_be_another_car_is_not_written() {
    let read = load(FACTS);
    let sheet = fitted(read.sheet.clone());
    let good = written(&read, &sheet, &[]);
    let check = |text: &str| read_back("car.toml", text, Path::new(""), &read.parts, &sheet);
    check(&good).unwrap_or_else(|p| panic!("{p}"));
    for (from, to) in [
        ("gear = 1.0\n", "gear = 1.01\n"),
        ("ethanol = \"10 %\"", "ethanol = \"11 %\""),
        ("name = \"a ", "name = \"the "),
        ("cylinders = 6", "cylinders = six"),
        ("  \"1\",\n", "  \"1.5\",\n"),
    ] {
        let bad = good.replacen(from, to, 1);
        assert_ne!(bad, good, "{from} in\n{good}");
        assert!(check(&bad).is_err(), "{to}");
    }
    let problems =
        check(&good.replacen("gear = 1.0\n", "gear = 1.01\n", 1)).expect_err("another gear");
    let problem = problems.only();
    assert_eq!(problem.code, NOT_READ_BACK);
    assert!(
        problem.message.contains("driveline.gear is 1.01, not 1"),
        "{problem}"
    );
}
