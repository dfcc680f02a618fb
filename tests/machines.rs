//! Kinds of rig: hubs instead of tyres, a brake that leads the pull, a gear, two drums. What one reads against another follows from
//! forces and energies, whatever the car.

use pullcast::car::Car;
use pullcast::driveline::TorqueConverter;
use pullcast::dyno::drums::{Geared, Machine};
use pullcast::dyno::{Brake, Conditions, Contact, Coupling, Drums, Pull, Setup};
use pullcast::files::{self, Overwrite};

use crate::laws::{coupe, drums, electric, mild};
use crate::shop::{CAR, Shop};

const RAMP: Brake = Brake::EngineRamp { rpm_per_s: 75.0 };

fn braked(brake: Brake) -> Machine {
    Machine {
        brake: Some(brake),
        ..Machine::default()
    }
}

/// Any kind of rig, its ramp anywhere in the range that a file admits.
pub(crate) fn any_machine(kind: usize, share: f64) -> Machine {
    let between = |low: f64, high: f64| low * (high / low).powf(share);
    Machine {
        contact: if kind.is_multiple_of(2) {
            Contact::Tyres
        } else {
            Contact::Hubs
        },
        brake: match kind / 2 % 4 {
            0 => None,
            1 => Some(Brake::EngineRamp {
                rpm_per_s: between(20.0, 5000.0),
            }),
            2 => Some(Brake::SurfaceRamp {
                m_s2: between(0.05, 30.0),
            }),
            _ => Some(Brake::Sweep {
                seconds: between(1.0, 300.0),
            }),
        },
        geared: (kind / 8 == 1).then_some(Geared {
            inertia_kg_m2: between(0.001, 1000.0),
            ratio: 3.0,
        }),
    }
}

/// A coupe whose tyres neither slip nor grow, so that closed forms hold.
fn stiff() -> Car {
    let mut car = coupe();
    let tyre = &mut car.driveline.tyre;
    (tyre.slip_stiffness, tyre.grip, tyre.growth_at_60_m_s) = (1e9, 1e3, 0.0);
    car
}

fn pull(car: &Car, drums: Drums, count: usize) -> Pull {
    Setup {
        car: car.clone(),
        drums,
    }
    .pull_to_tolerance(&mild(), &Conditions::rested(7000.0), count, 1e-9)
    .expect("a pull")
}

/// Mass of the car's turning parts at the surface, kg.
fn car_kg(car: &Car) -> f64 {
    let line = &car.driveline;
    let gear = line.train.ratio() / line.final_ratio();
    // Kinetic energy of every part at the surface's speed.
    let last = line.final_ratio();
    let crank = line.parts.at_crank_kg_m2() * (gear * last).powi(2);
    let shaft = line.parts.shaft_kg_m2 * last.powi(2);
    (crank + shaft + line.parts.wheels_kg_m2) / line.tyre.radius_m.powi(2)
}

#[test]
fn the_energy_of_a_braked_pull_closes() {
    let drums = Drums {
        drag_n_s_m: 1.5,
        machine: Machine {
            geared: Some(Geared {
                inertia_kg_m2: 3.0,
                ratio: 4.0,
            }),
            ..braked(RAMP)
        },
        drag_added_back: true,
        ..drums()
    };
    let pull = pull(&stiff(), drums, 2001);
    // The trapezoid over 2000 steps is good to 1e-7 of a curve as smooth as this.
    let over_time = |of: &dyn Fn(usize) -> f64| -> f64 {
        (1..pull.points.len())
            .map(|i| {
                let seconds = pull.points[i].time_s - pull.points[i - 1].time_s;
                0.5 * (of(i) + of(i - 1)) * seconds
            })
            .sum()
    };
    let point = |i: usize| &pull.points[i];
    let read = over_time(&|i| point(i).power_w);
    let brake = over_time(&|i| point(i).brake_n * point(i).speed_m_s);
    let drag = over_time(&|i| drums.drag_at_n(point(i).speed_m_s) * point(i).speed_m_s);
    let mass = (drums.inertia_kg_m2 + 3.0 * 4.0 * 4.0) / (drums.radius_m * drums.radius_m);
    let (first, last) = (point(0), point(2000));
    let kinetic = 0.5 * mass * (last.speed_m_s.powi(2) - first.speed_m_s.powi(2));
    assert!(
        brake > 0.2 * read && drag > 0.01 * read,
        "{brake} {kinetic} {drag}"
    );
    assert!(
        ((brake + drag + kinetic) / read - 1.0).abs() < 1e-6,
        "{read}"
    );
}

