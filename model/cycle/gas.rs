//! The gas in a cylinder: fresh charge, burned gas, and every mixture of the two, by mass.
//!
//! Exists so that heat release, expansion and exhaust come from enthalpies with heats of formation, not from a heating value and
//! a fitted γ. Fresh charge is moist air with the fuel as vapour. Burned gas is in equilibrium above 1500 K; below, its
//! composition stands still. It refuses a second mixture: everything in the cylinder has one λ.
//!
//! Source: NASA polynomials (`species`), equilibrium ([`super::equilibrium`]); the rest derived.

use super::equilibrium::{Atoms, Composition, POLYNOMIALS, SPECIES};
use super::species::{ETHANOL, HEPTANE, ISO_OCTANE, METHANOL, TOLUENE};
use crate::air::gas::{ARGON, CARBON_DIOXIDE, NITROGEN, Nasa7, OXYGEN, WATER};
use crate::engine::GAS_CONSTANT_J_KMOL_K;
use crate::fuel::{AIR_PER_OXYGEN, Fuel, Hydrocarbon, OXYGEN_KG_KMOL, molar_mass_per_carbon};

/// Temperature below which burned gas keeps its composition, K.
///
/// In an expansion the reactions stop keeping up between 1400 and 1800 K (from memory of Heywood, ch. 4, which freezes the
/// water-gas reaction near 1740 K); the residual of the reference tables was taken at 1500 K too.
pub const FROZEN_K: f64 = 1500.0;
const STEP_K: f64 = 100.0;
const TEMPERATURES: usize = 22;
/// ln of 10 kPa; the cubic needs a column more at each end.
const LOWEST_LN_PA: f64 = 9.210_340_371_976_184;
const LN_PA_STEP: f64 = 0.85;
const PRESSURES: usize = 12;
const MIDDLE_K: f64 = 1000.0;
/// Range of the polynomials in use, K; beyond it the heat capacity stands still.
const RANGE_K: [f64; 2] = [180.0, 4500.0];
/// Argon per nitrogen by mole, and their mean molar mass, as in [`crate::engine::products`].
const ARGON_SHARE: f64 = 0.0093 / (0.7808 + 0.0093);
const NITROGEN_KG_KMOL: f64 = 28.155;
const WATER_KG_KMOL: f64 = 18.015;

/// Gas of fixed composition, per kilogram.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KilogramGas {
    heat_capacity: [[f64; 5]; 2],
    enthalpy: [[f64; 6]; 2],
    /// Gas constant, J/kg K.
    pub gas_constant_j_kg_k: f64,
}

impl KilogramGas {
    /// From amounts in kmol per kilogram.
    fn new(parts: impl IntoIterator<Item = (f64, Nasa7)>) -> Self {
        let mut gas = Self {
            heat_capacity: [[0.0; 5]; 2],
            enthalpy: [[0.0; 6]; 2],
            gas_constant_j_kg_k: 0.0,
        };
        for (kmol, species) in parts {
            let amount = kmol * GAS_CONSTANT_J_KMOL_K;
            gas.gas_constant_j_kg_k += amount;
            for (range, a) in [species.low, species.high].iter().enumerate() {
                gas.enthalpy[range][0] += amount * a[5];
                for (power, coefficient) in a[..5].iter().enumerate() {
                    gas.heat_capacity[range][power] += amount * coefficient;
                    gas.enthalpy[range][power + 1] += amount * coefficient / (power as f64 + 1.0);
                }
            }
        }
        gas
    }

    /// A share of another gas mixed in by mass.
    #[must_use]
    pub fn with(&self, other: &Self, share: f64) -> Self {
        let mut mixed = *self;
        mixed.gas_constant_j_kg_k += share * (other.gas_constant_j_kg_k - self.gas_constant_j_kg_k);
        for range in 0..2 {
            for power in 0..5 {
                mixed.heat_capacity[range][power] +=
                    share * (other.heat_capacity[range][power] - self.heat_capacity[range][power]);
            }
            for power in 0..6 {
                mixed.enthalpy[range][power] +=
                    share * (other.enthalpy[range][power] - self.enthalpy[range][power]);
            }
        }
        mixed
    }

