//! Tubular headers in place of the exhaust manifold.

use super::kind::{Kind, NotComputed, Part, Rank, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{Described, Usual};
use super::row::{self, FACTOR_DOUBT, rows};
use super::{BuildError, Fault, Form, usual};
use crate::belief::parameter::Basis::{CommonPractice, Fact, FromMemory};
use crate::belief::parameter::Guess::Normal;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Tubular headers in place of the exhaust manifold.
    Headers {
        /// New over old flow area of primaries and collector.
        area_factor: T => number("area_factor"),
        /// Share of the back pressure that the old manifold causes.
        share: T => number("share"),
        /// Fall of pressure behind the valve while it closes, Pa at the reference flow.
        scavenging_pa: T => number("scavenging"),
    }
}

rows! {
    AREA_FACTOR = row::number("area_factor", Measure::RATIO, (0.2, 5.0), FACTOR_DOUBT, Described("the two diameters"),
        "new over old flow area of primaries and collector", CommonPractice),
    FROM = row::plain("primary_from", Measure::MM, (15.0, 150.0), Described("`area_factor`"),
        "diameter of the old primaries; the ratio of areas is doubted as a factor", Fact),
    TO = row::plain("primary_to", Measure::MM, (15.0, 150.0), Described("`area_factor`"), "diameter of the new ones", Fact),
    // Catalysts and silencers cause the rest.
    SHARE = row::number("share", Measure::RATIO, (0.0, 1.0), FACTOR_DOUBT, Usual(Normal(0.35, 0.10)),
        "share of the back pressure that the old manifold causes", CommonPractice),
    // Racing headers show 0.6 to 0.8 bar absolute at their tuned speed.
    SCAVENGING = row::number("scavenging", Measure::KPA, (0.0, 40.0), FACTOR_DOUBT, Usual(Normal(10.0, 4.0)),
        "fall of pressure behind the valve while it closes, at the reference flow, mean over speed",
        FromMemory("a third of what racing headers show")),
}

impl<T> Part for Headers<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::OnBlower,
        not_computed: Some(NotComputed::PulseTuning),
        ..Kind::new("headers", "headers", "headers", ROWS).adds_up()
    };
}

impl Written for Headers<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let has_factor = form.has(AREA_FACTOR.key);
        let has_sizes = form.has_any(&[FROM, TO]);
        if has_factor && has_sizes {
            let message = "'area_factor' and primary diameters are both given";
            let expected = "primary_from and primary_to, or area_factor alone";
            form.error(AREA_FACTOR.key, Fault::Conflict, message, expected);
            return None;
        }
        let area_factor = if has_sizes {
            let (from, to) = (form.required_plain(&FROM), form.required_plain(&TO));
            let factor = (to? / from?).powi(2);
            usual(factor, FACTOR_DOUBT * factor, 0.01, 100.0)
        } else {
            form.required(&AREA_FACTOR)
        };
        let (share, scavenging) = (form.number(&SHARE), form.number(&SCAVENGING));
        Some(Self {
            area_factor: area_factor?,
            share: share?,
            scavenging_pa: scavenging?,
        })
    }
}

impl Work for Headers<f64> {
    /// Equation (11.2).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        if car.blower.turbo().is_some() {
            return Err(BuildError::TurbineInBetween);
        }
        let saved = self.share * (1.0 - 1.0 / (self.area_factor * self.area_factor));
        car.exhaust.back_pressure_pa *= 1.0 - saved;
        car.exhaust.scavenging_pa = self.scavenging_pa;
        Ok(())
    }
}
