//! Whether a range holds what it says, for cars of every kind: truths are drawn from the beliefs, pulled on made-up drums, fitted and quoted, and
//! each truth is ranked among what was then drawn of it.
//!
//!     cargo run --release --example calibration              # 500 cars
//!     cargo run --release --example calibration -- 50 7      # 50 cars from seed 7 on
//!     cargo run --release --example calibration -- 100 turbo # kinds whose name holds the word
//!
//! What the model misses is left out of both sides, because here the model is the truth.

#![allow(clippy::print_stdout, reason = "a study prints its tables")]

mod cars;
mod made_pulls;
mod rank;

use cars::Kind;
use made_pulls::{Course, measured};
use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::ask::basis::Air;
use pullcast::ask::quote::{Before, Question};
use pullcast::belief::Miss;
use pullcast::belief::Noise;
use pullcast::belief::sheet::standard_normal;
use pullcast::dyno::{Conditions, Setup};
use pullcast::fit::fitted::calibrate;
use pullcast::numeric::side_by_side;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rank::{LEVELS, Ranks};
use statrs::distribution::{ContinuousCDF, Normal};

/// Cars unless another number is asked for.
const CARS: usize = 500;
/// Draws of each quote.
const DRAWS: usize = 200;
/// Relative white noise of one band.
const WHITE: f64 = 0.003;

/// Where the truths of one car stand.
struct Trial {
    /// Numbers of the car that its pulls informed, and all others in doubt.
    informed: Vec<f64>,
    other: Vec<f64>,
    /// The reading of the finished work.
    reading: f64,
    /// Whether the 90 % range of the gain holds the true one.
    gain_held: bool,
    /// Width of the range of the reading, share of the power.
    width: f64,
    /// Whether the fit came to rest; where it did not, the program says so.
    at_rest: bool,
}

/// Why a car tells nothing.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Untold {
    CannotPull,
    FitRefused,
    QuoteRefused,
}

fn day() -> Day {
    Day::from_relative_humidity(StationPressure::from_pa(97_000.0), 291.15, 0.55)
        .expect("a possible day")
}

fn trial(kind: Kind, seed: u64) -> Result<Trial, Untold> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let made = cars::made(kind, &mut rng);
    let noise = Noise {
        miss: Miss::NONE,
        ..Noise::default()
    };
    let z = made.sheet.draw(&mut rng);
    let truth = made.sheet.setup_at(&z);
    let redline = made.sheet.centre.car.engine.redline_rpm;
    let conditions = Conditions::rested(redline);
    let course = Course {
        day: day(),
        conditions,
        bands_rpm: (conditions.from_rpm + 100.0, redline - 50.0),
        white: WHITE,
    };
    let visit = measured(&truth, &noise, &course, &mut rng).ok_or(Untold::CannotPull)?;
    let fitted = calibrate(&made.sheet, &[visit], noise).map_err(|_| Untold::FitRefused)?;
    let standard = Normal::standard();
    let ranks = |informed: bool| {
        fitted
            .learnt
            .iter()
            .zip(made.sheet.free().zip(&z))
            .filter(|(learnt, _)| learnt.informed == informed)
            .map(|(learnt, (belief, z))| standard.cdf(learnt.after.to_z(belief.prior.from_z(*z))))
            .collect()
    };
    let air = Air::stated(day(), "the day of both pulls");
    let question = Question {
        before: Before {
            conditions,
            ..Before::rested(&fitted.sheet.centre.car, air.clone())
        },
        noise,
        draws: Some(DRAWS),
        seed,
        ..Question::new(&fitted.sheet, &made.plan, &[], Some(air))
    };
    let quote = question.answer().map_err(|_| Untold::QuoteRefused)?;
    let plan = made.plan.map(|_, _, prior| prior.sample(&mut rng));
    let built = Setup {
        car: plan.apply(&truth.car).map_err(|_| Untold::CannotPull)?,
        drums: truth.drums,
    };
    let peak = |setup: &Setup| {
        let pull = setup.pull(&day(), &conditions, 28).ok()?;
        Some(pull.peak_power()?.power_w)
    };
    let (before, after) = (
        peak(&truth).ok_or(Untold::CannotPull)?,
        peak(&built).ok_or(Untold::CannotPull)?,
    );
    let stray = noise.visit * standard_normal(&mut rng) + noise.pull * standard_normal(&mut rng);
    let read = after * stray.exp();
    let below = quote.peaks_w.iter().filter(|w| **w < read).count();
    Ok(Trial {
        informed: ranks(true),
        other: ranks(false),
        reading: (below as f64 + 0.5) / (quote.peaks_w.len() as f64 + 1.0),
        at_rest: fitted.stop.converged(),
        gain_held: quote.gain.holds(after / before - 1.0),
        width: (quote.after.power_w.p95 - quote.after.power_w.p5) / quote.after.power_w.p50,
    })
}

