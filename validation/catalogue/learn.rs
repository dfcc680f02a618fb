//! Empirical Bayes: centres and doubts of a few physical numbers, learned from what tables say of many engines.
//!
//! Near the solution what a table prints of an engine is linear in the numbers; engines stray in each of them by a doubt of its own, and
//! by the catalogue's doubts in everything else. The numbers follow by generalised least squares under weak beliefs, which pools what
//! the tables cannot tell apart; the doubts are those of the greatest evidence. Linearised once with all engines; whoever leaves
//! some out solves anew without them.

use crate::curve;
use crate::describe::{self, Boost};
use crate::draws;
use crate::table::{Engine, Fuelling};
use nalgebra::{DMatrix, DVector};
use pullcast::belief::sheet::Sheet;
use pullcast::belief::{Prior, parameter};
use pullcast::dyno::Setup;
use pullcast::numeric::side_by_side;

/// Numbers of one engine that are learned, in this order: logarithm of the level of filling, logarithm of the speed past which it falls over
/// the redline, work, tilt, friction at 10 m/s in kPa; and of a turbocharged one logarithms of knock delay and boost over 100 kPa, share of
/// the boost left at the redline, logarithm of the turbine's area over the usual one.
const EFFECTS: usize = 9;
pub(crate) type Effects = [f64; EFFECTS];
const LEVEL: usize = 0;
const FADE: usize = 1;
const WORK: usize = 2;
const TILT: usize = 3;
const FRICTION: usize = 4;
const KNOCK: usize = 5;
const BOOST: usize = 6;
const LEFT: usize = 7;
const TURBINE: usize = 8;
/// Those of a natural engine come first.
const NATURAL: usize = 5;
/// Differences by which slopes are taken.
const STEPS: Effects = [0.02, 0.03, 0.01, 0.02, 6.0, 0.1, 0.04, 0.05, 0.08];

/// Doubts: of each effect on one engine, of the slope at rated speed and of the speed of peak torque.
const DOUBTS: usize = EFFECTS + 2;
pub(crate) type Doubts = [f64; DOUBTS];
/// What they are thought to be, each within a factor of two.
const USUAL_DOUBTS: Doubts = [
    0.06, 0.10, 0.04, 0.05, 17.0, 0.35, 0.12, 0.12, 0.2, 0.05, 0.10,
];
const DOUBT_OF_DOUBTS: f64 = 0.7;

/// One number to learn: what it adds to an effect, and what is believed of it before any table is seen.
pub(crate) struct Number {
    pub(crate) name: &'static str,
    pub(crate) mean: f64,
    pub(crate) sd: f64,
    effect: usize,
    of: fn(&Engine) -> f64,
}

/// Half for two inlet valves or more, minus half for one, nothing where the table does not say.
fn valves(engine: &Engine) -> f64 {
    engine
        .inlet_valves
        .map_or(0.0, |count| if count >= 2 { 0.5 } else { -0.5 })
}

fn carburettor(engine: &Engine) -> f64 {
    f64::from(u8::from(engine.fuelling == Fuelling::Carburettor))
}

const fn number(
    name: &'static str,
    (mean, sd): (f64, f64),
    effect: usize,
    of: fn(&Engine) -> f64,
) -> Number {
    Number {
        name,
        mean,
        sd,
        effect,
        of,
    }
}

/// The numbers. Those without doubt are what the catalogue has; only engines stray from them.
pub(crate) const NUMBERS: [Number; 12] = [
    number("ln level of filling", (0.03, 0.15), LEVEL, |_| 1.0),
    number("two inlet valves over one", (0.0, 0.10), LEVEL, valves),
    number("carburettor", (0.0, 0.10), LEVEL, carburettor),
    number(
        "ln speed of the fall over redline",
        (-0.1, 0.2),
        FADE,
        |_| 1.0,
    ),
    number("work", (0.81, 1e-6), WORK, |_| 1.0),
    number("tilt", (0.0, 1e-6), TILT, |_| 1.0),
    number("friction", (45.0, 1e-4), FRICTION, |_| 1.0),
    number("ln knock delay, turbocharged", (0.4, 0.35), KNOCK, |_| 1.0),
    number("ln boost over 100 kPa in 2000", (-0.3, 0.3), BOOST, |_| 1.0),
    number("the same, per decade", (0.1, 0.15), BOOST, |e| {
        (e.year - 2000.0) / 10.0
    }),
    number("boost left at the redline", (0.8, 0.2), LEFT, |_| 1.0),
    number(
        "ln turbine area over the usual",
        (-0.7, 0.3),
        TURBINE,
        |_| 1.0,
    ),
];

