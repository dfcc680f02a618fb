//! Where the factor on the work of a built engine comes from.
//!
//! Apart from the rest of the engine because no formula of the pull gives it: the crank-angle cycle was asked once. It refuses an
//! engine as described, which has none.

use super::{Step, step};
use crate::car::WorkRatios;
use crate::report::number::What;

pub(super) fn steps(told: &WorkRatios) -> [Step; 3] {
    [
        step(
            "change inside, by crank angle",
            What::Ratio,
            told.cycle,
            "crank-angle cycle of the plan against that without its part in the cylinder, work per kilogram of air",
        ),
        step(
            "the same, by these formulas",
            What::Ratio,
            told.mean_value,
            "but for late evaporation and the mixture's unevenness, which no cycle knows",
        ),
        step(
            "factor on the work",
            What::Ratio,
            told.factor,
            "the first over the second: the change rests on the cycle, the level on the baseline",
        ),
    ]
}
