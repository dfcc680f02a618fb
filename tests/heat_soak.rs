//! Pulls in a row: the laws that warming and rest must obey, and the row as the program prints it.

use crate::laws;
use crate::shop::{CAR, Shop};
use crate::sources::root;
use pullcast::boost::{BeltDrive, PositiveDisplacement, RotorKind};
use pullcast::car::{Blower, ElectricDrive};
use pullcast::cooling::charge_cooler::{ChargeCooler, HeatSink};
use pullcast::dyno::soak::Lump;
use pullcast::dyno::{Bodies, Conditions, Coupling, Recovery, Sequence, Setup};
use pullcast::electric::axle::ElectricAxle;
use pullcast::electric::battery::Battery;
use pullcast::electric::motor::Motor;
use pullcast::files;

/// The coupe of the laws on their drums.
fn coupe() -> Setup {
    Setup {
        car: laws::coupe(),
        drums: laws::drums(),
    }
}

/// With a Roots blower and a charge cooler of a kind.
fn blown(sink: HeatSink) -> Setup {
    let mut setup = coupe();
    setup.car.blower = Blower::Displacement {
        machine: PositiveDisplacement::typical(RotorKind::TwistedLobe, 1.3e-3, 2000.0),
        drive: BeltDrive::of_overall_ratio(2.2, 0.075),
    };
    let usual = sink.usual();
    let (effectiveness, capacity) = (usual.effectiveness.0, usual.heat_capacity_j_k.0);
    setup.car.cooler = Some(ChargeCooler::rated(effectiveness, 0.3, capacity, sink));
    setup
}

/// With an electric axle of 80 kW on linked drums, and a battery of a size.
fn hybrid(kilowatt_hours: f64) -> Setup {
    let mut setup = coupe();
    setup.drums.coupling = Coupling::Linked;
    setup.car.electric = Some(ElectricDrive {
        axle: ElectricAxle {
            motor: Motor::typical(200.0, 80e3, 2600.0),
            battery: Battery::typical(350.0, 0.1, kilowatt_hours * 3.6e6),
            reduction_ratio: 9.0,
            reduction_efficiency: 0.975,
            cut_speed_rad_s: f64::INFINITY,
            cut_taper: 0.07,
            ramp_s: 0.0,
            assist: 1.0,
        },
        tyre: setup.car.driveline.tyre,
        inertia_kg_m2: 4.0,
    });
    setup
}

fn row(setup: &Setup, pulls: usize, rest_s: f64) -> Sequence<'_> {
    Sequence {
        setup,
        bodies: Bodies::typical(setup),
        day: laws::mild(),
        conditions: Conditions::rested(setup.car.engine.redline_rpm),
        pulls,
        rest_s,
        points: 28,
    }
}

fn peaks_w(sequence: &Sequence<'_>) -> Vec<f64> {
    let runs = sequence.run().expect("the pulls").runs;
    let peak = |run: &pullcast::dyno::sequence::Run| run.pull.peak_power().expect("points").power_w;
    runs.iter().map(peak).collect()
}

/// A lump that never warms.
fn endless(lump: Lump) -> Lump {
    Lump {
        heat_capacity_j_k: f64::INFINITY,
        ..lump
    }
}

/// Lumps whose warmth costs power alone, or helps alone.
fn only(bodies: Bodies, costing: bool) -> Bodies {
    if costing {
        Bodies {
            engine_oil: endless(bodies.engine_oil),
            gear_oil: endless(bodies.gear_oil),
            tyre: endless(bodies.tyre),
            ..bodies
        }
    } else {
        Bodies {
            walls: endless(bodies.walls),
            ..bodies
        }
    }
}

#[test]
fn the_first_pull_of_a_row_is_a_plain_pull() {
    for setup in [coupe(), blown(HeatSink::Water), hybrid(2.0)] {
        let sequence = row(&setup, 2, 60.0);
        let plain = setup
            .pull(&laws::mild(), &sequence.conditions, 28)
            .expect("a pull");
        assert_eq!(sequence.run().expect("the pulls").runs[0].pull, plain);
    }
}

