//! The force that a rig logs at its drums: whether it is all of it or the brake's alone, which way it counts, and how late it comes.
//!
//! A cell between car and drums, or a rig that makes its drums as heavy as a car, logs all of the force; a cell under a brake misses what
//! the drums' own inertia takes. The two differ by the largest part of a pull, so which it is follows from the log where the log shows it, and
//! is asked where it does not. It refuses to guess, and to bend a force until it agrees with an inertia.

use serde::Serialize;

use super::balance::Balance;
use super::rig::Rig;
use super::savitzky_golay::rates;
use crate::numeric::straight_held;

/// What the force of a log is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reads {
    /// All that the car puts into the drums, what their inertia takes included.
    All,
    /// What the brake holds back; what the drums' inertia takes is to be added.
    BrakeAlone,
}

/// What a force is, and which way it counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Sense {
    /// What it is.
    pub reads: Reads,
    /// Whether it is logged negative while the car drives the drums.
    pub reversed: bool,
}

impl Sense {
    /// All, with the words that say so in a file.
    pub const NAMED: [(&'static str, Self); 4] = [
        ("all", Self::new(Reads::All, false)),
        ("brake alone", Self::new(Reads::BrakeAlone, false)),
        ("all, reversed", Self::new(Reads::All, true)),
        ("brake alone, reversed", Self::new(Reads::BrakeAlone, true)),
    ];

    const fn new(reads: Reads, reversed: bool) -> Self {
        Self { reads, reversed }
    }

    /// Factor that makes it positive while the car drives.
    pub fn sign(self) -> f64 {
        if self.reversed { -1.0 } else { 1.0 }
    }
}

/// How it is known what a force is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Told {
    /// The description of the log says so.
    Stated,
    /// The name of its column does.
    Named,
    /// Force, acceleration and speed of the log do.
    ByTheLog,
}

/// A force logged beside the drum's speed.
#[derive(Debug, Clone, PartialEq)]
pub struct ForceLog {
    /// Force at the surface as logged, N.
    pub force_n: Vec<f64>,
    /// What is said of it.
    pub stated: Option<(Sense, Told)>,
    /// Standard deviation of its scale, relative: the cell's calibration.
    pub doubt: f64,
    /// Whether torque was logged, and is the force times the drums' radius.
    pub by_torque: bool,
}

/// The force as it is used.
#[derive(Debug, Clone, PartialEq)]
pub struct RollForce {
    /// What it is.
    pub sense: Sense,
    /// By what that is known.
    pub told: Told,
    /// Relative standard deviation of its scale.
    pub doubt: f64,
    /// Whether torque was logged.
    pub by_torque: bool,
    /// How it goes with what the drums do, where it does.
    pub balance: Option<Balance>,
    /// Mass that it should feel, kg, and its relative doubt.
    pub expected_kg: (f64, f64),
    /// Its mean within the pulls over the drums' own mass times their mean acceleration.
    pub over_inertia: f64,
}

/// Why a force cannot be used without an answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ForceError {
    /// It does not go with acceleration and speed, so it may be all or the brake's.
    #[error(
        "the log does not show whether the force at the drums is all of it or the brake's alone: it does not go with acceleration and speed"
    )]
    NoBalance {
        /// Row of the largest force in a pull.
        row: usize,
        /// That force, N.
        force_n: f64,
    },
    /// It feels a mass that is neither the drums' nor none.
    #[error(
        "the log does not show whether the force at the drums is all of it or the brake's alone: it feels a mass of {mass_kg:.0} kg, and the drums are stated to weigh {stated_kg:.0} kg"
    )]
    AnotherMass {
        /// Row of the largest force in a pull.
        row: usize,
        /// That force, N.
        force_n: f64,
        /// Mass that it feels, kg.
        mass_kg: f64,
        /// Mass that all of it should feel, kg.
        stated_kg: f64,
    },
    /// A brake that pushes, or a sign.
    #[error(
        "the force at the drums is the brake's alone and {force_n:.0} N while the car drives: either its sign is reversed, or the rig drives along"
    )]
    BrakeSign {
        /// Row of the largest force in a pull.
        row: usize,
        /// That force, N.
        force_n: f64,
    },
    /// It is said to be all, and has the wrong sign.
    #[error("the force at the drums is {force_n:.0} N while the drums gain speed at full throttle")]
    WrongSign {
        /// Row of the largest force in a pull.
        row: usize,
        /// That force, N.
        force_n: f64,
    },
}

