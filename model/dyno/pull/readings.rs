//! What a rig shows of a pull: readings from states and forces, with the limits met.
//!
//! Exists apart from the motion because it changes nothing of it. It refuses noise and time bases: that is the recording's.

use super::state::{BATTERY_K, CASE_K, CHARGE, CORE_K, SENSOR_K, State, TIME_S, WINDING_K, value};
use super::{
    EndState, LEAST_ACCELERATION_M_S2, Moment, Motion, Pull, PullError, PullPoint, tread_m_s,
};
use crate::car::{Limit, Limits};
use crate::dyno::Contact;
use crate::electric::axle::AxleLimit;
use crate::electric::motor::MotorLimit;
use crate::units;

/// Readings along a pull, each with its state and all that follows from it, up to where the car stalls.
pub(super) fn read_off(
    motion: &Motion<'_>,
    start: State,
    readings: impl IntoIterator<Item = (f64, State, Moment)>,
) -> Result<Pull, PullError> {
    let readings = readings.into_iter();
    let mut points = Vec::with_capacity(readings.size_hint().0);
    let mut limits = Limits::default();
    let mut stalled_rpm = None;
    let mut end = start;
    for (speed, y, moment) in readings {
        if !y.iter().all(|v| v.is_finite()) {
            return Err(PullError::Integration {
                rpm: units::rpm(speed),
            });
        }
        if moment.forces.acceleration_m_s2 < LEAST_ACCELERATION_M_S2 {
            stalled_rpm = Some(units::rpm(speed));
            break;
        }
        points.push(point(motion, speed, &y, &moment));
        end = y;
    }
    for point in &points {
        limits.join(point.limits);
    }
    // The integration stopped between two readings.
    if motion.stalled.get() && stalled_rpm.is_none() {
        stalled_rpm = points.last().map(|p| p.rpm);
    }
    let end = EndState {
        core_k: value(&end, CORE_K),
        charge: value(&end, CHARGE).clamp(0.0, 1.0),
        battery_k: value(&end, BATTERY_K),
        winding_k: value(&end, WINDING_K),
        case_k: value(&end, CASE_K),
    };
    Ok(Pull {
        points,
        stalled_rpm,
        limits,
        end,
    })
}

fn point(motion: &Motion<'_>, speed_rad_s: f64, y: &State, moment: &Moment) -> PullPoint {
    let forces = &moment.forces;
    let power_w = forces.reading_w(&motion.drums);
    PullPoint {
        rpm: units::rpm(speed_rad_s),
        time_s: value(y, TIME_S),
        speed_m_s: forces.speed_m_s,
        acceleration_m_s2: forces.acceleration_m_s2,
        power_w,
        torque_nm: power_w / speed_rad_s,
        crank_w: moment.engine.ledger.brake_w(),
        brake_n: forces.brake_n.0,
        electric_w: forces.electric_reading_w(&motion.drums),
        sensor_k: value(y, SENSOR_K),
        core_k: value(y, CORE_K),
        charge: value(y, CHARGE).clamp(0.0, 1.0),
        winding_k: value(y, WINDING_K),
        case_k: value(y, CASE_K),
        battery_k: value(y, BATTERY_K),
        battery_power_w: forces.axle.map_or(0.0, |a| a.battery_power_w),
        derating: motion.setup.car.electric.as_ref().map_or(1.0, |d| {
            let (winding_k, case_k) = (value(y, WINDING_K), value(y, CASE_K));
            let heat = &d.axle.motor.heat;
            heat.derating(winding_k) * heat.on_share(winding_k, case_k)
        }),
        converter_ratio: forces.coupled.speed_ratio,
        engine_per_drum: forces.rad_s_per_m_s * motion.drums.radius_m,
        slip: forces.slip,
        axle_limit: forces.axle.map(|a| a.limiting),
        spinning: forces.spinning,
        limits: limits(motion, moment),
        engine: moment.engine,
    }
}

/// Limits of the engine and of everything between its crank and the drum.
fn limits(motion: &Motion<'_>, moment: &Moment) -> Limits {
    let forces = &moment.forces;
    let mut limits = moment.engine.limits;
    limits.note(Limit::ClutchSlip, forces.coupled.clutch_slips);
    limits.note(Limit::ConverterCapacity, forces.coupled.converter_overrun);
    limits.note(Limit::TyreGrip, forces.spinning || forces.electric_spinning);
    let tyre_m_s = tread_m_s(forces.speed_m_s, forces.slip);
    let rated_m_s = motion.setup.car.thresholds.tyre_speed_m_s;
    let on_tyres = motion.drums.machine.contact == Contact::Tyres;
    limits.note(Limit::TyreSpeed, on_tyres && tyre_m_s > rated_m_s);
    let overheated = forces.axle.is_some_and(|axle| axle.on_share < 1.0);
    limits.note(Limit::AxleOverheated, overheated);
    // The motor's own torque-speed envelope is no limit of the build.
    let axle = forces.axle.and_then(|axle| match axle.limiting {
        AxleLimit::Battery => Some(Limit::AxleBattery),
        AxleLimit::Heat => Some(Limit::AxleHeat),
        AxleLimit::Taper => Some(Limit::AxleTaper),
        AxleLimit::Ramp => Some(Limit::AxleRamp),
        AxleLimit::Motor(MotorLimit::TopSpeed) => Some(Limit::AxleTopSpeed),
        AxleLimit::Motor(_) => None,
    });
    if let Some(limit) = axle {
        limits.note(limit, true);
    }
    limits
}

/// A reading at an engine speed among points of any kind in order of it, by cubic interpolation; see [`super::Pull::reading`].
pub(crate) fn reading<P>(
    points: &[P],
    rpm: f64,
    rpm_of: impl Fn(&P) -> f64,
    of: impl Fn(&P) -> f64,
) -> f64 {
    let n = points.len();
    let at = |k: usize| rpm_of(&points[k]);
    if n < 4 {
        return points
            .iter()
            .min_by(|a, b| (rpm_of(a) - rpm).abs().total_cmp(&(rpm_of(b) - rpm).abs()))
            .map_or(f64::NAN, of);
    }
    let x = rpm.clamp(at(0), at(n - 1));
    let above = points.partition_point(|p| rpm_of(p) < x);
    let first = above.saturating_sub(2).min(n - 4);
    // Lagrange's formula; the points are equally spaced, so it is well conditioned.
    (first..first + 4)
        .map(|i| {
            let weight: f64 = (first..first + 4)
                .filter(|j| *j != i)
                .map(|j| (x - at(j)) / (at(i) - at(j)))
                .product();
            weight * of(&points[i])
        })
        .sum()
}
