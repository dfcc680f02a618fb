//! Limits met at an operating point, each with the words a shop would use.
//!
//! A limit that is reached is a result, not an error: the numbers of the point stand, and say what holds them.

/// A limit met at an operating point or at a moment of a pull.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Limit {
    /// Spark held back by knock.
    Knock,
    /// Knock model read outside its table: even the latest burn knocks, or the charge is outside its range.
    KnockTable,
    /// The belt slips beyond creep.
    BeltSlip,
    /// The blower turns faster than its maker allows.
    BlowerSpeed,
    /// The blower is too small for the engine: its bypass is open.
    BlowerBypass,
    /// The blower starves the engine.
    BlowerChoked,
    /// Less flow than the compressor map's lowest: surge.
    Surge,
    /// More flow than the compressor map's highest.
    Choke,
    /// Compressor faster than the map's fastest line.
    MapSpeed,
    /// Compressor rim faster than its material allows.
    TipSpeed,
    /// Compressor efficiency held at its floor.
    MapEfficiency,
    /// The turbine cannot hold the boost asked for, its gate shut: still spooling up, or at its end.
    BoostShort,
    /// The boost control takes boost out because knock has made the burn as late as it may be.
    BoostHeldBack,
    /// The charge cooler loses more than half of its inlet pressure.
    CoolerPressure,
    /// More liquid is metered than half of the fuel: the rest is not counted.
    SprayHeldBack,
    /// The inlet valves are close to choking.
    InletMach,
    /// The operating point did not settle; its numbers are the best found.
    Unsettled,
    /// The injectors cannot bring the fuel asked for: the mixture goes lean.
    InjectorDuty,
    /// The fuel pump cannot bring the fuel asked for: the mixture goes lean.
    FuelPump,
    /// The mixture is leaner than an engine fires on at full load.
    LeanMisfire,
    /// Exhaust gas hotter than the threshold (advisory).
    ExhaustTemperature,
    /// Cylinder pressure above the threshold (advisory).
    PeakPressure,
    /// Mean piston speed above the threshold (advisory).
    PistonSpeed,
    /// The clutch carries no more torque: it slips.
    ClutchSlip,
    /// The converter cannot hold the engine at this speed.
    ConverterCapacity,
    /// The driven tyres are at their grip.
    TyreGrip,
    /// The driven tyres turn faster than they are rated for (advisory).
    TyreSpeed,
    /// The battery holds the electric axle back.
    AxleBattery,
    /// The motor's winding temperature holds the electric axle back.
    AxleHeat,
    /// The electric axle's calibration fades it out.
    AxleTaper,
    /// The electric axle is still coming in.
    AxleRamp,
    /// The electric motor is at its highest speed.
    AxleTopSpeed,
}

impl Limit {
    /// Every limit, in the order in which they are told.
    pub const ALL: &[Self] = &[
        Self::Knock,
        Self::KnockTable,
        Self::BeltSlip,
        Self::BlowerSpeed,
        Self::BlowerBypass,
        Self::BlowerChoked,
        Self::Surge,
        Self::Choke,
        Self::MapSpeed,
        Self::TipSpeed,
        Self::MapEfficiency,
        Self::BoostShort,
        Self::BoostHeldBack,
        Self::CoolerPressure,
        Self::SprayHeldBack,
        Self::InletMach,
        Self::InjectorDuty,
        Self::FuelPump,
        Self::LeanMisfire,
        Self::ExhaustTemperature,
        Self::PeakPressure,
        Self::PistonSpeed,
        Self::Unsettled,
        Self::ClutchSlip,
        Self::ConverterCapacity,
        Self::TyreGrip,
        Self::TyreSpeed,
        Self::AxleBattery,
        Self::AxleHeat,
        Self::AxleTaper,
        Self::AxleRamp,
        Self::AxleTopSpeed,
    ];

