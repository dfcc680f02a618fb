//! Faults put into cars by hand and looked for by the program: they are told apart, and an untouched pull is left alone.
//!
//! The same model makes and explains these pulls, so they are no evidence for the physics (that is `validation/diagnosis/mod.rs`); they
//! hold that causes are wired to what they change, that evidence picks them out, and that the program says so. Causes at the rig that a
//! recorded case holds (pressure, told gear, correction at the source, clutch) are left to that.

use crate::laws::{blown_coupe, coupe};
use crate::odd_pull_maker::{BANDS, HONEST, Log, TYPED, diagnosis, entered, logged, pull, setup};
use crate::scenario_maker::folder;
use crate::shop::Shop;
use pullcast::car::{Blower, Onset};
use pullcast::diagnose::next::Measurement;
use pullcast::diagnose::{
    Cause, Doubts, Entered, Question, SpeedSource, Trial, evidence_by_sampling,
};
use pullcast::dyno::correction::Standard;
use pullcast::dyno::{Band, Pull, Setup};
use pullcast::fit::observation::{MeasuredPull, Visit};
use pullcast::fuel::supply::Pump;

type Fault = (Cause, fn(&mut Setup), Log);

/// Faults any car may have.
fn common_faults() -> Vec<Fault> {
    let redline = 7000.0;
    assert!((coupe().engine.redline_rpm - redline).abs() < 1e-9);
    vec![
        (Cause::Nothing, |_| (), HONEST),
        (
            Cause::DrumInertia,
            |_| (),
            Log {
                power: TYPED,
                ..HONEST
            },
        ),
        (
            Cause::Correction,
            |_| (),
            Log {
                applied: Standard::Dry60F,
                ..HONEST
            },
        ),
        (
            Cause::Gear,
            |s| s.car.driveline.train.stages[0].ratio *= 1.3,
            HONEST,
        ),
        (
            Cause::TyreSlip,
            |s| {
                s.car.driveline.tyre.grip *= 0.5;
                s.car.driveline.tyre.slip_stiffness *= 0.5;
            },
            HONEST,
        ),
        (
            Cause::KnockRetard,
            |s| {
                s.car.defects.late_burn = Onset {
                    size: 14.0,
                    from_rpm: 3500.0,
                    over_rpm: 1050.0,
                };
            },
            HONEST,
        ),
        (
            Cause::Lean,
            |s| {
                s.car.tune.lambda += 0.14;
                s.car.retabulate_knock();
            },
            HONEST,
        ),
        (
            Cause::Rich,
            |s| {
                s.car.tune.lambda -= 0.12;
                s.car.retabulate_knock();
            },
            HONEST,
        ),
        (
            Cause::RestrictedIntake,
            |s| s.car.intake.loss_pa *= 6.0,
            HONEST,
        ),
        (
            Cause::RestrictedExhaust,
            |s| s.car.exhaust.back_pressure_pa *= 4.0,
            HONEST,
        ),
        (
            Cause::Drag,
            |s| s.car.driveline.tyre.rolling_coefficient *= 3.5,
            HONEST,
        ),
        (
            Cause::WeakFuel,
            |s| {
                let most = pull(s)
                    .points
                    .iter()
                    .map(|p| p.engine.cylinder.fuel_kg_s)
                    .fold(0.0, f64::max);
                s.car.fuel_supply.pump = Some(Pump {
                    fall_per_100_kpa: 0.0,
                    ..Pump::rated(0.84 * most / s.car.fuel.density_kg_m3)
                });
            },
            HONEST,
        ),
    ]
}

/// Faults of a blown car.
fn blown_faults() -> Vec<Fault> {
    vec![
        (Cause::Nothing, |_| (), HONEST),
        (
            Cause::BeltSlip,
            |s| {
                s.car.defects.lost_drive = Onset {
                    size: 0.12,
                    from_rpm: 4200.0,
                    over_rpm: 1750.0,
                };
            },
            HONEST,
        ),
        (Cause::BoostLeak, |s| s.car.defects.leak_m2 = 90e-6, HONEST),
        (
            Cause::RestrictedIntake,
            |s| s.car.intake.loss_pa *= 5.0,
            HONEST,
        ),
        (
            Cause::RestrictedExhaust,
            |s| s.car.exhaust.back_pressure_pa *= 1.7,
            HONEST,
        ),
        (
            Cause::HeatSoak,
            |s| s.car.defects.inlet_rise_k = 14.0,
            HONEST,
        ),
    ]
}

