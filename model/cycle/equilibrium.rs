//! Chemical equilibrium of burned gas: which species a mixture of carbon, hydrogen, oxygen and nitrogen falls into.
//!
//! Exists because burned gas above 1500 K is not a fixed mixture: dissociation takes up heat at the top of the cycle and
//! gives it back late. Eleven species are kept (N₂, O₂, Ar, CO₂, CO, H₂O, H₂, OH, H, O, NO). It refuses condensed carbon, so λ below
//! 0.5 is not for it.
//!
//! Source: mass action and atom balance (derived); Gibbs energies from the NASA polynomials of `species`.

use super::species::{
    CARBON_MONOXIDE, HYDROGEN, HYDROGEN_ATOM, HYDROXYL, NITRIC_OXIDE, OXYGEN_ATOM, STANDARD_PA,
};
use crate::air::gas::{ARGON, CARBON_DIOXIDE, NITROGEN, Nasa7, OXYGEN, WATER};

/// Number of species kept.
pub const SPECIES: usize = 11;
/// The species, in the order of [`Composition::kmol_kg`].
pub const ORDER: [&str; SPECIES] = [
    "N2", "O2", "Ar", "CO2", "CO", "H2O", "H2", "OH", "H", "O", "NO",
];
/// Their polynomials, in that order.
pub(super) const POLYNOMIALS: [Nasa7; SPECIES] = [
    NITROGEN,
    OXYGEN,
    ARGON,
    CARBON_DIOXIDE,
    CARBON_MONOXIDE,
    WATER,
    HYDROGEN,
    HYDROXYL,
    HYDROGEN_ATOM,
    OXYGEN_ATOM,
    NITRIC_OXIDE,
];

/// Atoms in a kilogram of mixture, kmol.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Atoms {
    /// Carbon.
    pub carbon: f64,
    /// Hydrogen.
    pub hydrogen: f64,
    /// Oxygen.
    pub oxygen: f64,
    /// Nitrogen.
    pub nitrogen: f64,
    /// Argon.
    pub argon: f64,
}

/// Amounts of each species.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Composition {
    /// Amounts in the order of [`ORDER`], kmol per kg of mixture.
    pub kmol_kg: [f64; SPECIES],
}

/// Where a solution was found; the start of the next one nearby.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    ln_root_oxygen: f64,
    ln_scale: f64,
}

/// Constants of formation from H₂, O₂, N₂ and CO at one temperature.
struct Constants {
    hydrogen_atom: f64,
    oxygen_atom: f64,
    hydroxyl: f64,
    nitric_oxide: f64,
    water: f64,
    carbon_dioxide: f64,
}

fn gibbs(species: &Nasa7, temperature_k: f64) -> f64 {
    species.enthalpy_over_r_k(temperature_k) / temperature_k - species.entropy_over_r(temperature_k)
}

impl Constants {
    fn at(temperature_k: f64) -> Self {
        let g = |species: &Nasa7| gibbs(species, temperature_k);
        let (hydrogen, oxygen, nitrogen) =
            (g(&HYDROGEN) / 2.0, g(&OXYGEN) / 2.0, g(&NITROGEN) / 2.0);
        Self {
            hydrogen_atom: (hydrogen - g(&HYDROGEN_ATOM)).exp(),
            oxygen_atom: (oxygen - g(&OXYGEN_ATOM)).exp(),
            hydroxyl: (hydrogen + oxygen - g(&HYDROXYL)).exp(),
            nitric_oxide: (nitrogen + oxygen - g(&NITRIC_OXIDE)).exp(),
            water: (2.0 * hydrogen + oxygen - g(&WATER)).exp(),
            carbon_dioxide: (g(&CARBON_MONOXIDE) + oxygen - g(&CARBON_DIOXIDE)).exp(),
        }
    }
}

/// Oxygen atoms in each species.
const OXYGEN_ATOMS: [f64; SPECIES] = [0.0, 2.0, 0.0, 2.0, 1.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];

