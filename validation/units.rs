//! Our table of shop units against the `uom` crate 0.38, a general-purpose units library made elsewhere.
//!
//! uom prints many customary factors with seven significant digits (lb, lbf, psi, hp). Where it does, the tolerance is
//! half a unit of its last printed digit, passed as a relative figure; everywhere else 1e-12, which is a few roundings
//! of a double. `psi` is compared with uom's seven-digit `psi`; its long-digit `pound_force_per_square_inch` inherits
//! the seven-digit pound-force, 8.6e-8 high, and is compared at that. Not in uom, so not compared here: PS and lb ft
//! beyond seven digits, kgf-based inertia, Btu/lb and its kin; those rest on the exact definitions (NIST SP 811 appendix B, from
//! memory) checked below.

use pullcast::units::{Dimension as D, UNITS, Unit, find};
use uom::si::f64::*;
use uom::si::{
    angle, angular_velocity, area, available_energy, electric_current, electric_potential,
    electrical_resistance, energy, force, heat_capacity, length, mass, mass_density, mass_rate,
    moment_of_inertia, power, pressure, ratio, temperature_interval, thermal_conductance,
    thermodynamic_temperature, time, torque, velocity, volume, volume_rate,
};

/// A few roundings of a double.
const EXACT: f64 = 1e-12;

fn ours(dimension: D, symbol: &str) -> &'static Unit {
    find(symbol, dimension).unwrap_or_else(|error| panic!("{error}"))
}

fn check(dimension: D, symbol: &str, theirs_si: f64, relative: f64) {
    let factor = ours(dimension, symbol).factor();
    assert!(
        (factor / theirs_si - 1.0).abs() <= relative,
        "{symbol}: ours {factor:e}, theirs {theirs_si:e}, relative {:e}",
        factor / theirs_si - 1.0
    );
}

/// Half a unit in the last of `digits` printed significant digits of `value`, relative to it; a rounding of the
/// comparison itself on top.
fn printed(value: f64, digits: i32) -> f64 {
    let leading = 10_f64.powf(value.abs().log10().floor());
    0.5 * leading * 10_f64.powi(1 - digits) / value.abs() + EXACT
}

macro_rules! compare {
    ($($dimension:ident $symbol:literal = $quantity:ident [$module:ident :: $unit:ident] $(within $digits:literal digits)?;)*) => {{
        $({
            let theirs = $quantity::new::<$module::$unit>(1.0).value;
            let tolerance = EXACT $(.max(printed(theirs, $digits)))?;
            check(D::$dimension, $symbol, theirs, tolerance);
        })*
        [$((D::$dimension, $symbol)),*]
    }};
}

/// Units that `uom` has no counterpart for, with the definition that fixes them exactly.
const BY_DEFINITION: &[(D, &str, f64)] = &[
    (D::Pressure, "kgf/cm2 absolute", 9.80665e4),
    (D::GaugePressure, "kgf/cm2 gauge", 9.80665e4),
    (D::PressureDifference, "kgf/cm2", 9.80665e4),
    (D::Power, "PS", 75.0 * 9.80665),
    (D::Torque, "kgf m", 9.80665),
    (D::Torque, "daN m", 10.0),
    (D::SpecificEnergy, "Btu/lb", 2326.0),
    (D::Inertia, "kg cm2", 1e-4),
    (D::Inertia, "g m2", 1e-3),
    (D::Inertia, "lb ft2", 0.45359237 * 0.3048 * 0.3048),
    (D::Inertia, "lb in2", 0.45359237 * 0.0254 * 0.0254),
    (D::SpecificHeat, "J/(kg K)", 1.0),
    (D::SpecificHeat, "kJ/(kg K)", 1e3),
    (D::DisplacementPerRev, "m3/rev", 1.0),
    (D::DisplacementPerRev, "L/rev", 1e-3),
    (D::DisplacementPerRev, "cm3/rev", 1e-6),
    (D::DisplacementPerRev, "cu in/rev", 0.0254 * 0.0254 * 0.0254),
    (D::SpecificFuelConsumption, "kg/J", 1.0),
    (D::SpecificFuelConsumption, "g/kWh", 1e-3 / 3.6e6),
    (
        D::SpecificFuelConsumption,
        "lb/(hp h)",
        0.45359237 / (745.699871582270 * 3600.0),
    ),
    (D::PowerPerMass, "W/kg", 1.0),
    (D::PowerPerMass, "kW/kg", 1e3),
    (D::PowerPerMass, "hp/lb", 745.699871582270 / 0.45359237),
    (
        D::PowerPerMass,
        "hp/short ton",
        745.699871582270 / (2000.0 * 0.45359237),
    ),
    (D::PowerPerMass, "PS/t", 75.0 * 9.80665 / 1e3),
    (D::MassPerPower, "kg/W", 1.0),
    (D::MassPerPower, "kg/kW", 1e-3),
    (D::MassPerPower, "lb/hp", 0.45359237 / 745.699871582270),
    (D::MassPerPower, "kg/PS", 1.0 / (75.0 * 9.80665)),
    (D::Volume, "imp gal", 4.54609e-3),
    (D::VolumeFlow, "L/h", 1e-3 / 3600.0),
    (D::VolumeFlow, "US gal/h", 3.785411784e-3 / 3600.0),
    (D::HeatCapacity, "Btu/°F", 1055.05585262 * 1.8),
    (
        D::ThermalConductance,
        "Btu/(h °F)",
        1055.05585262 * 1.8 / 3600.0,
    ),
    (D::VolumeFlow, "cm3/min", 1e-6 / 60.0),
    (D::MassFlow, "lb/s", 0.45359237),
];

