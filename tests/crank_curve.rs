//! Curves of the engine alone: what a fit learns from one, and what it must not.

use crate::laws::{coupe, drums, mild};
use pullcast::ask::basis::Air;
use pullcast::ask::quote::{Answer, Question};
use pullcast::belief::parameter;
use pullcast::belief::sheet::{Belief, Origin, Sheet};
use pullcast::belief::{Miss, Noise, Prior};
use pullcast::dyno::{Band, Conditions, Curve, Setup};
use pullcast::fit::fitted::calibrate;
use pullcast::fit::observation::{MeasuredPull, ReadAt, Visit};
use pullcast::fit::simulated::simulate_all;
use pullcast::parts::Plan;

/// Distance from the median to the 95th percentile of a normal, in standard deviations.
const Z95: f64 = 1.6449;

fn setup() -> Setup {
    Setup {
        car: coupe(),
        drums: drums(),
    }
}

/// A car of which facts are known and all else is usual.
fn believed() -> Sheet {
    let mut setup = setup();
    let given: Vec<Belief> = parameter::catalogue()
        .filter_map(|parameter| {
            let value = *(parameter.slot)(&mut setup)?;
            let usual = parameter.default_prior(&setup).and_then(Result::ok);
            let prior = usual.or_else(|| Prior::fixed(value).ok())?;
            Some(Belief {
                parameter,
                prior,
                origin: Origin::Given,
            })
        })
        .collect();
    Sheet::new(setup, &given).expect("a whole car")
}

/// What an engine dynamometer reads of a car's engine at some speeds, each with a doubt of half a percent.
fn on_the_bed(setup: &Setup, speeds: &[f64]) -> Visit {
    let over = (speeds[0], speeds[speeds.len() - 1]);
    let read = setup.at_the_crank(&mild(), over, None, 60);
    let band = |&rpm: &f64| {
        let power_w = read.reading(rpm, |p| p.ledger.brake_w());
        Band {
            rpm,
            power_w,
            power_se_w: 0.005 * power_w,
            samples: 1,
            ..Band::default()
        }
    };
    let pull = MeasuredPull {
        name: "bed".to_owned(),
        read_at: ReadAt::Crank,
        level_doubt: None,
        day: mild(),
        conditions: Conditions::rested(6000.0),
        rest_s: None,
        curve: Curve {
            bands: speeds.iter().map(band).collect(),
            ..Curve::default()
        },
    };
    Visit {
        name: "bed".to_owned(),
        pulls: vec![pull],
    }
}

fn as_it_stands(sheet: &Sheet) -> Answer {
    let plan = Plan::as_it_stands();
    let question = Question {
        draws: 120,
        noise: Noise {
            miss: Miss::NONE,
            ..Noise::default()
        },
        ..Question::new(sheet, &plan, &[], Some(Air::reference()))
    };
    question.answer().expect("a quote")
}

/// 6 % more air than is believed: the curve's level must go into the engine.
#[test]
fn a_fit_of_a_crank_curve_finds_the_engine_and_leaves_the_drums_in_doubt() {
    let believed = believed();
    let mut truth = believed.centre.clone();
    truth.car.engine.breathing.level *= 1.06;
    let visit = on_the_bed(&truth, &[2000.0, 3000.0, 4000.0, 5000.0, 6000.0, 7000.0]);
    let visits = [visit];
    let fitted = calibrate(&believed, &visits, Noise::default()).expect("a fit");

    assert!(fitted.power_rms() < 0.005, "{}", fitted.power_rms());
    let made = simulate_all(&fitted.sheet.centre, &visits, 1e-3).expect("the curve");
    let said = made[0].reading(pullcast::fit::calibration::Channel::Power, 5000.0);
    let was = visits[0].pulls[0].curve.bands[3].power_w;
    // The rig's own level takes its share of the 6 %: 1.5 % against the engine's 10 % or so is a fiftieth of it.
    assert!((said / was - 1.0).abs() < 0.006, "{said} {was}");

    let (before, after) = (as_it_stands(&believed), as_it_stands(&fitted.sheet));
    let width = |of: &pullcast::ask::quote::Range| (of.p95 - of.p5) / of.p50;
    let (crank, drums) = (
        width(&after.after.crank_power_w),
        width(&after.after.power_w),
    );
    assert!(crank < 0.5 * width(&before.after.crank_power_w), "{crank}");
    // What stands behind the crank is still open: more than the repeatability of the drums alone lies between the two.
    let noise = Noise::default();
    let strays = 2.0 * Z95 * noise.visit.hypot(noise.pull);
    assert!(
        drums.powi(2) > crank.powi(2) + strays.powi(2),
        "{drums} {crank} {strays}"
    );
    assert!(fitted.sheet.measured.is_none() && !fitted.sheet.is_fitted_on_drums());
}

/// The crank gives more than the drums read, at every speed, by the losses between and the inertia that no drum is credited with.
#[test]
fn the_crank_gives_more_than_the_drums_read() {
    let answer = as_it_stands(&believed());
    for point in &answer.curve {
        let share = point.after_w.range.p50 / point.after_crank_w.range.p50;
        assert!((0.5..0.95).contains(&share), "{} {share}", point.rpm);
    }
    let peak = answer.after;
    assert!(peak.crank_power_w.p50 > peak.power_w.p50);
}

/// No work gains nothing, in every draw: an identity, so rounding alone.
#[test]
fn no_work_gains_nothing() {
    let answer = as_it_stands(&believed());
    for end in [answer.gain.p5, answer.gain.p50, answer.gain.p95] {
        assert!(end.abs() < 1e-12, "{:?}", answer.gain);
    }
}
