//! Exports as strangers write them: one known pull in many shapes, each read without editing or after one question.
//!
//! The pull is made here from a formula, so the right answer is known: the peak's power and engine speed after reading must be those of the formula. The
//! shapes are inventions of this file; common practice, no source.

use pullcast::files::{Channel, Problems, RunFile, RunOptions};
use std::f64::consts::PI;
use std::fmt::Write as _;

/// One sample of the known pull.
#[derive(Clone, Copy)]
struct Sample {
    time_s: f64,
    rpm: f64,
    torque_nm: f64,
}

impl Sample {
    fn power_w(self) -> f64 {
        self.torque_nm * self.rpm * PI / 30.0
    }

    /// Road speed, m/s: 1.9 turns of the engine for each radian of the drum's surface is as good as any.
    fn road_m_s(self) -> f64 {
        self.rpm / 130.0
    }
}

const PEAK_RPM: f64 = 5400.0;

/// The pull: torque falls by a parabola about 4200 rpm, so that power peaks where d(T·n)/dn is 0, here at 5400 rpm:
/// T = T0 − c (n − 4200)², c chosen so that T0 − c·1200² = 2 c·1200·5400.
fn pull(rate_hz: f64) -> Vec<Sample> {
    let top = 300.0;
    let c = top / (1200.0 * 1200.0 + 2.0 * 1200.0 * PEAK_RPM);
    let rows = (9.2 * rate_hz) as usize;
    (0..=rows)
        .map(|row| {
            let time_s = row as f64 / rate_hz;
            let rpm = 2200.0 + 500.0 * time_s;
            Sample {
                time_s,
                rpm,
                torque_nm: top - c * (rpm - 4200.0).powi(2),
            }
        })
        .collect()
}

fn peak_w() -> f64 {
    let at = Sample {
        time_s: 0.0,
        rpm: PEAK_RPM,
        torque_nm: 0.0,
    };
    let c = 300.0 / (1200.0 * 1200.0 + 2.0 * 1200.0 * PEAK_RPM);
    (300.0 - c * 1200.0 * 1200.0) * at.rpm * PI / 30.0
}

const HP: f64 = 745.699_871_582_270_2;
const PS: f64 = 735.498_75;
const LB_FT: f64 = 1.355_817_948_331_400_4;

fn table(head: &str, rows: impl Iterator<Item = String>) -> String {
    let mut text = format!("{head}\n");
    for row in rows {
        let _ = writeln!(text, "{row}");
    }
    text
}

fn comma(number: f64, digits: usize) -> String {
    format!("{number:.digits$}").replace('.', ",")
}

/// How a shape was read.
#[derive(Debug, PartialEq, Eq)]
enum Reading {
    AtOnce,
    AfterOneQuestion,
}

/// Reads a shape, answering one question where there is one with `answer`, and holds the peak against the known pull.
fn held(
    name: &str,
    bytes: &[u8],
    answer: Option<(&str, &str)>,
    pulls: usize,
) -> Result<Reading, String> {
    let options = RunOptions::default();
    let (run, how) = match RunFile::parse(name, bytes, &options) {
        Ok(run) => (run, Reading::AtOnce),
        Err(problems) => {
            let question = one_question(&problems)?;
            let (column, meant) = answer.ok_or(format!("asks {question:?}"))?;
            if question != column {
                return Err(format!("asks of '{question}', not of '{column}'"));
            }
            let options = RunOptions {
                columns: vec![(column.to_owned(), meant.to_owned())],
                ..options
            };
            let run =
                RunFile::parse(name, bytes, &options).map_err(|p| format!("answered, but {p}"))?;
            (run, Reading::AfterOneQuestion)
        }
    };
    if run.pulls.len() != pulls {
        return Err(format!("{} pulls", run.pulls.len()));
    }
    for pull in &run.pulls {
        let of = |channel| run.values_si(pull, channel);
        let time = of(Channel::Time).ok_or("no time")?;
        let speed = of(Channel::EngineSpeed).ok_or("no engine speed")?;
        let product =
            |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).collect::<Vec<f64>>();
        let power = match (
            of(Channel::WheelPower),
            of(Channel::WheelTorque),
            of(Channel::WheelForce),
            of(Channel::RoadSpeed),
        ) {
            (Some(power), ..) => power.to_vec(),
            (_, Some(torque), ..) => product(torque, speed),
            (_, _, Some(force), Some(road)) => product(force, road),
            _ => return Err(format!("no power: {:?}", run.warnings)),
        };
        let top = (0..power.len())
            .max_by(|&a, &b| power[a].total_cmp(&power[b]))
            .ok_or("no rows")?;
        let rpm = speed[top] * 30.0 / PI;
        if (power[top] / peak_w() - 1.0).abs() > 1e-3 || (rpm - PEAK_RPM).abs() > 60.0 {
            return Err(format!("peak {:.1} kW at {rpm:.0} rpm", power[top] / 1e3));
        }
        let lasts = time[time.len() - 1] - time[0];
        if (lasts - 9.2).abs() > 0.35 {
            return Err(format!("lasts {lasts} s"));
        }
    }
    let lines = run.warnings.iter().count();
    if lines > 5 {
        return Err(format!("{lines} warnings: {:?}", run.warnings));
    }
    Ok(how)
}

