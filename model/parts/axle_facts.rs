//! What is said of an electric axle beside its numbers in doubt, in a car file and in a plan that adds one alike.

use super::Form;
use super::row::LeftOut::{Described, Usual};
use super::row::{self, Row};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Guess::Exact;
use crate::belief::parameter::Measure;
use crate::electric::axle::{ElectricAxle, REDUCTION_EFFICIENCY};
use crate::electric::battery::Battery;
use crate::electric::motor::Motor;

/// What is said of an electric axle beside its numbers in doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxleFacts {
    /// Nominal voltage, V.
    pub battery_v: f64,
    /// Energy content, J.
    pub battery_j: f64,
    /// Power the battery management allows, W.
    pub battery_w: f64,
    /// Highest motor speed, rad/s.
    pub top_speed_rad_s: f64,
    /// Axle speed at which assistance has faded out, rad/s; infinity if it never does.
    pub cut_speed_rad_s: f64,
    /// Last fraction of that speed over which it fades.
    pub cut_taper: f64,
    /// Time the torque takes to come in, s.
    pub ramp_s: f64,
    /// Rolling radius of its tyres, m; `None` for that of the other axle's.
    pub tyre_radius_m: Option<f64>,
    /// Peak power that losses and heat are scaled from, W.
    pub rated_power_w: f64,
    /// Peak torque that losses are scaled from, N m.
    pub rated_torque_nm: f64,
}

pub(super) const VOLTAGE: Row = row::plain(
    "battery_voltage",
    Measure::V,
    (30.0, 1200.0),
    Usual(Exact(350.0)),
    "nominal voltage of the battery",
    CommonPractice,
);
pub(super) const ENERGY: Row = row::plain(
    "battery_energy",
    Measure::MJ,
    (0.1, 1000.0),
    Described("a tenth of an hour at rated power"),
    "its energy content",
    CommonPractice,
);
pub(super) const POWER: Row = row::plain(
    "battery_power",
    Measure::KW,
    (1.0, 2000.0),
    Described("1.15 of rated power"),
    "power its management allows",
    CommonPractice,
);
pub(super) const TOP_SPEED: Row = row::plain(
    "motor_top_speed",
    Measure::RAD_S,
    (100.0, 4000.0),
    Usual(Exact(2200.0)),
    "highest speed of the motor",
    CommonPractice,
);
pub(super) const RADIUS: Row = row::plain(
    "tyre_radius",
    Measure::M,
    (0.2, 0.5),
    Described("that of the other axle's"),
    "rolling radius of its tyres",
    Fact,
);
pub(super) const CUT_SPEED: Row = row::plain(
    "cut_speed",
    Measure::RAD_S,
    (1.0, 1000.0),
    Described("never"),
    "speed of the axle at which it has faded out",
    CommonPractice,
);
pub(super) const CUT_TAPER: Row = row::plain(
    "cut_taper",
    Measure::RATIO,
    (0.001, 1.0),
    Usual(Exact(0.07)),
    "last share of that speed over which it fades",
    CommonPractice,
);
pub(super) const RAMP: Row = row::plain(
    "ramp",
    Measure::S,
    (0.0, 10.0),
    Usual(Exact(0.0)),
    "time in which its torque comes in",
    CommonPractice,
);
pub(super) const RATED_POWER: Row = row::plain(
    "rated_power",
    Measure::KW,
    (1.0, 2000.0),
    Described("the peak power"),
    "power that losses and heat are scaled from",
    Fact,
);
pub(super) const RATED_TORQUE: Row = row::plain(
    "rated_torque",
    Measure::NM,
    (5.0, 5000.0),
    Described("the peak torque"),
    "torque that losses are scaled from",
    Fact,
);

impl AxleFacts {
    /// Reads them; what is left out follows from peak power, W, and torque, N m.
    pub fn read(form: &mut dyn Form, power_w: Option<f64>, torque_nm: Option<f64>) -> Option<Self> {
        let battery_v = form.plain(&VOLTAGE);
        let (battery_j, battery_w) = (form.plain(&ENERGY), form.plain(&POWER));
        let (top, tyre_radius_m) = (form.plain(&TOP_SPEED), form.plain(&RADIUS));
        let (cut_speed, cut_taper) = (form.plain(&CUT_SPEED), form.plain(&CUT_TAPER));
        let ramp_s = form.plain(&RAMP);
        let (rated_power, rated_torque) = (form.plain(&RATED_POWER), form.plain(&RATED_TORQUE));
        let (power_w, torque_nm) = (power_w?, torque_nm?);
        let rated_power_w = rated_power.unwrap_or(power_w);
        Some(Self {
            battery_v: battery_v.or(VOLTAGE.exactly())?,
            battery_j: battery_j.unwrap_or(360.0 * rated_power_w),
            battery_w: battery_w.unwrap_or(1.15 * rated_power_w),
            top_speed_rad_s: top.or(TOP_SPEED.exactly())?,
            cut_speed_rad_s: cut_speed.unwrap_or(f64::INFINITY),
            cut_taper: cut_taper.or(CUT_TAPER.exactly())?,
            ramp_s: ramp_s.or(RAMP.exactly())?,
            tyre_radius_m,
            rated_power_w,
            rated_torque_nm: rated_torque.unwrap_or(torque_nm),
        })
    }

    /// The axle of a peak power, W, a peak torque, N m, and a reduction, as such axles usually are.
    pub fn axle(&self, power_w: f64, torque_nm: f64, reduction_ratio: f64) -> ElectricAxle {
        let rated = Motor::typical(
            self.rated_torque_nm,
            self.rated_power_w,
            self.top_speed_rad_s,
        );
        ElectricAxle {
            motor: Motor {
                peak_power_w: power_w,
                peak_torque_nm: torque_nm,
                ..rated
            },
            battery: Battery {
                max_power_w: self.battery_w,
                ..Battery::typical(self.battery_v, 0.10, self.battery_j)
            },
            reduction_ratio,
            reduction_efficiency: REDUCTION_EFFICIENCY,
            cut_speed_rad_s: self.cut_speed_rad_s,
            cut_taper: self.cut_taper,
            ramp_s: self.ramp_s,
            assist: 1.0,
        }
    }
}