fn tell(name: &str, ranks: &Ranks) {
    let inside = LEVELS.map(|level| format!("{:5.1}", 100.0 * ranks.inside(level)));
    println!(
        "  {name:<26} {:>6}  {}   {:?}   {:.3}",
        ranks.0.len(),
        inside.join("  "),
        ranks.histogram(),
        ranks.chance_if_level(),
    );
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let mut asked = words.iter().filter_map(|word| word.parse().ok());
    let cars: usize = asked.next().unwrap_or(CARS);
    let first = asked.next().unwrap_or(1);
    let names: Vec<&String> = words
        .iter()
        .filter(|word| word.parse::<usize>().is_err())
        .collect();
    let meant = |kind: &Kind| {
        names.is_empty()
            || names
                .iter()
                .any(|name| kind.words().contains(name.as_str()))
    };
    let kinds: Vec<Kind> = Kind::ALL.into_iter().filter(meant).collect();
    assert!(!kinds.is_empty(), "no kind of car is called so");
    let kind_of = |index: usize| kinds[index % kinds.len()];
    let trials = side_by_side(cars, |index| trial(kind_of(index), (first + index) as u64));
    println!(
        "{cars} cars from seed {first}; quotes of {DRAWS} draws. Inside 50, 80, 90, 95 %; ranks in tenths; chance of ranks as uneven"
    );
    let all = |_: usize| true;
    for &kind in &kinds {
        told(kind.words(), &trials, &|index| kind_of(index) == kind);
    }
    told("all kinds", &trials, &all);
}

/// The trials of some cars.
fn told(name: &str, trials: &[Result<Trial, Untold>], meant: &dyn Fn(usize) -> bool) {
    let of: Vec<_> = trials
        .iter()
        .enumerate()
        .filter(|(index, _)| meant(*index))
        .map(|(_, trial)| trial)
        .collect();
    println!("{name} ({} cars)", of.len());
    for (untold, words) in [
        (Untold::CannotPull, "the true car cannot make the pull"),
        (Untold::FitRefused, "refused by the fit"),
        (Untold::QuoteRefused, "refused by the quote"),
    ] {
        let count = of
            .iter()
            .filter(|trial| matches!(trial, Err(why) if *why == untold))
            .count();
        if count > 0 {
            println!("  {words}: {count}");
        }
    }
    let (rest, restless): (Vec<&Trial>, Vec<&Trial>) = of
        .iter()
        .filter_map(|trial| trial.as_ref().ok())
        .partition(|trial| trial.at_rest);
    figures(&rest);
    if !restless.is_empty() {
        println!("  where the fit did not come to rest, which the program says:");
        figures(&restless);
    }
}

fn figures(trials: &[&Trial]) {
    let ranks =
        |of: fn(&Trial) -> &[f64]| Ranks(trials.iter().flat_map(|t| of(t)).copied().collect());
    tell("numbers the pulls informed", &ranks(|t| &t.informed));
    tell("other numbers", &ranks(|t| &t.other));
    tell(
        "reading after the work",
        &ranks(|t| std::slice::from_ref(&t.reading)),
    );
    let held = trials.iter().filter(|trial| trial.gain_held).count();
    let width: f64 = trials.iter().map(|trial| trial.width).sum::<f64>() / trials.len() as f64;
    println!(
        "  gain inside its 90 % range: {held} of {}; mean width of the reading's: {:.1} %",
        trials.len(),
        100.0 * width
    );
}