#[test]
fn an_endless_rest_gives_the_first_pull_back_but_for_the_charge() {
    for setup in [coupe(), blown(HeatSink::Air), blown(HeatSink::Water)] {
        let peaks = peaks_w(&row(&setup, 2, 1e9));
        // The operating points are settled to 1e-6.
        assert!((peaks[1] / peaks[0] - 1.0).abs() < 2e-6, "{peaks:?}");
    }
    let setup = hybrid(2.0);
    let runs = row(&setup, 2, 1e9).run().expect("the pulls").runs;
    let (first, mut second) = (runs[0].start, runs[1].start);
    assert!(second.charge < first.charge - 0.01, "{second:?}");
    second.charge = first.charge;
    assert_eq!(second, first);
}

#[test]
fn what_cannot_warm_does_not_soak() {
    for sink in [HeatSink::Air, HeatSink::Water] {
        let mut setup = blown(sink);
        if let Some(cooler) = &mut setup.car.cooler {
            cooler.heat_capacity_j_k = f64::INFINITY;
        }
        let mut sequence = row(&setup, 3, 0.0);
        sequence.bodies = only(only(sequence.bodies, true), false);
        let peaks = peaks_w(&sequence);
        for peak in &peaks {
            assert!((peak / peaks[0] - 1.0).abs() < 2e-6, "{peaks:?}");
        }
    }
}

/// Oils and tyres work easier warm, so the law holds for each side apart: cooler and walls cost, oils and tyres help.
#[test]
fn a_longer_rest_never_lowers_the_next_pull_where_heat_costs_and_never_raises_it_where_heat_helps()
{
    for (setup, costing) in [
        (blown(HeatSink::Air), true),
        (blown(HeatSink::Water), true),
        (coupe(), true),
        (coupe(), false),
    ] {
        let mut before: Option<Vec<f64>> = None;
        for rest_s in [0.0, 20.0, 60.0, 180.0, 600.0, 3600.0] {
            let mut sequence = row(&setup, 3, rest_s);
            sequence.bodies = only(sequence.bodies, costing);
            let peaks = peaks_w(&sequence);
            let sign = if costing { 1.0 } else { -1.0 };
            if let Some(before) = before {
                for (longer, shorter) in peaks.iter().zip(&before).skip(1) {
                    assert!(
                        sign * (longer / shorter - 1.0) > -2e-6,
                        "{rest_s} s: {peaks:?} after {before:?}"
                    );
                }
            } else {
                // A test that heat moves anything at all.
                assert!(sign * (peaks[2] / peaks[0] - 1.0) < -1e-4, "{peaks:?}");
            }
            before = Some(peaks);
        }
    }
}

#[test]
fn a_lump_without_a_way_out_keeps_all_the_heat() {
    let setup = coupe();
    let warmed = |scale: f64| {
        let mut sequence = row(&setup, 1, 0.0);
        let tight = |lump: Lump| Lump {
            heat_capacity_j_k: scale * lump.heat_capacity_j_k,
            to_rest_w_k: 1e-6,
        };
        sequence.bodies.walls = tight(sequence.bodies.walls);
        sequence.bodies.engine_oil = tight(sequence.bodies.engine_oil);
        sequence.bodies.gear_oil = tight(sequence.bodies.gear_oil);
        sequence.bodies.tyre = tight(sequence.bodies.tyre);
        let runs = sequence.run().expect("the pull");
        let (start, end, b) = (runs.runs[0].start, runs.after, sequence.bodies);
        [
            (end.walls_k - start.walls_k) * b.walls.heat_capacity_j_k,
            (end.engine_oil_k - start.engine_oil_k) * b.engine_oil.heat_capacity_j_k,
            (end.gear_oil_k - start.gear_oil_k) * b.gear_oil.heat_capacity_j_k,
            (end.tyre_k - start.tyre_k) * b.tyre.heat_capacity_j_k,
        ]
    };
    let (once, twice) = (warmed(1.0), warmed(2.0));
    for (a, b) in once.iter().zip(twice) {
        // What leaks through 1 µW/K; and rounding of a settled temperature of some 1e10 K.
        assert!(*a > 1e3 && (b / a - 1.0).abs() < 1e-5, "{once:?} {twice:?}");
    }
    // All the engine's heat but what left by the exhaust, the charge and the crank: the walls and the oil share it.
    let pull = row(&setup, 1, 0.0)
        .run()
        .expect("the pull")
        .runs
        .remove(0)
        .pull;
    let expected: f64 = pull
        .points
        .windows(2)
        .map(|w| {
            let heat = |p: &pullcast::dyno::PullPoint| {
                let l = &p.engine.ledger;
                l.friction_w + l.wall_w - l.warming_w
            };
            0.5 * (w[1].time_s - w[0].time_s) * (heat(&w[0]) + heat(&w[1]))
        })
        .sum();
    assert!(
        ((once[0] + once[1]) / expected - 1.0).abs() < 1e-5,
        "{once:?} {expected}"
    );
}

