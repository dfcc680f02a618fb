//! Shapes in which a stranger who had not seen the reader found it wrong, or asked for nothing; each is held to the formula like the others.

use super::{LB_FT, PS, Sample, Shape, asking, comma, held, peak_w, pull, shape, table};
use encoding_rs::{SHIFT_JIS, WINDOWS_1250};
use pullcast::files::{Channel, Look, Problems, RunFile, RunOptions};

/// A table of the known pull between commas.
fn plain(head: &str, row: impl Fn(&Sample) -> String) -> String {
    table(head, pull(50.0).iter().map(row))
}

fn kw(s: &Sample) -> f64 {
    s.power_w() / 1e3
}

/// Time, engine speed and power, and what else a row holds.
fn usual(more: &str, cell: impl Fn(&Sample) -> String) -> String {
    plain(
        &format!("Time (s),Engine speed (rpm),Wheel power (kW),{more}"),
        |s| format!("{:.2},{:.0},{:.2},{}", s.time_s, s.rpm, kw(s), cell(s)),
    )
}

/// Heads of another kind over the same three columns.
fn three(head: &str, power: impl Fn(&Sample) -> f64) -> String {
    plain(head, |s| {
        format!("{:.2},{:.0},{:.3}", s.time_s, s.rpm, power(s))
    })
}

/// Factors, and numbers that no engine has.
fn factors() -> Vec<Shape> {
    vec![
        shape(
            "tenths",
            plain(
                "Time [10 ms],Engine speed [rpm],Wheel power [0.1 kW]",
                |s| format!("{:.0},{:.0},{:.0}", 100.0 * s.time_s, s.rpm, 10.0 * kw(s)),
            ),
        ),
        shape(
            "hundredths",
            plain("Time (1/100 s),RPM,Wheel power (kW)", |s| {
                format!("{:.0},{:.0},{:.2}", 100.0 * s.time_s, s.rpm, kw(s))
            }),
        ),
        shape(
            "factor_taken_already",
            three("Time (s),RPM,Wheel power (kW x10)", |s| 10.0 * kw(s)),
        ),
        shape(
            "factor_without_brackets",
            three("Time s,RPM,Wheel power 0.1 kW", |s| 10.0 * kw(s)),
        ),
        asking(
            "factor_in_an_answer",
            three("Time (s),RPM,Power", |s| 10.0 * kw(s)),
            "Power",
            "wheel_power_0.1_kW",
        ),
        asking(
            "thousands_unsaid",
            plain("Time (s),Engine speed (rpm),Wheel power (kW)", |s| {
                format!("{:.2},{:.4},{:.2}", s.time_s, s.rpm / 1e3, kw(s))
            }),
            "Engine speed (rpm)",
            "engine_speed_1000_rpm",
        ),
        asking(
            "mixture_as_lambda",
            usual("Lambda", |_| "12.9".to_owned()),
            "Lambda",
            "afr 14.7",
        ),
        asking(
            "lambda_as_mixture",
            usual("AFR (14.7)", |_| "0.88".to_owned()),
            "AFR (14.7)",
            "lambda",
        ),
        asking(
            "milliseconds_as_seconds",
            plain("Time (s),RPM,Wheel power (kW)", |s| {
                format!("{:.0},{:.0},{:.2}", 1e3 * s.time_s, s.rpm, kw(s))
            }),
            "Time (s)",
            "time_ms",
        ),
        asking(
            "drum_like_an_engine",
            three("Time (s),RPM (from rollers),Wheel power (kW)", kw),
            "RPM (from rollers)",
            "engine_speed_rpm",
        ),
    ]
}

