//! What the weather of a place does to a reading, whole or in parts that machines work out apart.

use crate::answer::Answer;
use crate::car::{Car, Plan};
use crate::error::{files, refused, warn};
use crate::questions::{efficiency, within};
use ::pullcast::ask::Progress;
use ::pullcast::ask::spread::{
    self as ask, Choice, Hour, HoursPerDraw, Part, Question, Ready, Sample, Shard, Shown,
    SpreadError,
};
use ::pullcast::belief::Sheet;
use ::pullcast::belief::prior::Prior;
use ::pullcast::dyno::correction::Standard;
use ::pullcast::files::station::{self, Options, PressureKind, Station};
use ::pullcast::parts;
use ::pullcast::report::spread::SpreadReport;
use numpy::PyArray1;
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict};
use std::path::PathBuf;

/// Most draws that may be asked for.
const MOST_DRAWS: usize = 1_000_000;
/// Most shards: more than one to each block of the most draws would be empty.
const MOST_SHARDS: usize = 50_000;

/// A question of many draws: cars, works, drums and hours of a weather station, drawn from what is in doubt.
///
/// Draws are numbered and each has random numbers of its own, so it does not matter which machine makes them: `part` works out one
/// shard of how many, `join` makes the answer of all of them, to the last byte the one that `answer` gives. A part is the file that the
/// program keeps with `--keep`.
#[pyclass(frozen, module = "pullcast")]
pub(crate) struct Spread {
    sheet: Sheet,
    plan: Option<parts::Plan<Prior>>,
    station: Station,
    file: String,
    standard: Standard,
    noise: ::pullcast::belief::Noise,
    choice: Choice,
    mechanical_efficiency: Option<f64>,
    two_days: bool,
    charge: Option<f64>,
    promise_w: Option<f64>,
    chance: f64,
    quantiles: Vec<f64>,
    draws: usize,
    hours_per_draw: HoursPerDraw,
    surfaces: bool,
    seed: u64,
}

/// Hours of each draw, as Python says them.
#[derive(FromPyObject)]
enum HoursAsked {
    Count(usize),
    Word(String),
}

/// Why a question has no answer.
enum Why {
    Spread(SpreadError),
    Said(String),
}

impl From<SpreadError> for Why {
    fn from(error: SpreadError) -> Self {
        Self::Spread(error)
    }
}

impl From<Why> for PyErr {
    fn from(why: Why) -> Self {
        match why {
            Why::Spread(error) => refused(&error),
            Why::Said(text) => refused(&text),
        }
    }
}

impl Spread {
    fn question(&self) -> Question<'_> {
        Question {
            choice: self.choice,
            mechanical_efficiency: self.mechanical_efficiency,
            noise: self.noise,
            two_days: self.two_days,
            charge: self.charge,
            promise_w: self.promise_w,
            chance: self.chance,
            quantiles: self.quantiles.clone(),
            draws: self.draws,
            hours_per_draw: self.hours_per_draw,
            surfaces: self.surfaces,
            seed: self.seed,
            ..Question::new(&self.sheet, self.plan.as_ref(), &self.station.hours)
        }
    }

    fn told(&self, answer: ask::Answer) -> PyResult<Answer> {
        Answer::of(&SpreadReport {
            answer,
            file: self.file.clone(),
            station: self.station.cleaning.clone(),
            standard: self.standard,
        })
    }

    fn ready<T: Send>(
        &self,
        py: Python<'_>,
        then: impl Send + FnOnce(&Ready<'_>) -> Result<T, Why>,
    ) -> PyResult<T> {
        py.detach(|| self.question().ready(then))
            .map_err(PyErr::from)
    }
}

