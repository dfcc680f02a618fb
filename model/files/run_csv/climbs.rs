//! Pulls within one stretch of time: climbs of engine speed with a run-down between them.
//!
//! A logger that is left running writes pulls, and the way back down, into one table. They are parted only where engine speed comes back to where it began and
//! takes its time: after a shift the car goes on faster, and a shift stays the mistake that it is. Rows of the run-down after the last climb are no pull.

use super::channel::Channel;
use super::{Column, Pull};

/// A fall below this share of the highest speed so far ends a climb.
const FALL: f64 = 0.06;
/// A climb leads from its lowest to at least this multiple.
const CLIMBS: f64 = 1.3;
/// The way back down lasts at least as long, s.
const RUN_DOWN_S: f64 = 2.0;
/// A climb begins no higher than this over the start of the first.
const AGAIN: f64 = 1.35;

/// The pulls with their climbs parted; pulls that are one climb, or whose falls are no run-down, stay as they are.
pub(super) fn of(columns: &[Column], pulls: Vec<Pull>, minimum_rows: usize) -> Vec<Pull> {
    let values = |channel| {
        columns
            .iter()
            .find(|c| c.channel == channel)
            .map(|c| c.values_si.as_slice())
    };
    let (Some(time), Some(speed)) = (values(Channel::Time), values(Channel::EngineSpeed)) else {
        return pulls;
    };
    let mut out = Vec::new();
    for pull in pulls {
        let parts = climbs(
            &time[pull.rows.clone()],
            &speed[pull.rows.clone()],
            minimum_rows,
        );
        match parts {
            Some(parts) => out.extend(parts.into_iter().map(|rows| Pull {
                label: pull.label.clone(),
                rows: pull.rows.start + rows.start..pull.rows.start + rows.end,
            })),
            None => out.push(pull),
        }
    }
    out
}

/// The climbs; none where the stretch is to be taken, or refused, as a whole.
fn climbs(time: &[f64], speed: &[f64], minimum_rows: usize) -> Option<Vec<std::ops::Range<usize>>> {
    let mut found: Vec<std::ops::Range<usize>> = Vec::new();
    let (mut low, mut high) = (0, 0);
    let mut at = 0;
    while at < speed.len() {
        if speed[at] > speed[high] {
            high = at;
        }
        let ends = speed[at] < (1.0 - FALL) * speed[high];
        if ends || at + 1 == speed.len() {
            if speed[high] >= CLIMBS * speed[low] && high - low + 1 >= minimum_rows {
                found.push(low..high + 1);
            }
            if ends {
                (low, high) = (at, at);
            }
        }
        if speed[at] <= speed[low] && at >= high {
            (low, high) = (at, at);
        }
        at += 1;
    }
    let (first, last) = (found.first()?.clone(), found.last()?.clone());
    let rests = speed.len() - last.end;
    if found.len() == 1 {
        // A long run-down behind the only climb; a short tail is the curve's own affair.
        let down_s = time[speed.len() - 1] - time[last.end - 1];
        return (rests > 0
            && down_s >= 0.3
            && speed[speed.len() - 1] < (1.0 - FALL) * speed[last.end - 1])
            .then_some(found);
    }
    let apart = found
        .windows(2)
        .all(|pair| time[pair[1].start] - time[pair[0].end - 1] >= RUN_DOWN_S);
    let again = found
        .iter()
        .all(|climb| speed[climb.start] <= AGAIN * speed[first.start].max(1.0));
    (apart && again).then_some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(from: f64, to: f64, rows: usize) -> Vec<f64> {
        (0..rows)
            .map(|row| from + (to - from) * row as f64 / (rows - 1) as f64)
            .collect()
    }

    fn parted(speed: &[f64]) -> Option<Vec<std::ops::Range<usize>>> {
        let time: Vec<f64> = (0..speed.len()).map(|row| 0.1 * row as f64).collect();
        climbs(&time, speed, 20)
    }

    #[test]
    fn pulls_with_a_run_down_between_are_parted() {
        let speed = [
            ramp(200.0, 600.0, 50),
            ramp(590.0, 200.0, 40),
            ramp(205.0, 600.0, 50),
            ramp(590.0, 300.0, 20),
        ]
        .concat();
        let parts = parted(&speed).expect("two pulls");
        assert_eq!(parts.len(), 2);
        assert_eq!((parts[0].start, parts[0].end, parts[1].end), (0, 50, 140));
        assert!((88..=91).contains(&parts[1].start), "{parts:?}");
    }

    #[test]
    fn a_shift_is_not_taken_for_a_new_pull() {
        let speed = [
            ramp(200.0, 600.0, 50),
            ramp(550.0, 400.0, 4),
            ramp(405.0, 600.0, 50),
        ]
        .concat();
        assert_eq!(parted(&speed), None);
        assert_eq!(parted(&ramp(200.0, 600.0, 50)), None);
    }
}
