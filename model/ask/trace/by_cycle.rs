//! Where the factor on the work of a built engine comes from.
//!
//! Apart from the rest of the engine because no formula of the pull gives it: the crank-angle cycle was asked once. It refuses an
//! engine as described, which has none.

use super::{Step, step};
use crate::car::WorkRatios;

pub(super) fn steps(ratios: &WorkRatios) -> [Step; 3] {
    [
        step("work_by_cycle", "1", ratios.cycle, "crank_angle_cycle"),
        step(
            "work_by_formulas",
            "1",
            ratios.mean_value,
            "mean_value_cylinder",
        ),
        step("work_factor", "1", ratios.factor, "cycle_over_formulas"),
    ]
}
