//! Makes the recordings under `scenarios/`: what the drums would have shown of a car that differs from its file.
//!
//! The demo shop is invented, so its pulls must come from somewhere. They come from the project's own model with a *true* car
//! whose numbers were drawn away from the file's centres, then spoiled as a rig spoils them: a stray of the visit and of
//! the pull, a bend of the curve that no number of the car explains, correlated noise, jitter of the engine-speed signal,
//! sensors with an offset, and the first moments after the throttle opens. The true numbers live here alone, so
//! a fit has to find them. Recordings are stored, not made on the fly, because a person should see files. A test makes them
//! again and compares the curves; bytes are not compared, since the last digits move with every change of the model. To store
//! them anew after the model has changed, run the test with `REMAKE_SCENARIOS=1` in the environment.
//!
//! It is no evidence for the physics: the same model makes and reads the pulls.

use pullcast::belief::Noise;
use pullcast::belief::sheet::{Sheet, standard_normal};
use pullcast::dyno::{Conditions, Pull, PullPoint, Setup};
use pullcast::files;
use pullcast::fit::observation::{MeasuredPull, Visit};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use crate::sources::root;

/// One scenario's hidden truth: who the car really is, and which visits it made.
pub(crate) struct Truth {
    /// Folder under `scenarios/`.
    folder: &'static str,
    /// Numbers of the car that are set, in standard deviations from the file's centre.
    set: &'static [(&'static str, f64)],
    /// Numbers of the plan that are set, in the same way.
    plan_set: &'static [(&'static str, f64)],
    plan: &'static str,
    seed: u64,
    sessions: &'static [Session],
}

/// A visit and how its recordings are written.
struct Session {
    visit: &'static str,
    /// Whether the planned work has been done.
    after: bool,
    /// Charge of the battery at the start where the visit does not tell the truth.
    hidden_charge: Option<f64>,
    looks: &'static [Look],
}

/// How a recording looks: samples per second and the way its columns are written.
#[derive(Clone, Copy)]
struct Look {
    hertz: f64,
    dialect: Dialect,
}

#[derive(Clone, Copy)]
enum Dialect {
    /// Comma, decimal point, units in round brackets.
    Plain,
    /// Semicolon, decimal comma, units in square brackets, torque instead of power.
    DecimalComma,
    /// Comma, a row of units below the headers, shop units.
    UnitRow,
}

const fn look(hertz: f64, dialect: Dialect) -> Look {
    Look { hertz, dialect }
}

/// Everything not set strays by this many standard deviations at random: a car is seldom odd in all its numbers at once.
const STRAY: f64 = 0.6;
/// Bend of the curve that the model cannot follow, relative.
const BEND: f64 = 0.004;
/// Noise of single power samples, relative, and its correlation from one sample to the next.
const SAMPLE_NOISE: (f64, f64) = (0.006, 0.6);
/// Jitter of the engine-speed signal, rpm.
const JITTER_RPM: f64 = 4.0;
/// Time in which the torque comes up after the throttle has opened, s.
const TIP_IN_S: f64 = 0.12;
/// Operating points at which a pull is computed before it is sampled in time.
const POINTS: usize = 70;
/// No recording is longer, samples.
const MOST_ROWS: u32 = 100_000;

/// A lively engine: it fills and burns better than the middle of its class, with a marked tuning hump.
pub(crate) const UPLAND_ESTATE: Truth = Truth {
    folder: "upland_estate",
    set: &[
        ("breathing.level", 1.0),
        ("breathing.low_hump_height", 0.8),
        ("breathing.middle_hump_height", 1.3),
        ("combustion.level", 0.7),
        ("electric_axle.peak_power", -0.8),
    ],
    plan_set: &[("volumetric_efficiency", -0.6)],
    plan: "plan_screw_blower.toml",
    seed: 20,
    sessions: &[
        Session {
            visit: "baseline.toml",
            after: false,
            hidden_charge: None,
            looks: &[
                look(40.0, Dialect::Plain),
                look(25.0, Dialect::DecimalComma),
                look(50.0, Dialect::UnitRow),
            ],
        },
        Session {
            visit: "gas_only.toml",
            after: false,
            hidden_charge: None,
            looks: &[look(25.0, Dialect::DecimalComma)],
        },
        Session {
            visit: "after.toml",
            after: true,
            hidden_charge: None,
            looks: &[look(40.0, Dialect::Plain)],
        },
        Session {
            visit: "odd.toml",
            after: false,
            hidden_charge: Some(0.15),
            looks: &[look(40.0, Dialect::Plain)],
        },
    ],
};

