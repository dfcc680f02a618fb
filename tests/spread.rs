//! Weather spread over the demo's station: what must hold whatever the numbers are.

use crate::sources::root;
use assert_cmd::Command;
use pullcast::ask::Progress;
use pullcast::ask::spread::{Answer, Choice, HoursPerDraw, Question};
use pullcast::belief::prior::Prior;
use pullcast::belief::sheet::Sheet;
use pullcast::belief::{Miss, Noise, noise::SensorError};
use pullcast::dyno::correction::Standard;
use pullcast::files::station::{self, Options, Station};
use pullcast::files::{self};

fn sheet(folder: &str) -> Sheet {
    let path = root().join("scenarios").join(folder).join("car.toml");
    files::car::open(&path).expect("the demo's car").0.sheet
}

fn demo_station() -> Station {
    let path = root().join("scenarios/upland_estate/station_year.csv");
    station::open(&path, &Options::default())
        .expect("the demo's station")
        .0
}

/// The same car without any doubt.
fn known(sheet: &Sheet) -> Sheet {
    let mut known = sheet.clone();
    for belief in &mut known.beliefs {
        belief.prior = Prior::fixed(belief.prior.centre()).expect("a number");
    }
    known.correlation = None;
    known
}

fn no_noise() -> Noise {
    let none = SensorError {
        offset: 0.0,
        shape: 0.0,
    };
    Noise {
        visit: 0.0,
        pull: 0.0,
        shape: 0.0,
        miss: Miss::NONE,
        manifold: none,
        charge: none,
        lambda: none,
        spark: none,
        spark_tilt: 0.0,
        fuel_flow: none,
        air_flow: none,
        drum_ratio: none,
    }
}

fn ask(question: &Question<'_>) -> Answer {
    question
        .answer(&mut |_, _| {}, Progress::SILENT)
        .expect("a spread")
}

#[test]
fn the_demo_station_is_clean_and_fits_its_elevation() {
    let path = root().join("scenarios/upland_estate/station_year.csv");
    let (station, warnings) =
        station::open(&path, &Options::default()).expect("the demo's station");
    assert!(warnings.is_empty(), "{warnings:?}");
    assert_eq!((station.hours.len(), station.cleaning.gaps), (2920, 0));
    assert!(station.cleaning.left_out.is_empty() && station.cleaning.empty_months.is_empty());
}

#[test]
fn of_a_car_known_to_the_digit_only_the_weather_is_left() {
    let (sheet, station) = (known(&sheet("manual_coupe")), demo_station());
    let question = Question {
        draws: 100,
        noise: no_noise(),
        ..Question::new(&sheet, None, &station.hours)
    };
    let answer = ask(&question);
    let causes = answer.causes;
    assert!(
        (causes.weather.total - 1.0).abs() < 0.2 && causes.weather.first > 0.8,
        "{causes:?}"
    );
    for share in [causes.car, causes.work, causes.rig] {
        assert!(share.total < 1e-6, "{causes:?}");
    }
    // The centre's own weather is the whole of it: spread over the median.
    let sd = causes.sd_w / answer.after.power_w.range.p50;
    assert!(
        (sd / answer.slopes.weather_sd - 1.0).abs() < 0.25,
        "{sd} {:?}",
        answer.slopes
    );
    // More air makes more power; warmth and water take it.
    let slopes = answer.slopes;
    assert!(
        slopes.per_pa > Some(0.0) && slopes.per_k < Some(0.0) && slopes.per_kg_kg < Some(0.0),
        "{slopes:?}"
    );
    // An unblown engine follows the standards' law nearly, so what is left is small.
    let j1349 = answer
        .standards
        .iter()
        .find(|line| line.standard == Standard::SaeJ1349);
    let line = j1349.expect("meant for this engine");
    assert!(line.weather_left < 0.1, "{line:?}");
    assert!(
        (1.0 - line.taken_out + line.added - line.weather_left).abs() < 1e-9,
        "{line:?}"
    );
    assert!(
        line.power_w.range.p95 - line.power_w.range.p5
            < 0.5 * (answer.after.power_w.range.p95 - answer.after.power_w.range.p5)
    );
}

#[test]
fn promises_two_days_and_a_heated_cell() {
    let (sheet, station) = (sheet("manual_coupe"), demo_station());
    let plan = files::plan::open(&root().join("scenarios/manual_coupe/plan_breathing.toml"))
        .expect("a plan")
        .0
        .plan;
    let of = |two_days: bool, cell_k: Option<f64>, promise_w: Option<f64>| {
        ask(&Question {
            draws: 100,
            hours_per_draw: HoursPerDraw::Count(12),
            two_days,
            promise_w,
            // What the model may misjudge of the work is the same on one day and on two, and would hide the drums and the weather.
            noise: Noise {
                miss: Miss::NONE,
                ..Noise::default()
            },
            choice: Choice {
                months: (4, 9),
                hours: (8, 18),
                cell_k,
            },
            ..Question::new(&sheet, Some(&plan), &station.hours)
        })
    };
    let one_hour = of(false, None, None);
    let again = of(false, None, Some(one_hour.promise.power_w));
    let miss = again.promise.miss.expect("asked");
    assert!((miss - 0.1).abs() < 2e-3, "{miss}");
    assert!(
        again
            .promise
            .miss_error
            .is_some_and(|e| e > 0.0 && e < 0.05)
    );
    assert_eq!(
        one_hour.after, again.after,
        "the same seed gives the same spread"
    );

    let width = |answer: &Answer| {
        let range = answer.gain.as_ref().expect("work is planned").range;
        range.p95 - range.p5
    };
    let days = of(true, None, None);
    assert!(
        width(&days) > 1.3 * width(&one_hour),
        "{} {}",
        width(&days),
        width(&one_hour)
    );
    // A correction takes out of a gain over two days what the weather put in, and leaves one of a single hour alone.
    let corrected = |answer: &Answer| {
        let line = answer
            .standards
            .iter()
            .find(|line| line.standard == Standard::SaeJ1349);
        let range = line.expect("listed").gain.as_ref().expect("a gain").range;
        range.p95 - range.p5
    };
    assert!(corrected(&days) < width(&days));
    assert!((corrected(&one_hour) / width(&one_hour) - 1.0).abs() < 0.02);

    let heated = of(false, Some(293.15), None);
    assert_eq!(
        (
            heated.basis.temperature_k.p5,
            heated.basis.temperature_k.p95
        ),
        (293.15, 293.15)
    );
    assert_eq!(heated.slopes.per_k, None);
    assert!(heated.slopes.weather_sd < one_hour.slopes.weather_sd);
    for cell in &one_hour.by_month_and_hour {
        assert!(
            (4..=9).contains(&cell.month) && (8..18).contains(&cell.hour),
            "{cell:?}"
        );
        assert!(
            (cell.power_w.p5..=cell.power_w.p95).contains(&cell.mean_w),
            "{cell:?}"
        );
    }
}

