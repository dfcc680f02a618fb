//! Machines that raise the pressure of the charge before the engine breathes it.
//!
//! Each file is one machine or one effect: [`displacement`] the machine that carries a fixed volume per turn with its
//! [`rotors`],
//! [`centrifugal`] the wheel that throws the air outward, with its measured [`compressor_map`], [`drive`] the belt
//! that turns either of them, [`turbine`] the exhaust wheel, [`turbine_map`] its measured map reduced, [`turbocharger`] it and a compressor on one shaft. They do not know the engine, the cooler or each other;
//! the folder exists so that a build can be described by the parts on the bench, each with the few numbers its maker
//! prints. It refuses to find the operating point: that needs the engine, and happens where the car is joined.
//!
//! Sign and reference: pressures are absolute and total at the flanges, flows are mass flows of moist charge, speeds are
//! shaft speeds in rad/s unless a name says revolutions.

pub mod centrifugal;
pub mod compressor_map;
pub mod displacement;
pub mod drive;
mod inlet;
mod leak;
mod orifice;
pub mod rotors;
mod speed_line;
pub mod turbine;
pub mod turbine_map;
pub mod turbocharger;

pub use centrifugal::{CentrifugalCompressor, CentrifugalPoint};
pub use compressor_map::{
    CompressorMap, MapError, MapLimit, MapLimits, MapPoint, MapReading, MapReference,
};
pub use displacement::{
    ClaimError, DisplacementLimit, DisplacementPoint, MakerClaims, PositiveDisplacement,
};
pub use drive::{BeltDrive, BeltLimit, DriveState, PulleyPair};
pub use inlet::Inlet;
pub use rotors::RotorKind;
pub use turbine::{ExhaustStream, Turbine, TurbinePoint};
pub use turbine_map::{ReducedTurbine, TestGas, TurbineMapError, TurbineMapPoint, TurbineTest};
pub use turbocharger::{BoostControl, Holds, ShaftPoint, Turbocharger};
