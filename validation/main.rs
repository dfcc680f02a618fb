//! Checks against published sources.

mod compression;
mod correction;
mod flow;
mod moist_air;
mod standard_atmosphere;
