//! Injectors, fuel pump, rail, clutch and converter: what is in doubt about them where a car file states them.

use super::Basis::{CommonPractice, Fact, FromMemory};
use super::Guess::{Exact, Normal};
use super::{Measure, Parameter, REQUIRED, always, entry};
use crate::fuel::supply::{DEAD_TIME_S, DUTY_LIMIT, PUMP_FALL, USUAL_RAIL_PA};

/// Shorthand for the path into a part of the fuel supply.
macro_rules! supply {
    ($part:ident, $field:ident) => {
        |s| {
            s.car
                .fuel_supply
                .$part
                .as_mut()
                .map(|part| &mut part.$field)
        }
    };
}
/// Shorthand for the path into the converter.
macro_rules! converter {
    ($field:ident) => {
        |s| s.car.driveline.converter.as_mut().map(|c| &mut c.$field)
    };
}

#[rustfmt::skip]
pub(super) const ENTRIES: &[Parameter] = &[
    entry("injectors.flow", Measure::CM3_MIN, (50.0, 5000.0), REQUIRED,
        supply!(injectors, flow_m3_s),
        "flow of one injector held open, of petrol at its rated pressure", Fact),
    entry("injectors.rated_pressure", Measure::KPA, (100.0, 1500.0), always!(Exact(1e-3 * USUAL_RAIL_PA)),
        supply!(injectors, rated_pressure_pa),
        "pressure difference at which that flow is stated", CommonPractice),
    entry("injectors.dead_time", Measure::MS, (0.0, 3.0), always!(Normal(1e3 * DEAD_TIME_S.0, 1e3 * DEAD_TIME_S.1)),
        supply!(injectors, dead_time_s),
        "part of the commanded open time that delivers no fuel", CommonPractice),
    entry("injectors.duty_limit", Measure::RATIO, (0.5, 1.0), always!(Normal(DUTY_LIMIT.0, DUTY_LIMIT.1)),
        supply!(injectors, duty_limit),
        "longest share of a cycle for which the injectors are opened", CommonPractice),
    entry("fuel_pump.flow", Measure::L_H, (20.0, 3000.0), REQUIRED,
        supply!(pump, flow_m3_s),
        "flow of the pump at its rated pressure and the voltage it has in the car", Fact),
    entry("fuel_pump.rated_pressure", Measure::KPA, (100.0, 1500.0), always!(Exact(1e-3 * USUAL_RAIL_PA)),
        supply!(pump, rated_pressure_pa),
        "pressure above the tank's at which that flow is stated", CommonPractice),
    entry("fuel_pump.fall", Measure::RATIO, (0.0, 0.5), always!(Normal(PUMP_FALL.0, PUMP_FALL.1)),
        supply!(pump, fall_per_100_kpa),
        "share of that flow lost per 100 kPa of more pressure", CommonPractice),
    entry("fuel_rail.pressure", Measure::KPA, (100.0, 1500.0), always!(Exact(1e-3 * USUAL_RAIL_PA)),
        |s| {
            let supply = &mut s.car.fuel_supply;
            let known = supply.injectors.is_some() || supply.pump.is_some();
            known.then_some(&mut supply.rail.pressure_pa)
        },
        "pressure in the fuel rail above its reference", CommonPractice),

    entry("clutch.capacity", Measure::NM, (20.0, 6000.0), REQUIRED,
        |s| s.car.driveline.clutch_nm.as_mut(),
        "torque at the crank that the clutch, or an automatic's lock-up clutch, carries before it slips", Fact),
    entry("converter.stall_speed", Measure::SHAFT_RPM, (800.0, 8000.0), REQUIRED,
        converter!(stall_speed_rad_s),
        "engine speed at which the converter holds the stall torque with its output standing", Fact),
    entry("converter.stall_torque", Measure::NM, (30.0, 3000.0), REQUIRED,
        converter!(stall_torque_nm),
        "torque at the crank at which the stall speed is stated", Fact),
    entry("converter.torque_ratio", Measure::RATIO, (1.0, 4.0), always!(Normal(2.0, 0.15)),
        converter!(stall_torque_ratio),
        "output over input torque at stall", FromMemory("converters of road cars")),
    entry("converter.coupling", Measure::RATIO, (0.6, 0.98), always!(Normal(0.87, 0.02)),
        converter!(coupling_speed_ratio),
        "speed ratio at which the torque ratio has fallen to 1", FromMemory("converters of road cars")),
];
