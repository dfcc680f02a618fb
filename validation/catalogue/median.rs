//! The rule that a model has to beat: an engine has the specific torque, the ratio of rated to peak torque and the ratio of their speeds
//! that are the median of its class, families of the engine itself left out.

use super::table::Engine;

/// What the rule says of one engine.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rule {
    /// W.
    pub(super) power: f64,
    /// N m and rpm, where the class has torques.
    pub(super) torque: Option<(f64, f64)>,
}

/// The middle value; none of no values.
pub(super) fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let last = values.len().checked_sub(1)?;
    Some(f64::midpoint(values[last / 2], values[values.len() / 2]))
}

/// Median of the class without the engine's family.
pub(super) fn rule(engine: &Engine, all: &[Engine]) -> Option<Rule> {
    let others: Vec<&Engine> = all
        .iter()
        .filter(|e| e.group() == engine.group() && e.family() != engine.family())
        .collect();
    let of = |value: &dyn Fn(&Engine) -> Option<f64>| {
        median(others.iter().filter_map(|e| value(e)).collect())
    };
    // Torque at rated power, per displacement: the rated speed is a fact of the engine.
    let specific = of(&|e| Some(e.power.0 / e.power.1 / e.displacement_m3))?;
    let torque = of(&|e| Some(e.torque?.0 / e.displacement_m3));
    let speeds = of(&|e| Some(e.torque?.1 / e.power.1));
    Some(Rule {
        power: specific * engine.power.1 * engine.displacement_m3,
        torque: torque
            .zip(speeds)
            .map(|(t, s)| (t * engine.displacement_m3, s * engine.power.1)),
    })
}