#[test]
#[expect(clippy::too_many_lines, reason = "a table of cases")]
fn every_factor_agrees_with_an_independent_units_library() {
    let compared = compare! {
        Length "m" = Length[length::meter];
        Length "mm" = Length[length::millimeter];
        Length "cm" = Length[length::centimeter];
        Length "km" = Length[length::kilometer];
        Length "in" = Length[length::inch];
        Length "ft" = Length[length::foot];
        Area "m2" = Area[area::square_meter];
        Area "cm2" = Area[area::square_centimeter];
        Area "mm2" = Area[area::square_millimeter];
        Area "in2" = Area[area::square_inch];
        Area "ft2" = Area[area::square_foot];
        Volume "m3" = Volume[volume::cubic_meter];
        Volume "L" = Volume[volume::liter];
        Volume "cm3" = Volume[volume::cubic_centimeter];
        Volume "cu in" = Volume[volume::cubic_inch] within 7 digits;
        Volume "US gal" = Volume[volume::gallon] within 7 digits;
        Mass "kg" = Mass[mass::kilogram];
        Mass "g" = Mass[mass::gram];
        Mass "mg" = Mass[mass::milligram];
        Mass "t" = Mass[mass::ton];
        Mass "lb" = Mass[mass::pound] within 7 digits;
        Time "s" = Time[time::second];
        Time "ms" = Time[time::millisecond];
        Time "µs" = Time[time::microsecond];
        Time "min" = Time[time::minute];
        Time "h" = Time[time::hour];
        Ratio "1" = Ratio[ratio::ratio];
        Ratio "%" = Ratio[ratio::percent];
        Pressure "Pa absolute" = Pressure[pressure::pascal];
        Pressure "kPa absolute" = Pressure[pressure::kilopascal];
        Pressure "hPa absolute" = Pressure[pressure::hectopascal];
        Pressure "bar absolute" = Pressure[pressure::bar];
        Pressure "mbar absolute" = Pressure[pressure::millibar];
        Pressure "psi absolute" = Pressure[pressure::psi] within 7 digits;
        Pressure "inHg absolute" = Pressure[pressure::inch_of_mercury];
        Pressure "mmHg absolute" = Pressure[pressure::millimeter_of_mercury] within 7 digits;
        BarometricPressure "Pa" = Pressure[pressure::pascal];
        BarometricPressure "hPa" = Pressure[pressure::hectopascal];
        BarometricPressure "kPa" = Pressure[pressure::kilopascal];
        BarometricPressure "mbar" = Pressure[pressure::millibar];
        BarometricPressure "bar" = Pressure[pressure::bar];
        BarometricPressure "inHg" = Pressure[pressure::inch_of_mercury];
        BarometricPressure "mmHg" = Pressure[pressure::millimeter_of_mercury] within 7 digits;
        BarometricPressure "psi absolute" = Pressure[pressure::psi] within 7 digits;
        GaugePressure "Pa gauge" = Pressure[pressure::pascal];
        GaugePressure "kPa gauge" = Pressure[pressure::kilopascal];
        GaugePressure "bar gauge" = Pressure[pressure::bar];
        GaugePressure "mbar gauge" = Pressure[pressure::millibar];
        GaugePressure "psi gauge" = Pressure[pressure::psi] within 7 digits;
        GaugePressure "inHg gauge" = Pressure[pressure::inch_of_mercury];
        PressureDifference "Pa" = Pressure[pressure::pascal];
        PressureDifference "kPa" = Pressure[pressure::kilopascal];
        PressureDifference "hPa" = Pressure[pressure::hectopascal];
        PressureDifference "mbar" = Pressure[pressure::millibar];
        PressureDifference "bar" = Pressure[pressure::bar];
        PressureDifference "psi" = Pressure[pressure::psi] within 7 digits;
        PressureDifference "inHg" = Pressure[pressure::inch_of_mercury];
        PressureDifference "mmHg" = Pressure[pressure::millimeter_of_mercury] within 7 digits;
        TemperatureDifference "K" = TemperatureInterval[temperature_interval::kelvin];
        TemperatureDifference "°F" = TemperatureInterval[temperature_interval::degree_fahrenheit];
        Speed "m/s" = Velocity[velocity::meter_per_second];
        Speed "km/h" = Velocity[velocity::kilometer_per_hour];
        Speed "mph" = Velocity[velocity::mile_per_hour];
        Speed "ft/s" = Velocity[velocity::foot_per_second];
        Speed "ft/min" = Velocity[velocity::foot_per_minute];
        RotationalSpeed "rad/s" = AngularVelocity[angular_velocity::radian_per_second];
        RotationalSpeed "rpm" = AngularVelocity[angular_velocity::revolution_per_minute];
        RotationalSpeed "rev/s" = AngularVelocity[angular_velocity::revolution_per_second];
        Angle "rad" = Angle[angle::radian];
        Angle "deg" = Angle[angle::degree];
        Force "N" = Force[force::newton];
        Force "kN" = Force[force::kilonewton];
        Force "lbf" = Force[force::pound_force] within 7 digits;
        Force "kgf" = Force[force::kilogram_force];
        Torque "N m" = Torque[torque::newton_meter];
        Torque "kN m" = Torque[torque::kilonewton_meter];
        Torque "lb ft" = Torque[torque::pound_force_foot] within 7 digits;
        Torque "lb in" = Torque[torque::pound_force_inch] within 7 digits;
        Power "W" = Power[power::watt];
        Power "kW" = Power[power::kilowatt];
        Power "MW" = Power[power::megawatt];
        Power "hp" = Power[power::horsepower] within 7 digits;
        Power "PS" = Power[power::horsepower_metric] within 7 digits;
        Energy "J" = Energy[energy::joule];
        Energy "kJ" = Energy[energy::kilojoule];
        Energy "MJ" = Energy[energy::megajoule];
        Energy "Wh" = Energy[energy::watt_hour];
        Energy "kWh" = Energy[energy::kilowatt_hour];
        Inertia "kg m2" = MomentOfInertia[moment_of_inertia::kilogram_square_meter];
        MassFlow "kg/s" = MassRate[mass_rate::kilogram_per_second];
        MassFlow "g/s" = MassRate[mass_rate::gram_per_second];
        MassFlow "kg/min" = MassRate[mass_rate::kilogram_per_minute];
        MassFlow "g/min" = MassRate[mass_rate::gram_per_minute];
        MassFlow "kg/h" = MassRate[mass_rate::kilogram_per_hour];
        MassFlow "lb/min" = MassRate[mass_rate::pound_per_minute] within 7 digits;
        MassFlow "lb/h" = MassRate[mass_rate::pound_per_hour] within 7 digits;
        VolumeFlow "m3/s" = VolumeRate[volume_rate::cubic_meter_per_second];
        VolumeFlow "m3/min" = VolumeRate[volume_rate::cubic_meter_per_minute];
        VolumeFlow "m3/h" = VolumeRate[volume_rate::cubic_meter_per_hour];
        VolumeFlow "L/s" = VolumeRate[volume_rate::liter_per_second];
        VolumeFlow "L/min" = VolumeRate[volume_rate::liter_per_minute];
        VolumeFlow "cfm" = VolumeRate[volume_rate::cubic_foot_per_minute] within 6 digits;
        SpecificEnergy "J/kg" = AvailableEnergy[available_energy::joule_per_kilogram];
        SpecificEnergy "kJ/kg" = AvailableEnergy[available_energy::kilojoule_per_kilogram];
        SpecificEnergy "MJ/kg" = AvailableEnergy[available_energy::megajoule_per_kilogram];
        SpecificEnergy "Btu/lb" = AvailableEnergy[available_energy::btu_it_per_pound] within 7 digits;
        HeatCapacity "J/K" = HeatCapacity[heat_capacity::joule_per_kelvin];
        HeatCapacity "kJ/K" = HeatCapacity[heat_capacity::kilojoule_per_kelvin];
        ThermalConductance "W/K" = ThermalConductance[thermal_conductance::watt_per_kelvin];
        ThermalConductance "kW/K" = ThermalConductance[thermal_conductance::kilowatt_per_kelvin];
        Density "kg/m3" = MassDensity[mass_density::kilogram_per_cubic_meter];
        Density "kg/L" = MassDensity[mass_density::gram_per_cubic_centimeter];
        Density "lb/ft3" = MassDensity[mass_density::pound_per_cubic_foot] within 7 digits;
        ElectricPotential "V" = ElectricPotential[electric_potential::volt];
        ElectricPotential "kV" = ElectricPotential[electric_potential::kilovolt];
        ElectricPotential "mV" = ElectricPotential[electric_potential::millivolt];
        ElectricCurrent "A" = ElectricCurrent[electric_current::ampere];
        ElectricCurrent "mA" = ElectricCurrent[electric_current::milliampere];
        Resistance "ohm" = ElectricalResistance[electrical_resistance::ohm];
        Resistance "mohm" = ElectricalResistance[electrical_resistance::milliohm];
        Resistance "kohm" = ElectricalResistance[electrical_resistance::kiloohm];
    };
    for &(dimension, symbol, factor) in BY_DEFINITION {
        check(dimension, symbol, factor, EXACT);
    }
    // Temperature scales have a zero and are compared below.
    for unit in UNITS.iter().filter(|unit| unit.dimension != D::Temperature) {
        let row = (unit.dimension, unit.symbol);
        let defined = BY_DEFINITION
            .iter()
            .any(|&(dimension, symbol, _)| (dimension, symbol) == row);
        assert!(
            defined || compared.contains(&row),
            "no outside check for {row:?}"
        );
    }
}

