//! What a column of a recording can mean, and the names it may carry.
//!
//! Names are matched as sets of words, whatever their order, case and separators: `wheel_power_corrected`, `Corrected wheel
//! power` and `wheel-power corrected` are one name. Words for gauge and absolute are taken out first. What is not in this
//! table is not read; nothing is inferred from the numbers.

use std::collections::HashMap;
use std::sync::LazyLock;

use crate::units::Dimension;

/// The meaning of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Channel {
    /// Time since any zero, s.
    Time,
    /// Label of the pull a row belongs to, where one file holds several.
    Pull,
    /// Crank speed, rad/s.
    EngineSpeed,
    /// Rotational speed of the drum, rad/s.
    DrumSpeed,
    /// Speed of the drum's surface, which is the road speed, m/s.
    RoadSpeed,
    /// Running count of the drum's encoder.
    Counts,
    /// Wheel torque referred to engine speed (wheel power / crank speed), N m.
    WheelTorque,
    /// Torque at the wheels themselves (wheel power / wheel speed), N m.
    HubTorque,
    /// Power at the wheels as measured, W.
    WheelPower,
    /// Standard error of the wheel power, W.
    WheelPowerError,
    /// Span of engine speed over which a curve was smoothed, rad/s.
    SmoothingSpan,
    /// Tractive force at the drum surface, N.
    WheelForce,
    /// Power at the wheels after a weather correction, W.
    CorrectedWheelPower,
    /// Absolute pressure in the intake manifold, Pa.
    ManifoldPressure,
    /// Gauge pressure in the intake manifold, Pa.
    Boost,
    /// Pressure of the air in the room, Pa absolute.
    AirPressure,
    /// Relative humidity of the air in the room, 0 to 1.
    Humidity,
    /// Air in the plenum, after any charge cooler, K.
    ChargeTemperature,
    /// Air entering the engine's intake, K.
    InletTemperature,
    /// Air between blower and charge cooler, K.
    BlowerOutletTemperature,
    /// K.
    CoolantTemperature,
    /// Engine oil, K.
    OilTemperature,
    /// Exhaust gas, K.
    ExhaustTemperature,
    /// Air-fuel ratio relative to stoichiometric.
    Lambda,
    /// Blower rotor or impeller shaft, rad/s.
    BlowerSpeed,
    /// Air into the engine, kg/s.
    AirFlow,
    /// Fuel burned, kg/s.
    FuelFlow,
    /// Throttle opening, 0 to 1.
    ThrottlePosition,
    /// Final spark before top dead centre, with all retard, rad.
    SparkAdvance,
    /// Spark before top dead centre as the table asks for it, rad.
    BaseSpark,
    /// What knock control takes off it, rad.
    KnockRetard,
    /// Electric machine, mechanical power, W.
    MotorPower,
    /// Electric machine, shaft torque, N m.
    MotorTorque,
    /// V.
    BatteryVoltage,
    /// Positive while discharging, A.
    BatteryCurrent,
    /// K.
    BatteryTemperature,
    /// Charge left in the battery, 0 to 1.
    StateOfCharge,
}