/// Filling better than its badge tells, and a hollow in the middle.
pub(crate) const MANUAL_COUPE: Truth = Truth {
    folder: "manual_coupe",
    set: &[
        ("breathing.level", 1.2),
        ("breathing.middle_hump_height", -0.8),
        ("breathing.high_hump_height", 1.0),
        ("combustion.level", 0.8),
    ],
    plan_set: &[],
    plan: "plan_breathing.toml",
    seed: 7,
    sessions: &[Session {
        visit: "baseline.toml",
        after: false,
        hidden_charge: None,
        looks: &[look(30.0, Dialect::Plain)],
    }],
};

pub(crate) fn folder(name: &str) -> PathBuf {
    root().join("scenarios").join(name)
}

pub(crate) fn sheet(name: &str) -> Sheet {
    let (car, _) = files::car::open(&folder(name).join("car.toml")).expect("a car file");
    car.sheet
}

pub(crate) fn visit(folder: &Path, file: &str) -> Visit {
    let (visit, _) = files::visit::open(&folder.join(file)).expect("a visit file");
    visit.visit
}

impl Truth {
    /// The true car before and after the work.
    pub(crate) fn cars(&self) -> (Setup, Setup) {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        let set_of = |set: &[(&str, f64)], name: &str| {
            set.iter().find(|(path, _)| *path == name).map(|(_, z)| *z)
        };
        let sheet = sheet(self.folder);
        let z: Vec<f64> = sheet
            .free()
            .map(|belief| {
                let stray = STRAY * standard_normal(&mut rng);
                let (low, high) = belief.prior.z_bounds();
                set_of(self.set, belief.parameter.path)
                    .unwrap_or(stray)
                    .clamp(low, high)
            })
            .collect();
        let before = sheet.setup_at(&z);
        let plan = folder(self.folder).join(self.plan);
        let (plan, _) = files::plan::open(&plan).expect("a plan file");
        let plan = plan.plan.map(|_, name, prior| {
            let stray = STRAY * standard_normal(&mut rng);
            let (low, high) = prior.z_bounds();
            prior.from_z(
                set_of(self.plan_set, name)
                    .unwrap_or(stray)
                    .clamp(low, high),
            )
        });
        let car = plan.apply(&before.car).expect("the plan fits the car");
        let after = Setup {
            car,
            drums: before.drums,
        };
        (before, after)
    }

    /// Every recording made anew: its file name and text.
    pub(crate) fn recordings(&self) -> Vec<(String, String)> {
        let (before, after) = self.cars();
        let mut made = Vec::new();
        for (index, session) in self.sessions.iter().enumerate() {
            let path = folder(self.folder).join(session.visit);
            let (file, _) = files::visit::open(&path).expect("a visit file");
            let setup = if session.after { &after } else { &before };
            let mut rig = Rig::new(self.seed + 1, index as u64);
            let mut texts: Vec<(String, String)> = Vec::new();
            let mut last: Option<Pull> = None;
            for (number, (pull, recorded)) in
                file.visit.pulls.iter().zip(&file.recordings).enumerate()
            {
                let mut pull = pull.clone();
                if let Some(charge) = session.hidden_charge {
                    pull.conditions.axle.charge = charge;
                }
                let simulated = simulate(setup, &pull, last.as_ref());
                let look = session.looks[number.min(session.looks.len() - 1)];
                let rows = rig.log(&simulated, look.hertz);
                let file_name = Path::new(&recorded.file).file_name().expect("a file");
                let file_name = file_name.to_string_lossy().into_owned();
                let fresh = texts.last().is_none_or(|(name, _)| *name != file_name);
                if fresh {
                    texts.push((file_name, String::new()));
                }
                let shared = file
                    .recordings
                    .iter()
                    .filter(|r| r.file == recorded.file)
                    .count()
                    > 1;
                let label = shared.then_some(number + 1);
                if let Some((_, text)) = texts.last_mut() {
                    write_rows(text, fresh, label, look.dialect, &rows);
                }
                last = Some(simulated);
            }
            made.extend(texts);
        }
        made
    }
}

/// A whole pull of the true car, its charge-cooler core left warm by the pull before.
fn simulate(setup: &Setup, measured: &MeasuredPull, last: Option<&Pull>) -> Pull {
    let left = match (last, &setup.car.cooler, measured.rest_s) {
        (Some(pull), Some(cooler), Some(rest)) => {
            Some(cooler.after_rest_k(pull.end.core_k, measured.day.temperature_k(), rest))
        }
        _ => None,
    };
    let redline_rpm = setup.car.engine.redline_rpm;
    let conditions = Conditions {
        from_rpm: 0.28 * redline_rpm,
        to_rpm: redline_rpm,
        core_k: measured.conditions.core_k.or(left),
        ..measured.conditions
    };
    setup
        .pull(&measured.day, &conditions, POINTS)
        .expect("the true car can make the pull")
}

