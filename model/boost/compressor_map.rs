//! Performance map of a centrifugal compressor, read at any speed, inlet state and flow.
//!
//! Exists because maps come as scattered points on some reference day, while the operating point needs a pressure ratio
//! that is smooth, falls with flow and is defined everywhere, with a word when it is read outside what was measured.
//! The map keeps its own reference conditions: maps differ in them, and assuming one is worth several percent of flow.
//! It refuses to extrapolate silently.

use super::speed_line::{HEAD_POWER, SpeedLine};
use crate::air::gas::PerfectGas;
use crate::numeric::MonotoneCubic;

/// Relative standard deviation of flow of a map drawn from one rated point (common practice, no source).
pub const SPARSE_FLOW_DOUBT: f64 = 0.08;
/// Relative standard deviation of pressure ratio of a map drawn from one rated point (common practice, no source).
pub const SPARSE_PRESSURE_RATIO_DOUBT: f64 = 0.04;
/// Lowest efficiency ever returned.
pub const EFFICIENCY_FLOOR: f64 = 0.2;

/// Inlet state to which the corrected quantities of a map refer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapReference {
    /// Total pressure, Pa.
    pub pressure_pa: f64,
    /// Total temperature, K.
    pub temperature_k: f64,
}

impl MapReference {
    /// Corrected flow, kg/s: `W_c = W √(T₁/T_ref)/(p₁/p_ref)`. Source: NASA Glenn, corrected airflow.
    /// Equation (5.3).
    pub fn corrected_flow_kg_s(self, flow_kg_s: f64, inlet_pa: f64, inlet_k: f64) -> f64 {
        flow_kg_s * (inlet_k / self.temperature_k).sqrt() * self.pressure_pa / inlet_pa
    }

    /// Corrected speed, in the unit of the speed given: `N_c = N/√(T₁/T_ref)`.
    /// Equation (5.3).
    pub fn corrected_speed_rad_s(self, speed_rad_s: f64, inlet_k: f64) -> f64 {
        speed_rad_s / (inlet_k / self.temperature_k).sqrt()
    }
}

/// One measured point, already corrected to the map's reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapPoint {
    /// Corrected shaft speed, rad/s.
    pub speed_rad_s: f64,
    /// Corrected mass flow, kg/s.
    pub flow_kg_s: f64,
    /// Total-to-total pressure ratio.
    pub pressure_ratio: f64,
    /// Isentropic efficiency.
    pub efficiency: f64,
}

/// Why points do not make a map.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MapError {
    /// No point at all.
    #[error("the compressor map has no points")]
    Empty,
    /// A number that is not finite, not positive or out of its possible range.
    #[error("compressor map point {index}: {quantity} {value} is out of range")]
    Point {
        /// Position in the list given.
        index: usize,
        /// What is wrong with it.
        quantity: &'static str,
        /// The value.
        value: f64,
    },
    /// A speed line needs three points.
    #[error("the speed line at {speed_rad_s:.0} rad/s has {count} points; three are needed")]
    TooFewPoints {
        /// Speed of the line, rad/s.
        speed_rad_s: f64,
        /// Points found.
        count: usize,
    },
    /// Reference state or wheel diameter not positive.
    #[error("the map's {quantity} {value} must be positive")]
    Reference {
        /// Which.
        quantity: &'static str,
        /// The value.
        value: f64,
    },
}

/// A way in which a reading lies outside the map, or on its edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MapLimit {
    /// Less flow than the lowest measured: the line is held flat, the machine would surge.
    Surge,
    /// On the steep continuation past the measured flow.
    BeyondChoke,
    /// Faster than the fastest line: similarity law.
    BeyondSpeed,
    /// Efficiency held at its floor.
    EfficiencyFloor,
    /// Wheel rim faster than the material allows.
    TipSpeed,
}

impl MapLimit {
    const ALL: [Self; 5] = [
        Self::Surge,
        Self::BeyondChoke,
        Self::BeyondSpeed,
        Self::EfficiencyFloor,
        Self::TipSpeed,
    ];

    fn bit(self) -> u8 {
        1 << self as u8
    }
}

/// Set of limits met at one reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct MapLimits(u8);

impl MapLimits {
    /// The set with one more limit, if it was met.
    #[must_use]
    pub fn with(self, limit: MapLimit, met: bool) -> Self {
        if met {
            Self(self.0 | limit.bit())
        } else {
            self
        }
    }

    /// Whether a limit is in the set.
    pub fn contains(self, limit: MapLimit) -> bool {
        self.0 & limit.bit() != 0
    }

    /// Whether nothing was met.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The limits met.
    pub fn iter(self) -> impl Iterator<Item = MapLimit> {
        MapLimit::ALL.into_iter().filter(move |l| self.contains(*l))
    }
}

/// What the map says at a speed, inlet state and flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapReading {
    /// Total-to-total pressure ratio; below 1 on the far side of choke.
    pub pressure_ratio: f64,
    /// Isentropic efficiency, never below [`EFFICIENCY_FLOOR`].
    pub efficiency: f64,
    /// Outlet over inlet temperature.
    pub temperature_ratio: f64,
    /// Limits met.
    pub limits: MapLimits,
}