/// Accepted names, one row each: the words, the channel, and the unit when the name itself states it.
///
/// A name may appear for several dimensions (`drum speed` in rpm or in km/h); the unit decides.
pub(super) static NAMES: &[(&str, Channel, Option<&str>)] = &[
    ("time", Channel::Time, None),
    ("t", Channel::Time, None),
    ("elapsed time", Channel::Time, None),
    ("seconds", Channel::Time, Some("s")),
    ("pull", Channel::Pull, None),
    ("run", Channel::Pull, None),
    ("pull number", Channel::Pull, None),
    ("run number", Channel::Pull, None),
    ("engine speed", Channel::EngineSpeed, None),
    ("engine", Channel::EngineSpeed, None),
    ("crank speed", Channel::EngineSpeed, None),
    ("rpm", Channel::EngineSpeed, Some("rpm")),
    ("drum speed", Channel::DrumSpeed, None),
    ("drum", Channel::DrumSpeed, None),
    ("roller speed", Channel::DrumSpeed, None),
    ("drum speed", Channel::RoadSpeed, None),
    ("roller speed", Channel::RoadSpeed, None),
    ("drum surface speed", Channel::RoadSpeed, None),
    ("surface speed", Channel::RoadSpeed, None),
    ("road speed", Channel::RoadSpeed, None),
    ("vehicle speed", Channel::RoadSpeed, None),
    ("car speed", Channel::RoadSpeed, None),
    ("speed", Channel::RoadSpeed, None),
    ("counts", Channel::Counts, Some("1")),
    ("drum counts", Channel::Counts, Some("1")),
    ("encoder counts", Channel::Counts, Some("1")),
    ("drum pulses", Channel::Counts, Some("1")),
    ("wheel torque", Channel::WheelTorque, None),
    ("wheel torque at engine speed", Channel::WheelTorque, None),
    ("engine referred wheel torque", Channel::WheelTorque, None),
    ("hub torque", Channel::HubTorque, None),
    ("axle torque", Channel::HubTorque, None),
    ("wheel power", Channel::WheelPower, None),
    ("power at wheels", Channel::WheelPower, None),
    ("measured wheel power", Channel::WheelPower, None),
    ("uncorrected wheel power", Channel::WheelPower, None),
    ("wheel power standard error", Channel::WheelPowerError, None),
    ("smoothing span", Channel::SmoothingSpan, None),
    ("corrected wheel power", Channel::CorrectedWheelPower, None),
    ("wheel force", Channel::WheelForce, None),
    ("tractive force", Channel::WheelForce, None),
    ("drum force", Channel::WheelForce, None),
    ("roller force", Channel::WheelForce, None),
    ("roll force", Channel::WheelForce, None),
    ("manifold pressure", Channel::ManifoldPressure, None),
    ("intake manifold pressure", Channel::ManifoldPressure, None),
    ("map", Channel::ManifoldPressure, None),
    ("manifold pressure", Channel::Boost, None),
    ("intake manifold pressure", Channel::Boost, None),
    ("boost", Channel::Boost, None),
    ("boost pressure", Channel::Boost, None),
    ("air pressure", Channel::AirPressure, None),
    ("ambient pressure", Channel::AirPressure, None),
    ("barometer", Channel::AirPressure, None),
    ("barometric pressure", Channel::AirPressure, None),
    ("station pressure", Channel::AirPressure, None),
    ("humidity", Channel::Humidity, None),
    ("relative humidity", Channel::Humidity, None),
    ("charge temperature", Channel::ChargeTemperature, None),
    ("plenum temperature", Channel::ChargeTemperature, None),
    ("manifold temperature", Channel::ChargeTemperature, None),
    ("inlet temperature", Channel::InletTemperature, None),
    ("intake temperature", Channel::InletTemperature, None),
    ("air temperature", Channel::InletTemperature, None),
    ("intake air temperature", Channel::InletTemperature, None),
    ("inlet air temperature", Channel::InletTemperature, None),
    (
        "blower outlet temperature",
        Channel::BlowerOutletTemperature,
        None,
    ),
    ("coolant temperature", Channel::CoolantTemperature, None),
    ("water temperature", Channel::CoolantTemperature, None),
    ("oil temperature", Channel::OilTemperature, None),
    ("exhaust temperature", Channel::ExhaustTemperature, None),
    ("exhaust gas temperature", Channel::ExhaustTemperature, None),
    ("lambda", Channel::Lambda, Some("1")),
    ("blower speed", Channel::BlowerSpeed, None),
    ("blower", Channel::BlowerSpeed, None),
    ("turbo speed", Channel::BlowerSpeed, None),
    ("air flow", Channel::AirFlow, None),
    ("airflow", Channel::AirFlow, None),
    ("fuel flow", Channel::FuelFlow, None),
    ("fuel", Channel::FuelFlow, None),
    ("fuel mass flow", Channel::FuelFlow, None),
    ("air mass flow", Channel::AirFlow, None),
    ("throttle", Channel::ThrottlePosition, None),
    ("throttle position", Channel::ThrottlePosition, None),
    ("spark", Channel::SparkAdvance, None),
    ("spark advance", Channel::SparkAdvance, None),
    ("final spark", Channel::SparkAdvance, None),
    ("spark btdc", Channel::SparkAdvance, None),
    ("spark timing", Channel::SparkAdvance, None),
    ("ignition advance", Channel::SparkAdvance, None),
    ("ignition timing", Channel::SparkAdvance, None),
    ("base spark", Channel::BaseSpark, None),
    ("base spark advance", Channel::BaseSpark, None),
    ("knock retard", Channel::KnockRetard, None),
    ("spark retard", Channel::KnockRetard, None),
    ("motor power", Channel::MotorPower, None),
    ("motor torque", Channel::MotorTorque, None),
    ("battery voltage", Channel::BatteryVoltage, None),
    ("battery current", Channel::BatteryCurrent, None),
    ("battery temperature", Channel::BatteryTemperature, None),
    ("state of charge", Channel::StateOfCharge, None),
    ("battery charge", Channel::StateOfCharge, None),
];