impl ForceError {
    /// The same with its row counted otherwise.
    #[must_use]
    pub fn at(mut self, count: impl Fn(usize) -> usize) -> Self {
        match &mut self {
            Self::NoBalance { row, .. }
            | Self::AnotherMass { row, .. }
            | Self::BrakeSign { row, .. }
            | Self::WrongSign { row, .. } => *row = count(*row),
        }
        self
    }

    /// Row and force that show it.
    pub fn place(&self) -> (usize, f64) {
        match *self {
            Self::NoBalance { row, force_n }
            | Self::AnotherMass { row, force_n, .. }
            | Self::BrakeSign { row, force_n }
            | Self::WrongSign { row, force_n } => (row, force_n),
        }
    }
}

/// A mass is taken for one of the two where it lies within this share of the drums' own of it (no source: a drum's inertia is stated to
/// some 10 %, and the two lie a whole mass apart on a plain drum).
const NEAR: f64 = 0.25;
/// And none is felt below this share: pounds-force under the name newton leave a quarter of a mass, kilograms-force a tenth.
const NONE: f64 = 0.05;
/// Mass that the force feels is known well enough to tell one from the other, as a share of the drums' own.
const KNOWN: f64 = 0.08;
/// Mean force below this share of the drums' inertia's has no sign worth a question.
const SLIGHT: f64 = 0.05;
/// How far the masses may lie apart without a word, relative: load cells of rolls are calibrated to 0.5 to 1 % (common practice, no source).
pub const AGREES: f64 = 0.01;

impl RollForce {
    /// Finds what a force is; `speed_m_s` is the surface's, `pulls` are first and last times at full throttle.
    ///
    /// ```text
    /// all of it: m = M or, of a rig that simulates a car, M_s;      the brake's alone: m = 0 or M_s − M;      reversed: −m
    /// ```
    ///
    /// Taken for the one within a quarter of M, from a balance (6.34) that holds. Source: derived, Newton's law for the drums. Equation (6.35).
    pub fn of(
        log: &ForceLog,
        rig: &Rig,
        time_s: &[f64],
        speed_m_s: &[f64],
        pulls: &[(f64, f64)],
    ) -> Result<Self, ForceError> {
        let own_kg = rig.drums.mass_kg();
        let balance =
            Balance::of(time_s, speed_m_s, &log.force_n, pulls, own_kg).filter(Balance::holds);
        let within: Vec<usize> = (0..time_s.len())
            .filter(|&row| {
                let t = time_s[row];
                pulls.iter().any(|(from, to)| (*from..=*to).contains(&t))
            })
            .collect();
        let rate = rates(time_s, speed_m_s, 0.15, 2, 1);
        let total = |values: &[f64]| within.iter().map(|&row| values[row]).sum::<f64>();
        let over_inertia = total(&log.force_n) / (own_kg * total(&rate)).max(f64::MIN_POSITIVE);
        let row = within
            .iter()
            .copied()
            .max_by(|&a, &b| log.force_n[a].abs().total_cmp(&log.force_n[b].abs()))
            .unwrap_or(0);
        let force_n = log.force_n[row];
        let (sense, told) = match log.stated {
            // A name says what a cell sits on, not which way it counts.
            Some((sense, Told::Named)) => {
                if over_inertia < -SLIGHT {
                    return Err(ForceError::BrakeSign { row, force_n });
                }
                (sense, Told::Named)
            }
            Some(stated) => stated,
            None => (
                told_by(balance.as_ref(), rig, over_inertia, (row, force_n))?,
                Told::ByTheLog,
            ),
        };
        let over_inertia = sense.sign() * over_inertia;
        if sense.reads == Reads::All && over_inertia < 0.0 {
            return Err(ForceError::WrongSign { row, force_n });
        }
        Ok(Self {
            sense,
            told,
            doubt: log.doubt,
            by_torque: log.by_torque,
            balance: balance.map(|found| found.times(sense.sign())),
            expected_kg: rig.mass_felt_kg(sense.reads),
            over_inertia,
        })
    }

