//! The knock limit as a table: which CA50 a charge allows, in far less than a microsecond.
//!
//! Exists because the operating-point solve asks for the knock limit millions of times and a crank-angle cycle is far too
//! slow for that. One map holds for one cylinder, one fuel at one λ and one residual fraction; another is needed when those
//! change ([`super::knock_maps`]). It refuses to invent a limit outside its table: it says so and returns the edge.
//!
//! Source: derived by tabulating [`super::closed_cycle`] and [`super::knock`], which carry theirs.

use super::charge_gas::{ChargeGas, GasModel};
use super::closed_cycle::ClosedCycle;
use super::geometry::CylinderGeometry;
use super::heat_transfer::{WallState, Walls};
use super::knock::{DELAY_S, OCTANE_EXPONENT, PRESSURE_EXPONENT};
use super::products::Products;
use super::short_cycle::ShortCycle;
use super::whole_part;
use super::wiebe::Wiebe;
use crate::fuel::Fuel;
use crate::numeric::Real;
use crate::units;
use std::f64::consts::PI;

/// Share of the charge's releasable energy that raises its pressure in time.
///
/// The rest stays in crevices, quench layers and blow-by, or comes too late. 0.90 ± 0.04: chosen so that the cycle gives the
/// 0.78 of ideal work that engines give at full load; no single source.
pub const BURN_COMPLETENESS: f64 = 0.90;

const TEMPERATURES: usize = 6;
const DURATIONS: usize = 5;
pub(super) const PHASES: usize = 13;
pub(super) const LOWEST_K: f64 = 290.0;
pub(super) const HIGHEST_K: f64 = 470.0;
pub(super) const SHORTEST_DEG: f64 = 35.0;
pub(super) const LONGEST_DEG: f64 = 85.0;
pub(super) const EARLIEST_DEG: f64 = -2.0;
pub(super) const PHASE_STEP_DEG: f64 = 5.0;
/// Latest CA50 of the table, deg after top dead centre.
pub const LATEST_CA50_DEG: f64 = EARLIEST_DEG + PHASE_STEP_DEG * (PHASES as f64 - 1.0);
const TABLE_PRESSURE_PA: f64 = 1.4e5;
const TABLE_RPM: f64 = 4000.0;
const ATMOSPHERE_PA: f64 = 101_325.0;
/// ln of the table's pressure over the atmosphere's.
const TABLE_PRESSURE_LN: f64 = 0.323_309_250_094_932;

/// What a map is made for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockMapInput {
    /// Cylinder.
    pub geometry: CylinderGeometry,
    /// Fuel.
    pub fuel: Fuel,
    /// Mixture.
    pub lambda: f64,
    /// Residual fraction of the charge, by mass.
    pub residual_fraction: f64,
    /// Share of the releasable energy that acts, see [`BURN_COMPLETENESS`].
    pub completeness: f64,
    /// Walls, or `None` for an adiabatic cylinder.
    pub walls: Option<Walls>,
}

/// Charge and burn at which a limit is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockConditions<R = f64> {
    /// Pressure at the start of compression, Pa.
    pub pressure_pa: R,
    /// Temperature there, K.
    pub temperature_k: R,
    /// Speed, rpm.
    pub rpm: R,
    /// Octane index of the fuel.
    pub octane: f64,
    /// Burn duration, deg.
    pub burn_duration_deg: R,
    /// Multiplier on the ignition delay (lognormal 1, sd 0.35).
    pub delay_multiplier: f64,
}

/// Table of knock integral and peak pressure over charge temperature, burn duration and phasing.
///
/// Stored: `ln ∫ (p/p_ivc)^1.7 exp(−6000/T_u) dθ` (θ in deg, until 95 % burned) and `p_max/p_ivc`. Pressure level, speed,
/// octane and delay multiplier scale the integral in closed form. Walls are taken at 4000 rpm and 1.4 bar; their change
/// with speed and pressure enters through a slope. What all this costs is measured in `validation/knock.rs`.
#[derive(Debug, Clone, PartialEq)]
pub struct KnockMap {
    pub(super) integral_ln: Table,
    pub(super) wall_slope: [f64; PHASES],
    peak_ratio: Table,
    motored_ratio: [f64; TEMPERATURES],
}

