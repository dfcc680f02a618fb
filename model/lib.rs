//! Predicts what a car will read on an inertia chassis dynamometer after a planned build, with honest doubt.
//!
//! Contents page. The path of air and torque through the folders, each of which may use only those above it:
//!
//! - [`units`] shop units at the border, [`numeric`] roots and curves;
//! - [`fuel`], [`air`]: what is burned, and the day it is burned on;
//! - [`engine`], [`boost`], [`cooling`], [`driveline`], [`electric`]: the devices, none of which knows another;
//! - [`cycle`]: one cylinder by crank angle, for ratios between two engines;
//! - [`car`]: the devices joined, with an operating point at every engine speed and a ledger of its power;
//! - [`dyno`]: drums, pull and weather corrections;
//! - [`drumlog`]: a raw drum log to wheel curves with their errors;
//! - [`belief`]: every number of a car on its drums with its doubt; [`fit`]: calibration on measured pulls, and what the data did not tell;
//! - [`parts`]: each thing a shop buys or does, with its numbers and what it does to a car;
//! - [`ask`]: each question of a shop and its answer, in ids and numbers: the range to promise, what was gained, and why a pull is odd;
//! - [`files`] reads and writes, [`report`] words and draws: the border to the shop.
//!
//! From a car file and measured pulls to the range to promise:
//!
//! ```
//! use pullcast::ask::{fit, quote};
//! use pullcast::{belief::Noise, files};
//! use std::path::Path;
//!
//! let shop = Path::new("scenarios/manual_coupe");
//! let (car, _) = files::car::open(&shop.join("car.toml"))?;
//! let (baseline, _) = files::visit::open(&shop.join("baseline.toml"))?;
//! let (work, _) = files::plan::open(&shop.join("plan_breathing.toml"))?;
//!
//! let visits = [baseline.visit];
//! let calibration = fit::Question { sheet: &car.sheet, visits: &visits, noise: Noise::default(), accept_misfit: false };
//! let (fitted, account) = calibration.answer()?;
//! assert!(account.gate.is_none(), "it settled, and the file describes the car");
//!
//! let question = quote::Question { draws: Some(50), ..quote::Question::new(&fitted.sheet, &work.plan, &visits, None) };
//! let answer = question.answer()?;
//! let (gain, expected) = (answer.gain, answer.expected);
//! assert!(answer.gate.is_none() && 0.0 < gain.p50 && gain.p50 < 0.2, "a freer exhaust and air box: {gain:?}");
//! assert!(expected.charge_k.p50 > 290.0, "and what the loggers should show at the peak: {expected:?}");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! More examples stand in `docs/library.md`. `Equation (3.8).` in a comment is the number of an equation in `docs/model.md`.

pub mod air;
pub mod ask;
pub mod belief;
pub mod boost;
pub mod car;
pub mod cooling;
pub mod cycle;
pub mod diagnose;
pub mod driveline;
pub mod drumlog;
pub mod dyno;
pub mod electric;
pub mod engine;
pub mod files;
pub mod fit;
pub mod fuel;
pub mod numeric;
pub mod parts;
pub mod report;
pub mod units;

/// The examples of the book, so that they are run.
#[cfg(doctest)]
#[doc = include_str!("../docs/library.md")]
pub struct LibraryExamples;
