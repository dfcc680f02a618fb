//! A measured turbine map, reduced to what is carried of a turbine: the area of an orifice and one efficiency, each with
//! the map's own scatter about it as its doubt.
//!
//! It exists because a shop may hold a map where this model holds two numbers, and picking two numbers off a map by eye
//! hides how badly an orifice fits it. What differs between the points (speed lines, degree of reaction, misreadings) becomes
//! doubt, never detail. It refuses points that cannot be measured, too few of them, and points that no orifice describes
//! better than a guess at the engine would.

use super::compressor_map::MapReference;
use super::turbocharger::{AREA_SD_LN, SHAFT_EFFICIENCY, USUAL_GAS};
use crate::air::flow::OrificeGas;
use crate::air::gas::PerfectGas;
use crate::numeric::MAD_TO_SD;

/// Least doubt on the area of a mapped turbine, standard deviation of the logarithm: another casting, and a flow in pulses
/// where the map was taken in a steady one (common practice, no source).
pub const AREA_FLOOR_SD_LN: f64 = 0.05;
/// Least doubt on the efficiency of a mapped turbine, for the same reasons (common practice, no source).
pub const EFFICIENCY_FLOOR_SD: f64 = 0.03;
/// Expansion ratios at which an engine at full load runs its turbine, and at which the efficiency counts (common practice,
/// no source).
pub const IN_USE: (f64, f64) = (1.2, 4.0);
/// Fewest points that say something of their scatter.
pub const FEWEST: usize = 3;

/// Usual error of a reading of flow, and of expansion ratio, relative (common practice, no source). Only their ratio enters:
/// near equal pressures an error of the ratio is large in the area, and such points count for less.
const FLOW_READING: f64 = 0.01;
const RATIO_READING: f64 = 0.005;
/// Most of the points that may stand apart; with more, the odd ones are no slips (common practice, no source).
const MOST_APART: f64 = 0.25;

/// One measured point, corrected to the map's reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurbineMapPoint {
    /// Corrected flow of one turbine, kg/s.
    pub flow_kg_s: f64,
    /// Total pressure before the wheel over static pressure behind it.
    pub expansion_ratio: f64,
    /// Isentropic efficiency on these pressures.
    pub efficiency: f64,
}

/// The gas a map was measured with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TestGas {
    /// Air: γ 1.4.
    Air,
    /// Exhaust gas of a petrol engine.
    Exhaust,
}

impl TestGas {
    fn gas(self) -> PerfectGas {
        match self {
            Self::Air => PerfectGas::AIR,
            Self::Exhaust => USUAL_GAS,
        }
    }
}

/// The circumstances of a map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurbineTest {
    /// State to which flows are corrected.
    pub reference: MapReference,
    /// The gas.
    pub gas: TestGas,
    /// Whether the friction of the bearings is in the efficiency, as where it was measured by the compressor's power.
    pub bearings_in_efficiency: bool,
}

/// Why points do not make a turbine.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TurbineMapError {
    /// Too few points.
    #[error("the turbine map has {count} points; {FEWEST} are needed")]
    TooFew {
        /// Points given.
        count: usize,
    },
    /// A number out of its possible range.
    #[error("turbine map point {}: {quantity} {value} is impossible", index + 1)]
    Point {
        /// Position in the list given.
        index: usize,
        /// What is wrong with it.
        quantity: &'static str,
        /// The value.
        value: f64,
    },
    /// Reference state not positive.
    #[error("the turbine map's reference {quantity} {value} must be positive")]
    Reference {
        /// Which.
        quantity: &'static str,
        /// The value.
        value: f64,
    },
    /// Points all outside the expansion ratios in use.
    #[error(
        "{count} points of the turbine map lie at expansion ratios of {} to {}, where an engine at full load runs its turbine; {FEWEST} are needed",
        IN_USE.0, IN_USE.1
    )]
    NotInUse {
        /// Points inside.
        count: usize,
    },
    /// Too many points far from the others to be slips of reading.
    #[error("{count} of the {of} points stand apart from the others by their {quantity}")]
    Apart {
        /// Points far away.
        count: usize,
        /// Points looked at.
        of: usize,
        /// By what.
        quantity: &'static str,
    },
    /// The points are not those of one orifice.
    #[error(
        "the points scatter by {:.0} % about an orifice, no better than the guess made without a map ({:.0} %)",
        100.0 * scatter_ln, 100.0 * AREA_SD_LN
    )]
    NoOrifice {
        /// Standard deviation of the logarithm of their areas.
        scatter_ln: f64,
    },
}

