//! Whether pulls of a car with an electric axle may be compared at all.
//!
//! A battery that starts with less charge feeds less power, and an axle that was off feeds none: a difference of the starts would be
//! read as a gain of the work. So the starts are compared first, run by run. It refuses to guess a charge that was not
//! stated.

use super::gate::{Gate, Stated};

/// Widest difference of start charge between any two runs compared, unless asked otherwise.
///
/// No source: ten points are what three or four pulls take. Above 40 % charge the battery of this model feeds its motor whatever the
/// charge (`electric::battery::Battery::fade`); below, ten points cost a seventh of its power.
pub const CHARGE_WINDOW: f64 = 0.10;

/// How a pull's electric axle was started, as far as stated.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// What the shop calls the pull, with its set.
    pub name: String,
    /// Whether the axle helped.
    pub on: bool,
    /// Charge of the battery, 0 to 1.
    pub charge: Option<f64>,
}

/// What stands against comparing these pulls, before and after together; empty when nothing does.
pub fn apart(pulls: &[Start], window: f64) -> Vec<Gate> {
    let mut found = Vec::new();
    let first = |on: bool| pulls.iter().find(|p| p.on == on);
    if let (Some(on), Some(off)) = (first(true), first(false)) {
        found.push(Gate::AxleOnAndOff {
            on: on.name.clone(),
            off: off.name.clone(),
        });
    }
    // The charge of an axle that is off feeds nothing.
    let helped = || pulls.iter().filter(|p| p.on);
    let stated = || {
        helped().filter_map(|p| {
            let value = p.charge?;
            Some(Stated {
                pull: p.name.clone(),
                value,
            })
        })
    };
    let least = stated().min_by(|a, b| a.value.total_cmp(&b.value));
    let most = stated().max_by(|a, b| a.value.total_cmp(&b.value));
    if let (Some(least), Some(most)) = (least, most) {
        // A window of ten points holds 72 and 82 %, whatever their last bits.
        if most.value - least.value > window + 1e-9 {
            found.push(Gate::StartCharges {
                least,
                most,
                window,
            });
        }
        let unknown: Vec<String> = helped()
            .filter(|p| p.charge.is_none())
            .map(|p| p.name.clone())
            .collect();
        if !unknown.is_empty() {
            found.push(Gate::StartChargeUnknown { pulls: unknown });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn start(name: &str, on: bool, charge: Option<f64>) -> Start {
        Start {
            name: name.to_owned(),
            on,
            charge,
        }
    }

    #[test]
    fn charges_are_compared_run_by_run_and_the_window_holds_its_edge() {
        let runs = |last| {
            [
                start("before 1", true, Some(0.82)),
                start("before 2", true, Some(0.79)),
                start("after 1", true, Some(last)),
            ]
        };
        assert_eq!(apart(&runs(0.72), 0.10), []);
        let found = apart(&runs(0.70), 0.10);
        assert!(
            matches!(&found[..], [Gate::StartCharges { least, most, .. }] if least.pull == "after 1" && most.pull == "before 1" && (most.value - least.value - 0.12).abs() < 1e-9),
            "{found:?}"
        );
    }

    #[test]
    fn on_is_not_compared_with_off_and_a_missing_charge_is_not_guessed() {
        let found = apart(
            &[start("b", true, Some(0.8)), start("a", false, None)],
            0.10,
        );
        assert!(
            matches!(found[..], [Gate::AxleOnAndOff { .. }]),
            "{found:?}"
        );
        let found = apart(&[start("b", true, Some(0.8)), start("a", true, None)], 0.10);
        assert!(
            matches!(found[..], [Gate::StartChargeUnknown { .. }]),
            "{found:?}"
        );
        // A car of which nothing electric is stated.
        let plain = [start("b", true, None), start("a", true, None)];
        assert_eq!(apart(&plain, 0.10), []);
        // Both off: the charge does not matter.
        let off = [start("b", false, Some(0.8)), start("a", false, Some(0.2))];
        assert_eq!(apart(&off, 0.10), []);
    }
}