#[pymethods]
impl Spread {
    #[new]
    #[pyo3(signature = (car, plan = None, *, station, elevation_m = None, pressure = None, utc_offset_min = None, months = (1, 12), hours = (0, 24), cell_k = None, two_days = false, charge = None, promise_w = None, chance = 0.9, quantiles = Vec::new(), standard = None, mechanical_efficiency = None, draws = ask::USUAL_DRAWS, hours_per_draw = None, full_pulls = false, seed = 1))]
    #[expect(clippy::too_many_arguments, reason = "each is a keyword of its own")]
    fn new(
        py: Python<'_>,
        car: &Car,
        plan: Option<&Plan>,
        station: PathBuf,
        elevation_m: Option<f64>,
        pressure: Option<&str>,
        utc_offset_min: Option<i64>,
        months: (u8, u8),
        hours: (u8, u8),
        cell_k: Option<f64>,
        two_days: bool,
        charge: Option<f64>,
        promise_w: Option<f64>,
        chance: f64,
        quantiles: Vec<f64>,
        standard: Option<&str>,
        mechanical_efficiency: Option<f64>,
        draws: usize,
        hours_per_draw: Option<HoursAsked>,
        full_pulls: bool,
        seed: u64,
    ) -> PyResult<Self> {
        let plan = plan.map(|plan| plan.on(py, car)).transpose()?.cloned();
        let pressure = match pressure {
            None => None,
            Some("station") => Some(PressureKind::Station),
            Some("sea-level") => Some(PressureKind::SeaLevel),
            Some("altimeter") => Some(PressureKind::Altimeter),
            Some(other) => {
                let message =
                    format!("pressure = '{other}': expected 'station', 'sea-level' or 'altimeter'");
                return Err(PyValueError::new_err(message));
            }
        };
        let hours_per_draw = match hours_per_draw {
            None => HoursPerDraw::Usual,
            Some(HoursAsked::Count(count @ 1..)) => HoursPerDraw::Count(count),
            Some(HoursAsked::Word(word)) if word == "all" => HoursPerDraw::All,
            Some(_) => {
                let message = "hours_per_draw: expected a number of hours, or 'all'";
                return Err(PyValueError::new_err(message));
            }
        };
        if let Some(charge) = charge {
            within("charge", charge, &(0.0..=1.0))?;
            if car.sheet().centre.car.electric.is_none() {
                let message = "charge is for a car with an [electric_axle]; this car file has none";
                return Err(PyValueError::new_err(message));
            }
        }
        for month in [months.0, months.1] {
            within("months", month, &(1..=12))?;
        }
        within("hours", hours.0, &(0..=23))?;
        within("hours", hours.1, &(0..=24))?;
        if hours.0 == hours.1 {
            return Err(PyValueError::new_err(
                "hours: the shop opens and closes in one hour",
            ));
        }
        if let Some(cell_k) = cell_k {
            within("cell_k", cell_k, &(253.15..=323.15))?;
        }
        within("chance", chance, &(0.01..=0.99))?;
        for share in &quantiles {
            within("quantiles", *share, &(1e-9..=1.0 - 1e-9))?;
        }
        within("draws", draws, &(ask::LEAST_DRAWS..=MOST_DRAWS))?;
        let options = Options {
            elevation_m,
            utc_offset_min,
            pressure,
        };
        let read = py.detach(|| station::open(&station, &options));
        let (read, found) = read.map_err(|found| files(py, &found))?;
        warn(py, &found)?;
        Ok(Self {
            sheet: car.sheet().clone(),
            plan,
            station: read,
            file: station.display().to_string(),
            standard: car.standard(standard)?,
            noise: car.shop.noise(),
            choice: Choice {
                months,
                hours,
                cell_k,
            },
            mechanical_efficiency: efficiency(mechanical_efficiency)?,
            two_days,
            charge,
            promise_w,
            chance,
            quantiles,
            draws,
            hours_per_draw,
            surfaces: !full_pulls,
            seed,
        })
    }

    /// The name of the question, that of everything which decides what its draws come to: it stands in the name of a part's file.
    #[getter]
    fn name(&self, py: Python<'_>) -> PyResult<String> {
        self.ready(py, |ready| Ok(ready.name().to_owned()))
    }

    /// All draws, and the answer.
    fn answer(&self, py: Python<'_>) -> PyResult<Answer> {
        py.detach(|| {
            let answer = self.question().answer(&mut |_, _| {}, Progress::SILENT);
            self.told(answer.map_err(|why| refused(&why))?)
        })
    }

