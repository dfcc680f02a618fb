//! Limits met at an operating point, each with the words a shop would use.
//!
//! A limit that is reached is a result, not an error: the numbers of the point stand, and say what holds them.

/// A limit met at an operating point.
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
    /// The charge cooler loses more than half of its inlet pressure.
    CoolerPressure,
    /// The inlet valves are close to choking.
    InletMach,
    /// The operating point did not settle; its numbers are the best found.
    Unsettled,
}

impl Limit {
    /// Every limit, in order.
    pub const ALL: [Self; 15] = [
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
        Self::CoolerPressure,
        Self::InletMach,
        Self::Unsettled,
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
            Self::BoostShort => "boost short of what is asked, gate shut",
            Self::CoolerPressure => "charge cooler too small for the flow",
            Self::InletMach => "inlet valves near choking",
            Self::Unsettled => "operating point did not settle",
        }
    }
}

/// The limits met, in order and without repeats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Limits(u16);

impl Limits {
    /// Adds a limit if it was met.
    pub fn note(&mut self, limit: Limit, met: bool) {
        if met {
            self.0 |= 1 << limit as u16;
        }
    }

    /// Whether a limit was met.
    pub const fn contains(self, limit: Limit) -> bool {
        self.0 & (1 << limit as u16) != 0
    }

    /// The limits met.
    pub fn iter(self) -> impl Iterator<Item = Limit> {
        Limit::ALL.into_iter().filter(move |l| self.contains(*l))
    }
}