/// One row of a recording, SI but for engine speed in rpm.
struct Row {
    time_s: f64,
    rpm: f64,
    power_w: f64,
    manifold_pa: f64,
    charge_k: f64,
    lambda: f64,
}

/// The rig on one visit.
struct Rig {
    rng: ChaCha8Rng,
    scale: f64,
    phase: (f64, f64),
    manifold_offset_pa: f64,
    charge_offset_k: f64,
}

impl Rig {
    fn new(seed: u64, session: u64) -> Self {
        // The bend belongs to the car on this rig: all visits share it.
        let mut shared = ChaCha8Rng::seed_from_u64(seed);
        let phase = (standard_normal(&mut shared), standard_normal(&mut shared));
        let (manifold_offset_pa, charge_offset_k) = (
            400.0 * standard_normal(&mut shared),
            1.5 * standard_normal(&mut shared),
        );
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(session + 1);
        let scale = (Noise::default().visit * standard_normal(&mut rng)).exp();
        Self {
            rng,
            scale,
            phase,
            manifold_offset_pa,
            charge_offset_k,
        }
    }

    /// Samples a pull in time.
    fn log(&mut self, pull: &Pull, hertz: f64) -> Vec<Row> {
        let scale = self.scale * (Noise::default().pull * self.normal()).exp();
        let start = pull.points.first().expect("points").time_s;
        let end = pull.points.last().expect("points").time_s;
        let (sd, correlation) = SAMPLE_NOISE;
        let fresh = (1.0 - correlation * correlation).sqrt();
        let mut noise = self.normal();
        (0..MOST_ROWS)
            .map(|sample| f64::from(sample) / hertz)
            .take_while(|time_s| start + time_s <= end)
            .map(|time_s| {
                let at = |of: &dyn Fn(&PullPoint) -> f64| in_time(pull, start + time_s, of);
                let open = 1.0 - (-time_s / TIP_IN_S).exp();
                let rpm = at(&|p| p.rpm);
                let share = rpm / pull.points.last().expect("points").rpm;
                let bend = (7.0 * share + self.phase.0).sin() + (13.0 * share + self.phase.1).sin();
                noise = correlation * noise + fresh * self.normal();
                let full = at(&|p| p.power_w) * scale * (1.0 + BEND * bend);
                let manifold_pa = at(&|p| p.engine.manifold_pa);
                Row {
                    time_s,
                    rpm: rpm + JITTER_RPM * self.normal(),
                    power_w: full * open * (1.0 + sd * noise),
                    manifold_pa: manifold_pa * (0.45 + 0.55 * open)
                        + self.manifold_offset_pa
                        + 250.0 * self.normal(),
                    charge_k: at(&|p| p.sensor_k) + self.charge_offset_k + 0.2 * self.normal(),
                    lambda: at(&|p| p.engine.cylinder.lambda) + 0.004 * self.normal(),
                }
            })
            .collect()
    }

    fn normal(&mut self) -> f64 {
        standard_normal(&mut self.rng)
    }
}

/// A reading at a time of the pull, on the straight line between computed points.
fn in_time(pull: &Pull, time_s: f64, of: &dyn Fn(&PullPoint) -> f64) -> f64 {
    let after = pull
        .points
        .iter()
        .position(|p| p.time_s >= time_s)
        .unwrap_or(pull.points.len() - 1)
        .max(1);
    let (a, b) = (&pull.points[after - 1], &pull.points[after]);
    let share = (time_s - a.time_s) / (b.time_s - a.time_s);
    of(a) + share * (of(b) - of(a))
}

