//! Draws of a car from its beliefs, and jobs over the machine's cores.

use pullcast::belief::sheet::Sheet;
use pullcast::dyno::Setup;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Seed of every draw; each has its own stream.
const SEED: u64 = 7;

/// One car of the sheet.
pub(super) fn car(sheet: &Sheet, draw: u64) -> Setup {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    rng.set_stream(draw);
    let mut setup = sheet.setup_at(&sheet.draw(&mut rng));
    setup.car.retabulate_knock();
    setup
}

/// Results of jobs in order, a core taking the next when it has done one.
pub(super) fn side_by_side<T: Send>(count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let next = AtomicUsize::new(0);
    let work = || {
        std::iter::from_fn(|| {
            let index = next.fetch_add(1, Ordering::Relaxed);
            (index < count).then(|| (index, job(index)))
        })
        .collect::<Vec<_>>()
    };
    let mut done: Vec<(usize, T)> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..cores).map(|_| scope.spawn(work)).collect();
        threads
            .into_iter()
            .flat_map(|thread| thread.join().expect("a job that ends"))
            .collect()
    });
    done.sort_by_key(|(index, _)| *index);
    done.into_iter().map(|(_, result)| result).collect()
}
