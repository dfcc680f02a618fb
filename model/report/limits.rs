//! Limits a pull runs into, in words: from which engine speed, how often, and what lifts them.
//!
//! The answer holds a limit as a fact; here it becomes a line for the person who can do something about it.

use super::number::{Units, What, chance};
use crate::ask::limits::{LimitLine, Met};
use crate::car::Limit;

impl Met {
    /// What a shop would call it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Limit(limit) => limit.words(),
            Self::Stalled => "the car cannot accelerate these drums any further",
        }
    }

    /// What lifts it, a sentence.
    pub fn remedy(self) -> &'static str {
        match self {
            Self::Limit(limit) => limit.remedy(),
            Self::Stalled => "A lower gear reaches higher engine speed.",
        }
    }

    /// Every one.
    pub(super) fn all() -> impl Iterator<Item = Self> {
        let limits = Limit::ALL.iter().copied().map(Self::Limit);
        limits.chain([Self::Stalled])
    }
}

impl LimitLine {
    /// With its speeds, its share and its remedy.
    pub fn point(&self, units: Units) -> String {
        let text = self.fact(units);
        let capped = if self.caps_power {
            " It caps the power."
        } else {
            ""
        };
        format!("{text}.{capped} {}", self.limit.remedy())
    }

    /// With its speeds and its share.
    fn fact(&self, units: Units) -> String {
        let mut text = self.limit.words().to_owned();
        if let (Some(from), Some(to)) = (self.from_rpm, self.to_rpm) {
            let (first, last) = (units.cell(What::Rpm, from), units.show(What::Rpm, to));
            if units.cell(What::Rpm, to) == first {
                add!(text, ", at {last}");
            } else {
                add!(text, ", from {first} to {last}");
            }
        }
        if let Some(share) = self.share_of_draws {
            if share > 0.0 && share < 0.005 {
                text.push_str(" (under 1 % of the draws)");
            } else {
                add!(text, " ({:.0} % of the draws)", 100.0 * share);
            }
        }
        text
    }
}

/// Most limits that an answer names.
const MOST_NAMED: usize = 3;
/// Share of the draws below which a limit waits for the details.
const SELDOM: f64 = 0.05;

/// The limits of an answer in short: those that endanger or cap first, the rest counted.
pub(super) fn brief(limits: &[LimitLine], capping: &[Limit]) -> String {
    if limits.is_empty() {
        return "Limits met: none.".to_owned();
    }
    let weight = |line: &&LimitLine| match line.limit {
        Met::Stalled => 0,
        Met::Limit(limit) if limit.danger().is_some() => 1,
        Met::Limit(limit) if limit.caps_power() => 2,
        Met::Limit(_) => 3,
    };
    let often = |line: &&LimitLine| line.share_of_draws.is_none_or(|share| share >= SELDOM);
    let mut named: Vec<&LimitLine> = limits.iter().filter(often).collect();
    named.sort_by_key(weight);
    named.truncate(MOST_NAMED);
    let word = |line: &&LimitLine| {
        let caps = |limit: &Limit| Met::Limit(*limit) == line.limit;
        let words = line.limit.words().trim_end_matches(" (advisory)");
        if capping.iter().any(caps) {
            format!("{words} (caps the peak)")
        } else if let Some(share) = line.share_of_draws.filter(|share| *share < 0.5) {
            format!("{words} ({} chance)", chance(share))
        } else {
            words.to_owned()
        }
    };
    let mut words: Vec<String> = named.iter().map(word).collect();
    let rest = limits.len() - named.len();
    if rest > 0 {
        words.push(format!("{rest} more"));
    }
    format!("Limits met: {}.", words.join("; "))
}

/// What caps a peak, one after the other.
pub(super) fn listed(caps: &[Limit]) -> String {
    let words: Vec<&str> = caps.iter().map(|limit| limit.words()).collect();
    words.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_told_with_its_speeds_its_share_and_its_remedy() {
        let seen = |to_rpm| LimitLine::new(Limit::Knock, Some((3000.0, to_rpm)), Some(0.87));
        let text = seen(6500.0).point(Units::Metric);
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            seen(3000.2)
                .point(Units::Metric)
                .contains("timing, at 3000 rpm (")
        );
        assert!(
            flat.starts_with(
                "knock limits the timing, from 3000 to 6500 rpm (87 % of the draws). More octane"
            ),
            "{text}"
        );
    }
}
