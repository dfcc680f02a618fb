//! What a log holds, and what this car should have written into it.
//!
//! A pull becomes curves over engine speed, one a logged channel, and a handful of facts about the rig. What the model says of
//! them is set right by what it missed in good pulls of the same car, so that only differences between pulls are explained, not
//! the model's own errors. It refuses to judge: how far they may stray is [`super::noise`]'s.

use crate::air::Day;
use crate::air::atmosphere::standard_atmosphere;
use crate::dyno::correction::engine::EngineKind;
use crate::dyno::correction::{Correction, Standard, Subject};
use crate::dyno::{Band, Pull, PullPoint, Setup};
use crate::fit::observation::MeasuredPull;
use crate::numeric::straight_held;
use crate::units;
use serde::Serialize;
use std::f64::consts::SQRT_2;

/// What was typed into the rig for a pull, and where its engine speed comes from.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Entered {
    /// Moment of inertia of the drums, kg m².
    pub drum_inertia_kg_m2: Option<f64>,
    /// Gear times final drive.
    pub overall_ratio: Option<f64>,
    /// Standard that the corrected column claims.
    pub standard: Option<Standard>,
    /// Where engine speed comes from.
    pub speed_source: SpeedSource,
    /// Altitude of the room, m.
    pub altitude_m: Option<f64>,
    /// Charge of the electric axle's battery that is stated for the start.
    pub charge: Option<f64>,
}

/// Where a log's engine speed comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SpeedSource {
    /// A pick-up on the engine, or its controller.
    #[default]
    Own,
    /// Computed from drum speed and the ratios entered.
    FromDrum,
}

/// A pull with what was entered for it.
#[derive(Debug, Clone, Copy)]
pub struct Trial<'a> {
    /// The pull.
    pub pull: &'a MeasuredPull,
    /// What was entered.
    pub entered: Entered,
}

/// A curve over engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Channel {
    /// Natural logarithm of power at the drums in W.
    Power,
    /// Absolute manifold pressure, Pa.
    #[serde(rename = "manifold_pressure")]
    Manifold,
    /// Charge temperature, K.
    #[serde(rename = "charge_temperature")]
    Charge,
    /// Relative air-fuel ratio.
    Lambda,
    /// Spark before top dead centre, deg.
    Spark,
    /// Natural logarithm of engine speed over drum speed.
    DrumRatio,
    /// Natural logarithm of blower speed over engine speed.
    BlowerRatio,
}

impl Channel {
    /// All, in order.
    pub const ALL: [Self; 7] = [
        Self::Power,
        Self::Manifold,
        Self::Charge,
        Self::Lambda,
        Self::Spark,
        Self::DrumRatio,
        Self::BlowerRatio,
    ];

    /// What a band of a log says.
    pub(super) fn measured(self, band: &Band) -> Option<f64> {
        match self {
            Self::Power => (band.power_w > 0.0).then(|| band.power_w.ln()),
            Self::Manifold => band.manifold_pa,
            Self::Charge => band.charge_k,
            Self::Lambda => band.lambda,
            Self::Spark => band.spark_deg,
            Self::DrumRatio => band.engine_per_drum.filter(|r| *r > 0.0).map(f64::ln),
            Self::BlowerRatio => band.blower_per_engine.filter(|r| *r > 0.0).map(f64::ln),
        }
    }

    /// What a simulated pull says at an engine speed; nothing for a blower that is not there.
    pub(super) fn simulated(self, setup: &Setup, pull: &Pull, rpm: f64) -> Option<f64> {
        if self == Self::BlowerRatio && setup.car.blower.drive().is_none() {
            return None;
        }
        let of = |point: &PullPoint| match self {
            Self::Power => point.power_w.max(1.0).ln(),
            Self::Manifold => point.engine.manifold_pa,
            Self::Charge => point.sensor_k,
            Self::Lambda => point.engine.cylinder.lambda,
            // A degree of spark moves half the burn by about one; what lies between them is the car's own, and known from its good pulls.
            Self::Spark => -point.engine.cylinder.ca50_deg,
            Self::DrumRatio => point.engine_per_drum.ln(),
            Self::BlowerRatio => {
                let engine_rad_s = units::rad_s(point.rpm);
                (point.engine.blower.speed_rad_s / engine_rad_s)
                    .max(1e-6)
                    .ln()
            }
        };
        Some(pull.reading(rpm, of))
    }
}

