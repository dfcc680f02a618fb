//! The engine of draws that quote and spread share: what one draw takes from its stream of random numbers, and what becomes of its pulls.
//!
//! Draws are numbered and each has its own stream, so one more draw changes none of the others, and no number of threads changes any.

use crate::belief::MeasuredSpeeds;
use crate::belief::prior::Prior;
use crate::belief::sheet::{Sheet, normal_at, share_below, standard_normal};
use crate::car::{Car, KnockMaps, WorkByCycle};
use crate::dyno::{Pull, PullError, PullPoint, Setup};
use crate::parts::{BuildError, Plan};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;

/// The random numbers of one stream.
pub fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(number);
    rng
}

/// A direction among independent numbers N(0, 1), along which a draw can be told where to stand.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::ask) struct Along(Vec<f64>);

impl Along {
    /// The direction in which a figure rises most, by its slope with each number; none where it goes with none of them.
    pub(in crate::ask) fn rising(slopes: &[f64]) -> Option<Self> {
        let length = slopes.iter().map(|slope| slope * slope).sum::<f64>().sqrt();
        (length > 0.0).then(|| Self(slopes.iter().map(|slope| slope / length).collect()))
    }

    /// Moves numbers along the direction, and nowhere else, to where a share of N(0, 1) lies below.
    ///
    /// ```text
    /// n ← n + d (Φ⁻¹(share) − n·d)
    /// ```
    ///
    /// Equation (8.6).
    pub(in crate::ask) fn place(&self, numbers: &mut [f64], share: f64) {
        let there: f64 = numbers.iter().zip(&self.0).map(|(n, d)| n * d).sum();
        let further = normal_at(share) - there;
        for (number, direction) in numbers.iter_mut().zip(&self.0) {
            *number += further * direction;
        }
    }
}

/// A car of the sheet, and its standardised numbers; told or not where to stand along a direction.
pub(in crate::ask) fn car<R: Rng + ?Sized>(
    sheet: &Sheet,
    rng: &mut R,
    told: Option<(&Along, f64)>,
) -> (Vec<f64>, Setup) {
    let z = sheet.draw_moved(rng, |numbers| {
        if let Some((along, share)) = told {
            along.place(numbers, share);
        }
    });
    let mut setup = sheet.setup_at(&z);
    // Made anew on both sides of the work, or the table alone would move the gain.
    setup.car.retabulate_knock();
    (z, setup)
}

/// The work with its numbers drawn, and those numbers standardised; told or not where to stand along a direction.
pub(in crate::ask) fn work<R: Rng + ?Sized>(
    plan: &Plan<Prior>,
    rng: &mut R,
    told: Option<(&Along, f64)>,
) -> (Plan<f64>, Vec<f64>) {
    let mut numbers = Vec::new();
    plan.map(|_, _, _| numbers.push(standard_normal(rng)));
    if let Some((along, share)) = told {
        along.place(&mut numbers, share);
    }
    let (mut next, mut z) = (numbers.into_iter(), Vec::new());
    let plan = plan.map(|_, _, prior| {
        let x = prior.quantile(next.next().map_or(0.5, share_below));
        z.push(prior.to_z(x));
        x
    });
    (plan, z)
}

/// One stray of a reading, relative.
pub fn stray<R: Rng + ?Sized>(rng: &mut R, sd: f64) -> f64 {
    sd * standard_normal(rng)
}

/// What the car built at the centre of a plan says for all draws of it, because it takes long and hardly depends on the draw.
#[derive(Debug, Clone)]
pub(in crate::ask) struct AtCentre {
    /// What the crank-angle cycle makes of the work inside the cylinder.
    pub(in crate::ask) by_cycle: Option<Arc<WorkByCycle>>,
    /// Knock maps of the built cylinder and its fuel.
    knock: Arc<KnockMaps>,
}

impl AtCentre {
    pub(in crate::ask) fn of(built: &Car) -> Self {
        Self {
            by_cycle: built.engine.work_by_cycle.clone(),
            knock: Arc::clone(&built.engine.knock.maps),
        }
    }
}

/// The car on its drums after the planned work.
pub(in crate::ask) fn built(
    before: &Setup,
    plan: &Plan<f64>,
    at_centre: &AtCentre,
) -> Result<Setup, BuildError> {
    let mut car = before.car.clone();
    car.engine.knock.maps = Arc::clone(&at_centre.knock);
    let mut car = plan.apply(&car)?;
    car.engine.work_by_cycle.clone_from(&at_centre.by_cycle);
    Ok(Setup {
        car,
        drums: before.drums,
    })
}

/// One engine speed of a pull as far as strays move it: power on the drums, torque that goes with it, and power at the crank.
pub(in crate::ask) trait Levelled {
    /// Engine speed, rpm.
    fn rpm(&self) -> f64;
    /// Power, W, torque, N m, and power at the crank, W.
    fn moved(&mut self) -> [&mut f64; 3];
    /// Share of the power that is no engine's, W: what is missed of an engine leaves it alone.
    fn electric_w(&self) -> f64;

    /// Multiplies all of it.
    fn level(&mut self, factor: f64) {
        for figure in self.moved() {
            *figure *= factor;
        }
    }

    /// Multiplies the engine's share. Where that is not positive there is no ratio, and the reading stays.
    fn change_engine(&mut self, factor: f64) {
        let electric_w = self.electric_w();
        let [power_w, torque_nm, crank_w] = self.moved();
        let engine_w = *power_w - electric_w;
        if engine_w <= 0.0 {
            return;
        }
        let changed_w = electric_w + engine_w * factor;
        *torque_nm *= changed_w / *power_w;
        *crank_w *= factor;
        *power_w = changed_w;
    }
}

impl Levelled for PullPoint {
    fn rpm(&self) -> f64 {
        self.rpm
    }

    fn moved(&mut self) -> [&mut f64; 3] {
        [&mut self.power_w, &mut self.torque_nm, &mut self.crank_w]
    }

    fn electric_w(&self) -> f64 {
        self.electric_w
    }
}

/// Multiplies the readings of a pull by a factor of engine speed. Where a power is not positive there is no ratio, and the reading stays too.
pub(in crate::ask) fn relevel<P: Levelled>(points: &mut [P], level: impl Fn(f64) -> f64) {
    for point in points {
        let factor = level(point.rpm());
        if factor.is_finite() && factor > 0.0 {
            point.level(factor);
        }
    }
}

/// What brings a draw's pulls to the fitted curve: the ratio of the two where the car was measured, and outside those speeds that of the nearest
/// measured one, so that draws part where nobody measured. What the calibration's visit strayed is still to be taken off.
/// Equation (8.6).
pub(in crate::ask) fn anchored<'p>(
    fitted: &'p Pull,
    drawn: &'p Pull,
    measured: Option<MeasuredSpeeds>,
) -> impl Fn(f64) -> f64 + 'p {
    move |rpm| {
        let at = measured.map_or(rpm, |measured| measured.nearest(rpm));
        let power = |pull: &Pull| pull.reading(at, |p| p.power_w);
        power(fitted) / power(drawn)
    }
}

/// A pull with points enough to speak of peaks.
pub(in crate::ask) fn complete(pull: Result<Pull, PullError>) -> Option<Pull> {
    pull.ok().filter(|p| p.points.len() >= 4)
}
