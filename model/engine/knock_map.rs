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
use crate::units;
use std::f64::consts::PI;

/// Share of the charge's releasable energy that raises its pressure in time.
///
/// The rest stays in crevices, quench layers and blow-by, or comes too late. 0.90 ± 0.04: chosen so that the cycle gives the
/// 0.78 of ideal work that engines give at full load; no single source.
pub const BURN_COMPLETENESS: f64 = 0.90;

const TEMPERATURES: usize = 6;
const DURATIONS: usize = 5;
const PHASES: usize = 13;
/// First of the last four phases.
const LAST_WINDOW: usize = PHASES - 4;
const LOWEST_K: f64 = 290.0;
const HIGHEST_K: f64 = 470.0;
const SHORTEST_DEG: f64 = 35.0;
const LONGEST_DEG: f64 = 85.0;
const EARLIEST_DEG: f64 = -2.0;
const PHASE_STEP_DEG: f64 = 5.0;
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
pub struct KnockConditions {
    /// Pressure at the start of compression, Pa.
    pub pressure_pa: f64,
    /// Temperature there, K.
    pub temperature_k: f64,
    /// Speed, rpm.
    pub rpm: f64,
    /// Octane index of the fuel.
    pub octane: f64,
    /// Burn duration, deg.
    pub burn_duration_deg: f64,
    /// Multiplier on the ignition delay (lognormal 1, sd 0.35).
    pub delay_multiplier: f64,
}

/// A knock limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockLimit {
    /// CA50 to run, deg after top dead centre: best torque, or the later one that knock forces.
    pub ca50_deg: f64,
    /// Whether knock, not best torque, set it.
    pub limited: bool,
    /// Whether the answer is the table's edge: charge temperature or burn duration outside, or knock even at the latest
    /// CA50.
    pub beyond_table: bool,
}

/// Table of knock integral and peak pressure over charge temperature, burn duration and phasing.
///
/// Stored: `ln ∫ (p/p_ivc)^1.7 exp(−6000/T_u) dθ` (θ in deg, until 95 % burned) and `p_max/p_ivc`. Pressure level, speed,
/// octane and delay multiplier scale the integral in closed form. Walls are taken at 4000 rpm and 1.4 bar; their change
/// with speed and pressure enters through a slope. What all this costs is measured in `validation/knock.rs`.
#[derive(Debug, Clone, PartialEq)]
pub struct KnockMap {
    integral_ln: [[[f64; DURATIONS]; TEMPERATURES]; PHASES],
    wall_slope: [f64; PHASES],
    peak_ratio: [[[f64; DURATIONS]; TEMPERATURES]; PHASES],
    motored_ratio: [f64; TEMPERATURES],
}

const SIXTH: f64 = 1.0 / 6.0;

/// Four weights of cubic Lagrange interpolation through equally spaced nodes, with the first node's index.
///
/// Values run on along the outer cubic for up to one node step beyond the ends.
fn cubic_weights(place: f64, count: usize) -> (usize, [f64; 4]) {
    let place = place.clamp(-1.0, count as f64);
    let first = (whole_part(place.max(1.0)) - 1).min(count - 4);
    let t = place - first as f64;
    let (a, b, c, d) = (t, t - 1.0, t - 2.0, t - 3.0);
    (
        first,
        [
            -b * c * d * SIXTH,
            a * c * d * 0.5,
            -a * b * d * 0.5,
            a * b * c * SIXTH,
        ],
    )
}

#[derive(Clone, Copy)]
struct Blend {
    temperature: (usize, [f64; 4]),
    duration: (usize, [f64; 4]),
}

impl Blend {
    fn new(temperature_k: f64, duration_deg: f64) -> Self {
        let temperature_step = (HIGHEST_K - LOWEST_K) / (TEMPERATURES as f64 - 1.0);
        let duration_step = (LONGEST_DEG - SHORTEST_DEG) / (DURATIONS as f64 - 1.0);
        Self {
            temperature: cubic_weights((temperature_k - LOWEST_K) / temperature_step, TEMPERATURES),
            duration: cubic_weights((duration_deg - SHORTEST_DEG) / duration_step, DURATIONS),
        }
    }

