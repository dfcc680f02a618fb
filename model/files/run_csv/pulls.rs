//! Which rows belong to which pull, and whether time and speed behave.

use std::ops::Range;

use super::Pull;

/// Where a signal that should climb falls back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// The row of the lowest value before the signal reaches its earlier peak again (or the end).
    pub row: usize,
    /// The highest value before.
    pub from: f64,
    /// The lowest value reached.
    pub to: f64,
}

/// The places where a signal falls more than `tolerance` below its highest value so far, each dip once.
///
/// A pull must climb; engine speed that does not was recorded with a lifted throttle, a shift or a slipping clutch.
/// ```
/// use pullcast::files::run_csv::falls;
/// let dips = falls(&[2000.0, 2500.0, 2490.0, 3000.0, 2400.0, 2300.0, 3100.0], 100.0);
/// assert_eq!(dips.len(), 1);
/// assert_eq!((dips[0].row, dips[0].from, dips[0].to), (5, 3000.0, 2300.0));
/// ```
pub fn falls(values: &[f64], tolerance: f64) -> Vec<Fall> {
    let mut found = Vec::new();
    let mut peak = f64::NEG_INFINITY;
    let mut dip: Option<Fall> = None;
    for (row, &value) in values.iter().enumerate() {
        if value >= peak {
            found.extend(dip.take());
            peak = value;
        } else if peak - value > tolerance && dip.is_none_or(|dip| value < dip.to) {
            dip = Some(Fall {
                row,
                from: peak,
                to: value,
            });
        }
    }
    found.extend(dip);
    found
}

/// What is wrong with the division into pulls, by row.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Disorder {
    /// Time does not grow from the row before to this one.
    Time { row: usize, before_s: f64 },
    /// The label came before, with another pull between.
    LabelReturns { row: usize, label: String },
    /// Fewer rows than a pull needs.
    TooFew { first_row: usize, rows: usize },
}

/// Divides the rows. `blocks` are the first rows of stretches already known to be apart, with their labels.
pub(super) fn divide(
    row_count: usize,
    blocks: &[(usize, Option<String>)],
    time_s: Option<&[f64]>,
    minimum_rows: usize,
) -> (Vec<Pull>, Vec<Disorder>) {
    let mut pulls = Vec::new();
    let mut disorders = Vec::new();
    for (index, (start, label)) in blocks.iter().enumerate() {
        let end = blocks.get(index + 1).map_or(row_count, |(next, _)| *next);
        if let Some(label) = label
            && blocks[..index]
                .iter()
                .any(|(_, earlier)| earlier.as_ref() == Some(label))
        {
            disorders.push(Disorder::LabelReturns {
                row: *start,
                label: label.clone(),
            });
        }
        let pull = |rows| Pull {
            label: label.clone(),
            rows,
        };
        match time_s {
            Some(time_s) => {
                let parts = divide_by_time(*start..end, time_s, label.is_none(), &mut disorders);
                pulls.extend(parts.into_iter().map(pull));
            }
            None => pulls.push(pull(*start..end)),
        }
    }
    for pull in &pulls {
        if pull.rows.len() < minimum_rows {
            disorders.push(Disorder::TooFew {
                first_row: pull.rows.start,
                rows: pull.rows.len(),
            });
        }
    }
    (pulls, disorders)
}

/// Time that falls back to where the pull began starts the next pull; any other standstill or fall is a disorder.
fn divide_by_time(
    rows: Range<usize>,
    time_s: &[f64],
    may_restart: bool,
    disorders: &mut Vec<Disorder>,
) -> Vec<Range<usize>> {
    let mut parts = Vec::new();
    let mut start = rows.start;
    for row in rows.start + 1..rows.end {
        let (before_s, now_s) = (time_s[row - 1], time_s[row]);
        if now_s > before_s {
            continue;
        }
        // One step of slack: the second recording may start its clock a sample later.
        let first_step = time_s[start + 1] - time_s[start];
        if may_restart && now_s < before_s && row > start + 1 && now_s <= time_s[start] + first_step
        {
            parts.push(start..row);
            start = row;
        } else {
            disorders.push(Disorder::Time { row, before_s });
        }
    }
    parts.push(start..rows.end);
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_starting_again_starts_a_pull() {
        let time_s = [0.0, 0.1, 0.2, 0.05, 0.15, 0.25];
        let (pulls, disorders) = divide(6, &[(0, None)], Some(&time_s), 3);
        assert_eq!(
            pulls
                .iter()
                .map(|pull| pull.rows.clone())
                .collect::<Vec<_>>(),
            [0..3, 3..6]
        );
        assert_eq!(disorders, []);
    }

    #[test]
    fn time_that_merely_slips_is_a_disorder() {
        let time_s = [0.0, 0.1, 0.2, 0.3, 0.25, 0.4, 0.4];
        let (pulls, disorders) = divide(7, &[(0, None)], Some(&time_s), 3);
        assert_eq!(pulls.len(), 1);
        assert_eq!(
            disorders,
            [
                Disorder::Time {
                    row: 4,
                    before_s: 0.3
                },
                Disorder::Time {
                    row: 6,
                    before_s: 0.4
                }
            ]
        );
    }

    #[test]
    fn labels_divide_and_may_not_return() {
        let label = |text: &str| Some(text.to_owned());
        let blocks = [(0, label("1")), (2, label("2")), (4, label("1"))];
        let (pulls, disorders) = divide(5, &blocks, None, 2);
        assert_eq!(pulls.len(), 3);
        assert_eq!(
            disorders,
            [
                Disorder::LabelReturns {
                    row: 4,
                    label: "1".to_owned()
                },
                Disorder::TooFew {
                    first_row: 4,
                    rows: 1
                }
            ]
        );
    }

    #[test]
    fn a_steady_climb_has_no_falls() {
        assert_eq!(falls(&[1.0, 2.0, 2.0, 3.0], 0.0), []);
        assert_eq!(
            falls(&[5.0, 4.0], 0.5),
            [Fall {
                row: 1,
                from: 5.0,
                to: 4.0
            }]
        );
    }
}