    /// What a shop would call it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Knock => "knock holds the spark back",
            Self::KnockTable => "knock model used outside its range",
            Self::BeltSlip => "the blower belt slips",
            Self::BlowerSpeed => "blower above its rated speed",
            Self::BlowerBypass => "blower too small here, bypass open",
            Self::BlowerChoked => "blower starves the engine",
            Self::Surge => "compressor in surge",
            Self::Choke => "compressor beyond the choke side of its map",
            Self::MapSpeed => "compressor above the fastest line of its map",
            Self::TipSpeed => "compressor wheel above its rim-speed limit",
            Self::MapEfficiency => "compressor efficiency below its map",
            Self::BoostHeldBack => "boost taken out for knock",
            Self::BoostShort => "boost short of what is asked, gate shut",
            Self::CoolerPressure => "charge cooler too small for the flow",
            Self::SprayHeldBack => "more sprayed than the engine takes, the rest left out",
            Self::InletMach => "inlet valves near choking",
            Self::Unsettled => "operating point did not settle",
            Self::InjectorDuty => "the injectors are at their duty limit and the mixture goes lean",
            Self::FuelPump => "the fuel pump is at its flow and the mixture goes lean",
            Self::LeanMisfire => "the mixture is too lean to fire at full load",
            Self::ExhaustTemperature => "exhaust gas hotter than its threshold (advisory)",
            Self::PeakPressure => "cylinder pressure above its threshold (advisory)",
            Self::PistonSpeed => "mean piston speed above its threshold (advisory)",
            Self::ClutchSlip => "the clutch slips",
            Self::ConverterCapacity => "the converter cannot hold the engine at this speed",
            Self::TyreGrip => "the tyres spin on the drums",
            Self::TyreSpeed => "the tyres turn faster than they are rated for (advisory)",
            Self::AxleBattery => "the battery holds the electric axle back",
            Self::AxleHeat => "the motor's winding is hot and its torque cut",
            Self::AxleTaper => "the electric axle fades out toward its shift point",
            Self::AxleRamp => "the electric axle is still ramping up",
            Self::AxleTopSpeed => "the electric motor is at its highest speed",
        }
    }

    /// Whether the reading there is what this limit lets through, and not what the engine or motor could give.
    ///
    /// Knock is left out: nearly every engine is set against it, and its knock-limited torque is its torque.
    pub const fn caps_power(self) -> bool {
        matches!(
            self,
            Self::BeltSlip
                | Self::BlowerBypass
                | Self::BlowerChoked
                | Self::Choke
                | Self::BoostShort
                | Self::BoostHeldBack
                | Self::InjectorDuty
                | Self::FuelPump
                | Self::LeanMisfire
                | Self::ClutchSlip
                | Self::ConverterCapacity
                | Self::TyreGrip
                | Self::AxleBattery
                | Self::AxleHeat
                | Self::AxleTopSpeed
        )
    }
}

/// Thresholds past which a shop should look, though nothing in the model gives way there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Gas in the exhaust manifold, K.
    pub exhaust_k: f64,
    /// Peak cylinder pressure, Pa.
    pub peak_pa: f64,
    /// Mean piston speed, m/s.
    pub piston_speed_m_s: f64,
    /// Surface speed of the driven tyres, m/s; infinity where their rating is not known.
    pub tyre_speed_m_s: f64,
}

impl Default for Thresholds {
    /// For parts of an ordinary road engine, all common practice, no source: 980 °C, the top of the usual full-load range of
    /// 780 to 980 °C; 120 bar for cast pistons and their gasket; 25 m/s for rods and rings. A tyre's rating is never guessed.
    fn default() -> Self {
        Self {
            exhaust_k: 1253.15,
            peak_pa: 12e6,
            piston_speed_m_s: 25.0,
            tyre_speed_m_s: f64::INFINITY,
        }
    }
}

/// The limits met, in order and without repeats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Limits(u32);

impl Limits {
    /// Adds a limit if it was met.
    pub fn note(&mut self, limit: Limit, met: bool) {
        if met {
            self.0 |= 1 << limit as u32;
        }
    }

    /// Whether a limit was met.
    pub const fn contains(self, limit: Limit) -> bool {
        self.0 & (1 << limit as u32) != 0
    }

    /// Adds every limit of another set.
    pub fn join(&mut self, other: Self) {
        self.0 |= other.0;
    }

    /// The limits met.
    pub fn iter(self) -> impl Iterator<Item = Limit> {
        Limit::ALL
            .iter()
            .copied()
            .filter(move |l| self.contains(*l))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_has_a_place_of_its_own_in_a_set() {
        for &limit in Limit::ALL {
            let mut one = Limits::default();
            one.note(limit, true);
            assert_eq!(one.iter().collect::<Vec<_>>(), [limit]);
        }
        let mut all = Limits::default();
        for &limit in Limit::ALL {
            let mut one = Limits::default();
            one.note(limit, true);
            all.join(one);
        }
        assert_eq!(all.iter().count(), Limit::ALL.len());
    }
}
