//! Mistakes in the recordings that a visit names.

use super::*;

#[test]
fn a_recording_of_a_header_alone_has_no_rows() {
    let none = Said {
        code: "rows_none",
        line: None,
        value: "no rows",
        expected: "at least 20 rows",
    };
    only(&recording(&csv(HEADER, 0)), "run.csv", &none);
}

#[test]
fn a_recording_of_one_row_is_no_pull() {
    let few = Said {
        code: "rows_too_few",
        line: Some(2),
        value: "1",
        expected: "at least 20 rows",
    };
    only(&recording(&csv(HEADER, 1)), "run.csv", &few);
    let short = Said { value: "12", ..few };
    only(&recording(&csv(HEADER, 12)), "run.csv", &short);
}

#[test]
fn numbers_that_are_not_finite_are_refused_at_their_row() {
    for word in ["NaN", "inf", "-inf"] {
        // One row is left out with a warning; a tenth of them is no recording.
        let one =
            csv(HEADER, 400).replacen("0.02,2010.0,40.200", &format!("0.02,2010.0,{word}"), 1);
        let folder = Folder::new();
        let (visit, warnings) =
            files::visit::open(&folder.visit(WEATHER, "", &one)).expect("one row left out");
        assert_eq!(visit.recordings[0].rows, 399);
        let at = Said {
            code: "number_not_finite",
            line: Some(3),
            value: word,
            expected: "a number",
        };
        only(&warnings, "run.csv", &at);
        let many: String = csv(HEADER, 400)
            .lines()
            .enumerate()
            .map(|(line, text)| match text.rsplit_once(',') {
                Some((rest, _)) if line % 10 == 2 => format!("{rest},{word}\n"),
                _ => format!("{text}\n"),
            })
            .collect();
        only(&recording(&many), "run.csv", &at);
    }
    let at = Said {
        code: "number_not_finite",
        line: Some(6),
        value: "NaN",
        expected: "a length",
    };
    only(&car("\"86 mm\"", "\"NaN mm\""), "car.toml", &at);
}

#[test]
fn engine_speed_that_falls_is_refused_at_its_line() {
    let mut text = csv(HEADER, 200);
    for (row, line) in csv(HEADER, 200).lines().skip(1).enumerate() {
        let cells: Vec<&str> = line.split(',').collect();
        let _ = writeln!(
            text,
            "{:.2},{},{}",
            4.0 + 0.02 * row as f64,
            cells[1],
            cells[2]
        );
    }
    // Rows 200 and on begin again at 2000 rpm after 3990: line 1 is the header, so the fall is on line 202.
    let at = Said {
        code: "not_a_pull",
        line: Some(202),
        value: "2000 rpm",
        expected: "rising engine speed",
    };
    only(&recording(&text), "run.csv", &at);
    let climbing = csv(HEADER, 400);
    let flat = climbing.lines().map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        let speed = if cells[1] == "engine_rpm" {
            cells[1]
        } else {
            "3000"
        };
        format!("{},{speed},{}\n", cells[0], cells[2])
    });
    let at = Said {
        code: "not_a_pull",
        line: Some(2),
        value: "3000 rpm",
        expected: "engine speed from low to high",
    };
    only(&recording(&flat.collect::<String>()), "run.csv", &at);
}

#[test]
fn an_engine_that_stands_still_is_no_pull() {
    let text = csv(HEADER, 400).replacen("0.00,2000.0,", "0.00,0,", 1);
    let at = Said {
        code: "out_of_range",
        line: Some(2),
        value: "0 rpm",
        expected: "more than 0",
    };
    only(&recording(&text), "run.csv", &at);
}

#[test]
fn an_engine_speed_in_other_units_is_no_pull() {
    let text = csv(HEADER, 400).replacen("0.02,2010.0,", "0.02,201000,", 1);
    let at = Said {
        code: "out_of_range",
        line: Some(3),
        value: "rpm",
        expected: "at most 20000 rpm",
    };
    only(&recording(&text), "run.csv", &at);
}

