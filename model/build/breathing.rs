//! Throttle, headers, camshaft, cylinder head, bore and stroke as changes to a car: what lets an engine breathe.
//!
//! Every one is a factor or a difference to the part that is there, so an equal part changes nothing, and changes of
//! different parts stand side by side in any order. It refuses pipe lengths: tuning stays where the car's pulls put it.

use super::BuildError;
use crate::air::flow::{OrificeGas, Passage, Side, Throttle};
use crate::air::gas::PerfectGas;
use crate::car::Car;
use crate::engine::camshaft::{USUAL_LIFT_OVER_DIAMETER, mean_coefficient, overlap_growth};

/// A change to what the engine breathes through, with numbers of type `T` in SI.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Breathing<T> {
    /// Another throttle body.
    Throttle {
        /// Bore of the one there, m.
        bore_from_m: f64,
        /// Bore of the new one, m.
        bore_to_m: f64,
        /// Flow coefficient times the share of the bore that the shaft leaves open.
        discharge: T,
    },
    /// Tubular headers in place of the exhaust manifold.
    Headers {
        /// New over old flow area of primaries and collector.
        area_factor: T,
        /// Share of the back pressure that the old manifold causes.
        share: T,
        /// Fall of pressure behind the valve while it closes, Pa at the reference flow.
        scavenging_pa: T,
    },
    /// Another camshaft.
    Camshaft(Camshaft<T>),
    /// Work on the cylinder head.
    CylinderHead {
        /// New over old flow of the inlet at equal lift and pressure drop, on a flow bench.
        flow_factor: T,
        /// New head diameter of an inlet valve, if it changes, m.
        valve_diameter_m: Option<T>,
    },
    /// Another bore, stroke or both.
    BoreStroke {
        /// New bore, if it changes, m.
        bore_m: Option<T>,
        /// New stroke, if it changes, m.
        stroke_m: Option<T>,
        /// New connecting rod, if it changes, m.
        rod_m: Option<T>,
        /// New compression ratio, if it changes.
        compression_ratio: Option<T>,
    },
}

/// Another camshaft, told by its differences to the one there.
#[derive(Debug, Clone, PartialEq)]
pub struct Camshaft<T> {
    /// Longer inlet open period, deg.
    pub longer_deg: T,
    /// Later inlet closing, deg.
    pub later_deg: T,
    /// More overlap, deg.
    pub overlap_deg: T,
    /// Highest lift of the one there and of the new one, if it changes, m.
    pub lift_m: Option<(f64, T)>,
}

impl<T> Breathing<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> Breathing<U> {
        match self {
            Self::Throttle {
                bore_from_m,
                bore_to_m,
                discharge,
            } => Breathing::Throttle {
                bore_from_m: *bore_from_m,
                bore_to_m: *bore_to_m,
                discharge: convert("discharge", discharge),
            },
            Self::Headers {
                area_factor,
                share,
                scavenging_pa,
            } => Breathing::Headers {
                area_factor: convert("area_factor", area_factor),
                share: convert("share", share),
                scavenging_pa: convert("scavenging", scavenging_pa),
            },
            Self::Camshaft(cam) => Breathing::Camshaft(Camshaft {
                longer_deg: convert("duration_change", &cam.longer_deg),
                later_deg: convert("closing_change", &cam.later_deg),
                overlap_deg: convert("overlap_change", &cam.overlap_deg),
                lift_m: cam
                    .lift_m
                    .as_ref()
                    .map(|(from, to)| (*from, convert("lift_to", to))),
            }),
            Self::CylinderHead {
                flow_factor,
                valve_diameter_m,
            } => Breathing::CylinderHead {
                flow_factor: convert("flow_factor", flow_factor),
                valve_diameter_m: valve_diameter_m
                    .as_ref()
                    .map(|x| convert("inlet_valve_diameter", x)),
            },
            Self::BoreStroke {
                bore_m,
                stroke_m,
                rod_m,
                compression_ratio,
            } => Breathing::BoreStroke {
                bore_m: bore_m.as_ref().map(|x| convert("bore", x)),
                stroke_m: stroke_m.as_ref().map(|x| convert("stroke", x)),
                rod_m: rod_m.as_ref().map(|x| convert("rod_length", x)),
                compression_ratio: compression_ratio
                    .as_ref()
                    .map(|x| convert("compression_ratio", x)),
            },
        }
    }

    /// Place in the order in which parts are put together: what a later one is measured against comes first.
    pub(super) fn rank(&self) -> u8 {
        match self {
            Self::BoreStroke { .. } => 0,
            Self::CylinderHead { .. } => 1,
            Self::Headers { .. } => 5,
            _ => 3,
        }
    }
}