/// A fact about the rig, zero where everything is as it should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fact {
    /// Inertia that power and drum speed imply, over that of good pulls; logarithm.
    ImpliedInertia,
    /// The same at engine speed, where drum speed is not logged.
    EngineInertia,
    /// Inertia typed in over that of the drums; logarithm.
    TypedInertia,
    /// Ratio typed in over the car's; logarithm.
    TypedRatio,
    /// Correction applied over that of the standard declared; logarithm.
    AppliedFactor,
    /// Pressure entered less that usual at this altitude, or at good pulls; Pa.
    Pressure,
}

impl Fact {
    /// All.
    pub const ALL: [Self; 6] = [
        Self::ImpliedInertia,
        Self::EngineInertia,
        Self::TypedInertia,
        Self::TypedRatio,
        Self::AppliedFactor,
        Self::Pressure,
    ];
}

/// One curve of the odd pull.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pub(super) channel: Channel,
    /// Engine speeds as reported, rpm.
    pub(super) rpm: Vec<f64>,
    pub(super) measured: Vec<f64>,
}

/// What good pulls left between log and model, channel by channel.
#[derive(Debug, Clone)]
pub(super) struct Misfit {
    /// For every channel of [`Channel::ALL`]: the misfits of every good pull that has it.
    runs: Vec<Vec<Vec<(f64, f64)>>>,
    /// Visits that have it.
    visits: Vec<usize>,
}