fn name_all(sound: &Setup, faults: &[Fault]) {
    let mut missed = Vec::new();
    for (index, (cause, spoil, log)) in faults.iter().enumerate() {
        let found = diagnosis(sound, spoil, *log, index as u64 + 1);
        let first = &found.suspects[0];
        if first.explained.cause != *cause {
            missed.push(format!(
                "{cause:?} was called {:?} ({:.3})",
                first.explained.cause, first.probability
            ));
        }
    }
    assert!(missed.is_empty(), "{missed:#?}");
}

#[test]
fn faults_of_an_unblown_car_are_told_apart() {
    name_all(&setup(coupe()), &common_faults());
}

#[test]
fn faults_of_a_blown_car_are_told_apart() {
    name_all(&setup(blown_coupe()), &blown_faults());
}

/// Without drum speed a weaker engine and a rig that reckons with too little inertia give the same curve of power; how long the pull took
/// tells them apart.
#[test]
fn what_the_pull_took_tells_a_loss_from_a_wrong_inertia() {
    let blind = Log {
        drum_speed: false,
        ..HONEST
    };
    let less = Log {
        power: TYPED,
        ..blind
    };
    let faults: [Fault; 4] = [
        (Cause::Nothing, |_| (), blind),
        (Cause::DrumInertia, |_| (), less),
        (
            Cause::RestrictedExhaust,
            |s| s.car.exhaust.back_pressure_pa *= 4.0,
            blind,
        ),
        (
            Cause::Gear,
            |s| s.car.driveline.train.stages[0].ratio *= 1.3,
            blind,
        ),
    ];
    name_all(&setup(coupe()), &faults);
    // A loss at every speed alike, and as slow a pull: no inertia.
    let found = diagnosis(&setup(coupe()), |s| s.drums.inertia_kg_m2 /= TYPED, less, 9);
    assert_ne!(found.suspects[0].explained.cause, Cause::DrumInertia);
}

/// The sizes of these causes end where nothing is wrong, and there a sound pull puts them: half a peak must not count whole.
#[test]
fn a_cause_that_ends_at_soundness_is_not_flattered_by_its_bound() {
    let sound = setup(coupe());
    let good_pull = pull(&sound);
    let good = Visit {
        name: "good".into(),
        pulls: (0..3)
            .map(|n| logged(&sound, &good_pull, HONEST, n))
            .collect(),
    };
    let typed = entered(&sound);
    let odd = logged(&sound, &good_pull, HONEST, 7);
    let question = Question {
        setup: &sound,
        good: &[(good, vec![typed; 3])],
        odd: Trial {
            pull: &odd,
            entered: typed,
        },
        before: &[],
        same_strapping: true,
        same_air: true,
        doubts: Doubts::CHOSEN,
    };
    let suspects = question.answer().expect("a diagnosis").suspects;
    for cause in [
        Cause::TyreSlip,
        Cause::RestrictedIntake,
        Cause::RestrictedExhaust,
        Cause::WeakFuel,
    ] {
        let found = suspects.iter().find(|s| s.explained.cause == cause);
        let found = &found.expect("always asked").explained;
        let by_draws = evidence_by_sampling(&question, found, 300, 1).expect("a sample");
        let off = found.log_evidence - by_draws.log_evidence;
        // Three standard deviations of the mean of some 130 effective draws.
        assert!(off.abs() < 0.3, "{cause:?}: {off:.2}, {by_draws:?}");
    }
}

