//! The ways in which a cause shows in a log: most have one, a few have several that leave different traces.
//!
//! Exists so that each way is weighed by itself, and the cause as the mean of its ways. It refuses sizes: they belong to the cause.

use crate::dyno::correction::Standard;
use serde::Serialize;

/// One way in which a cause shows; most causes have one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "form", content = "standard", rename_all = "snake_case")]
pub enum Form {
    /// The only way.
    Plain,
    /// The corrected column was made with this standard.
    CorrectedWith(Standard),
    /// The uncorrected column holds power already corrected with this standard.
    AlreadyCorrected(Standard),
    /// The rig was told another gear than the one driven.
    WrongEntry,
    /// The rig works with another number than the one noted down as entered.
    NotAsNoted,
    /// Another gear was driven than the one known.
    Driven,
    /// Another gear was driven, and entered as it was.
    DrivenAsEntered,
    /// Wheels slip by whatever share the log shows, at any load.
    AnyLoad,
    /// Spark is held back over the whole range.
    WholeRange,
    /// The foot came up for a moment and went down again.
    Passing,
    /// An open converter takes less torque at a speed than it did.
    OpenConverter,
    /// The signal of engine speed is late.
    SpeedSignal,
    /// The signal of engine speed counts wrongly: it shows the true speed times a number.
    SpeedScale,
    /// The signal of charge temperature is slower than usual.
    TemperatureSignal,
}
