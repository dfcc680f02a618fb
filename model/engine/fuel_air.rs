//! What an ideal engine could do with the fuel: the equilibrium fuel-air cycle against compression and mixture.
//!
//! Exists because efficiency written as fuel energy times a constant puts best torque at the wrong mixture: dissociation
//! and the oxygen limit decide, and only an equilibrium computation knows both. The table (`fuel_air.csv`, made with
//! Cantera 3.2) holds six fuels, compression 8..14, λ 0.70..1.40, at 350 K, 1 bar and 5 % residual. It refuses to give
//! the level of a real engine: see [`super::combustion`].

use super::whole_part;
use crate::fuel::{Fuel, Hydrocarbon};
use crate::numeric::Real;
use std::sync::LazyLock;

const TABLE_TEXT: &str = include_str!("fuel_air.csv");
const FUELS: usize = 6;
const RATIOS: usize = 7;
const MIXTURES: usize = 15;
/// Lowest and highest compression ratio of the table.
pub const COMPRESSION_RANGE: [f64; 2] = [8.0, 14.0];
/// Leanest and richest λ of the table.
pub const LAMBDA_RANGE: [f64; 2] = [0.70, 1.40];
const LAMBDA_STEP: f64 = 0.05;

/// Fuels of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableFuel {
    /// Iso-octane.
    IsoOctane,
    /// Petrol surrogate: iso-octane, toluene, n-heptane 0.50, 0.35, 0.15 by mole.
    Petrol,
    /// The surrogate with 11 % ethanol by mass.
    PetrolEthanol11,
    /// The surrogate with 86 % ethanol by mass.
    PetrolEthanol86,
    /// Ethanol.
    Ethanol,
    /// Methanol.
    Methanol,
}

impl TableFuel {
    /// All fuels, in the table's order.
    pub const ALL: [Self; FUELS] = [
        Self::IsoOctane,
        Self::Petrol,
        Self::PetrolEthanol11,
        Self::PetrolEthanol86,
        Self::Ethanol,
        Self::Methanol,
    ];

    /// Name in the table.
    pub fn key(self) -> &'static str {
        match self {
            Self::IsoOctane => "isooctane",
            Self::Petrol => "trf",
            Self::PetrolEthanol11 => "trf_eth11",
            Self::PetrolEthanol86 => "trf_eth86",
            Self::Ethanol => "ethanol",
            Self::Methanol => "methanol",
        }
    }
}

type Nodes = [[[f64; MIXTURES]; RATIOS]; FUELS];

static NODES: LazyLock<Nodes> = LazyLock::new(|| parse(TABLE_TEXT));

/// Reads the embedded table; a test holds that it fills every node.
fn parse(text: &str) -> Nodes {
    let mut nodes = [[[f64::NAN; MIXTURES]; RATIOS]; FUELS];
    for line in text.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let mut cells = line.split(',');
        let fuel = cells
            .next()
            .and_then(|key| TableFuel::ALL.iter().position(|f| f.key() == key));
        let mut number = || cells.next().and_then(|cell| cell.parse::<f64>().ok());
        let (ratio, lambda) = (number(), number());
        let efficiency = cells.nth(3).and_then(|cell| cell.parse::<f64>().ok());
        if let (Some(fuel), Some(ratio), Some(lambda), Some(efficiency)) =
            (fuel, ratio, lambda, efficiency)
        {
            let row = whole_part((ratio - COMPRESSION_RANGE[0]).round());
            let column = whole_part(((lambda - LAMBDA_RANGE[0]) / LAMBDA_STEP).round());
            if row < RATIOS && column < MIXTURES {
                nodes[fuel][row][column] = efficiency;
            }
        }
    }
    nodes
}

/// Cubic Hermite interpolation through equally spaced nodes with parabolic slopes: C1, passes through every node,
/// continued beyond both ends along the end slope.
///
/// `place` is the position in steps from the first node. Fewer than three nodes are joined by straight lines.
fn hermite(values: &[f64], place: f64) -> f64 {
    let last = values.len() - 1;
    let slope = |i: usize| -> f64 {
        if last < 2 {
            values[last] - values[0]
        } else if i == 0 {
            -1.5 * values[0] + 2.0 * values[1] - 0.5 * values[2]
        } else if i == last {
            1.5 * values[last] - 2.0 * values[last - 1] + 0.5 * values[last - 2]
        } else {
            0.5 * (values[i + 1] - values[i - 1])
        }
    };
    if place <= 0.0 {
        return values[0] + place * slope(0);
    }
    if place >= last as f64 {
        return values[last] + (place - last as f64) * slope(last);
    }
    let i = whole_part(place).min(last - 1);
    let t = place - i as f64;
    let (a, b) = (values[i], values[i + 1]);
    let (u, v) = (slope(i), slope(i + 1));
    let rise = b - a;
    a + t * (u + t * (3.0 * rise - 2.0 * u - v + t * (u + v - 2.0 * rise)))
}