#[test]
fn temperature_scales_agree_with_an_independent_units_library() {
    for written in [-459.67, -40.0, 0.0, 25.0, 77.0, 212.0, 1000.0] {
        let celsius =
            ThermodynamicTemperature::new::<thermodynamic_temperature::degree_celsius>(written)
                .value;
        let fahrenheit =
            ThermodynamicTemperature::new::<thermodynamic_temperature::degree_fahrenheit>(written)
                .value;
        let kelvin =
            ThermodynamicTemperature::new::<thermodynamic_temperature::kelvin>(written).value;
        // Absolute, in kelvin: two additions of numbers near 1000 round to about 2e-13.
        assert!((ours(D::Temperature, "°C").to_si(written) - celsius).abs() < 1e-12);
        assert!((ours(D::Temperature, "°F").to_si(written) - fahrenheit).abs() < 1e-12);
        assert_eq!(ours(D::Temperature, "K").to_si(written), kelvin);
    }
}

/// The constants the correction standards and the trade's power and torque figures rest on: exact definitions (NIST SP 811,
/// from memory; the last digits computed from the exact inch, foot and pound).
#[test]
fn defined_factors_have_all_their_digits() {
    for (dimension, symbol, factor) in [
        (D::Power, "hp", 745.699871582270),
        (D::Power, "PS", 735.49875),
        (D::Torque, "lb ft", 1.3558179483314004),
        (D::Force, "lbf", 4.4482216152605),
        (D::GaugePressure, "psi gauge", 6894.757293168),
        (D::Mass, "lb", 0.45359237),
        (D::Speed, "mph", 0.44704),
        (D::Length, "in", 0.0254),
        (D::BarometricPressure, "inHg", 3386.389),
        (D::BarometricPressure, "mmHg", 133.322387),
    ] {
        check(dimension, symbol, factor, EXACT);
    }
    // hp and lb ft cross at 33000/(2 pi) rpm; kW and N m at 60000/(2 pi) rpm (definition of power).
    let rpm = ours(D::RotationalSpeed, "rpm");
    let crossing = ours(D::Power, "hp").factor() / ours(D::Torque, "lb ft").factor();
    assert!((rpm.from_si(crossing) - 33000.0 / std::f64::consts::TAU).abs() < 1e-8);
    let atmosphere = ours(D::BarometricPressure, "inHg").from_si(101_325.0);
    // 29.9213 inHg as printed in the tables of the standard atmosphere, four decimals.
    assert!((atmosphere - 29.9213).abs() < 5e-5);
}
