//! Cars, plans and air as Python holds them: read from the shop's files, or stated.

use crate::error::{files, refused, settle, warn};
use ::pullcast::air::Day;
use ::pullcast::air::atmosphere::StationPressure;
use ::pullcast::ask::basis;
use ::pullcast::ask::fit::FitAnswer;
use ::pullcast::belief::Sheet;
use ::pullcast::belief::prior::Prior;
use ::pullcast::dyno::correction::Standard;
use ::pullcast::files::shop::{self, ShopFile};
use ::pullcast::files::visit::repeated;
use ::pullcast::files::{self as on_disk, CarFile, Overwrite, Problems, VisitFile, car_write};
use ::pullcast::parts;
use ::pullcast::report::fit::{origin, reservations};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use std::path::PathBuf;

/// A car on its drums, every number with its doubt.
///
/// `Car("car.toml")` reads a car file, as filled in or as written by a fit. `shop` names a shop's profile, whose rig, fuel, repeatability and usual
/// correction are then taken; none is looked for.
#[pyclass(frozen, module = "pullcast")]
pub(crate) struct Car {
    file: CarFile,
    pub(crate) shop: ShopFile,
    /// What a fit made of it, and its account.
    fitted: Option<(Sheet, FitAnswer)>,
}

impl Car {
    pub(crate) fn sheet(&self) -> &Sheet {
        let fitted = self.fitted.as_ref();
        fitted.map_or(&self.file.sheet, |(sheet, _)| sheet)
    }

    /// The same car as a fit knows it.
    pub(crate) fn known(&self, sheet: Sheet, account: FitAnswer) -> Self {
        Self {
            file: self.file.clone(),
            shop: self.shop.clone(),
            fitted: Some((sheet, account)),
        }
    }

    /// The correction asked for, the profile's, or the usual one.
    pub(crate) fn standard(&self, asked: Option<&str>) -> PyResult<Standard> {
        let asked = match asked.map(str::parse) {
            None => None,
            Some(Ok(standard)) => Some(standard),
            Some(Err(why)) => return Err(said(&why)),
        };
        Ok(asked.or(self.shop.standard).unwrap_or(Standard::SaeJ1349))
    }
}

/// A value that cannot be taken.
fn said(why: &impl std::fmt::Display) -> PyErr {
    PyValueError::new_err(why.to_string())
}

#[pymethods]
impl Car {
    #[new]
    #[pyo3(signature = (path, *, shop = None))]
    fn new(py: Python<'_>, path: PathBuf, shop: Option<PathBuf>) -> PyResult<Self> {
        let shop = match shop {
            None => ShopFile::default(),
            Some(path) => {
                let (shop, found) = shop::open(&path).map_err(|found| files(py, &found))?;
                settle(py, &found)?;
                shop
            }
        };
        let read = py.detach(|| shop::open_car(&path, &shop));
        let (file, _, found) = read.map_err(|found| files(py, &found))?;
        warn(py, &found)?;
        Ok(Self {
            file,
            shop,
            fitted: None,
        })
    }

    /// Its name.
    #[getter]
    fn name(&self) -> &str {
        &self.sheet().centre.car.name
    }

    /// Whether its numbers come from a fit.
    #[getter]
    fn is_fitted(&self) -> bool {
        self.sheet().is_fitted()
    }

    fn __repr__(&self) -> String {
        let fitted = if self.is_fitted() { ", fitted" } else { "" };
        format!("<pullcast.Car '{}'{fitted}>", self.name())
    }

    /// Writes the car as the fit knows it to a car file, the shop's own file with its numbers replaced; `overwrite` replaces one that is there.
    #[pyo3(signature = (path, *, overwrite = false))]
    fn save(&self, py: Python<'_>, path: PathBuf, overwrite: bool) -> PyResult<()> {
        let Some((sheet, answer)) = &self.fitted else {
            return Err(PyValueError::new_err(
                "this car is as its file has it: only what `fit` returned is written",
            ));
        };
        let (origin, reservations) = (origin(answer), reservations(answer));
        let account = car_write::Account {
            origin: &origin,
            reservations: &reservations,
        };
        let overwrite = if overwrite {
            Overwrite::Allow
        } else {
            Overwrite::Refuse
        };
        car_write::save(&path, &self.file, sheet, &account, overwrite)
            .map_err(|found| files(py, &found))
    }
}