    fn of(&self, plane: &[[f64; DURATIONS]; TEMPERATURES]) -> f64 {
        let (row, row_weights) = self.temperature;
        let (column, column_weights) = self.duration;
        let mut sum = 0.0;
        for (weight, values) in row_weights.iter().zip(&plane[row..row + 4]) {
            let [a, b, c, d] = column_weights;
            let v = &values[column..column + 4];
            sum += weight * (a * v[0] + b * v[1] + c * v[2] + d * v[3]);
        }
        sum
    }
}

impl KnockMap {
    /// A table for a cylinder still to be stated: no number stands in it.
    pub(crate) fn unmade() -> Self {
        Self {
            integral_ln: [[[f64::NAN; DURATIONS]; TEMPERATURES]; PHASES],
            wall_slope: [f64::NAN; PHASES],
            peak_ratio: [[[f64::NAN; DURATIONS]; TEMPERATURES]; PHASES],
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
                    map.integral_ln[phase][row][column] = integral.ln();
                    map.peak_ratio[phase][row][column] = peak;
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
            map.wall_slope[phase] = (integral.ln() - map.integral_ln[phase][row][column]) / more;
        }
        map
    }

    /// A table of noughts, to add others to.
    pub(super) fn zero() -> Self {
        Self {
            integral_ln: [[[0.0; DURATIONS]; TEMPERATURES]; PHASES],
            wall_slope: [0.0; PHASES],
            peak_ratio: [[[0.0; DURATIONS]; TEMPERATURES]; PHASES],
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

    /// The table as numbers, for one who computes with the same one: logarithm of the integral and peak pressure ratio, by phase, temperature and duration; slope of the first with
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
        let Scales { threshold, walls } = Scales::of(conditions);
        let ln: f64 = (0..4)
            .map(|k| {
                let phase = first + k;
                weights[k] * (blend.of(&self.integral_ln[phase]) + walls * self.wall_slope[phase])
            })
            .sum();
        (ln - threshold).exp()
    }

    /// Earliest CA50 without knock, not earlier than best torque at `mbt_ca50_deg`.
    ///
    /// Inverts the table, which falls with CA50. Looked for around a CA50 near which it lies: a search that is asked again and again
    /// looks at four phases instead of a dozen. Error against the crank-angle cycle: see `validation/knock.rs`.
    pub fn knock_limit_near(
        &self,
        conditions: &KnockConditions,
        mbt_ca50_deg: f64,
        near_deg: f64,
    ) -> KnockLimit {
        let blend = Blend::new(conditions.temperature_k, conditions.burn_duration_deg);
        let Scales { threshold, walls } = Scales::of(conditions);
        let outside = !(LOWEST_K..=HIGHEST_K).contains(&conditions.temperature_k)
            || !(SHORTEST_DEG..=LONGEST_DEG).contains(&conditions.burn_duration_deg);
        let node = |phase: usize| {
            blend.of(&self.integral_ln[phase]) + walls * self.wall_slope[phase] - threshold
        };
        let at_best = KnockLimit {
            ca50_deg: mbt_ca50_deg,
            limited: false,
            beyond_table: outside,
        };
        let place = ((near_deg - EARLIEST_DEG) / PHASE_STEP_DEG).clamp(0.0, LAST_WINDOW as f64);
        let mut first = whole_part(place).saturating_sub(1).min(LAST_WINDOW);
        // Each move is toward the one crossing of a table that falls; twice its length is room for any other.
        for _ in 0..2 * PHASES {
            let values = [
                node(first),
                node(first + 1),
                node(first + 2),
                node(first + 3),
            ];
            if values[0] <= 0.0 {
                if first == 0 {
                    return at_best;
                }
                first = first.saturating_sub(2);
                continue;
            }
            let Some(step) = (0..3).find(|k| values[k + 1] <= 0.0) else {
                if first == LAST_WINDOW {
                    break;
                }
                first = (first + 2).min(LAST_WINDOW);
                continue;
            };
            let centred = (first + step).saturating_sub(1).min(LAST_WINDOW);
            if centred != first {
                first = centred;
                continue;
            }
            let place = first as f64 + root_between(&values, step as f64);
            let ca50_deg = EARLIEST_DEG + PHASE_STEP_DEG * place;
            if ca50_deg <= mbt_ca50_deg {
                return at_best;
            }
            return KnockLimit {
                ca50_deg,
                limited: true,
                beyond_table: outside,
            };
        }
        KnockLimit {
            ca50_deg: LATEST_CA50_DEG.max(mbt_ca50_deg),
            limited: true,
            beyond_table: true,
        }
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
        let fired: f64 = weights
            .iter()
            .zip(&self.peak_ratio[first..first + 4])
            .map(|(weight, plane)| weight * blend.of(plane))
            .sum();
        let (row, row_weights) = blend.temperature;
        let motored: f64 = row_weights
            .iter()
            .zip(&self.motored_ratio[row..row + 4])
            .map(|(weight, ratio)| weight * ratio)
            .sum();
        fired.max(motored)
    }
}

/// A step of Newton's method below this, in phases, was the last: the next would be its square.
const LAST_NEWTON_STEP: f64 = 1e-7;

/// Root of the cubic through four nodes 0..3 inside the step that starts at `from`, by Newton's method from the chord.
///
/// The nodes fall almost on a line, so four steps reach rounding; the guess is held inside the step.
fn root_between(values: &[f64; 4], from: f64) -> f64 {
    let [v0, v1, v2, v3] = *values;
    let (d1, d2, d3) = (v1 - v0, v2 - 2.0 * v1 + v0, v3 - 3.0 * v2 + 3.0 * v1 - v0);
    let (c1, c2, c3) = (d1 - d2 / 2.0 + d3 / 3.0, d2 / 2.0 - d3 / 2.0, d3 / 6.0);
    let cubic = |t: f64| v0 + t * (c1 + t * (c2 + t * c3));
    let (start, end) = (cubic(from), cubic(from + 1.0));
    let mut guess = from + start / (start - end);
    for _ in 0..4 {
        let slope = c1 + guess * (2.0 * c2 + guess * 3.0 * c3);
        let last = guess;
        guess = (guess - cubic(guess) / slope.min(-1e-6)).clamp(from, from + 1.0);
        if (guess - last).abs() < LAST_NEWTON_STEP {
            break;
        }
    }
    guess
}

/// How the table's integral scales to a charge.
struct Scales {
    /// ln of the tabled integral at which the end gas lights itself.
    threshold: f64,
    /// Excess of the wall-heat share over the table's, from its scaling with speed and pressure in [`super::combustion::WallLoss`].
    walls: f64,
}

impl Scales {
    /// Equation (3.8).
    fn of(conditions: &KnockConditions) -> Self {
        let slower = (conditions.rpm / TABLE_RPM).ln();
        let dense = (conditions.pressure_pa / ATMOSPHERE_PA).ln();
        let octane = (conditions.octane / 100.0).ln();
        let delay = 6.0 * TABLE_RPM * DELAY_S * conditions.delay_multiplier;
        Self {
            threshold: delay.ln() + slower + OCTANE_EXPONENT * octane - PRESSURE_EXPONENT * dense,
            walls: (-0.49 * slower - 0.19 * (dense - TABLE_PRESSURE_LN)).exp() - 1.0,
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
        assert_eq!(cubic_weights(2.0, 6), (1, [0.0, 1.0, 0.0, 0.0]));
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
