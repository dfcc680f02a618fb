//! Checks against published sources.

mod boost_rows;
mod camshaft;
mod cases;
mod closed_cycle;
mod compression;
mod correction;
mod driveline_rows;
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
mod standard_atmosphere;
mod transaxle;
mod units;
