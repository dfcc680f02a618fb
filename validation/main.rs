//! Checks against published sources.

mod boost_rows;
mod camshaft;
mod cases;
mod closed_cycle;
mod compression;
mod correction;
mod cycle;
mod cycle_gas;
mod cycle_laws;
mod cycle_layers;
mod driveline_rows;
#[path = "../tests/drum_log_maker.rs"]
mod drum_log_maker;
mod drum_logs;
mod effectiveness;
mod engine_curves;
mod engine_rows;
mod enriched;
mod flow;
mod fuel;
mod fuel_air;
mod full_load;
mod knock;
mod moist_air;
mod motor_maps;
mod nist_strd;
mod ode_problems;
mod real_pulls;
mod recovery;
mod single_parts;
mod smoothing;
mod standard_atmosphere;
mod transaxle;
mod units;
