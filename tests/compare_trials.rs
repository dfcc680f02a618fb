//! Two hundred shops with an unchanged car: recordings made as a rig makes them, reduced as the program reduces them, on days of their
//! own, and compared. What is claimed of `compare` is counted here, through everything but the files.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::ask::basis::subject_of;
use pullcast::ask::compare::{ChargePressure, Contrast, Entry, FACTOR_SHARE, Gains, WeatherDoubt};
use pullcast::belief::Noise;
use pullcast::belief::sheet::standard_normal;
use pullcast::dyno::correction::{Correction, Standard};
use pullcast::dyno::{Conditions, Pull, PullPoint, Recording, Setup};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use crate::laws::{coupe, drums};

const TRIALS: usize = 200;
/// Operating points of a simulated pull.
const POINTS: usize = 40;
/// As `scenario_maker` spoils the demo's recordings: bend of a pull, sample noise and its correlation, jitter in rpm.
const BEND: f64 = 0.004;
const SAMPLE: (f64, f64) = (0.006, 0.6);
const JITTER_RPM: f64 = 4.0;

fn day(rng: &mut ChaCha8Rng) -> Day {
    let (pa, kelvin) = (
        98_500.0 + 1_500.0 * standard_normal(rng),
        290.0 + 8.0 * standard_normal(rng),
    );
    Day::from_relative_humidity(StationPressure::from_pa(pa), kelvin, 0.55).expect("a day")
}

/// What the rig writes down of a pull whose power is `scale` times the simulated one.
fn recording(pull: &Pull, scale: f64, rng: &mut ChaCha8Rng) -> Recording {
    let (first, last) = (pull.points[0].rpm, pull.points[POINTS - 1].rpm);
    let phases: Vec<f64> = (0..6).map(|_| standard_normal(rng)).collect();
    let mut made = Recording::default();
    let (mut noise, mut seconds) = (0.0, 0.0);
    let mut rpm = first;
    while rpm < last {
        let x = (rpm - first) / (last - first) * std::f64::consts::TAU;
        let bend: f64 = phases
            .chunks(2)
            .enumerate()
            .map(|(h, pair)| {
                let angle = 0.5 * (h + 1) as f64 * x;
                pair[0] * angle.cos() + pair[1] * angle.sin()
            })
            .sum::<f64>()
            / 3.0_f64.sqrt();
        let fresh = (1.0 - SAMPLE.1 * SAMPLE.1).sqrt() * SAMPLE.0 * standard_normal(rng);
        noise = SAMPLE.1 * noise + fresh;
        let power_w = pull.reading(rpm, |p: &PullPoint| p.power_w);
        made.time_s.push(seconds);
        made.engine_rpm
            .push(rpm + JITTER_RPM * standard_normal(rng));
        made.power_w
            .push(power_w * scale * (BEND * bend + noise).exp());
        // Twenty-five samples a second.
        let next = pull.reading(rpm, |p| p.time_s) + 0.04;
        let ahead = pull
            .points
            .windows(2)
            .find(|w| w[1].time_s >= next)
            .map_or(last, |w| {
                let share = (next - w[0].time_s) / (w[1].time_s - w[0].time_s);
                w[0].rpm + share * (w[1].rpm - w[0].rpm)
            });
        rpm = ahead.max(rpm + 0.1);
        seconds += 0.04;
    }
    made
}

struct Shop {
    setup: Setup,
    rng: ChaCha8Rng,
}

impl Shop {
    /// One set of three pulls in a day's air, `level` times what the car gives.
    fn set(&mut self, day: Day, level: f64) -> Vec<Entry> {
        let conditions = Conditions::rested(7000.0);
        let pull = self.setup.pull(&day, &conditions, POINTS).expect("a pull");
        let subject = subject_of(&self.setup.car, None);
        (0..3)
            .map(|i| {
                let scale = level * (Noise::default().pull * standard_normal(&mut self.rng)).exp();
                let log = recording(&pull, scale, &mut self.rng);
                Entry {
                    name: format!("pull {i}"),
                    curve: log.reduce(100.0).expect("a climb"),
                    correction: Correction::new(Standard::SaeJ1349, day, &subject)
                        .expect("needs the weather alone"),
                    electric_w: Vec::new(),
                }
            })
            .collect()
    }