/// What was learned.
#[derive(Debug, Clone)]
pub(crate) struct Learned {
    pub(crate) numbers: DVector<f64>,
    pub(crate) doubts: Doubts,
}

fn effects(engine: &Engine, numbers: &DVector<f64>) -> Effects {
    let mut effects = [0.0; EFFECTS];
    for (number, value) in NUMBERS.iter().zip(numbers.iter()) {
        effects[number.effect] += value * (number.of)(engine);
    }
    effects
}

fn boost(effects: &Effects) -> Boost {
    Boost {
        gauge_pa: 1e5 * effects[BOOST].exp(),
        at_redline: effects[LEFT].clamp(0.1, 1.5),
        turbine: effects[TURBINE].exp(),
    }
}

/// The engine with numbers at these effects, and nothing learned in doubt unless doubts are given.
fn at_effects(engine: &Engine, effects: &Effects, doubts: Option<&Doubts>) -> Sheet {
    let sd = |effect: usize| doubts.map_or(1e-6, |doubts| doubts[effect].max(1e-6));
    let of = |path: &'static str, prior: Result<Prior, _>| {
        (
            path,
            prior.unwrap_or_else(|e: pullcast::belief::PriorError| panic!("{path}: {e}")),
        )
    };
    let level = effects[LEVEL].exp();
    let kpa = 100.0;
    let mut more = vec![
        of(
            "breathing.level",
            Prior::normal(level, sd(LEVEL) * level, 0.4, 1.8),
        ),
        of(
            "breathing.fade_speed",
            Prior::log_normal(effects[FADE].exp(), sd(FADE), 0.1, 3.0),
        ),
        of(
            "combustion.level",
            Prior::normal(effects[WORK], sd(WORK), 0.4, 1.0),
        ),
        of(
            "breathing.tilt",
            Prior::normal(effects[TILT], sd(TILT), -0.4, 0.4),
        ),
        of(
            "friction.linear",
            Prior::normal(
                kpa * effects[FRICTION],
                kpa * sd(FRICTION),
                0.0,
                150.0 * kpa,
            ),
        ),
    ];
    if engine.turbo {
        let area_m2 = turbine_area_m2(engine, &boost(effects));
        more.extend([
            of(
                "combustion.knock_delay",
                Prior::log_normal(effects[KNOCK].exp(), sd(KNOCK), 0.2, 6.0),
            ),
            of(
                "blower.boost_factor",
                Prior::log_normal(1.0, sd(BOOST), 0.3, 3.0),
            ),
            of(
                "blower.turbine_area",
                Prior::log_normal(area_m2, sd(TURBINE), 0.1 * area_m2, 10.0 * area_m2),
            ),
        ]);
    }
    describe::sheet(engine, &more, &boost(effects))
}

/// A bare car of the engine with what was learned in place of the catalogue's defaults.
pub(crate) fn sheet(engine: &Engine, learned: &Learned) -> Sheet {
    at_effects(
        engine,
        &effects(engine, &learned.numbers),
        Some(&learned.doubts),
    )
}