    /// Enthalpy with heat of formation, J/kg, and heat capacity, J/kg K.
    /// Equation (9.1).
    pub fn enthalpy_and_cp(&self, temperature_k: f64) -> (f64, f64) {
        let t = temperature_k.clamp(RANGE_K[0], RANGE_K[1]);
        let range = usize::from(t > MIDDLE_K);
        let (a, b) = (&self.heat_capacity[range], &self.enthalpy[range]);
        let cp = a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4])));
        let h = b[0] + t * (b[1] + t * (b[2] + t * (b[3] + t * (b[4] + t * b[5]))));
        (h + cp * (temperature_k - t), cp)
    }

    /// Enthalpy, J/kg.
    pub fn enthalpy_j_kg(&self, temperature_k: f64) -> f64 {
        self.enthalpy_and_cp(temperature_k).0
    }

    /// Ratio of heat capacities.
    pub fn gamma(&self, temperature_k: f64) -> f64 {
        let (_, cp) = self.enthalpy_and_cp(temperature_k);
        cp / (cp - self.gas_constant_j_kg_k)
    }

    /// Temperature at an enthalpy, K, by Newton's method; heat capacity varies so slowly that a few steps reach rounding.
    pub fn temperature_k(&self, enthalpy_j_kg: f64, near_k: f64) -> f64 {
        let mut t = near_k;
        for _ in 0..30 {
            let (h, cp) = self.enthalpy_and_cp(t);
            let step = (enthalpy_j_kg - h) / cp;
            t = (t + step).max(1.0);
            if step.abs() < 1e-9 * t {
                break;
            }
        }
        t
    }
}

/// State of burned gas with the slopes a cycle needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BurnedState {
    /// Enthalpy, J/kg.
    pub enthalpy_j_kg: f64,
    /// Its slope with temperature at constant pressure, J/kg K.
    pub enthalpy_by_k: f64,
    /// Its slope with pressure at constant temperature, J/kg Pa.
    pub enthalpy_by_pa: f64,
    /// Gas constant, J/kg K.
    pub gas_constant_j_kg_k: f64,
    /// Its slope with temperature.
    pub gas_constant_by_k: f64,
    /// Its slope with pressure.
    pub gas_constant_by_pa: f64,
}

/// Enthalpy and gas constant by which burned gas exceeds its frozen self.
type Node = [f64; 2];

/// Fresh charge and burned gas of one fuel at one λ, with the humidity of the air.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkingGas {
    /// Fresh charge: moist air and fuel vapour.
    pub fresh: KilogramGas,
    /// Burned gas with the composition of 1500 K.
    pub burned: KilogramGas,
    atoms: Atoms,
    /// Kilograms of fuel in a kilogram of fresh charge.
    pub fuel_share: f64,
    /// Kilograms of dry air in a kilogram of fresh charge.
    pub dry_air_share: f64,
    /// Lower heating value of the vapour, J/kg of fuel.
    pub heating_value_j_kg: f64,
    excess: Vec<[Node; PRESSURES]>,
}

/// Fuel vapour per kilogram; its enthalpy is moved so that burning it gives the stated heating value.
///
/// A petrol has the heat capacity of the surrogate of the reference tables (iso-octane 0.50, toluene 0.35, normal heptane 0.15
/// by mole). Source: derived.
/// Equation (9.1).
fn fuel_vapour(fuel: &Fuel) -> KilogramGas {
    let alcohol = fuel.ethanol_mass_fraction + fuel.methanol_mass_fraction;
    let rest = (1.0 - alcohol).max(0.0);
    let (iso, toluene, heptane) = match fuel.hydrocarbon {
        Hydrocarbon::IsoOctane => (1.0 / 114.232, 0.0, 0.0),
        // Moles per kilogram of a surrogate of 104.396 kg/kmol.
        Hydrocarbon::Petrol => (0.50 / 104.396, 0.35 / 104.396, 0.15 / 104.396),
    };
    let mut vapour = KilogramGas::new([
        (rest * iso, ISO_OCTANE),
        (rest * toluene, TOLUENE),
        (rest * heptane, HEPTANE),
        (fuel.ethanol_mass_fraction / 46.069, ETHANOL),
        (fuel.methanol_mass_fraction / 32.042, METHANOL),
    ]);
    let reference_k = crate::engine::products::REFERENCE_K;
    let (h, o) = (fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon);
    let carbon = 1.0 / molar_mass_per_carbon(h, o);
    let products = KilogramGas::new([
        (carbon, CARBON_DIOXIDE),
        (carbon * h / 2.0, WATER),
        (-carbon * (1.0 + h / 4.0 - o / 2.0), OXYGEN),
    ]);
    let wanted = fuel.lower_heating_value_vapour_j_kg + products.enthalpy_j_kg(reference_k);
    let shift = wanted - vapour.enthalpy_j_kg(reference_k);
    vapour.enthalpy[0][0] += shift;
    vapour.enthalpy[1][0] += shift;
    vapour.gas_constant_j_kg_k = GAS_CONSTANT_J_KMOL_K / fuel.molar_mass_kg_kmol;
    vapour
}

