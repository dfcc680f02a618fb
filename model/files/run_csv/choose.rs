//! One column for each channel, and power against torque.

use super::answers::suffix_of;
use super::channel::Channel;
use super::header::{Meaning, Question};
use super::settle::{Asked, SAME, Settling};
use crate::files::diagnostic::Code;
use crate::files::shown::clipped;
use crate::numeric::upper_median;
use crate::units::{Dimension, UNITS, Unit, find, show_number};

/// Shares of power over torque × speed within which they agree.
const AGREES: f64 = 0.03;

/// Ratios nearer than this are of one unit: less than half of the 1.4 % between both horsepowers, the closest of all.
const SAME_UNIT: f64 = 0.006;

/// Units of power and torque that stand together on a rig's screen: a file whose heads were translated and whose numbers were not holds both.
fn usual_pairs() -> impl Iterator<Item = (&'static Unit, &'static Unit)> {
    [
        ("hp", "lb ft"),
        ("kW", "N m"),
        ("PS", "N m"),
        ("PS", "kgf m"),
    ]
    .into_iter()
    .filter_map(|(power, torque)| {
        let power = find(power, Dimension::Power).ok()?;
        Some((power, find(torque, Dimension::Torque).ok()?))
    })
}

impl Settling<'_, '_> {
    /// One column for each channel: the one a person named, the one whose name says where, the first of those that hold the same numbers.
    pub(super) fn choose(&mut self) {
        for &channel in Channel::ALL {
            let of: Vec<usize> = (0..self.sheet.columns.len())
                .filter(|&at| matches!(self.sheet.columns[at].meaning, Meaning::Numbers(r) if r.channel == channel))
                .collect();
            if of.len() < 2 {
                continue;
            }
            let answered: Vec<usize> = of
                .iter()
                .copied()
                .filter(|&at| self.sheet.columns[at].answered)
                .collect();
            let placed = |&at: &usize| matches!(self.sheet.columns[at].meaning, Meaning::Numbers(r) if r.placed);
            let placed: Vec<usize> = of.iter().copied().filter(placed).collect();
            let best = [answered, placed]
                .into_iter()
                .find(|best| !best.is_empty() && best.len() < of.len())
                .unwrap_or_else(|| of.clone());
            let first = best[0];
            let alike = best.iter().all(|&at| self.alike(first, at));
            if alike || !channel.is_used() || (channel == Channel::Time && self.is_date(first)) {
                let second = best.get(1).copied();
                let keep = second.filter(|_| self.is_date(first)).unwrap_or(first);
                let keep = self.sheet.columns[keep].index;
                let drop: Vec<usize> = of
                    .iter()
                    .map(|&at| self.sheet.columns[at].index)
                    .filter(|&index| index != keep)
                    .collect();
                // What differs from the column that is read is told.
                let why = if of.iter().all(|&at| self.alike(first, at)) {
                    SAME
                } else {
                    "another column says more"
                };
                for index in drop {
                    self.remove(index, why);
                }
                continue;
            }
            let second = best[1];
            let (one, other) = (&self.sheet.columns[first], &self.sheet.columns[second]);
            let (code, message) = if other.repeated {
                (
                    Code::COLUMN_DUPLICATE,
                    format!("two columns are headed '{}'", clipped(&other.head)),
                )
            } else {
                let (one, other) = (clipped(&one.head), clipped(&other.head));
                (
                    Code::CHANNEL_TWICE,
                    format!(
                        "columns '{one}' and '{other}' are both {} and differ",
                        channel.name()
                    ),
                )
            };
            let name = if other.repeated {
                format!("#{}", other.index + 1)
            } else {
                other.head.clone()
            };
            let expected = if other.repeated {
                "each header once".to_owned()
            } else {
                format!("one column for {}", channel.name())
            };
            self.asked.push(Asked {
                index: other.index,
                head: name,
                question: Question {
                    code,
                    message,
                    expected,
                    answers: vec!["skip".to_owned()],
                },
            });
        }
    }

    /// A date beside a time of day.
    fn is_date(&self, at: usize) -> bool {
        let words = super::lexicon::words_of(&self.sheet.columns[at].head);
        let dates = ["date", "datum", "fecha", "data", "dato"];
        words.len() == 1 && dates.contains(&words[0].as_str())
    }

    /// Whether two columns hold the same numbers, whatever their unit.
    fn alike(&self, one: usize, other: usize) -> bool {
        // Two clocks may differ by when they were started.
        let zero = |at: usize| {
            let raw = &self.sheet.columns[at];
            let time = matches!(raw.meaning, Meaning::Numbers(r) if r.channel == Channel::Time);
            let first = raw.values.first().copied().filter(|v| v.is_finite());
            first.filter(|_| time).unwrap_or(0.0)
        };
        let si = |at: usize| {
            let raw = &self.sheet.columns[at];
            let zero = zero(at);
            let reading = match raw.meaning {
                Meaning::Numbers(reading) => Some(reading),
                _ => None,
            };
            raw.values
                .iter()
                .map(move |v| reading.map_or(*v, |r| r.unit.to_si((v - zero) * r.scale)))
        };
        let top = si(one)
            .filter(|v| v.is_finite())
            .fold(0.0_f64, |top, v| top.max(v.abs()));
        si(one)
            .zip(si(other))
            .all(|(a, b)| a.is_nan() || b.is_nan() || (a - b).abs() <= 2e-3 * top)
    }