#[test]
fn the_rest_found_brings_the_next_pull_as_near_as_asked() {
    let setup = blown(HeatSink::Water);
    let sequence = row(&setup, 4, 20.0);
    let runs = sequence.run().expect("the pulls");
    let within = 0.004;
    let Ok(Recovery::After { rest_s }) = sequence.recovery(&runs, within) else {
        panic!("a rest: {:?}", sequence.recovery(&runs, within))
    };
    let first_w = runs.runs[0].pull.peak_power().expect("points").power_w;
    // The next pull by hand: one more pull in the row, whose last rest is the one found.
    let change = |rest_s: f64| {
        let ambient_k = laws::mild().temperature_k();
        let rested = runs.runs[0].start;
        let start = runs
            .after
            .after_rest(&setup, &sequence.bodies, &rested, ambient_k, rest_s);
        let (warm, conditions) = start.put_into(&setup, &sequence.conditions);
        let pull = warm.pull(&laws::mild(), &conditions, 28).expect("a pull");
        (pull.peak_power().expect("points").power_w / first_w - 1.0).abs()
    };
    // The rest is known to a thousandth of a bracket at most twice as long, in which the change falls by less than itself.
    assert!(
        (change(rest_s) / within - 1.0).abs() < 3e-3,
        "{rest_s}: {}",
        change(rest_s)
    );
    assert!(change(0.9 * rest_s) > within && change(1.1 * rest_s) < within);
}

#[test]
fn an_empty_battery_is_named_as_what_no_rest_brings_back() {
    let setup = hybrid(0.5);
    let sequence = row(&setup, 3, 60.0);
    let runs = sequence.run().expect("the pulls");
    let recovery = sequence.recovery(&runs, 0.01).expect("pulls");
    let Recovery::Never {
        change,
        charge,
        first_charge,
    } = recovery
    else {
        panic!("{recovery:?}")
    };
    assert!(
        change < -0.01 && charge < 0.5 && first_charge == 0.8,
        "{recovery:?}"
    );
}

/// Per cent by which the third pull of a row differs from the first: whole, cooler and walls alone, oils and tyres alone.
fn third_pull(setup: &Setup, rest_s: f64) -> [f64; 3] {
    let change = |bodies: Bodies, cooler_warms: bool| {
        let mut setup = setup.clone();
        if let Some(cooler) = setup.car.cooler.as_mut().filter(|_| !cooler_warms) {
            cooler.heat_capacity_j_k = f64::INFINITY;
        }
        let peaks = peaks_w(&Sequence {
            bodies,
            ..row(&setup, 3, rest_s)
        });
        100.0 * (peaks[2] / peaks[0] - 1.0)
    };
    let all = Bodies::typical(setup);
    [
        change(all, true),
        change(only(all, true), true),
        change(only(all, false), false),
    ]
}

