//! Operating points at all engine speeds of a pull at once, eight side by side.
//!
//! Exists because nothing that an engine without turbocharger, charge cooler or kit does at one speed acts on what it does at another: its points
//! may be searched for together, in the lanes of a vector unit. The equations are those of a single point, written for one number or
//! eight; a displacement blower is asked for its flow against a pressure, which moves far less than its pressure at a flow. The slip of a belt follows its power so
//! weakly that each pass may take that of the one before. A few speeds over the whole range come first, the others start between them. It refuses whatever couples speeds or needs a
//! search within the search, and a fuel supply that falls short: then points are found one by one.

use super::Blower;
use super::added::Added;
use super::balance::{Around, OperatingPoint, Pass, Path, USUAL_SLOPE};
use super::cylinder::{self, Burned, Feed};
use super::delivery::{BlowerPoint, Delivered};
use super::filling::{AtSpeed, Filling};
use super::limit::Limits;
use super::on_a_day::{OnADay, Slow};
use super::sweep::{Carried, GAS_STEP_K, LEAST_LEFT, Settled};
use crate::boost::{BeltDrive, Inlet};
use crate::numeric::{Broyden, LANES, Real, Vectors, on_this_machine};
use crate::units;

/// Flow, exhaust temperature, temperature behind the exhaust valve, and the pressure behind a blower.
const TOGETHER: usize = 4;
/// Weights of their gaps in what must stand still, as for a single point.
const WEIGHTS: [f64; TOGETHER] = [3.0, 0.1, 0.1, 1.0];
/// Weighted gap at which a point stands still: below that of a single one, since a lane stops at the first look that shows it, where the last step
/// of a single search is a long one.
const SETTLED: f64 = 2e-7;
/// Passes after which points are left to the search for single ones; the usual first ones take seven.
const MOST_PASSES: u32 = 16;
/// Longest step, relative.
const MOST_STEP: f64 = 0.3;
/// Points found through which a start is drawn.
const NEAREST: usize = 6;
/// Flow that a search begins with, over that of the volume swallowed at the density outside.
const FIRST_FLOW: f64 = 0.91;
/// The same of what a blower carries, with the slip of its belt, and the bounds of its first pressure ratio.
const FIRST_OF_CARRIED: f64 = 0.9;
const FIRST_RATIO: (f64, f64) = (1.1, 3.0);
const FIRST_SLIP: f64 = 0.005;
/// Gas temperatures that it begins with, K, in the exhaust system and behind the valve.
const FIRST_GAS_K: (f64, f64) = (1160.0, 1310.0);
/// Slope that it begins with: between those that searches of the demo's coupe end with.
const FIRST_SLOPE: [[f64; TOGETHER]; TOGETHER] = [
    [1.18, -0.05, 0.05, 0.0],
    [0.15, 0.97, 0.08, 0.0],
    [0.16, -0.03, 1.10, 0.0],
    [0.0, 0.0, 0.0, 1.0],
];
/// The same of a car with a displacement blower.
const FIRST_SLOPE_BLOWN: [[f64; TOGETHER]; TOGETHER] = [
    [0.84, 0.0, 0.0, -0.11],
    [0.15, 1.0, 0.0, 0.0],
    [0.15, 0.0, 1.0, 0.0],
    [1.12, 0.0, 0.0, 1.18],
];
/// How much leaner than asked a supply may leave the mixture before it counts: rounding.
const LEANER: f64 = 1e-12;

/// The engine speeds of a sweep.
struct Speeds<'a> {
    day: &'a OnADay<'a>,
    rpm: &'a [f64],
}

/// Where a search stands.
#[derive(Clone, Copy)]
struct At<R> {
    flow_kg_s: R,
    exhaust_k: R,
    residual_k: R,
    /// Pressure behind the blower, Pa; without one nobody asks.
    blown_pa: R,
    slip: R,
    knock_ca50_deg: R,
}

/// The charge behind the blower.
struct Charged<R> {
    pascal: R,
    kelvin: R,
    /// Slip of the belt that follows.
    slip: R,
    /// What the blower delivers, kg/s; without one the flow itself.
    delivered_kg_s: R,
}

/// What a look at it shows.
struct Look<R> {
    inlet_pa: R,
    slip: R,
    delivered_kg_s: R,
    manifold_pa: R,
    filling: Filling<R>,
    around: Around<R>,
    feed: Feed<R>,
    burned: Burned<R>,
}

