//! Comparisons of recorded pulls with known answers: a car that only met another day, work whose gain is known, and how the
//! simulator's repeats stray against what is taken as usual.
//!
//! Source: pulls of an independent crank-angle simulator, see `validation/data/recorded_pulls/README.md`. Each set strays by a
//! visit and each pull by its own, as on a rig.

use crate::cases::{build, folder, read};
use pullcast::ask::basis::subject_of;
use pullcast::ask::compare::{
    BOOSTED_PA, ChargePressure, Contrast, Entry, Gains, LEVEL, Line, WeatherDoubt, share_w,
};
use pullcast::belief::Noise;
use pullcast::dyno::correction::{Correction, Standard};
use pullcast::fit::observation::Visit;

/// Peak power of a comparison of whole pulls.
fn peak(answer: &Gains) -> &Line {
    answer.peak_power.as_ref().expect("whole pulls")
}

struct Compared {
    name: String,
    answer: Gains,
    /// Gain of the noise-free peaks, as read each on its own day.
    true_as_read: f64,
}

impl Compared {
    /// Whether the range, laid around the gain as read, holds the truth.
    fn held(&self) -> bool {
        let gain = &peak(&self.answer).gain;
        let off = (1.0 + self.true_as_read) / (1.0 + gain.as_read) * (1.0 + gain.remains) - 1.0;
        (gain.low..=gain.high).contains(&off)
    }
}

fn compared(name: &str) -> Compared {
    let case = build::read(&folder().join(name));
    let after = read::visit(&folder().join(name), "after");
    let setup = &case.sheet.centre;
    let subject = subject_of(&setup.car, None);
    let entries = |visit: &Visit| -> Vec<Entry> {
        let pulls = visit.pulls.iter();
        pulls
            .map(|pull| Entry {
                name: pull.name.clone(),
                curve: pull.curve.clone(),
                correction: Correction::new(Standard::SaeJ1349, pull.day, &subject)
                    .expect("a factor from the weather alone"),
                electric_w: share_w(setup, pull).expect("a pull of the car as described"),
            })
            .collect()
    };
    // As the program does without a car: a manifold above the air outside may be held there.
    let charge = |visit: &Visit| {
        let boosted = visit.pulls.iter().any(|pull| {
            let station_pa = pull.day.station().pa();
            let mut bands = pull.curve.bands.iter();
            bands.any(|b| b.manifold_pa.is_some_and(|pa| pa - station_pa > BOOSTED_PA))
        });
        if boosted {
            ChargePressure::MayBeHeld { boost: None }
        } else {
            ChargePressure::Follows
        }
    };
    let contrast = Contrast {
        before: &entries(&case.baseline),
        after: &entries(&after),
        visit: Noise::default().visit,
        weather: WeatherDoubt {
            standard: Standard::SaeJ1349,
            days: (case.baseline.pulls[0].day, after.pulls[0].day),
            charge: (charge(&case.baseline), charge(&after)),
            left_in: 0.0,
        },
        seed: 1,
    };
    let answer = contrast.gains().unwrap_or_else(|e| panic!("{name}: {e}"));
    eprintln!(
        "{name:<30} truth as read {:+6.2} %, as read {:+6.2} %, weather {:+6.2} %, remains {:+6.2} % ({:+6.2} to {:+6.2}), told apart {}, repeats {:.2} %, bend {:.2} %",
        100.0 * (case.true_after_w / case.true_before_w - 1.0),
        100.0 * peak(&answer).gain.as_read,
        100.0 * peak(&answer).gain.weather,
        100.0 * peak(&answer).gain.remains,
        100.0 * peak(&answer).gain.low,
        100.0 * peak(&answer).gain.high,
        answer.distinguishable(),
        100.0 * answer.spread.scale_seen.unwrap_or(f64::NAN),
        100.0 * answer.spread.bend,
    );
    Compared {
        name: name.to_owned(),
        answer,
        true_as_read: case.true_after_w / case.true_before_w - 1.0,
    }
}

#[test]
fn another_day_alone_is_not_told_apart_from_no_work() {
    let found = compared("weather_only_i6").answer;
    let gain = peak(&found).gain;
    assert!(gain.as_read < -0.10, "{gain:?}");
    assert!(!found.distinguishable(), "{found:?}");
}

#[test]
fn a_change_of_altitude_of_a_held_boost_is_not_told_apart_from_no_work() {
    assert!(!compared("altitude_turbo_i4").answer.distinguishable());
}

#[test]
fn gains_of_recorded_builds_lie_in_their_ranges() {
    let all: Vec<Compared> = read::names(&folder())
        .iter()
        .map(|name| compared(name))
        .collect();
    let missed: Vec<&str> = all
        .iter()
        .filter(|c| !c.held())
        .map(|c| c.name.as_str())
        .collect();
    // All but one in forty are to be held: of fourteen, three or more missed come up less than once in a hundred sets (binomial).
    assert!((LEVEL - 0.975).abs() < 1e-9 && all.len() == 14);
    assert!(missed.len() <= 2, "{missed:?}");
    eprintln!("missed: {missed:?}");
    // What is taken as usual of repeats covers these: a range to three standard deviations of a scale told by four repeats.
    let scales: Vec<f64> = all
        .iter()
        .filter_map(|c| c.answer.spread.scale_seen)
        .collect();
    let mean = (scales.iter().map(|s| s * s).sum::<f64>() / scales.len() as f64).sqrt();
    assert!((0.004..0.012).contains(&mean), "{mean}");
}