fn ratio_place(compression_ratio: f64) -> f64 {
    compression_ratio - COMPRESSION_RANGE[0]
}

fn lambda_place(lambda: f64) -> f64 {
    (lambda - LAMBDA_RANGE[0]) / LAMBDA_STEP
}

/// Efficiency of the ideal fuel-air cycle on the heating value of the vapour.
///
/// Interpolated in λ within each compression ratio, then in compression; C1 everywhere. Exact at the nodes; between
/// them the error is below 0.1 %: leaving out every second node (twice the spacing) costs at most 0.30 %, at λ = 1, and a
/// computed r = 9.5 is met within 0.02 %.
/// Outside the table it continues along the edge's slope, not below 0.
/// Source: equilibrium computation with Cantera 3.2. Worked: iso-octane, r = 10, λ = 1: 0.4645.
/// Equation (3.2).
pub fn efficiency(fuel: TableFuel, compression_ratio: f64, lambda: f64) -> f64 {
    interpolate(&NODES[fuel as usize], compression_ratio, lambda)
}

fn interpolate(rows: &[[f64; MIXTURES]; RATIOS], compression_ratio: f64, lambda: f64) -> f64 {
    let column = rows.map(|row| hermite(&row, lambda_place(lambda)));
    hermite(&column, ratio_place(compression_ratio)).max(0.0)
}

/// Relative change of efficiency with the state at the start of compression.
///
/// ```text
/// η/η₀ = exp[ a (T₁ − 350 K)/100 K + b ln(p₁/1 bar) + c (x_r − 0.05) ]
/// ```
///
/// a, b, c at λ = 0.8, 0.9, 1.0, 1.1 (linear between, held outside) are least squares over compression 8..14,
/// T₁ 300..400 K, p₁ 0.5..3 bar, `x_r` 0..0.10 for iso-octane; largest error 0.5 % of efficiency (Cantera 3.2).
/// Worked: λ = 1, 400 K instead of 350 K: −1.1 %.
/// Source: least squares on the equilibrium tables.
/// Equation (3.3).
#[inline(always)]
pub fn condition_factor<R: Real>(
    lambda: R,
    start_temperature_k: R,
    start_pressure_pa: R,
    residual_fraction: R,
) -> R {
    let pressure_ln = start_pressure_pa.ln();
    condition_factor_of_ln(lambda, start_temperature_k, pressure_ln, residual_fraction)
}

/// The same of the pressure's logarithm.
/// Equation (3.3).
#[inline(always)]
pub(crate) fn condition_factor_of_ln<R: Real>(
    lambda: R,
    start_temperature_k: R,
    start_pressure_ln: R,
    residual_fraction: R,
) -> R {
    const AT: [[f64; 3]; 4] = [
        [-0.01017, 0.00120, 0.09676],
        [-0.01429, 0.00279, 0.12533],
        [-0.02116, 0.00620, 0.18095],
        [-0.01860, 0.00360, 0.14483],
    ];
    let place = (lambda - 0.8) / 0.1;
    // How far along each of the three pieces.
    let along = [
        place.within(0.0, 1.0),
        (place - 1.0).within(0.0, 1.0),
        (place - 2.0).within(0.0, 1.0),
    ];
    let at = |k: usize| {
        let rise = |piece: usize| along[piece] * (AT[piece + 1][k] - AT[piece][k]);
        rise(0) + rise(1) + rise(2) + AT[0][k]
    };
    let exponent = at(0) * (start_temperature_k - 350.0) / 100.0
        + at(1) * (start_pressure_ln - 1e5_f64.ln())
        + at(2) * (residual_fraction - 0.05);
    exponent.exp()
}

/// Ideal work per kilogram of air against λ, for one fuel and one compression ratio: the quick form of [`efficiency`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MixtureCurve {
    efficiencies: [f64; MIXTURES],
    energy_per_air_j_kg: f64,
}