/// A point found, as far as its neighbours start from it.
#[derive(Debug, Clone, Copy)]
struct Found {
    rpm: f64,
    flow_per_volume: f64,
    exhaust_k: f64,
    residual_k: f64,
    manifold_k: f64,
    blown_pa: f64,
    slip: f64,
    knock_ca50_deg: f64,
    slope: Broyden<TOGETHER>,
}

impl OnADay<'_> {
    /// Full-load operating points at engine speeds in rising order; `None` for a car whose points have to be found one by one, or where they
    /// do not settle.
    /// Equation (2.19).
    pub fn abreast(&self, rpm: &[f64]) -> Option<Vec<OperatingPoint>> {
        let car = self.car;
        let plain = matches!(car.blower, Blower::None | Blower::Displacement { .. })
            && car.cooler.is_none()
            && !car.adds()
            && car.defects.leak_m2 == 0.0;
        if !plain || rpm.is_empty() {
            return None;
        }
        on_this_machine(Speeds { day: self, rpm })
    }

    /// The blower at a flow and a pressure behind it.
    #[inline(always)]
    fn charged<R: Real>(&self, speed: &AtSpeed<R>, at: &At<R>, inlet_pa: R) -> Charged<R> {
        let nought = inlet_pa.of(0.0);
        let mut charged = Charged {
            pascal: inlet_pa,
            kelvin: nought.of(self.intake_k()),
            slip: nought,
            delivered_kg_s: at.flow_kg_s,
        };
        if let Blower::Displacement { machine, drive } = &self.car.blower {
            let inlet = Inlet {
                pressure_pa: inlet_pa,
                temperature_k: charged.kelvin,
                gas: self.gas,
            };
            let shaft_rad_s = shaft_rad_s(drive, speed, at.slip);
            let point = machine.against(inlet, shaft_rad_s, at.blown_pa);
            charged = Charged {
                pascal: at.blown_pa,
                kelvin: point.outlet_k,
                slip: self.slip_at(drive, speed.rpm, (at.slip, point.shaft_power_w)),
                delivered_kg_s: point.flow_kg_s,
            };
        }
        charged
    }

    /// The gas path and the burn at a flow.
    #[inline(always)]
    fn look<R: Real>(&self, speed: &AtSpeed<R>, at: &At<R>) -> Look<R> {
        let (intake, flow, none) = (&self.car.intake, at.flow_kg_s, Added::default());
        let room_pa = self.day.station().pa();
        let inlet_pa = intake.ahead_of_blower_pa(room_pa, self.density_kg_m3, flow);
        let charged = self.charged(speed, at, inlet_pa);
        let density = charged.pascal / (charged.kelvin * self.gas.gas_constant_j_kg_k);
        let manifold_pa = intake.behind_blower_pa(charged.pascal, density, flow);
        let manifold_k = self.manifold.port_k(charged.kelvin, flow, flow.of(0.0));
        let filling = self.filling(speed, manifold_k, speed.vapour_room);
        let lambda = speed.asked.lambda;
        let around = self.around_cylinders(
            &filling,
            (manifold_pa, manifold_k),
            &none,
            (at.exhaust_k, flow.of(room_pa)),
            (lambda, flow),
        );
        let feed = Feed {
            rpm: speed.rpm,
            lambda,
            air_kg_s: flow,
            manifold_pa,
            manifold_k,
            port_k: around.port_k,
            exhaust_pa: around.exhaust_pa,
            overlap_pa: around.overlap_pa,
            added: none,
            residual_k: at.residual_k,
            mach_index: filling.mach_index,
            late_cooling: speed.late_cooling,
            near_ca50_deg: at.knock_ca50_deg,
            asked: speed.asked,
        };
        let burned = cylinder::burn_as_asked(self, &feed);
        Look {
            inlet_pa,
            slip: charged.slip,
            delivered_kg_s: charged.delivered_kg_s,
            manifold_pa,
            filling,
            around,
            feed,
            burned,
        }
    }

    /// Settles flow and temperatures together, each lane for itself: one that stands still is left as it is. `None` where one does not.
    /// Equation (2.19).
    #[inline(always)]
    fn settle_abreast<R: Real>(
        &self,
        speed: &AtSpeed<R>,
        start: At<R>,
        slope: &mut Broyden<TOGETHER, R>,
    ) -> Option<(At<R>, Look<R>, R)> {
        let nought = speed.rpm.of(0.0);
        let per_pa = 1.0 / (USUAL_SLOPE * self.day.station().pa());
        let blown = !matches!(self.car.blower, Blower::None);
        let (mut at, mut passes) = (start, nought);
        let mut open = nought.below(speed.rpm);
        let mut last: Option<([R; TOGETHER], [R; TOGETHER])> = None;
        for _ in 0..MOST_PASSES {
            let look = self.look(speed, &at);
            passes = R::choose(open, passes + 1.0, passes);
            let heat = &look.burned.heat;
            let missing_pa = look.manifold_pa - look.around.needed_pa;
            let (flow_gap, blown_gap) = if blown {
                (
                    look.delivered_kg_s / at.flow_kg_s - 1.0,
                    -missing_pa / look.manifold_pa,
                )
            } else {
                (missing_pa * per_pa, nought)
            };
            let gap = [
                flow_gap,
                (heat.manifold_k - at.exhaust_k) * (1.0 / GAS_STEP_K),
                (heat.valve_k - at.residual_k) * (1.0 / GAS_STEP_K),
                blown_gap,
            ];
            if let Some((step, before)) = &last {
                slope.learn(step, before, &gap);
            }
            let change = (gap[0].abs() * WEIGHTS[0])
                .max(gap[1].abs() * WEIGHTS[1])
                .max(gap[2].abs() * WEIGHTS[2])
                .max(gap[3].abs() * WEIGHTS[3])
                .max((look.slip - at.slip).abs());
            // A gap that is no number stays open, and a maximum does not tell it.
            let known = (gap[0] + gap[1] + gap[2] + gap[3] + look.slip) * 0.0;
            let change = change + known;
            let settled = change.below(nought.of(SETTLED));
            open = R::without(open, settled);
            if !R::any(open) {
                return Some((at, look, passes));
            }
            let mut step = slope.step(&gap);
            for step in &mut step {
                *step = R::choose(open, step.within(-MOST_STEP, MOST_STEP), nought);
            }
            let on = |value: R, by: R| (value + by * GAS_STEP_K).max(value * LEAST_LEFT);
            at = At {
                flow_kg_s: at.flow_kg_s * (step[0] + 1.0),
                exhaust_k: on(at.exhaust_k, step[1]),
                residual_k: on(at.residual_k, step[2]),
                blown_pa: at.blown_pa * (step[3] + 1.0),
                slip: R::choose(open, look.slip, at.slip),
                knock_ca50_deg: R::choose(open, look.burned.knock_ca50_deg, at.knock_ca50_deg),
            };
            last = Some((step, gap));
        }
        None
    }

    /// Where the search begins that has no neighbours.
    #[inline(always)]
    fn guess_abreast<R: Real>(&self, speed: &AtSpeed<R>) -> At<R> {
        let intake_k = speed.rpm.of(self.intake_k());
        let filling = self.filling(speed, intake_k, speed.vapour_room);
        let room_pa = speed.rpm.of(self.day.station().pa());
        let unblown_kg_s = filling.volume_m3_s * (FIRST_FLOW * self.density_kg_m3);
        let flow_kg_s = match &self.car.blower {
            Blower::Displacement { machine, drive } => {
                let inlet = Inlet {
                    pressure_pa: room_pa,
                    temperature_k: intake_k,
                    gas: self.gas,
                };
                let shaft_rad_s = shaft_rad_s(drive, speed, speed.rpm.of(FIRST_SLIP));
                machine.carried_kg_s(inlet, shaft_rad_s) * FIRST_OF_CARRIED
            }
            _ => unblown_kg_s,
        };
        let ratio = (flow_kg_s / unblown_kg_s).within(FIRST_RATIO.0, FIRST_RATIO.1);
        At {
            flow_kg_s,
            exhaust_k: speed.rpm.of(FIRST_GAS_K.0),
            residual_k: speed.rpm.of(FIRST_GAS_K.1),
            blown_pa: room_pa * ratio,
            slip: speed.rpm.of(FIRST_SLIP),
            knock_ca50_deg: speed.rpm.of(self.car.engine.phasing.mbt_ca50_deg),
        }
    }

    /// Where it begins between points found.
    #[inline(always)]
    fn start_abreast<R: Real>(
        &self,
        speed: &AtSpeed<R>,
        found: &[Found],
    ) -> (At<R>, Broyden<TOGETHER, R>) {
        let mut starts = [found[0]; LANES];
        for (k, start) in starts.iter_mut().enumerate().take(R::COUNT) {
            *start = between(found, speed.rpm.one(k));
        }
        let each = |of: fn(&Found) -> f64| speed.rpm.made(|k| of(&starts[k]));
        let filling = self.filling(speed, each(|s| s.manifold_k), speed.vapour_room);
        let at = At {
            flow_kg_s: each(|s| s.flow_per_volume) * filling.volume_m3_s,
            exhaust_k: each(|s| s.exhaust_k),
            residual_k: each(|s| s.residual_k),
            blown_pa: each(|s| s.blown_pa),
            slip: each(|s| s.slip),
            knock_ca50_deg: each(|s| s.knock_ca50_deg),
        };
        let slopes: [&Broyden<TOGETHER>; LANES] = std::array::from_fn(|k| &starts[k].slope);
        (at, Broyden::gathered(speed.rpm, &slopes))
    }

    /// One of the points settled; `None` where the fuel supply does not follow, or a blower carries less than the engine swallows.
    fn one_of<R: Real>(
        &self,
        (at, look, passes): &(At<R>, Look<R>, R),
        k: usize,
    ) -> Option<OperatingPoint> {
        let feed = look.feed.one(k);
        let fed = self.fed(feed.rpm, feed.air_kg_s, feed.manifold_pa, &feed.added);
        let blown = !matches!(self.car.blower, Blower::None);
        let overrun = blown && at.blown_pa.one(k) < look.inlet_pa.one(k);
        if fed.lambda > feed.lambda * (1.0 + LEANER) || overrun {
            return None;
        }
        let slip = at.slip.one(k);
        let burned = look.burned.one(k);
        let filling = Filling {
            rpm: feed.rpm,
            swept_m3_s: look.filling.swept_m3_s.one(k),
            volume_m3_s: look.filling.volume_m3_s.one(k),
            mach_index: feed.mach_index,
            choking_index: look.filling.choking_index,
        };
        let carried = Carried {
            exhaust_k: at.exhaust_k.one(k),
            residual_k: feed.residual_k,
            manifold_k: feed.manifold_k,
            slip,
            turbine_pa: self.day.station().pa(),
            lambda: feed.lambda,
            wheel_rad_s: 0.0,
        };
        let settled = Settled {
            rpm: feed.rpm,
            flow_kg_s: feed.air_kg_s,
            volume_m3_s: filling.volume_m3_s,
            knock_ca50_deg: burned.knock_ca50_deg,
            asked: feed.lambda,
            carried,
        };
        let unblown = matches!(self.car.blower, Blower::None);
        let delivered = if unblown {
            Delivered {
                inlet_pa: look.inlet_pa.one(k),
                manifold_pa: feed.manifold_pa,
                manifold_k: feed.manifold_k,
                blower: BlowerPoint::default(),
                turbo: None,
                cooler: None,
                leak: (0.0, self.intake_k()),
                added: feed.added,
                limits: Limits::default(),
            }
        } else {
            // What a blower is asked for besides, once for each point.
            let slow = Slow::settled(self.day.temperature_k());
            self.delivered(feed.rpm, slow, slip, (feed.air_kg_s, 0.0))
        };
        let path = Path {
            delivered,
            around: Around {
                exhaust_pa: feed.exhaust_pa,
                overlap_pa: feed.overlap_pa,
                port_k: feed.port_k,
                needed_pa: look.around.needed_pa.one(k),
            },
        };
        let pass = Pass {
            feed,
            burned,
            shaft: None,
            fed,
            found: carried,
        };
        let mut point = self.finish(&settled, &filling, &path, &pass);
        point.passes = whole(passes.one(k));
        Some(point)
    }
}

