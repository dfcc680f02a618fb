//! The shapes that the reader was written against.

use super::{HP, LB_FT, PS, Sample, Shape, asking, comma, pull, shape, table};

/// Shapes that the reader was written against.
#[expect(clippy::too_many_lines, reason = "a list of shapes")]
pub(super) fn known_shapes() -> Vec<Shape> {
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