impl WorkingGas {
    /// Prepares the gas of a fuel at a mixture λ; `humidity_ratio` is kilograms of water per kilogram of dry air.
    pub fn new(fuel: &Fuel, lambda: f64, humidity_ratio: f64) -> Self {
        let fuel_per_air = fuel.fuel_per_air(lambda);
        let mass = 1.0 + humidity_ratio + fuel_per_air;
        let (dry, wet, fuel_share) = (1.0 / mass, humidity_ratio / mass, fuel_per_air / mass);
        let oxygen = dry / (AIR_PER_OXYGEN * OXYGEN_KG_KMOL);
        let inert = dry * (1.0 - 1.0 / AIR_PER_OXYGEN) / NITROGEN_KG_KMOL;
        let water = wet / WATER_KG_KMOL;
        let air = KilogramGas::new([
            (oxygen / (dry + wet), OXYGEN),
            (inert * (1.0 - ARGON_SHARE) / (dry + wet), NITROGEN),
            (inert * ARGON_SHARE / (dry + wet), ARGON),
            (water / (dry + wet), WATER),
        ]);
        let (h, o) = (fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon);
        let carbon = fuel_share / molar_mass_per_carbon(h, o);
        let atoms = Atoms {
            carbon,
            hydrogen: carbon * h + 2.0 * water,
            oxygen: carbon * o + 2.0 * oxygen + water,
            nitrogen: 2.0 * inert * (1.0 - ARGON_SHARE),
            argon: inert * ARGON_SHARE,
        };
        let mut gas = Self {
            fresh: air.with(&fuel_vapour(fuel), fuel_share),
            burned: air,
            atoms,
            fuel_share,
            dry_air_share: dry,
            heating_value_j_kg: fuel.lower_heating_value_vapour_j_kg,
            excess: Vec::new(),
        };
        gas.tabulate();
        gas
    }

    /// Burned gas at a temperature and pressure: its equilibrium composition.
    pub fn composition(&self, temperature_k: f64, pressure_pa: f64) -> Composition {
        let mut from = self.atoms.hot_start(pressure_pa);
        let mut hot_k = TABLE_TOP_K;
        while hot_k > temperature_k {
            from = self.atoms.equilibrium(hot_k, pressure_pa, from).1;
            hot_k -= STEP_K;
        }
        self.atoms.equilibrium(temperature_k, pressure_pa, from).0
    }

    /// Fills the table of what dissociation adds, marching down from the hottest row.
    /// Equation (9.2).
    fn tabulate(&mut self) {
        let frozen = self.composition(FROZEN_K, 1e6);
        let gas_of = |mix: &Composition| {
            KilogramGas::new((0..SPECIES).map(|k| (mix.kmol_kg[k], POLYNOMIALS[k])))
        };
        self.burned = gas_of(&frozen);
        // One row more at each end carries the slopes of the edges.
        let mut rows = vec![[[0.0; 2]; PRESSURES]; TEMPERATURES + 2];
        let pressures_pa: [f64; PRESSURES] =
            std::array::from_fn(|k| (LOWEST_LN_PA + LN_PA_STEP * k as f64).exp());
        let mut from = pressures_pa.map(|pascal| self.atoms.hot_start(pascal));
        for row in (1..TEMPERATURES).rev() {
            let kelvin = FROZEN_K + STEP_K * row as f64;
            let still = self.burned.enthalpy_j_kg(kelvin);
            for ((node, pascal), from) in rows[row + 1].iter_mut().zip(pressures_pa).zip(&mut from)
            {
                let (mix, found) = self.atoms.equilibrium(kelvin, pascal, *from);
                *from = found;
                let gas = gas_of(&mix);
                *node = [
                    gas.enthalpy_j_kg(kelvin) - still,
                    gas.gas_constant_j_kg_k - self.burned.gas_constant_j_kg_k,
                ];
            }
        }
        rows[0] = beyond(&rows[1], &rows[2], &rows[3]);
        let top = TEMPERATURES;
        rows[top + 1] = beyond(&rows[top], &rows[top - 1], &rows[top - 2]);
        self.excess = rows;
    }

