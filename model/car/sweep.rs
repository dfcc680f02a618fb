//! Where the search for an operating point starts: a guess, a neighbour, or the curve through the last points of a sweep.
//!
//! Exists because neighbouring points hardly differ: what is foreseen from a few of them, with the slope that their searches have
//! learned, needs two passes instead of a dozen. It refuses to decide when a point has settled.

use super::OperatingPoint;
use super::filling::AtSpeed;
use super::on_a_day::OnADay;
use crate::numeric::{Broyden, greatest};

/// Numbers that settle together: the flow and those carried.
pub(super) const UNKNOWNS: usize = 8;
/// Which of them is the shaft's speed.
pub(super) const WHEEL: usize = UNKNOWNS - 1;
/// Exhaust temperature that the first pass starts from, K; the answer does not depend on it.
pub(super) const FIRST_EXHAUST_K: f64 = 1200.0;
/// What a step of the carried numbers is measured in, K and Pa: of the size they have.
pub(super) const GAS_STEP_K: f64 = 1000.0;
const CHARGE_K: f64 = 300.0;
const PRESSURE_PA: f64 = 1e5;
const WHEEL_RAD_S: f64 = 1e4;
/// Furthest that a curve through points is followed, in distances between the last two, and most that those may grow.
const FURTHEST: f64 = 2.0;
/// Most that a belt loses.
const MOST_SLIP: f64 = 0.9;
/// Least share of the flow and of a temperature that a step leaves.
pub(super) const LEAST_LEFT: f64 = 0.3;

/// Numbers carried from one pass to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Carried {
    pub(super) exhaust_k: f64,
    pub(super) residual_k: f64,
    pub(super) manifold_k: f64,
    pub(super) slip: f64,
    /// Pressure before a turbine, Pa; without one the exhaust pressure follows from the flow at once.
    pub(super) turbine_pa: f64,
    /// Mixture that the fuel supply leaves; as asked for where it can follow.
    pub(super) lambda: f64,
    /// Shaft speed of turbochargers, rad/s; zero without them.
    pub(super) wheel_rad_s: f64,
}

impl Carried {
    /// Greatest relative change from others.
    pub(super) fn change(&self, from: &Self) -> f64 {
        let relative = |a: f64, b: f64| ((a - b) / b).abs();
        greatest([
            relative(self.exhaust_k, from.exhaust_k),
            relative(self.residual_k, from.residual_k),
            relative(self.manifold_k, from.manifold_k),
            (self.slip - from.slip).abs(),
            relative(self.turbine_pa, from.turbine_pa),
            relative(self.lambda, from.lambda),
            (self.wheel_rad_s - from.wheel_rad_s).abs() / WHEEL_RAD_S,
        ])
    }

    /// What these, found in a pass, are from those it began with, in the units of a step; the flow's own gap comes first.
    pub(super) fn gap(&self, from: &Self, flow_gap: f64) -> [f64; UNKNOWNS] {
        [
            flow_gap,
            (self.exhaust_k - from.exhaust_k) / GAS_STEP_K,
            (self.residual_k - from.residual_k) / GAS_STEP_K,
            (self.manifold_k - from.manifold_k) / CHARGE_K,
            self.slip - from.slip,
            (self.turbine_pa - from.turbine_pa) / PRESSURE_PA,
            self.lambda - from.lambda,
            (self.wheel_rad_s - from.wheel_rad_s) / WHEEL_RAD_S,
        ]
    }

    /// A share of the way from these to others.
    pub(super) fn toward(&self, other: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + share * (b - a);
        Self {
            exhaust_k: mix(self.exhaust_k, other.exhaust_k),
            residual_k: mix(self.residual_k, other.residual_k),
            manifold_k: mix(self.manifold_k, other.manifold_k),
            slip: mix(self.slip, other.slip),
            turbine_pa: mix(self.turbine_pa, other.turbine_pa),
            lambda: mix(self.lambda, other.lambda),
            wheel_rad_s: mix(self.wheel_rad_s, other.wheel_rad_s),
        }
    }
}

/// Where the search for a point ended: what the search at a neighbouring engine speed starts from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    pub(super) rpm: f64,
    pub(super) flow_kg_s: f64,
    /// Volume that the cylinders could swallow, m³/s: what is known at once at any speed, and takes its bends out of the flow.
    pub(super) volume_m3_s: f64,
    /// Where knock held the burn, deg.
    pub(super) knock_ca50_deg: f64,
    /// Mixture asked for there.
    pub(super) asked: f64,
    pub(super) carried: Carried,
}

impl Settled {
    /// A step on, the flow's relative.
    pub(super) fn advance(&mut self, step: &[f64; UNKNOWNS]) {
        let carried = &mut self.carried;
        let on = |value: &mut f64, by: f64| *value = (*value + by).max(LEAST_LEFT * *value);
        self.flow_kg_s *= 1.0 + step[0];
        on(&mut carried.exhaust_k, GAS_STEP_K * step[1]);
        on(&mut carried.residual_k, GAS_STEP_K * step[2]);
        on(&mut carried.manifold_k, CHARGE_K * step[3]);
        carried.slip = (carried.slip + step[4]).clamp(0.0, MOST_SLIP);
        on(&mut carried.turbine_pa, PRESSURE_PA * step[5]);
        on(&mut carried.lambda, step[6]);
        on(&mut carried.wheel_rad_s, WHEEL_RAD_S * step[WHEEL]);
    }