/// A visit strays as a whole: what would be a fault on the day of the good pulls may be the strapping on another.
#[test]
fn what_a_visit_may_stray_by_is_no_fault_on_another_day() {
    let sound = setup(coupe());
    let good_pull = pull(&sound);
    let good = Visit {
        name: "good".into(),
        pulls: (0..3)
            .map(|n| logged(&sound, &good_pull, HONEST, n))
            .collect(),
    };
    let typed = entered(&sound);
    let strayed = Log {
        altered: |b| b.power_w *= 0.97,
        ..HONEST
    };
    let odd = logged(&sound, &good_pull, strayed, 7);
    let of_nothing = |same_visit: bool| {
        let question = Question {
            setup: &sound,
            good: &[(good.clone(), vec![typed; 3])],
            odd: Trial {
                pull: &odd,
                entered: typed,
            },
            before: &[],
            same_strapping: same_visit,
            same_air: same_visit,
            doubts: Doubts::CHOSEN,
        };
        let suspects = question.answer().expect("a diagnosis").suspects;
        let nothing = suspects
            .iter()
            .find(|s| s.explained.cause == Cause::Nothing);
        nothing.expect("always asked").probability
    };
    let (same, other) = (of_nothing(true), of_nothing(false));
    assert!(same < 0.5 && other > 0.5, "{same} {other}");
}

/// Logs that no cause makes: some signal is false, or something unheard of is at work. (A charge signal that reads hot is not among them:
/// with what a sensor in a warm bay is allowed, heat soak explains it.)
#[test]
fn what_no_cause_makes_is_none_of_them() {
    type Altered = fn(&mut Band);
    let strange: [(&str, Altered); 5] = [
        ("a manifold signal that reads a fifth low", |b| {
            b.manifold_pa = b.manifold_pa.map(|pa| 0.8 * pa);
        }),
        ("a manifold signal that reads a fifth high", |b| {
            b.manifold_pa = b.manifold_pa.map(|pa| 1.2 * pa);
        }),
        ("a charge signal that reads 25 K low", |b| {
            b.charge_k = b.charge_k.map(|k| k - 25.0);
        }),
        ("a tenth less power between 3800 and 4400 rpm alone", |b| {
            if (3800.0..4400.0).contains(&b.rpm) {
                b.power_w *= 0.9;
            }
        }),
        ("more power and less boost the faster it turns", |b| {
            let share = b.rpm / 7000.0;
            b.power_w *= 1.0 + 0.08 * share;
            b.manifold_pa = b.manifold_pa.map(|pa| pa - 10e3 * share);
        }),
    ];
    // And a pick-up that counts 5 % too little, which is a cause.
    let slow = Log {
        altered: |b| {
            b.rpm *= 0.95;
            b.engine_per_drum = b.engine_per_drum.map(|r| 0.95 * r);
        },
        ..HONEST
    };
    let found = diagnosis(&setup(coupe()), |_| (), slow, 90);
    let size = found.suspects[0].explained.values[0];
    assert!(
        found.suspects[0].explained.cause == Cause::SensorLag && (size - 0.95).abs() < 0.01,
        "{:?} {size}",
        found.suspects[0].explained.cause
    );
    let mut missed = Vec::new();
    for (kind, car) in [("unblown", coupe()), ("blown", blown_coupe())] {
        for (index, (what, altered)) in strange.iter().enumerate() {
            let log = Log {
                altered: *altered,
                ..HONEST
            };
            let found = diagnosis(&setup(car.clone()), |_| (), log, 80 + index as u64);
            let first = &found.suspects[0];
            if first.explained.cause != Cause::NoneOfThese {
                missed.push(format!(
                    "{kind} car, {what}: called {:?} ({:.3})",
                    first.explained.cause, first.probability
                ));
            }
        }
    }
    assert!(missed.is_empty(), "{missed:#?}");
}

