//! One test for each way a recording can be wrong, and the same numbers through every dialect.

use std::fmt::Write as _;

use proptest::prelude::*;

use super::*;
use crate::files::diagnostic::Code;

fn parse(text: &str) -> Result<RunFile, Problems> {
    let options = RunOptions {
        minimum_rows: 3,
        ..RunOptions::default()
    };
    RunFile::parse("pull.csv", text.as_bytes(), &options)
}

fn read(text: &str) -> RunFile {
    parse(text).unwrap_or_else(|problems| panic!("{text}\n{problems}"))
}

const SOUND: &str = "time_s,engine_rpm,wheel_power_kw\n0,2000,40\n0.1,2100,42.5\n0.2,2200,45\n";

#[test]
fn a_recording_arrives_in_si() {
    let run = read(SOUND);
    assert_eq!(run.columns.len(), 3);
    assert_eq!(
        run.column(Channel::WheelPower)
            .map(|c| c.values_si.as_slice()),
        Some(&[40e3, 42.5e3, 45e3][..])
    );
    assert_eq!(
        (run.separator, run.decimal, run.row_count()),
        (',', DecimalMark::Point, 3)
    );
    assert_eq!(
        run.pulls,
        [Pull {
            label: None,
            rows: 0..3
        }]
    );
    assert_eq!((run.line(0), run.line(2)), (2, 4));
    assert!(run.warnings.is_empty());
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table of cases")]
fn every_mistake_has_its_code_and_place() {
    let rows = "0,2000\n0.1,2100\n0.2,2200\n";
    for (text, code, line, column, value, expected) in [
        ("", Code::FILE_EMPTY, None, None, None, "header"),
        (
            "# only a note\n\n",
            Code::FILE_EMPTY,
            None,
            None,
            None,
            "header",
        ),
        (
            "time_s,engine_rpm\n",
            Code::ROWS_NONE,
            None,
            None,
            None,
            "at least 3 rows",
        ),
        (
            "time_s,engine_rpm\n0,2000\n",
            Code::ROWS_TOO_FEW,
            Some(2),
            None,
            Some("1"),
            "at least 3 rows",
        ),
        (
            &format!("time,engine_rpm\n{rows}"),
            Code::UNIT_MISSING,
            Some(1),
            Some(1),
            Some("time"),
            "s, ms",
        ),
        (
            &format!("\n#x\ntime_s,wheel_power\n{rows}"),
            Code::UNIT_MISSING,
            Some(3),
            Some(8),
            Some("wheel_power"),
            "W, kW",
        ),
        (
            &format!("time_s,manifold_pressure_kpa\n{rows}"),
            Code::UNIT_AMBIGUOUS,
            Some(1),
            Some(8),
            Some("manifold_pressure_kpa"),
            "kPa gauge or kPa absolute",
        ),
        (
            &format!("time_s,wheel power (Nm)\n{rows}"),
            Code::UNIT_WRONG,
            Some(1),
            Some(8),
            Some("wheel power (Nm)"),
            "kW",
        ),
        (
            &format!("time_s,time_s\n{rows}"),
            Code::COLUMN_DUPLICATE,
            Some(1),
            Some(8),
            Some("time_s"),
            "once",
        ),
        (
            &format!("crank_rpm,engine_rpm\n{rows}"),
            Code::CHANNEL_TWICE,
            Some(1),
            Some(11),
            Some("engine_rpm"),
            "one column for engine speed",
        ),
        (
            &format!("a,b\n{rows}"),
            Code::COLUMNS_UNKNOWN,
            Some(1),
            Some(1),
            Some("a,b"),
            "'time'",
        ),
        (
            "time_s,engine_rpm\n0,2000\n\n0.1,2100,7\n0.2,2200\n",
            Code::FIELD_COUNT,
            Some(4),
            Some(1),
            Some("3 fields"),
            "2 fields",
        ),
        (
            "time_s,engine_rpm\n0,2000\n0.1\n0.2,2200\n",
            Code::FIELD_COUNT,
            Some(3),
            Some(1),
            Some("1 fields"),
            "2 fields",
        ),
        (
            "time_s,engine_rpm\n0,2000\n0.1, NaN\n0.2,2200\n",
            Code::NUMBER_NOT_FINITE,
            Some(3),
            Some(6),
            Some("NaN"),
            "a number",
        ),
        (
            "time_s,engine_rpm\n0,2000\n0.1,-inf\n0.2,2200\n",
            Code::NUMBER_NOT_FINITE,
            Some(3),
            Some(5),
            Some("-inf"),
            "a number",
        ),
        (
            "time_s,engine_rpm\n0,2000\n0.1,2x00\n0.2,2200\n",
            Code::NUMBER_INVALID,
            Some(3),
            Some(5),
            Some("2x00"),
            "a number",
        ),
        (
            "time_s,engine_rpm\n0,2000\n0.1,\n0.2,2200\n",
            Code::VALUE_MISSING,
            Some(3),
            Some(5),
            Some(""),
            "a number",
        ),
        (
            "time_s,engine_rpm\n0,2000\n0.1,\"21\n0.2,2200\n",
            Code::QUOTE_OPEN,
            Some(3),
            Some(1),
            Some("0.1,\"21"),
            "quotes",
        ),
        (
            "time_s,engine_rpm\n0,1\n0.1,2\n0.2,3\n0.15,4\n0.3,5\n",
            Code::TIME_NOT_INCREASING,
            Some(5),
            None,
            Some("0.150000 s"),
            "more than 0.200000 s",
        ),
        (
            "time_s,engine_rpm\n0,1\n0.1,2\n0.1,3\n0.2,4\n",
            Code::TIME_NOT_INCREASING,
            Some(4),
            None,
            Some("0.100000 s"),
            "more than 0.100000 s",
        ),
        (
            "pull,rpm\n1,1\n1,2\n1,2\n2,1\n2,2\n2,3\n1,1\n1,2\n1,3\n",
            Code::PULL_SPLIT,
            Some(8),
            None,
            Some("1"),
            "together",
        ),
        (
            "time_s;engine_rpm\n0,1;2000\n0.2;2100\n0,3;2200\n",
            Code::DECIMAL_AMBIGUOUS,
            Some(2),
            None,
            Some("0,1"),
            "one decimal sign",
        ),
        (
            "time_s;engine_rpm\n0;6,100\n1;6,200\n2;6,300\n",
            Code::DECIMAL_AMBIGUOUS,
            Some(2),
            None,
            Some("6,100"),
            "grouping",
        ),
    ] {
        let problems = parse(text).err().unwrap_or_else(|| panic!("taken: {text}"));
        let found = problems
            .with_code(code)
            .next()
            .unwrap_or_else(|| panic!("{code} for {text}: {problems}"));
        assert_eq!(
            (found.line, found.column, found.value.as_deref()),
            (line, column, value),
            "{text}: {problems}"
        );
        assert!(
            found
                .expected
                .as_deref()
                .unwrap_or_default()
                .contains(expected),
            "{text}: {found:?}"
        );
        assert_eq!(found.file, "pull.csv");
    }
}

#[test]
fn bad_cells_are_one_problem_however_many() {
    let mut text = "time_s,engine_rpm\n".to_owned();
    for row in 0..50 {
        let cell = if row % 2 == 0 { "x" } else { "2000" };
        writeln!(text, "{row},{cell}").expect("text in memory");
    }
    let problems = parse(&text).expect_err("half of the numbers");
    let problem = problems.only();
    assert_eq!(
        (problem.code, problem.line),
        (Code::NUMBER_INVALID, Some(2))
    );
    assert!(
        problem
            .message
            .ends_with("'x' is not a number, nor are 24 more of the column"),
        "{}",
        problem.message
    );
}

#[test]
fn a_row_without_a_reading_is_left_out_and_said() {
    let mut text = "time_s,engine_rpm,oil temp (°C)\n".to_owned();
    for row in 0..60 {
        let cell = match row {
            7 => "---",
            9 => "sensor",
            _ => "2000",
        };
        writeln!(text, "{row},{cell},90").expect("text in memory");
    }
    text.push_str("max,2000,90\n");
    let run = read(&text);
    assert_eq!((run.row_count(), run.line(7)), (58, 10));
    let told: Vec<&str> = run.warnings.iter().map(|w| w.message.as_str()).collect();
    assert_eq!(
        told,
        [
            "3 rows are left out where a number is missing: '---' in column 'engine_rpm' on line 9, 'max' in column 'time_s' on line 62"
        ],
    );
}

#[test]
fn decimal_commas_between_commas_get_a_hint() {
    let problems = parse("time_s,engine_rpm\n0,1,2000\n0,2,2100\n").expect_err("three fields");
    let help = problems
        .iter()
        .next()
        .and_then(|problem| problem.help.as_deref());
    assert_eq!(
        help,
        Some("if the numbers have decimal commas, separate the fields with semicolons")
    );
}

#[test]
fn a_grouping_question_can_be_answered() {
    let text = "time_s;wheel_power_kw\n0;6,100\n1;6,200\n2;6,300\n";
    let options = RunOptions {
        decimal: Some(DecimalMark::Comma),
        minimum_rows: 3,
        ..RunOptions::default()
    };
    let run = RunFile::parse("pull.csv", text.as_bytes(), &options).expect("answered");
    assert_eq!(run.columns[1].values_si, [6100.0, 6200.0, 6300.0]);
}

#[test]
fn units_may_stand_in_a_row_below() {
    let run = read(
        "time;engine speed;charge temp;note\ns;rpm;°C;\n0;3000;25;a\n1;3100;26;b\n2;3200;27;c\n",
    );
    assert_eq!(
        run.column(Channel::ChargeTemperature)
            .map(|c| c.values_si[0]),
        Some(298.15)
    );
    assert_eq!(run.ignored, ["note"]);
    assert_eq!(run.warnings.with_code(Code::COLUMN_IGNORED).count(), 1);
    assert_eq!(run.line(0), 3);
}

#[test]
fn several_pulls_in_one_file_are_told_apart() {
    let by_time = "time_s,rpm\n0,1\n1,2\n2,3\n0,1\n1,2\n2,3\n";
    let by_header = "time_s,rpm\n0,1\n1,2\n2,3\n\ntime_s,rpm\n5,1\n6,2\n7,3\n";
    let by_unit_header = "time,rpm\ns,rpm\n0,1\n1,2\n2,3\n\ntime,rpm\ns,rpm\n5,1\n6,2\n7,3\n";
    for text in [by_time, by_header, by_unit_header] {
        let rows: Vec<_> = read(text).pulls.into_iter().map(|pull| pull.rows).collect();
        assert_eq!(rows, [0..3, 3..6], "{text}");
    }
    assert_eq!(read(by_header).line(3), 7);
    let by_label = read("run,time_s,rpm\nA,0,1\nA,1,2\nA,2,3\nB,5,1\nB,6,2\nB,7,3\n");
    let labels: Vec<_> = by_label
        .pulls
        .iter()
        .map(|pull| pull.label.as_deref())
        .collect();
    assert_eq!(labels, [Some("A"), Some("B")]);
    assert_eq!(
        by_label.values_si(&by_label.pulls[1], Channel::Time),
        Some(&[5.0, 6.0, 7.0][..])
    );
}

#[test]
fn plain_wheel_torque_states_its_convention() {
    let run = read("time_s,wheel_torque_nm\n0,300\n1,310\n2,320\n");
    let note = run
        .warnings
        .with_code(Code::COLUMN_CONVENTION)
        .next()
        .expect("a note");
    assert_eq!(
        note.message,
        "'wheel_torque_nm' is taken as wheel power / engine speed"
    );
}

#[test]
fn untidy_but_certain_files_are_read() {
    let text = "# pull of the day\r\n\r\n\"time_s\" , \"engine_rpm\",\r\n\r\n0 , 2000 ,\r\n0.1,\"2100\",\r\n # note\r\n,,\r\n0.2,2200,\r\n";
    let run = read(text);
    assert_eq!(
        run.column(Channel::Time).map(|c| c.values_si.as_slice()),
        Some(&[0.0, 0.1, 0.2][..])
    );
    assert_eq!((run.line(0), run.line(1), run.line(2)), (5, 6, 9));
    let old = read("time_s,engine_rpm\r0,1\r1,2\r2,3\r");
    assert_eq!((old.row_count(), old.line(2)), (3, 4));
}

#[test]
fn a_recording_from_disk_reports_its_path() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("pull.csv");
    let problems = RunFile::open(&path, &RunOptions::default()).expect_err("not there");
    let problem = problems.iter().next().expect("one problem");
    assert_eq!(
        (problem.code, problem.file.as_str()),
        (Code::FILE_MISSING, path.to_string_lossy().as_ref())
    );
}