/// Heads.
#[expect(clippy::too_many_lines, reason = "a list of shapes")]
fn heads() -> Vec<Shape> {
    vec![
        shape(
            "corrected_group_first",
            plain(
                ",,Corrected,,Uncorrected,\nTime (s),RPM,Power (kW),Torque (Nm),Power (kW),Torque (Nm)",
                |s| {
                    format!(
                        "{:.2},{:.0},{:.2},{:.2},{:.2},{:.2}",
                        s.time_s,
                        s.rpm,
                        1.03 * kw(s),
                        1.03 * s.torque_nm,
                        kw(s),
                        s.torque_nm
                    )
                },
            ),
        ),
        shape(
            "speed_beside_rpm",
            plain("Time,Speed,RPM,Wheel kW,Nm", |s| {
                format!(
                    "{:.2},{:.1},{:.0},{:.2},{:.2}",
                    s.time_s,
                    2.2369363 * s.road_m_s(),
                    s.rpm,
                    kw(s),
                    s.torque_nm
                )
            }),
        ),
        shape(
            "front_and_rear",
            plain(
                "Time (s),RPM,Front roller power (kW),Rear roller power (kW)",
                |s| {
                    format!(
                        "{:.2},{:.0},{:.3},{:.3}",
                        s.time_s,
                        s.rpm,
                        0.42 * kw(s),
                        0.58 * kw(s)
                    )
                },
            ),
        ),
        shape(
            "sides_in_hp_and_kw",
            plain(
                "Time (s),RPM,Wheel power left (PS),Wheel power right (kW)",
                |s| {
                    format!(
                        "{:.2},{:.0},{:.3},{:.3}",
                        s.time_s,
                        s.rpm,
                        0.49 * s.power_w() / PS,
                        0.51 * kw(s)
                    )
                },
            ),
        ),
        shape(
            "over_units",
            table(
                "Zeit/s;Drehzahl/min-1;Radleistung/kW;Saugrohrdruck/hPa abs",
                pull(50.0).iter().map(|s| {
                    format!(
                        "{};{};{};979",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(kw(s), 2)
                    )
                }),
            ),
        ),
        shape(
            "watts_at_the_end",
            three("Time_s,EngineSpeed_rpm,WheelPower_W", Sample::power_w_of),
        ),
        shape(
            "pounds_uncorrected",
            three(
                "Time (sec),Engine RPM,Wheel Torque ft-lb (uncorrected)",
                |s| s.torque_nm / LB_FT,
            ),
        ),
        shape(
            "decanewtons",
            three("Temps (s),R\u{e9}gime (tr/min),Couple (daN.m)", |s| {
                s.torque_nm / 10.0
            }),
        ),
        shape(
            "clock_form",
            plain("Elapsed (mm:ss.ss),RPM,Wheel power (kW)", |s| {
                format!("00:{:05.2},{:.0},{:.2}", s.time_s, s.rpm, kw(s))
            }),
        ),
        shape(
            "two_clocks",
            usual("ECU time (s)", |s| format!("{:.2}", s.time_s + 0.7)),
        ),
    ]
}

/// Tables.
fn tables() -> Vec<Shape> {
    let quoted = three("Time (s),RPM,Wheel power (kW)", kw);
    let quoted: Vec<String> = quoted.lines().map(|line| format!("\"{line}\"")).collect();
    let fixed = |cells: [String; 4]| {
        let [time, rpm, power, air] = cells;
        format!("{time:>9}{rpm:>15}{power:>16}{air:>19}")
    };
    let words = ["Time", "Engine speed", "Wheel power", "Intake temperature"];
    let head = [words, ["s", "rpm", "kW", "deg C"]]
        .map(|row| fixed(row.map(str::to_owned)))
        .join("\n");
    vec![
        shape("whole_lines_quoted", quoted.join("\n")),
        shape(
            "fixed_width_of_words",
            plain(&head, |s| {
                fixed([
                    format!("{:.2}", s.time_s),
                    format!("{:.0}", s.rpm),
                    format!("{:.2}", kw(s)),
                    "24.0".to_owned(),
                ])
            }),
        ),
        shape(
            "czech_with_unit_row",
            table(
                "\u{10c}as;Ot\u{e1}\u{10d}ky motoru;V\u{fd}kon na kolech;Neznámý\ns;ot/min;kW;Nm",
                pull(50.0).iter().map(|s| {
                    format!(
                        "{};{};{};1,0",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(kw(s), 2)
                    )
                }),
            ),
        ),
        shape(
            "maxima_in_the_last_row",
            format!(
                "{}0.00,6800,{:.2}\n",
                three("Time (s),RPM,Wheel power (kW)", kw),
                peak_w() / 1e3
            ),
        ),
        shape(
            "units_in_cells",
            table(
                "Zeit;Drehzahl;Radleistung",
                pull(50.0).iter().map(|s| {
                    format!(
                        "{} s;{:.0} 1/min;{} PS",
                        comma(s.time_s, 2),
                        s.rpm,
                        comma(s.power_w() / PS, 2)
                    )
                }),
            ),
        ),
        (
            "polish_code_page",
            WINDOWS_1250
                .encode(&three(
                    "Czas [s],Obroty silnika [obr/min],Moc na ko\u{142}ach [KM]",
                    |s| s.power_w() / PS,
                ))
                .0
                .into_owned(),
            None,
            1,
        ),
        (
            "japanese_code_page",
            SHIFT_JIS
                .encode(&three(
                    "時間(秒),エンジン回転数(rpm),駆動輪出力(PS)",
                    |s| s.power_w() / PS,
                ))
                .0
                .into_owned(),
            None,
            1,
        ),
        shape(
            "truncated",
            three("Time (s),RPM,Wheel power (kW)", kw) + "\0\0\0\0",
        ),
    ]
}

