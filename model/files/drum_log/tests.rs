//! Descriptions and logs, sound and unsound.

use super::*;
use crate::units;
use std::fmt::Write as _;

const HEAD: &str = "kind = \"drum log\"\nversion = 1\nname = \"x\"\nlog = \"drum.csv\"\n";
const DRUMS: &str = "[drums]\ninertia = \"432 ± 4 kg m2\"\nradius = \"0.6 m\"\n";

/// A scratch folder with a log of a steady pull, 50 samples a second, after `change` of its lines.
fn folder(header: &str, change: impl Fn(usize, String) -> String) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut csv = format!("{header}\n");
    for i in 0..600_u32 {
        let t = 0.02 * f64::from(i);
        let v = 20.0 + 3.0 * t + 0.002 * f64::from(i % 3);
        let line = format!("{t:.3},{v:.4},{:.1}", 110.0 * v);
        writeln!(csv, "{}", change(i as usize, line)).expect("a String takes all");
    }
    std::fs::write(folder.path().join("drum.csv"), csv).expect("a scratch file");
    folder
}

const HEADER: &str = "time (s),drum surface speed (m/s),engine speed (rpm)";

fn read_with(text: &str, folder: &tempfile::TempDir) -> Result<DrumLogFile, Problems> {
    let file = TomlFile::parse("log.toml", text)?;
    read(&file, folder.path()).map(|(file, _)| file)
}

fn reduce(file: &DrumLogFile) -> Result<drumlog::Reduction, Problems> {
    let reduced = file.question().reduction();
    reduced.map_err(|refusal| file.problems(&refusal))
}

fn refused(text: &str, folder: &tempfile::TempDir) -> Problem {
    let problems = match read_with(text, folder) {
        Err(problems) => problems,
        Ok(file) => reduce(&file).expect_err("nothing to reduce"),
    };
    problems
        .iter()
        .find(|p| p.severity == crate::files::Severity::Error)
        .expect("an error")
        .clone()
}

#[test]
fn a_description_says_what_the_drums_are_and_how_well_known() {
    let folder = folder(HEADER, |_, line| line);
    let file = read_with(&format!("{HEAD}band = \"25 rpm\"\n{DRUMS}"), &folder)
        .unwrap_or_else(|p| panic!("{p}"));
    assert!((file.rig.drums.mass_kg() - 1200.0).abs() < 1e-9);
    assert!((file.rig.inertia_doubt - 4.0 / 432.0).abs() < 1e-15);
    assert!(!file.rig.reads_turning);
    assert_eq!((file.band_rpm, file.ask), (25.0, Ask::StateSpace));
    let found = reduce(&file).unwrap_or_else(|p| panic!("{p}"));
    let reduced = found.pulls[0].outcome.as_ref().expect("a curve");
    // 1200 kg at 3 m/s².
    for p in &reduced.curve.points {
        assert!((p.force_n / 3600.0 - 1.0).abs() < 0.005, "{p:?}");
    }
}

#[test]
fn the_three_kinds_of_drum_signal_agree() {
    let pitch = std::f64::consts::TAU * 0.6 / 360.0;
    let mut forces = Vec::new();
    for (header, factor) in [
        (HEADER, 1.0),
        (
            "time (s),drum speed (rpm),engine speed (rpm)",
            units::rpm(1.0 / 0.6),
        ),
        ("time (s),drum counts,engine speed (rpm)", 0.0),
    ] {
        let folder = folder(header, |i, line| {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            let t = 0.02 * i as f64;
            cells[1] = if factor > 0.0 {
                format!("{:.5}", cells[1].parse::<f64>().expect("a number") * factor)
            } else {
                format!("{:.0}", ((20.0 * t + 1.5 * t * t) / pitch).floor())
            };
            cells.join(",")
        });
        let text = format!("{HEAD}{DRUMS}pulses_per_turn = 360\n");
        let file = read_with(&text, &folder).unwrap_or_else(|p| panic!("{p}"));
        let found = reduce(&file).unwrap_or_else(|p| panic!("{p}"));
        let points = &found.pulls[0]
            .outcome
            .as_ref()
            .expect("a curve")
            .curve
            .points;
        forces.push(points[points.len() / 2].force_n);
    }
    for force in forces {
        assert!((force / 3600.0 - 1.0).abs() < 0.005, "{force}");
    }
}

#[test]
fn what_is_wrong_with_a_log_is_told_with_its_line() {
    type Change = fn(usize, String) -> String;
    let cases: [(&str, Change, &str, Option<usize>, &str); 8] = [
        // Rows stand one line below their number: the header is line 1.
        (
            HEADER,
            |i, line| {
                if i == 299 {
                    line.replace("5.980", "5.900")
                } else {
                    line
                }
            },
            "time_not_increasing",
            Some(301),
            "time goes from",
        ),
        (
            "time (s),wheel power (kW),engine speed (rpm)",
            |_, line| line,
            "channel_missing",
            None,
            "drum speed or encoder counts",
        ),
        (
            "duration (s),drum surface speed (m/s),engine speed (rpm)",
            |_, line| line,
            "channel_missing",
            None,
            "no column of time",
        ),
        (
            "time (s),drum counts,engine speed (rpm)",
            |_, line| line,
            "channel_missing",
            None,
            "pulses_per_turn",
        ),
        (
            HEADER,
            |_, line| line[..line.rfind(',').unwrap_or(0)].to_owned() + ",0",
            "out_of_range",
            Some(2),
            "is 0 rpm on every row",
        ),
        (
            HEADER,
            |i, line| if i < 15 { line } else { String::new() },
            "rows_too_few",
            Some(2),
            "15 rows",
        ),
        (
            "time (min),drum surface speed (m/s),engine speed (rpm)",
            |_, line| line,
            "too_coarse",
            None,
            "samples are 1.20 s apart",
        ),
        (
            HEADER,
            |_, line| line.replace(",2", ",3").replace(",3", ",900"),
            "out_of_range",
            Some(2),
            "the drum surface reaches",
        ),
    ];
    for (header, change, code, line, message) in cases {
        let folder = folder(header, change);
        let problem = refused(&format!("{HEAD}{DRUMS}"), &folder);
        assert_eq!(problem.code.name(), code, "{problem}");
        if line.is_some() {
            assert_eq!(problem.line, line, "{problem}");
        }
        assert!(problem.value.is_some(), "{problem}");
        assert!(problem.message.contains(message), "{problem}");
        assert!(problem.expected.is_some(), "{problem}");
    }
}

