//! Gear used on the drums or final drive.

use super::dial::{Dial, Shown, Turn, never};
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Stays;
use super::row::{self, rows};
use super::{BuildError, Change, Fault, Form};
use crate::belief::parameter::Basis::Fact;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Gear used on the drums or final drive.
    Gearing {
        /// Ratio of the gear, if it changes.
        gear: Option<T> => maybe("gear"),
        /// Final-drive ratio, if it changes.
        final_drive: Option<T> => maybe("final_drive"),
    }
}

rows! {
    GEAR = row::of_car("gear", "driveline.gear", 0.0, Stays, Fact),
    FINAL_DRIVE = row::of_car("final_drive", "driveline.final_drive", 0.0, Stays, Fact),
}

impl<T> Part for Gearing<T> {
    const KIND: &'static Kind = &Kind::new("gearing", "gearing", "new gearing", ROWS);
}

pub(super) const GEAR_DIAL: Dial = Dial::new(&Turn {
    id: "gear",
    help: "Ratio of the gear",
    words: "gear ratio",
    shown: Shown::Plain,
    rows: &[("gearing", GEAR)],
    refused: never,
    own: |after| Ok(after.driveline.gear_ratio()),
    number: |change| match change {
        Change::Gearing(gearing) => gearing.gear.as_mut(),
        _ => None,
    },
    follow: None,
    work: |_, ratio| {
        Ok(Gearing {
            gear: Some(ratio),
            final_drive: None,
        }
        .into())
    },
});

pub(super) const FINAL_DRIVE_DIAL: Dial = Dial::new(&Turn {
    id: "final-drive",
    help: "Final-drive ratio",
    words: "final-drive ratio",
    shown: Shown::Plain,
    rows: &[("gearing", FINAL_DRIVE)],
    refused: never,
    own: |after| Ok(after.driveline.final_ratio()),
    number: |change| match change {
        Change::Gearing(gearing) => gearing.final_drive.as_mut(),
        _ => None,
    },
    follow: None,
    work: |_, ratio| {
        Ok(Gearing {
            gear: None,
            final_drive: Some(ratio),
        }
        .into())
    },
});

impl Written for Gearing<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (gear, final_drive) = (form.number(&GEAR), form.number(&FINAL_DRIVE));
        if !form.has_any(ROWS) {
            let message = "this change of gearing changes no ratio";
            form.error(
                GEAR.key,
                Fault::Missing,
                message,
                "gear, final_drive, or both",
            );
            return None;
        }
        Some(Self { gear, final_drive })
    }
}

impl Work for Gearing<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let stages = &mut car.driveline.train.stages;
        if let (Some(ratio), Some(stage)) = (self.gear, stages.first_mut()) {
            stage.ratio = ratio;
        }
        if let (Some(ratio), Some(stage)) = (self.final_drive, stages.last_mut()) {
            stage.ratio = ratio;
        }
        Ok(())
    }
}