/// A bare car of the engine as the program describes it; boost, which no table holds, as learned.
pub(crate) fn in_use(engine: &Engine, learned: &Learned) -> Sheet {
    let effects = effects(engine, &learned.numbers);
    let mut more = Vec::new();
    if engine.turbo {
        let path = "blower.boost_factor";
        let bounds = parameter::find(path).map_or((0.5, 2.0), parameter::Parameter::bounds);
        let factor = Prior::log_normal(1.0, learned.doubts[BOOST], bounds.0, bounds.1);
        more.push((path, factor.expect("a spread inside its bounds")));
    }
    describe::sheet(engine, &more, &boost(&effects))
}

/// What the tables say: logarithm of torque at rated speed, its slope there (that of a peak of power), logarithm of peak torque, and of a
/// natural engine that of its speed over the rated one, of a turbocharged one that of torque at the speed printed for its peak.
fn said(engine: &Engine) -> Vec<f64> {
    let (power_w, rpm) = engine.power;
    let mut said = vec![(power_w / pullcast::units::rad_s(rpm)).ln(), -1.0];
    if let Some((torque_nm, torque_rpm)) = engine.torque {
        let fourth = if engine.turbo {
            torque_nm
        } else {
            torque_rpm / rpm
        };
        said.extend([torque_nm.ln(), fourth.ln()]);
    }
    said
}

/// Torque at a speed, by the parabola through the three nearest points.
fn at(curve: &[(f64, f64)], rpm: f64) -> f64 {
    let step = curve[1].0 - curve[0].0;
    let i = curve
        .partition_point(|p| p.0 + 0.5 * step < rpm)
        .clamp(1, curve.len() - 2);
    let x = (rpm - curve[i].0) / step;
    let (a, b, c) = (curve[i - 1].1, curve[i].1, curve[i + 1].1);
    b + 0.5 * x * (c - a) + 0.5 * x * x * (a - 2.0 * b + c)
}

/// Area of the turbine that a boost makes usual for the engine.
fn turbine_area_m2(engine: &Engine, turbo: &Boost) -> f64 {
    let bare = describe::sheet(engine, &[], turbo).centre;
    let turbine = bare.car.blower.turbo().map(|t| t.turbine);
    turbine.map_or(0.0, |t| t.effective_area_m2)
}

/// Half the distance over which the slope at rated speed is taken, relative.
const REACH: f64 = 0.04;

/// The same of the model; `None` where it gives no power.
fn seen(engine: &Engine, setup: &Setup) -> Option<Vec<f64>> {
    let torques = curve::curve(setup);
    let peaks = curve::peaks(setup, &torques)?;
    let rpm = engine.power.1;
    let (low, high) = (1.0 - REACH, 1.0 + REACH);
    let slope = (at(&torques, high * rpm) / at(&torques, low * rpm)).ln() / (high / low).ln();
    let mut seen = vec![at(&torques, rpm).ln(), slope];
    if let Some((_, torque_rpm)) = engine.torque {
        let fourth = if engine.turbo {
            at(&torques, torque_rpm)
        } else {
            peaks.torque.1 / rpm
        };
        seen.extend([peaks.torque.0.ln(), fourth.ln()]);
    }
    Some(seen)
}

/// One engine near the solution.
#[derive(Debug, Clone)]
pub(crate) struct Linear {
    gap: DVector<f64>,
    slopes: DMatrix<f64>,
    design: DMatrix<f64>,
    rest: DMatrix<f64>,
    knows_valves: bool,
}

fn linear(engine: &Engine, numbers: &DVector<f64>, rest: &DMatrix<f64>) -> Option<Linear> {
    let here = effects(engine, numbers);
    let of = |effects: &Effects| seen(engine, &at_effects(engine, effects, None).centre);
    let centre = of(&here)?;
    let rows = centre.len();
    let mut slopes = DMatrix::zeros(rows, EFFECTS);
    for effect in 0..if engine.turbo { EFFECTS } else { NATURAL } {
        let (mut up, mut down) = (here, here);
        up[effect] += STEPS[effect];
        down[effect] -= STEPS[effect];
        let (up, down) = (of(&up)?, of(&down)?);
        for row in 0..rows {
            slopes[(row, effect)] = (up[row] - down[row]) / (2.0 * STEPS[effect]);
        }
    }
    let mut design = DMatrix::zeros(EFFECTS, NUMBERS.len());
    for (column, number) in NUMBERS.iter().enumerate() {
        design[(number.effect, column)] = (number.of)(engine);
    }
    let gap = said(engine)
        .iter()
        .zip(&centre)
        .map(|(said, model)| said - model)
        .collect();
    Some(Linear {
        gap: DVector::from_vec(gap),
        slopes,
        design,
        rest: rest.clone(),
        knows_valves: engine.inlet_valves.is_some(),
    })
}