    /// Mass that the force feels over the one it should, less one, with its standard error; where the log shows it and a mass is to be felt.
    pub fn off(&self) -> Option<(f64, f64)> {
        let balance = self.balance.as_ref()?;
        let (expected_kg, doubt) = self.expected_kg;
        (expected_kg > 0.0).then(|| {
            let ratio = balance.mass_kg / expected_kg;
            let noise = balance.mass_se_kg / expected_kg;
            (ratio - 1.0, noise.hypot(ratio * doubt.hypot(self.doubt)))
        })
    }

    /// Whether the two masses agree within what is known of them; `None` where nothing can be held against each other.
    pub fn agrees(&self) -> Option<bool> {
        let (off, se) = self.off()?;
        Some(off.abs() < AGREES.max(3.0 * se))
    }

    /// Doubts that move all power and all force of a rig alike, relative: of the cell's scale, of the radius where force and turning, or torque
    /// and the surface's speed, go together; of a brake's the cell's and the inertia's by their shares.
    /// Equation (6.36).
    pub fn doubts(&self, rig: &Rig) -> (f64, f64) {
        let (turning, torque) = (
            f64::from(u8::from(rig.reads_turning)),
            f64::from(u8::from(self.by_torque)),
        );
        let power = self.doubt.hypot((turning - torque) * rig.radius_doubt);
        let force = self.doubt.hypot(torque * rig.radius_doubt);
        match self.sense.reads {
            Reads::All => (power, force),
            Reads::BrakeAlone => {
                let own = Rig {
                    road_load: None,
                    ..*rig
                };
                let cell = self.over_inertia / (1.0 + self.over_inertia);
                let both = |cell_doubt: f64, inertia: f64| {
                    (cell * cell_doubt).hypot((1.0 - cell) * inertia)
                };
                (
                    both(power, own.power_doubt()),
                    both(force, own.force_doubt()),
                )
            }
        }
    }

    /// Force beside the speed: at each time what the cell logs its lag later, driving positive.
    pub fn beside(&self, time_s: &[f64], force_n: &[f64]) -> Vec<f64> {
        let (lag_s, sign) = (self.lag_s(), self.sense.sign());
        let logged: Vec<(f64, f64)> = time_s
            .iter()
            .copied()
            .zip(force_n.iter().copied())
            .collect();
        time_s
            .iter()
            .map(|t| sign * straight_held(&logged, t + lag_s))
            .collect()
    }

    /// Time by which the cell comes late, s.
    pub fn lag_s(&self) -> f64 {
        self.balance.map_or(0.0, |balance| balance.lag_s)
    }

    /// Its standard error, s.
    pub fn lag_se_s(&self) -> f64 {
        self.balance.map_or(0.0, |balance| balance.lag_se_s)
    }
}

/// What a force without a word on it is.
fn told_by(
    balance: Option<&Balance>,
    rig: &Rig,
    over_inertia: f64,
    (row, force_n): (usize, f64),
) -> Result<Sense, ForceError> {
    let own_kg = rig.drums.mass_kg();
    let Some(balance) = balance.filter(|found| found.mass_se_kg < KNOWN * own_kg) else {
        return Err(ForceError::NoBalance { row, force_n });
    };
    let off = |sense: &Sense| {
        let (expected_kg, _) = rig.mass_felt_kg(sense.reads);
        ((sense.sign() * expected_kg - balance.mass_kg) / own_kg).abs()
    };
    let mut senses = Sense::NAMED.map(|(_, sense)| sense);
    senses.sort_by(|a, b| off(a).total_cmp(&off(b)));
    let [first, second, ..] = senses;
    // Without a mass to feel, a brake's sign is not in its balance.
    let (brake_kg, _) = rig.mass_felt_kg(Reads::BrakeAlone);
    let signless = first.reads == Reads::BrakeAlone && brake_kg.abs() < NEAR * own_kg;
    let clear = if signless {
        off(&first) < NONE
    } else {
        off(&first) < NEAR && off(&second) > 2.0 * off(&first)
    };
    if !clear {
        return Err(ForceError::AnotherMass {
            row,
            force_n,
            mass_kg: balance.mass_kg,
            stated_kg: rig.mass_felt_kg(Reads::All).0,
        });
    }
    if signless {
        if over_inertia < -SLIGHT {
            return Err(ForceError::BrakeSign { row, force_n });
        }
        return Ok(Sense::new(Reads::BrakeAlone, false));
    }
    Ok(first)
}

