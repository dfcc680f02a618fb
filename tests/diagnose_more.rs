//! What a diagnosis says beyond one fault of the car: two at once, what happened on the rig, what the log cannot show.
//!
//! Made by the program's own model as in `tests/diagnose.rs`, so no evidence for the physics.

use crate::laws::{coupe, mild};
use crate::odd_pull_maker::{HONEST, Log, TYPED, diagnosis, entered, logged, pull, setup};
use pullcast::air::Day;
use pullcast::diagnose::next::Measurement;
use pullcast::diagnose::{Cause, Diagnosis, Doubts, Entered, Question, Remark, Trial};
use pullcast::dyno::Setup;
use pullcast::fit::observation::{MeasuredPull, Visit};

fn first(found: &Diagnosis) -> Cause {
    found.suspects[0].explained.cause
}

/// A pull held against three good ones, with what was entered for it.
fn ask(sound: &Setup, odd: &MeasuredPull, typed: Entered) -> Diagnosis {
    let good_pull = pull(sound);
    let good = Visit {
        name: "good".into(),
        pulls: (0..3)
            .map(|n| logged(sound, &good_pull, HONEST, 70 + n))
            .collect(),
    };
    let question = Question {
        setup: sound,
        good: &[(good, vec![entered(sound); 3])],
        odd: Trial {
            pull: odd,
            entered: typed,
        },
        before: &[],
        same_strapping: true,
        same_air: true,
        doubts: Doubts::CHOSEN,
    };
    question.answer().expect("a diagnosis")
}

/// The two likeliest, in the order of causes.
fn first_two(found: &Diagnosis) -> Vec<Cause> {
    let likeliest = found.suspects.iter().take(2);
    let mut two: Vec<Cause> = likeliest.map(|s| s.explained.cause).collect();
    two.sort();
    two
}

#[test]
fn a_fault_at_the_rig_and_one_in_the_car_are_both_named() {
    let narrow: fn(&mut Setup) = |s| s.car.exhaust.back_pressure_pa *= 5.0;
    let typed = Log {
        power: TYPED,
        ..HONEST
    };
    let found = diagnosis(&setup(coupe()), narrow, typed, 81);
    assert_eq!(
        first_two(&found),
        [Cause::DrumInertia, Cause::RestrictedExhaust]
    );
    for suspect in &found.suspects[..2] {
        assert!(
            suspect.explained.with.is_some(),
            "{:?}",
            suspect.explained.cause
        );
        assert!(suspect.probability > 0.5, "{}", suspect.probability);
    }
}

/// An inertia that lies between the places at which it was looked at, and a drag that is no more than twice what power strays by.
#[test]
fn a_small_fault_in_the_car_is_named_behind_one_at_the_rig() {
    let dragging: fn(&mut Setup) = |s| s.car.driveline.tyre.rolling_coefficient *= 2.5;
    let typed = Log {
        power: 1.04,
        ..HONEST
    };
    let found = diagnosis(&setup(coupe()), dragging, typed, 82);
    assert_eq!(first_two(&found), [Cause::DrumInertia, Cause::Drag]);
    assert!(found.suspects[1].explained.with.is_some());
}

#[test]
fn a_lifted_foot_and_slip_at_any_load_are_named() {
    let sound = setup(coupe());
    let good_pull = pull(&sound);
    let lifted = Log {
        altered: |b| {
            let lost = 0.25 * ((b.rpm - 5200.0) / 140.0).clamp(0.0, 1.0);
            b.power_w *= 1.0 - lost;
            b.manifold_pa = b.manifold_pa.map(|pa| pa * (1.0 - 0.8 * lost));
        },
        ..HONEST
    };
    let found = ask(
        &sound,
        &logged(&sound, &good_pull, lifted, 82),
        entered(&sound),
    );
    assert_eq!(first(&found), Cause::Lift);
    let slips = Log {
        altered: |b| {
            // More of it in the middle, which is no gear.
            let slip = 0.02 + 0.05 * (-((b.rpm - 4500.0) / 900.0).powi(2)).exp();
            b.power_w /= 1.0 + slip;
            b.engine_per_drum = b.engine_per_drum.map(|r| r * (1.0 + slip));
        },
        ..HONEST
    };
    let found = ask(
        &sound,
        &logged(&sound, &good_pull, slips, 83),
        entered(&sound),
    );
    assert_eq!(first(&found), Cause::TyreSlip);
}

#[test]
fn ratios_unlike_those_of_the_good_pulls_are_remarked_on_with_a_pick_up() {
    let sound = setup(coupe());
    let odd = logged(&sound, &pull(&sound), HONEST, 84);
    let typed = entered(&sound);
    let other = Entered {
        overall_ratio: typed.overall_ratio.map(|r| 1.09 * r),
        ..typed
    };
    let unlike = |d: &Diagnosis| {
        let remark = |r: &Remark| matches!(r, Remark::RatiosUnlike { .. });
        d.remarks.iter().any(remark)
    };
    let found = ask(&sound, &odd, other);
    assert!(unlike(&found), "{:?}", found.remarks);
    assert_eq!(first(&found), Cause::Gear);
    assert!(!unlike(&ask(&sound, &odd, typed)));
}

#[test]
fn what_a_log_cannot_show_is_said_with_what_would() {
    let without = Log {
        lambda: false,
        drum_speed: false,
        ..HONEST
    };
    let found = diagnosis(&setup(coupe()), |_| (), without, 85);
    let shows = |m: Measurement| found.blind.iter().any(|b| b.measurement == m);
    assert!(
        shows(Measurement::Mixture) && shows(Measurement::SpeedRatio) && shows(Measurement::Spark)
    );
    // An unblown car has no boost to lose.
    assert!(!shows(Measurement::Boost) && !shows(Measurement::ChargeTemperature));
}

#[test]
fn a_room_that_is_warmer_is_not_the_same_air() {
    let sound = setup(coupe());
    let mild = mild();
    let warm = Day::from_relative_humidity(
        mild.station(),
        mild.temperature_k() + 15.0,
        0.5 * mild.relative_humidity(),
    );
    let warm = warm.expect("a day");
    let conditions = logged(&sound, &pull(&sound), HONEST, 1).conditions;
    let made = sound.pull(&warm, &conditions, 60).expect("a pull");
    let mut odd = MeasuredPull {
        day: warm,
        ..logged(&sound, &made, HONEST, 86)
    };
    // The corrected column was made for the other day.
    odd.curve.rig.applied_factor = None;
    let found = ask(&sound, &odd, entered(&sound));
    let differs =
        |r: &Remark| matches!(r, Remark::AirDiffers { by_k } if (by_k - 15.0).abs() < 1e-9);
    assert!(found.remarks.iter().any(differs), "{:?}", found.remarks);
    assert_eq!(first(&found), Cause::Nothing);
}
