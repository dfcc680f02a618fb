//! Checks against published sources.

mod compression;
mod flow;
mod moist_air;
mod standard_atmosphere;
