//! The torque of a pull against that of the engine as the file describes it: a displacement that was typed wrong.
//!
//! Exists because a fit has numbers enough to hide two fifths of an engine's size in its overlap, knock and exhaust, and is then wrong about all of
//! them. What the file says of the car before any pull has a doubt; torque beyond it is that of an engine of another size. It refuses a car
//! that was fitted already, and a pull whose power, pressure or speed something nearer contradicts.

use super::{Candidate, Contradiction, Finding, Mistake, Question, Severity};
use crate::ask::draws;
use crate::car::Blower;
use crate::dyno::Setup;
use crate::fit::simulated::started;
use crate::numeric::{side_by_side, upper_median};
use crate::units;

/// Standard deviations beyond which torque is a finding: those that a sound car passes once in fifty, normal distribution. It only warns.
/// Equation (6.38).
const ODD: f64 = 2.33;
/// Least standard deviation of the logarithm of an engine's torque before a pull: of catalogued cars, described by more than their displacement,
/// half are met to 5.6 % (docs/validation.md, "Bare cars"), and half of a normal distribution lies within 0.674.
/// Equation (6.38).
const LEAST_SD: f64 = 0.056 / 0.674;
/// Cars drawn from the file's beliefs: their standard deviation is good to a tenth.
const DRAWS: u64 = 48;
/// Stream of their numbers: one question, one answer.
const SEED: u64 = 638;
/// Engine speeds at which they are pulled; the median over a pull needs no more.
const POINTS: usize = 20;
/// Distance of a mended manifold pressure from the described one, at most, over that of the logged one (no source).
const NEARER: f64 = 0.5;
/// Share of the pull's greatest power from which on its bands are looked at.
const BUSY: f64 = 0.5;