impl MixtureCurve {
    /// Prepares the curve of a blend.
    ///
    /// Petrol with ethanol is interpolated between 0, 11, 86 and 100 % ethanol by mass of the non-methanol part;
    /// methanol enters by its share of the energy. Both linear; efficiencies differ by 4 % over the whole span.
    /// Equation (3.2).
    pub fn new(fuel: &Fuel, compression_ratio: f64) -> Self {
        let row = |fuel: TableFuel| -> [f64; MIXTURES] {
            let rows = &NODES[fuel as usize];
            std::array::from_fn(|k| {
                let column: [f64; RATIOS] = std::array::from_fn(|i| rows[i][k]);
                hermite(&column, ratio_place(compression_ratio)).max(0.0)
            })
        };
        let methanol_mass = fuel.methanol_mass_fraction.clamp(0.0, 1.0);
        let rest = 1.0 - methanol_mass;
        let ethanol = if rest > 0.0 {
            (fuel.ethanol_mass_fraction / rest).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let base = match fuel.hydrocarbon {
            Hydrocarbon::Petrol => TableFuel::Petrol,
            Hydrocarbon::IsoOctane => TableFuel::IsoOctane,
        };
        let (low, high, t) = if ethanol <= 0.11 {
            (base, TableFuel::PetrolEthanol11, ethanol / 0.11)
        } else if ethanol <= 0.86 {
            (
                TableFuel::PetrolEthanol11,
                TableFuel::PetrolEthanol86,
                (ethanol - 0.11) / 0.75,
            )
        } else {
            (
                TableFuel::PetrolEthanol86,
                TableFuel::Ethanol,
                (ethanol - 0.86) / 0.14,
            )
        };
        let (first, second, methanol) = (row(low), row(high), row(TableFuel::Methanol));
        let methanol_energy = methanol_mass * Fuel::methanol().lower_heating_value_vapour_j_kg
            / fuel.lower_heating_value_vapour_j_kg;
        let share = methanol_energy.clamp(0.0, 1.0);
        let efficiencies = std::array::from_fn(|k| {
            let petrol = first[k] + t * (second[k] - first[k]);
            petrol + share * (methanol[k] - petrol)
        });
        Self {
            efficiencies,
            energy_per_air_j_kg: fuel.energy_per_air_j_kg(),
        }
    }

    /// Efficiency on the vapour's heating value.
    pub fn efficiency(&self, lambda: f64) -> f64 {
        hermite(&self.efficiencies, lambda_place(lambda)).max(0.0)
    }

    /// Work of the ideal cycle per kilogram of dry air, J/kg: efficiency × energy per air / λ.
    ///
    /// Worked: petrol, r = 10, λ = 1: about 1.38 MJ/kg.
    /// Equation (3.2).
    pub fn work_j_kg_air(&self, lambda: f64) -> f64 {
        self.efficiency(lambda) * self.energy_per_air_j_kg / lambda
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_table_fills_every_node() {
        assert!(
            NODES
                .iter()
                .flatten()
                .flatten()
                .all(|value| (0.2..0.65).contains(value))
        );
    }

    /// The error at every second node when that node is left out and the spacing doubled. A cubic's error falls at
    /// least eightfold when the spacing is halved again, except at the kink of λ = 1.
    #[test]
    fn leaving_out_every_second_node_shows_the_interpolation_error() {
        let mut worst = 0.0_f64;
        for rows in NODES.iter() {
            for (i, row) in rows.iter().enumerate() {
                for (k, truth) in row.iter().enumerate() {
                    let coarse_rows: Vec<f64> = rows
                        .iter()
                        .step_by(2)
                        .map(|row| {
                            let coarse: Vec<f64> = row.iter().step_by(2).copied().collect();
                            hermite(&coarse, k as f64 / 2.0)
                        })
                        .collect();
                    let estimate = hermite(&coarse_rows, i as f64 / 2.0);
                    worst = worst.max((estimate / truth - 1.0).abs());
                }
            }
        }
        assert!(worst < 3.1e-3, "{worst}");
    }

    #[test]
    fn iso_octane_at_ten_to_one() {
        assert!((efficiency(TableFuel::IsoOctane, 10.0, 1.0) - 0.4645).abs() < 1e-4);
    }

    #[test]
    fn the_interpolation_has_no_corner_at_a_node_or_an_edge() {
        for lambda in [0.70, 0.95, 1.00, 1.40] {
            let at = |x: f64| efficiency(TableFuel::Petrol, 10.3, x);
            let (h, here) = (1e-6, at(lambda));
            let corner = (at(lambda + h) - here) / h - (here - at(lambda - h)) / h;
            assert!(corner.abs() < 1e-3, "{lambda}: {corner}");
        }
    }
}