/// Draws for the covariance of everything that is not learned.
const REST_DRAWS: u64 = 16;

/// Covariance of what is seen under all doubts that are not learned.
fn rest(engine: &Engine, numbers: &DVector<f64>) -> DMatrix<f64> {
    let sheet = at_effects(engine, &effects(engine, numbers), None);
    let drawn: Vec<DVector<f64>> = (0..REST_DRAWS)
        .filter_map(|draw| seen(engine, &draws::car(&sheet, draw)))
        .map(DVector::from_vec)
        .collect();
    let rows = said(engine).len();
    let mean =
        drawn.iter().fold(DVector::zeros(rows), |sum, x| sum + x) / drawn.len().max(1) as f64;
    let mut covariance = DMatrix::zeros(rows, rows);
    for x in &drawn {
        let away = x - &mean;
        covariance += &away * away.transpose();
    }
    covariance / (drawn.len() as f64 - 1.0).max(1.0)
}

/// Doubt of the level of an engine whose valves nobody knows.
const UNKNOWN_VALVES: f64 = 0.055;
/// Variance of what a catalogue's rounding leaves.
const ROUNDING: f64 = 1e-6;

impl Linear {
    fn covariance(&self, doubts: &Doubts) -> DMatrix<f64> {
        let mut sum = self.rest.clone();
        let mut stray = |effect: usize, sd: f64| {
            let column = self.slopes.column(effect);
            sum += sd * sd * column * column.transpose();
        };
        for (effect, sd) in doubts.iter().enumerate().take(EFFECTS) {
            stray(effect, *sd);
        }
        if !self.knows_valves {
            stray(LEVEL, UNKNOWN_VALVES);
        }
        sum[(1, 1)] += doubts[EFFECTS].powi(2);
        if sum.nrows() > 3 {
            sum[(3, 3)] += doubts[EFFECTS + 1].powi(2);
        }
        for row in 0..sum.nrows() {
            sum[(row, row)] += ROUNDING;
        }
        sum
    }
}

/// Squared distance per row beyond which a row counts less: no engine of its kind would make it.
const WILD: f64 = 3.0;

/// Step of the numbers from where they stand, and the logarithm of the evidence.
fn solve(
    all: &[&Linear],
    numbers: &DVector<f64>,
    doubts: &Doubts,
    believed: &[(f64, f64)],
) -> (DVector<f64>, f64) {
    let count = NUMBERS.len();
    let mut normal = DMatrix::zeros(count, count);
    let mut right = DVector::zeros(count);
    for (row, (mean, sd)) in believed.iter().enumerate() {
        normal[(row, row)] += sd.powi(-2);
        right[row] += (mean - numbers[row]) / (sd * sd);
    }
    let mut parts = Vec::new();
    for engine in all {
        let factor = engine.covariance(doubts).cholesky().expect("a covariance");
        let x = &engine.slopes * &engine.design;
        let distance = engine.gap.dot(&factor.solve(&engine.gap));
        let weight = (WILD * engine.gap.len() as f64 / distance.max(1e-9))
            .sqrt()
            .min(1.0);
        normal += weight * x.transpose() * factor.solve(&x);
        right += weight * x.transpose() * factor.solve(&engine.gap);
        parts.push((engine, factor, x, weight));
    }
    let normal = normal.cholesky().expect("beliefs make it definite");
    let step = normal.solve(&right);
    let log_det = |lower: DMatrix<f64>| 2.0 * lower.diagonal().iter().map(|x| x.ln()).sum::<f64>();
    let mut evidence = -0.5 * log_det(normal.l());
    for (engine, factor, x, weight) in parts {
        let left = &engine.gap - x * &step;
        evidence -= 0.5 * weight * (log_det(factor.l()) + left.dot(&factor.solve(&left)));
    }
    for (row, (mean, sd)) in believed.iter().enumerate() {
        evidence -= 0.5 * ((numbers[row] + step[row] - mean) / sd).powi(2);
    }
    for (doubt, usual) in doubts.iter().zip(USUAL_DOUBTS) {
        evidence -= 0.5 * ((doubt / usual).ln() / DOUBT_OF_DOUBTS).powi(2);
    }
    (step, evidence)
}