/// A map reduced.
#[derive(Debug, Clone, PartialEq)]
pub struct ReducedTurbine {
    /// Effective area of one turbine, m²; median.
    pub area_m2: f64,
    /// Doubt on it, standard deviation of the logarithm: scatter and floor.
    pub area_sd_ln: f64,
    /// Isentropic efficiency of the wheel.
    pub efficiency: f64,
    /// Doubt on it: scatter and floor.
    pub efficiency_sd: f64,
    /// Points that stand so far apart that they count for nothing in one of the two, in order.
    pub apart: Vec<usize>,
}

impl TurbineTest {
    /// Area of the orifice that passes a point's flow, m².
    ///
    /// ```text
    /// A = ṁ_c √(R T_ref)/(p_ref Ψ(1/π))
    /// ```
    ///
    /// With the gas constant and γ of the gas of the test: the area then holds for any gas. Source: equation 5.10 of
    /// docs/model.md, for the reference state. Worked: air, 0.1 kg/s at 100 kPa and 288.15 K, choked: 420.03 mm².
    pub fn area_m2(&self, point: &TurbineMapPoint) -> f64 {
        let gas = self.gas.gas();
        let psi = OrificeGas::new(gas).psi(1.0 / point.expansion_ratio);
        point.flow_kg_s * (gas.gas_constant_j_kg_k * self.reference.temperature_k).sqrt()
            / (self.reference.pressure_pa * psi)
    }

    /// Reduces a map.
    ///
    /// ```text
    /// ln A:  weights 1/(σ_w² + (σ_π d lnΨ/d lnπ)²)        all points
    /// η:     weights π_i = ṁ_c [1 − π^(−(γ−1)/γ)]         points in use; what moves the shaft is power
    /// sd² = scatter² + floor²
    /// ```
    ///
    /// Both by Tukey's biweight about the weighted median, so that a misread point neither draws the answer nor widens it
    /// (it is named). The scatter stays whole, not divided by √n: it is what one orifice and one efficiency miss of the
    /// map, and no number of points makes that less. Source: the biweight from memory (Mosteller and Tukey), its constant
    /// for 95 % efficiency at a normal curve.
    /// Equation (5.15).
    pub fn reduce(&self, points: &[TurbineMapPoint]) -> Result<ReducedTurbine, TurbineMapError> {
        self.check(points)?;
        let gas = self.gas.gas();
        let orifice = OrificeGas::new(gas);
        let areas: Vec<Weighed> = points
            .iter()
            .enumerate()
            .map(|(index, point)| Weighed {
                index,
                value: self.area_m2(point).ln(),
                weight: 1.0
                    / (FLOW_READING.powi(2)
                        + (RATIO_READING * steepness(&orifice, point.expansion_ratio)).powi(2)),
            })
            .collect();
        let power = (gas.gamma - 1.0) / gas.gamma;
        let shaft = if self.bearings_in_efficiency {
            SHAFT_EFFICIENCY
        } else {
            1.0
        };
        let efficiencies: Vec<Weighed> = points
            .iter()
            .enumerate()
            .filter(|(_, point)| (IN_USE.0..=IN_USE.1).contains(&point.expansion_ratio))
            .map(|(index, point)| Weighed {
                index,
                value: point.efficiency / shaft,
                weight: point.flow_kg_s * (1.0 - point.expansion_ratio.powf(-power)),
            })
            .collect();
        if efficiencies.len() < FEWEST {
            return Err(TurbineMapError::NotInUse {
                count: efficiencies.len(),
            });
        }
        let area = Location::of(&areas, AREA_FLOOR_SD_LN);
        if area.scatter > AREA_SD_LN {
            return Err(TurbineMapError::NoOrifice {
                scatter_ln: area.scatter,
            });
        }
        let efficiency = Location::of(&efficiencies, EFFICIENCY_FLOOR_SD);
        for (quantity, found, of) in [
            ("area", &area, areas.len()),
            ("efficiency", &efficiency, efficiencies.len()),
        ] {
            let count = found.apart.len();
            if count as f64 > MOST_APART * of as f64 {
                return Err(TurbineMapError::Apart {
                    count,
                    of,
                    quantity,
                });
            }
        }
        let mut apart: Vec<usize> = area.apart.into_iter().chain(efficiency.apart).collect();
        apart.sort_unstable();
        apart.dedup();
        Ok(ReducedTurbine {
            area_m2: area.centre.exp(),
            area_sd_ln: area.scatter.hypot(AREA_FLOOR_SD_LN),
            efficiency: efficiency.centre,
            efficiency_sd: efficiency.scatter.hypot(EFFICIENCY_FLOOR_SD),
            apart,
        })
    }

