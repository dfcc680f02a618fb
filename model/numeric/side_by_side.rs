//! Independent jobs shared out over the machine's cores, their results in order whatever the number of cores.

use std::sync::atomic::{AtomicUsize, Ordering};

/// The results of jobs 0 to `count`, in order. A core takes the next job when it has done one, so uneven jobs balance.
pub fn side_by_side<T: Send>(count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let workers = cores.min(count);
    if workers < 2 {
        return (0..count).map(job).collect();
    }
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                return done;
            }
            done.push((index, job(index)));
        }
    };
    let mut results: Vec<(usize, T)> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        threads
            .into_iter()
            .flat_map(|thread| {
                thread
                    .join()
                    .unwrap_or_else(|cause| std::panic::resume_unwind(cause))
            })
            .collect()
    });
    results.sort_by_key(|(index, _)| *index);
    results.into_iter().map(|(_, result)| result).collect()
}
