//! Exports as strangers write them: one known pull in many shapes, each read without editing or after one question.
//!
//! The pull is made here from a formula, so the right answer is known: the peak's power and engine speed after reading must be those of the formula. The
//! shapes are inventions of this file; common practice, no source.

mod known;
mod later;
mod outsider;

use known::known_shapes;
use later::later_shapes;
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
    (0..=u32::MAX)
        .map(|row| f64::from(row) / rate_hz)
        .take_while(|time_s| *time_s < 9.2 + 1e-9)
        .map(|time_s| {
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
