//! Predicts what a car will read on an inertia chassis dynamometer after a planned build, with honest doubt.
//!
//! Contents page. The path of air and torque through the folders, each of which may use only those above it:
//!
//! - [`units`] shop units at the border, [`numeric`] roots and curves;
//! - [`fuel`], [`air`]: what is burned, and the day it is burned on;
//! - [`engine`], [`boost`], [`cooling`], [`driveline`], [`electric`]: the devices, none of which knows another;
//! - [`cycle`]: one cylinder by crank angle, for ratios between two engines;
//! - [`car`]: the devices joined, with an operating point at every engine speed and a ledger of its power;
//! - [`build`]: planned changes, car to car; [`dyno`]: drums, pull and weather corrections;
//! - [`drumlog`]: a raw drum log to wheel curves with their errors;
//! - [`belief`]: every number of a car on its drums with its doubt; [`fit`]: calibration on measured pulls, and what the data did not tell;
//! - [`ask`]: each question of a shop and its answer, in ids and numbers: the range to promise, what was gained, and why a pull is odd;
//! - [`files`] reads and writes, [`report`] words and draws: the border to the shop.
//!
//! `Equation (3.8).` in a comment is the number of an equation in `docs/model.md`.

pub mod air;
pub mod ask;
pub mod belief;
pub mod boost;
pub mod build;
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
pub mod report;
pub mod units;