/// Newton's steps allowed; some ten are enough from a neighbouring state.
const MOST_STEPS: usize = 200;
/// Largest step in either logarithm.
const LONGEST_STEP: f64 = 2.0;

impl Atoms {
    /// Start for a hot state (3000 K and up), where everything is present in quantity.
    pub(super) fn hot_start(&self, pressure_pa: f64) -> Start {
        let p = pressure_pa / STANDARD_PA;
        let kmol = self.carbon + 0.5 * (self.hydrogen + self.nitrogen) + self.argon;
        Start {
            ln_root_oxygen: 0.5 * (0.05 * p).ln(),
            ln_scale: (p / kmol).ln(),
        }
    }

    /// Equilibrium composition at a temperature and pressure, from a neighbouring state.
    ///
    /// ```text
    /// p_H = K √p_H2,  p_O = K √p_O2,  p_OH = K √(p_H2 p_O2),  p_NO = K √(p_N2 p_O2),
    /// p_H2O = K p_H2 √p_O2,  p_CO2 = K p_CO √p_O2;   Σ atoms = s · b,  Σ p = p
    /// ```
    ///
    /// For a given root of the oxygen pressure and scale s the carbon, hydrogen and nitrogen balances are solved in closed form; Newton's method in
    /// both logarithms does the rest. Source: derived.
    /// Equation (9.2).
    pub(super) fn equilibrium(
        &self,
        temperature_k: f64,
        pressure_pa: f64,
        from: Start,
    ) -> (Composition, Start) {
        let k = Constants::at(temperature_k);
        let total = pressure_pa / STANDARD_PA;
        let mut at = from;
        let mut partial = [0.0; SPECIES];
        for _ in 0..MOST_STEPS {
            let (p, residual, slope) = self.balance(&k, total, at);
            partial = p;
            let [[a, b], [c, d]] = slope;
            let determinant = a * d - b * c;
            let step = [
                (residual[0] * d - residual[1] * b) / determinant,
                (residual[1] * a - residual[0] * c) / determinant,
            ];
            let size = step[0].abs().max(step[1].abs());
            let share = if size > LONGEST_STEP {
                LONGEST_STEP / size
            } else {
                1.0
            };
            at.ln_root_oxygen -= share * step[0];
            at.ln_scale -= share * step[1];
            if size < 1e-11 {
                break;
            }
        }
        let scale = at.ln_scale.exp();
        let kmol_kg = partial.map(|p| p / scale);
        (Composition { kmol_kg }, at)
    }