impl Sample {
    fn power_w_of(&self) -> f64 {
        self.power_w()
    }
}

#[test]
fn every_shape_of_the_outsider_is_read_or_asks_one_question() {
    let shapes = [factors(), heads(), tables()].concat();
    let (right, report) = super::score(&shapes);
    assert_eq!(right, shapes.len(), "{report}");
}

fn parsed(text: &str) -> Result<RunFile, Problems> {
    RunFile::parse("log.csv", text.as_bytes(), &RunOptions::default())
}

fn top_si(run: &RunFile, channel: Channel) -> Option<f64> {
    let values = &run.column(channel)?.values_si;
    Some(values.iter().copied().fold(f64::NEG_INFINITY, f64::max))
}

#[test]
fn air_of_the_room_is_no_inlet_air_whichever_stands_first() {
    for (head, cells) in [
        ("Room temp (\u{b0}C),IAT (\u{b0}C)", "21.3,24.0"),
        ("IAT (\u{b0}C),Cell temp (\u{b0}C)", "24.0,21.3"),
        (
            "Dyno room temperature (\u{b0}C),Intake temp (\u{b0}C)",
            "21.3,24.0",
        ),
        (
            "IAT (\u{c2}\u{b0}C),Ambient temp (\u{c2}\u{b0}C)",
            "24.0,21.3",
        ),
    ] {
        let run = parsed(&usual(head, |_| cells.to_owned())).expect("read");
        let inlet_k = top_si(&run, Channel::InletTemperature).expect("inlet");
        assert!((inlet_k - 297.15).abs() < 0.01, "{head}: {inlet_k}");
    }
}

#[test]
fn richness_is_one_over_lambda_and_a_factor_is_taken() {
    for (head, cell) in [
        ("Richesse", "1.25"),
        ("Lambda (x1000)", "800"),
        ("Lambda [0.001]", "800"),
        ("Lambda (%)", "80.0"),
    ] {
        let run = parsed(&usual(head, |_| cell.to_owned())).expect("read");
        let lambda = top_si(&run, Channel::Lambda).expect("lambda");
        assert!((lambda - 0.8).abs() < 1e-9, "{head}: {lambda}");
    }
}

#[test]
fn a_drum_that_runs_like_the_engine_is_left_out_with_a_word() {
    let run = parsed(&usual("RPM (from rollers)", |s| {
        format!("{:.0}", s.rpm + 35.0)
    }));
    let run = run.expect("read");
    assert!(run.column(Channel::DrumSpeed).is_none());
    assert!(run.warnings.to_string().contains("runs like engine speed"));
}

#[test]
fn torque_of_an_axle_is_asked_about() {
    let problems = parsed(&three("Time (s),RPM,Wheel torque (Nm)", |s| {
        5.3 * s.torque_nm
    }));
    let problems = problems.expect_err("asks");
    let asked = super::one_question(&problems);
    assert_eq!(asked.as_deref(), Ok("Wheel torque (Nm)"));
    // A small engine's axle shows by the mass that it would have sped up.
    let text = plain("Time (s),RPM,Wheel torque (Nm),Road speed (m/s)", |s| {
        format!(
            "{:.2},{:.0},{:.1},{:.3}",
            s.time_s,
            s.rpm,
            1.8 * s.torque_nm,
            0.5 * s.road_m_s()
        )
    });
    let problems = parsed(&text).expect_err("asks");
    assert_eq!(
        super::one_question(&problems).as_deref(),
        Ok("Wheel torque (Nm)")
    );
}