/// Phases side by side, since four of them are always asked together.
pub(super) type Table = [[[f64; PHASES]; DURATIONS]; TEMPERATURES];

const SIXTH: f64 = 1.0 / 6.0;

/// Four weights of cubic Lagrange interpolation through equally spaced nodes, with the place of the first.
///
/// Values run on along the outer cubic for up to one node step beyond the ends.
#[inline(always)]
fn cubic_weights<R: Real>(place: R, count: usize) -> (R, [R; 4]) {
    let place = place.within(-1.0, count as f64);
    let most = (count - 4) as f64;
    let first = (place.at_least(1.0).whole() - 1.0).at_most(most);
    let t = place - first;
    let (a, b, c, d) = (t, t - 1.0, t - 2.0, t - 3.0);
    let (ab, cd) = (a * b, c * d);
    (
        first,
        [b * cd * -SIXTH, a * cd * 0.5, ab * d * -0.5, ab * c * SIXTH],
    )
}

#[derive(Clone, Copy)]
pub(super) struct Blend<R = f64> {
    temperature: (R, [R; 4]),
    duration: (R, [R; 4]),
}

impl<R: Real> Blend<R> {
    #[inline(always)]
    pub(super) fn new(temperature_k: R, duration_deg: R) -> Self {
        let temperature_step = (HIGHEST_K - LOWEST_K) / (TEMPERATURES as f64 - 1.0);
        let duration_step = (LONGEST_DEG - SHORTEST_DEG) / (DURATIONS as f64 - 1.0);
        Self {
            temperature: cubic_weights((temperature_k - LOWEST_K) / temperature_step, TEMPERATURES),
            duration: cubic_weights((duration_deg - SHORTEST_DEG) / duration_step, DURATIONS),
        }
    }

    /// One of several side by side.
    #[inline(always)]
    pub(super) fn one(&self, k: usize) -> Blend {
        let one = |of: &[R; 4]| [of[0].one(k), of[1].one(k), of[2].one(k), of[3].one(k)];
        Blend {
            temperature: (self.temperature.0.one(k), one(&self.temperature.1)),
            duration: (self.duration.0.one(k), one(&self.duration.1)),
        }
    }
}

impl Blend {
    /// A table's values at four phases.
    #[inline(always)]
    pub(super) fn of(&self, table: &Table, first: usize) -> [f64; 4] {
        let (row, column) = (whole_part(self.temperature.0), whole_part(self.duration.0));
        let mut sums = [0.0; 4];
        for (weight, columns) in self.temperature.1.iter().zip(&table[row..row + 4]) {
            let mut along = [0.0; 4];
            for (share, phases) in self.duration.1.iter().zip(&columns[column..column + 4]) {
                for (sum, value) in along.iter_mut().zip(&phases[first..first + 4]) {
                    *sum += share * value;
                }
            }
            for (sum, value) in sums.iter_mut().zip(&along) {
                *sum += weight * value;
            }
        }
        sums
    }
}

impl KnockMap {
    /// A table for a cylinder still to be stated: no number stands in it.
    pub(crate) fn unmade() -> Self {
        Self {
            integral_ln: [[[f64::NAN; PHASES]; DURATIONS]; TEMPERATURES],
            wall_slope: [f64::NAN; PHASES],
            peak_ratio: [[[f64::NAN; PHASES]; DURATIONS]; TEMPERATURES],
            motored_ratio: [f64::NAN; TEMPERATURES],
        }
    }

