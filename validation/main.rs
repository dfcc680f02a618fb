//! Checks against published sources.

mod closed_cycle;
mod compression;
mod correction;
mod engine_rows;
mod flow;
mod fuel;
mod fuel_air;
mod knock;
mod moist_air;
mod nist_strd;
mod ode_problems;
mod standard_atmosphere;
