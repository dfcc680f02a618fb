//! Electric axle: motor, reduction gear and battery, with the calibration that cuts and feeds the torque.
//!
//! Exists to answer one question of the pull: how much power reaches the hubs now, what it takes from the battery and what
//! holds it back; and to give the rates of charge and temperatures. It refuses to decide when to help: that is the
//! calibration it is given.

use super::battery::Battery;
use super::motor::{Motor, MotorLimit, taper};

/// Efficiency of a single-speed reduction (from memory; 0.97 to 0.98).
pub const REDUCTION_EFFICIENCY: f64 = 0.975;

/// An electric axle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ElectricAxle {
    /// The motor with its inverter.
    pub motor: Motor,
    /// The battery.
    pub battery: Battery,
    /// Motor turns per axle turn.
    pub reduction_ratio: f64,
    /// Efficiency of the reduction.
    pub reduction_efficiency: f64,
    /// Axle speed at which the calibration has faded the torque out: the shift point or the end of assistance, rad/s;
    /// infinity if it never does.
    pub cut_speed_rad_s: f64,
    /// Last fraction of the speed below `cut_speed_rad_s` over which the torque runs out.
    pub cut_taper: f64,
    /// Time the torque takes to come back after it was held at zero, s; 0.3 to 0.6.
    pub ramp_s: f64,
    /// Share of its torque that the calibration asks for: 1 full assistance, 0 switched off.
    pub assist: f64,
}

/// Charge, temperatures and time since the torque was let in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxleState {
    /// Charge of the battery, 0 to 1.
    pub charge: f64,
    /// Battery temperature, K.
    pub battery_k: f64,
    /// Winding temperature, K.
    pub winding_k: f64,
    /// Motor case temperature, K.
    pub case_k: f64,
    /// Time since the torque was let in, s; infinity for long ago.
    pub engaged_s: f64,
}

/// Rates of the state, per second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxleRate {
    /// Of the charge, 1/s.
    pub charge_per_s: f64,
    /// Of the battery temperature, K/s.
    pub battery_k_s: f64,
    /// Of the winding temperature, K/s.
    pub winding_k_s: f64,
    /// Of the case temperature, K/s.
    pub case_k_s: f64,
}

/// What holds the axle's torque where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AxleLimit {
    /// The motor's envelope.
    Motor(MotorLimit),
    /// The battery's power.
    Battery,
    /// The winding's temperature.
    Heat,
    /// The calibration's fade before the shift point.
    Taper,
    /// The ramp after a shift.
    Ramp,
}

/// The axle at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxlePower {
    /// Torque at the hubs, N m.
    pub torque_nm: f64,
    /// Power at the hubs, W.
    pub power_w: f64,
    /// Power at the battery's terminals, W.
    pub battery_power_w: f64,
    /// Torque at the motor's shaft, N m.
    pub motor_torque_nm: f64,
    /// Loss of motor and inverter, W.
    pub motor_loss_w: f64,
    /// Part of it in the windings, W.
    pub winding_loss_w: f64,
    /// Share of the time for which the motor's protection leaves it on; 1 but above its highest temperature.
    pub on_share: f64,
    /// What binds.
    pub limiting: AxleLimit,
}

