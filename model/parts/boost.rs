//! Another boost asked of the turbochargers that are there.

use super::dial::{Dial, DialError, Shown, Turn};
use super::kind::{Kind, Part, Rank, Role, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Described;
use super::row::{self, Holds, Row, rows};
use super::{BuildError, Change, Fault, Form, usual};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::boost::BoostControl;
use crate::boost::turbocharger::BOOST_DOUBT;
use crate::car::Car;

numbers! {
    /// Another boost asked of the turbochargers.
    Boost {
        /// New curve; `None` keeps the old one.
        control: Option<BoostControl> => kept,
        /// Factor on the boost held.
        factor: T => number("boost_factor"),
    }
}

pub(super) const BOOST: Row = row::other(
    "boost",
    Holds::Other("1 to 500 kPa gauge"),
    Described("`boost_absolute` or `boost_curve`"),
    "boost held above the air outside",
);
pub(super) const BOOST_ABSOLUTE: Row = row::other(
    "boost_absolute",
    Holds::Other("100 to 600 kPa absolute"),
    Described("`boost` or `boost_curve`"),
    "boost held as absolute pressure",
);
pub(super) const BOOST_CURVE: Row = row::other(
    "boost_curve",
    Holds::Other("a table: lists `speed` and `gauge` or `absolute`"),
    Described("`boost` or `boost_absolute`"),
    "boost over engine speed",
);

rows! {
    LEVEL = BOOST,
    ABSOLUTE = BOOST_ABSOLUTE,
    CURVE = BOOST_CURVE,
    FACTOR = row::number("boost_factor", Measure::RATIO, (0.3, 3.0), BOOST_DOUBT, Described("must be given, unless a new boost is"),
        "new over old boost, above the air outside or absolute as the control holds it", CommonPractice),
}

impl<T> Part for Boost<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::OnBlower,
        role: Role::SetsBlower,
        ..Kind::new("boost", "boost", "new boost", ROWS)
    };

    fn replaces(&self) -> bool {
        self.control.is_some()
    }
}

pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "boost",
    help: "Boost of the turbocharger, new over old",
    words: "boost, new over old",
    shown: Shown::Plain,
    rows: &[("boost", FACTOR)],
    refused: |after| {
        let none = after.blower.turbo().is_none();
        none.then_some(DialError::NoTurbocharger)
    },
    own: |_| Ok(1.0),
    number: |change| match change {
        Change::Boost(boost) if boost.control.is_none() => Some(&mut boost.factor),
        _ => None,
    },
    follow: None,
    work: |_, factor| {
        let control = None;
        Ok(Boost { control, factor }.into())
    },
});

impl Written for Boost<Prior> {
    /// A new pressure, or a factor on what is held now.
    fn read(form: &mut dyn Form) -> Option<Self> {
        let factor_given = form.has(FACTOR.key);
        let pressure_given = form.has_any(&[BOOST, BOOST_ABSOLUTE, BOOST_CURVE]);
        if factor_given && pressure_given {
            let message = "'boost_factor' and a new boost are both given";
            let expected =
                "one of boost, boost_absolute, a table boost_curve, or boost_factor alone";
            form.error(FACTOR.key, Fault::Conflict, message, expected);
            return None;
        }
        if factor_given {
            let factor = form.required(&FACTOR)?;
            return Some(Self {
                control: None,
                factor,
            });
        }
        let control = form.read_boost()?;
        Some(Self {
            control: Some(control),
            factor: usual(1.0, BOOST_DOUBT, 0.5, 2.0)?,
        })
    }
}

impl Work for Boost<f64> {
    /// What the control holds of what it asks stays as it was learnt.
    ///
    /// Equation (11.5).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let turbo = car.blower.turbo_mut().ok_or(BuildError::PartMissing {
            part: "turbocharger",
        })?;
        // What was learnt of a spring says nothing of a control that holds absolute pressure, nor the other way round.
        let learnt = match &self.control {
            Some(new) if new.holds != turbo.control.holds => 1.0,
            _ => turbo.control.factor,
        };
        if let Some(control) = &self.control {
            turbo.control = control.clone();
        }
        turbo.control.factor = learnt * self.factor;
        Ok(())
    }
}
