//! New engine over old, speed by speed: the only form in which this layer's results are used.
//!
//! Exists because the level of a crank-angle cycle is not to be trusted while its change from one engine to the next is. Equal
//! inputs give exactly 1, whatever the machine and the number of threads.
//!
//! Source: derived.

use super::point::{CyclePoint, CylinderCycle};
use crate::numeric::side_by_side;

/// What a change of the engine does at one speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratios {
    /// Engine speed of the old engine, rpm.
    pub rpm: f64,
    /// Trapped air, new over old.
    pub trapped_air: f64,
    /// Indicated work of compression and expansion per cycle, new over old.
    pub gross_work: f64,
    /// Indicated work of the whole cycle, new over old.
    pub net_work: f64,
    /// Gross work per kilogram of trapped air, new over old.
    pub work_per_air: f64,
    /// Half burned, new less old, deg.
    pub ca50_shift_deg: f64,
    /// Phasing of best torque, new less old, deg.
    pub best_ca50_shift_deg: f64,
    /// Temperature of the leaving gas, new over old.
    pub exhaust_temperature: f64,
    /// Peak pressure, new over old.
    pub peak_pressure: f64,
    /// Pumping mean effective pressure, new less old, Pa.
    pub pumping_shift_pa: f64,
    /// Residual fraction, new less old.
    pub residual_shift: f64,
    /// Whether both cycles repeated themselves and neither knocks at the latest phasing searched.
    pub sound: bool,
}

impl Ratios {
    /// Of two settled cycles.
    /// Equation (9.12).
    pub fn between(old: &CyclePoint, new: &CyclePoint) -> Self {
        let gross_work = new.gross_pa * new.swept_m3 / (old.gross_pa * old.swept_m3);
        let trapped_air = new.trapped_air_kg / old.trapped_air_kg;
        Self {
            rpm: old.rpm,
            trapped_air,
            gross_work,
            net_work: new.net_pa * new.swept_m3 / (old.net_pa * old.swept_m3),
            work_per_air: gross_work / trapped_air,
            ca50_shift_deg: new.ca50_deg - old.ca50_deg,
            best_ca50_shift_deg: new.best_ca50_deg - old.best_ca50_deg,
            exhaust_temperature: new.exhaust_k / old.exhaust_k,
            peak_pressure: new.peak_pa / old.peak_pa,
            pumping_shift_pa: new.pumping_pa - old.pumping_pa,
            residual_shift: new.residual_fraction - old.residual_fraction,
            sound: [old, new].iter().all(|p| p.settled && !p.beyond_search),
        }
    }
}

/// Runs cycles on the machine's cores; the answers stand in the order of the questions and do not depend on the cores.
pub fn over_speed(cycles: &[CylinderCycle]) -> Vec<CyclePoint> {
    side_by_side(cycles.len(), |index| cycles[index].run())
}

/// Ratios of pairs of cycles, old and new, at each speed.
pub fn ratios_over_speed(pairs: &[(CylinderCycle, CylinderCycle)]) -> Vec<Ratios> {
    let cycles: Vec<CylinderCycle> = pairs
        .iter()
        .flat_map(|(old, new)| [old.clone(), new.clone()])
        .collect();
    over_speed(&cycles)
        .chunks_exact(2)
        .map(|pair| Ratios::between(&pair[0], &pair[1]))
        .collect()
}