/// Planned work, read from a plan file: `Plan("plan.toml")`.
#[pyclass(frozen, module = "pullcast")]
pub(crate) struct Plan {
    file: on_disk::PlanFile,
}

impl Plan {
    /// The work, held to what can be done on a car.
    pub(crate) fn on(&self, py: Python<'_>, car: &Car) -> PyResult<&parts::Plan<Prior>> {
        let setup = &car.sheet().centre;
        self.file
            .check(&setup.car)
            .map_err(|unfit| files(py, &unfit))?;
        warn(py, &self.file.remarks(setup))?;
        Ok(&self.file.plan)
    }
}

#[pymethods]
impl Plan {
    #[new]
    fn new(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        let read = py.detach(|| on_disk::plan::open(&path));
        let (file, found) = read.map_err(|found| files(py, &found))?;
        warn(py, &found)?;
        Ok(Self { file })
    }

    /// Its name.
    #[getter]
    fn name(&self) -> &str {
        &self.file.plan.name
    }

    fn __repr__(&self) -> String {
        format!("<pullcast.Plan '{}'>", self.name())
    }
}

/// The air of a pull: station pressure, Pa (not reduced to sea level), temperature, K, and relative humidity, 0 to 1; or `Air.read("weather.toml")`.
#[pyclass(frozen, module = "pullcast")]
pub(crate) struct Air {
    pub(crate) air: basis::Air,
}

#[pymethods]
impl Air {
    #[new]
    #[pyo3(signature = (*, station_pressure_pa, temperature_k, relative_humidity, name = "stated"))]
    fn new(
        station_pressure_pa: f64,
        temperature_k: f64,
        relative_humidity: f64,
        name: &str,
    ) -> PyResult<Self> {
        let station = StationPressure::from_pa(station_pressure_pa);
        let day = Day::from_relative_humidity(station, temperature_k, relative_humidity);
        let day = day.map_err(|why| refused(&why))?;
        Ok(Self {
            air: basis::Air::stated(day, name),
        })
    }

    /// Reads a weather file.
    #[staticmethod]
    fn read(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        let (weather, found) = on_disk::weather::open(&path).map_err(|found| files(py, &found))?;
        warn(py, &found)?;
        Ok(Self {
            air: basis::Air::stated(weather.day, path.display().to_string()),
        })
    }

    /// Station pressure, Pa.
    #[getter]
    fn station_pressure_pa(&self) -> f64 {
        self.air.day.station().pa()
    }

    /// Temperature, K.
    #[getter]
    fn temperature_k(&self) -> f64 {
        self.air.day.temperature_k()
    }

    /// Relative humidity, 0 to 1.
    #[getter]
    fn relative_humidity(&self) -> f64 {
        self.air.day.relative_humidity()
    }
}

/// Visits read, every problem of all of them told at once.
pub(crate) fn visits(
    py: Python<'_>,
    paths: &[PathBuf],
    drum_radius_m: Option<f64>,
) -> PyResult<Vec<VisitFile>> {
    let (visits, problems) = py.detach(|| {
        let mut problems = Problems::new();
        let mut visits = Vec::new();
        for path in paths {
            match on_disk::visit::open_on(path, drum_radius_m) {
                Ok((visit, found)) => {
                    problems.append(found);
                    visits.push((path.as_path(), visit));
                }
                Err(found) => problems.append(found),
            }
        }
        problems.append(repeated(visits.iter().map(|(path, visit)| (*path, visit))));
        (visits, problems)
    });
    settle(py, &problems)?;
    Ok(visits.into_iter().map(|(_, visit)| visit).collect())
}