impl Vectors for Speeds<'_> {
    type Output = Option<Vec<OperatingPoint>>;

    #[inline(always)]
    fn run<R: Real>(self, like: R) -> Self::Output {
        let Self { day, rpm } = self;
        let unblown = matches!(day.car.blower, Blower::None);
        let first_slope = if unblown {
            &FIRST_SLOPE
        } else {
            &FIRST_SLOPE_BLOWN
        };
        let mut groups = Vec::with_capacity(rpm.len().div_ceil(R::COUNT));
        // Where each point is: its group, and its place in that.
        let mut places = vec![None; rpm.len()];
        let mut found: Vec<Found> = Vec::with_capacity(rpm.len());
        let mut left: Vec<usize> = (0..rpm.len()).collect();
        while !left.is_empty() {
            let group = spread::<LANES>(&left);
            let speed = day.at_speed(like.made(|k| rpm[group[k]]));
            let (start, mut slope) = if found.is_empty() {
                let slope = Broyden::known(like, first_slope);
                (day.guess_abreast(&speed), slope)
            } else {
                day.start_abreast(&speed, &found)
            };
            let settled = day.settle_abreast(&speed, start, &mut slope)?;
            for (k, index) in group.iter().enumerate().take(R::COUNT) {
                if places[*index].is_none() {
                    places[*index] = Some((groups.len(), k));
                    let place = found.partition_point(|f| f.rpm < rpm[*index]);
                    found.insert(place, Found::of(&settled, slope.one(k), k));
                }
            }
            groups.push(settled);
            left.retain(|index| places[*index].is_none());
        }
        let mut points = Vec::with_capacity(rpm.len());
        for place in places {
            let (group, k) = place?;
            points.push(day.one_of(&groups[group], k)?);
        }
        Some(points)
    }
}

