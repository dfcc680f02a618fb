//! What was understood of a recording, for `read` to show.

use serde::Serialize;

use super::{Channel, DecimalMark, RunFile, Turned};
use crate::files::encoding::Encoding;
use crate::numeric::upper_median;
use crate::units::rpm;

/// Steps of time longer than so many usual ones are a hole.
const HOLE_STEPS: f64 = 3.5;

/// What was understood.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Account {
    /// The file as named.
    pub file: String,
    /// Bytes as text.
    pub encoding: &'static str,
    /// What separates fields.
    pub separator: String,
    /// Whether decimals are marked by a comma.
    pub decimal_comma: bool,
    /// What the table was, where it had not one row per sample.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub table_was: Option<&'static str>,
    /// Rows of all pulls.
    pub rows: usize,
    /// Columns that are read.
    pub columns: Vec<ReadColumn>,
    /// Headers that are not.
    pub not_read: Vec<String>,
    /// Pulls, in the order of the file.
    pub pulls: Vec<ReadPull>,
    /// What a curve needs and the file lacks.
    pub lacks: Vec<&'static str>,
    /// The logger file that was written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub logger: Option<String>,
}

/// A column that is read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadColumn {
    /// As written.
    pub header: String,
    /// What it is.
    pub measures: &'static str,
    /// The file's unit.
    pub unit: &'static str,
    /// What its numbers are taken times first.
    pub times: f64,
    /// Lowest value, SI.
    pub lowest_si: f64,
    /// Highest value, SI.
    pub highest_si: f64,
    /// The same in the file's unit.
    pub lowest: f64,
    /// The same in the file's unit.
    pub highest: f64,
}

/// A pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadPull {
    /// Its label, or its number.
    pub label: String,
    /// Its first line in the file.
    pub first_line: usize,
    /// Its rows.
    pub rows: usize,
    /// First and last time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time_s: Option<[f64; 2]>,
    /// Rows a second, usually.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_hz: Option<f64>,
    /// Holes in time, and the longest.
    pub holes: usize,
    /// The longest of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub longest_hole_s: Option<f64>,
    /// Lowest and highest engine speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub engine_rpm: Option<[f64; 2]>,
    /// Highest power and its engine speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_power_w: Option<f64>,
    /// Engine speed of that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_rpm: Option<f64>,
}

impl RunFile {
    /// What was understood.
    pub fn account(&self) -> Account {
        let columns = self.columns.iter().map(|column| {
            let finite = || column.values_si.iter().copied().filter(|v| v.is_finite());
            let lowest_si = finite().fold(f64::INFINITY, f64::min);
            let highest_si = finite().fold(f64::NEG_INFINITY, f64::max);
            ReadColumn {
                header: column.header.clone(),
                measures: column.channel.name(),
                unit: column.unit.symbol,
                times: column.scale,
                lowest: column.unit.from_si(lowest_si),
                highest: column.unit.from_si(highest_si),
                lowest_si,
                highest_si,
            }
        });
        Account {
            file: self.name.clone(),
            encoding: match self.encoding {
                Encoding::Utf8 => "UTF-8",
                Encoding::Utf16LittleEndian | Encoding::Utf16BigEndian => "UTF-16",
                Encoding::Windows1252 => "western code page",
                Encoding::Windows1250 => "central European code page",
                Encoding::ShiftJis => "Shift-JIS",
            },
            separator: match self.separator {
                '\t' => "tab".to_owned(),
                ' ' => "blank".to_owned(),
                sign => sign.to_string(),
            },
            decimal_comma: self.decimal == DecimalMark::Comma,
            table_was: self.turned.map(|turned| match turned {
                Turned::Readings => "one reading per row",
                Turned::Rows => "channels as rows",
                Turned::Groups => "pulls side by side",
            }),
            rows: self.row_count(),
            columns: columns.collect(),
            not_read: self.ignored.clone(),
            pulls: (0..self.pulls.len()).map(|at| self.pull_read(at)).collect(),
            lacks: self.lacks(),
            logger: None,
        }
    }

    fn pull_read(&self, at: usize) -> ReadPull {
        let pull = &self.pulls[at];
        let of = |channel| self.values_si(pull, channel);
        let time = of(Channel::Time);
        let steps = || {
            time.into_iter()
                .flat_map(|time| time.windows(2))
                .map(|t| t[1] - t[0])
        };
        let step_s = upper_median(steps()).filter(|step| *step > 0.0);
        let holes: Vec<f64> = steps()
            .filter(|step| step_s.is_some_and(|usual| *step > HOLE_STEPS * usual))
            .collect();
        let speed = of(Channel::EngineSpeed);
        let peak = self.power_si(at).and_then(|power| {
            let top = (0..power.len()).max_by(|&a, &b| power[a].total_cmp(&power[b]))?;
            Some((power[top], speed.and_then(|speed| speed.get(top).copied())))
        });
        ReadPull {
            label: pull.label.clone().unwrap_or_else(|| (at + 1).to_string()),
            first_line: self.line(pull.rows.start),
            rows: pull.rows.len(),
            time_s: time.and_then(|time| Some([*time.first()?, *time.last()?])),
            rate_hz: step_s.map(|step| 1.0 / step),
            longest_hole_s: holes.iter().copied().reduce(f64::max),
            holes: holes.len(),
            engine_rpm: speed.map(|speed| {
                let low = speed.iter().copied().fold(f64::INFINITY, f64::min);
                let high = speed.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                [rpm(low), rpm(high)]
            }),
            peak_power_w: peak.map(|(power, _)| power),
            peak_rpm: peak.and_then(|(_, speed)| speed).map(rpm),
        }
    }

    /// Power of a pull, W, from whichever column gives it.
    fn power_si(&self, at: usize) -> Option<Vec<f64>> {
        let of = |channel| self.values_si(self.pulls.get(at)?, channel);
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).collect();
        let speed = of(Channel::EngineSpeed);
        [
            Channel::WheelPower,
            Channel::CorrectedWheelPower,
            Channel::CrankPower,
        ]
        .into_iter()
        .find_map(of)
        .map(<[f64]>::to_vec)
        .or_else(|| {
            Some(product(
                of(Channel::WheelTorque).or_else(|| of(Channel::CrankTorque))?,
                speed?,
            ))
        })
        .or_else(|| Some(product(of(Channel::WheelForce)?, of(Channel::RoadSpeed)?)))
        .or_else(|| Some(product(of(Channel::DrumTorque)?, of(Channel::DrumSpeed)?)))
    }

    /// What a curve of power needs and is not there.
    fn lacks(&self) -> Vec<&'static str> {
        let has = |channel| self.column(channel).is_some();
        let mut lacks = Vec::new();
        let drum = has(Channel::DrumSpeed) || has(Channel::RoadSpeed) || has(Channel::Counts);
        for channel in [Channel::Time, Channel::EngineSpeed] {
            if !has(channel) && (channel != Channel::EngineSpeed || !drum) {
                lacks.push(channel.name());
            }
        }
        if !self.pulls.is_empty() && self.power_si(0).is_none() && !drum {
            lacks.push("power, torque or drum speed");
        }
        lacks
    }
}