#[test]
fn the_program_says_it_in_25_lines_and_writes_the_draws() {
    let folder = tempfile::tempdir().expect("a folder");
    let csv = folder.path().join("draws.csv");
    let run = |more: &[&str]| {
        let scenario = root().join("scenarios");
        let output = Command::cargo_bin("pullcast")
            .expect("the program")
            .current_dir(scenario)
            .args([
                "spread",
                "manual_coupe/car.toml",
                "--station",
                "upland_estate/station_year.csv",
            ])
            .args([
                "--draws",
                "100",
                "--hours-per-draw",
                "6",
                "--promise",
                "90 kW",
            ])
            .args(more)
            .output()
            .expect("it runs");
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    let text = run(&["--csv", csv.to_str().expect("a path")]);
    assert!(text.lines().count() <= 25, "{text}");
    for word in ["SAE J1349", "weather", "The chance to miss"] {
        assert!(text.contains(word), "{word}: {text}");
    }
    assert!(run(&["--details"]).contains("held out"));
    let shop = run(&["--units", "shop", "--details"]);
    for metric in [
        "kW",
        "N m",
        "hPa",
        "°C",
        " K:",
        "per K",
        "g/kg",
        "kg of air",
    ] {
        assert!(!shop.contains(metric), "{metric}: {shop}");
    }
    let parquet = folder.path().join("draws.parquet");
    let by_column = Command::cargo_bin("pullcast")
        .expect("the program")
        .current_dir(root().join("scenarios"))
        .args([
            "spread",
            "manual_coupe/car.toml",
            "--station",
            "upland_estate/station_year.csv",
        ])
        .args(["--draws", "100", "--hours-per-draw", "6", "--parquet"])
        .arg(&parquet)
        .output()
        .expect("it runs");
    if cfg!(feature = "parquet") {
        assert!(by_column.status.success());
    } else {
        assert_eq!(by_column.status.code(), Some(2));
        let told = String::from_utf8_lossy(&by_column.stderr).into_owned();
        assert!(told.contains("--features parquet"), "{told}");
        assert!(!parquet.exists());
    }
    let rows = std::fs::read_to_string(&csv).expect("written");
    #[cfg(feature = "parquet")]
    same_rows(&parquet, &rows);
    assert_eq!(rows.lines().count(), 1 + 100 * 6);
    let json: serde_json::Value =
        serde_json::from_str(&run(&["--json", "--quantiles", "1 %"])).expect("JSON");
    assert_eq!(json["schema"], "pullcast/spread/1");
    assert_eq!(json["after"]["power_w"]["more"][0][0], 0.01);
    assert!(json["words"]["standard"]["sae-j1349"].is_string());
    // What a row of the draws says is what the quantiles were counted from.
    let mut powers: Vec<f64> = rows
        .lines()
        .skip(1)
        .map(|row| {
            row.split(',')
                .nth(14)
                .expect("a cell")
                .parse()
                .expect("a number")
        })
        .collect();
    powers.sort_by(f64::total_cmp);
    let p50 = json["after"]["power_w"]["p50"].as_f64().expect("a number");
    // A row is rounded to a tenth of a watt.
    let between = powers[299] - 0.1..=powers[300] + 0.1;
    assert!(between.contains(&p50), "{between:?} {p50}");
}

/// Whether the table of columns says, cell for cell, what the text says rounded.
#[cfg(feature = "parquet")]
fn same_rows(parquet: &std::path::Path, csv: &str) {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::Field;
    let file = std::fs::File::open(parquet).expect("written");
    let reader = SerializedFileReader::new(file).expect("a table");
    let mut lines = csv.lines();
    let heads: Vec<&str> = lines.next().expect("a head").split(',').collect();
    let mut rows = reader.get_row_iter(None).expect("rows");
    for line in lines.by_ref() {
        let row = rows.next().expect("as many rows").expect("a row");
        let cells = row.get_column_iter().zip(line.split(',').zip(&heads));
        for ((name, field), (text, head)) in cells {
            assert_eq!(name, head);
            let rounded = match field {
                Field::Long(count) => count.to_string(),
                Field::Double(figure) => {
                    let digits = text.split_once('.').map_or(0, |(_, digits)| digits.len());
                    format!("{figure:.digits$}")
                }
                other => panic!("{other:?}"),
            };
            assert_eq!(rounded, text, "{name}");
        }
    }
    assert!(rows.next().is_none());
}
