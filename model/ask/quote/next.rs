//! The next measurement: by how much each log that a shop can make before the work would narrow this very range.
//!
//! Every draw is a car that could be the one on the drums, with its gain and with what its logs would show. How far the logs of the draws tell
//! their gains is how much the range narrows once the log is there, for a posterior that is nearly normal. What a sensor strays is counted;
//! what the model misses is not narrowed by any log before the work, and so stands against all of them.

use crate::belief::Noise;
use crate::dyno::{Pull, PullPoint};
use crate::fit::calibration::{Channel, spark_deg};
use crate::fit::observation::Visit;
use nalgebra::{DMatrix, DVector};
use serde::Serialize;

/// A log made before the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Log {
    /// Final spark.
    Spark,
    /// Fuel flow.
    FuelFlow,
    /// Air flow.
    AirFlow,
    /// Manifold pressure.
    ManifoldPressure,
    /// Charge temperature.
    ChargeTemperature,
    /// Drum speed beside the engine's, for the slip of the tyres.
    DrumSpeed,
    /// A coast-down, for what gears and tyres take.
    CoastDown,
}

impl Log {
    /// All.
    pub const ALL: [Self; 7] = [
        Self::Spark,
        Self::FuelFlow,
        Self::AirFlow,
        Self::ManifoldPressure,
        Self::ChargeTemperature,
        Self::DrumSpeed,
        Self::CoastDown,
    ];

    /// What it would show.
    fn shows(self, point: &PullPoint) -> f64 {
        let engine = &point.engine;
        match self {
            Self::Spark => spark_deg(engine),
            Self::FuelFlow => engine.cylinder.fuel_kg_s.ln(),
            Self::AirFlow => engine.air_kg_s.ln(),
            Self::ManifoldPressure => engine.manifold_pa,
            Self::ChargeTemperature => point.sensor_k,
            Self::DrumSpeed => point.engine_per_drum.ln(),
            Self::CoastDown => ((point.power_w - point.electric_w) / engine.ledger.brake_w()).ln(),
        }
    }

    /// The channel that a fit reads it as.
    const fn channel(self) -> Option<Channel> {
        match self {
            Self::Spark => Some(Channel::Spark),
            Self::FuelFlow => Some(Channel::Fuel),
            Self::AirFlow => Some(Channel::Air),
            Self::ManifoldPressure => Some(Channel::Manifold),
            Self::ChargeTemperature => Some(Channel::Charge),
            Self::DrumSpeed => Some(Channel::DrumRatio),
            Self::CoastDown => None,
        }
    }

    /// How far it strays as a whole, and from speed to speed.
    fn strays(self, noise: &Noise) -> (f64, f64) {
        let sensor = self.channel().and_then(|channel| channel.sensor(noise));
        sensor.map_or(COAST_DOWN, |sensor| (sensor.offset, sensor.shape))
    }

    /// Those that visits hold already.
    pub(super) fn made(visits: &[Visit]) -> Vec<Self> {
        let pulls = || visits.iter().flat_map(|visit| &visit.pulls);
        let told = |channel: Channel| pulls().any(|pull| channel.told_by(&pull.curve.bands));
        let made = |log: &Self| log.channel().is_some_and(told);
        Self::ALL.into_iter().filter(made).collect()
    }
}

/// What a coast-down leaves open of the share that gears and tyres take under load: it turns them without. No source, assumed.
const COAST_DOWN: (f64, f64) = (0.01, 0.005);
/// Engine speeds over the redline at which a log is looked at.
const AT: [f64; 3] = [0.45, 0.70, 0.95];
/// Narrowing below this is lost in the noise of a few hundred draws.
const LEAST: f64 = 0.03;

/// What the logs of one draw would show: a row for each, in their order.
pub(super) type Shown = [[f64; AT.len()]; Log::ALL.len()];

/// Reads it off the pull before.
pub(super) fn shown(before: &Pull) -> Shown {
    let top = before.points.last().map_or(0.0, |p| p.rpm);
    Log::ALL.map(|log| AT.map(|share| before.reading(share * top, |p| log.shows(p))))
}

/// By how much a log would narrow the range.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Narrowing {
    /// The log.
    pub log: Log,
    /// Share of the width of the range of the gain that it takes away.
    pub narrows: f64,
}

