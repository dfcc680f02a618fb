//! Contents page (being written).
pub mod air;
pub mod boost;
pub mod cooling;
pub mod driveline;
pub mod dyno;
pub mod electric;
pub mod engine;
pub mod files;
pub mod fit;
pub mod fuel;
pub mod numeric;
pub mod units;