/// A compressor map ready to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct CompressorMap {
    lines: MonotoneCubic<8>,
    reference: MapReference,
    wheel_diameter_m: f64,
}

impl CompressorMap {
    /// A map from measured points; points whose speeds agree within 1 % form a line.
    pub fn from_points(
        points: &[MapPoint],
        reference: MapReference,
        wheel_diameter_m: f64,
    ) -> Result<Self, MapError> {
        check_reference(reference, wheel_diameter_m)?;
        for (index, p) in points.iter().enumerate() {
            let fault = |quantity, value| {
                Err(MapError::Point {
                    index,
                    quantity,
                    value,
                })
            };
            if !(p.speed_rad_s > 0.0 && p.speed_rad_s.is_finite()) {
                return fault("speed", p.speed_rad_s);
            }
            if !(p.flow_kg_s > 0.0 && p.flow_kg_s.is_finite()) {
                return fault("flow", p.flow_kg_s);
            }
            if !(0.5..20.0).contains(&p.pressure_ratio) {
                return fault("pressure ratio", p.pressure_ratio);
            }
            if !(0.0..1.0).contains(&p.efficiency) {
                return fault("efficiency", p.efficiency);
            }
        }
        let mut sorted = points.to_vec();
        sorted.sort_by(|a, b| a.speed_rad_s.total_cmp(&b.speed_rad_s));
        let mut knots = Vec::new();
        for line in sorted.chunk_by(|a, b| b.speed_rad_s < 1.01 * a.speed_rad_s) {
            let n = line.iter().map(|p| p.speed_rad_s).sum::<f64>() / line.len() as f64;
            if line.len() < 3 {
                return Err(MapError::TooFewPoints {
                    speed_rad_s: n,
                    count: line.len(),
                });
            }
            let head = |p: &MapPoint| p.pressure_ratio.powf(1.0 / HEAD_POWER) - 1.0;
            let reduced: Vec<_> = line
                .iter()
                .map(|p| (p.flow_kg_s / n, head(p) / (n * n), p.efficiency))
                .collect();
            knots.push((n, SpeedLine::fit(&reduced).to_array()));
        }
        if knots.is_empty() {
            return Err(MapError::Empty);
        }
        Ok(Self {
            lines: MonotoneCubic::new(&knots),
            reference,
            wheel_diameter_m,
        })
    }

    /// A map drawn from one rated point, taken to be the best point of its line.
    ///
    /// Shape from what radial stages have in common: best point at 68 % of choke flow and 90 % of the line's top head,
    /// head proportional to speed squared, choke flow a little less than proportional to speed, lines squarer and
    /// efficiency 0.03 lower per 0.2 of machine Mach number above 1.2 (common practice, no source). Doubt:
    /// [`SPARSE_FLOW_DOUBT`], [`SPARSE_PRESSURE_RATIO_DOUBT`].
    pub fn from_rated_point(
        rated: MapPoint,
        reference: MapReference,
        wheel_diameter_m: f64,
    ) -> Result<Self, MapError> {
        const BEST_FLOW: f64 = 0.68;
        const LINES: u32 = 9;
        check_reference(reference, wheel_diameter_m)?;
        let fault = |quantity, value| {
            Err(MapError::Point {
                index: 0,
                quantity,
                value,
            })
        };
        if !(rated.speed_rad_s > 0.0 && rated.speed_rad_s.is_finite()) {
            return fault("speed", rated.speed_rad_s);
        }
        if !(rated.flow_kg_s > 0.0 && rated.flow_kg_s.is_finite()) {
            return fault("flow", rated.flow_kg_s);
        }
        if !(rated.pressure_ratio > 1.0 && rated.pressure_ratio < 20.0) {
            return fault("pressure ratio", rated.pressure_ratio);
        }
        if !(0.3..0.9).contains(&rated.efficiency) {
            return fault("efficiency", rated.efficiency);
        }
        let sound = PerfectGas::AIR.sound_m_s(reference.temperature_k);
        let rated_mach = 0.5 * wheel_diameter_m * rated.speed_rad_s / sound;
        let line_at = |mach: f64| {
            let exponent = (1.9 + 0.5 * mach).clamp(1.9, 3.2);
            let choke_flow = rated.flow_kg_s / (BEST_FLOW * rated.speed_rad_s)
                * (1.06 - 0.06 * mach / rated_mach);
            let fall = |m: f64| 0.15 * (m - 1.2).max(0.0);
            SpeedLine {
                head: 1.0,
                top_flow: 0.38 * choke_flow,
                choke_flow,
                exponent,
                surge_flow: (0.26 + 0.10 * mach).min(0.5) * choke_flow,
                efficiency: rated.efficiency + fall(rated_mach) - fall(mach),
                efficiency_flow: BEST_FLOW * choke_flow,
                efficiency_fall: 0.7,
            }
        };
        let rated_head =
            (rated.pressure_ratio.powf(1.0 / HEAD_POWER) - 1.0) / rated.speed_rad_s.powi(2);
        let top = rated_head
            / line_at(rated_mach)
                .head_at(rated.flow_kg_s / rated.speed_rad_s)
                .for_pressure;
        let knots: Vec<_> = (0..LINES)
            .map(|k| {
                // 0.3 to 1.1 of the rated speed; the ninth is the rated line's neighbour above, the eighth is exact.
                let fraction = 0.3 + 0.1 * f64::from(k);
                let line = SpeedLine {
                    head: top,
                    ..line_at(fraction * rated_mach)
                };
                (fraction * rated.speed_rad_s, line.to_array())
            })
            .collect();
        Ok(Self {
            lines: MonotoneCubic::new(&knots),
            reference,
            wheel_diameter_m,
        })
    }

