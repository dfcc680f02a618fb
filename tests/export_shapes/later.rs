//! The shapes thought of after the reader was finished.

use super::{HP, LB_FT, PS, Sample, Shape, asking, comma, pull, shape, table};
use std::fmt::Write as _;

/// Shapes thought of after the reader was finished; how many of them were read at first sight stands in docs/validation.md.
#[expect(clippy::too_many_lines, reason = "a list of shapes")]
pub(super) fn later_shapes() -> Vec<Shape> {
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
                        "10:22:{:02.0},{:.0},{:.2}",
                        31.0 + s.time_s.floor(),
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
