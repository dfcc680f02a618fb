//! Independent jobs shared out over the machine's cores, their results in order whatever the number of cores.

/// The results of independent jobs in order, shared out over the machine's cores.
pub(crate) fn side_by_side<T: Send>(count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let each = count.div_ceil(cores).max(1);
    std::thread::scope(|scope| {
        let job = &job;
        let workers: Vec<_> = (0..count)
            .step_by(each)
            .map(|first| {
                let last = (first + each).min(count);
                scope.spawn(move || (first..last).map(job).collect::<Vec<T>>())
            })
            .collect();
        workers
            .into_iter()
            .flat_map(|worker| match worker.join() {
                Ok(results) => results,
                Err(panic) => std::panic::resume_unwind(panic),
            })
            .collect()
    })
}
