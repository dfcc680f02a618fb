//! What the draws of a quote are made of, each source of doubt by itself against its closed form: the drums' repeatability, the
//! correlation that a fit leaves between numbers, and the seed.

use crate::laws::{coupe, drums, mild};
use nalgebra::DMatrix;
use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::ask::Progress;
use pullcast::ask::basis::Air;
use pullcast::ask::quote::{Answer, MOST_USUAL_DRAWS, Question, QuoteError, USUAL_DRAWS};
use pullcast::belief::parameter;
use pullcast::belief::sheet::{Belief, Correlation, Origin, Sheet};
use pullcast::belief::{Mechanism, Miss, Noise, Prior};
use pullcast::dyno::{Conditions, Setup};
use pullcast::fit::own_jobs::{ClosedJob, Learned};
use pullcast::parts::{Change, CompressionRatio, Plan};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Distance from the median to the 95th percentile of a normal, in standard deviations.
const Z95: f64 = 1.6449;
/// How far half a 5 to 95 % range of 200 normal draws may stray from its truth, relative: three standard errors. One end strays by
/// √(0.05 · 0.95/200)/φ(z) = 0.149 sd, half their distance by 0.11 sd (ends almost independent), 6.4 % of 1.645 sd.
const RANGE_STRAYS: f64 = 0.20;

/// The coupe with every number certain but those named.
fn certain_but_for(doubtful: &[&str]) -> Sheet {
    let sheet = coupe_in_doubt_of(|path| doubtful.contains(&path));
    assert_eq!(sheet.free_count(), doubtful.len());
    sheet
}

/// The coupe with the usual doubts of some of its numbers, and every other certain.
pub(crate) fn coupe_in_doubt_of(doubtful: impl Fn(&str) -> bool) -> Sheet {
    let mut setup = Setup {
        car: coupe(),
        drums: drums(),
    };
    let given: Vec<Belief> = parameter::catalogue()
        .filter_map(|parameter| {
            let value = *(parameter.slot)(&mut setup)?;
            let default = parameter.default_prior(&setup).and_then(Result::ok);
            let prior = match default {
                Some(prior) if doubtful(parameter.path) => prior,
                _ => Prior::fixed(value).ok()?,
            };
            let origin = Origin::Given;
            Some(Belief {
                parameter,
                prior,
                origin,
            })
        })
        .collect();
    Sheet::new(setup, &given).expect("a whole car")
}

/// No strays of the drums, and nothing the model may miss.
fn no_noise() -> Noise {
    Noise {
        visit: 0.0,
        pull: 0.0,
        shape: 0.0,
        miss: Miss::NONE,
        ..Noise::default()
    }
}

/// A quote of no work at all, from 200 draws.
fn quote(sheet: &Sheet, noise: Noise, seed: u64) -> Answer {
    let plan = Plan {
        name: "nothing".into(),
        changes: Vec::new(),
    };
    let question = Question {
        noise,
        draws: Some(200),
        seed,
        ..Question::new(sheet, &plan, &[], Some(Air::stated(mild(), "mild")))
    };
    question.answer().expect("a quote")
}

/// Half the logarithm of the 5 to 95 % range of the reading after, in standard deviations of a normal.
fn spread(answer: &Answer) -> f64 {
    let range = answer.after.power_w;
    0.5 * (range.p95 / range.p5).ln() / Z95
}

#[test]
fn a_car_without_doubt_reads_as_often_off_as_the_drums_repeat() {
    let sheet = certain_but_for(&[]);
    for (visit, pull) in [(0.03, 0.0), (0.0, 0.03), (0.03, 0.04)] {
        let answer = quote(
            &sheet,
            Noise {
                visit,
                pull,
                ..no_noise()
            },
            5,
        );
        let (read, stated) = (spread(&answer), f64::hypot(visit, pull));
        assert!(
            (read / stated - 1.0).abs() < RANGE_STRAYS,
            "visit {visit}, pull {pull}: {read} for {stated}"
        );
    }
    let still = quote(&sheet, no_noise(), 5).after.power_w;
    assert_eq!((still.p5, still.p95), (still.p50, still.p50));
}

/// Two numbers that raise the power alike and cannot be told apart by it: each in doubt, their sum known.
#[test]
fn what_a_fit_knows_of_two_numbers_together_narrows_the_range() {
    let (paths, correlation) = (["breathing.level", "combustion.level"], -0.95);
    let mut sheet = certain_but_for(&paths);
    let apart = spread(&quote(&sheet, no_noise(), 5));
    let matrix = DMatrix::from_row_slice(2, 2, &[1.0, correlation, correlation, 1.0]);
    sheet.correlation = Some(Correlation::new(matrix).expect("a correlation"));
    let together = spread(&quote(&sheet, no_noise(), 5));
    // Slopes of the logarithm of the peak by central differences over half a standard deviation.
    let peak_ln = |z: [f64; 2]| {
        let setup = sheet.setup_at(&z);
        let pull = setup
            .pull(
                &mild(),
                &Conditions::rested(setup.car.engine.redline_rpm),
                60,
            )
            .expect("a pull");
        pull.peak_power().expect("a peak").power_w.ln()
    };
    let slope = [
        peak_ln([0.5, 0.0]) - peak_ln([-0.5, 0.0]),
        peak_ln([0.0, 0.5]) - peak_ln([0.0, -0.5]),
    ];
    let squares = slope[0] * slope[0] + slope[1] * slope[1];
    let expected = (squares + 2.0 * correlation * slope[0] * slope[1]).sqrt();
    assert!(
        (apart / squares.sqrt() - 1.0).abs() < RANGE_STRAYS,
        "apart {apart}, expected {}",
        squares.sqrt()
    );
    assert!(
        (together / expected - 1.0).abs() < RANGE_STRAYS,
        "together {together}, expected {expected}"
    );
}

