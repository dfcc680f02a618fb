//! What a weather standard asks about the engine: how it is lit, how it is charged, its friction
//! share and its fuel per cycle.

use serde::Serialize;

/// How the mixture is lit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Ignition {
    /// By spark.
    Spark,
    /// By compression.
    Compression,
}

impl Ignition {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Spark, Self::Compression];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Spark => "spark ignition",
            Self::Compression => "compression ignition",
        }
    }
}

/// How the air gets in. The standards group mechanically driven blowers with unboosted engines,
/// because boost then follows the ambient.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Charging {
    /// By the piston alone.
    Unboosted,
    /// By a blower that the crankshaft drives.
    Mechanical,
    /// By a turbocharger, uncooled or with a cooler in the ambient air.
    Turbo,
    /// By a turbocharger, with a cooler in the engine's coolant.
    TurboCoolantCooled,
}

impl Charging {
    /// All.
    pub const ALL: [Self; 4] = [
        Self::Unboosted,
        Self::Mechanical,
        Self::Turbo,
        Self::TurboCoolantCooled,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Unboosted => "unboosted",
            Self::Mechanical => "mechanically charged",
            Self::Turbo => "turbocharged",
            Self::TurboCoolantCooled => "turbocharged, charge cooled by engine coolant",
        }
    }
}

/// Kind of engine, as far as a standard distinguishes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct EngineKind {
    /// How the mixture is lit.
    pub ignition: Ignition,
    /// How the air gets in.
    pub charging: Charging,
}

impl EngineKind {
    /// Spark ignition, unboosted.
    pub const SPARK_UNBOOSTED: Self = Self {
        ignition: Ignition::Spark,
        charging: Charging::Unboosted,
    };
}

/// Fuel per cycle and litre of swept volume, divided by the boost pressure ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fuelling {
    /// `q_c`, mg per litre and cycle.
    pub qc_mg_l: f64,
}

/// The engine under test, as far as a factor needs it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Subject {
    /// Kind of engine.
    pub engine: EngineKind,
    /// Mechanical efficiency at the test, where it is known.
    pub mechanical_efficiency: Option<f64>,
    /// Fuel per cycle, where it is known (compression ignition).
    pub fuelling: Option<Fuelling>,
}

impl Subject {
    /// An engine of which only the kind is known.
    pub const fn of(engine: EngineKind) -> Self {
        Self {
            engine,
            mechanical_efficiency: None,
            fuelling: None,
        }
    }
}
