//! The way of the air to the manifold at a given flow: intake duct, blower with its belt, charge cooler, throttle behind them, manifold
//! walls.
//!
//! Exists apart from the balance because it asks nothing of the cylinders: at a flow, an engine speed and a belt slip,
//! each device hands its outlet to the next. It refuses to find the flow.

use super::limit::{Limit, Limits};
use super::on_a_day::{OnADay, Slow};
use super::{Added, Blower};
use crate::air::flow::{OrificeGas, Side};
use crate::boost::{BeltDrive, CentrifugalPoint, DisplacementLimit, Inlet, MapLimit};
use crate::cooling::charge_cooler::{ChargeStream, CoolerPoint};
use crate::numeric::Real;
use crate::units;

/// Blower at an operating point.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BlowerPoint {
    /// Shaft speed, rad/s; wheel speed for a centrifugal machine or a turbocharger.
    pub speed_rad_s: f64,
    /// Outlet over inlet pressure.
    pub pressure_ratio: f64,
    /// Temperature at the outlet, K.
    pub outlet_k: f64,
    /// Adiabatic efficiency.
    pub efficiency: f64,
    /// Power given to the air, W.
    pub gas_w: f64,
    /// Power at the blower shaft, W.
    pub shaft_w: f64,
    /// Power taken from the crank, W: belt, slip and gear included.
    pub crank_w: f64,
    /// Relative loss of speed in the belt.
    pub slip: f64,
}

/// What the devices ahead of the cylinders deliver at a flow.
#[derive(Debug, Clone, Copy)]
pub(super) struct Delivered {
    /// Pressure behind the intake duct, Pa.
    pub(super) inlet_pa: f64,
    /// Manifold pressure, Pa.
    pub(super) manifold_pa: f64,
    /// Manifold temperature, K.
    pub(super) manifold_k: f64,
    /// The blower; zeros without one.
    pub(super) blower: BlowerPoint,
    /// Inlet and compressor of the turbochargers, if any.
    pub(super) turbo: Option<(Inlet, CentrifugalPoint)>,
    /// The charge cooler, if any.
    pub(super) cooler: Option<CoolerPoint>,
    /// What blows out of a hole behind the cooler, kg/s, and its temperature, K.
    pub(super) leak: (f64, f64),
    /// What is sprayed into the flow.
    pub(super) added: Added,
    /// Limits met on the way.
    pub(super) limits: Limits,
}

impl BlowerPoint {
    /// What a wheel does to the air.
    fn of_wheel(point: &CentrifugalPoint) -> Self {
        Self {
            pressure_ratio: point.pressure_ratio,
            outlet_k: point.outlet_temperature_k,
            efficiency: point.efficiency,
            gas_w: point.gas_power_w,
            shaft_w: point.shaft_power_w,
            ..Self::default()
        }
    }
}

fn note_wheel_limits(point: &CentrifugalPoint, limits: &mut Limits) {
    for (limit, reached) in [
        (Limit::Surge, MapLimit::Surge),
        (Limit::Choke, MapLimit::BeyondChoke),
        (Limit::MapSpeed, MapLimit::BeyondSpeed),
        (Limit::MapEfficiency, MapLimit::EfficiencyFloor),
        (Limit::TipSpeed, MapLimit::TipSpeed),
    ] {
        limits.note(limit, point.limits.contains(reached));
    }
}

