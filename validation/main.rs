//! Checks against published sources.

mod boost_rows;
mod driveline_rows;
mod effectiveness;
mod motor_maps;
mod transaxle;
