//! A centrifugal blower on a belt.

use super::blower::{MAP, MAP_POINTS, PULLEY_DIAMETER, RATED_POINT, TIP_SPEED_LIMIT};
use super::kind::{Blown, Kind, Part, Rank, Role, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{AsOfCar, MustBeGiven};
use super::row::{self, CLAIM_DOUBT, Row, SIZE_DOUBT, rows};
use super::{BuildError, Form, usual};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::boost::centrifugal::MILLED_TIP_LIMIT_M_S;
use crate::boost::compressor_map::SPARSE_FLOW_DOUBT;
use crate::boost::{BeltDrive, CentrifugalCompressor, CompressorMap};
use crate::car::{Blower, Car};

numbers! {
    /// A belt-driven centrifugal blower as its maker describes it, in place of whatever blower is there.
    CentrifugalBlower {
        /// Measured or drawn map.
        map: CompressorMap => kept,
        /// Wheel speed over engine speed, belt and step-up gear together.
        drive_ratio: T => number("drive_ratio"),
        /// Factor on the flow of the map.
        flow_factor: T => number("flow_factor"),
        /// Factor on the efficiency of the map.
        efficiency_factor: T => number("efficiency_factor"),
        /// Efficiency of the step-up gear.
        gear_efficiency: T => number("gear_efficiency"),
        /// Diameter of the pulley on the blower, m.
        pulley_m: T => number("pulley_diameter"),
        /// Highest rim speed, m/s.
        tip_speed_limit_m_s: f64 => kept,
    }
}

pub(super) const DRIVE_RATIO: Row = row::number(
    "drive_ratio",
    Measure::RATIO,
    (1.0, 60.0),
    SIZE_DOUBT,
    MustBeGiven,
    "wheel over engine speed, belt and step-up gear together",
    CommonPractice,
);

rows! {
    MEASURED = MAP,
    POINTS = MAP_POINTS,
    RATED = RATED_POINT,
    RATIO = DRIVE_RATIO,
    GEAR_EFFICIENCY = row::of_car("gear_efficiency", "blower.gear_efficiency", 0.01, AsOfCar, CommonPractice),
    TIP_SPEED = TIP_SPEED_LIMIT,
    PULLEY = PULLEY_DIAMETER,
}

impl<T> Part for CentrifugalBlower<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::Blower,
        role: Role::Blower(Blown::ByBelt),
        ..Kind::new(
            "centrifugal blower",
            "centrifugal_blower",
            "new blower",
            ROWS,
        )
        .adds_up()
    };
}

/// Doubt on the flow of a map: one drawn from a rated point, or a measured one as a claim.
pub(super) fn flow_doubt(rated: bool) -> f64 {
    if rated { SPARSE_FLOW_DOUBT } else { CLAIM_DOUBT }
}

impl Written for CentrifugalBlower<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let written = form.read_compressor_map();
        let drive_ratio = form.number(&DRIVE_RATIO);
        let gear = form.number(&GEAR_EFFICIENCY);
        let tip = form.plain(&TIP_SPEED_LIMIT);
        let pulley_m = form.number(&PULLEY_DIAMETER);
        let written = written?;
        Some(Self {
            map: written.map,
            drive_ratio: drive_ratio?,
            flow_factor: usual(1.0, flow_doubt(written.rated), 0.7, 1.3)?,
            efficiency_factor: usual(1.0, CLAIM_DOUBT, 0.7, 1.2)?,
            gear_efficiency: gear?,
            pulley_m: pulley_m?,
            tip_speed_limit_m_s: tip.unwrap_or(MILLED_TIP_LIMIT_M_S.0),
        })
    }
}

impl Work for CentrifugalBlower<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let mut machine = CentrifugalCompressor::of_map(self.map.clone());
        machine.flow_factor = self.flow_factor;
        machine.efficiency_factor = self.efficiency_factor;
        machine.gear_efficiency = self.gear_efficiency;
        machine.tip_speed_limit_m_s = self.tip_speed_limit_m_s;
        let drive = BeltDrive::of_geared_ratio(self.drive_ratio, self.pulley_m);
        car.blower = Blower::Centrifugal {
            machine: Box::new(machine),
            drive,
        };
        Ok(())
    }
}