impl Found {
    #[inline(always)]
    fn of<R: Real>(
        (at, look, _): &(At<R>, Look<R>, R),
        slope: Broyden<TOGETHER>,
        k: usize,
    ) -> Self {
        Self {
            rpm: look.feed.rpm.one(k),
            flow_per_volume: at.flow_kg_s.one(k) / look.filling.volume_m3_s.one(k),
            exhaust_k: at.exhaust_k.one(k),
            residual_k: at.residual_k.one(k),
            manifold_k: look.feed.manifold_k.one(k),
            blown_pa: at.blown_pa.one(k),
            slip: at.slip.one(k),
            knock_ca50_deg: look.burned.knock_ca50_deg.one(k),
            slope,
        }
    }
}

/// Speed of a blower's shaft, rad/s.
#[inline(always)]
fn shaft_rad_s<R: Real>(drive: &BeltDrive, speed: &AtSpeed<R>, slip: R) -> R {
    speed.rpm * units::rad_s(drive.overall_ratio()) * slip.taken_from(1.0)
}

/// Some of what is left, evenly spread; the last again and again where there are fewer.
fn spread<const N: usize>(left: &[usize]) -> [usize; N] {
    let last = left.len() - 1;
    std::array::from_fn(|k| {
        if left.len() <= N {
            left[k.min(last)]
        } else {
            left[(k * last + (N - 1) / 2) / (N - 1)]
        }
    })
}