#[derive(Debug, Clone, Copy)]
#[expect(clippy::struct_excessive_bools, reason = "independent switches")]
struct Dialect {
    separator: char,
    comma: bool,
    bom: bool,
    utf16: Option<bool>,
    crlf: bool,
    quoted: bool,
}

fn dialects() -> impl Strategy<Value = Dialect> {
    let separators = prop_oneof![Just(','), Just(';'), Just('\t')];
    let utf16 = prop_oneof![Just(None), Just(Some(true)), Just(Some(false))];
    (
        separators,
        any::<bool>(),
        any::<bool>(),
        utf16,
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(separator, comma, bom, utf16, crlf, quoted)| Dialect {
            separator,
            comma: comma && separator != ',',
            bom,
            utf16,
            crlf,
            quoted,
        })
}

fn write_in(dialect: Dialect, rows: &[(f64, f64)]) -> Vec<u8> {
    let end = if dialect.crlf { "\r\n" } else { "\n" };
    let number = |value: f64| {
        let text = value.to_string();
        let text = if dialect.comma {
            text.replace('.', ",")
        } else {
            text
        };
        if dialect.quoted {
            format!("\"{text}\"")
        } else {
            text
        }
    };
    let mut text = format!("time (s){}charge temp (K){end}", dialect.separator);
    for (index, (step, value)) in rows.iter().enumerate() {
        write!(
            text,
            "{}{}{}{end}",
            number(index as f64 + step),
            dialect.separator,
            number(*value)
        )
        .expect("text in memory");
    }
    let marked = if dialect.bom {
        format!("\u{feff}{text}")
    } else {
        text
    };
    match dialect.utf16 {
        None => marked.into_bytes(),
        Some(true) => marked.encode_utf16().flat_map(u16::to_le_bytes).collect(),
        Some(false) => marked.encode_utf16().flat_map(u16::to_be_bytes).collect(),
    }
}

