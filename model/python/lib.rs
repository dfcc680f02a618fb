//! The Python module `pullcast`: the library's questions and answers for scripts, notebooks and clusters.
//!
//! It exists so that a study can ask a thousand questions without a thousand processes. Files are read by the library as the program reads them,
//! and an answer holds the same document that the program prints with `--json`. It refuses to compute anything of its own, to look for a
//! shop's profile or job book that nobody named, and to hold the interpreter's lock while the library works. What each function takes stands in
//! `pullcast.pyi`, which type checkers and editors read.

mod answer;
mod car;
mod error;
mod questions;
mod spread;

use pyo3::prelude::*;

/// Predicts what a car will read on an inertia chassis dynamometer after a planned build.
///
/// Every number is in SI, with its unit in its name; engine speeds are in rpm, angles in degrees.
#[pymodule(gil_used = false)]
mod pullcast {
    use super::PyModule;
    use super::{PyModuleMethods, PyResult};

    #[pymodule_export]
    use super::answer::Answer;
    #[pymodule_export]
    use super::car::{Air, Car, Plan};
    #[pymodule_export]
    use super::error::{FileError, PullcastError, PullcastWarning};
    #[pymodule_export]
    use super::questions::{diagnose, fit, predict, quote};
    #[pymodule_export]
    use super::spread::{Spread, spread};

    #[pymodule_init]
    fn init(module: &super::Bound<'_, PyModule>) -> PyResult<()> {
        module.add("__version__", env!("CARGO_PKG_VERSION"))
    }
}