    /// Burned gas at a temperature and pressure, with its slopes.
    ///
    /// A cubic through the four nearest rows and columns (100 K, a factor 2.3 in pressure). Held at the table's edges, 0.23 to
    /// 490 bar and 3600 K, where it keeps the composition of the edge.
    pub fn burned_state(&self, temperature_k: f64, pressure_pa: f64) -> BurnedState {
        let (h, cp) = self.burned.enthalpy_and_cp(temperature_k);
        let mut state = BurnedState {
            enthalpy_j_kg: h,
            enthalpy_by_k: cp,
            enthalpy_by_pa: 0.0,
            gas_constant_j_kg_k: self.burned.gas_constant_j_kg_k,
            gas_constant_by_k: 0.0,
            gas_constant_by_pa: 0.0,
        };
        if temperature_k <= FROZEN_K {
            return state;
        }
        let rows = Weights::at((temperature_k - FROZEN_K) / STEP_K, TEMPERATURES);
        let ln_place = (pressure_pa.ln() - LOWEST_LN_PA) / LN_PA_STEP - 1.0;
        let columns = Weights::at(ln_place, PRESSURES - 2);
        let (mut value, mut by_row, mut by_column) = ([0.0; 2], [0.0; 2], [0.0; 2]);
        for i in 0..4 {
            let nodes = &self.excess[rows.first + i][columns.first..columns.first + 4];
            for part in 0..2 {
                let (mut along, mut slope) = (0.0, 0.0);
                for (j, node) in nodes.iter().enumerate() {
                    along += columns.value[j] * node[part];
                    slope += columns.slope[j] * node[part];
                }
                value[part] += rows.value[i] * along;
                by_row[part] += rows.slope[i] * along;
                by_column[part] += rows.value[i] * slope;
            }
        }
        let per_pa = 1.0 / (LN_PA_STEP * pressure_pa);
        state.enthalpy_j_kg += value[0];
        state.enthalpy_by_k += by_row[0] / STEP_K;
        state.enthalpy_by_pa = by_column[0] * per_pa;
        state.gas_constant_j_kg_k += value[1];
        state.gas_constant_by_k = by_row[1] / STEP_K;
        state.gas_constant_by_pa = by_column[1] * per_pa;
        state
    }

    /// Temperature of burned gas at an enthalpy and pressure, K, with the state there, by Newton's method from a guess.
    pub fn burned_at_enthalpy(
        &self,
        enthalpy_j_kg: f64,
        pressure_pa: f64,
        near_k: f64,
    ) -> (f64, BurnedState) {
        let mut t = near_k.clamp(RANGE_K[0], RANGE_K[1]);
        let mut state = self.burned_state(t, pressure_pa);
        for _ in 0..20 {
            let step = (enthalpy_j_kg - state.enthalpy_j_kg) / state.enthalpy_by_k;
            if step.abs() < 1e-4 * t {
                // So near that the slopes themselves stand: what is left goes with the square of the step.
                t += step;
                state.enthalpy_j_kg = enthalpy_j_kg;
                state.gas_constant_j_kg_k += state.gas_constant_by_k * step;
                break;
            }
            t = (t + step).clamp(100.0, 6000.0);
            state = self.burned_state(t, pressure_pa);
        }
        (t, state)
    }
}

/// The row past an edge, on the parabola through the three rows before it.
fn beyond(
    last: &[Node; PRESSURES],
    second: &[Node; PRESSURES],
    third: &[Node; PRESSURES],
) -> [Node; PRESSURES] {
    std::array::from_fn(|column| {
        std::array::from_fn(|part| {
            3.0 * (last[column][part] - second[column][part]) + third[column][part]
        })
    })
}

/// Hottest row of the table, K.
const TABLE_TOP_K: f64 = FROZEN_K + STEP_K * (TEMPERATURES as f64 - 1.0);

/// Weights of a cubic with slopes from the neighbours: value and slope by place.
struct Weights {
    first: usize,
    value: [f64; 4],
    slope: [f64; 4],
}

impl Weights {
    /// Around a place counted from the second stored node; held between 0 and `count − 1`.
    fn at(place: f64, count: usize) -> Self {
        let top = count as f64 - 1.0;
        let held = place.clamp(0.0, top);
        let first = whole(held).min(count - 2);
        let t = held - first as f64;
        let (s, t2) = (1.0 - t, t * t);
        let value = [
            -0.5 * t * s * s,
            1.0 + t2 * (1.5 * t - 2.5),
            t * (0.5 + t * (2.0 - 1.5 * t)),
            -0.5 * t2 * s,
        ];
        let slope = if place > top || place < 0.0 {
            [0.0; 4]
        } else {
            [
                -0.5 + t * (2.0 - 1.5 * t),
                t * (4.5 * t - 5.0),
                0.5 + t * (4.0 - 4.5 * t),
                t * (1.5 * t - 1.0),
            ]
        };
        Self {
            first,
            value,
            slope,
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "truncation is the purpose; places in a table are small and not negative"
)]
fn whole(place: f64) -> usize {
    place as usize
}