/// Appends a pull's rows, with headers above the first.
fn write_rows(
    text: &mut String,
    fresh: bool,
    label: Option<usize>,
    dialect: Dialect,
    rows: &[Row],
) {
    let labelled = if label.is_some() { "pull" } else { "" };
    let heads: &[&[&str]] = match dialect {
        Dialect::Plain => &[&[
            labelled,
            "time (s)",
            "engine speed (rpm)",
            "wheel power (kW)",
            "manifold pressure absolute (kPa)",
            "charge temperature (°C)",
            "lambda",
        ]],
        Dialect::DecimalComma => &[&[
            labelled,
            "Time [s]",
            "Engine speed [1/min]",
            "Wheel torque at engine speed [Nm]",
            "Manifold pressure absolute [mbar]",
            "Charge temperature [°C]",
            "Lambda",
        ]],
        Dialect::UnitRow => &[
            &[
                labelled,
                "Time",
                "RPM",
                "Wheel Power",
                "Manifold Pressure Absolute",
                "Charge Temp",
                "Lambda",
            ],
            &["", "s", "rpm", "hp", "psi", "°F", "-"],
        ],
    };
    let separator = if matches!(dialect, Dialect::DecimalComma) {
        ";"
    } else {
        ","
    };
    let skipped = usize::from(label.is_none());
    if fresh {
        for head in heads {
            text.push_str(&head[skipped..].join(separator));
            text.push('\n');
        }
    }
    for row in rows {
        let celsius = row.charge_k - 273.15;
        let (power, pressure, temperature) = match dialect {
            Dialect::Plain => (
                format!("{:.2}", row.power_w / 1e3),
                format!("{:.1}", row.manifold_pa / 1e3),
                format!("{celsius:.1}"),
            ),
            Dialect::DecimalComma => (
                format!(
                    "{:.1}",
                    row.power_w / (row.rpm * std::f64::consts::PI / 30.0)
                ),
                format!("{:.0}", row.manifold_pa / 1e2),
                format!("{celsius:.1}"),
            ),
            // 1 hp = 550 ft lbf/s = 745.6999 W and 1 psi = 6894.757 Pa (NIST SP 811).
            Dialect::UnitRow => (
                format!("{:.1}", row.power_w / 745.699_9),
                format!("{:.2}", row.manifold_pa / 6894.757),
                format!("{:.1}", 1.8 * celsius + 32.0),
            ),
        };
        let mut fields: Vec<String> = label.map(|n| n.to_string()).into_iter().collect();
        fields.extend([
            format!("{:.3}", row.time_s),
            format!("{:.0}", row.rpm),
            power,
            pressure,
            temperature,
            format!("{:.3}", row.lambda),
        ]);
        let line = fields.join(separator);
        let line = match dialect {
            Dialect::DecimalComma => line.replace('.', ","),
            Dialect::Plain | Dialect::UnitRow => line,
        };
        writeln!(text, "{line}").expect("a String takes all");
    }
}

/// Power over engine speed of two visits, compared band by band: the largest relative difference.
fn largest_difference(stored: &Visit, made: &Visit) -> f64 {
    assert_eq!(stored.pulls.len(), made.pulls.len(), "{}", stored.name);
    let mut largest: f64 = 0.0;
    for (stored, made) in stored.pulls.iter().zip(&made.pulls) {
        for band in &stored.curve.bands {
            // Bands begin where a pull begins, so their middles differ a little; neighbours are joined by a line.
            let after = made.curve.bands.iter().position(|b| b.rpm >= band.rpm);
            let Some(after) = after.filter(|&i| i > 0) else {
                continue;
            };
            let (a, b) = (&made.curve.bands[after - 1], &made.curve.bands[after]);
            let share = (band.rpm - a.rpm) / (b.rpm - a.rpm);
            let there = a.power_w + share * (b.power_w - a.power_w);
            largest = largest.max((there / band.power_w - 1.0).abs());
        }
    }
    largest
}

/// Half the repeatability of a pull: a difference that large would not be seen on a rig, so the stored pulls still tell
/// the truth of this model.
const STALE: f64 = 0.0035;

fn holds(truth: &Truth) {
    let home = folder(truth.folder);
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let remake = std::env::var_os("REMAKE_SCENARIOS").is_some();
    for (name, text) in truth.recordings() {
        std::fs::write(scratch.path().join(&name), &text).expect("a scratch file");
        if remake {
            std::fs::write(home.join(&name), text).expect("the recording is replaced");
        }
    }
    for session in truth.sessions {
        std::fs::copy(home.join(session.visit), scratch.path().join(session.visit))
            .expect("the visit file");
        let difference = largest_difference(
            &visit(&home, session.visit),
            &visit(scratch.path(), session.visit),
        );
        assert!(
            difference < STALE,
            "{}/{}: the model has moved by {:.2} % since these recordings were made; \
             run this test once with REMAKE_SCENARIOS=1 and look at the new quote",
            truth.folder,
            session.visit,
            100.0 * difference
        );
    }
}

#[test]
fn the_estates_recordings_are_what_the_model_makes_of_its_true_car() {
    holds(&UPLAND_ESTATE);
}

#[test]
fn the_coupes_recordings_are_what_the_model_makes_of_its_true_car() {
    holds(&MANUAL_COUPE);
}