/// The book says how the demo's third pulls compare with what the trade sees, and why they lie above it.
#[test]
fn the_books_third_pulls_are_the_demos() {
    let folder = root().join("scenarios");
    let open = |car: &str, plan: Option<&str>| {
        let sheet = files::car::open(&folder.join(car)).expect("a car").0.sheet;
        let mut setup = sheet.centre;
        // A battery that empties is another matter.
        setup.car.electric = None;
        if let Some(plan) = plan {
            let plan = files::plan::open(&folder.join(plan))
                .expect("a plan")
                .0
                .plan;
            let plan = plan.map(|_, _, prior| prior.centre());
            setup.car = plan.apply(&setup.car).expect("a car");
        }
        setup
    };
    let estate = "upland_estate/car.toml";
    let cars = [
        ("manual coupe", open("manual_coupe/car.toml", None)),
        ("upland estate", open(estate, None)),
        (
            "upland estate with its blower",
            open(estate, Some("upland_estate/plan_screw_blower.toml")),
        ),
    ];
    let book = std::fs::read_to_string(root().join("docs/validation.md")).expect("the page");
    let mut missing = Vec::new();
    for (name, setup) in &cars {
        for rest_s in [20.0, 120.0] {
            let [whole, cost, help] = third_pull(setup, rest_s);
            let line =
                format!("| {name} | {rest_s:.0} s | {whole:+.1} | {cost:+.1} | {help:+.1} |");
            if !book.contains(&line) {
                missing.push(line);
            }
        }
    }
    assert!(missing.is_empty(), "{missing:#?}");
}

#[test]
fn predict_prints_a_row_of_pulls_and_the_rest_that_brings_the_first_back() {
    let shop = Shop::new();
    let plain = shop
        .well("predict car.toml --plan plan.toml --json")
        .json("pullcast/predict/2");
    assert!(plain.get("sequence").is_none());
    let run = "predict car.toml --plan plan.toml --pulls 4 --rest 30s --within 0.3%";
    let document = shop
        .well(&format!("{run} --json"))
        .json("pullcast/predict/2");
    assert_eq!(document["points"], plain["points"]);
    let row = &document["sequence"];
    let pulls = row["pulls"].as_array().expect("a list");
    assert_eq!((pulls.len(), &row["rest_s"]), (4, &30.0.into()));
    assert_eq!(pulls[0]["peak_power"], plain["peak_power"]);
    let core = |at: &serde_json::Value| at["core_k"].as_f64().expect("a temperature");
    for pair in pulls.windows(2) {
        assert!(core(&pair[1]["start"]) > core(&pair[0]["start"]));
    }
    assert!(core(&row["after"]) > core(&pulls[3]["start"]));
    assert!(pulls[0]["start"]["battery_k"].is_null());
    let inlet = row["change_with_warmer_inlet"].as_f64();
    assert!(inlet.is_some_and(|change| change < 0.0), "{inlet:?}");
    let text = shop.well(run).out;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "Pulls in a row, 30 s of rest",
        "walls",
        "tyres",
        "within 0.3 % of the first",
        "no source",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
    let axle = "[electric_axle]\npeak_power = \"60 kW\"\npeak_torque = \"150 N m\"\nreduction = 9.5\nbattery_energy = \"0.5 kWh\"\n[drums]\ncoupling = \"linked\"";
    shop.write(
        "car.toml",
        &CAR.replace("[drums]", axle)
            .replace("90 kg m2", "180 kg m2"),
    );
    let text = shop.well("predict car.toml --pulls 3").out;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "2 min of rest",
        "level",
        "No rest brings",
        "rest does not charge it",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
}

#[test]
fn a_row_that_cannot_be_is_refused_with_what_could() {
    let shop = Shop::new();
    for (wrong, said) in [
        ("--pulls 0", "2..=100"),
        ("--pulls 1", "2..=100"),
        ("--pulls 2.5", "invalid digit"),
        ("--pulls 3 --rest -1min", "between 0 s and 24 h"),
        ("--pulls 3 --rest 2", "no unit"),
        ("--pulls 3 --rest 2m", "min"),
        ("--pulls 3 --rest 30kW", "kW"),
        ("--pulls 3 --rest 40h", "between 0 s and 24 h"),
        ("--pulls 3 --within 0%", "between 0.05 % and 50 %"),
        ("--pulls 3 --within 120%", "between 0.05 % and 50 %"),
        ("--rest 2min", "--pulls"),
        ("--within 1%", "--pulls"),
    ] {
        let ran = shop.run(&format!("predict car.toml {wrong}"));
        assert_eq!(
            (ran.code, ran.out.as_str()),
            (2, ""),
            "{wrong}: {}",
            ran.err
        );
        assert!(ran.err.contains(said), "{wrong}: {said} in {}", ran.err);
    }
}