    /// Computes the table: 403 short cycles, sharing each charge temperature's compression.
    pub fn build(input: &KnockMapInput) -> Self {
        let mut map = Self::unmade();
        let temperature_step = (HIGHEST_K - LOWEST_K) / (TEMPERATURES as f64 - 1.0);
        let duration_step = (LONGEST_DEG - SHORTEST_DEG) / (DURATIONS as f64 - 1.0);
        let latest_start_rad =
            Wiebe::centred(LATEST_CA50_DEG.to_radians(), SHORTEST_DEG.to_radians()).start_rad;
        for row in 0..TEMPERATURES {
            let cylinder = node_cylinder(input, LOWEST_K + temperature_step * row as f64, 1.0);
            let compression = cylinder.compress(latest_start_rad);
            let top = compression
                .iter()
                .map(|point| point.pressure)
                .fold(0.0, f64::max);
            map.motored_ratio[row] = top / TABLE_PRESSURE_PA;
            for column in 0..DURATIONS {
                let duration = SHORTEST_DEG + duration_step * column as f64;
                for phase in 0..PHASES {
                    let ca50 = EARLIEST_DEG + PHASE_STEP_DEG * phase as f64;
                    let burn = Wiebe::centred(ca50.to_radians(), duration.to_radians());
                    let (integral, peak) = cylinder.burn(&compression, &burn);
                    map.integral_ln[row][column][phase] = integral.ln();
                    map.peak_ratio[row][column][phase] = peak;
                }
            }
        }
        // How the integral answers to more wall heat, at one temperature and duration in the middle.
        let (row, column) = (TEMPERATURES / 2 - 1, DURATIONS / 2);
        let more = 0.3;
        let cylinder = node_cylinder(input, LOWEST_K + temperature_step * row as f64, 1.0 + more);
        let compression = cylinder.compress(latest_start_rad);
        let duration = SHORTEST_DEG + duration_step * column as f64;
        for phase in 0..PHASES {
            let ca50 = EARLIEST_DEG + PHASE_STEP_DEG * phase as f64;
            let burn = Wiebe::centred(ca50.to_radians(), duration.to_radians());
            let (integral, _) = cylinder.burn(&compression, &burn);
            map.wall_slope[phase] = (integral.ln() - map.integral_ln[row][column][phase]) / more;
        }
        map
    }

    /// A table of noughts, to add others to.
    pub(super) fn zero() -> Self {
        Self {
            integral_ln: [[[0.0; PHASES]; DURATIONS]; TEMPERATURES],
            wall_slope: [0.0; PHASES],
            peak_ratio: [[[0.0; PHASES]; DURATIONS]; TEMPERATURES],
            motored_ratio: [0.0; TEMPERATURES],
        }
    }

    /// Adds every entry of another map times a weight.
    pub(super) fn add(&mut self, weight: f64, other: &Self) {
        for (own, other) in self.entries_mut().into_iter().zip(other.entries()) {
            for (own, other) in own.iter_mut().zip(other) {
                *own += weight * other;
            }
        }
    }

    /// The table as numbers, for one who computes with the same one: logarithm of the integral and peak pressure ratio, by temperature, duration and phase; slope of the first with
    /// wall heat, by phase; peak pressure ratio without a burn, by temperature.
    pub fn entries(&self) -> [&[f64]; 4] {
        [
            self.integral_ln.as_flattened().as_flattened(),
            self.peak_ratio.as_flattened().as_flattened(),
            &self.wall_slope,
            &self.motored_ratio,
        ]
    }

    fn entries_mut(&mut self) -> [&mut [f64]; 4] {
        [
            self.integral_ln.as_flattened_mut().as_flattened_mut(),
            self.peak_ratio.as_flattened_mut().as_flattened_mut(),
            &mut self.wall_slope,
            &mut self.motored_ratio,
        ]
    }