#[test]
fn another_seed_draws_other_cars_and_the_same_seed_the_same() {
    let sheet = certain_but_for(&["breathing.level", "combustion.level"]);
    let [first, again, other] = [5, 5, 6].map(|seed| quote(&sheet, no_noise(), seed).after.power_w);
    assert_eq!(first, again);
    assert!(first.p5 != other.p5 && first.p50 != other.p50 && first.p95 != other.p95);
}

#[test]
fn draws_made_beforehand_give_the_same_quote_and_never_stand_for_another_question() {
    // In another mixture each draw takes its knock table from those that all share: made on the way, they are no part of the question.
    let sheet = certain_but_for(&["breathing.level", "combustion.level", "tune.lambda"]);
    let plan = Plan {
        name: "nothing".into(),
        changes: Vec::new(),
    };
    let air = |kelvin: f64| {
        let day = Day::from_vapour(StationPressure::from_pa(99_000.0), kelvin, 0.0).expect("a day");
        Some(Air::stated(day, "a day"))
    };
    let in_air = |kelvin| Question {
        draws: Some(60),
        ..Question::new(&sheet, &plan, &[], air(kelvin))
    };
    let question = in_air(290.0);
    let bases = question.bases();
    let whole = question.answer().expect("a quote");
    let known = question.answer_on(Some(&bases), Progress::SILENT);
    assert_eq!(known.expect("a quote"), whole);
    // In other air they do not fit, and are not taken.
    let warm = in_air(305.0);
    assert!(bases.fit(&question) && !bases.fit(&warm));
    let anew = warm.answer_on(Some(&bases), Progress::SILENT);
    let anew = anew.expect("a quote");
    assert_eq!(anew, warm.answer().expect("a quote"));
    assert!(anew.after.power_w.p50 < whole.after.power_w.p50);
}

#[test]
fn a_question_that_was_taken_back_ends_without_an_answer() {
    let sheet = certain_but_for(&["breathing.level"]);
    let plan = Plan {
        name: "nothing".into(),
        changes: Vec::new(),
    };
    let question = Question::new(&sheet, &plan, &[], Some(Air::stated(mild(), "mild")));
    let over = AtomicBool::new(true);
    let answer = question.answer_on(None, Progress::SILENT.until(&over));
    assert_eq!(answer, Err(QuoteError::Over));
}

/// A part that changes what goes through several mechanisms, and jobs that all missed it alike.
#[test]
fn what_closed_jobs_taught_moves_the_middle_by_the_sum_of_biases_times_effects() {
    let sheet = certain_but_for(&[]);
    let exact = |x: f64| Prior::fixed(x).expect("a number");
    let plan = Plan {
        name: "compression".into(),
        changes: vec![Change::CompressionRatio(Box::new(CompressionRatio {
            ratio: exact(sheet.centre.car.engine.geometry.cylinder.compression_ratio + 1.5),
        }))],
    };
    let general = Noise {
        miss: Miss::default(),
        ..no_noise()
    };
    let question = Question {
        noise: general,
        draws: Some(200),
        seed: 5,
        ..Question::new(&sheet, &plan, &[], Some(Air::stated(mild(), "mild")))
    };
    let plain = question.answer().expect("a quote");
    assert_eq!(plain.own_jobs, None);
    // Ten jobs of the same work read 3 % above the middle.
    let job = plain.faultless.closed(1.03 * plain.promise.power_w.p50);
    let jobs = vec![
        ClosedJob {
            own: 0.004,
            parts: 0.0,
            ..job
        };
        10
    ];
    let learned = Learned::of(&jobs, &general.miss, 1);
    assert!(learned.is_some());
    let question = Question {
        learned: learned.map(Arc::new),
        ..question
    };
    let answer = question.answer().expect("a quote");
    let own = answer.own_jobs.as_ref().expect("learned");
    let effect = |m: Mechanism| {
        let line = answer.misjudged.iter().find(|line| line.mechanism == m);
        line.map_or(0.0, |line| line.effect)
    };
    let expected: f64 = own
        .mechanisms
        .iter()
        .map(|m| m.bias * effect(m.mechanism))
        .sum();
    let moved = (answer.promise.power_w.p50 / plain.promise.power_w.p50).ln();
    // The peak may change its speed by a step of the curve, and effects differ a little from draw to draw.
    assert!(
        (moved / expected - 1.0).abs() < 0.05,
        "{moved} for {expected}"
    );
    assert!(moved > 0.005, "{moved}");
    // What it would be without is the quote made without, draw for draw.
    let without = own.without_w;
    for (a, b) in [
        (without.p5, plain.promise.power_w.p5),
        (without.p50, plain.promise.power_w.p50),
        (without.p95, plain.promise.power_w.p95),
    ] {
        assert!(
            (a / b - 1.0).abs() < 1e-9,
            "{without:?} for {:?}",
            plain.promise.power_w
        );
    }
}