#[test]
fn power_of_the_wrong_sign_is_refused() {
    let header = csv(HEADER, 400);
    let turned: String = header
        .lines()
        .map(|line| match line.rsplit_once(',') {
            Some((rest, power)) if !power.contains('k') => format!("{rest},-{power}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    let at = Said {
        code: "out_of_range",
        line: Some(2),
        value: "-40",
        expected: "positive power",
    };
    only(&recording(&turned), "run.csv", &at);
}

#[test]
fn two_columns_of_one_name_are_refused() {
    let text = csv("time_s,engine_rpm,engine_rpm", 400);
    let at = Said {
        code: "column_duplicate",
        line: Some(1),
        value: "engine_rpm",
        expected: "each header once",
    };
    only(&recording(&text), "run.csv", &at);
}

#[test]
fn a_pressure_must_say_against_what_it_is_measured() {
    let header = "time_s,engine_rpm,wheel_power_kw,manifold_pressure_kpa";
    let rows: Vec<String> = csv(HEADER, 400)
        .lines()
        .skip(1)
        .map(|line| format!("{line},98"))
        .collect();
    let text = format!("{header}\n{}\n", rows.join("\n"));
    let problems = recording(&text);
    let at = Said {
        code: "unit_ambiguous",
        line: Some(1),
        value: "manifold_pressure_kpa",
        expected: "gauge",
    };
    only(&problems, "run.csv", &at);
    // The pull may answer the question.
    let folder = Folder::new();
    let visit = folder.visit(WEATHER, "manifold_pressure = \"absolute\"\n", &text);
    let (visit, _) = files::visit::open(&visit).expect("answered");
    assert_eq!(
        visit.visit.pulls[0].curve.bands[0].manifold_pa,
        Some(98_000.0)
    );
}

#[test]
fn corrected_power_alone_is_refused_and_its_correction_can_be_undone() {
    let text = csv("time_s,engine_rpm,corrected_wheel_power_kw", 400);
    let at = Said {
        code: "power_corrected",
        line: None,
        value: "corrected_wheel_power_kw",
        expected: "uncorrected",
    };
    only(&recording(&text), "run.csv", &at);
    let folder = Folder::new();
    let visit = folder.visit(WEATHER, "corrected_to = \"sae-j1349\"\n", &text);
    let (undone, warnings) = files::visit::open(&visit).expect("a standard is named");
    let at = Said {
        code: "correction_undone",
        line: Some(9),
        value: "SAE J1349",
        expected: "uncorrected power",
    };
    only(&warnings, "visit.toml", &at);
    let (plain, _) =
        files::visit::open(&folder.visit(WEATHER, "", &csv(HEADER, 400))).expect("uncorrected");
    let power = |visit: &files::VisitFile| visit.visit.pulls[0].curve.bands[10].power_w;
    let (_, factor) = undone.recordings[0].undone.expect("a factor");
    // SAE J1349 at 15 °C, 60 %, 1000 hPa by hand: 1.18 (990/989.77) √(288/298) − 0.18 = 0.9804 (1.02 kPa of vapour).
    assert!((factor - 0.9804).abs() < 3e-4, "{factor}");
    assert!((power(&undone) * factor / power(&plain) - 1.0).abs() < 1e-9);
}

#[test]
fn torque_at_engine_speed_stands_in_for_power_and_nothing_else_does() {
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        // 0.02 kW per rpm is 20 · 30/π N m at every speed.
        format!("{},{},190.98593", cells[0], cells[1])
    };
    let torque = csv(HEADER, 400)
        .lines()
        .skip(1)
        .map(row)
        .collect::<Vec<_>>()
        .join("\n");
    let folder = Folder::new();
    let path = folder.visit(
        WEATHER,
        "",
        &format!("time_s,engine_rpm,wheel_torque_at_engine_speed (N m)\n{torque}"),
    );
    let (visit, _) = files::visit::open(&path).expect("torque");
    let band = &visit.visit.pulls[0].curve.bands[5];
    assert!((band.power_w / (20.0 * band.rpm) - 1.0).abs() < 1e-6);
    let at = Said {
        code: "channel_missing",
        line: None,
        value: "throttle",
        expected: "uncorrected wheel power",
    };
    only(
        &recording(&csv("time_s,engine_rpm,throttle_%", 400)),
        "run.csv",
        &at,
    );
    let at = Said {
        code: "channel_missing",
        line: None,
        value: "engine speed",
        expected: "engine speed (unit)",
    };
    only(
        &recording(&csv("time_s,drum_speed_rpm,wheel_power_kw", 400)),
        "run.csv",
        &at,
    );
}

#[test]
fn several_pulls_in_one_recording_are_several_pulls() {
    let text = csv(HEADER, 300) + &csv(HEADER, 300);
    let folder = Folder::new();
    let (visit, _) = files::visit::open(&folder.visit(WEATHER, "rest_before = \"5 min\"\n", &text))
        .expect("two pulls");
    let names: Vec<&str> = visit.visit.pulls.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["run, pull 1", "run, pull 2"]);
    assert_eq!(visit.recordings[1].first_line, 303);
    assert!(visit.visit.pulls.iter().all(|p| p.rest_s == Some(300.0)));
}

#[test]
fn what_was_entered_into_the_rig_is_read_and_its_mistakes_are_named() {
    let folder = Folder::new();
    let text = csv(HEADER, 400);
    let good = "[pull.entered]\ndrum_inertia = \"110 kg m2\"\ngear = 1.3\nfinal_drive = 4\nengine_speed = \"from drums\"\n";
    let (visit, _) = files::visit::open(&folder.visit(WEATHER, good, &text)).expect("a visit");
    assert_eq!(visit.entered.len(), 1);
    assert_eq!(visit.entered[0].overall_ratio, Some(5.2));
    for (bad, code, value, expected) in [
        ("drum_inertia = 110\n", "unit_missing", "110", "kg m"),
        ("drum_inertia = \"-3 kg m2\"\n", "out_of_range", "-3", "0.1"),
        ("gear = \"1.3 rpm\"\n", "unit_wrong", "rpm", "number"),
        (
            "correction = \"own\"\n",
            "choice_unknown",
            "own",
            "sae-j1349",
        ),
        (
            "engine_speed = \"gps\"\n",
            "choice_unknown",
            "gps",
            "from drums",
        ),
        (
            "inertia = \"3 kg m2\"\n",
            "key_unknown",
            "inertia",
            "drum_inertia",
        ),
    ] {
        let pull = format!("[pull.entered]\n{bad}");
        let problems = refused(files::visit::open(&folder.visit(WEATHER, &pull, &text)));
        let said = Said {
            code,
            line: Some(11),
            value,
            expected,
        };
        only(&problems, "visit.toml", &said);
    }
}
