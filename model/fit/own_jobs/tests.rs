//! What the sampler must keep: what it is drawn from, what is planted, and one answer for one seed.

use super::*;
use crate::numeric::side_by_side;
use rand::RngExt;

fn rng(number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    rng.set_stream(number);
    rng
}

/// Effects as those of a shop's work: much air, less of the rest.
fn effects<R: Rng + ?Sized>(rng: &mut R) -> [f64; LEARNED_OF] {
    [0.4, 0.15, 0.15, 0.05, 0.1, 0.05].map(|size| size * standard_normal(rng))
}

fn job<R: Rng + ?Sized>(miss: &Miss, own: f64, rng: &mut R) -> ClosedJob {
    let effects = effects(rng);
    let mut missed = own * standard_normal(rng);
    for (m, effect) in effects.iter().enumerate() {
        missed += effect * (miss.bias[m] + miss.change[m] * standard_normal(rng));
    }
    ClosedJob {
        missed,
        own,
        effects,
        parts: 0.0,
        kinds: Vec::new(),
    }
}

const KINDS: [&str; 2] = ["blower", "headers"];

/// A job whose parts stray by three per cent, a share of it alike in its kind.
fn of_kind<R: Rng + ?Sized>(
    job: &ClosedJob,
    kind: usize,
    alike: f64,
    of_kinds: [f64; 2],
    rng: &mut R,
) -> ClosedJob {
    let parts = 0.03;
    let common = alike.sqrt() * of_kinds[kind];
    ClosedJob {
        missed: job.missed + parts * (common + (1.0 - alike).sqrt() * standard_normal(rng)),
        own: job.own.hypot(parts),
        parts,
        kinds: vec![KINDS[kind].to_owned()],
        ..job.clone()
    }
}

#[test]
fn jobs_that_tell_nothing_leave_the_general_size() {
    // So doubtful that nothing is learned: what comes back is what was believed, as large in the mean square as the general size.
    let general = Miss::default();
    let of_seed = |seed: usize| {
        let mut rng = rng(seed as u64);
        let jobs: Vec<ClosedJob> = (0..FEWEST).map(|_| job(&general, 1e3, &mut rng)).collect();
        let learned = Learned::of(&jobs, &general, seed as u64).expect("enough");
        let mean = |of: &dyn Fn(&Miss) -> f64| learned.mean(of);
        let square = mean(&|miss| miss.bias.iter().map(|b| b * b).sum::<f64>())
            + mean(&|miss| miss.change.iter().map(|s| s * s).sum::<f64>());
        square / LEARNED_OF as f64 / general.change[0].powi(2)
    };
    let seeds = side_by_side(40, of_seed);
    let mean = seeds.iter().sum::<f64>() / seeds.len() as f64;
    let scatter = seeds.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 39.0;
    // Three standard errors of the mean of forty chains.
    let error = (scatter / 40.0).sqrt();
    assert!((mean - 1.0).abs() < 3.0 * error, "{mean} ± {error}");
    assert!(error < 0.15, "{error}");
}

#[test]
fn a_planted_bias_is_found_where_work_goes_through_it() {
    let general = Miss::default();
    let mut shop = Miss {
        change: [0.005; LEARNED_OF],
        ..general
    };
    shop.bias[0] = 0.09;
    shop.bias[2] = -0.06;
    let mut rng = rng(3);
    let jobs: Vec<ClosedJob> = (0..40).map(|_| job(&shop, 0.005, &mut rng)).collect();
    let learned = Learned::of(&jobs, &general, 1).expect("enough");
    for mechanism in Mechanism::ALL {
        let Some((bias, doubt, spread)) = learned.told(mechanism) else {
            assert_eq!(mechanism, Mechanism::Waves);
            continue;
        };
        let truth = shop.bias_of(mechanism);
        assert!(
            (bias - truth).abs() < 3.0 * doubt,
            "{mechanism:?}: {bias} ± {doubt} for {truth}"
        );
        assert!(spread < general.change[0], "{mechanism:?}: {spread}");
    }
    let (_, doubt, _) = learned.told(Mechanism::Air).expect("learned of");
    assert!(doubt < 0.01, "{doubt}");
}

