//! Cooling of the charge between the blower and the engine.
//!
//! [`effectiveness`] says what a heat exchanger can do from its size, [`charge_cooler`] what a known cooler does to a
//! flow of charge, [`soak`] how its metal and water warm during a pull and recover between pulls, [`evaporation`] what a
//! sprayed liquid takes out of the air. The folder exists because a cooler is not a temperature: it has a pressure loss, a
//! reference flow and a memory. It refuses to know where the charge comes from or goes.

pub mod charge_cooler;
pub mod effectiveness;
pub mod evaporation;
pub mod soak;

pub use charge_cooler::{
    ChargeCooler, ChargeStream, CoolerLimit, CoolerPoint, HeatSink, UsualCooler,
};
pub use effectiveness::Arrangement;
pub use evaporation::{Evaporation, Liquid, MoistStream};
pub use soak::{FirstOrderLag, HeatBalance};
