//! A cause in one of its forms, ready to be held against the log at any size: how probable log and sizes are together.
//!
//! Exists because a search comes back to the same sizes with another doubt: what the log would show there is simulated once. It refuses to
//! look for the best size.

use super::cause::{Cause, Origin};
use super::disturb::{ExpectedLog, Fault, Scene};
use super::judge::{Factors, Judge};
use super::size::Size;
use statrs::distribution::{ContinuousCDF, Normal};
use std::cell::RefCell;
use std::collections::HashMap;
use std::f64::consts::TAU;
use std::sync::Arc;

/// Logarithm of the belief about a size at a standardised value: a normal cut to its bounds.
pub(super) fn belief(size: &Size, z: f64) -> f64 {
    let unit = Normal::standard();
    let (low, high) = size.prior.z_bounds();
    -0.5 * (z * z + TAU.ln()) - (unit.cdf(high) - unit.cdf(low)).ln()
}

/// Sizes from standardised ones.
pub(super) fn unstandardised(sizes: &[Size], z: &[f64]) -> Vec<f64> {
    let both = sizes.iter().zip(z);
    both.map(|(size, z)| size.prior.from_z(*z)).collect()
}

/// Log and sizes held against each other at standardised sizes.
#[derive(Debug, Clone)]
pub(super) struct AtSizes {
    pub(super) z: Vec<f64>,
    pub(super) log_p: f64,
    pub(super) parts: Vec<f64>,
    pub(super) shown: Arc<ExpectedLog>,
}

/// A cause in a form, ready to be asked at any size.
#[derive(Debug, Clone)]
pub(super) struct Rival<'a> {
    pub(super) scene: &'a Scene<'a>,
    pub(super) judge: &'a Judge,
    /// One cause, or two at work together.
    pub(super) faults: Vec<Fault>,
}

impl Rival<'_> {
    /// The cause, or the first of two.
    pub(super) fn first(&self) -> Fault {
        self.faults[0]
    }

    /// The numbers that describe what is at work, one cause after the other.
    pub(super) fn sizes(&self) -> Vec<Size> {
        let (setup, entered) = (self.scene.setup, &self.scene.entered);
        let each = self.faults.iter();
        each.flat_map(|f| f.cause.sizes(f.form, setup, entered))
            .collect()
    }

    /// How many numbers describe each.
    pub(super) fn counts(&self) -> Vec<usize> {
        let (setup, entered) = (self.scene.setup, &self.scene.entered);
        let each = self.faults.iter();
        each.map(|f| f.cause.sizes(f.form, setup, entered).len())
            .collect()
    }

    /// Log-probability of log and sizes at standardised sizes, with the covariances given or those of the sizes themselves.
    pub(super) fn at(
        &self,
        sizes: &[Size],
        z: &[f64],
        factors: Option<&Factors>,
    ) -> Option<AtSizes> {
        self.weighed(sizes, z, self.shown(sizes, z)?, factors)
    }

    /// What the log would show at standardised sizes, inside their bounds.
    fn shown(&self, sizes: &[Size], z: &[f64]) -> Option<Arc<ExpectedLog>> {
        let inside = sizes.iter().zip(z).all(|(size, z)| {
            let (low, high) = size.prior.z_bounds();
            (low..=high).contains(z)
        });
        if !inside {
            return None;
        }
        self.shown_at(&unstandardised(sizes, z)).map(Arc::new)
    }

    /// What the log would show at sizes, one cause's after the other's.
    pub(super) fn shown_at(&self, x: &[f64]) -> Option<ExpectedLog> {
        let mut rest = x;
        let each: Vec<(Fault, &[f64])> = self
            .faults
            .iter()
            .zip(self.counts())
            .map(|(fault, count)| {
                let (own, others) = rest.split_at(count.min(rest.len()));
                rest = others;
                (*fault, own)
            })
            .collect();
        self.scene.expected_log_of(&each)
    }

    /// What the log would show of the fault at the rig alone, where there is one in the car besides.
    pub(super) fn by_rig(&self, x: &[f64]) -> Option<ExpectedLog> {
        let two = self.faults.len() > 1 && self.first().cause.place() == Origin::Rig;
        let own = x.get(..self.counts()[0]).filter(|_| two)?;
        self.scene.expected_log_of(&[(self.first(), own)])
    }

    /// The covariances about what a point shows.
    pub(super) fn factors(&self, point: &AtSizes) -> Option<Factors> {
        self.factors_at(&self.sizes(), &point.z, &point.shown)
    }

    fn factors_at(&self, sizes: &[Size], z: &[f64], shown: &ExpectedLog) -> Option<Factors> {
        let by_rig = self.by_rig(&unstandardised(sizes, z));
        self.judge
            .factors(self.scene, &self.faults, shown, by_rig.as_ref())
    }

    fn weighed(
        &self,
        sizes: &[Size],
        z: &[f64],
        shown: Arc<ExpectedLog>,
        factors: Option<&Factors>,
    ) -> Option<AtSizes> {
        let parts = if self.first().cause == Cause::NoneOfThese {
            self.judge.parts_of_anything(self.scene, &shown)?
        } else if let Some(factors) = factors {
            Judge::parts(self.scene, &shown, factors)
        } else {
            let own = self.factors_at(sizes, z, &shown)?;
            Judge::parts(self.scene, &shown, &own)
        };
        let belief: f64 = sizes.iter().zip(z).map(|(s, z)| belief(s, *z)).sum();
        let log_p = parts.iter().sum::<f64>() + belief;
        log_p.is_finite().then(|| AtSizes {
            z: z.to_vec(),
            log_p,
            parts,
            shown,
        })
    }
}

