//! Contents page (being written).
pub mod units;
pub mod numeric;
pub mod fuel;
pub mod air;
pub mod engine;
pub mod boost;
pub mod cooling;
pub mod driveline;
pub mod electric;
pub mod dyno;
pub mod fit;
pub mod files;