impl OnADay<'_> {
    /// Temperature of the air at the intake, K.
    pub(super) fn intake_k(&self) -> f64 {
        self.day.temperature_k() + self.car.defects.inlet_rise_k
    }

    /// What a hole lets out at a pressure behind it, kg/s.
    /// Equation (10.7).
    pub(super) fn leak_kg_s(&self, manifold_pa: f64, manifold_k: f64) -> f64 {
        let room_pa = self.day.station().pa();
        if self.car.defects.leak_m2 == 0.0 || manifold_pa <= room_pa {
            return 0.0;
        }
        let charge = Side {
            pressure_pa: manifold_pa,
            temperature_k: manifold_k,
        };
        OrificeGas::new(self.gas).flow_kg_s(self.car.defects.leak_m2, charge, room_pa)
    }

    /// Manifold state and everything on the way to it, at the engine's flow, what leaks before it, and a belt slip.
    pub(super) fn delivered(
        &self,
        rpm: f64,
        slow: Slow,
        slip: f64,
        (engine_kg_s, leak_kg_s): (f64, f64),
    ) -> Delivered {
        let car = self.car;
        let flow_kg_s = engine_kg_s + leak_kg_s;
        let (room_k, ambient_k) = (self.day.temperature_k(), self.intake_k());
        let room_pa = self.day.station().pa();
        let inlet_pa = car
            .intake
            .ahead_of_blower_pa(room_pa, self.density_kg_m3, flow_kg_s);
        let inlet = Inlet {
            pressure_pa: inlet_pa,
            temperature_k: ambient_k,
            gas: self.gas,
        };
        let mut limits = Limits::default();
        let turbo = self.compressed(slow, inlet, flow_kg_s, &mut limits);
        let blown = match &turbo {
            Some((_, point)) => {
                let speed_rad_s = slow.wheel_rad_s.unwrap_or_default();
                let blower = BlowerPoint {
                    speed_rad_s,
                    ..BlowerPoint::of_wheel(point)
                };
                Some((point.outlet_pressure_pa, blower))
            }
            None => self.blown(rpm, slip, inlet, flow_kg_s, &mut limits),
        };
        let (mut pressure_pa, mut temperature_k) = blown
            .map_or((inlet_pa, ambient_k), |(outlet_pa, blower)| {
                (outlet_pa, blower.outlet_k)
            });
        let cooler = car.cooler.as_ref().map(|cooler| {
            let stream = ChargeStream {
                flow_kg_s,
                temperature_k,
                pressure_pa,
                cp_j_kg_k: self.gas.cp_j_kg_k(),
            };
            cooler.at(stream, slow.core_k, room_k)
        });
        if let Some(point) = &cooler {
            limits.note(Limit::CoolerPressure, point.limit.is_some());
            (pressure_pa, temperature_k) = (point.outlet_pressure_pa, point.outlet_temperature_k);
        }
        // What holds the charge behind a hole has passed it already, and a throttle keeps its temperature.
        let charge_density = pressure_pa / (self.gas.gas_constant_j_kg_k * temperature_k);
        pressure_pa = car
            .intake
            .behind_blower_pa(pressure_pa, charge_density, engine_kg_s);
        let leak = (leak_kg_s, temperature_k);
        let added = self.added(rpm, engine_kg_s, pressure_pa, temperature_k);
        limits.note(Limit::SprayHeldBack, added.held_back);
        temperature_k -= added.cooling_k;
        Delivered {
            inlet_pa,
            manifold_pa: pressure_pa,
            manifold_k: self.manifold.port_k(temperature_k, engine_kg_s, 0.0),
            leak,
            added,
            blower: blown.map_or_else(BlowerPoint::default, |(_, blower)| blower),
            turbo,
            cooler,
            limits,
        }
    }

    /// Inlet and compressors of the turbochargers at the shaft speed given.
    fn compressed(
        &self,
        slow: Slow,
        inlet: Inlet,
        flow_kg_s: f64,
        limits: &mut Limits,
    ) -> Option<(Inlet, CentrifugalPoint)> {
        let (turbo, wheel_rad_s) = (self.car.blower.turbo()?, slow.wheel_rad_s?);
        let point = turbo.compress(inlet, wheel_rad_s, flow_kg_s);
        note_wheel_limits(&point, limits);
        Some((inlet, point))
    }

    /// Outlet pressure, Pa, and the rest of the blower's point; `None` without a blower on a belt.
    fn blown(
        &self,
        rpm: f64,
        slip: f64,
        inlet: Inlet,
        flow_kg_s: f64,
        limits: &mut Limits,
    ) -> Option<(f64, BlowerPoint)> {
        let drive = self.car.blower.drive()?;
        let crank_rad_s = units::rad_s(rpm);
        let speed_rad_s = crank_rad_s * drive.overall_ratio() * (1.0 - slip);
        let (outlet_pa, point) = match &self.car.blower {
            Blower::None | Blower::Turbo(_) => return None,
            Blower::Displacement { machine, .. } => {
                let point = machine.at_flow(inlet, speed_rad_s, flow_kg_s);
                for (limit, reached) in [
                    (Limit::BlowerSpeed, DisplacementLimit::Speed),
                    (Limit::BlowerBypass, DisplacementLimit::BypassOpen),
                    (Limit::BlowerChoked, DisplacementLimit::BypassChoked),
                ] {
                    limits.note(limit, point.limit == Some(reached));
                }
                let blower = BlowerPoint {
                    pressure_ratio: point.pressure_ratio,
                    outlet_k: point.outlet_temperature_k,
                    efficiency: point.adiabatic_efficiency,
                    gas_w: point.gas_power_w,
                    shaft_w: point.shaft_power_w,
                    ..BlowerPoint::default()
                };
                (point.outlet_pressure_pa, blower)
            }
            Blower::Centrifugal { machine, .. } => {
                let point = machine.at(inlet, speed_rad_s, flow_kg_s);
                note_wheel_limits(&point, limits);
                (point.outlet_pressure_pa, BlowerPoint::of_wheel(&point))
            }
        };
        let belt = drive.state(crank_rad_s, slip, point.shaft_w);
        limits.note(Limit::BeltSlip, belt.limit.is_some());
        let blower = BlowerPoint {
            speed_rad_s,
            crank_w: belt.crank_power_w,
            slip,
            ..point
        };
        Some((outlet_pa, blower))
    }

    /// Belt slip that follows from the blower's power.
    pub(super) fn slip(&self, rpm: f64, blower: &BlowerPoint) -> f64 {
        let Some(drive) = self.car.blower.drive() else {
            return 0.0;
        };
        self.slip_at(drive, rpm, (blower.slip, blower.shaft_w))
    }

    /// The same from the slip and the shaft's power that a pass began with.
    #[inline(always)]
    pub(super) fn slip_at<R: Real>(&self, drive: &BeltDrive, rpm: R, (slip, shaft_w): (R, R)) -> R {
        // The torque is taken to follow the speed, so power without slip is power with it over (1 − s)².
        let kept = slip.taken_from(1.0).at_least(0.05);
        let crank_rad_s = rpm * units::rad_s(1.0);
        let slipped = drive.slip_for_power(crank_rad_s, shaft_w / (kept * kept));
        let turning = slipped.taken_from(1.0) * self.car.defects.lost_drive.at(rpm).taken_from(1.0);
        turning.taken_from(1.0).at_most(0.9)
    }
}
