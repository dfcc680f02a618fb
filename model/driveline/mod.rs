//! From the clutch to the roller: what is lost, what is stored in turning parts, and what the tyre lets through.
//!
//! [`losses`] the law of one gear stage and its oil, [`gears`] the stages in a row, [`clutch`] the friction clutch and the
//! converter, [`inertia`] turning parts seen as mass at the roller, [`tyre`] rolling loss, slip and grip on a drum. The
//! folder exists because loss is neither a percentage nor a number of kilowatts: part follows torque, part follows speed
//! and oil temperature, part is never lost but stored. It refuses to know the engine or the rig.

pub mod clutch;
pub mod gears;
pub mod inertia;
pub mod losses;
pub mod tyre;

pub use clutch::{ConverterPoint, FrictionClutch, TorqueConverter};
pub use gears::{Drive, GearTrain, Gearbox, ShaftFlow, Stage};
pub use inertia::TurningParts;
pub use losses::{GearOil, StageLoss};
pub use tyre::{GripLimit, TyreOnDrum, TyreSlip, rolling_rise};
