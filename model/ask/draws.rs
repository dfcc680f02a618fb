//! The engine of draws that quote and spread share: what one draw takes from its stream of random numbers, and what becomes of its pulls.
//!
//! Draws are numbered and each has its own stream, so one more draw changes none of the others, and no number of threads changes any.

use crate::belief::MeasuredSpeeds;
use crate::belief::prior::Prior;
use crate::belief::sheet::{Sheet, standard_normal};
use crate::car::{Car, KnockMaps, WorkByCycle};
use crate::dyno::{Pull, PullError, Setup};
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

/// A car of the sheet, and its standardised numbers.
pub(in crate::ask) fn car<R: Rng + ?Sized>(sheet: &Sheet, rng: &mut R) -> (Vec<f64>, Setup) {
    let z = sheet.draw(rng);
    let mut setup = sheet.setup_at(&z);
    // Made anew on both sides of the work, or the table alone would move the gain.
    setup.car.retabulate_knock();
    (z, setup)
}

/// The work with its numbers drawn, and those numbers standardised.
pub(in crate::ask) fn work<R: Rng + ?Sized>(
    plan: &Plan<Prior>,
    rng: &mut R,
) -> (Plan<f64>, Vec<f64>) {
    let mut z = Vec::new();
    let plan = plan.map(|_, _, prior| {
        let x = prior.sample(rng);
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

/// Multiplies the readings of a pull by a factor of engine speed. Where a power is not positive there is no ratio, and the reading stays too.
pub(in crate::ask) fn relevel(pull: &mut Pull, level: impl Fn(f64) -> f64) {
    for point in &mut pull.points {
        let factor = Some(level(point.rpm))
            .filter(|factor| factor.is_finite() && *factor > 0.0)
            .unwrap_or(1.0);
        point.power_w *= factor;
        point.torque_nm *= factor;
        point.crank_w *= factor;
    }
}

/// What brings a draw's pulls to the fitted curve: the ratio of the two where the car was measured, and outside those speeds that of the nearest
/// measured one, so that draws part where nobody measured. Less what the calibration's visit strayed.
/// Equation (8.6).
pub(in crate::ask) fn anchored<'p>(
    fitted: &'p Pull,
    drawn: &'p Pull,
    measured: Option<MeasuredSpeeds>,
    old_visit: f64,
) -> impl Fn(f64) -> f64 + 'p {
    move |rpm| {
        let at = measured.map_or(rpm, |measured| measured.nearest(rpm));
        let power = |pull: &Pull| pull.reading(at, |p| p.power_w);
        power(fitted) / power(drawn) * (-old_visit).exp()
    }
}

/// A pull with points enough to speak of peaks.
pub(in crate::ask) fn complete(pull: Result<Pull, PullError>) -> Option<Pull> {
    pull.ok().filter(|p| p.points.len() >= 4)
}