#[test]
fn a_brake_holds_its_ramp_and_a_sweep_its_time() {
    let car = stiff();
    let steady = pull(
        &car,
        Drums {
            machine: braked(RAMP),
            ..drums()
        },
        40,
    );
    for pair in steady.points.windows(2) {
        let rate = (pair[1].rpm - pair[0].rpm) / (pair[1].time_s - pair[0].time_s);
        // The integrator's own tolerance.
        assert!((rate / 75.0 - 1.0).abs() < 1e-6, "{rate}");
    }
    let sweep = braked(Brake::Sweep { seconds: 60.0 });
    let swept = pull(
        &car,
        Drums {
            machine: sweep,
            ..drums()
        },
        40,
    );
    let last = swept.points.last().expect("points");
    assert!((last.time_s - 60.0).abs() < 1e-4, "{}", last.time_s);
    let surface = braked(Brake::SurfaceRamp { m_s2: 0.5 });
    let even = pull(
        &car,
        Drums {
            machine: surface,
            ..drums()
        },
        40,
    );
    assert!(
        even.points
            .iter()
            .all(|p| (p.acceleration_m_s2 - 0.5).abs() < 1e-9)
    );
}

#[test]
fn a_ramp_faster_than_the_car_is_an_inertia_pull() {
    let car = coupe();
    let fast = braked(Brake::EngineRamp { rpm_per_s: 1e5 });
    let (a, b) = (
        pull(
            &car,
            Drums {
                machine: fast,
                ..drums()
            },
            20,
        ),
        pull(&car, drums(), 20),
    );
    assert_eq!(a, b);
}

#[test]
fn a_slow_ramp_reads_higher_by_what_the_car_keeps_for_itself() {
    let car = stiff();
    let free = pull(&car, drums(), 30);
    let slow = pull(
        &car,
        Drums {
            machine: braked(RAMP),
            ..drums()
        },
        30,
    );
    let gathers = |p: &pullcast::dyno::PullPoint| p.acceleration_m_s2;
    for (f, s) in free.points.iter().zip(&slow.points) {
        assert!(s.power_w > f.power_w, "{} rpm", f.rpm);
        // Parts of the car spun up faster by the difference of the accelerations. What turns ahead of the gears is passed by their
        // meshes, which keep a share of it: up to a tenth less arrives at the drum.
        let kept = car_kg(&car) * (gathers(f) - gathers(s)) * f.speed_m_s;
        let share = (s.power_w - f.power_w) / kept;
        assert!(
            (0.90..=1.0 + 1e-9).contains(&share),
            "{} rpm: {share}",
            f.rpm
        );
    }
}

#[test]
fn without_turning_parts_a_braked_ramp_reads_as_an_inertia_pull() {
    let mut car = stiff();
    let parts = &mut car.driveline.parts;
    (parts.engine_kg_m2, parts.gearbox_input_kg_m2) = (0.0, 0.0);
    (parts.shaft_kg_m2, parts.wheels_kg_m2) = (0.0, 0.0);
    let free = pull(&car, drums(), 20);
    let slow = pull(
        &car,
        Drums {
            machine: braked(RAMP),
            ..drums()
        },
        20,
    );
    for (f, s) in free.points.iter().zip(&slow.points) {
        // Operating points are found to 1e-6 of the numbers they carry.
        assert!((s.power_w / f.power_w - 1.0).abs() < 1e-6, "{} rpm", f.rpm);
    }
}