#[test]
fn one_side_alone_is_not_the_whole() {
    let problems = parsed(&three("Time (s),RPM,Front roller power (kW)", kw)).expect_err("asks");
    assert!(problems.to_string().contains("of one side"), "{problems}");
    let beside = usual("Front roller power (kW)", |s| format!("{:.2}", 0.4 * kw(s)));
    assert!(held("beside_the_whole", beside.as_bytes(), None, 1).is_ok());
}

#[test]
fn points_that_may_group_thousands_are_one_question_of_the_table() {
    let text = plain("Zeit (ms);Drehzahl (U/min);Radleistung (W)", |s| {
        let grouped = |number: f64| {
            let number = number.round();
            let (above, below) = ((number / 1e3).floor(), number % 1e3);
            if above > 0.0 {
                format!("{above}.{below:03}")
            } else {
                format!("{below}")
            }
        };
        let cells = [1e3 * s.time_s, s.rpm, s.power_w()].map(grouped);
        cells.join(";")
    });
    let problems = parsed(&text).expect_err("asks");
    assert!(
        problems.to_string().contains("decimals, or is the point"),
        "{problems}"
    );
    let options = RunOptions {
        decimal: Some(pullcast::files::run_csv::DecimalMark::Comma),
        ..RunOptions::default()
    };
    let run = RunFile::parse("log.csv", text.as_bytes(), &options).expect("read");
    let power_w = top_si(&run, Channel::WheelPower).expect("power");
    assert!((power_w / peak_w() - 1.0).abs() < 1e-3);
}

#[test]
fn a_refusal_is_ten_lines_at_most_and_names_another_format() {
    let rows =
        |row: fn(&Sample) -> String| pull(50.0).iter().map(row).collect::<Vec<_>>().join("\n");
    let xml = rows(|s| format!("<s t=\"{:.2}\" rpm=\"{:.0}\"/>", s.time_s, s.rpm));
    let html = rows(|s| format!("<tr><td>{:.2}</td><td>{:.0}</td></tr>", s.time_s, s.rpm));
    for (text, says) in [
        (
            "Time (s),Engine speed (rpm),Wheel power (kW)\n".to_owned(),
            "no rows",
        ),
        (
            rows(|s| format!("{{\"t\": {:.2}, \"rpm\": {:.0}}}", s.time_s, s.rpm)),
            "JSON",
        ),
        (
            format!("<?xml version=\"1.0\"?>\n<log>\n{xml}\n</log>\n"),
            "XML",
        ),
        (
            format!("<html><body><table>\n{html}\n</table></body></html>"),
            "HTML",
        ),
        (
            rows(|s| format!("t={:.2} rpm={:.0}", s.time_s, s.rpm)),
            "name=value",
        ),
        (usual("MAP", |_| "14.1".to_owned()), "gauge"),
    ] {
        let problems = parsed(&text).expect_err("refused");
        let printed = problems.render(Look::Plain, 80);
        assert!(printed.contains(says), "{printed}");
        assert!(
            printed
                .lines()
                .filter(|line| !line.trim().is_empty())
                .count()
                <= 10,
            "{printed}"
        );
    }
}

#[test]
fn what_separates_fields_is_told_as_the_file_has_it() {
    for sign in ['|', ';', ' ', '\t'] {
        let text = three("Time_s,RPM,Wheel_power_kW", kw).replace(',', &sign.to_string());
        assert_eq!(parsed(&text).expect("read").separator, sign);
    }
}

#[test]
fn a_command_is_not_broken_at_a_slash() {
    let problems = parsed(&three(
        "Time (s),RPM,Powertrain_input_power_sensor_value/alpha_beta",
        kw,
    ));
    let printed = problems.map_or_else(std::convert::identity, |run| run.warnings);
    let printed = printed.render(Look::Plain, 80);
    assert!(printed.contains("value/alpha_beta"), "{printed}");
}