impl Channel {
    /// What the column measures; [`Channel::Pull`] is a label and measures nothing.
    pub fn dimension(self) -> Option<Dimension> {
        Some(match self {
            Self::Pull => return None,
            Self::Time => Dimension::Time,
            Self::EngineSpeed | Self::DrumSpeed | Self::BlowerSpeed | Self::SmoothingSpan => {
                Dimension::RotationalSpeed
            }
            Self::RoadSpeed => Dimension::Speed,
            Self::WheelTorque | Self::HubTorque | Self::MotorTorque => Dimension::Torque,
            Self::WheelPower
            | Self::WheelPowerError
            | Self::CorrectedWheelPower
            | Self::MotorPower => Dimension::Power,
            Self::WheelForce => Dimension::Force,
            Self::ManifoldPressure => Dimension::Pressure,
            Self::Boost => Dimension::GaugePressure,
            Self::AirPressure => Dimension::BarometricPressure,
            Self::Counts
            | Self::Humidity
            | Self::Lambda
            | Self::ThrottlePosition
            | Self::StateOfCharge => Dimension::Ratio,
            Self::ChargeTemperature
            | Self::InletTemperature
            | Self::BlowerOutletTemperature
            | Self::CoolantTemperature
            | Self::OilTemperature
            | Self::ExhaustTemperature
            | Self::BatteryTemperature => Dimension::Temperature,
            Self::AirFlow | Self::FuelFlow => Dimension::MassFlow,
            Self::SparkAdvance | Self::BaseSpark | Self::KnockRetard => Dimension::Angle,
            Self::BatteryVoltage => Dimension::ElectricPotential,
            Self::BatteryCurrent => Dimension::ElectricCurrent,
        })
    }

    /// The name to write in a header, first of its accepted names that is its alone.
    pub fn name(self) -> &'static str {
        let of = |channel| {
            NAMES
                .iter()
                .filter(move |(_, c, _)| *c == channel)
                .map(|(name, _, _)| *name)
        };
        of(self)
            .find(|name| {
                NAMES
                    .iter()
                    .all(|(other, channel, _)| other != name || *channel == self)
            })
            .or_else(|| of(self).next())
            .unwrap_or_default()
    }
}

/// A channel that a name may mean, with the unit where the name has one.
type Meant = (Channel, Option<&'static str>);

/// The table of names by their words in alphabetical order.
static BY_WORDS: LazyLock<HashMap<String, Vec<Meant>>> = LazyLock::new(|| {
    let mut by_words: HashMap<String, Vec<Meant>> = HashMap::new();
    for &(name, channel, unit) in NAMES {
        let key = sorted(name.split(' '));
        by_words.entry(key).or_default().push((channel, unit));
    }
    by_words
});

/// The meanings of a name, given as lower-case words in any order.
pub(super) fn meanings(words: &[&str]) -> Vec<(Channel, Option<&'static str>)> {
    let wanted = sorted(words.iter().map(|&word| full_word(word)));
    BY_WORDS.get(&wanted).cloned().unwrap_or_default()
}

fn sorted<'w>(words: impl Iterator<Item = &'w str>) -> String {
    let mut words: Vec<&str> = words.collect();
    words.sort_unstable();
    words.join(" ")
}

/// Common shortenings inside names.
fn full_word(word: &str) -> &str {
    match word {
        "temp" => "temperature",
        "pos" => "position",
        "rel" => "relative",
        "corr" => "corrected",
        "uncorr" => "uncorrected",
        "press" => "pressure",
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn word_order_and_shortenings_do_not_matter() {
        for words in [
            &["wheel", "power", "corrected"][..],
            &["corrected", "wheel", "power"],
            &["corr", "power", "wheel"],
        ] {
            assert_eq!(meanings(words), [(Channel::CorrectedWheelPower, None)]);
        }
        assert_eq!(meanings(&["flux", "capacitor"]), []);
    }

    #[test]
    fn a_shared_name_is_told_apart_by_dimension() {
        for (name, _, _) in NAMES {
            let words: Vec<&str> = name.split(' ').collect();
            let dimensions: Vec<_> = meanings(&words)
                .into_iter()
                .map(|(channel, _)| channel.dimension())
                .collect();
            for (i, dimension) in dimensions.iter().enumerate() {
                assert!(!dimensions[i + 1..].contains(dimension), "{name}");
            }
        }
    }
}