    /// Partial pressures (over the standard one), residuals of the oxygen balance and of the sum, and their slopes.
    /// Equation (9.2).
    fn balance(
        &self,
        k: &Constants,
        total: f64,
        at: Start,
    ) -> ([f64; SPECIES], [f64; 2], [[f64; 2]; 2]) {
        let (o, s) = (at.ln_root_oxygen.exp(), at.ln_scale.exp());
        let taken = k.carbon_dioxide * o;
        let co = s * self.carbon / (1.0 + taken);
        let co2 = co * taken;
        let (co_o, co2_o) = (-co * taken / (1.0 + taken), co2 / (1.0 + taken));

        // 2 h² (1 + K o) + h (K o + K) = s b_H with h = √p_H2.
        let wet = 1.0 + k.water * o;
        let single = k.hydroxyl * o + k.hydrogen_atom;
        let hydrogen = s * self.hydrogen;
        let h = 2.0 * hydrogen / (single + (single * single + 8.0 * wet * hydrogen).sqrt());
        let bend = 4.0 * h * wet + single;
        let (h_s, h_o) = (
            hydrogen / bend,
            -(2.0 * h * h * k.water * o + h * k.hydroxyl * o) / bend,
        );
        let (h2, h2o, oh, h1) = (
            h * h,
            k.water * h * h * o,
            k.hydroxyl * h * o,
            k.hydrogen_atom * h,
        );

        let bound = k.nitric_oxide * o;
        let nitrogen = s * self.nitrogen;
        let n = 2.0 * nitrogen / (bound + (bound * bound + 8.0 * nitrogen).sqrt());
        let bend = 4.0 * n + bound;
        let (n_s, n_o) = (nitrogen / bend, -n * bound / bend);
        let (n2, no) = (n * n, bound * n);

        let (o2, o1) = (o * o, k.oxygen_atom * o);
        let argon = s * self.argon;
        let partial = [n2, o2, argon, co2, co, h2o, h2, oh, h1, o1, no];

        // Slopes of every partial pressure by ln o and by ln s.
        let by_o = [
            2.0 * n * n_o,
            2.0 * o2,
            0.0,
            co2_o,
            co_o,
            h2o + 2.0 * k.water * o * h * h_o,
            2.0 * h * h_o,
            oh + k.hydroxyl * o * h_o,
            k.hydrogen_atom * h_o,
            o1,
            no + bound * n_o,
        ];
        let by_s = [
            2.0 * n * n_s,
            0.0,
            argon,
            co2,
            co,
            2.0 * k.water * o * h * h_s,
            2.0 * h * h_s,
            k.hydroxyl * o * h_s,
            k.hydrogen_atom * h_s,
            0.0,
            bound * n_s,
        ];
        let dot = |v: &[f64; SPECIES]| v.iter().zip(OXYGEN_ATOMS).map(|(a, b)| a * b).sum::<f64>();
        let all = |v: &[f64; SPECIES]| v.iter().sum::<f64>();
        let wanted = s * self.oxygen;
        let (have, have_o, have_s) = (dot(&partial), dot(&by_o), dot(&by_s));
        let residual = [have / wanted - 1.0, all(&partial) / total - 1.0];
        let slope = [
            [have_o / wanted, (have_s - have) / wanted],
            [all(&by_o) / total, all(&by_s) / total],
        ];
        (partial, residual, slope)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// From very rich to very lean, from the freezing point to the hottest flame, from intake vacuum to twice any peak pressure:
    /// the atoms come back and the pressures add up, to the rounding of Newton's last step.
    #[test]
    fn atoms_are_conserved_in_every_corner() {
        for lambda in [0.55, 0.7, 0.9, 0.99, 1.0, 1.01, 1.2, 1.6] {
            // C H₁.₈₇ with oxygen for λ, nitrogen and argon of air.
            let oxygen = 2.0 * lambda * (1.0 + 1.87 / 4.0);
            let atoms = Atoms {
                carbon: 0.004,
                hydrogen: 0.004 * 1.87,
                oxygen: 0.004 * oxygen,
                nitrogen: 0.004 * oxygen * 3.727,
                argon: 0.004 * oxygen * 0.0222,
            };
            for pressure_pa in [1e4, 1e5, 3e6, 5e7] {
                let mut from = atoms.hot_start(pressure_pa);
                for row in (0..=22).rev() {
                    let (mix, found) =
                        atoms.equilibrium(1400.0 + 100.0 * f64::from(row), pressure_pa, from);
                    from = found;
                    let [n2, o2, ar, co2, co, h2o, h2, oh, h, o, no] = mix.kmol_kg;
                    for (have, want) in [
                        (co2 + co, atoms.carbon),
                        (2.0 * (h2o + h2) + oh + h, atoms.hydrogen),
                        (2.0 * (o2 + co2) + co + h2o + oh + o + no, atoms.oxygen),
                        (2.0 * n2 + no, atoms.nitrogen),
                        (ar, atoms.argon),
                    ] {
                        assert!(
                            (have / want - 1.0).abs() < 1e-10,
                            "{lambda} {pressure_pa} {row}"
                        );
                    }
                }
            }
        }
    }
}