#[test]
fn jobs_of_the_same_kind_move_a_quote_and_narrow_what_its_parts_bring() {
    let sheet = certain_but_for(&[]);
    let ratio = sheet.centre.car.engine.geometry.cylinder.compression_ratio + 1.0;
    let plan = Plan {
        name: "compression".into(),
        changes: vec![Change::CompressionRatio(Box::new(CompressionRatio {
            ratio: Prior::normal(ratio, 0.3, 6.0, 20.0).expect("a number"),
        }))],
    };
    let question = Question {
        noise: no_noise(),
        draws: Some(200),
        seed: 5,
        ..Question::new(&sheet, &plan, &[], Some(Air::stated(mild(), "mild")))
    };
    let plain = question.answer().expect("a quote");
    let middle_w = plain.promise.power_w.p50;
    let job = plain.faultless.closed(middle_w);
    // Without drums and misses, the parts' doubt is all there is.
    assert!(
        (job.parts / job.own - 1.0).abs() < 0.02,
        "{} of {}",
        job.parts,
        job.own
    );
    assert_eq!(job.kinds, ["compression_ratio"]);
    // Twelve such jobs a doubt above the middle, within a tenth of it.
    let jobs: Vec<ClosedJob> = (0..12)
        .map(|n| {
            let stray = 0.1 * (f64::from(n) - 5.5) / 5.5;
            plain
                .faultless
                .closed(middle_w * ((1.0 + stray) * job.parts).exp())
        })
        .collect();
    let asked = |jobs: &[ClosedJob]| {
        let question = Question {
            learned: Learned::of(jobs, &Miss::NONE, 1).map(Arc::new),
            ..question.clone()
        };
        question.answer().expect("a quote")
    };
    let answer = asked(&jobs);
    let own = answer.own_jobs.as_ref().expect("learned");
    let kinds = own.kinds.expect("jobs of the kind");
    let moved = (answer.promise.power_w.p50 / middle_w).ln();
    // The draws are centred on the upper of their two middle readings, and the middle told lies between both.
    assert!(
        (moved / kinds.bias - 1.0).abs() < 0.01,
        "{moved} for {kinds:?}"
    );
    assert!(
        (moved / job.parts - 1.0).abs() < 0.15,
        "{moved} for {}",
        job.parts
    );
    assert!(own.width < 0.6, "{}", own.width);
    let gain = |answer: &Answer| answer.gain.p95 - answer.gain.p5;
    assert!(gain(&answer) < 0.6 * gain(&plain));
    // The car before is what it was.
    assert_eq!(answer.before.power_w, plain.before.power_w);
    // Jobs of other kinds say nothing of it.
    let others: Vec<ClosedJob> = jobs
        .into_iter()
        .map(|job| ClosedJob {
            kinds: vec!["headers".to_owned()],
            ..job
        })
        .collect();
    let answer = asked(&others);
    assert_eq!(answer.own_jobs.as_ref().and_then(|own| own.kinds), None);
    assert!((answer.promise.power_w.p50 / middle_w - 1.0).abs() < 1e-9);
}

#[test]
fn draws_are_laid_evenly_and_as_many_as_the_doubt_needs() {
    let ask = |sheet: &Sheet, draws: Option<usize>, seed: u64| {
        let plan = Plan::as_it_stands();
        let question = Question {
            noise: no_noise(),
            draws,
            seed,
            ..Question::new(sheet, &plan, &[], Some(Air::stated(mild(), "mild")))
        };
        question.answer().expect("a quote")
    };
    let certain = ask(&certain_but_for(&[]), None, 1);
    assert_eq!(certain.basis.draws, USUAL_DRAWS);
    let doubtful = coupe_in_doubt_of(|_| true);
    let many = ask(&doubtful, None, 1);
    let made = many.basis.draws + many.basis.draws_failed;
    assert!(made > USUAL_DRAWS && made <= MOST_USUAL_DRAWS, "{made}");
    // At random the low end of a normal distribution strays by 2.1 of its deviations over the root of the draws; laid evenly by less than two thirds of that.
    let draws = 300;
    let lows: Vec<f64> = (1..=12)
        .map(|seed| ask(&doubtful, Some(draws), seed).after.power_w.p5.ln())
        .collect();
    let mean = lows.iter().sum::<f64>() / 12.0;
    let square = lows.iter().map(|low| (low - mean).powi(2)).sum::<f64>();
    let strays = (square / 11.0).sqrt();
    let at_random = 2.1 * spread(&many) / (draws as f64).sqrt();
    assert!(strays < 0.67 * at_random, "{strays:.5} of {at_random:.5}");
}
