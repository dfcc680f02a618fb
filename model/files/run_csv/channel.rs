//! What a column of a recording can mean.

use crate::units::Dimension;

/// Channels, each with its name and what it measures.
macro_rules! channels {
    ($($(#[$doc:meta])* $variant:ident $name:literal $dimension:expr;)*) => {
        /// The meaning of a column.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Channel { $($(#[$doc])* $variant,)* }

        impl Channel {
            /// All of them.
            pub const ALL: &[Self] = &[$(Self::$variant,)*];

            /// The name to write in a header.
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// What the column measures; [`Channel::Pull`] is a label and measures nothing.
            pub fn dimension(self) -> Option<Dimension> {
                match self { $(Self::$variant => $dimension,)* }
            }
        }
    };
}

channels! {
    /// Time since any zero, s.
    Time "time" Some(Dimension::Time);
    /// Label of the pull a row belongs to, where one file holds several.
    Pull "pull" None;
    /// Crank speed, rad/s.
    EngineSpeed "engine speed" Some(Dimension::RotationalSpeed);
    /// Rotational speed of the drum, rad/s.
    DrumSpeed "drum speed" Some(Dimension::RotationalSpeed);
    /// Speed of the drum's surface, which is the road speed, m/s.
    RoadSpeed "road speed" Some(Dimension::Speed);
    /// Running count of the drum's encoder.
    Counts "drum counts" Some(Dimension::Ratio);
    /// Wheel torque referred to engine speed (wheel power / crank speed), N m.
    WheelTorque "wheel torque" Some(Dimension::Torque);
    /// Torque at the wheels themselves (wheel power / wheel speed), N m.
    HubTorque "hub torque" Some(Dimension::Torque);
    /// Power at the wheels as measured, W.
    WheelPower "wheel power" Some(Dimension::Power);
    /// Standard error of the wheel power, W.
    WheelPowerError "wheel power standard error" Some(Dimension::Power);
    /// Span of engine speed over which a curve was smoothed, rad/s.
    SmoothingSpan "smoothing span" Some(Dimension::RotationalSpeed);
    /// Tractive force at the drum surface, N.
    WheelForce "wheel force" Some(Dimension::Force);
    /// Force of the rig's brake at the drum surface, without what the drums' inertia takes, N.
    BrakeForce "brake force" Some(Dimension::Force);
    /// Torque at the drum's shaft (wheel power / drum speed), N m.
    DrumTorque "drum torque" Some(Dimension::Torque);
    /// Power at the wheels after a weather correction, W.
    CorrectedWheelPower "corrected wheel power" Some(Dimension::Power);
    /// Wheel torque referred to engine speed after a weather correction, N m.
    CorrectedWheelTorque "corrected wheel torque" Some(Dimension::Torque);
    /// Power at the crank, W.
    CrankPower "crank power" Some(Dimension::Power);
    /// Torque at the crank, N m.
    CrankTorque "crank torque" Some(Dimension::Torque);
    /// Power at the crank after a weather correction, W.
    CorrectedCrankPower "corrected crank power" Some(Dimension::Power);
    /// Torque at the crank after a weather correction, N m.
    CorrectedCrankTorque "corrected crank torque" Some(Dimension::Torque);
    /// Absolute pressure in the intake manifold, Pa.
    ManifoldPressure "manifold pressure" Some(Dimension::Pressure);
    /// Gauge pressure in the intake manifold, Pa.
    Boost "boost" Some(Dimension::GaugePressure);
    /// Pressure of the air in the room, Pa absolute.
    AirPressure "air pressure" Some(Dimension::BarometricPressure);
    /// Relative humidity of the air in the room, 0 to 1.
    Humidity "humidity" Some(Dimension::Ratio);
    /// Air in the plenum, after any charge cooler, K.
    ChargeTemperature "charge temperature" Some(Dimension::Temperature);
    /// Air entering the engine's intake, K.
    InletTemperature "inlet temperature" Some(Dimension::Temperature);
    /// Air between blower and charge cooler, K.
    BlowerOutletTemperature "blower outlet temperature" Some(Dimension::Temperature);
    /// K.
    CoolantTemperature "coolant temperature" Some(Dimension::Temperature);
    /// Engine oil, K.
    OilTemperature "oil temperature" Some(Dimension::Temperature);
    /// Exhaust gas, K.
    ExhaustTemperature "exhaust temperature" Some(Dimension::Temperature);
    /// Air-fuel ratio relative to stoichiometric.
    Lambda "lambda" Some(Dimension::Ratio);
    /// Blower rotor or impeller shaft, rad/s.
    BlowerSpeed "blower speed" Some(Dimension::RotationalSpeed);
    /// Air into the engine, kg/s.
    AirFlow "air flow" Some(Dimension::MassFlow);
    /// Fuel burned, kg/s.
    FuelFlow "fuel flow" Some(Dimension::MassFlow);
    /// Throttle opening, 0 to 1.
    ThrottlePosition "throttle" Some(Dimension::Ratio);
    /// Final spark before top dead centre, with all retard, rad.
    SparkAdvance "spark" Some(Dimension::Angle);
    /// Electric machine, mechanical power, W.
    MotorPower "motor power" Some(Dimension::Power);
    /// Electric machine, shaft torque, N m.
    MotorTorque "motor torque" Some(Dimension::Torque);
    /// V.
    BatteryVoltage "battery voltage" Some(Dimension::ElectricPotential);
    /// Positive while discharging, A.
    BatteryCurrent "battery current" Some(Dimension::ElectricCurrent);
    /// K.
    BatteryTemperature "battery temperature" Some(Dimension::Temperature);
    /// Charge left in the battery, 0 to 1.
    StateOfCharge "state of charge" Some(Dimension::Ratio);
}

impl Channel {
    /// The channel of a name as [`Channel::name`] writes it.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL
            .iter()
            .copied()
            .find(|channel| channel.name() == name)
    }

    /// Whether something is computed from it: a curve, a fit, a diagnosis. What nothing is computed from is worth no question.
    pub fn is_used(self) -> bool {
        matches!(
            self,
            Self::Time
                | Self::EngineSpeed
                | Self::DrumSpeed
                | Self::RoadSpeed
                | Self::Counts
                | Self::WheelTorque
                | Self::WheelPower
                | Self::WheelForce
                | Self::BrakeForce
                | Self::DrumTorque
                | Self::CorrectedWheelPower
                | Self::CorrectedWheelTorque
                | Self::CrankPower
                | Self::CrankTorque
                | Self::ManifoldPressure
                | Self::Boost
                | Self::ChargeTemperature
                | Self::Lambda
                | Self::SparkAdvance
                | Self::FuelFlow
                | Self::AirFlow
                | Self::BlowerSpeed
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_leads_back_to_its_channel() {
        for &channel in Channel::ALL {
            assert_eq!(Channel::named(channel.name()), Some(channel));
        }
        assert_eq!(Channel::named("flux capacitor"), None);
    }
}