/// Time at the end of a stretch in which a force may already fall, s: what a lag is uncertain by, and the corner of a speed (no source).
const FALLING_S: f64 = 0.5;
/// A fall is steeper than so many standard deviations about the line before it, and than this share of the force.
const FALLS: (f64, f64) = (6.0, 0.03);
/// Fewest rows that tell a line.
const LINE_ROWS: usize = 6;

/// How many rows of a stretch stand before the force falls at its end: below the line through the second before.
pub(super) fn before_the_fall(time_s: &[f64], force_n: &[f64]) -> usize {
    let rows = time_s.len();
    let Some(last_s) = time_s.last() else {
        return 0;
    };
    let from = time_s.partition_point(|t| *t < last_s - FALLING_S);
    let first = time_s.partition_point(|t| *t < last_s - FALLING_S - 1.0);
    if from < first + LINE_ROWS {
        return rows;
    }
    let n = (from - first) as f64;
    let mean = |values: &[f64]| values[first..from].iter().sum::<f64>() / n;
    let (t0, f0) = (mean(time_s), mean(force_n));
    let (mut square, mut product) = (0.0, 0.0);
    for row in first..from {
        square += (time_s[row] - t0).powi(2);
        product += (time_s[row] - t0) * (force_n[row] - f0);
    }
    let slope = product / square.max(f64::MIN_POSITIVE);
    let left = |row: usize| force_n[row] - f0 - slope * (time_s[row] - t0);
    let sd = ((first..from).map(|row| left(row).powi(2)).sum::<f64>() / (n - 2.0)).sqrt();
    let least = (FALLS.0 * sd).max(FALLS.1 * f0.abs());
    // All rows after the first that falls fall too, or it is a reading that stands out.
    let falls = |row: &usize| (*row..rows).all(|row| left(row) < -least);
    (from..rows).find(falls).unwrap_or(rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dyno::Drums;

    /// Drums of 800 kg at their surface.
    fn rig() -> Rig {
        Rig {
            drums: Drums::example(),
            inertia_doubt: 0.0,
            radius_doubt: 0.0,
            reads_turning: true,
            road_load: None,
        }
    }

    /// A pull of 8 s and a run-down, 50 rows a second: time, speed, what the car puts in.
    fn driven(brake_n: fn(f64) -> f64) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let car = |t: f64| {
            if t < 8.0 {
                4000.0 + 300.0 * t - 40.0 * t * t
            } else {
                -200.0
            }
        };
        let (mut v, mut t) = (12.0, 0.0);
        let (mut time, mut speed, mut all) = (Vec::new(), Vec::new(), Vec::new());
        for row in 0..6000_u32 {
            if row % 10 == 0 {
                time.push(t);
                speed.push(v);
                all.push(car(t));
            }
            v += 0.002 * (car(t) - brake_n(v)) / 800.0;
            t += 0.002;
        }
        (time, speed, all)
    }

    fn used(
        rig: &Rig,
        drive: &(Vec<f64>, Vec<f64>, Vec<f64>),
        force_n: Vec<f64>,
        stated: Option<(Sense, Told)>,
    ) -> Result<RollForce, ForceError> {
        let log = ForceLog {
            force_n,
            stated,
            doubt: 0.0,
            by_torque: false,
        };
        RollForce::of(&log, rig, &drive.0, &drive.1, &[(0.0, 8.0)])
    }

    #[test]
    fn all_of_a_force_a_brakes_and_either_reversed_are_told_apart_or_asked() {
        let brake_n = |v: f64| 300.0 + 20.0 * v;
        let drive = driven(brake_n);
        let of = |force: Vec<f64>| used(&rig(), &drive, force, None);
        let all = of(drive.2.clone()).expect("told");
        assert_eq!(all.sense, Sense::new(Reads::All, false));
        assert_eq!(all.agrees(), Some(true));
        let reversed = of(drive.2.iter().map(|f| -f).collect()).expect("told");
        assert_eq!(reversed.sense, Sense::new(Reads::All, true));
        // The balance is that of the force as used.
        assert!((reversed.balance.expect("a balance").mass_kg / 800.0 - 1.0).abs() < 0.01);
        let brake: Vec<f64> = drive.1.iter().map(|v| brake_n(*v)).collect();
        let alone = of(brake.clone()).expect("told");
        assert_eq!(alone.sense, Sense::new(Reads::BrakeAlone, false));
        assert_eq!(alone.agrees(), None);
        // A brake that seems to push: a sign, or a machine that drives along.
        let pushing = of(brake.iter().map(|f| -f).collect());
        assert!(
            matches!(pushing, Err(ForceError::BrakeSign { .. })),
            "{pushing:?}"
        );
        // Pounds-force under the name newton, and their inverse.
        for factor in [1.0 / 4.448, 4.448, 0.5] {
            let asked = of(drive.2.iter().map(|f| factor * f).collect());
            assert!(
                matches!(asked, Err(ForceError::AnotherMass { .. })),
                "{factor}: {asked:?}"
            );
        }
        let stated = Some((Sense::new(Reads::All, false), Told::Stated));
        let wrong = used(&rig(), &drive, drive.2.iter().map(|f| -f).collect(), stated);
        assert!(
            matches!(wrong, Err(ForceError::WrongSign { .. })),
            "{wrong:?}"
        );
    }

    #[test]
    fn a_rig_that_simulates_a_car_feels_its_mass_and_its_machine_the_rest() {
        let drive = driven(|_| 0.0);
        let small = Rig {
            drums: Drums {
                // 300 kg at the surface, made 800 by the machine.
                inertia_kg_m2: 75.0,
                ..Drums::example()
            },
            road_load: Some(crate::drumlog::RoadLoad {
                mass_kg: 800.0,
                mass_doubt: 0.0,
                drag: crate::drumlog::coast_down::Drag {
                    f0_n: 0.0,
                    f1_n_s_m: 0.0,
                    f2_n_s2_m2: 0.0,
                },
            }),
            ..rig()
        };
        let all = used(&small, &drive, drive.2.clone(), None).expect("told");
        assert_eq!((all.sense.reads, all.expected_kg.0), (Reads::All, 800.0));
        // The machine is left with 500 of the 800 kg.
        let machine = drive.2.iter().map(|f| 500.0 / 800.0 * f).collect();
        let alone = used(&small, &drive, machine, None).expect("told");
        assert_eq!(alone.sense, Sense::new(Reads::BrakeAlone, false));
        assert!((alone.expected_kg.0 - 500.0).abs() < 1e-9);
        assert_eq!(alone.agrees(), Some(true));
    }

    #[test]
    fn a_force_that_falls_before_its_stretch_ends_is_cut_there() {
        let time: Vec<f64> = (0..100).map(|i| 0.05 * f64::from(i)).collect();
        let steady: Vec<f64> = time.iter().map(|t| 4000.0 - 100.0 * t).collect();
        assert_eq!(before_the_fall(&time, &steady), 100);
        let mut falls = steady.clone();
        for (i, force) in falls.iter_mut().enumerate().skip(95) {
            *force -= 300.0 * (i as f64 - 94.0);
        }
        assert_eq!(before_the_fall(&time, &falls), 95);
        // One reading that stands out is no fall.
        let mut single = steady;
        single[95] -= 2000.0;
        assert_eq!(before_the_fall(&time, &single), 100);
    }
}