impl ElectricAxle {
    /// Power at the hubs at an axle speed.
    ///
    /// ```text
    /// T = min(envelope · derating · taper · ramp · assist, torque the battery can feed),   T_hub = i η on T
    /// ```
    ///
    /// Above its highest temperature the motor is switched off for a part of the time: torque, losses and what it draws are means over both.
    ///
    /// Source: regions of constant torque, constant power and field weakening as in any text on traction motors.
    /// Equation (6.7).
    pub fn power_at_hub(&self, axle_speed_rad_s: f64, state: &AxleState) -> AxlePower {
        let speed = axle_speed_rad_s.max(0.0) * self.reduction_ratio;
        let (envelope, motor_limit) = self.motor.envelope_nm(speed);
        let derating = self.motor.heat.derating(state.winding_k);
        let taper = if self.cut_speed_rad_s.is_finite() {
            taper(axle_speed_rad_s, self.cut_speed_rad_s, self.cut_taper)
        } else {
            1.0
        };
        let ramp = if self.ramp_s > 0.0 {
            (state.engaged_s / self.ramp_s).clamp(0.0, 1.0)
        } else {
            1.0
        };
        let wanted = envelope * derating * taper * ramp * self.assist;
        let supply = self.battery.power_limit_w(state.charge, state.battery_k);
        let fed = self
            .motor
            .losses
            .torque_for_electric_power_nm(supply, speed);
        let torque = wanted.min(fed);
        let on = self.motor.heat.on_share(state.winding_k, state.case_k);
        let limiting = if on < 1.0 {
            AxleLimit::Heat
        } else if fed < wanted {
            AxleLimit::Battery
        } else if taper < 1.0 && taper <= ramp {
            AxleLimit::Taper
        } else if ramp < 1.0 {
            AxleLimit::Ramp
        } else if derating < 1.0 {
            AxleLimit::Heat
        } else {
            AxleLimit::Motor(motor_limit)
        };
        // Without torque the inverter is off.
        let loss_w = if torque > 0.0 {
            self.motor.losses.loss_w(torque, speed)
        } else {
            0.0
        };
        let winding_loss_w = on * self.motor.losses.winding_loss_w(torque).min(loss_w);
        let (torque, motor_loss_w) = (on * torque, on * loss_w);
        let torque_nm = torque * self.reduction_ratio * self.reduction_efficiency;
        AxlePower {
            torque_nm,
            power_w: torque_nm * axle_speed_rad_s.max(0.0),
            battery_power_w: torque * speed + motor_loss_w,
            motor_torque_nm: torque,
            motor_loss_w,
            winding_loss_w,
            on_share: on,
            limiting,
        }
    }

    /// Rates of charge and temperatures while giving a power.
    pub fn rate(&self, power: &AxlePower, state: &AxleState) -> AxleRate {
        let load = self
            .battery
            .load(power.battery_power_w, state.charge, state.battery_k);
        let heat = &self.motor.heat;
        let (winding_k_s, case_k_s) = heat.rates_k_s(
            state.winding_k,
            state.case_k,
            power.winding_loss_w,
            power.motor_loss_w - power.winding_loss_w,
        );
        AxleRate {
            charge_per_s: self.battery.charge_rate_per_s(load.current_a),
            battery_k_s: load.heat_w / self.battery.heat_capacity_j_k,
            winding_k_s,
            case_k_s,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axle() -> ElectricAxle {
        ElectricAxle {
            motor: Motor::typical(200.0, 100_000.0, 1600.0),
            battery: Battery::typical(350.0, 0.10, 8e6),
            reduction_ratio: 9.0,
            reduction_efficiency: REDUCTION_EFFICIENCY,
            cut_speed_rad_s: 160.0,
            cut_taper: 0.08,
            ramp_s: 0.45,
            assist: 1.0,
        }
    }

    const WARM: AxleState = AxleState {
        charge: 0.7,
        battery_k: 303.15,
        winding_k: 333.15,
        case_k: 325.15,
        engaged_s: f64::INFINITY,
    };

    #[test]
    fn each_limit_is_named_where_it_binds() {
        let a = axle();
        let limit = |speed, state: AxleState| a.power_at_hub(speed, &state).limiting;
        assert_eq!(limit(20.0, WARM), AxleLimit::Motor(MotorLimit::PeakTorque));
        assert_eq!(limit(80.0, WARM), AxleLimit::Motor(MotorLimit::PeakPower));
        assert_eq!(
            limit(
                80.0,
                AxleState {
                    charge: 0.02,
                    ..WARM
                }
            ),
            AxleLimit::Battery
        );
        assert_eq!(
            limit(
                80.0,
                AxleState {
                    winding_k: 430.0,
                    ..WARM
                }
            ),
            AxleLimit::Heat
        );
        assert_eq!(limit(155.0, WARM), AxleLimit::Taper);
        assert_eq!(
            limit(
                80.0,
                AxleState {
                    engaged_s: 0.1,
                    ..WARM
                }
            ),
            AxleLimit::Ramp
        );
    }

    #[test]
    fn battery_to_hub_is_near_the_usual_figure() {
        let p = axle().power_at_hub(80.0, &WARM);
        let share = p.power_w / p.battery_power_w;
        // Battery to hub at a strong pull 0.88 ± 0.03 (from memory): two standard deviations.
        assert!((share - 0.88).abs() < 2.0 * 0.03, "{share}");
    }

    #[test]
    fn a_pull_empties_and_warms() {
        let a = axle();
        let r = a.rate(&a.power_at_hub(80.0, &WARM), &WARM);
        assert!(r.charge_per_s < 0.0 && r.battery_k_s > 0.0 && r.winding_k_s > 0.0);
    }
}
