//! Blower, belt and charge cooler: what is in doubt about them.

use super::Basis::{CommonPractice, Derived, Fact, FromMemory};
use super::Guess::{Exact, LogNormal, Normal};
use super::Unstated::OfCar;
use super::{Measure, Parameter, REQUIRED, always, entry};
use crate::boost::displacement::{MECHANICAL_LOSS_FRACTION, PORT_LOSS, usual_leak_area_m2};
use crate::boost::drive::{BELT_EFFICIENCY, BELT_FRICTION, CREEP};
use crate::boost::turbocharger::{
    AREA_SD_LN, BOOST_DOUBT, INERTIA_SD_LN, START_BOOST_PA, TURBINE_EFFICIENCY,
};
use crate::cooling::UsualCooler;
use crate::cooling::charge_cooler::{FLOW_EXPONENT, PRESSURE_DROP_PA};
use crate::dyno::Setup;

/// What coolers of the car's kind usually are.
fn usual_cooler(setup: &Setup) -> Option<UsualCooler> {
    setup.car.cooler.map(|cooler| cooler.sink.usual())
}

#[rustfmt::skip]
pub(super) const ENTRIES: &[Parameter] = &[
    entry("blower.displacement", Measure::L_REV, (0.1, 10.0), REQUIRED,
        |s| s.car.blower.displacement_mut().map(|(m, _)| &mut m.displacement_m3_rev),
        "volume carried per turn of the blower shaft", Fact),
    entry("blower.leak_area", Measure::MM2, (1.0, 900.0),
        OfCar(|s| s.car.blower.displacement().map(|(m, _)| LogNormal(1e6 * usual_leak_area_m2(m.displacement_m3_rev), 0.30))),
        |s| s.car.blower.displacement_mut().map(|(m, _)| &mut m.leak_area_m2),
        "effective leak area between outlet and inlet", CommonPractice),
    entry("blower.efficiency_scale", Measure::RATIO, (0.4, 1.4),
        OfCar(|s| s.car.blower.displacement().map(|(m, _)| Normal(m.efficiency_scale, 0.06 * m.efficiency_scale))),
        |s| s.car.blower.displacement_mut().map(|(m, _)| &mut m.efficiency_scale),
        "real over ideal efficiency without leakage and ports", CommonPractice),
    entry("blower.port_loss", Measure::RATIO, (0.0, 0.2), always!(Normal(PORT_LOSS.0, PORT_LOSS.1)),
        |s| s.car.blower.displacement_mut().map(|(m, _)| &mut m.port_loss),
        "share of the pressure lost in each port at a rim speed of some 95 m/s", CommonPractice),
    entry("blower.built_in_volume_ratio", Measure::RATIO, (1.0, 2.0),
        OfCar(|s| s.car.blower.displacement().map(|(m, _)| Exact(m.built_in_volume_ratio))),
        |s| s.car.blower.displacement_mut().map(|(m, _)| &mut m.built_in_volume_ratio),
        "internal compression by volume; 1 for a Roots machine", Fact),
    entry("blower.mechanical_loss", Measure::RATIO, (0.0, 0.2), always!(Normal(MECHANICAL_LOSS_FRACTION, 0.01)),
        |s| s.car.blower.displacement_mut().map(|(m, _)| &mut m.mechanical_loss_fraction),
        "share of the shaft power lost in gears and seals", CommonPractice),
    entry("blower.flow_factor", Measure::RATIO, (0.7, 1.3), always!(Normal(1.0, 0.03)),
        |s| s.car.blower.compressor_mut().map(|m| &mut m.flow_factor),
        "flow of this machine over its map's", CommonPractice),
    entry("blower.efficiency_factor", Measure::RATIO, (0.7, 1.2), always!(Normal(1.0, 0.03)),
        |s| s.car.blower.compressor_mut().map(|m| &mut m.efficiency_factor),
        "efficiency of this machine over its map's", CommonPractice),
    entry("blower.gear_efficiency", Measure::RATIO, (0.85, 1.0), always!(Normal(0.96, 0.01)),
        |s| s.car.blower.centrifugal_mut().map(|m| &mut m.gear_efficiency),
        "efficiency of the step-up gear", CommonPractice),
    entry("blower.belt_creep", Measure::RATIO, (0.0, 0.03), always!(Normal(CREEP.0, CREEP.1)),
        |s| s.car.blower.drive_mut().map(|d| &mut d.creep),
        "speed lost in the belt at its full capacity", FromMemory("V-ribbed drives")),
    entry("blower.belt_efficiency", Measure::RATIO, (0.90, 0.985), always!(Normal(BELT_EFFICIENCY.0, BELT_EFFICIENCY.1)),
        |s| s.car.blower.drive_mut().map(|d| &mut d.belt_efficiency),
        "efficiency of the belt apart from slip", FromMemory("V-ribbed drives")),
    entry("blower.belt_friction", Measure::RATIO, (0.5, 1.6), always!(LogNormal(BELT_FRICTION.0, BELT_FRICTION.1)),
        |s| s.car.blower.drive_mut().map(|d| &mut d.friction),
        "effective coefficient of friction of the belt, wedge included", FromMemory("V-ribbed drives")),
    entry("blower.belt_tension", Measure::N, (200.0, 12000.0), always!(Exact(3000.0)),
        |s| s.car.blower.drive_mut().map(|d| &mut d.max_tension_n),
        "highest tension in the tight strand", CommonPractice),
    entry("blower.turbine_area", Measure::MM2, (30.0, 6000.0),
        OfCar(|s| s.car.blower.turbo().map(|t| LogNormal(1e6 * t.turbine.effective_area_m2, AREA_SD_LN))),
        |s| s.car.blower.turbo_mut().map(|t| &mut t.turbine.effective_area_m2),
        "effective flow area of one turbine", Derived("full boost from half the engine's reference flow on")),
    entry("blower.turbine_efficiency", Measure::RATIO, (0.40, 0.82), always!(Normal(TURBINE_EFFICIENCY.0, TURBINE_EFFICIENCY.1)),
        |s| s.car.blower.turbo_mut().map(|t| &mut t.turbine.efficiency),
        "isentropic efficiency of the turbine on mean pressures", FromMemory("turbines of car turbochargers")),
    entry("blower.turbo_inertia", Measure::KG_CM2, (0.02, 100.0),
        OfCar(|s| s.car.blower.turbo().map(|t| LogNormal(1e4 * t.inertia_kg_m2, INERTIA_SD_LN))),
        |s| s.car.blower.turbo_mut().map(|t| &mut t.inertia_kg_m2),
        "inertia of one turbocharger's shaft and wheels", FromMemory("turbochargers of petrol cars, in proportion to flow")),
    entry("blower.boost_factor", Measure::RATIO, (0.5, 2.0), always!(Normal(1.0, BOOST_DOUBT)),
        |s| s.car.blower.turbo_mut().map(|t| &mut t.control.factor),
        "boost held over boost target", CommonPractice),
    entry("blower.start_boost", Measure::KPA, (0.0, 60.0), always!(Normal(1e-3 * START_BOOST_PA.0, 1e-3 * START_BOOST_PA.1)),
        |s| s.car.blower.turbo_mut().map(|t| &mut t.start_boost_pa),
        "boost of the turbocharger when a pull begins", CommonPractice),

    entry("cooler.effectiveness", Measure::RATIO, (0.2, 0.95),
        OfCar(|s| usual_cooler(s).map(|u| Normal(u.effectiveness.0, u.effectiveness.1))),
        |s| s.car.cooler.as_mut().map(|c| &mut c.effectiveness),
        "effectiveness at its reference flow: to outside air when settled, or to the water", CommonPractice),
    entry("cooler.reference_flow", Measure::G_S, (10.0, 3000.0),
        OfCar(|s| Some(Exact(1.3e3 * s.car.intake.reference_flow_kg_s))),
        |s| s.car.cooler.as_mut().map(|c| &mut c.reference_flow_kg_s),
        "flow at which effectiveness and pressure drop are stated", CommonPractice),
    entry("cooler.flow_exponent", Measure::RATIO, (-0.5, 0.0), always!(Normal(FLOW_EXPONENT.0, FLOW_EXPONENT.1)),
        |s| s.car.cooler.as_mut().map(|c| &mut c.flow_exponent),
        "exponent of effectiveness on flow", CommonPractice),
    entry("cooler.pressure_drop", Measure::KPA, (0.1, 40.0), always!(LogNormal(1e-3 * PRESSURE_DROP_PA.0, PRESSURE_DROP_PA.1)),
        |s| s.car.cooler.as_mut().map(|c| &mut c.pressure_drop_pa),
        "pressure drop at the reference flow", CommonPractice),
    entry("cooler.heat_capacity", Measure::KJ_K, (0.5, 200.0),
        OfCar(|s| usual_cooler(s).map(|u| LogNormal(1e-3 * u.heat_capacity_j_k.0, u.heat_capacity_j_k.1))),
        |s| s.car.cooler.as_mut().map(|c| &mut c.heat_capacity_j_k),
        "heat capacity of core metal, or of water and core", CommonPractice),
    entry("cooler.rejection", Measure::W_K, (1.0, 5000.0),
        OfCar(|s| usual_cooler(s).map(|u| LogNormal(u.rejection_w_k.0, u.rejection_w_k.1))),
        |s| s.car.cooler.as_mut().map(|c| &mut c.rejection_w_k),
        "heat given to outside air per kelvin: by the core at rest, or by the water's radiator", CommonPractice),
];