/// The column that is asked about, where one problem asks one question.
fn one_question(problems: &Problems) -> Result<String, String> {
    let errors: Vec<_> = problems
        .iter()
        .filter(|p| p.severity == pullcast::files::Severity::Error)
        .collect();
    match errors.as_slice() {
        [only] if only.asked.len() == 1 => Ok(only.asked[0].column.clone()),
        several => Err(format!("{} problems: {problems}", several.len())),
    }
}

type Shape = (
    &'static str,
    Vec<u8>,
    Option<(&'static str, &'static str)>,
    usize,
);

fn shape(name: &'static str, text: String) -> Shape {
    (name, text.into_bytes(), None, 1)
}

fn asking(name: &'static str, text: String, column: &'static str, meant: &'static str) -> Shape {
    (name, text.into_bytes(), Some((column, meant)), 1)
}

/// Shapes that the reader was written against.
#[expect(clippy::too_many_lines, reason = "a list of shapes")]
fn known_shapes() -> Vec<Shape> {
    let fast = pull(50.0);
    let slow = pull(10.0);
    let hp = |s: &Sample| s.power_w() / HP;
    let plain = |head: &str| {
        table(
            head,
            fast.iter()
                .map(|s| format!("{:.2},{:.1},{:.3}", s.time_s, s.rpm, hp(s))),
        )
    };
    let utf16: Vec<u8> = {
        let text = format!(
            "\u{feff}{}",
            table(
                "Zeit [s]\tDrehzahl [U/min]\tLeistung [PS]",
                fast.iter().map(|s| {
                    format!(
                        "{}\t{}\t{}",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(s.power_w() / PS, 3)
                    )
                })
            )
        );
        text.encode_utf16().flat_map(u16::to_le_bytes).collect()
    };
    let latin = table(
        "Tiempo (s);R\u{e9}gimen motor (rpm);Potencia rueda (CV)",
        fast.iter().map(|s| {
            format!(
                "{};{};{}",
                comma(s.time_s, 2),
                comma(s.rpm, 0),
                comma(s.power_w() / PS, 3)
            )
        }),
    );
    let latin: Vec<u8> = latin
        .chars()
        .map(|c| u8::try_from(u32::from(c)).expect("latin-1"))
        .collect();
    vec![
        shape("power_hp", plain("Time (s),RPM,Power (hp)")),
        shape("whp", plain("Time,EngineSpeed,WHP")),
        shape("wheel_hp", plain("Timestamp,Engine RPM,Wheel HP")),
        shape(
            "unit_row_above",
            format!("s,1/min,hp\n{}", plain("Time,Engine Speed,Wheel Power")),
        ),
        shape(
            "unit_row_later",
            table(
                "Time,Engine Speed,Wheel Power\nlogger,ecu,rig\ns,rpm,hp",
                fast.iter()
                    .map(|s| format!("{:.2},{:.1},{:.3}", s.time_s, s.rpm, hp(s))),
            ),
        ),
        shape(
            "preamble",
            format!(
                "Dyno session report\nDate,21.03.2025\nTemperature,23.5,°C\nPressure,1013,hPa\nOperator,J. Doe\n\n{}",
                plain("Time (s),RPM,Power (hp)")
            ),
        ),
        shape(
            "sep_line",
            table(
                "sep=;\nTime (s);RPM;Power (hp)",
                fast.iter().map(|s| {
                    format!(
                        "{};{};{}",
                        comma(s.time_s, 2),
                        comma(s.rpm, 1),
                        comma(hp(s), 3)
                    )
                }),
            ),
        ),
        ("utf16_german", utf16, None, 1),
        ("latin1_spanish", latin, None, 1),
        shape(
            "rpm_thousands",
            table(
                "t [s];RPM x1000;Torque (lb-ft)",
                fast.iter().map(|s| {
                    format!(
                        "{:.2};{:.4};{:.2}",
                        s.time_s,
                        s.rpm / 1e3,
                        s.torque_nm / LB_FT
                    )
                }),
            ),
        ),
        shape(
            "clock",
            table(
                "Time,RPM,Wheel Power (kW)",
                fast.iter().map(|s| {
                    format!(
                        "14:03:{:06.3},{:.0},{:.2}",
                        7.0 + s.time_s,
                        s.rpm,
                        s.power_w() / 1e3
                    )
                }),
            ),
        ),
        shape(
            "milliseconds",
            table(
                "Time;RPM;Wheel Power (kW)",
                fast.iter().map(|s| {
                    format!(
                        "{:.0};{:.0};{:.2}",
                        1e3 * s.time_s,
                        s.rpm,
                        s.power_w() / 1e3
                    )
                }),
            ),
        ),
        shape(
            "readings",
            table(
                "time;name;value;unit",
                fast.iter().flat_map(|s| {
                    [
                        ("Engine speed", s.rpm, "rpm"),
                        ("Wheel power", s.power_w() / 1e3, "kW"),
                        ("Oil temp", 92.0, "°C"),
                    ]
                    .map(|(name, value, unit)| format!("{:.2};{name};{value:.3};{unit}", s.time_s))
                }),
            ),
        ),
        shape(
            "doubled_rows",
            table(
                "Time (s),RPM,Wheel Power (kW)",
                fast.iter().flat_map(|s| {
                    let row = format!("{:.2},{:.0},{:.2}", s.time_s, s.rpm, s.power_w() / 1e3);
                    [row.clone(), row]
                }),
            ),
        ),
        (
            "several_pulls",
            [
                plain("Time (s),RPM,WHP"),
                plain("Time (s),RPM,WHP"),
                plain("Time (s),RPM,WHP"),
            ]
            .join("\n")
            .into_bytes(),
            None,
            3,
        ),
        shape(
            "text_cells",
            table(
                "Time (s),RPM,Power (hp),Gear,Note,EGT",
                fast.iter().enumerate().map(|(row, s)| {
                    format!(
                        "{:.2},{:.0},{:.3},4,{},{}",
                        s.time_s,
                        s.rpm,
                        hp(s),
                        if row == 3 { "start" } else { "" },
                        if row % 40 == 5 { "N/A" } else { "800" }
                    )
                }),
            ),
        ),
        shape(
            "trailer",
            format!(
                "{}\nMax power,201 hp\nEnd of run\n",
                plain("Time (s),RPM,Power (hp)")
            ),
        ),
        shape(
            "empty_columns",
            table(
                "Time (s),,RPM,,Power (hp),,",
                fast.iter()
                    .map(|s| format!("{:.2},,{:.0},,{:.3},,", s.time_s, s.rpm, hp(s))),
            ),
        ),
        asking(
            "no_unit",
            table(
                "Time (s),RPM,Power",
                fast.iter()
                    .map(|s| format!("{:.2},{:.0},{:.3}", s.time_s, s.rpm, hp(s))),
            ),
            "Power",
            "wheel_power_hp",
        ),
        asking(
            "wrong_name",
            table(
                "Time (s),RPM,wheel_power_kw (hp)",
                fast.iter()
                    .map(|s| format!("{:.2},{:.0},{:.3}", s.time_s, s.rpm, hp(s))),
            ),
            "wheel_power_kw (hp)",
            "wheel_power_hp",
        ),
        asking(
            "afr",
            table(
                "Time (s),RPM,WHP,AFR",
                fast.iter()
                    .map(|s| format!("{:.2},{:.0},{:.3},12.6", s.time_s, s.rpm, hp(s))),
            ),
            "AFR",
            "afr 14.7",
        ),
        shape(
            "force_and_speed",
            table(
                "Zeit [s];Geschwindigkeit [km/h];Zugkraft [N];Motordrehzahl [1/min]",
                slow.iter().map(|s| {
                    format!(
                        "{};{};{};{}",
                        comma(s.time_s, 1),
                        comma(3.6 * s.road_m_s(), 3),
                        comma(s.power_w() / s.road_m_s(), 2),
                        comma(s.rpm, 0)
                    )
                }),
            ),
        ),
        shape(
            "units_in_cells",
            table(
                "Time,Engine,Power",
                slow.iter()
                    .map(|s| format!("{:.1} s,{:.0} rpm,{:.2} hp", s.time_s, s.rpm, hp(s))),
            ),
        ),
        shape("transposed", {
            let row = |name: &str, unit: &str, value: &dyn Fn(&Sample) -> f64| {
                let cells: Vec<String> = slow.iter().map(|s| format!("{:.3}", value(s))).collect();
                format!("{name};{unit};{}\n", cells.join(";"))
            };
            row("Time", "s", &|s| s.time_s)
                + &row("Engine speed", "rpm", &|s| s.rpm)
                + &row("Wheel power", "kW", &|s| s.power_w() / 1e3)
        }),
        (
            "side_by_side",
            table(
                "Run 1 Time (s),Run 1 RPM,Run 1 HP,Run 2 Time (s),Run 2 RPM,Run 2 HP",
                fast.iter().map(|s| {
                    let row = format!("{:.2},{:.0},{:.3}", s.time_s, s.rpm, hp(s));
                    format!("{row},{row}")
                }),
            )
            .into_bytes(),
            None,
            2,
        ),
        shape(
            "blanks",
            table(
                "  time_s    rpm   whp",
                fast.iter()
                    .map(|s| format!("  {:.2}   {:.0}   {:.3}", s.time_s, s.rpm, hp(s))),
            ),
        ),
        shape(
            "two_head_lines",
            table(
                "Engine;Engine;Wheel;Elapsed\nSpeed;Torque;Power;Time\nrpm;Nm;kW;s",
                fast.iter().map(|s| {
                    format!(
                        "{:.0};{:.2};{:.3};{:.2}",
                        s.rpm,
                        s.torque_nm * 1.15,
                        s.power_w() / 1e3,
                        s.time_s
                    )
                }),
            ),
        ),
        shape(
            "split_decimals",
            table(
                "Time (s),RPM,Power (PS)",
                fast.iter().map(|s| {
                    format!(
                        "{},{},{}",
                        comma(s.time_s, 2),
                        comma(s.rpm, 1),
                        comma(s.power_w() / PS, 2)
                    )
                }),
            ),
        ),
    ]
}

