//! Operating point, pull, fit and quote: the pieces that set how long a shop waits. One core.

use divan::Bencher;
use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::ask::basis::Air;
use pullcast::ask::quote::Question;
use pullcast::belief::Noise;
use pullcast::belief::Prior;
use pullcast::belief::parameter;
use pullcast::belief::sheet::{Belief, Origin, Sheet};
use pullcast::belief::typical;
use pullcast::boost::{BeltDrive, PositiveDisplacement, RotorKind};
use pullcast::car::{Blower, Facts, OnADay, Slow};
use pullcast::cooling::charge_cooler::{ChargeCooler, HeatSink};
use pullcast::diagnose::{self, Entered, Trial};
use pullcast::driveline::gears::{Drive, Gearbox};
use pullcast::dyno::{Band, Conditions, Coupling, Curve, Drums, Setup};
use pullcast::engine::knock_map::KnockMap;
use pullcast::files;
use pullcast::fit::fitted::calibrate;
use pullcast::fit::observation::{MeasuredPull, ReadAt, Visit};
use pullcast::fuel::Fuel;
use pullcast::parts::{Change, Exhaust, Plan};
use std::path::Path;

/// Points of one curve, as a shop's log reduced to a hundred bands has.
const BANDS: usize = 100;

fn day() -> Day {
    Day::from_relative_humidity(StationPressure::from_pa(97_000.0), 291.15, 0.55)
        .expect("a possible day")
}

fn facts() -> Facts {
    Facts {
        name: "six".into(),
        cylinders: 6,
        bore_m: 0.084,
        stroke_m: 0.0896,
        compression_ratio: 10.2,
        inlet_valves: 2,
        fuelling: pullcast::car::Fuelling::Injection,
        redline_rpm: 6800.0,
        fuel: Fuel::petrol(95.0, None),
        drive: Drive::Rear,
        gearbox: Gearbox::Manual,
        gear_ratio: 1.3,
        final_ratio: 3.5,
        tyre_radius_m: 0.32,
    }
}

fn setup(blown: bool) -> Setup {
    let mut car = typical(facts());
    if blown {
        let machine = PositiveDisplacement::typical(RotorKind::Screw, 1.2e-3, 2200.0);
        let drive = BeltDrive::of_overall_ratio(2.1, 0.075);
        car.blower = Blower::Displacement { machine, drive };
        car.cooler = Some(ChargeCooler::rated(0.75, 0.3, 15e3, HeatSink::Water));
    }
    let drums = Drums {
        inertia_kg_m2: 250.0,
        radius_m: 0.5,
        drag_n: 35.0,
        drag_n_s2_m2: 0.014,
        drag_added_back: false,
        coupling: Coupling::Single,
        drag_n_s_m: 0.0,
        machine: pullcast::dyno::drums::Machine::default(),
    };
    Setup { car, drums }
}

fn sheet() -> Sheet {
    let mut setup = setup(false);
    let known = [
        "engine.bore",
        "engine.stroke",
        "engine.compression_ratio",
        "engine.redline",
        "fuel.research_octane",
        "fuel.motor_octane",
        "driveline.gear",
        "driveline.final_drive",
        "wheels.tyre_radius",
        "drums.inertia",
        "drums.radius",
    ];
    let given: Vec<Belief> = known
        .into_iter()
        .filter_map(|path| {
            let parameter = parameter::find(path)?;
            let value = *(parameter.slot)(&mut setup)?;
            let prior = Prior::fixed(value).ok()?;
            Some(Belief {
                parameter,
                prior,
                origin: Origin::Given,
            })
        })
        .collect();
    Sheet::new(setup, &given).expect("a whole car")
}

/// Three pulls of a car that fills 3 % better than believed, with all channels.
fn visit(sheet: &Sheet) -> Visit {
    let mut truth = sheet.centre.clone();
    truth.car.engine.breathing.level *= 1.03;
    visit_of(&truth)
}