impl Breathing<f64> {
    /// Equations (11.2), (11.3) and (11.4).
    pub(super) fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        match self {
            Self::Throttle {
                bore_from_m,
                bore_to_m,
                discharge,
            } => {
                let flow = car.intake.reference_flow_kg_s;
                car.intake.throttle_relief_pa += throttle_drop_pa(*bore_from_m, *discharge, flow)
                    - throttle_drop_pa(*bore_to_m, *discharge, flow);
            }
            Self::Headers {
                area_factor,
                share,
                scavenging_pa,
            } => {
                if car.blower.turbo().is_some() {
                    return Err(BuildError::TurbineInBetween);
                }
                let saved = share * (1.0 - 1.0 / (area_factor * area_factor));
                car.exhaust.back_pressure_pa *= 1.0 - saved;
                car.exhaust.scavenging_pa = *scavenging_pa;
            }
            Self::Camshaft(cam) => cam.apply(car),
            Self::CylinderHead {
                flow_factor,
                valve_diameter_m,
            } => {
                let valves = &mut car.engine.valves;
                valves.mean_flow_coefficient *= flow_factor;
                if let Some(diameter) = valve_diameter_m {
                    // The cam stays: its lift is a smaller share of a larger head.
                    let shrunk = USUAL_LIFT_OVER_DIAMETER * valves.diameter_m / diameter;
                    valves.mean_flow_coefficient *=
                        mean_coefficient(shrunk) / mean_coefficient(USUAL_LIFT_OVER_DIAMETER);
                    valves.diameter_m = *diameter;
                }
            }
            Self::BoreStroke {
                bore_m,
                stroke_m,
                rod_m,
                compression_ratio,
            } => resize(car, *bore_m, *stroke_m, *rod_m, *compression_ratio)?,
        }
        Ok(())
    }
}

impl Camshaft<f64> {
    /// Equation (11.3).
    fn apply(&self, car: &mut Car) {
        let engine = &mut car.engine;
        let bore = engine.geometry.cylinder.bore_m;
        let lift_ratio = self.lift_m.map_or(1.0, |(from, to)| to / from);
        engine.overlap_deg_m *= overlap_growth(
            engine.overlap_deg_m,
            &engine.valves,
            bore,
            self.overlap_deg,
            lift_ratio,
        );
        engine.closing_later_deg += self.later_deg;
        let valves = &mut engine.valves;
        valves.open_duration_deg += self.longer_deg;
        if let Some((from, to)) = self.lift_m {
            let head = valves.diameter_m;
            valves.mean_flow_coefficient *=
                mean_coefficient(to / head) / mean_coefficient(from / head);
        }
    }
}

/// Drop across an open throttle at a flow of air at 100 kPa and 25 °C, Pa; all of the pressure where it is choked.
/// Equation (2.10).
fn throttle_drop_pa(bore_m: f64, discharge: f64, flow_kg_s: f64) -> f64 {
    let throttle = Throttle {
        bore_m,
        discharge,
        shut_angle_rad: 0.1,
    };
    let upstream = Side {
        pressure_pa: 100e3,
        temperature_k: 298.15,
    };
    let gas = OrificeGas::new(PerfectGas::AIR);
    match gas.passage(throttle.open_m2(), upstream, flow_kg_s) {
        Passage::Passes { downstream_pa } => upstream.pressure_pa - downstream_pa,
        Passage::Choked { .. } => upstream.pressure_pa,
    }
}

/// Shortest rod over stroke with which a crank turns clear of the piston; road engines have 1.4 to 2. Common practice, no
/// source.
/// Equation (11.4).
pub const SHORTEST_ROD: f64 = 1.1;

/// Another displacement: valves, ducts and the flows at which losses are stated stay what they are.
/// Equation (11.4).
fn resize(
    car: &mut Car,
    bore_m: Option<f64>,
    stroke_m: Option<f64>,
    rod_m: Option<f64>,
    compression_ratio: Option<f64>,
) -> Result<(), BuildError> {
    let cylinder = &mut car.engine.geometry.cylinder;
    let before = cylinder.swept_volume_m3();
    cylinder.bore_m = bore_m.unwrap_or(cylinder.bore_m);
    cylinder.stroke_m = stroke_m.unwrap_or(cylinder.stroke_m);
    cylinder.rod_m = rod_m.unwrap_or(cylinder.rod_m);
    cylinder.compression_ratio = compression_ratio.unwrap_or(cylinder.compression_ratio);
    // Area-time of the overlap stays, over another displacement.
    car.engine.overlap_deg_m *= before / cylinder.swept_volume_m3();
    if cylinder.rod_m < SHORTEST_ROD * cylinder.stroke_m {
        return Err(BuildError::ShortRod {
            rod_mm: 1e3 * cylinder.rod_m,
            stroke_mm: 1e3 * cylinder.stroke_m,
        });
    }
    Ok(())
}