    /// Every sample as named arrays: its draw, the hours of the two readings, their air, and what the drums show.
    fn samples<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let mut table = Samples::default();
        let answer = py.detach(|| {
            let mut each = |sample: &Sample, hours: (&Hour, &Hour)| table.add(sample, hours);
            self.question().answer(&mut each, Progress::SILENT)
        });
        answer.map_err(|why| refused(&why))?;
        table.into_dict(py)
    }

    /// Works out part `number`, counted from 1, of `of` parts: what its draws come to, for `join`.
    fn part<'py>(
        &self,
        py: Python<'py>,
        number: usize,
        of: usize,
    ) -> PyResult<Bound<'py, PyBytes>> {
        within("of", of, &(1..=MOST_SHARDS))?;
        within("number", number, &(1..=of))?;
        let bytes = self.ready(py, |ready| {
            let mut part = ready.part(Shard { number, of });
            ready.work(&mut part, &mut |_, _| {}, &mut |_| true, Progress::SILENT);
            serde_json::to_vec(&part).map_err(|why| Why::Said(why.to_string()))
        })?;
        Ok(PyBytes::new(py, &bytes))
    }

    /// The answer from all parts, in any order; each has to be there once.
    fn join(&self, py: Python<'_>, parts: Vec<Vec<u8>>) -> PyResult<Answer> {
        let answer = self.ready(py, |ready| {
            let mut read = Vec::new();
            for bytes in &parts {
                let part: Part = serde_json::from_slice(bytes)
                    .map_err(|why| Why::Said(format!("a part cannot be read: {why}")))?;
                let accepted = ready.accepts(&part);
                accepted.map_err(|why| Why::Said(format!("a part is refused: {why}")))?;
                read.push(part);
            }
            read.sort_by_key(|part| part.shard().number);
            let of = read.first().map_or(0, |part| part.shard().of);
            let whole = of > 0
                && read.len() == of
                && (1..=of)
                    .zip(&read)
                    .all(|(number, part)| part.shard() == Shard { number, of })
                && read.iter().all(|part| ready.is_done(part));
            if !whole {
                let message = format!(
                    "{} parts do not make the whole of {of}: each has to be there once",
                    read.len()
                );
                return Err(Why::Said(message));
            }
            Ok(ready.answer(read)?)
        })?;
        self.told(answer)
    }
}

/// Samples by column.
#[derive(Default)]
struct Samples {
    draw: Vec<u64>,
    before: Readings,
    after: Readings,
}

/// One reading of every sample.
#[derive(Default)]
struct Readings {
    month: Vec<u8>,
    hour: Vec<u8>,
    station_pressure_pa: Vec<f64>,
    temperature_k: Vec<f64>,
    humidity_ratio: Vec<f64>,
    power_w: Vec<f64>,
    electric_power_w: Vec<f64>,
    torque_nm: Vec<f64>,
}

impl Samples {
    fn add(&mut self, sample: &Sample, (before, after): (&Hour, &Hour)) {
        self.draw.push(sample.draw);
        self.before.add(before, &sample.before);
        self.after.add(after, &sample.after);
    }

    fn into_dict(self, py: Python<'_>) -> PyResult<Bound<'_, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("draw", PyArray1::from_vec(py, self.draw))?;
        self.before.put(&dict, "before")?;
        self.after.put(&dict, "after")?;
        Ok(dict)
    }
}

impl Readings {
    fn add(&mut self, hour: &Hour, shown: &Shown) {
        self.month.push(hour.month);
        self.hour.push(hour.hour);
        self.station_pressure_pa.push(hour.air.station().pa());
        self.temperature_k.push(hour.air.temperature_k());
        self.humidity_ratio.push(hour.air.humidity_ratio());
        self.power_w.push(shown.power_w);
        self.electric_power_w.push(shown.electric_w);
        self.torque_nm.push(shown.torque_nm);
    }

    fn put(self, dict: &Bound<'_, PyDict>, which: &str) -> PyResult<()> {
        let py = dict.py();
        for (name, counts) in [("month", self.month), ("hour", self.hour)] {
            dict.set_item(format!("{name}_{which}"), PyArray1::from_vec(py, counts))?;
        }
        for (name, numbers) in [
            ("station_pressure_{}_pa", self.station_pressure_pa),
            ("temperature_{}_k", self.temperature_k),
            ("humidity_ratio_{}", self.humidity_ratio),
            ("power_{}_w", self.power_w),
            ("electric_power_{}_w", self.electric_power_w),
            ("torque_{}_nm", self.torque_nm),
        ] {
            let array = PyArray1::from_vec(py, numbers);
            dict.set_item(name.replace("{}", which), array)?;
        }
        Ok(())
    }
}

/// How far readings spread through the hours of a weather station, and why: `Spread(...).answer()`.
#[pyfunction]
#[pyo3(signature = (car, plan = None, **asked))]
pub(crate) fn spread<'py>(
    py: Python<'py>,
    car: Bound<'py, Car>,
    plan: Option<Bound<'py, Plan>>,
    asked: Option<&Bound<'py, PyDict>>,
) -> PyResult<Bound<'py, PyAny>> {
    let question = py.get_type::<Spread>().call((car, plan), asked)?;
    question.call_method0("answer")
}