/// A search for the sizes of a cause.
pub(super) struct Search<'a> {
    pub(super) rival: &'a Rival<'a>,
    pub(super) sizes: &'a [Size],
    /// What the log would show at sizes already looked at: each round comes back to most of them with another doubt.
    shown: RefCell<HashMap<Vec<u64>, Option<Arc<ExpectedLog>>>>,
    /// The same in order, where the car could have made the pull.
    pub(super) tried: RefCell<Vec<(Vec<f64>, Arc<ExpectedLog>)>>,
    /// The points of its grid.
    pub(super) grid: RefCell<Vec<AtSizes>>,
}

/// Sizes tried in a search.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Trials {
    /// How many.
    pub all: usize,
    /// How many of them the car could not have made the pull with.
    pub failed: usize,
}

impl std::ops::AddAssign for Trials {
    fn add_assign(&mut self, other: Self) {
        self.all += other.all;
        self.failed += other.failed;
    }
}

impl<'a> Search<'a> {
    /// A search that has looked at nothing yet.
    pub(super) fn of(rival: &'a Rival<'a>, sizes: &'a [Size]) -> Self {
        Self {
            rival,
            sizes,
            shown: RefCell::default(),
            tried: RefCell::default(),
            grid: RefCell::default(),
        }
    }

    /// Sizes looked at so far.
    pub(super) fn trials(&self) -> Trials {
        let shown = self.shown.borrow();
        Trials {
            all: shown.len(),
            failed: shown.values().filter(|s| s.is_none()).count(),
        }
    }

    /// The points of its grid, for who comes after.
    pub(super) fn into_grid(self) -> Vec<AtSizes> {
        self.grid.into_inner()
    }

    /// As [`Rival::at`], of sizes looked at before without another simulation.
    pub(super) fn at(&self, z: &[f64], factors: Option<&Factors>) -> Option<AtSizes> {
        let inside = self.sizes.iter().zip(z).all(|(size, z)| {
            let (low, high) = size.prior.z_bounds();
            (low..=high).contains(z)
        });
        if !inside {
            return None;
        }
        let place = z.iter().map(|z| z.to_bits()).collect();
        let look = || {
            let shown = self.rival.shown(self.sizes, z);
            if let Some(shown) = &shown {
                let tried = (z.to_vec(), Arc::clone(shown));
                self.tried.borrow_mut().push(tried);
            }
            shown
        };
        let shown = self
            .shown
            .borrow_mut()
            .entry(place)
            .or_insert_with(look)
            .clone()?;
        self.rival.weighed(self.sizes, z, shown, factors)
    }
}