    /// The map's reference state.
    pub fn reference(&self) -> MapReference {
        self.reference
    }

    /// Wheel diameter the map was measured with, m.
    pub fn wheel_diameter_m(&self) -> f64 {
        self.wheel_diameter_m
    }

    /// Pressure ratio and efficiency at a speed, inlet state and flow.
    ///
    /// The pressure ratio falls strictly with flow at every speed. Constant line shapes beyond the fastest and slowest
    /// line mean head ∝ U² and flow ∝ U.
    /// Equation (5.3).
    pub fn at(&self, speed_rad_s: f64, inlet_pa: f64, inlet_k: f64, flow_kg_s: f64) -> MapReading {
        let n = self.reference.corrected_speed_rad_s(speed_rad_s, inlet_k);
        let flow = self
            .reference
            .corrected_flow_kg_s(flow_kg_s, inlet_pa, inlet_k)
            / n;
        let line = SpeedLine::from_array(self.lines.at(n));
        let head = line.head_at(flow);
        let raw = line.efficiency_at(flow);
        let efficiency = soft_floor(raw, EFFICIENCY_FLOOR, 0.1);
        let limits = MapLimits::default()
            .with(MapLimit::Surge, flow < line.surge_flow)
            .with(MapLimit::BeyondChoke, head.choked)
            .with(MapLimit::BeyondSpeed, n > self.lines.last() * (1.0 + 1e-9))
            .with(MapLimit::EfficiencyFloor, raw < EFFICIENCY_FLOOR);
        let base = soft_floor(1.0 + head.for_pressure * n * n, 0.0, 0.5);
        MapReading {
            // base^3.5, HEAD_POWER written out.
            pressure_ratio: base * base * base * base.sqrt(),
            efficiency,
            temperature_ratio: 1.0 + head.for_work * n * n / efficiency,
            limits,
        }
    }
}

/// `value` above `floor + blend`, approaching `floor` from above below it, with a continuous slope.
fn soft_floor(value: f64, floor: f64, blend: f64) -> f64 {
    let above = value - floor - blend;
    if above >= 0.0 {
        value
    } else {
        floor + blend * (above / blend).exp()
    }
}

fn check_reference(reference: MapReference, wheel_diameter_m: f64) -> Result<(), MapError> {
    for (quantity, value) in [
        ("reference pressure", reference.pressure_pa),
        ("reference temperature", reference.temperature_k),
        ("wheel diameter", wheel_diameter_m),
    ] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(MapError::Reference { quantity, value });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const REFERENCE: MapReference = MapReference {
        pressure_pa: 1e5,
        temperature_k: 298.15,
    };
    const RATED: MapPoint = MapPoint {
        speed_rad_s: 5000.0,
        flow_kg_s: 0.55,
        pressure_ratio: 1.9,
        efficiency: 0.74,
    };

    #[test]
    fn the_sparse_map_reproduces_its_rated_point() {
        let map = CompressorMap::from_rated_point(RATED, REFERENCE, 0.13).expect("a valid point");
        let r = map.at(5000.0, 1e5, 298.15, 0.55);
        assert!(
            (r.pressure_ratio - 1.9).abs() < 1e-12 && (r.efficiency - 0.74).abs() < 1e-12,
            "{r:?}"
        );
        assert!(r.limits.is_empty());
    }

    #[test]
    fn faults_name_the_point_and_the_value() {
        let points = [MapPoint {
            efficiency: f64::NAN,
            ..RATED
        }];
        let error = CompressorMap::from_points(&points, REFERENCE, 0.13).expect_err("not a number");
        assert!(error.to_string().contains("point 0: efficiency"), "{error}");
        let error =
            CompressorMap::from_points(&[RATED, RATED], REFERENCE, 0.13).expect_err("two points");
        assert!(error.to_string().contains("5000"), "{error}");
        assert_eq!(
            CompressorMap::from_points(&[], REFERENCE, 0.13),
            Err(MapError::Empty)
        );
    }

    #[test]
    fn a_set_of_limits_lists_what_was_put_in() {
        let set = MapLimits::default()
            .with(MapLimit::Surge, true)
            .with(MapLimit::TipSpeed, true);
        assert!(set.iter().eq([MapLimit::Surge, MapLimit::TipSpeed]));
    }
}
