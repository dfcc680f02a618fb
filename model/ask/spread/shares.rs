//! Shares of a variance by cause: Sobol indices of groups of random numbers, with their standard errors.
//!
//! Draws are taken in blocks. Within a block the partner of a draw, from which one group of its numbers is taken at a time, is the
//! next draw, so no draw is made for the indices alone. Blocks are independent, so leaving out one replica of blocks after the
//! other tells the errors.
//!
//! Source: M. J. W. Jansen 1999, Computer Physics Communications 117, estimators of first-order and total effects, from memory.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Replicas of the draws from which errors are told, at most.
pub(super) const REPLICAS: usize = 50;

/// What one group of random numbers does to the variance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// Share that goes when this group alone is known: first-order index.
    pub first: f64,
    /// Its standard error.
    pub first_error: f64,
    /// Share that stays when all but this group is known: total index.
    pub total: f64,
    /// Its standard error.
    pub total_error: f64,
}

/// One draw's values: its own, its partner's, and its own with each group in turn taken from the partner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swapped<const G: usize> {
    /// The draw.
    pub own: f64,
    /// Its partner.
    pub partner: f64,
    /// The draw with one group of the partner.
    pub swapped: [f64; G],
}

/// As a list of numbers: its own, the partner's, and the swapped ones.
impl<const G: usize> Serialize for Swapped<G> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut numbers = vec![self.own, self.partner];
        numbers.extend(self.swapped);
        numbers.serialize(serializer)
    }
}

impl<'de, const G: usize> Deserialize<'de> for Swapped<G> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let numbers = Vec::<f64>::deserialize(deserializer)?;
        match numbers.as_slice() {
            [own, partner, swapped @ ..] => Ok(Self {
                own: *own,
                partner: *partner,
                swapped: swapped.try_into().map_err(|_| {
                    serde::de::Error::invalid_length(
                        numbers.len(),
                        &"two numbers and one for each group",
                    )
                })?,
            }),
            _ => Err(serde::de::Error::invalid_length(
                numbers.len(),
                &"two numbers and one for each group",
            )),
        }
    }
}

/// Sums over draws.
#[derive(Debug, Clone, Copy)]
struct Sums<const G: usize> {
    count: f64,
    value: f64,
    square: f64,
    first: [f64; G],
    total: [f64; G],
}

impl<const G: usize> Sums<G> {
    const NONE: Self = Self {
        count: 0.0,
        value: 0.0,
        square: 0.0,
        first: [0.0; G],
        total: [0.0; G],
    };

    fn add(&mut self, draw: &Swapped<G>, about: f64) {
        let own = draw.own - about;
        self.count += 1.0;
        self.value += own;
        self.square += own * own;
        for g in 0..G {
            self.first[g] += (draw.partner - draw.swapped[g]).powi(2);
            self.total[g] += (draw.own - draw.swapped[g]).powi(2);
        }
    }

    fn joined(mut self, other: &Self, sign: f64) -> Self {
        self.count += sign * other.count;
        self.value += sign * other.value;
        self.square += sign * other.square;
        for g in 0..G {
            self.first[g] += sign * other.first[g];
            self.total[g] += sign * other.total[g];
        }
        self
    }

    /// First-order and total indices.
    /// Equation (12.4).
    fn indices(&self) -> [(f64, f64); G] {
        let n = self.count;
        let variance = self.square / n - (self.value / n).powi(2);
        std::array::from_fn(|g| {
            (
                1.0 - self.first[g] / (2.0 * n * variance),
                self.total[g] / (2.0 * n * variance),
            )
        })
    }
}

/// The indices of `G` groups from blocks of draws; not numbers where nothing varies or there are fewer than two blocks.
/// Equation (12.4).
pub fn shares<const G: usize>(blocks: &[Vec<Swapped<G>>]) -> [Share; G] {
    let about = blocks.iter().flatten().next().map_or(0.0, |draw| draw.own);
    let replicas = REPLICAS.min(blocks.len());
    let mut sums = vec![Sums::<G>::NONE; replicas];
    for (number, block) in blocks.iter().enumerate() {
        for draw in block {
            sums[number * replicas / blocks.len()].add(draw, about);
        }
    }
    let all = sums
        .iter()
        .fold(Sums::NONE, |all, some| all.joined(some, 1.0));
    let whole = all.indices();
    let without: Vec<[(f64, f64); G]> = sums
        .iter()
        .map(|some| all.joined(some, -1.0).indices())
        .collect();
    std::array::from_fn(|g| Share {
        first: whole[g].0,
        first_error: left_out(without.iter().map(|w| w[g].0)),
        total: whole[g].1,
        total_error: left_out(without.iter().map(|w| w[g].1)),
    })
}

/// Standard error from estimates with one replica left out of each (the jackknife).
fn left_out(estimates: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = estimates.clone().count() as f64;
    let mean = estimates.clone().sum::<f64>() / n;
    let squares: f64 = estimates.map(|e| (e - mean).powi(2)).sum();
    if n < 2.0 {
        f64::NAN
    } else {
        (squares * (n - 1.0) / n).sqrt()
    }
}