/// A tyre that slips by the same share all along leaves the trace of another gear in engine over drum speed; what the drums get less of tells it.
#[test]
fn slip_of_one_share_at_every_speed_is_no_other_gear() {
    fn slips(band: &mut Band, share: f64) {
        band.power_w /= 1.0 + share;
        band.engine_per_drum = band.engine_per_drum.map(|r| r * (1.0 + share));
    }
    let of = |altered: fn(&mut Band)| Log { altered, ..HONEST };
    let faults: [Fault; 3] = [
        (Cause::TyreSlip, |_| (), of(|band| slips(band, 0.07))),
        (Cause::TyreSlip, |_| (), of(|band| slips(band, 0.20))),
        // The same ratio, and all of the power.
        (
            Cause::Gear,
            |s| s.car.driveline.train.stages[0].ratio *= 1.2,
            HONEST,
        ),
    ];
    name_all(&setup(coupe()), &faults);
    // A blown car's fifth of the power is called another gear with something else.
    name_all(&setup(blown_coupe()), &faults[..1]);
}

/// Speed computed from the drums: slip hides in it, and shows in power and pressure at the wrong speed alone.
#[test]
fn a_slip_that_the_speed_signal_cannot_see_is_no_speed_ratio() {
    let sound = setup(coupe());
    let blind = |setup: &Setup, pull: &Pull, seed: u64| {
        let mut made = logged(setup, pull, HONEST, seed);
        let ratio = made.curve.bands[BANDS as usize / 2].engine_per_drum;
        for band in &mut made.curve.bands {
            let seen = band.engine_per_drum.zip(ratio).map(|(own, all)| all / own);
            band.rpm *= seen.expect("logged");
            band.engine_per_drum = ratio;
        }
        made
    };
    let typed = Entered {
        speed_source: SpeedSource::FromDrum,
        ..entered(&sound)
    };
    let good_pull = pull(&sound);
    let good = Visit {
        name: "good".into(),
        pulls: (0..3).map(|n| blind(&sound, &good_pull, 60 + n)).collect(),
    };
    let ask = |odd: &MeasuredPull| {
        let question = Question {
            setup: &sound,
            good: &[(good.clone(), vec![typed; 3])],
            odd: Trial {
                pull: odd,
                entered: typed,
            },
            before: &[],
            same_strapping: true,
            same_air: true,
            doubts: Doubts::CHOSEN,
        };
        question.answer().expect("a diagnosis").suspects[0]
            .explained
            .cause
    };
    assert_eq!(ask(&blind(&sound, &good_pull, 67)), Cause::Nothing);
    let mut narrow = sound.clone();
    narrow.car.exhaust.back_pressure_pa *= 4.0;
    assert_eq!(
        ask(&blind(&narrow, &pull(&narrow), 68)),
        Cause::RestrictedExhaust
    );
}

#[test]
fn a_cause_the_car_cannot_have_is_not_asked() {
    let found = diagnosis(&setup(coupe()), |_| (), HONEST, 40);
    assert!(matches!(coupe().blower, Blower::None));
    for absent in [
        Cause::BeltSlip,
        Cause::BoostLeak,
        Cause::LowBattery,
        Cause::MotorDerate,
    ] {
        assert!(
            found.suspects.iter().all(|s| s.explained.cause != absent),
            "{absent:?}"
        );
    }
    let total: f64 = found.suspects.iter().map(|s| s.probability).sum();
    assert!((total - 1.0).abs() < 1e-12);
}

#[test]
fn without_the_channel_that_tells_it_is_the_one_asked_for() {
    let lean: fn(&mut Setup) = |s| {
        s.car.tune.lambda += 0.16;
        s.car.retabulate_knock();
    };
    let bare = Log {
        lambda: false,
        ..HONEST
    };
    let found = diagnosis(&setup(coupe()), lean, bare, 50);
    assert!(
        found
            .next
            .iter()
            .any(|step| step.measurement == Measurement::Mixture && step.absent_channel),
        "{:?}",
        found.next
    );
}

