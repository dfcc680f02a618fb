//! An answer as Python sees it: the document that the program prints with `--json`, its rows as NumPy arrays, its words as text.

use crate::error::refused;
use ::pullcast::report::{Report, Units, View};
use numpy::PyArray1;
use pyo3::exceptions::{PyKeyError, PyTypeError};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList, PyString};
use serde_json::{Map, Value};

/// What was answered: a mapping, as the program's JSON has it.
///
/// `answer["peak_power"]["power_w"]` reads a number; `answer.arrays("points")` gives a list of rows as a dict of named NumPy arrays, ready for
/// `pandas.DataFrame(...)` or `xarray.Dataset(...)`; `print(answer)` shows what the program prints; `answer.json` is its document, byte for byte.
/// Numbers are SI with the unit in the name (`power_w`, `torque_nm`, `temperature_k`, `pressure_pa`), engine speed in rpm, angles in degrees.
#[pyclass(frozen, module = "pullcast", mapping)]
pub(crate) struct Answer {
    tree: Map<String, Value>,
    /// The program's document.
    #[pyo3(get)]
    json: String,
    text: String,
}

impl Answer {
    pub(crate) fn of(report: &impl Report) -> PyResult<Self> {
        let said = |why: serde_json::Error| refused(&why);
        let Value::Object(tree) = report.tree().map_err(said)? else {
            return Err(refused(&"the report is no document"));
        };
        let view = View {
            details: false,
            width: View::WIDTH,
            colour: false,
        };
        Ok(Self {
            tree,
            json: report.json().map_err(said)?,
            text: report.drawn(Units::Metric, view),
        })
    }

    /// The rows that a path of keys leads to, `"points"` or `"fit.bands"`.
    fn rows(&self, path: &str) -> PyResult<&[Value]> {
        let mut keys = path.split('.');
        let first = keys.next().and_then(|key| self.tree.get(key));
        let found = keys.fold(first, |value, key| value.and_then(|value| value.get(key)));
        match found {
            None => Err(PyKeyError::new_err(path.to_owned())),
            Some(Value::Array(rows)) if rows.iter().all(Value::is_object) => Ok(rows),
            Some(_) => Err(PyTypeError::new_err(format!("'{path}' holds no rows"))),
        }
    }
}

#[pymethods]
impl Answer {
    fn __getitem__<'py>(&self, py: Python<'py>, key: &str) -> PyResult<Bound<'py, PyAny>> {
        let value = self.tree.get(key);
        plain(
            py,
            value.ok_or_else(|| PyKeyError::new_err(key.to_owned()))?,
        )
    }

    fn __len__(&self) -> usize {
        self.tree.len()
    }

    fn __contains__(&self, key: &str) -> bool {
        self.tree.contains_key(key)
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Ok(PyList::new(py, self.tree.keys())?.try_iter()?.into_any())
    }

    fn __str__(&self) -> &str {
        &self.text
    }

    fn __repr__(&self) -> String {
        let schema = self.tree.get("schema").and_then(Value::as_str);
        format!("<pullcast.Answer {}>", schema.unwrap_or_default())
    }

    /// Names of its parts.
    fn keys(&self) -> Vec<String> {
        self.tree.keys().cloned().collect()
    }

    /// All of it as dicts, lists and numbers.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        dict(py, &self.tree)
    }

    /// The rows under a key as columns: float64 arrays of numbers (NaN where there is none), lists of anything else.
    ///
    /// A key of a row that holds keys of its own gives columns like `after_w.p50`.
    fn arrays<'py>(&self, py: Python<'py>, path: &str) -> PyResult<Bound<'py, PyDict>> {
        columns(py, self.rows(path)?)
    }

    /// The same as a pandas `DataFrame`; needs pandas.
    fn to_pandas<'py>(&self, py: Python<'py>, path: &str) -> PyResult<Bound<'py, PyAny>> {
        let columns = self.arrays(py, path)?;
        py.import("pandas")?.getattr("DataFrame")?.call1((columns,))
    }
}

/// A value as Python has it.
pub(crate) fn plain<'py>(py: Python<'py>, value: &Value) -> PyResult<Bound<'py, PyAny>> {
    Ok(match value {
        Value::Null => py.None().into_bound(py),
        Value::Bool(on) => on.into_pyobject(py)?.to_owned().into_any(),
        Value::Number(number) => match (number.as_i64(), number.as_u64()) {
            (Some(number), _) => number.into_pyobject(py)?.into_any(),
            (None, Some(number)) => number.into_pyobject(py)?.into_any(),
            (None, None) => number.as_f64().into_pyobject(py)?,
        },
        Value::String(text) => PyString::new(py, text).into_any(),
        Value::Array(list) => {
            let list: Vec<_> = list
                .iter()
                .map(|value| plain(py, value))
                .collect::<PyResult<_>>()?;
            PyList::new(py, list)?.into_any()
        }
        Value::Object(map) => dict(py, map)?.into_any(),
    })
}

fn dict<'py>(py: Python<'py>, map: &Map<String, Value>) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for (key, value) in map {
        dict.set_item(key, plain(py, value)?)?;
    }
    Ok(dict)
}

/// Rows as columns, in the order in which their keys first come.
fn columns<'py>(py: Python<'py>, rows: &[Value]) -> PyResult<Bound<'py, PyDict>> {
    let flat: Vec<Vec<(String, &Value)>> = rows.iter().map(flat).collect();
    let mut keys: Vec<&str> = Vec::new();
    for (key, _) in flat.iter().flatten() {
        if !keys.contains(&key.as_str()) {
            keys.push(key);
        }
    }
    // A key that holds nothing in one row and keys of its own in another is those keys.
    let within = |key: &str| {
        keys.iter()
            .any(|k| k.strip_prefix(key).is_some_and(|k| k.starts_with('.')))
    };
    let dict = PyDict::new(py);
    for key in keys.iter().filter(|key| !within(key)) {
        let column: Vec<Option<&Value>> = flat
            .iter()
            .map(|row| row.iter().find(|(k, _)| k == key).map(|(_, value)| *value))
            .map(|value| value.filter(|value| !value.is_null()))
            .collect();
        let numbers = column
            .iter()
            .map(|value| value.map_or(Some(f64::NAN), Value::as_f64))
            .collect::<Option<Vec<f64>>>();
        if let Some(numbers) = numbers {
            dict.set_item(key, PyArray1::from_vec(py, numbers))?;
        } else {
            let values = column
                .iter()
                .map(|value| plain(py, value.unwrap_or(&Value::Null)));
            dict.set_item(key, values.collect::<PyResult<Vec<_>>>()?)?;
        }
    }
    Ok(dict)
}

/// A row with the keys of its parts joined by dots.
fn flat(row: &Value) -> Vec<(String, &Value)> {
    let mut cells = Vec::new();
    for (key, value) in row.as_object().into_iter().flatten() {
        if value.is_object() {
            let inner = flat(value).into_iter();
            cells.extend(inner.map(|(below, value)| (format!("{key}.{below}"), value)));
        } else {
            cells.push((key.clone(), value));
        }
    }
    cells
}