/// Shops drawn from the very belief the sampler begins with: their biases must lie in its ranges as often as those say, or the sampler draws from
/// something else. Source of the demand: Cook, Gelman and Rubin, J. Comput. Graph. Stat. 15 (2006), from memory.
#[test]
fn shops_drawn_from_the_belief_lie_in_the_ranges_as_often_as_they_say() {
    const SHOPS: usize = 80;
    let general = Miss::default();
    let inside = side_by_side(SHOPS, |shop| {
        let mut rng = rng(100 + shop as u64);
        let square = SHOP_DOUBT * SHOP_DOUBT;
        let ln_size = -square + SHOP_DOUBT * standard_normal(&mut rng);
        let share: f64 = rng.sample(rand::distr::Open01);
        let middle = spread_middle(ln_size, share);
        let scale = general.change[0];
        let truth = Miss {
            bias: std::array::from_fn(|_| {
                scale * share.sqrt() * ln_size.exp() * standard_normal(&mut rng)
            }),
            change: std::array::from_fn(|_| {
                scale * (middle + MECHANISM_DOUBT * standard_normal(&mut rng)).exp()
            }),
            ..general
        };
        let alike: f64 = rng.sample(rand::distr::Open01);
        let of_kinds = [standard_normal(&mut rng), standard_normal(&mut rng)];
        let jobs: Vec<ClosedJob> = (0..15)
            .map(|n| {
                of_kind(
                    &job(&truth, 0.01, &mut rng),
                    n % 2,
                    alike,
                    of_kinds,
                    &mut rng,
                )
            })
            .collect();
        let learned = Learned::of(&jobs, &general, shop as u64).expect("enough");
        let inside = |truth: f64, drawn: Vec<f64>| {
            let below = drawn.iter().filter(|x| **x < truth).count();
            let share = below as f64 / drawn.len() as f64;
            u32::from((0.1..=0.9).contains(&share))
        };
        let held = |truth: f64, of: &dyn Fn(&Miss) -> f64| {
            inside(truth, learned.misses.iter().map(of).collect())
        };
        let kinds: u32 = [0, 1]
            .map(|kind| {
                let drawn = (0..KEPT).map(|draw| learned.alike(draw, &[KINDS[kind]]).shift);
                inside(alike.sqrt() * of_kinds[kind], drawn.collect())
            })
            .iter()
            .sum();
        let shares = inside(
            alike,
            learned.alike.iter().map(|(share, _)| *share).collect(),
        );
        let biases: u32 = (0..LEARNED_OF)
            .map(|m| held(truth.bias[m], &|miss| miss.bias[m]))
            .sum();
        let spreads: u32 = (0..LEARNED_OF)
            .map(|m| held(truth.change[m], &|miss| miss.change[m]))
            .sum();
        [biases, spreads, kinds, shares]
    });
    // Four in five. Six mechanisms of a shop share its size and two kinds their share, so they count as two and as one: three standard errors.
    for (place, what, each, count_as) in [
        (0, "bias", LEARNED_OF, 2.0),
        (1, "spread", LEARNED_OF, 2.0),
        (2, "kind", 2, 1.0),
        (3, "alike", 1, 1.0),
    ] {
        let held: u32 = inside.iter().map(|shop| shop[place]).sum();
        let share = f64::from(held) / (SHOPS * each) as f64;
        let error = (0.8_f64 * 0.2 / (count_as * SHOPS as f64)).sqrt();
        assert!((share - 0.8).abs() < 3.0 * error, "{what}: {share}");
    }
}

#[test]
fn what_jobs_of_a_kind_have_alike_is_found_and_leaves_other_kinds_alone() {
    let general = Miss::default();
    let mut rng = rng(11);
    let alike = 0.95;
    let jobs: Vec<ClosedJob> = (0..30)
        .map(|n| {
            of_kind(
                &job(&Miss::NONE, 0.005, &mut rng),
                n % 2,
                alike,
                [1.5, -1.0],
                &mut rng,
            )
        })
        .collect();
    let learned = Learned::of(&jobs, &general, 1).expect("enough");
    for (kind, planted) in [(0, 1.5), (1, -1.0)] {
        let (found, doubt) = learned.told_of_kinds(&[KINDS[kind]]).expect("had");
        let truth = f64::sqrt(alike) * planted;
        assert!(
            (found - truth).abs() < 3.0 * doubt,
            "{found} ± {doubt} for {truth}"
        );
        // Fifteen jobs of a kind leave a quarter of the doubt, and what the mechanisms may have done.
        assert!(doubt < 0.5, "{doubt}");
    }
    // Work with both takes half of each, by its square; work of another kind nothing.
    assert_eq!(learned.told_of_kinds(&["brakes"]), None);
    for draw in 0..KEPT {
        let [one, other, both, new, half] = [
            &KINDS[..1],
            &KINDS[1..],
            &KINDS[..],
            &["brakes"],
            &[KINDS[0], "brakes"],
        ]
        .map(|kinds| learned.alike(draw, kinds));
        assert!((both.shift - (one.shift + other.shift) / 2_f64.sqrt()).abs() < 1e-12);
        assert!(
            (both.share - one.share).abs() < 1e-12 && (half.share - one.share / 2.0).abs() < 1e-12
        );
        assert_eq!((new.share, new.shift), (0.0, 0.0));
    }
}

#[test]
fn one_seed_gives_one_answer_and_too_few_jobs_none() {
    let general = Miss::default();
    let mut rng = rng(9);
    let mut jobs: Vec<ClosedJob> = (0..FEWEST).map(|_| job(&general, 0.02, &mut rng)).collect();
    let learned = Learned::of(&jobs, &general, 1);
    assert!(learned.is_some());
    assert_eq!(learned, Learned::of(&jobs, &general, 1));
    assert_ne!(learned, Learned::of(&jobs, &general, 2));
    // Work that goes through no mechanism tells nothing, and neither does a number that is none.
    jobs[0].effects = [0.0; LEARNED_OF];
    assert_eq!(Learned::of(&jobs, &general, 1), None);
    jobs[0] = jobs[1].clone();
    jobs[0].missed = f64::NAN;
    assert_eq!(Learned::of(&jobs, &general, 1), None);
}
