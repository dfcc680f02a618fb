//! Another pulley on the blower.

use super::blower::PULLEY_M;
use super::dial::{Dial, DialError, Shown, Turn};
use super::kind::{Kind, Part, Rank, Role, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Described;
use super::row::{self, SIZE_DOUBT, rows};
use super::{BuildError, Change, Fault, Form, usual};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::boost::BeltDrive;
use crate::car::Car;
use serde::Serialize;

numbers! {
    /// Another pulley: blower speed over engine speed multiplied by its factor.
    Pulley {
        /// New over old drive ratio.
        ratio_factor: T => number("ratio_factor"),
    }
}

rows! {
    RATIO_FACTOR = row::number("ratio_factor", Measure::RATIO, (0.3, 3.0), SIZE_DOUBT, Described("the two diameters"),
        "new over old drive ratio", CommonPractice),
    FROM = row::plain("blower_pulley_from", Measure::MM, (30.0, 400.0), Described("`ratio_factor`"),
        "diameter of the pulley there; the ratio of the two is doubted as a ratio", Fact),
    TO = row::plain("blower_pulley_to", Measure::MM, (30.0, 400.0), Described("`ratio_factor`"), "diameter of the new one", Fact),
}

impl<T> Part for Pulley<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::OnBlower,
        role: Role::OnBlower,
        ..Kind::new("pulley", "pulley", "new pulley", ROWS).adds_up()
    };
}

pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "pulley",
    help: "Pulley of the blower: new over old drive ratio, and with it the boost",
    words: "pulley, new over old drive ratio",
    shown: Shown::Plain,
    rows: &[("pulley", RATIO_FACTOR)],
    refused: |after| {
        let none = after.blower.drive().is_none();
        none.then_some(DialError::NoBlower)
    },
    own: |_| Ok(1.0),
    number: |change| match change {
        Change::Pulley(pulley) => Some(&mut pulley.ratio_factor),
        _ => None,
    },
    follow: None,
    work: |_, ratio_factor| Ok(Pulley { ratio_factor }.into()),
});

/// A pulley that takes the place of another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NewPulley {
    /// Its diameter over that of the one it replaces.
    pub smaller_by: f64,
    /// Both diameters, the one replaced first, m; none where nobody stated them.
    pub diameters_m: Option<(f64, f64)>,
}

impl NewPulley {
    /// The one that makes a factor of the drive ratio; the drive is that after a plan whose factor is `planned`.
    ///
    /// A diameter of [`PULLEY_M`] is taken for one that nobody stated: it stands for it, and a size to be turned on a lathe is not guessed.
    pub fn at(factor: f64, drive: &BeltDrive, planned: f64) -> Self {
        let replaced_m = planned * drive.pulleys.blower_diameter_m;
        Self {
            smaller_by: 1.0 / factor,
            diameters_m: ((replaced_m / PULLEY_M - 1.0).abs() > 1e-9)
                .then_some((replaced_m, replaced_m / factor)),
        }
    }
}

impl Written for Pulley<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let has_factor = form.has(RATIO_FACTOR.key);
        if has_factor && form.has_any(&[FROM, TO]) {
            let message = "'ratio_factor' and pulley diameters are both given";
            let expected = "blower_pulley_from and blower_pulley_to, or ratio_factor alone";
            form.error(RATIO_FACTOR.key, Fault::Conflict, message, expected);
            return None;
        }
        let ratio_factor = if has_factor {
            form.required(&RATIO_FACTOR)
        } else {
            let (from, to) = (form.required_plain(&FROM), form.required_plain(&TO));
            let factor = from? / to?;
            let (low, high) = RATIO_FACTOR.bounds();
            usual(factor, SIZE_DOUBT * factor, low, high)
        };
        Some(Self {
            ratio_factor: ratio_factor?,
        })
    }
}

impl Work for Pulley<f64> {
    /// A smaller blower pulley turns the blower faster and gives the belt less to hold.
    ///
    /// Equation (11.5).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let drive = car.blower.drive_mut().ok_or(BuildError::PartMissing {
            part: "blower on a belt",
        })?;
        drive.pulleys.blower_diameter_m /= self.ratio_factor;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pulley_is_sized_where_the_one_it_replaces_is_known() {
        let with = |pulley_m: f64| BeltDrive::of_overall_ratio(2.0, pulley_m);
        // By hand: 90 mm over 1.25 is 72 mm.
        let (from, to) = NewPulley::at(1.25, &with(0.090), 1.0)
            .diameters_m
            .expect("stated");
        assert!((from - 0.090).abs() < 1e-12 && (to - 0.072).abs() < 1e-12);
        // A plan that turned it already had 99 mm before.
        let turned = NewPulley::at(1.25, &with(0.090), 1.1);
        assert!((turned.diameters_m.expect("stated").0 - 0.099).abs() < 1e-12);
        let unknown = NewPulley::at(1.25, &with(PULLEY_M), 1.0);
        assert_eq!((unknown.diameters_m, unknown.smaller_by), (None, 0.8));
    }
}