impl Misfit {
    /// From good pulls and their simulations.
    pub(super) fn of(setup: &Setup, visits: &[Vec<(Trial<'_>, Pull)>]) -> Self {
        let has = |channel: Channel, trial: &Trial<'_>| {
            let bands = trial.pull.curve.bands.iter();
            bands.filter_map(|b| channel.measured(b)).nth(1).is_some()
        };
        let with = |channel: Channel| {
            let having = visits
                .iter()
                .filter(|visit| visit.iter().any(|(trial, _)| has(channel, trial)));
            having.count()
        };
        let runs = Channel::ALL
            .into_iter()
            .map(|channel| {
                visits
                    .iter()
                    .flatten()
                    .map(|(trial, pull)| {
                        let bands = trial.pull.curve.bands.iter();
                        bands
                            .filter_map(|band| {
                                let said = channel.simulated(setup, pull, band.rpm)?;
                                Some((band.rpm, channel.measured(band)? - said))
                            })
                            .collect::<Vec<_>>()
                    })
                    .filter(|points: &Vec<_>| points.len() > 1)
                    .collect()
            })
            .collect();
        Self {
            runs,
            visits: Channel::ALL.map(with).to_vec(),
        }
    }

    /// How many visits have good pulls with a channel.
    pub(super) fn visits(&self, channel: Channel) -> usize {
        self.visits[channel as usize]
    }

    /// How many good pulls have a channel.
    pub(super) fn count(&self, channel: Channel) -> usize {
        self.runs[channel as usize].len()
    }

    /// Mean misfit of every good pull with a channel.
    pub(super) fn levels(&self, channel: Channel) -> Vec<f64> {
        let mean = |points: &Vec<(f64, f64)>| {
            points.iter().map(|p| p.1).sum::<f64>() / points.len() as f64
        };
        self.runs[channel as usize].iter().map(mean).collect()
    }

    /// Engine speeds that all good pulls with a channel cover, rpm; nothing without one.
    pub(super) fn range(&self, channel: Channel) -> Option<(f64, f64)> {
        let runs = &self.runs[channel as usize];
        let low = runs.iter().map(|points| points[0].0).reduce(f64::max)?;
        let high = runs
            .iter()
            .map(|points| points[points.len() - 1].0)
            .reduce(f64::min)?;
        Some((low, high))
    }

    /// The mean misfit at an engine speed; zero without good pulls.
    /// Equation (10.1).
    pub(super) fn at(&self, channel: Channel, rpm: f64) -> f64 {
        let runs = &self.runs[channel as usize];
        if runs.is_empty() {
            return 0.0;
        }
        runs.iter().map(|points| smooth(points, rpm)).sum::<f64>() / runs.len() as f64
    }
}

/// Engine speeds on each side over which a misfit is smoothed, rpm.
const SMOOTH_RPM: f64 = 150.0;

/// A straight line through the points near an engine speed, the nearer the weightier; held at the ends.
///
/// Points stray from band to band. Read between them they would be averaged and read on them not, and a cause that only shifts
/// engine speed a little would be preferred for that.
/// Equation (10.1).
fn smooth(points: &[(f64, f64)], rpm: f64) -> f64 {
    let x = rpm.clamp(points[0].0, points[points.len() - 1].0);
    let [mut s0, mut s1, mut s2, mut t0, mut t1] = [0.0; 5];
    let first = points.partition_point(|p| p.0 <= x - SMOOTH_RPM);
    let near = points[first..].iter().take_while(|p| p.0 < x + SMOOTH_RPM);
    for (at, value) in near {
        let u = (at - x) / SMOOTH_RPM;
        let w = (1.0 - u.abs()).max(0.0);
        s0 += w;
        s1 += w * u;
        s2 += w * u * u;
        t0 += w * value;
        t1 += w * u * value;
    }
    let det = s0 * s2 - s1 * s1;
    if det > 1e-9 * s0 * s0 {
        (s2 * t0 - s1 * t1) / det
    } else {
        straight_held(points, x)
    }
}

/// The curves of a pull.
pub(super) fn curves(pull: &MeasuredPull, setup: &Setup) -> Vec<Curve> {
    Channel::ALL
        .into_iter()
        .filter(|c| *c != Channel::BlowerRatio || setup.car.blower.drive().is_some())
        .filter_map(|channel| {
            let points: Vec<(f64, f64)> = pull
                .curve
                .bands
                .iter()
                .filter_map(|band| Some((band.rpm, channel.measured(band)?)))
                .collect();
            let (rpm, measured) = points.into_iter().unzip();
            let curve = Curve {
                channel,
                rpm,
                measured,
            };
            (curve.rpm.len() >= LEAST_BANDS).then_some(curve)
        })
        .collect()
}

/// A curve of fewer bands says too little about a shape.
const LEAST_BANDS: usize = 6;

/// The logarithm of a standard's factor on a day; nothing where it needs more than the air.
pub(super) fn log_factor(standard: Standard, day: &Day) -> Option<f64> {
    let subject = Subject::of(EngineKind::SPARK_UNBOOSTED);
    let factor = Correction::new(standard, *day, &subject).ok()?.factor;
    (factor > 0.0).then(|| factor.ln())
}

/// Standard deviation of an inertia that a log implies, about that of another pull; logarithm. Good pulls of recorded cars
/// repeat to half of it.
const IMPLIED_SD: f64 = 0.002;
/// The same at engine speed, into which the slip of tyres and rounded engine speeds go: good pulls of the recorded cars repeat to 0.15 %, the
/// demo's, whose rig is noisier, to 0.7 %.
const ENGINE_INERTIA_SD: f64 = 0.012;
/// Rounding of what people type.
const TYPED_SD: f64 = 0.001;
/// The same against the car file, which may round otherwise.
const FILE_SD: f64 = 0.01;
/// Rounding of columns, and small differences in how programs work a factor out.
const FACTOR_SD: f64 = 0.0008;
/// Standard deviation of station pressure about the standard atmosphere's, Pa: the weather of mid-latitudes (common practice, no
/// source); and of what a barometer reads from pull to pull of a visit (no source).
const WEATHER_PA: f64 = 1_100.0;
const SAME_VISIT_PA: f64 = 200.0;

/// The facts of a pull, each with its value and how far it strays in an honest pull of the same visit or another.
pub(super) fn facts(
    odd: &Trial<'_>,
    good: &[Trial<'_>],
    setup: &Setup,
    same_visit: bool,
) -> Vec<(Fact, f64, f64)> {
    let mut out = Vec::new();
    let mean = |values: Vec<f64>| {
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
    };
    let of_good =
        |of: &dyn Fn(&Trial<'_>) -> Option<f64>| mean(good.iter().filter_map(of).collect());
    // A brake that leads the pull sets how fast the drum gathers speed, and drag added back is no inertia: neither log tells it.
    let tells = setup.drums.machine.brake.is_none() && !setup.drums.drag_added_back;
    let implied = |t: &Trial<'_>| t.pull.curve.rig.implied_inertia_kg_m2.map(f64::ln);
    if let (true, Some(here)) = (tells, implied(odd)) {
        let known = setup.drums.inertia_kg_m2.ln();
        let (there, sd) = of_good(&implied).map_or((known, FILE_SD), |there| (there, IMPLIED_SD));
        out.push((Fact::ImpliedInertia, here - there, sd));
    } else if tells && setup.car.driveline.open_converter().is_none() {
        let implied = |t: &Trial<'_>| t.pull.curve.rig.engine_inertia_kg_m2.map(f64::ln);
        if let (Some(here), Some(there)) = (implied(odd), of_good(&implied)) {
            out.push((Fact::EngineInertia, here - there, ENGINE_INERTIA_SD));
        }
    }
    // What was entered for good pulls was right, or wrong alike; the car file stands in where nothing was noted.
    let against = |here: Option<f64>, there: Option<f64>, file: f64| {
        let off = here?.ln() - there.unwrap_or_else(|| file.ln());
        Some((off, if there.is_some() { TYPED_SD } else { FILE_SD }))
    };
    let inertia = |t: &Trial<'_>| t.entered.drum_inertia_kg_m2.map(f64::ln);
    let typed = odd.entered.drum_inertia_kg_m2;
    if let Some((off, sd)) = against(typed, of_good(&inertia), setup.drums.inertia_kg_m2) {
        out.push((Fact::TypedInertia, off, sd));
    }
    // Where engine speed is measured a ratio changes nothing in the log; that it is not that of the good pulls is still a wrong entry.
    let ratio = |t: &Trial<'_>| t.entered.overall_ratio.map(f64::ln);
    let there = of_good(&ratio);
    if odd.entered.speed_source == SpeedSource::FromDrum || there.is_some() {
        let known = setup.car.driveline.train.ratio();
        if let Some((off, sd)) = against(odd.entered.overall_ratio, there, known) {
            out.push((Fact::TypedRatio, off, sd));
        }
    }
    let applied = |t: &Trial<'_>| {
        let declared = log_factor(t.entered.standard?, &t.pull.day)?;
        Some(t.pull.curve.rig.applied_factor?.ln() - declared)
    };
    if let Some(here) = applied(odd) {
        let there = of_good(&applied).unwrap_or(0.0);
        out.push((Fact::AppliedFactor, here - there, FACTOR_SD));
    }
    // On the same day the good pulls tell the room's pressure, unless they were entered wrong alike; on another, the altitude does.
    let of_room = of_good(&|t| Some(t.pull.day.station().pa()));
    let standard = odd.entered.altitude_m.and_then(standard_atmosphere);
    let usual = match (of_room, standard) {
        (Some(pa), _) if same_visit => Some((pa, SAME_VISIT_PA)),
        (_, Some(air)) => Some((air.station.pa(), WEATHER_PA)),
        // Two days stray from each other by more than one from the mean.
        (Some(pa), None) => Some((pa, WEATHER_PA * SQRT_2)),
        (None, None) => None,
    };
    if let Some((usual_pa, sd)) = usual {
        out.push((Fact::Pressure, odd.pull.day.station().pa() - usual_pa, sd));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_misfit_is_read_as_it_is_and_held_outside() {
        let points: Vec<(f64, f64)> = (0..40)
            .map(|i| {
                let rpm = 2000.0 + 100.0 * f64::from(i);
                (rpm, 1e-5 * rpm)
            })
            .collect();
        for rpm in [2000.0, 2013.0, 3456.0, 5900.0] {
            assert!((smooth(&points, rpm) - 1e-5 * rpm).abs() < 1e-12, "{rpm}");
        }
        assert!((smooth(&points, 9000.0) - 0.059).abs() < 1e-12);
        // Two bands far apart are joined by a line.
        let two = [(2000.0, 0.0), (4000.0, 0.02)];
        assert!((smooth(&two, 3000.0) - 0.01).abs() < 1e-12);
    }

    #[test]
    fn lines_between_points_end_with_them() {
        let points = [(2000.0, 0.01), (3000.0, 0.03)];
        let at = [1000.0, 2000.0, 2500.0, 3000.0, 9000.0].map(|rpm| straight_held(&points, rpm));
        for (found, expected) in at.iter().zip([0.01, 0.01, 0.02, 0.03, 0.03]) {
            assert!((found - expected).abs() < 1e-15, "{at:?}");
        }
    }
}