    /// Knock integral at a CA50; knock is expected at 1 and above.
    /// Equation (3.8).
    pub fn knock_integral(&self, conditions: &KnockConditions, ca50_deg: f64) -> f64 {
        let blend = Blend::new(conditions.temperature_k, conditions.burn_duration_deg);
        let (first, weights) = cubic_weights((ca50_deg - EARLIEST_DEG) / PHASE_STEP_DEG, PHASES);
        let Scales { threshold, walls } = Scales::of(conditions, conditions.pressure_pa.ln());
        let first = whole_part(first);
        let values = blend.of(&self.integral_ln, first);
        let slopes = &self.wall_slope[first..first + 4];
        let ln: f64 = (0..4)
            .map(|k| weights[k] * (values[k] + walls * slopes[k]))
            .sum();
        (ln - threshold).exp()
    }

    /// Peak pressure over the pressure at the start of compression, at a charge temperature, burn duration and CA50.
    pub fn peak_pressure_ratio(
        &self,
        temperature_k: f64,
        burn_duration_deg: f64,
        ca50_deg: f64,
    ) -> f64 {
        let blend = Blend::new(temperature_k, burn_duration_deg);
        let (first, weights) = cubic_weights((ca50_deg - EARLIEST_DEG) / PHASE_STEP_DEG, PHASES);
        let first = whole_part(first);
        let values = blend.of(&self.peak_ratio, first);
        let fired: f64 = (0..4).map(|k| weights[k] * values[k]).sum();
        let (row, row_weights) = (whole_part(blend.temperature.0), blend.temperature.1);
        let motored: f64 = row_weights
            .iter()
            .zip(&self.motored_ratio[row..row + 4])
            .map(|(weight, ratio)| weight * ratio)
            .sum();
        fired.max(motored)
    }
}

/// How the table's integral scales to a charge.
pub(super) struct Scales<R> {
    /// ln of the tabled integral at which the end gas lights itself.
    pub(super) threshold: R,
    /// Excess of the wall-heat share over the table's, from its scaling with speed and pressure in [`super::combustion::WallLoss`].
    pub(super) walls: R,
}

impl<R: Real> Scales<R> {
    /// Equation (3.8).
    #[inline(always)]
    pub(super) fn of(conditions: &KnockConditions<R>, pressure_ln: R) -> Self {
        let slower = (conditions.rpm / TABLE_RPM).ln();
        let dense = pressure_ln - ATMOSPHERE_PA.ln();
        let octane = (conditions.octane / 100.0).ln();
        let delay = 6.0 * TABLE_RPM * DELAY_S * conditions.delay_multiplier;
        let denser = dense - TABLE_PRESSURE_LN;
        Self {
            threshold: slower - dense * PRESSURE_EXPONENT + (delay.ln() + OCTANE_EXPONENT * octane),
            walls: (slower * -0.49 - denser * 0.19).exp() - 1.0,
        }
    }
}

/// The cylinder at a charge temperature of the table, at the table's pressure and speed.
fn node_cylinder(input: &KnockMapInput, start_k: f64, wall_scale: f64) -> ShortCycle {
    let conditions = KnockConditions {
        pressure_pa: TABLE_PRESSURE_PA,
        temperature_k: start_k,
        rpm: TABLE_RPM,
        octane: 95.0,
        burn_duration_deg: 50.0,
        delay_multiplier: 1.0,
    };
    let cycle = input.cycle(&conditions, 8.0);
    let geometry = input.geometry;
    let start_volume = geometry.volume_m3(-PI);
    let walls = input.walls.map(|walls| {
        let walls = Walls {
            multiplier: walls.multiplier * wall_scale,
            ..walls
        };
        let state = WallState::new(
            &walls,
            geometry.bore_m,
            geometry.swept_volume_m3(),
            geometry.mean_piston_speed_m_s(TABLE_RPM),
            start_k,
            TABLE_PRESSURE_PA,
            start_volume,
        );
        (walls, state)
    });
    ShortCycle {
        start_pa: TABLE_PRESSURE_PA,
        geometry,
        gas: cycle.gas,
        walls,
        start_k,
        start_volume,
        heat_j: cycle.heat_j,
        seconds_per_rad: units::seconds_per_rad(TABLE_RPM),
    }
}