    /// The same with another volume to be swallowed: flow in proportion.
    #[must_use]
    pub(super) fn swallowing(&self, volume_m3_s: f64) -> Self {
        Self {
            flow_kg_s: self.flow_kg_s * volume_m3_s / self.volume_m3_s,
            volume_m3_s,
            ..*self
        }
    }

    fn with_mixture(&self, asked: f64) -> Self {
        // Exactly 1 where the supply follows.
        let leaner = self.carried.lambda / self.asked;
        let lambda = asked * leaner;
        Self {
            asked,
            carried: Carried {
                lambda,
                ..self.carried
            },
            ..*self
        }
    }
}

/// Points that a curve is drawn through.
const MOST_POINTS: usize = 5;

/// The last points of a sweep over engine speed, from which the next one is foreseen, and the slope that their searches learned.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sweep {
    /// The newest first.
    last: [Option<Settled>; MOST_POINTS],
    pub(super) slope: Broyden<UNKNOWNS>,
}

impl Sweep {
    /// A sweep that begins beside a point.
    pub fn after(point: &OperatingPoint) -> Self {
        let mut sweep = Self::default();
        sweep.go_on(&point.settled);
        sweep
    }

    /// Where the next search may start: on the polynomial through the last points, by Lagrange's formula, as far back as they were evenly
    /// ahead of each other; `None` at the very first. Its flow is still to be brought to the volume that is swallowed there.
    pub(super) fn foreseen(&self, rpm: f64, asked: f64) -> Option<Settled> {
        let last = self.last[0].as_ref()?;
        let mut ahead = rpm - last.rpm;
        let mut points = [last; MOST_POINTS];
        let mut known = 1;
        for pair in self.last.windows(2) {
            let [Some(newer), Some(older)] = pair else {
                break;
            };
            let step = newer.rpm - older.rpm;
            if !(ahead * step > 0.0 && ahead.abs() <= FURTHEST * step.abs()) {
                break;
            }
            points[known] = older;
            known += 1;
            ahead = step;
        }
        if known == 1 {
            let moved = last.with_mixture(asked);
            return Some(Settled { rpm, ..moved });
        }
        let points = &points[..known];
        let mut sum = last.times(0.0);
        for (i, point) in points.iter().enumerate() {
            let others = points.iter().enumerate().filter(|(j, _)| *j != i);
            let weight = others
                .map(|(_, other)| (rpm - other.rpm) / (point.rpm - other.rpm))
                .product();
            sum = sum.plus(&point.swallowing(1.0).times(weight));
        }
        Some(Settled {
            rpm,
            volume_m3_s: 1.0,
            knock_ca50_deg: last.knock_ca50_deg,
            ..sum.with_mixture(asked)
        })
    }

    /// Goes on to a point found; one at the speed of the last takes its place.
    pub(super) fn go_on(&mut self, settled: &Settled) {
        if self.last[0].is_none_or(|last| last.rpm != settled.rpm) {
            self.last.rotate_right(1);
        }
        self.last[0] = Some(*settled);
    }
}

impl Settled {
    /// Flow and carried numbers, each times a factor.
    fn times(&self, factor: f64) -> Self {
        let c = &self.carried;
        Self {
            flow_kg_s: factor * self.flow_kg_s,
            asked: factor * self.asked,
            carried: Carried {
                exhaust_k: factor * c.exhaust_k,
                residual_k: factor * c.residual_k,
                manifold_k: factor * c.manifold_k,
                slip: factor * c.slip,
                turbine_pa: factor * c.turbine_pa,
                lambda: factor * c.lambda,
                wheel_rad_s: factor * c.wheel_rad_s,
            },
            ..*self
        }
    }

    /// Flow and carried numbers of two, added.
    fn plus(&self, other: &Self) -> Self {
        let (a, b) = (&self.carried, &other.carried);
        Self {
            flow_kg_s: self.flow_kg_s + other.flow_kg_s,
            asked: self.asked + other.asked,
            carried: Carried {
                exhaust_k: a.exhaust_k + b.exhaust_k,
                residual_k: a.residual_k + b.residual_k,
                manifold_k: a.manifold_k + b.manifold_k,
                slip: a.slip + b.slip,
                turbine_pa: a.turbine_pa + b.turbine_pa,
                lambda: a.lambda + b.lambda,
                wheel_rad_s: a.wheel_rad_s + b.wheel_rad_s,
            },
            ..*self
        }
    }
}

impl OnADay<'_> {
    /// Where a search begins that has no neighbour.
    pub(super) fn guess(&self, speed: &AtSpeed) -> Settled {
        Settled {
            rpm: speed.rpm,
            flow_kg_s: 0.5 * self.car.intake.reference_flow_kg_s,
            volume_m3_s: 1.0,
            knock_ca50_deg: self.car.engine.phasing.mbt_ca50_deg,
            asked: speed.asked.lambda,
            carried: Carried {
                exhaust_k: FIRST_EXHAUST_K,
                residual_k: FIRST_EXHAUST_K,
                manifold_k: self.day.temperature_k(),
                slip: 0.0,
                turbine_pa: self.day.station().pa(),
                lambda: speed.asked.lambda,
                wheel_rad_s: 0.0,
            },
        }
    }
}
