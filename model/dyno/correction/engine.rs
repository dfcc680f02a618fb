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

impl Fuelling {
    /// From the fuel flow of a four-stroke engine.
    ///
    /// ```text
    /// q = 120000 (g/s)/(litre rpm),   q_c = q/r
    /// ```
    ///
    /// with r the absolute pressure after the compressor over ambient (1 unboosted). In SI:
    /// `q = 2·60/rpm · ṁ/V`.
    /// Source: an industrial diesel service manual quoting ISO 15550. Worked: 14.2 l, 1900 rpm,
    /// 16.3 g/s, r 2.28 gives 31.80.
    /// Equation (7.4).
    pub fn four_stroke(
        fuel_kg_s: f64,
        displacement_m3: f64,
        speed_rpm: f64,
        boost_ratio: f64,
    ) -> Self {
        // kg/m³ per cycle is g/l, so 1000 mg/l.
        let per_cycle_kg_m3 = 120.0 * fuel_kg_s / (speed_rpm * displacement_m3);
        Self {
            qc_mg_l: 1000.0 * per_cycle_kg_m3 / boost_ratio,
        }
    }
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