    /// Before and after; on the same visit the air is the same too.
    fn compared(&mut self, same_visit: bool, gain: f64) -> Gains {
        let first = day(&mut self.rng);
        let second = if same_visit {
            first
        } else {
            day(&mut self.rng)
        };
        let visit = if same_visit {
            0.0
        } else {
            Noise::default().visit
        };
        let mut stray = || (visit * standard_normal(&mut self.rng)).exp();
        let (a, b) = (stray(), stray() * (1.0 + gain));
        let (before, after) = (self.set(first, a), self.set(second, b));
        let contrast = Contrast {
            before: &before,
            after: &after,
            visit,
            weather: WeatherDoubt {
                standard: Standard::SaeJ1349,
                days: (first, second),
                charge: (ChargePressure::Follows, ChargePressure::Follows),
                left_in: 0.0,
            },
            seed: 1,
        };
        contrast.gains().expect("curves that overlap")
    }
}

/// How many of the trials are told apart, and in how many the range of peak power holds the gain.
fn count(same_visit: bool, gain: f64) -> (usize, usize) {
    let mut shop = Shop {
        setup: Setup {
            car: coupe(),
            drums: drums(),
        },
        rng: ChaCha8Rng::seed_from_u64(20),
    };
    let (mut apart, mut held) = (0, 0);
    for _ in 0..TRIALS {
        let answer = shop.compared(same_visit, gain);
        let peak = answer.peak_power.as_ref().expect("whole pulls").gain;
        apart += usize::from(answer.distinguishable());
        held += usize::from((peak.low..=peak.high).contains(&gain));
    }
    eprintln!("same visit {same_visit}, gain {gain}: {apart} of {TRIALS} told apart, {held} held");
    (apart, held)
}

#[test]
fn an_unchanged_car_is_called_unchanged_95_times_in_100() {
    for same_visit in [true, false] {
        let (apart, held) = count(same_visit, 0.0);
        // The rule is set at 97.5 in 100: more than ten of 200 would come up 13 times in 1000 (binomial).
        assert!(apart <= 10, "{apart} of {TRIALS}");
        assert!(held >= 190, "{held} of {TRIALS}");
    }
}

#[test]
fn four_per_cent_are_told_on_the_same_visit_and_held_by_their_range() {
    let (apart, held) = count(true, 0.04);
    // Six standard errors against a factor of 2.6: none is missed.
    assert!(apart >= 198, "{apart} of {TRIALS}");
    assert!(held >= 190, "{held} of {TRIALS}");
}

#[test]
fn a_factor_misses_no_more_of_the_weather_than_is_allowed_for() {
    let setup = Setup {
        car: coupe(),
        drums: drums(),
    };
    let subject = subject_of(&setup.car, None);
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let corrected = |day: Day| {
        let pull = setup
            .pull(&day, &Conditions::rested(7000.0), POINTS)
            .expect("a pull");
        let correction =
            Correction::new(Standard::SaeJ1349, day, &subject).expect("the weather alone");
        let peak = pull.peak_power().expect("points").power_w;
        (correction.factor * peak).ln()
    };
    let (mut squares, mut pairs) = (0.0, 0);
    for _ in 0..60 {
        let (a, b) = (day(&mut rng), day(&mut rng));
        let part = (1.18 * (b.dry_pa() / a.dry_pa()).ln())
            .hypot(0.59 * (b.temperature_k() / a.temperature_k()).ln());
        squares += ((corrected(b) - corrected(a)) / part).powi(2);
        pairs += 1;
    }
    let share = (squares / f64::from(pairs)).sqrt();
    // The share allowed for was chosen with this car and one of the recorded ones in view; it is held to be enough here, and not
    // half as large again as needed.
    assert!(
        (0.66 * FACTOR_SHARE..=FACTOR_SHARE).contains(&share),
        "{share}"
    );
}