    fn check(&self, points: &[TurbineMapPoint]) -> Result<(), TurbineMapError> {
        for (quantity, value) in [
            ("pressure", self.reference.pressure_pa),
            ("temperature", self.reference.temperature_k),
        ] {
            if !(value > 0.0 && value.is_finite()) {
                return Err(TurbineMapError::Reference { quantity, value });
            }
        }
        for (index, point) in points.iter().enumerate() {
            let sound = [
                (
                    "flow",
                    point.flow_kg_s,
                    point.flow_kg_s > 0.0 && point.flow_kg_s.is_finite(),
                ),
                (
                    "expansion ratio",
                    point.expansion_ratio,
                    point.expansion_ratio > 1.0 && point.expansion_ratio.is_finite(),
                ),
                (
                    "efficiency",
                    point.efficiency,
                    point.efficiency > 0.0 && point.efficiency < 1.0,
                ),
            ];
            for (quantity, value, sound) in sound {
                if !sound {
                    return Err(TurbineMapError::Point {
                        index,
                        quantity,
                        value,
                    });
                }
            }
        }
        if points.len() < FEWEST {
            return Err(TurbineMapError::TooFew {
                count: points.len(),
            });
        }
        Ok(())
    }
}

/// How an error of the expansion ratio shows in the area, `d lnΨ/d lnπ`: 0 choked, large near equal pressures.
fn steepness(orifice: &OrificeGas, ratio: f64) -> f64 {
    const STEP: f64 = 1e-4;
    let ln_psi = |ratio: f64| orifice.psi(1.0 / ratio).ln();
    (ln_psi(ratio * (1.0 + STEP)) - ln_psi(ratio)) / STEP.ln_1p()
}

/// A value of one point, and how much it counts.
#[derive(Debug, Clone, Copy)]
struct Weighed {
    index: usize,
    value: f64,
    weight: f64,
}

/// Where values lie, and how far about it.
#[derive(Debug, Clone, PartialEq)]
struct Location {
    centre: f64,
    scatter: f64,
    apart: Vec<usize>,
}

/// The biweight's constant for 95 % efficiency.
const BIWEIGHT: f64 = 4.685;
/// Steps towards the centre; the values leave their places by less than rounding long before.
const STEPS: usize = 40;

impl Location {
    /// Of at least one value with a positive weight. Nobody stands apart for less than what is doubted anyway, the least
    /// scale: else points that agree with each other closely (all that choke) would cast out those that do not.
    /// Equation (5.15).
    fn of(list: &[Weighed], least_scale: f64) -> Self {
        let mut centre = weighted_median(list);
        let off: Vec<Weighed> = list
            .iter()
            .map(|w| Weighed {
                value: (w.value - centre).abs(),
                ..*w
            })
            .collect();
        let reach = BIWEIGHT * (MAD_TO_SD * weighted_median(&off)).max(least_scale);
        for _ in 0..STEPS {
            let (mut sum, mut of) = (0.0, 0.0);
            for w in list {
                let u = ((w.value - centre) / reach).abs().min(1.0);
                let counts = w.weight * (1.0 - u * u).powi(2);
                sum += counts * w.value;
                of += counts;
            }
            // The median itself always counts, so there is something to divide by.
            centre = sum / of;
        }
        let inside = |w: &&Weighed| (w.value - centre).abs() < reach;
        let (mut square, mut weight, mut weights_squared) = (0.0, 0.0, 0.0);
        for w in list.iter().filter(inside) {
            square += w.weight * (w.value - centre).powi(2);
            weight += w.weight;
            weights_squared += w.weight * w.weight;
        }
        // The number of points that would say as much if all counted alike; one degree of freedom is the centre's.
        let alike = (weight * weight / weights_squared).max(2.0);
        Self {
            centre,
            scatter: (square / weight * alike / (alike - 1.0)).sqrt(),
            apart: list
                .iter()
                .filter(|w| !inside(w))
                .map(|w| w.index)
                .collect(),
        }
    }
}

