//! The exhaust side: the pipe behind the engine, and with turbochargers the turbine before it.
//!
//! Exists apart from the balance because it asks nothing of the cylinders but gas and temperature. It also finds the shaft
//! speed at which a turbocharger settles, for whoever asks for a point outside a pull.

use super::delivery::Delivered;
use super::on_a_day::{OnADay, Slow};
use super::sweep::{Carried, Settled};
use crate::boost::turbocharger::CONTROL_S;
use crate::boost::{BoostControl, ExhaustStream, ShaftPoint, Turbocharger};
use crate::numeric::{Real, RootSettings, find_root};

/// Time in which the boost control corrects the shaft's speed, s.
pub const BOOST_CONTROL_S: f64 = CONTROL_S;

/// The gas behind the turbine keeps at least this share of its temperature; no turbine takes so much, so it is met only where
/// numbers contradict each other.
const COOLEST_SHARE: f64 = 0.6;
/// Rounds in which a settled boost control answers to the burn, and how near it comes, deg.
const MOST_ROUNDS: u32 = 20;
const CLOSE_DEG: f64 = 0.02;
/// Shaft speeds at which the search for the settled one looks first.
const SPEEDS: u32 = 24;

impl Slow {
    /// Whether the shaft's speed is to be found with the point.
    pub(super) fn comes_up(&self) -> bool {
        self.coming_up_s > 0.0
    }

    /// The same with the shaft at the speed that a search has reached.
    pub(super) fn at_wheel(self, carried: &Carried) -> Self {
        Self {
            wheel_rad_s: self.wheel_rad_s.map(|_| carried.wheel_rad_s),
            ..self
        }
    }

    /// The start of a search with the shaft's speed, where it is given, or where nothing is foreseen of it.
    pub(super) fn starting(&self, mut start: Settled) -> Settled {
        let wheel = &mut start.carried.wheel_rad_s;
        if !self.comes_up() || *wheel <= 0.0 {
            *wheel = self.wheel_rad_s.unwrap_or_default();
        }
        start
    }
}

