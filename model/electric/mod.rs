//! Electric axle that helps the engine: motor, battery, and the calibration that joins them.
//!
//! [`motor`] torque envelope, losses and heat, [`battery`] voltage, power limit and energy, [`axle`] the two behind a
//! reduction gear with the taper and ramp of their control. The folder exists because on linked drums the axle's power is
//! read together with the engine's and fades within a pull. It refuses to model switching and phase currents.

pub mod axle;
pub mod battery;
pub mod motor;

pub use axle::{AxleLimit, AxlePower, AxleRate, AxleState, ElectricAxle};
pub use battery::{Battery, BatteryLoad};
pub use motor::{Motor, MotorHeat, MotorLimit, MotorLosses};