/// On the polynomial through the nearest points found, by Lagrange's formula; they stand in order of engine speed.
fn between(found: &[Found], rpm: f64) -> Found {
    let count = found.len().min(NEAREST);
    let above = found.partition_point(|f| f.rpm < rpm);
    let first = above.saturating_sub(count / 2).min(found.len() - count);
    let nodes = &found[first..first + count];
    let nearest = match (found.get(above), found[..above].last()) {
        (Some(next), Some(last)) if next.rpm - rpm > rpm - last.rpm => last,
        (Some(next), _) => next,
        (None, _) => &found[found.len() - 1],
    };
    let mut sum = Found {
        rpm,
        flow_per_volume: 0.0,
        exhaust_k: 0.0,
        residual_k: 0.0,
        manifold_k: 0.0,
        blown_pa: 0.0,
        slip: 0.0,
        ..*nearest
    };
    for (i, node) in nodes.iter().enumerate() {
        let (mut above, mut below) = (1.0, 1.0);
        for (j, other) in nodes.iter().enumerate() {
            if i != j {
                above *= rpm - other.rpm;
                below *= node.rpm - other.rpm;
            }
        }
        let weight = above / below;
        sum.flow_per_volume += weight * node.flow_per_volume;
        sum.exhaust_k += weight * node.exhaust_k;
        sum.residual_k += weight * node.residual_k;
        sum.manifold_k += weight * node.manifold_k;
        sum.blown_pa += weight * node.blown_pa;
        sum.slip += weight * node.slip;
    }
    sum
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a count of passes, at most sixteen"
)]
fn whole(count: f64) -> u32 {
    count as u32
}

#[cfg(test)]
impl OnADay<'_> {
    /// What each vector unit of this machine finds.
    pub(crate) fn abreast_on_each_unit(&self, rpm: &[f64]) -> Vec<Option<Vec<OperatingPoint>>> {
        crate::numeric::on_each_unit(|| Speeds { day: self, rpm })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn those_left_are_taken_evenly_and_all_of_them() {
        let left: Vec<usize> = (10..30).collect();
        assert_eq!(spread::<4>(&left), [10, 16, 23, 29]);
        assert_eq!(spread::<4>(&[5, 6]), [5, 6, 6, 6]);
    }
}