    /// Both columns under wrong units: one question each.
    fn ask_both(
        &mut self,
        ratio: f64,
        power: (usize, String, &'static Unit),
        torque: (usize, String, &'static Unit),
    ) {
        let message = format!(
            "'{}' is {} times '{}' times engine speed: it is so where the numbers are {} and {}",
            clipped(&power.1),
            show_number(ratio, 4),
            clipped(&torque.1),
            power.2.symbol,
            torque.2.symbol
        );
        let second = format!("'{}' likewise", clipped(&torque.1));
        for ((index, head, unit), name, message) in [
            (power, "wheel_power", message),
            (torque, "wheel_torque", second),
        ] {
            self.asked.push(Asked {
                index,
                question: Question {
                    code: Code::UNIT_AMBIGUOUS,
                    message,
                    expected: "power that is torque times speed".to_owned(),
                    answers: vec![
                        format!("{name}_{}", suffix_of(unit.symbol)),
                        "skip".to_owned(),
                    ],
                },
                head,
            });
        }
    }

    /// Power against torque × speed of the same file: a unit under the wrong name shows as its factor.
    pub(super) fn compare_power(&mut self) {
        let (Some((power, p)), Some((torque, t)), true) = (
            self.reading(Channel::WheelPower),
            self.reading(Channel::WheelTorque),
            self.has(Channel::EngineSpeed),
        ) else {
            return;
        };
        let (Some(w), Some(nm), Some(speed)) = (
            self.values_si(Channel::WheelPower),
            self.values_si(Channel::WheelTorque),
            self.values_si(Channel::EngineSpeed),
        ) else {
            return;
        };
        let ratios: Vec<f64> = w
            .iter()
            .zip(&nm)
            .zip(&speed)
            .map(|((w, nm), speed)| w / (nm * speed))
            .filter(|r| r.is_finite() && *r > 0.0)
            .collect();
        let Some(ratio) = upper_median(ratios.iter().copied()) else {
            return;
        };
        if (ratio - 1.0).abs() <= AGREES || ratios.len() < 10 || power.answered || torque.answered {
            return;
        }
        let steady = ratios
            .iter()
            .filter(|r| (*r / ratio - 1.0).abs() < 0.01)
            .count();
        let index = power.index;
        let torque_index = torque.index;
        let of =
            |dimension: Dimension| UNITS.iter().filter(move |unit| unit.dimension == dimension);
        // Units under which the two would agree.
        let mut would = Vec::new();
        for unit in of(Dimension::Power) {
            if (ratio * unit.factor() / p.unit.factor() - 1.0).abs() < SAME_UNIT {
                would.push((
                    power.head.clone(),
                    format!("wheel_power_{}", suffix_of(unit.symbol)),
                ));
            }
        }
        for unit in of(Dimension::Torque) {
            if (ratio * t.unit.factor() / unit.factor() - 1.0).abs() < SAME_UNIT {
                would.push((
                    torque.head.clone(),
                    format!("wheel_torque_{}", suffix_of(unit.symbol)),
                ));
            }
        }
        let steady = 10 * steady >= 9 * ratios.len();
        if would.is_empty() && steady {
            let fits = |(power, torque): &(&'static Unit, &'static Unit)| {
                let factor = power.factor() / p.unit.factor() * t.unit.factor() / torque.factor();
                (ratio * factor - 1.0).abs() < SAME_UNIT
            };
            if let Some((of_power, of_torque)) = usual_pairs().find(fits) {
                let power = (index, power.head.clone(), of_power);
                let torque = (torque_index, torque.head.clone(), of_torque);
                self.ask_both(ratio, power, torque);
                return;
            }
        }
        if would.is_empty() || !steady {
            // Torque of another place, or of the wheels themselves.
            self.remove(torque_index, "power is not it times engine speed");
            return;
        }
        let heads = (
            clipped(&power.head).into_owned(),
            clipped(&torque.head).into_owned(),
        );
        let message = format!(
            "'{}' is {} times '{}' times engine speed: one of the two is in another unit than it says",
            heads.0,
            show_number(ratio, 4),
            heads.1
        );
        let head = would[0].0.clone();
        let answers: Vec<String> = would
            .iter()
            .map(|(of, name)| {
                if *of == head {
                    name.clone()
                } else {
                    format!("{of}={name}")
                }
            })
            .collect();
        self.asked.push(Asked {
            index,
            head,
            question: Question {
                code: Code::UNIT_AMBIGUOUS,
                message,
                expected: "power that is torque times speed".to_owned(),
                answers,
            },
        });
    }
}
