//! Checks against published sources.
mod closed_cycle;
mod engine_rows;
mod fuel;
mod fuel_air;
mod knock;