/// Three pulls of a car as it is.
fn visit_of(truth: &Setup) -> Visit {
    let redline_rpm = truth.car.engine.redline_rpm;
    let conditions = Conditions::rested(redline_rpm);
    let pull = truth.pull(&day(), &conditions, 28).expect("a pull");
    let bands: Vec<Band> = (0..BANDS)
        .map(|k| {
            let rpm = 2100.0 + (redline_rpm - 2200.0) * k as f64 / (BANDS - 1) as f64;
            let power_w = pull.reading(rpm, |p| p.power_w);
            Band {
                rpm,
                power_w,
                power_se_w: 0.003 * power_w,
                manifold_pa: Some(pull.reading(rpm, |p| p.engine.manifold_pa)),
                charge_k: Some(pull.reading(rpm, |p| p.sensor_k)),
                lambda: Some(pull.reading(rpm, |p| p.engine.cylinder.lambda)),
                engine_per_drum: None,
                blower_per_engine: None,
                spark_deg: None,
                fuel_kg_s: None,
                air_kg_s: None,
                samples: 10,
            }
        })
        .collect();
    let curve = Curve {
        bands,
        band_rpm: 100.0,
        correlated_samples: 1.0,
        noise: 0.003,
        rig: pullcast::dyno::RigTrace::default(),
        dropped_start: 0,
        dropped_end: 0,
    };
    let pulls = (0..3)
        .map(|n| MeasuredPull {
            read_at: ReadAt::Drums,
            level_doubt: None,
            name: format!("pull {n}"),
            day: day(),
            conditions,
            rest_s: None,
            curve: curve.clone(),
        })
        .collect();
    Visit {
        name: "visit".into(),
        pulls,
    }
}

#[divan::bench(args = [false, true])]
fn operating_point(bencher: Bencher, blown: bool) {
    let setup = setup(blown);
    let on_day = OnADay::new(&setup.car, day());
    let near = on_day.at(4900.0, Slow::settled(310.0), None);
    bencher.bench(|| on_day.at(5000.0, Slow::settled(310.0), Some(&near)));
}

#[divan::bench(args = ["unblown", "blown", "blown and cooled", "turbo"])]
fn one_predicted_pull(bencher: Bencher, kind: &str) {
    let mut setup = match kind {
        "turbo" => turbo_four(),
        kind => setup(kind != "unblown"),
    };
    if kind == "blown" {
        setup.car.cooler = None;
    }
    let conditions = Conditions::rested(setup.car.engine.redline_rpm);
    bencher.bench(|| setup.pull(&day(), &conditions, 28));
}

#[divan::bench]
fn knock_table(bencher: Bencher) {
    let setup = setup(false);
    bencher.bench(|| KnockMap::build(&setup.car.engine.knock.made_for));
}

#[divan::bench(sample_count = 10)]
fn fit_of_three_pulls_of_100_points(bencher: Bencher) {
    let sheet = sheet();
    let visits = [visit(&sheet)];
    bencher.bench(|| calibrate(&sheet, &visits, Noise::default()));
}

/// The demo's turbocharged four, at the middle of what is believed of it.
fn turbo_four() -> Setup {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/turbo_four/car.toml");
    files::car::open(&path).expect("a demo car").0.sheet.centre
}

/// An odd pull held against three good ones, all causes; a blown car has the most of them.
#[divan::bench(args = ["unblown", "blown", "turbo"], sample_count = 10)]
fn diagnosis(bencher: Bencher, kind: &str) {
    let sound = match kind {
        "turbo" => turbo_four(),
        kind => setup(kind == "blown"),
    };
    let good = [(visit_of(&sound), vec![Entered::default(); 3])];
    let mut odd = sound.clone();
    odd.car.exhaust.back_pressure_pa *= 3.0;
    let odd = visit_of(&odd);
    let question = diagnose::Question {
        setup: &sound,
        good: &good,
        odd: Trial {
            pull: &odd.pulls[0],
            entered: Entered::default(),
        },
        before: &[],
        same_strapping: true,
        same_air: true,
        doubts: pullcast::diagnose::Doubts::CHOSEN,
    };
    bencher.bench(|| question.answer());
}

#[divan::bench(sample_count = 5)]
fn quote_of_300_draws(bencher: Bencher) {
    let sheet = sheet();
    let fixed = |x: f64| Prior::fixed(x).expect("a finite number");
    let plan = Plan {
        name: "exhaust".into(),
        changes: vec![Change::from(Exhaust {
            back_pressure_factor: fixed(0.5),
        })],
    };
    let day_after = Air::stated(day(), "bench");
    let question = Question {
        draws: Some(300),
        ..Question::new(&sheet, &plan, &[], Some(day_after))
    };
    bencher.bench(|| question.answer());
}