#[test]
fn more_of_a_fault_never_makes_it_less_likely_than_nothing() {
    let sound = setup(coupe());
    let odds = [1.0, 2.0, 4.0, 8.0].map(|factor| {
        let good_pull = pull(&sound);
        let mut spoiled = sound.clone();
        spoiled.car.exhaust.back_pressure_pa *= factor;
        let good = Visit {
            name: "good".into(),
            pulls: (0..3)
                .map(|n| logged(&sound, &good_pull, HONEST, 900 + n))
                .collect(),
        };
        let odd = logged(&spoiled, &pull(&spoiled), HONEST, 907);
        let typed = entered(&sound);
        let question = Question {
            setup: &sound,
            good: &[(good, vec![typed; 3])],
            odd: Trial {
                pull: &odd,
                entered: typed,
            },
            before: &[],
            same_strapping: true,
            same_air: true,
            doubts: Doubts::CHOSEN,
        };
        let found = question.answer().expect("a diagnosis");
        let of = |cause: Cause| {
            let suspect = found.suspects.iter().find(|s| s.explained.cause == cause);
            suspect.expect("asked").explained.log_evidence
        };
        of(Cause::RestrictedExhaust) - of(Cause::Nothing)
    });
    assert!(odds.windows(2).all(|w| w[1] > w[0]), "{odds:?}");
    assert!(odds[0] < 0.0 && odds[3] > 5.0, "{odds:?}");
}

/// The demo shop's odd pull: its battery held 15 % and nobody had looked.
#[test]
fn the_demo_shops_odd_pull_is_explained() {
    let shop = Shop::new();
    let estate = folder("upland_estate");
    let at = |name: &str| estate.join(name).display().to_string();
    shop.well(&format!(
        "fit {} {} --out estate.toml",
        at("car.toml"),
        at("baseline.toml")
    ));
    let ran = shop.well(&format!(
        "diagnose estate.toml {} --good {} --json",
        at("odd.toml"),
        at("baseline.toml")
    ));
    let report = ran.json("pullcast/diagnose/2");
    let first = &report["suspects"][0];
    assert_eq!(first["cause"], "low_battery", "{report:#}");
    let size = &first["sizes"][0];
    let (low, high) = (size["low"].as_f64(), size["high"].as_f64());
    assert!(low <= Some(0.15) && Some(0.15) <= high, "{size}");
    assert_eq!(report["good_pulls"], 3);
    let ran = shop.well(&format!(
        "diagnose estate.toml {} --good {}",
        at("odd.toml"),
        at("baseline.toml")
    ));
    for words in [
        "Electric axle's battery low",
        "Judged against 3 good pulls",
        "high voltage",
    ] {
        let flat: Vec<&str> = ran.out.split_whitespace().collect();
        assert!(flat.join(" ").contains(words), "{words}: {}", ran.out);
    }
    // Nothing is measured to rule out what has no chance.
    assert!(report["suspects"][1]["probability"].as_f64() < Some(0.01));
    assert!(!ran.out.contains("To tell (1)"), "{}", ran.out);
}

#[test]
fn a_question_that_cannot_be_answered_is_refused_with_the_way_out() {
    let shop = Shop::new();
    shop.measure();
    for (arguments, code, words) in [
        ("diagnose car.toml visit.toml", 2, "--good"),
        (
            "diagnose car.toml visit.toml --good visit.toml",
            65,
            "same recording",
        ),
        ("diagnose car.toml nowhere.toml", 66, "nowhere.toml"),
        ("diagnose car.toml visit.toml --pull 0", 2, "--pull"),
    ] {
        let ran = shop.run(arguments);
        assert_eq!(ran.code, code, "{arguments}: {}", ran.err);
        assert!(ran.err.contains(words), "{arguments}: {}", ran.err);
        assert_eq!(ran.out, "", "{arguments}");
    }
    shop.well("fit car.toml visit.toml --out fitted.toml");
    let ran = shop.run("diagnose fitted.toml visit.toml");
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(
        ran.err.contains("say with --pull") && ran.err.contains("1 to 2"),
        "{}",
        ran.err
    );
    let ran = shop.run("diagnose fitted.toml visit.toml --pull 3");
    assert_eq!(ran.code, 2, "{}", ran.err);
    let report = shop
        .well("diagnose fitted.toml visit.toml --pull 2 --json")
        .json("pullcast/diagnose/2");
    assert_eq!(report["good_pulls"], 0);
    assert_eq!(report["suspects"][0]["cause"], "nothing", "{report:#}");
}