#[test]
fn hubs_read_higher_by_the_tyres_loss() {
    let mut car = coupe();
    car.driveline.parts.wheels_kg_m2 = 0.0;
    car.driveline.tyre.growth_at_60_m_s = 0.0;
    let machine = braked(RAMP);
    let on_tyres = pull(&car, Drums { machine, ..drums() }, 30);
    let hubs = Drums {
        // The hub turns with the wheel; told at the tyre's radius, speeds are those of the wheel.
        radius_m: car.driveline.tyre.radius_m,
        inertia_kg_m2: 8.0,
        machine: Machine {
            contact: Contact::Hubs,
            ..machine
        },
        ..drums()
    };
    let at_hubs = pull(&car, hubs, 30);
    let tyre = drums().under(&car.driveline.tyre);
    for (t, h) in on_tyres.points.iter().zip(&at_hubs.points) {
        assert_eq!((h.slip, h.spinning), (0.0, false));
        let rig = drums();
        let force_n = rig.mass_kg() * t.acceleration_m_s2 + t.brake_n + rig.drag_at_n(t.speed_m_s);
        let tyre_m_s = t.speed_m_s * (1.0 + t.slip);
        // What the tyre loses: the speed between it and the drum under the force, and rolling, which works on the tyre's speed.
        let rolling_n = tyre.rolling_force_n(t.speed_m_s, car.driveline.tyre_k);
        let lost_w = force_n * (tyre_m_s - t.speed_m_s) + rolling_n * tyre_m_s;
        let own_w = |p: &pullcast::dyno::PullPoint, rig: &Drums| {
            p.power_w + rig.drag_at_n(p.speed_m_s) * p.speed_m_s
        };
        let more_w = own_w(h, &hubs) - own_w(t, &rig);
        // Slip drifts through the pull and moves the acceleration of the parts a little: a thousandth of the power.
        assert!(
            (more_w - lost_w).abs() < 1e-3 * t.power_w,
            "{} rpm: {more_w} {lost_w}",
            t.rpm
        );
        assert!(more_w > 0.01 * t.power_w);
    }
}

#[test]
fn a_gear_behind_the_drum_is_a_heavier_drum() {
    let car = coupe();
    let geared = Drums {
        machine: Machine {
            geared: Some(Geared {
                inertia_kg_m2: 1.5,
                ratio: 6.0,
            }),
            ..Machine::default()
        },
        ..drums()
    };
    let plain = Drums {
        inertia_kg_m2: drums().inertia_kg_m2 + 54.0,
        ..drums()
    };
    assert_eq!(pull(&car, geared, 12), pull(&car, plain, 12));
}

#[test]
fn an_engine_axle_on_separate_drums_is_not_credited_with_the_other_drum() {
    let mut car = coupe();
    car.electric = Some(electric(&car));
    let separate = |second_inertia_kg_m2, machine| Drums {
        coupling: Coupling::Separate {
            second_inertia_kg_m2,
        },
        machine,
        ..drums()
    };
    for machine in [Machine::default(), braked(RAMP)] {
        let light = pull(&car, separate(50.0, machine), 12);
        let heavy = pull(&car, separate(500.0, machine), 12);
        let mut alone = car.clone();
        alone.electric = None;
        let single = pull(&alone, Drums { machine, ..drums() }, 12);
        let engine = |p: &pullcast::dyno::PullPoint| p.power_w - p.electric_w;
        for ((l, h), s) in light.points.iter().zip(&heavy.points).zip(&single.points) {
            assert!((engine(l) / engine(h) - 1.0).abs() < 1e-6, "{} rpm", l.rpm);
            assert!((engine(l) / engine(s) - 1.0).abs() < 1e-6, "{} rpm", l.rpm);
        }
    }
    // Linked, the engine's axle does spin both: one drum of the sum.
    let linked = Drums {
        coupling: Coupling::Linked,
        inertia_kg_m2: drums().inertia_kg_m2 + 500.0,
        ..drums()
    };
    let both = pull(&car, linked, 12);
    let apart = pull(&car, separate(500.0, Machine::default()), 12);
    assert!(both.points[6].acceleration_m_s2 < apart.points[6].acceleration_m_s2);
}

/// The shop's coupe on a rig described so.
fn on_rig(shop: &Shop, rig: &str) -> String {
    let text = CAR.replace(
        "[drums]\ninertia = \"90 kg m2\"\nradius = \"0.35 m\"\n",
        &format!("[drums]\n{rig}"),
    );
    assert_ne!(text, CAR);
    shop.write("rig.toml", &text);
    text
}

const DRUM: &str = "inertia = \"90 kg m2\"\nradius = \"0.35 m\"\n";