/// Shapes thought of after the reader was finished; how many of them were read at first sight stands in docs/validation.md.
#[expect(clippy::too_many_lines, reason = "a list of shapes")]
fn later_shapes() -> Vec<Shape> {
    let fast = pull(50.0);
    let slow = pull(10.0);
    let hp = |s: &Sample| s.power_w() / HP;
    let ps = |s: &Sample| s.power_w() / PS;
    let kw = |s: &Sample| s.power_w() / 1e3;
    let down = |from: f64| {
        (1..=60).map(move |row| {
            (
                0.1 * f64::from(row),
                6800.0 - (6800.0 - from) * f64::from(row) / 60.0,
            )
        })
    };
    vec![
        shape(
            "french",
            table(
                "Temps;R\u{e9}gime;Puissance roue;Couple roue\ns;tr/min;ch;mkg",
                fast.iter().map(|s| {
                    format!(
                        "{};{};{};{}",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(ps(s), 2),
                        comma(s.torque_nm / 9.80665, 2)
                    )
                }),
            ),
        ),
        shape(
            "italian",
            table(
                "Tempo [s]\tGiri motore [giri/min]\tPotenza ruote [CV]\tTemperatura acqua [\u{b0}C]",
                fast.iter().map(|s| {
                    format!(
                        "{}\t{}\t{}\t88",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(ps(s), 2)
                    )
                }),
            ),
        ),
        shape(
            "polish",
            table(
                "Czas;Obroty silnika;Moc na ko\u{142}ach;Temp. oleju\n[s];[obr/min];[KM];[\u{b0}C]",
                fast.iter().map(|s| {
                    format!(
                        "{};{};{};90",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(ps(s), 2)
                    )
                }),
            ),
        ),
        shape(
            "swedish",
            table(
                "Tid (s);Motorvarvtal (varv/min);Hjuleffekt (hk);Lufttryck (hPa)",
                fast.iter().map(|s| {
                    format!(
                        "{};{};{};1008",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(ps(s), 2)
                    )
                }),
            ),
        ),
        shape(
            "dutch",
            table(
                "Tijd (s);Toerental (omw/min);Vermogen wielen (pk)",
                fast.iter().map(|s| {
                    format!(
                        "{};{};{}",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(ps(s), 2)
                    )
                }),
            ),
        ),
        shape(
            "ruled",
            table(
                "| Time (s) | Engine RPM | Wheel Power (kW) |\n|---|---|---|",
                fast.iter()
                    .map(|s| format!("| {:.2} | {:.0} | {:.2} |", s.time_s, s.rpm, kw(s))),
            ),
        ),
        shape(
            "date_and_time",
            table(
                "Date Time,RPM,WHP",
                fast.iter().map(|s| {
                    format!(
                        "2025-06-01 10:22:{:06.3},{:.0},{:.2}",
                        31.0 + s.time_s,
                        s.rpm,
                        hp(s)
                    )
                }),
            ),
        ),
        shape(
            "newest_first",
            table(
                "Time (s),RPM,WHP",
                fast.iter()
                    .rev()
                    .map(|s| format!("{:.2},{:.0},{:.2}", s.time_s, s.rpm, hp(s))),
            ),
        ),
        shape(
            "taking_turns",
            table(
                "Time (s),RPM,WHP",
                fast.iter().enumerate().map(|(row, s)| {
                    if row % 2 == 0 {
                        format!("{:.2},{:.1},", s.time_s, s.rpm)
                    } else {
                        format!("{:.2},,{:.2}", s.time_s, hp(s))
                    }
                }),
            ),
        ),
        shape(
            "clock_of_seconds",
            table(
                "Time,RPM,Wheel Power (kW)",
                slow.iter().map(|s| {
                    format!(
                        "10:22:{:02},{:.0},{:.2}",
                        31 + s.time_s as u32,
                        s.rpm,
                        kw(s)
                    )
                }),
            ),
        ),
        shape(
            "grouped",
            table(
                "Time (s),RPM,WHP",
                fast.iter().map(|s| {
                    let rpm = format!("{:.0}", s.rpm);
                    format!(
                        "{:.2},\"{},{}\",{:.2}",
                        s.time_s,
                        &rpm[..1],
                        &rpm[1..],
                        hp(s)
                    )
                }),
            ),
        ),
        shape(
            "remarked_head",
            table(
                "# time_s engine_rpm wheel_power_kw",
                fast.iter()
                    .map(|s| format!("{:.3e} {:.5e} {:.5e}", s.time_s, s.rpm, kw(s))),
            ),
        ),
        (
            "run_number",
            table(
                "Run No.;Time (s);RPM;WHP",
                [1, 2].iter().flat_map(|run| {
                    let after = 40.0 * f64::from(*run);
                    fast.iter().map(move |s| {
                        format!(
                            "{run};{:.2};{:.0};{:.2}",
                            s.time_s + after,
                            s.rpm,
                            s.power_w() / HP
                        )
                    })
                }),
            )
            .into_bytes(),
            None,
            2,
        ),
        (
            "left_running",
            table(
                "Time (s),RPM,WHP",
                (0..2).flat_map(|run| {
                    let after = 15.3 * f64::from(run);
                    let up = slow.iter().map(move |s| {
                        format!(
                            "{:.2},{:.0},{:.2}",
                            s.time_s + after,
                            s.rpm,
                            s.power_w() / HP
                        )
                    });
                    up.chain(
                        down(2150.0)
                            .map(move |(t, rpm)| format!("{:.2},{rpm:.0},-8", 9.2 + t + after)),
                    )
                }),
            )
            .into_bytes(),
            None,
            2,
        ),
        shape(
            "head_over_lines",
            table(
                "\"Elapsed\nTime (s)\",\"Engine\nSpeed (rpm)\",\"Wheel\nPower (hp)\"",
                fast.iter()
                    .map(|s| format!("{:.2},{:.0},{:.2}", s.time_s, s.rpm, hp(s))),
            ),
        ),
        shape(
            "both_units",
            table(
                "Time (s),RPM,Wheel Power (kW),Wheel Power (hp),Wheel Torque (Nm),Wheel Torque (lb-ft)",
                fast.iter().map(|s| {
                    format!(
                        "{:.2},{:.0},{:.3},{:.3},{:.2},{:.2}",
                        s.time_s,
                        s.rpm,
                        kw(s),
                        hp(s),
                        s.torque_nm,
                        s.torque_nm / LB_FT
                    )
                }),
            ),
        ),
        shape(
            "many_others",
            table(
                "Time (s),RPM,WHP,EGT 1 (\u{b0}C),EGT 2 (\u{b0}C),EGT 3 (\u{b0}C),EGT 4 (\u{b0}C),Knock Retard,Boost Target (psi),Gear,CAN Status",
                fast.iter().map(|s| {
                    format!(
                        "{:.2},{:.0},{:.2},800,810,790,805,0,7,4,OK",
                        s.time_s,
                        s.rpm,
                        hp(s)
                    )
                }),
            ),
        ),
        shape(
            "corrected_beside",
            table(
                "Time (s),RPM,Corrected Power (hp),Uncorrected Power (hp)",
                fast.iter().map(|s| {
                    format!(
                        "{:.2},{:.0},{:.2},{:.2}",
                        s.time_s,
                        s.rpm,
                        1.03 * hp(s),
                        hp(s)
                    )
                }),
            ),
        ),
        shape(
            "clipped_names",
            table(
                "t[s];EngSpd[rpm];TrqWhl[Nm];PwrWhl[kW];VehSpd[km/h]",
                fast.iter().map(|s| {
                    format!(
                        "{:.2};{:.0};{:.2};{:.3};{:.2}",
                        s.time_s,
                        s.rpm,
                        s.torque_nm,
                        kw(s),
                        3.6 * s.road_m_s()
                    )
                }),
            ),
        ),
        shape(
            "epoch",
            table(
                "ts,rpm,whp",
                fast.iter().map(|s| {
                    format!(
                        "{:.0},{:.0},{:.2}",
                        1_748_773_351_000.0 + 1e3 * s.time_s,
                        s.rpm,
                        hp(s)
                    )
                }),
            ),
        ),
        shape(
            "torque_alone",
            table(
                "Time,MPH,RPM,Torque (ft-lbs)",
                fast.iter().map(|s| {
                    format!(
                        "{:.2},{:.2},{:.0},{:.2}",
                        s.time_s,
                        s.road_m_s() / 0.44704,
                        s.rpm,
                        s.torque_nm / LB_FT
                    )
                }),
            ),
        ),
        shape(
            "slashes_above",
            format!(
                "// exported 2025\n// car: coupe\n%% end of head\n{}",
                table(
                    "Time (s),RPM,WHP",
                    fast.iter()
                        .map(|s| format!("{:.2},{:.0},{:.2}", s.time_s, s.rpm, hp(s)))
                )
            ),
        ),
        shape(
            "extremes_above",
            table(
                "Time;RPM;Power\ns;rpm;hp\nMin;2200;60\nMax;6800;205\nAvg;4500;150",
                fast.iter()
                    .map(|s| format!("{:.2};{:.0};{:.2}", s.time_s, s.rpm, hp(s))),
            ),
        ),
        shape(
            "dead_sensor",
            table(
                "Time (s),RPM,WHP,MAP (kPa),AFR (14.7)",
                fast.iter()
                    .map(|s| format!("{:.2},{:.0},{:.2},#N/A,12.5", s.time_s, s.rpm, hp(s))),
            ),
        ),
        shape("printed_pages", {
            let mut text = String::new();
            for page in fast.chunks(100) {
                text += "Time (s),RPM,WHP\n";
                for s in page {
                    let _ = writeln!(text, "{:.2},{:.0},{:.2}", s.time_s, s.rpm, hp(s));
                }
                text += "\n";
            }
            text
        }),
        shape(
            "german_short",
            table(
                "t [s];n [1/min];P-Rad [PS];M-Rad [Nm];P-Schlepp [PS];P-Mot [PS]",
                fast.iter().map(|s| {
                    format!(
                        "{};{};{};{};{};{}",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(ps(s), 1),
                        comma(s.torque_nm, 1),
                        comma(12.0, 1),
                        comma(ps(s) + 12.0, 1)
                    )
                }),
            ),
        ),
        shape(
            "german_groups",
            table(
                "Zeit (s);Drehzahl (U/min);Radleistung (PS)",
                fast.iter().map(|s| {
                    let rpm = format!("{:.0}", s.rpm);
                    format!(
                        "{};{}.{};{}",
                        comma(s.time_s, 2),
                        &rpm[..1],
                        &rpm[1..],
                        comma(ps(s), 1)
                    )
                }),
            ),
        ),
        shape(
            "quoted_commas",
            table(
                "\"Time (s)\",\"RPM\",\"Power (PS)\"",
                fast.iter().map(|s| {
                    format!(
                        "\"{}\",\"{}\",\"{}\"",
                        comma(s.time_s, 2),
                        comma(s.rpm, 0),
                        comma(ps(s), 2)
                    )
                }),
            ),
        ),
        shape("readings_by_name", {
            let mut text = "Channel,Timestamp,Reading\n".to_owned();
            for s in &fast {
                let _ = writeln!(text, "Engine RPM,{:.2},{:.1}", s.time_s, s.rpm);
            }
            for s in fast.iter().step_by(2) {
                let _ = writeln!(text, "Wheel HP,{:.2},{:.3}", s.time_s, hp(s));
            }
            text
        }),
        asking(
            "two_powers",
            table(
                "Time (s),RPM,Power A (hp),Power B (hp)",
                fast.iter().map(|s| {
                    format!(
                        "{:.2},{:.0},{:.2},{:.2}",
                        s.time_s,
                        s.rpm,
                        hp(s),
                        1.12 * hp(s)
                    )
                }),
            ),
            "Power A (hp)",
            "wheel_power_hp",
        ),
        asking(
            "corrected_above",
            format!(
                "Correction: SAE 1.02\n{}",
                table(
                    "Time (s),RPM,Power (hp)",
                    fast.iter()
                        .map(|s| format!("{:.2},{:.0},{:.2}", s.time_s, s.rpm, hp(s)))
                )
            ),
            "Power (hp)",
            "wheel_power_hp",
        ),
        asking(
            "kw_that_is_hp",
            table(
                "Time (s),RPM,Power (kW),Torque (Nm)",
                fast.iter().map(|s| {
                    format!(
                        "{:.2},{:.0},{:.2},{:.2}",
                        s.time_s,
                        s.rpm,
                        hp(s),
                        s.torque_nm
                    )
                }),
            ),
            "Power (kW)",
            "wheel_power_hp",
        ),
    ]
}

/// Reads all of a list; the report of those that were not read rightly.
fn score(shapes: &[Shape]) -> (usize, String) {
    let mut right = 0;
    let mut report = String::new();
    for (name, bytes, answer, pulls) in shapes {
        match held(name, bytes, *answer, *pulls) {
            Ok(_) => right += 1,
            Err(why) => {
                let _ = writeln!(report, "{name}: {why}");
            }
        }
    }
    (right, report)
}

#[test]
fn every_known_shape_is_read_or_asks_one_question() {
    let shapes = known_shapes();
    let (right, report) = score(&shapes);
    assert_eq!(right, shapes.len(), "{report}");
}

#[test]
fn every_later_shape_is_read_or_asks_one_question() {
    let shapes = later_shapes();
    let (right, report) = score(&shapes);
    assert_eq!(right, shapes.len(), "{report}");
}
