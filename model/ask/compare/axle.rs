//! Whether pulls of a car with an electric axle may be compared at all.
//!
//! A battery that starts with less charge feeds less power, and an axle that was off feeds none: a difference of the starts would be
//! read as a gain of the work. So the starts are compared first, run by run. It refuses to guess a charge that was not
//! stated.

use std::fmt;

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

/// Why pulls must not be compared.
#[derive(Debug, Clone, PartialEq)]
pub enum Apart {
    /// The axle helped in one and not in the other.
    OnAndOff {
        /// A pull with the axle on.
        on: String,
        /// A pull with it off.
        off: String,
    },
    /// Start charges lie further apart than the window.
    Charge {
        /// Pull with the least charge, and that.
        least: (String, f64),
        /// Pull with the most, and that.
        most: (String, f64),
        /// Window.
        window: f64,
    },
    /// A charge is not stated where others are.
    Unknown {
        /// Pulls without a stated charge.
        pulls: Vec<String>,
    },
}

impl fmt::Display for Apart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OnAndOff { on, off } => write!(
                f,
                "the electric axle is on in '{on}' and off in '{off}': its power would pass for a gain or a loss"
            ),
            Self::Charge {
                least: (low, least),
                most: (high, most),
                window,
            } => write!(
                f,
                "start charges lie {:.0} points apart, from {:.0} % of '{low}' to {:.0} % of '{high}'; the window is {:.0}",
                100.0 * (most - least),
                100.0 * least,
                100.0 * most,
                100.0 * window
            ),
            Self::Unknown { pulls } => write!(
                f,
                "the start charge is not stated for {}; other pulls state theirs",
                pulls.join(", ")
            ),
        }
    }
}

/// What stands against comparing these pulls, before and after together; empty when nothing does.
pub fn apart(pulls: &[Start], window: f64) -> Vec<Apart> {
    let mut found = Vec::new();
    let first = |on: bool| pulls.iter().find(|p| p.on == on);
    if let (Some(on), Some(off)) = (first(true), first(false)) {
        found.push(Apart::OnAndOff {
            on: on.name.clone(),
            off: off.name.clone(),
        });
    }
    // The charge of an axle that is off feeds nothing.
    let helped = || pulls.iter().filter(|p| p.on);
    let stated = || helped().filter_map(|p| p.charge.map(|c| (p.name.clone(), c)));
    let least = stated().min_by(|a, b| a.1.total_cmp(&b.1));
    let most = stated().max_by(|a, b| a.1.total_cmp(&b.1));
    if let (Some(least), Some(most)) = (least, most) {
        // A window of ten points holds 72 and 82 %, whatever their last bits.
        if most.1 - least.1 > window + 1e-9 {
            found.push(Apart::Charge {
                least,
                most,
                window,
            });
        }
        let unknown: Vec<String> = helped()
            .filter(|p| p.charge.is_none())
            .map(|p| format!("'{}'", p.name))
            .collect();
        if !unknown.is_empty() {
            found.push(Apart::Unknown { pulls: unknown });
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
            matches!(&found[..], [Apart::Charge { least, most, .. }] if least.0 == "after 1" && most.0 == "before 1"),
            "{found:?}"
        );
        assert!(found[0].to_string().contains("12 points"), "{}", found[0]);
    }

    #[test]
    fn on_is_not_compared_with_off_and_a_missing_charge_is_not_guessed() {
        let found = apart(
            &[start("b", true, Some(0.8)), start("a", false, None)],
            0.10,
        );
        assert!(matches!(found[..], [Apart::OnAndOff { .. }]), "{found:?}");
        let found = apart(&[start("b", true, Some(0.8)), start("a", true, None)], 0.10);
        assert!(matches!(found[..], [Apart::Unknown { .. }]), "{found:?}");
        // A car of which nothing electric is stated.
        let plain = [start("b", true, None), start("a", true, None)];
        assert_eq!(apart(&plain, 0.10), []);
        // Both off: the charge does not matter.
        let off = [start("b", false, Some(0.8)), start("a", false, Some(0.2))];
        assert_eq!(apart(&off, 0.10), []);
    }
}