#[test]
fn a_car_file_describes_its_rig_and_survives_being_written_again() {
    let shop = Shop::new();
    for (rig, machine) in [
        (
            "inertia = \"6 kg m2\"\ncontact = \"hubs\"\nsweep_time = \"15 s\"\n".to_owned(),
            Machine {
                contact: Contact::Hubs,
                brake: Some(Brake::Sweep { seconds: 15.0 }),
                geared: None,
            },
        ),
        (
            format!("{DRUM}ramp_per_second = \"300 rpm\"\nbearing_drag = \"20 ± 10 N\"\n"),
            braked(Brake::EngineRamp { rpm_per_s: 300.0 }),
        ),
        (
            format!("{DRUM}surface_ramp_per_second = \"3.6 km/h\"\n"),
            braked(Brake::SurfaceRamp { m_s2: 1.0 }),
        ),
        (
            format!("{DRUM}geared_inertia = \"2 ± 0.1 kg m2\"\ngeared_ratio = 3.5\n"),
            Machine {
                geared: Some(Geared {
                    inertia_kg_m2: 2.0,
                    ratio: 3.5,
                }),
                ..Machine::default()
            },
        ),
    ] {
        on_rig(&shop, &rig);
        let (read, warnings) =
            files::car::open(&shop.path("rig.toml")).unwrap_or_else(|p| panic!("{p}"));
        assert!(warnings.is_empty(), "{warnings}");
        let found = read.sheet.centre.drums;
        let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-12;
        match (found.machine.brake, machine.brake) {
            (
                Some(Brake::EngineRamp { rpm_per_s: a }),
                Some(Brake::EngineRamp { rpm_per_s: b }),
            )
            | (Some(Brake::SurfaceRamp { m_s2: a }), Some(Brake::SurfaceRamp { m_s2: b }))
            | (Some(Brake::Sweep { seconds: a }), Some(Brake::Sweep { seconds: b })) => {
                assert!(near(a, b));
            }
            (a, b) => assert_eq!((a, b), (None, None)),
        }
        assert_eq!(
            (found.machine.contact, found.machine.geared),
            (machine.contact, machine.geared)
        );
        if machine.contact == Contact::Hubs {
            assert!(near(found.radius_m, 0.31), "the tyre's radius");
        }
        let path = shop.path("again.toml");
        let again = Overwrite::Allow;
        files::car_write::save(
            &path,
            &read,
            &read.sheet,
            &files::car_write::Account::default(),
            again,
        )
        .expect("written");
        let (back, _) = files::car::open(&path).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(back.parts.machine.contact, read.parts.machine.contact);
        assert_eq!(back.parts.machine.geared, read.parts.machine.geared);
        let drums = back.sheet.centre.drums;
        assert!(near(drums.mass_kg(), found.mass_kg()), "{drums:?}");
        assert_eq!(drums.machine.brake.is_some(), found.machine.brake.is_some());
        shop.well("predict rig.toml --weather weather.toml");
        let working = shop
            .well("trace rig.toml --rpm 5000 --weather weather.toml")
            .out;
        assert_eq!(
            working.contains("taken by the brake"),
            machine.brake.is_some()
        );
    }
}

#[test]
fn rigs_that_contradict_themselves_are_refused_at_their_line() {
    let shop = Shop::new();
    for (rig, code, word) in [
        (
            format!("{DRUM}ramp_per_second = \"300 rpm\"\nsweep_time = \"10 s\"\n"),
            "two_ramps",
            "sweep_time",
        ),
        (
            format!("{DRUM}ramp_per_second = \"3 rpm\"\n"),
            "out_of_range",
            "ramp_per_second",
        ),
        (
            format!("{DRUM}contact = \"belt\"\n"),
            "choice_unknown",
            "hubs",
        ),
        (
            format!("{DRUM}geared_inertia = \"2 kg m2\"\n"),
            "key_missing",
            "geared_ratio",
        ),
        (
            "inertia = \"90 kg m2\"\n".to_owned(),
            "key_missing",
            "radius",
        ),
    ] {
        on_rig(&shop, &rig);
        let ran = shop.run("predict rig.toml");
        assert_eq!(ran.code, 65, "{rig}: {}", ran.err);
        assert!(
            ran.err.contains(code) && ran.err.contains(word),
            "{rig}: {}",
            ran.err
        );
        assert!(ran.err.contains("rig.toml:"), "{}", ran.err);
    }
}