proptest! {
    #[test]
    fn numbers_survive_every_dialect(
        dialect in dialects(),
        rows in prop::collection::vec((0.0..0.9_f64, 200.0..1500.0_f64), 3..40),
    ) {
        let bytes = write_in(dialect, &rows);
        let options = RunOptions { decimal: dialect.comma.then_some(DecimalMark::Comma), ..RunOptions::default() };
        let options = RunOptions { minimum_rows: 3, ..options };
        let run = RunFile::parse("pull.csv", &bytes, &options);
        prop_assert!(run.is_ok(), "{dialect:?} {run:?}");
        let run = run.expect("checked above");
        let times: Vec<f64> = rows.iter().enumerate().map(|(index, (step, _))| index as f64 + step).collect();
        let values: Vec<f64> = rows.iter().map(|(_, value)| *value).collect();
        prop_assert_eq!(&run.columns[0].values_si, &times);
        prop_assert_eq!(&run.columns[1].values_si, &values);
    }

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), text in "\\PC{0,40}") {
        let _ = RunFile::parse("pull.csv", &bytes, &RunOptions::default());
        let _ = RunFile::parse("pull.csv", format!("time_s;{text}\n{text}\n1;2\n").as_bytes(), &RunOptions::default());
        let _ = RunFile::parse("pull.csv", format!("{text}\n").repeat(4).as_bytes(), &RunOptions::default());
    }
}