impl KnockMapInput {
    /// Whether a map for the other is the map for this one: all is equal but octane, which only [`KnockConditions`] know.
    pub fn is_like(&self, other: &Self) -> bool {
        let fuel = Fuel {
            research_octane: other.fuel.research_octane,
            motor_octane: other.fuel.motor_octane,
            doubt: other.fuel.doubt,
            ..self.fuel
        };
        Self { fuel, ..*self } == *other
    }

    /// The same point as a whole crank-angle cycle: what the map abbreviates, for checks and for a trace.
    pub fn cycle(&self, conditions: &KnockConditions, ca50_deg: f64) -> ClosedCycle {
        let gas = ChargeGas::new(&self.fuel, self.lambda);
        let volume = self.geometry.volume_m3(-PI);
        let charge_kg =
            conditions.pressure_pa * volume / (gas.gas_constant_j_kg_k * conditions.temperature_k);
        let burn = Wiebe::centred(
            ca50_deg.to_radians(),
            conditions.burn_duration_deg.to_radians(),
        );
        ClosedCycle {
            pressure_pa: conditions.pressure_pa,
            temperature_k: conditions.temperature_k,
            walls: self.walls,
            rpm: conditions.rpm,
            octane: conditions.octane,
            ..ClosedCycle::full_stroke(
                self.geometry,
                burn,
                charge_kg * self.heat_j_kg_charge(),
                GasModel::Mixture(gas),
            )
        }
    }

    /// Heat that acts per kilogram of charge, J/kg.
    pub fn heat_j_kg_charge(&self) -> f64 {
        let products = Products::burned(&self.fuel, self.lambda);
        self.completeness * (1.0 - self.residual_fraction) * products.released_j / products.mass_kg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input() -> KnockMapInput {
        KnockMapInput {
            geometry: CylinderGeometry {
                bore_m: 0.095,
                stroke_m: 0.09,
                rod_m: 0.15,
                compression_ratio: 10.0,
            },
            fuel: Fuel::petrol(95.0, None),
            lambda: 0.88,
            residual_fraction: 0.05,
            completeness: BURN_COMPLETENESS,
            walls: Some(Walls::default()),
        }
    }

    #[test]
    fn weights_sum_to_one_and_hit_the_nodes() {
        for place in [-0.5, 0.0, 1.3, 3.0, 4.9, 5.0, 5.7] {
            let (_, weights) = cubic_weights(place, 6);
            assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
        assert_eq!(cubic_weights(2.0, 6), (1.0, [0.0, 1.0, 0.0, 0.0]));
    }

    #[test]
    fn the_written_logarithm_is_that_of_the_pressures() {
        let ln = (TABLE_PRESSURE_PA / ATMOSPHERE_PA).ln();
        assert!((TABLE_PRESSURE_LN - ln).abs() < 1e-15);
    }

    #[test]
    fn the_limit_is_where_the_integral_is_one() {
        let map = KnockMap::build(&input());
        let conditions = KnockConditions {
            pressure_pa: 1.5e5,
            temperature_k: 361.0,
            rpm: 3300.0,
            octane: 95.0,
            burn_duration_deg: 52.0,
            delay_multiplier: 1.0,
        };
        let limit = map.knock_limit_near(&conditions, 8.0, 8.0);
        assert!(limit.limited && !limit.beyond_table);
        assert!((map.knock_integral(&conditions, limit.ca50_deg) - 1.0).abs() < 1e-6);
        let easy = KnockConditions {
            pressure_pa: 0.4e5,
            ..conditions
        };
        assert_eq!(map.knock_limit_near(&easy, 8.0, 8.0).ca50_deg, 8.0);
        let hopeless = KnockConditions {
            pressure_pa: 9e5,
            ..conditions
        };
        assert!(map.knock_limit_near(&hopeless, 8.0, 8.0).beyond_table);
    }
}