#[test]
fn the_drums_inertia_is_checked_by_a_known_one() {
    let shop = Shop::new();
    // Worked by hand: 30 · 60/(67.5 − 60) = 240.
    let pair = "inertia --added 30kgm2 --bare-time 60s --loaded-time 67.5s";
    let document = shop
        .well(&format!("{pair} --stated 245kgm2 --json"))
        .json("pullcast/inertia/2");
    let number = |key: &str| document[key].as_f64().expect("a number");
    assert!((number("inertia_kg_m2") - 240.0).abs() < 1e-9, "{document}");
    assert!(number("low_kg_m2") < 240.0 && number("high_kg_m2") > 240.0);
    assert_eq!(document["stated"]["contradicted"], false);
    let wrong = shop.run(&format!("{pair} --stated 400kgm2"));
    assert_eq!(wrong.code, 1, "{}", wrong.err);
    assert!(
        wrong.out.contains("The stated 400 kg m² does not agree"),
        "{}",
        wrong.out
    );
    // The same drum by masses: T = m (g − a), a = 2h/t².
    let (height, radius) = (1.5_f64, 0.35_f64);
    let time = |mass: f64| {
        let nm = mass * 9.80665 * radius - 6.0;
        let rad_s2 = nm / (240.0 + mass * radius * radius);
        (2.0 * height / (rad_s2 * radius)).sqrt()
    };
    let falls = format!(
        "inertia --height 1.5m --radius 0.35m --light 10kg --light-time {:.9}s --heavy 40kg --heavy-time {:.9}s --json",
        time(10.0),
        time(40.0)
    );
    let document = shop.well(&falls).json("pullcast/inertia/2");
    let found = document["inertia_kg_m2"].as_f64().expect("a number");
    // Times to nine decimals.
    assert!((found - 240.0).abs() < 1e-5, "{document}");
    let drag = document["drag_nm"].as_f64().expect("a number");
    assert!((drag - 6.0).abs() < 1e-5, "{document}");
}

#[test]
fn an_inertia_check_that_cannot_tell_says_so() {
    let shop = Shop::new();
    for (arguments, code, word) in [
        ("inertia", 2, "--added"),
        ("inertia --added 30kgm2 --bare-time 60s", 2, "--loaded-time"),
        (
            "inertia --added 30 --bare-time 60s --loaded-time 70s",
            2,
            "has no unit",
        ),
        (
            "inertia --added 30kgm2 --bare-time 70s --loaded-time 60s",
            2,
            "exchanged",
        ),
        (
            "inertia --added 3kgm2 --bare-time 60s --loaded-time 60.4s",
            1,
            "differ too little",
        ),
        (
            "inertia --added 3kgm2 --bare-time 60s --loaded-time 64s --height 1m",
            2,
            "cannot be used with",
        ),
    ] {
        let ran = shop.run(arguments);
        assert_eq!(
            (ran.code, ran.out.as_str()),
            (code, ""),
            "{arguments}: {}",
            ran.err
        );
        assert!(ran.err.contains(word), "{arguments}: {}", ran.err);
    }
}

#[test]
fn a_prediction_names_its_rig() {
    let shop = Shop::new();
    let said = |rig: &str| {
        on_rig(&shop, rig);
        let out = shop.well("predict rig.toml").out;
        // Lines are broken anywhere.
        out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(!shop.well("predict car.toml").out.contains("Rig:"));
    let hubs = said("inertia = \"6 kg m2\"\ncontact = \"hubs\"\nramp_per_second = \"200 rpm\"\n");
    for part in [
        "bolted to the hubs",
        "by 200 rpm in a second",
        "reads higher",
    ] {
        assert!(hubs.contains(part), "{part} in {hubs}");
    }
    let fast = said(&format!("{DRUM}ramp_per_second = \"5000 rpm\"\n"));
    assert!(fast.contains("never climbs that fast"), "{fast}");
}

#[test]
fn a_ramp_holds_the_engine_behind_an_open_converter_too() {
    let mut car = coupe();
    car.driveline.converter = Some(TorqueConverter::stalling_at(200.0, 300.0));
    let machine = braked(Brake::EngineRamp { rpm_per_s: 60.0 });
    let pull = pull(&car, Drums { machine, ..drums() }, 40);
    let slow: Vec<_> = pull.points.windows(2).collect();
    for pair in slow {
        let rate = (pair[1].rpm - pair[0].rpm) / (pair[1].time_s - pair[0].time_s);
        // The integrator's own tolerance.
        assert!(
            (rate / 60.0 - 1.0).abs() < 1e-6,
            "{} rpm: {rate}",
            pair[0].rpm
        );
        assert!(pair[0].converter_ratio < 1.0 && pair[0].brake_n > 0.0);
    }
}