/// Logs that would narrow the range and are not made yet, most first.
///
/// ```text
/// narrowing = 1 − √(1 − R²),   R² = cᵀ (C + S)⁻¹ c/var(gain)
/// ```
///
/// C and c: covariance over the drawn cars of what a log shows, and of that with the mean gain of their readings; S: of what the sensor strays. R² is
/// set right for the count of cars. Every car has as many readings.
/// Source: regression of the gain on the log (linear Bayes, textbook; from memory).
/// Equation (8.13).
pub(super) fn narrowings(
    logs: &[Shown],
    gains: &[f64],
    noise: &Noise,
    made: &[Log],
) -> Vec<Narrowing> {
    let n = logs.len() as f64;
    let readings = gains.len() / logs.len().max(1);
    let mean = |of_car: &[f64]| of_car.iter().sum::<f64>() / readings as f64;
    let variance_of = |values: &DVector<f64>| values.norm_squared() / values.len() as f64;
    let variance = variance_of(&centred(gains.to_vec()));
    let gains = centred(gains.chunks(readings.max(1)).map(mean).collect());
    let of_cars = variance_of(&gains);
    let mut found: Vec<Narrowing> = Log::ALL
        .into_iter()
        .filter(|log| !made.contains(log))
        .filter_map(|log| {
            let column = |k: usize| centred(logs.iter().map(|l| l[log as usize][k]).collect());
            let columns: Vec<DVector<f64>> = (0..AT.len()).map(column).collect();
            let (whole, each) = log.strays(noise);
            let covariance = DMatrix::from_fn(AT.len(), AT.len(), |i, j| {
                let own = if i == j { each * each } else { 0.0 };
                columns[i].dot(&columns[j]) / n + whole * whole + own
            });
            let with = DVector::from_fn(AT.len(), |i, _| columns[i].dot(&gains) / n);
            let told = covariance.cholesky()?.solve(&with).dot(&with) / of_cars;
            let k = AT.len() as f64;
            let told = 1.0 - (1.0 - told) * (n - 1.0) / (n - k - 1.0);
            let told = told * of_cars / variance;
            let narrows = 1.0 - (1.0 - told.clamp(0.0, 1.0)).sqrt();
            (narrows >= LEAST).then_some(Narrowing { log, narrows })
        })
        .collect();
    found.sort_by(|a, b| b.narrows.total_cmp(&a.narrows));
    found
}

fn centred(values: Vec<f64>) -> DVector<f64> {
    let values = DVector::from_vec(values);
    let mean = values.mean();
    values.add_scalar(-mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_log_narrows_by_what_it_tells_of_the_gain() {
        let noise = Noise::default();
        // Every pair of signs alike often: what the log shows and what it does not are uncorrelated, exactly.
        let (shown, hidden) = (0.08, 0.03);
        let draws: Vec<(f64, f64)> = (0..400)
            .map(|i| {
                let sign = |bit: i32| if i >> bit & 1 == 0 { -1.0 } else { 1.0 };
                (sign(0), sign(1))
            })
            .collect();
        let logs: Vec<Shown> = draws
            .iter()
            .map(|(told, _)| {
                let mut log = [[1.0; AT.len()]; Log::ALL.len()];
                log[Log::AirFlow as usize] = [shown * told; AT.len()];
                log
            })
            .collect();
        // Two readings of each car, to either side of its gain: what strays between them no log tells.
        let strays = 0.04;
        let gains: Vec<f64> = draws
            .iter()
            .flat_map(|(a, b)| [strays, -strays].map(|stray| hidden * (a + b) + stray))
            .collect();
        let found = narrowings(&logs, &gains, &noise, &[]);
        // Nobody is told to make what was made.
        assert!(narrowings(&logs, &gains, &noise, &[Log::AirFlow]).is_empty());
        let [narrowing] = found[..] else {
            panic!("one log tells something: {found:?}");
        };
        assert_eq!(narrowing.log, Log::AirFlow);
        // Half of the gain's variance is in the log, three readings of which stray together by w and each by e:
        // R² = ½ σ²/(σ² + w² + e²/3), set right for 400 draws and three columns.
        let (w, e) = (noise.air_flow.offset, noise.air_flow.shape);
        let told = 0.5 * shown * shown / (shown * shown + w * w + e * e / 3.0);
        let told = 1.0 - (1.0 - told) * 399.0 / 396.0;
        let of_cars = 2.0 * hidden * hidden;
        let told = told * of_cars / (of_cars + strays * strays);
        let expected = 1.0 - (1.0 - told).sqrt();
        // Rounding of a 3 by 3 solution.
        assert!(
            (narrowing.narrows - expected).abs() < 1e-9,
            "{narrowing:?} for {expected}"
        );
    }
}
