//! How far a long answer is: shown after two seconds, as a bar that is taken away again on a terminal, as a line every ten seconds in a log,
//! and not at all where a program reads.
//!
//! The question tells counts; the time is kept here, by a thread of its own, so that a question which tells nothing is not silent either.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use pullcast::ask::Progress;
use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::{Duration, Instant};

/// What is over before that is not shown.
const QUIET: Duration = Duration::from_secs(2);
/// Between two looks of a bar, and between two lines of a log.
const LOOK: Duration = Duration::from_millis(100);
const LINE: Duration = Duration::from_secs(10);

/// Counts as they were told last; none done and no total before.
#[derive(Debug, Default)]
struct Counts {
    done: AtomicUsize,
    of: AtomicUsize,
}

impl Counts {
    fn read(&self) -> (usize, Option<usize>) {
        let of = self.of.load(Ordering::Relaxed);
        (self.done.load(Ordering::Relaxed), (of > 0).then_some(of))
    }
}

/// Runs `job`, and shows meanwhile how many of `things` are done.
pub(crate) fn metered<T>(shown: bool, things: &str, job: impl FnOnce(Progress<'_>) -> T) -> T {
    if !shown {
        return job(Progress::SILENT);
    }
    let counts = Counts::default();
    let tell = |done: usize, of: Option<usize>| {
        counts.done.fetch_max(done, Ordering::Relaxed);
        counts.of.store(of.unwrap_or(0), Ordering::Relaxed);
    };
    std::thread::scope(|scope| {
        let (end, ended) = mpsc::channel::<()>();
        let counts = &counts;
        scope.spawn(move || {
            if std::io::stderr().is_terminal() {
                bar(counts, things, &ended);
            } else {
                lines(counts, things, &ended, LINE, &mut std::io::stderr());
            }
        });
        let answer = job(Progress::to(&tell));
        drop(end);
        answer
    })
}

/// Whether the job is over, looked at for a while.
fn over(ended: &mpsc::Receiver<()>, wait: Duration) -> bool {
    !matches!(ended.recv_timeout(wait), Err(RecvTimeoutError::Timeout))
}

fn bar(counts: &Counts, things: &str, ended: &mpsc::Receiver<()>) {
    if over(ended, QUIET) {
        return;
    }
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
    bar.set_message(things.to_owned());
    while !over(ended, LOOK) {
        let (done, of) = counts.read();
        let template = match of {
            Some(of) => {
                bar.set_length(of as u64);
                "{bar:24} {pos} of {len} {msg}, {elapsed}"
            }
            None if done > 0 => "{spinner} {pos} {msg}, {elapsed}",
            None => "{spinner} {msg}, {elapsed}",
        };
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        bar.set_position(done as u64);
        bar.tick();
    }
    bar.finish_and_clear();
}

fn lines(
    counts: &Counts,
    things: &str,
    ended: &mpsc::Receiver<()>,
    every: Duration,
    log: &mut impl Write,
) {
    let started = Instant::now();
    while !over(ended, every) {
        let seconds = started.elapsed().as_secs();
        let count = match counts.read() {
            (done, Some(of)) => format!("{done} of {of} {things}"),
            (0, None) => things.to_owned(),
            (done, None) => format!("{done} {things}"),
        };
        // Nobody is left to be told where it cannot be printed.
        let _ = writeln!(log, "{count}, {seconds} s");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_log_gets_lines_until_the_end_and_a_short_job_none() {
        let counts = Counts::default();
        counts.done.store(3, Ordering::Relaxed);
        counts.of.store(9, Ordering::Relaxed);
        let (end, ended) = mpsc::channel::<()>();
        let mut log = Vec::new();
        let tick = Duration::from_millis(20);
        std::thread::scope(|scope| {
            let (counts, log) = (&counts, &mut log);
            scope.spawn(move || lines(counts, "draws", &ended, tick, log));
            std::thread::sleep(Duration::from_millis(200));
            drop(end);
        });
        let log = String::from_utf8(log).expect("text");
        assert!(log.lines().count() >= 2, "{log}");
        assert!(
            log.lines().all(|line| line.starts_with("3 of 9 draws, ")),
            "{log}"
        );
        let (end, ended) = mpsc::channel::<()>();
        drop(end);
        let mut log = Vec::new();
        lines(&counts, "draws", &ended, tick, &mut log);
        assert!(log.is_empty());
    }

    #[test]
    fn the_answer_of_the_job_comes_through() {
        for shown in [false, true] {
            let answer = metered(shown, "things", |_| 7);
            assert_eq!(answer, 7);
        }
    }
}