impl Question<'_> {
    /// Torque at the wheels over that of the engine as described, with the doubt of its file.
    ///
    /// ```text
    /// ln ρ = median over bands of ln[(P − P_el)/p_m] − the same of the described car,   sd from cars drawn from its beliefs
    /// ```
    ///
    /// `p_m` is the logged manifold pressure; an unblown engine without one is asked for its power alone. Source: derived; work of an engine at
    /// one manifold pressure goes with its displacement. Equation (6.38).
    pub(super) fn described(&self, nearer: &[Finding]) -> Option<Finding> {
        let of_another = |f: &Finding| {
            matches!(
                f.finding,
                Contradiction::EnergyOfTheDrum
                    | Contradiction::GearingOfTheLog
                    | Contradiction::EnergyThroughTheGearing
                    | Contradiction::ManifoldOfTheRoom
                    | Contradiction::MeanPressure
                    | Contradiction::RowsOfTheLog
                    | Contradiction::PowerOfTheForce
            )
        };
        if self.sheet.is_fitted() || nearer.iter().any(of_another) {
            return None;
        }
        let ln = self.over_described(&self.sheet.centre)?;
        if ln.abs() <= ODD * LEAST_SD {
            return None;
        }
        let of_draws = side_by_side(usize::try_from(DRAWS).ok()?, |number| {
            let mut rng = draws::stream(SEED, number as u64);
            self.over_described(&draws::car(self.sheet, &mut rng, None).1)
        });
        let drawn: Vec<f64> = of_draws.into_iter().flatten().collect();
        // Where hardly a car of the file can make the pull, its doubts tell no range.
        if drawn.len() < usize::try_from(DRAWS / 2).ok()? {
            return None;
        }
        let mean = drawn.iter().sum::<f64>() / drawn.len() as f64;
        let square = drawn.iter().map(|l| (l - mean).powi(2)).sum::<f64>();
        let sd = (square / (drawn.len() as f64 - 1.0)).sqrt().max(LEAST_SD);
        if ln.abs() <= ODD * sd {
            return None;
        }
        let bands = self.pull.curve.bands.iter();
        let strongest = bands.max_by(|a, b| a.power_w.total_cmp(&b.power_w))?;
        let blown = !matches!(self.sheet.centre.car.blower, Blower::None);
        let volume_m3 = self.sheet.centre.car.engine.geometry.displacement_m3() * ln.exp();
        let size = Candidate {
            mistake: Mistake::Displacement,
            value_that_would_agree: volume_m3,
        };
        let logged_pa = strongest.manifold_pa.filter(|_| blown);
        let candidates = logged_pa.map_or_else(
            || vec![size],
            |logged_pa| {
                let agrees = |pa: f64| (ln + (logged_pa / pa).ln()).abs() <= ODD * sd;
                self.pressures_or_size((logged_pa, strongest.rpm), agrees, volume_m3)
            },
        );
        Some(Finding {
            finding: Contradiction::TorqueOfTheEngine,
            ratio: ln.exp(),
            within: (ODD * sd).exp_m1(),
            candidates,
            severity: Severity::Warns,
        })
    }

    /// Mistakes in a logged manifold pressure that would agree, and the displacement that would. Behind a blower only those that come nearer to what the
    /// described car has there than the log does, the nearest first, and the displacement before all that do not come twice as near: an engine of
    /// another size has another boost too.
    pub(super) fn pressures_or_size(
        &self,
        (logged_pa, rpm): (f64, f64),
        agrees: impl Fn(f64) -> bool,
        volume_m3: f64,
    ) -> Vec<Candidate> {
        let room_pa = self.pull.day.station().pa();
        let boost_pa = logged_pa - room_pa;
        let mut meant = vec![
            (Mistake::GaugeForAbsolute, logged_pa + room_pa),
            (Mistake::AbsoluteForGauge, boost_pa),
        ];
        let mut nearer = meant.len();
        if let Some(described_pa) = self.described_pa(rpm) {
            let kpa_a_psi = units::PSI_PA / 1e3;
            meant.push((Mistake::BoostPsiAsKpa, room_pa + boost_pa * kpa_a_psi));
            meant.push((Mistake::BoostKpaAsPsi, room_pa + boost_pa / kpa_a_psi));
            let off = |pa: f64| (pa / described_pa).ln().abs();
            meant.retain(|&(_, pa)| pa > 0.0 && agrees(pa) && off(pa) < off(logged_pa));
            meant.sort_by(|a, b| off(a.1).total_cmp(&off(b.1)));
            nearer = meant.partition_point(|&(_, pa)| off(pa) < NEARER * off(logged_pa));
        } else {
            meant.retain(|&(_, pa)| pa > 0.0 && agrees(pa));
            nearer = nearer.min(meant.len());
        }
        meant.insert(nearer, (Mistake::Displacement, volume_m3));
        let candidate = |(mistake, value_that_would_agree)| Candidate {
            mistake,
            value_that_would_agree,
        };
        meant.into_iter().map(candidate).collect()
    }

    /// Manifold pressure of the described car at an engine speed, Pa, where a blower makes it.
    fn described_pa(&self, rpm: f64) -> Option<f64> {
        let setup = &self.sheet.centre;
        if matches!(setup.car.blower, Blower::None) {
            return None;
        }
        let conditions = started(setup, self.pull, None);
        let pull = setup.pull(&self.pull.day, &conditions, POINTS).ok()?;
        Some(pull.reading(rpm, |p| p.engine.manifold_pa))
    }

    /// The logarithm of that ratio for one car; nothing where it cannot make the pull or the log does not tell.
    fn over_described(&self, setup: &Setup) -> Option<f64> {
        let conditions = started(setup, self.pull, None);
        let pull = setup.pull(&self.pull.day, &conditions, POINTS).ok()?;
        let bands = &self.pull.curve.bands;
        let most_w = bands.iter().map(|b| b.power_w).fold(0.0, f64::max);
        let blown = !matches!(setup.car.blower, Blower::None);
        let pressure_known = bands
            .iter()
            .all(|b| b.manifold_pa.is_some_and(|pa| pa > 0.0));
        if blown && !pressure_known {
            return None;
        }
        let ratios = bands.iter().filter_map(|band| {
            let at = |of: fn(&crate::dyno::PullPoint) -> f64| pull.reading(band.rpm, of);
            let electric_w = at(|p| p.electric_w);
            let (seen_w, told_w) = (band.power_w - electric_w, at(|p| p.power_w) - electric_w);
            let pressure = band.manifold_pa.filter(|_| pressure_known);
            let by_pressure = pressure.map_or(1.0, |pa| at(|p| p.engine.manifold_pa) / pa);
            let ratio = seen_w / told_w * by_pressure;
            (band.power_w >= BUSY * most_w && ratio > 0.0).then(|| ratio.ln())
        });
        upper_median(ratios)
    }
}