impl OnADay<'_> {
    /// Pressure behind the exhaust valve, Pa: that before the turbine, or what the system alone asks for.
    #[inline(always)]
    pub(super) fn exhaust_pa<R: Real>(&self, flow_kg_s: R, exhaust_k: R, turbine_pa: R) -> R {
        if self.exhaust_gas.is_some() {
            turbine_pa
        } else {
            let ambient_pa = self.day.station().pa();
            self.exhaust.upstream_pa(flow_kg_s, exhaust_k, ambient_pa)
        }
    }

    /// Turbine, gate and shaft of the turbochargers at a flow of air and of everything that burns; `None` without them.
    /// Equation (5.12).
    pub(super) fn shaft(
        &self,
        rpm: f64,
        delivered: &Delivered,
        (exhaust_k, ca50_deg): (f64, f64),
        (flow_kg_s, fuel_kg_s): (f64, f64),
    ) -> Option<ShaftPoint> {
        let turbo = self.car.blower.turbo()?;
        let exhaust = self.exhaust_gas.as_ref()?;
        let (inlet, compressor) = delivered.turbo.as_ref()?;
        let ambient_pa = self.day.station().pa();
        let added_kg_s = delivered.added.inert_kg_s();
        let gas_kg_s = flow_kg_s + added_kg_s + fuel_kg_s;
        let taken_w = compressor.shaft_power_w / turbo.shaft_efficiency;
        let behind_k = (exhaust_k - taken_w / (gas_kg_s * exhaust.gas.cp_j_kg_k()))
            .max(COOLEST_SHARE * exhaust_k);
        let stream = ExhaustStream {
            flow_kg_s: gas_kg_s,
            temperature_k: exhaust_k,
            downstream_pa: self
                .exhaust
                .upstream_pa(flow_kg_s + added_kg_s, behind_k, ambient_pa),
            gas_constant_j_kg_k: exhaust.gas.gas_constant_j_kg_k,
            gamma: exhaust.gas.gamma,
            orifice: exhaust.orifice,
        };
        let wheel_rad_s = delivered.blower.speed_rad_s;
        let target_pa = turbo.control.target_pa(rpm, ambient_pa);
        let held_back_pa = BoostControl::held_back_pa(target_pa, ambient_pa, ca50_deg);
        let target = (target_pa, held_back_pa);
        Some(turbo.shaft(&stream, *inlet, compressor, wheel_rad_s, target))
    }

    /// The shaft at the speed where it settles when it comes up from below, unless its speed is given; what the boost control has
    /// heard of the burn is then what there is to hear.
    pub(super) fn with_settled_wheel(&self, rpm: f64, slow: Slow) -> Slow {
        if self.car.blower.turbo().is_none() || slow.wheel_rad_s.is_some() {
            return slow;
        }
        let mut settled = self.settled_for(rpm, slow);
        let mut before: Option<(f64, f64)> = None;
        for _ in 0..MOST_ROUNDS {
            let ca50_deg = self.at(rpm, settled, None).cylinder.ca50_deg;
            let missed_deg = ca50_deg - settled.control_ca50_deg;
            let idle = self.held_back_pa(rpm, ca50_deg.max(settled.control_ca50_deg)) == 0.0;
            if idle || missed_deg.abs() < CLOSE_DEG {
                break;
            }
            // What is taken out brings the burn forward by about as much as it was late, so half of what was missed comes near; from then on
            // the last two rounds say how much it does.
            let share = before.map_or(0.5, |(at_deg, missed_there_deg)| {
                let share = (settled.control_ca50_deg - at_deg) / (missed_there_deg - missed_deg);
                if share.is_finite() {
                    share.clamp(0.05, 1.0)
                } else {
                    0.5
                }
            });
            before = Some((settled.control_ca50_deg, missed_deg));
            let control_ca50_deg = settled.control_ca50_deg + share * missed_deg;
            settled = self.settled_for(
                rpm,
                Slow {
                    control_ca50_deg,
                    ..slow
                },
            );
        }
        settled
    }

    /// The settled shaft for what the control has heard.
    /// Equation (5.11).
    fn settled_for(&self, rpm: f64, slow: Slow) -> Slow {
        let Some(turbo) = self.car.blower.turbo() else {
            return slow;
        };
        let (low, high) = turbo.speed_range_rad_s();
        let gain = |speed: f64| {
            let given = Slow {
                wheel_rad_s: Some(speed),
                ..slow
            };
            let shaft = self.at(rpm, given, None).shaft;
            shaft.map_or(0.0, |s| s.wheel_rad_s2 / high)
        };
        let step = (high / low).powf(1.0 / f64::from(SPEEDS));
        let (mut below, mut above) = (low, low);
        while above < high && gain(above) > 0.0 {
            (below, above) = (above, above * step);
        }
        let settings = RootSettings::within(1e-9 * high);
        let root = find_root(gain, below, above.min(high), settings);
        Slow {
            wheel_rad_s: Some(root.x),
            ..slow
        }
    }

    /// Shaft speed after an implicit step at the acceleration found, rad/s, within what turbochargers are asked about.
    pub(super) fn wheel_rad_s(&self, slow: Slow, shaft: Option<&ShaftPoint>) -> f64 {
        let from = slow.wheel_rad_s.unwrap_or_default();
        match (shaft, self.wheel_range_rad_s()) {
            (Some(shaft), Some((low, high))) if slow.comes_up() => {
                (from + slow.coming_up_s * shaft.wheel_rad_s2).clamp(low, high)
            }
            _ => from,
        }
    }

    /// Boost taken out of what is asked for at a burn, Pa; nothing without turbochargers.
    fn held_back_pa(&self, rpm: f64, ca50_deg: f64) -> f64 {
        let ambient_pa = self.day.station().pa();
        self.car.blower.turbo().map_or(0.0, |turbo| {
            let target_pa = turbo.control.target_pa(rpm, ambient_pa);
            BoostControl::held_back_pa(target_pa, ambient_pa, ca50_deg)
        })
    }

    /// Slowest and fastest shaft that turbochargers are asked about, rad/s; `None` without them.
    pub fn wheel_range_rad_s(&self) -> Option<(f64, f64)> {
        self.car.blower.turbo().map(Turbocharger::speed_range_rad_s)
    }

    /// Shaft speed with which a pull begins, rad/s: the boost that a turbocharger has then, at the flow that goes with it.
    pub fn start_wheel_rad_s(&self, rpm: f64) -> Option<f64> {
        let turbo = self.car.blower.turbo()?;
        let ambient_pa = self.day.station().pa();
        let inlet = crate::boost::Inlet {
            pressure_pa: ambient_pa,
            temperature_k: self.day.temperature_k(),
            gas: self.gas,
        };
        let ratio = 1.0 + turbo.start_boost_pa.max(0.0) / ambient_pa;
        let swept_m3_s = self.car.engine.geometry.displacement_m3() * rpm / 120.0;
        let flow_kg_s = FIRST_FILLING * swept_m3_s * ratio * self.density_kg_m3;
        Some(turbo.speed_for(inlet, ratio, flow_kg_s))
    }
}

/// Filling of an engine at the start of a pull, for the turbocharger's first speed only (common practice, no source).
const FIRST_FILLING: f64 = 0.85;