fn weighted_median(list: &[Weighed]) -> f64 {
    let mut sorted = list.to_vec();
    sorted.sort_by(|a, b| a.value.total_cmp(&b.value));
    let half = 0.5 * sorted.iter().map(|w| w.weight).sum::<f64>();
    let mut below = 0.0;
    for w in &sorted {
        below += w.weight;
        if below >= half {
            return w.value;
        }
    }
    sorted.last().map_or(0.0, |w| w.value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    const AREA_M2: f64 = 620e-6;
    const TEST: TurbineTest = TurbineTest {
        reference: MapReference {
            pressure_pa: 101_325.0,
            temperature_k: 288.15,
        },
        gas: TestGas::Air,
        bearings_in_efficiency: false,
    };

    /// Points of a known orifice, with errors of flow and of efficiency drawn evenly from ± their size.
    fn points(test: TurbineTest, flow: f64, efficiency: f64, seed: u64) -> Vec<TurbineMapPoint> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut even = |size: f64| size * (2.0 * rng.random::<f64>() - 1.0);
        let gas = test.gas.gas();
        (0..24)
            .map(|i| {
                let expansion_ratio = 1.15 + 0.1 * f64::from(i);
                let passed = AREA_M2
                    * test.reference.pressure_pa
                    * OrificeGas::new(gas).psi(1.0 / expansion_ratio)
                    / (gas.gas_constant_j_kg_k * test.reference.temperature_k).sqrt();
                TurbineMapPoint {
                    flow_kg_s: passed * (1.0 + even(flow)),
                    expansion_ratio,
                    efficiency: 0.68 + even(efficiency),
                }
            })
            .collect()
    }

    #[test]
    fn the_worked_area_is_met() {
        let test = TurbineTest {
            reference: MapReference {
                pressure_pa: 100e3,
                ..TEST.reference
            },
            ..TEST
        };
        let choked = TurbineMapPoint {
            flow_kg_s: 0.1,
            expansion_ratio: 2.5,
            efficiency: 0.7,
        };
        // By hand: 0.1 · √(287.05 · 288.15)/(1e5 · 0.68473), rounded.
        assert!((1e6 * test.area_m2(&choked) - 420.03).abs() < 0.05);
    }

    #[test]
    fn the_map_of_a_known_orifice_gives_its_area_back_whatever_gas_tested_it() {
        for gas in [TestGas::Air, TestGas::Exhaust] {
            let test = TurbineTest {
                gas,
                reference: MapReference {
                    pressure_pa: 87e3,
                    temperature_k: 870.0,
                },
                ..TEST
            };
            let turbine = test.reduce(&points(test, 0.0, 0.0, 1)).expect("a map");
            // Rounding only: nothing scatters, and the floors are what is left of doubt.
            assert!((turbine.area_m2 / AREA_M2 - 1.0).abs() < 1e-12);
            assert!((turbine.efficiency - 0.68).abs() < 1e-12);
            assert!((turbine.area_sd_ln - AREA_FLOOR_SD_LN).abs() < 1e-12);
            assert!((turbine.efficiency_sd - EFFICIENCY_FLOOR_SD).abs() < 1e-12);
            assert!(turbine.apart.is_empty());
        }
    }

    #[test]
    fn noise_widens_the_doubt_by_its_own_size_and_leaves_the_centre() {
        let mut sum_ln = 0.0;
        for seed in 0..40 {
            let turbine = TEST.reduce(&points(TEST, 0.09, 0.06, seed)).expect("a map");
            sum_ln += (turbine.area_m2 / AREA_M2).ln() / 40.0;
            // Even noise of ± a has the deviation a/√3; of 24 points it is known to a seventh, three of those are allowed.
            let area = (turbine.area_sd_ln.powi(2) - AREA_FLOOR_SD_LN.powi(2)).sqrt();
            let wanted = 0.09 / 3_f64.sqrt();
            assert!((area / wanted - 1.0).abs() < 0.45, "{seed}: {area}");
            let efficiency = (turbine.efficiency_sd.powi(2) - EFFICIENCY_FLOOR_SD.powi(2)).sqrt();
            let wanted = 0.06 / 3_f64.sqrt();
            assert!(
                (efficiency / wanted - 1.0).abs() < 0.45,
                "{seed}: {efficiency}"
            );
            assert!(turbine.apart.is_empty());
        }
        // The mean of 40 maps of 24 points: 0.052/√960, three times; the mean of ln(1 + e) is off by −0.0014 on top.
        assert!(sum_ln.abs() < 0.0064, "{sum_ln}");
    }

    #[test]
    fn a_slipped_decimal_point_is_named_and_moves_nothing() {
        let clean = points(TEST, 0.02, 0.01, 7);
        let mut slipped = clean.clone();
        slipped[9].flow_kg_s *= 10.0;
        slipped[15].efficiency = 0.068;
        let (before, after) = (
            TEST.reduce(&clean).expect("a map"),
            TEST.reduce(&slipped).expect("a map"),
        );
        assert_eq!(after.apart, [9, 15]);
        // Of 24 points one is lost: what it moved the mean by, at most its own error over 23.
        assert!((after.area_m2 / before.area_m2 - 1.0).abs() < 0.02 / 23.0 * 2.0);
        assert!((after.efficiency - before.efficiency).abs() < 0.01 / 23.0 * 4.0);
    }

    #[test]
    fn points_that_choke_alike_do_not_cast_out_those_that_do_not() {
        let mut bent = points(TEST, 0.0, 0.0, 1);
        for point in bent.iter_mut().filter(|p| p.expansion_ratio < 1.8) {
            point.flow_kg_s *= 0.85;
        }
        let turbine = TEST.reduce(&bent).expect("a map");
        assert!(turbine.apart.is_empty());
        assert!(turbine.area_m2 < 0.99 * AREA_M2 && turbine.area_m2 > 0.85 * AREA_M2);
        // A quarter of the weight is 0.163 away: a deviation of 0.072 about the mean and of 0.083 about the many (computed apart
        // from this code); the biweight's centre lies between.
        let scatter = (turbine.area_sd_ln.powi(2) - AREA_FLOOR_SD_LN.powi(2)).sqrt();
        assert!((0.072..0.0834).contains(&scatter), "{scatter}");
    }

    #[test]
    fn bearings_in_the_efficiency_are_taken_out_of_it() {
        let test = TurbineTest {
            bearings_in_efficiency: true,
            ..TEST
        };
        let turbine = test.reduce(&points(TEST, 0.0, 0.0, 1)).expect("a map");
        assert!((turbine.efficiency * SHAFT_EFFICIENCY - 0.68).abs() < 1e-12);
    }

    #[test]
    fn what_makes_no_turbine_is_refused_by_name() {
        let sound = points(TEST, 0.0, 0.0, 1);
        let said =
            |points: &[TurbineMapPoint]| TEST.reduce(points).expect_err("no turbine").to_string();
        assert!(said(&sound[..2]).contains("2 points; 3 are needed"));
        let mut bad = sound.clone();
        bad[4].expansion_ratio = 0.9;
        assert!(said(&bad).contains("point 5: expansion ratio 0.9"));
        bad[4].expansion_ratio = f64::NAN;
        assert!(said(&bad).contains("point 5: expansion ratio NaN"));
        let low: Vec<_> = sound
            .iter()
            .map(|p| TurbineMapPoint {
                expansion_ratio: 1.1,
                ..*p
            })
            .collect();
        assert!(said(&low).contains("0 points"));
        let mut odd = sound.clone();
        for point in odd.iter_mut().step_by(3) {
            point.flow_kg_s *= 2.0;
        }
        assert!(
            said(&odd).contains("8 of the 24 points stand apart from the others by their area")
        );
        // Flows that fall as the expansion rises: columns of another machine.
        let mut flows: Vec<f64> = sound.iter().map(|p| p.flow_kg_s).collect();
        flows.reverse();
        let scrambled: Vec<_> = sound
            .iter()
            .zip(&flows)
            .enumerate()
            .map(|(i, (p, flow))| TurbineMapPoint {
                flow_kg_s: flow * if i % 2 == 0 { 2.0 } else { 1.0 },
                ..*p
            })
            .collect();
        assert!(said(&scrambled).contains("about an orifice"));
    }
}
