//! Why there is no answer, as Python exceptions with the library's own words.

use ::pullcast::files::{Look, Problem, Problems, Severity};
use pyo3::create_exception;
use pyo3::exceptions::{PyException, PyUserWarning};
use pyo3::prelude::*;
use std::ffi::CString;
use std::fmt::Display;

create_exception!(
    pullcast,
    PullcastError,
    PyException,
    "There is no answer; the text says why, in the words of the program."
);
create_exception!(
    pullcast,
    FileError,
    PullcastError,
    "A file holds bad data, is missing or cannot be written. `problems` holds one dict for each problem: code, severity, file, line, column, value, message, expected, help."
);
create_exception!(
    pullcast,
    PullcastWarning,
    PyUserWarning,
    "What to mind of a file that could be read."
);

/// Columns of a report on files.
const WIDTH: usize = 100;

/// No answer, for a reason that can be said in a sentence.
pub(crate) fn refused(why: &impl Display) -> PyErr {
    PullcastError::new_err(why.to_string())
}

/// No answer, for what files hold.
pub(crate) fn files(py: Python<'_>, problems: &Problems) -> PyErr {
    let error = FileError::new_err(problems.render(Look::Plain, WIDTH));
    let told = serde_json::to_value(problems.iter().collect::<Vec<&Problem>>());
    let told = told.map_err(|why| refused(&why));
    match told.and_then(|told| crate::answer::plain(py, &told)) {
        Ok(list) => match error.value(py).setattr("problems", list) {
            Ok(()) => error,
            Err(other) => other,
        },
        Err(other) => other,
    }
}

/// Raises what is an error, and warns of the rest.
pub(crate) fn settle(py: Python<'_>, problems: &Problems) -> PyResult<()> {
    if problems.has_errors() {
        return Err(files(py, problems));
    }
    warn(py, problems)
}

/// Warns of what stands in files that could be read.
pub(crate) fn warn(py: Python<'_>, problems: &Problems) -> PyResult<()> {
    let category = py.get_type::<PullcastWarning>();
    for problem in problems.iter().filter(|p| p.severity == Severity::Warning) {
        let text = Problems::from(problem.clone()).render(Look::Plain, WIDTH);
        // A file's text is shown without characters that act on a terminal, so there is no zero in it.
        let text = CString::new(text).unwrap_or_default();
        PyErr::warn(py, &category, &text, 1)?;
    }
    Ok(())
}
