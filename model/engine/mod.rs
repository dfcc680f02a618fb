//! The engine's own physics: what air it traps, what work a kilogram of that air gives, what rubs, what leaves hot.
//!
//! Every file holds one effect as pure functions and small structs; none of them knows which car it is in. Two levels
//! live side by side. The mean-value level (breathing, combustion, phasing, friction, exhaust) is algebra, fast enough
//! for a Monte Carlo of pulls, and its levels are meant to be calibrated. The crank-angle level ([`closed_cycle`],
//! [`knock`]) is used for ratios and for the knock limit only; it refuses to be trusted for absolute torque.
//!
//! Source: gas constant from the 2019 SI (exact); each file names the origin of its own equations.

pub mod breathing;
pub mod burn_law;
pub mod camshaft;
pub mod charge_gas;
pub mod closed_cycle;
pub mod combustion;
pub mod enriched;
pub mod exhaust;
pub mod friction;
pub mod fuel_air;
pub mod geometry;
pub mod heat_transfer;
pub mod knock;
pub mod knock_limit;
pub mod knock_map;
pub mod knock_maps;
pub mod phasing;
pub mod products;
pub mod pumping;
pub mod residual;
mod short_cycle;
pub mod tuning;
pub mod wiebe;

/// Universal gas constant, J/kmol K (2019 SI, exact).
pub const GAS_CONSTANT_J_KMOL_K: f64 = 8_314.462_618;

pub use geometry::{CylinderGeometry, EngineGeometry};

/// Whole part of a number of steps; negative numbers give 0.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "truncation is the purpose; counts of steps and table nodes are small and not negative"
)]
fn whole_part(steps: f64) -> usize {
    steps as usize
}