#[test]
fn a_row_without_a_reading_is_left_out_and_said() {
    for (row, reading, there, line) in [(99, "1.980", "nan", 101), (400, "8.000", "slow", 402)] {
        let folder = folder(HEADER, |i, text| {
            if i == row {
                assert!(text.contains(reading), "{text}");
                text.replacen(reading, there, 1)
            } else {
                text
            }
        });
        let text = TomlFile::parse("log.toml", &format!("{HEAD}{DRUMS}")).expect("TOML");
        let (file, warnings) = read(&text, folder.path()).unwrap_or_else(|p| panic!("{p}"));
        let (what, place) = (format!("'{there}' in column"), format!("on line {line}"));
        let says = |message: &str| {
            ["left out", &what, &place]
                .iter()
                .all(|part| message.contains(part))
        };
        assert!(warnings.iter().any(|w| says(&w.message)), "{warnings}");
        assert!(reduce(&file).is_ok());
    }
}

#[test]
fn logs_that_hold_no_curve_say_why() {
    let steady = folder(HEADER, |i, _| {
        format!("{:.3},20.0{},2200", 0.02 * i as f64, i % 2)
    });
    let problem = refused(&format!("{HEAD}{DRUMS}"), &steady);
    assert_eq!(problem.code, NO_CURVE);
    assert!(problem.message.contains("no pull found"), "{problem}");

    let blind = folder("time (s),drum surface speed (m/s),gear", |_, line| line);
    let problem = refused(&format!("{HEAD}{DRUMS}"), &blind);
    assert!(problem.message.contains("no engine speed"), "{problem}");
    let geared = format!(
        "{HEAD}{DRUMS}[gearing]\ngear = 1.0\nfinal_drive = 3.6\ntyre_radius = \"0.31 m\"\n"
    );
    let file = read_with(&geared, &blind).unwrap_or_else(|p| panic!("{p}"));
    assert!(reduce(&file).is_ok());

    let falling = folder("time (s),drum counts,engine speed (rpm)", |i, line| {
        let count = if i < 300 { i * 10 } else { i * 10 - 3000 };
        let rpm = line.rsplit(',').next().unwrap_or_default().to_owned();
        format!("{:.3},{count},{rpm}", 0.02 * i as f64)
    });
    let problem = refused(&format!("{HEAD}{DRUMS}pulses_per_turn = 60\n"), &falling);
    assert_eq!(problem.line, Some(302), "{problem}");
    assert!(
        problem.message.contains("counter goes from 2990 to 0"),
        "{problem}"
    );

    // 10 Hz and 330 rpm/s: a window of 50 rpm holds one sample.
    let coarse = folder(
        HEADER,
        |i, line| if i % 5 == 0 { line } else { String::new() },
    );
    let text = format!("{HEAD}method = \"savitzky-golay\"\nspan = \"50 rpm\"\n{DRUMS}");
    let problem = refused(&text, &coarse);
    assert_eq!(problem.code, NO_CURVE);
    assert!(
        problem.message.contains("samples are 33 rpm apart"),
        "{problem}"
    );
    assert!(read_with(&format!("{HEAD}{DRUMS}"), &coarse).is_ok_and(|f| reduce(&f).is_ok()));
}

#[test]
fn what_is_wrong_with_a_description_is_told_with_its_line() {
    let folder = folder(HEADER, |_, line| line);
    for (text, code, line) in [
        (HEAD.to_owned(), "key_missing", 1),
        (
            format!("{HEAD}[drums]\ninertia = \"432\"\nradius = \"0.6 m\"\n"),
            "unit_missing",
            6,
        ),
        (
            format!("{HEAD}span = \"300 rpm\"\nmethod = \"savitzky-golay\"\n{DRUMS}"),
            "out_of_range",
            5,
        ),
        (
            format!("{HEAD}{DRUMS}[coast_down]\nstate = \"neutral\"\n"),
            "key_missing",
            8,
        ),
        (
            format!(
                "{HEAD}{DRUMS}[coast_down]\nstate = \"drum alone\"\nfrom = \"20 s\"\nto = \"10 s\"\n"
            ),
            "out_of_range",
            11,
        ),
        (
            format!("{HEAD}{DRUMS}pulses_per_turn = 0\n"),
            "out_of_range",
            8,
        ),
        (
            HEAD.replace("drum.csv", "none.csv") + DRUMS,
            "file_missing",
            4,
        ),
        (
            format!("{HEAD}engine_log = \"none.csv\"\n{DRUMS}"),
            "file_missing",
            5,
        ),
        (format!("{HEAD}smoothing = 3\n{DRUMS}"), "key_unknown", 5),
    ] {
        let problem = refused(&text, &folder);
        assert_eq!(problem.code.name(), code, "{problem}");
        if line > 1 {
            assert_eq!(problem.line, Some(line), "{problem}");
        }
    }
}