/// Factors by which doubts are moved, ever finer, while the evidence grows.
const FACTORS: [f64; 6] = [1.4, 1.4, 1.12, 1.12, 1.03, 1.03];

/// Doubts of the greatest evidence.
fn doubts(
    all: &[&Linear],
    numbers: &DVector<f64>,
    believed: &[(f64, f64)],
    from: Doubts,
) -> Doubts {
    let mut best = from;
    let evidence = |doubts: &Doubts| solve(all, numbers, doubts, believed).1;
    let mut reached = evidence(&best);
    for factor in FACTORS {
        for which in 0..DOUBTS {
            for factor in [factor, 1.0 / factor] {
                loop {
                    let mut moved = best;
                    moved[which] *= factor;
                    let there = evidence(&moved);
                    if there <= reached + 1e-9 {
                        break;
                    }
                    (best, reached) = (moved, there);
                }
            }
        }
    }
    best
}

/// Engines near the solution, and the solution.
pub(crate) struct Study {
    pub(crate) learned: Learned,
    all: Vec<Option<Linear>>,
    believed: Vec<(f64, f64)>,
}

/// Steps toward the solution, and the furthest that a linear guess is trusted in the sds of what is believed.
const ROUNDS: u32 = 5;
const TRUSTED: f64 = 0.6;

impl Study {
    /// Learns from all engines, what is believed of the numbers coming first.
    pub(crate) fn of(engines: &[&Engine], believed: Vec<(f64, f64)>) -> Self {
        let mut numbers = DVector::from_iterator(NUMBERS.len(), believed.iter().map(|b| b.0));
        let rests = side_by_side(engines.len(), |i| rest(engines[i], &numbers));
        let mut found = USUAL_DOUBTS;
        let mut all = Vec::new();
        for round in 0..ROUNDS {
            all = side_by_side(engines.len(), |i| linear(engines[i], &numbers, &rests[i]));
            let near: Vec<&Linear> = all.iter().flatten().collect();
            found = doubts(&near, &numbers, &believed, found);
            if round + 1 == ROUNDS {
                break;
            }
            let (step, _) = solve(&near, &numbers, &found, &believed);
            let far = step
                .iter()
                .zip(&believed)
                .map(|(s, b)| (s / b.1).abs())
                .fold(0.0, f64::max);
            numbers += step * (TRUSTED / far.max(1e-9)).min(1.0);
        }
        let mut study = Self {
            learned: Learned {
                numbers,
                doubts: found,
            },
            all,
            believed,
        };
        study.learned = study.without(&vec![false; engines.len()]);
        study
    }

    /// The solution when some engines are left out: numbers and doubts without them.
    pub(crate) fn without(&self, left_out: &[bool]) -> Learned {
        let kept: Vec<&Linear> = self
            .all
            .iter()
            .zip(left_out)
            .filter(|(_, out)| !**out)
            .filter_map(|(linear, _)| linear.as_ref())
            .collect();
        let numbers = &self.learned.numbers;
        let doubts = doubts(&kept, numbers, &self.believed, self.learned.doubts);
        let (step, _) = solve(&kept, numbers, &doubts, &self.believed);
        Learned {
            numbers: numbers + step,
            doubts,
        }
    }
}
