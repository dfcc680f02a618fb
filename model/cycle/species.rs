//! NASA polynomials of the species that the crank-angle layer adds to those of air: products, radicals and fuel vapours.
//!
//! Exists so that enthalpy and equilibrium come from one set of data. It refuses soot, unburned hydrocarbons among the products and
//! nitrogen oxides other than NO: together they hold less than a thousandth of the energy in the range of an engine.
//!
//! Source: NASA TM-4513 as in Cantera 3.2.0 `nasa_gas.yaml` (BSD-3), seven digits. Valid 200 to 6000 K, fuels to 3000 K or more.

use crate::air::gas::Nasa7;

/// Pressure at which the entropies of these polynomials hold, Pa.
pub(super) const STANDARD_PA: f64 = 101_325.0;

/// Carbon monoxide.
pub(super) const CARBON_MONOXIDE: Nasa7 = Nasa7 {
    low: [
        3.579533e+00,
        -6.103537e-04,
        1.016814e-06,
        9.070059e-10,
        -9.044245e-13,
        -1.434409e+04,
        3.508409e+00,
    ],
    high: [
        3.048486e+00,
        1.351728e-03,
        -4.857941e-07,
        7.885365e-11,
        -4.698075e-15,
        -1.426612e+04,
        6.017098e+00,
    ],
};
/// Hydrogen.
pub(super) const HYDROGEN: Nasa7 = Nasa7 {
    low: [
        2.344331e+00,
        7.980521e-03,
        -1.947815e-05,
        2.015721e-08,
        -7.376118e-12,
        -9.179352e+02,
        6.830102e-01,
    ],
    high: [
        2.932866e+00,
        8.266080e-04,
        -1.464023e-07,
        1.541004e-11,
        -6.888044e-16,
        -8.130656e+02,
        -1.024329e+00,
    ],
};
/// Hydroxyl radical.
pub(super) const HYDROXYL: Nasa7 = Nasa7 {
    low: [
        3.992015e+00,
        -2.401318e-03,
        4.617938e-06,
        -3.881133e-09,
        1.364115e-12,
        3.615081e+03,
        -1.039255e-01,
    ],
    high: [
        2.838646e+00,
        1.107256e-03,
        -2.939150e-07,
        4.205242e-11,
        -2.421691e-15,
        3.943959e+03,
        5.844527e+00,
    ],
};
/// Hydrogen atom.
pub(super) const HYDROGEN_ATOM: Nasa7 = Nasa7 {
    low: [
        2.500000e+00,
        0.0,
        0.0,
        0.0,
        0.0,
        2.547366e+04,
        -4.466829e-01,
    ],
    high: [
        2.500003e+00,
        -5.653342e-09,
        3.632517e-12,
        -9.199497e-16,
        7.952607e-20,
        2.547366e+04,
        -4.466985e-01,
    ],
};
/// Oxygen atom.
pub(super) const OXYGEN_ATOM: Nasa7 = Nasa7 {
    low: [
        3.168267e+00,
        -3.279319e-03,
        6.643064e-06,
        -6.128066e-09,
        2.112660e-12,
        2.912226e+04,
        2.051933e+00,
    ],
    high: [
        2.543637e+00,
        -2.731625e-05,
        -4.190295e-09,
        4.954818e-12,
        -4.795537e-16,
        2.922601e+04,
        4.922295e+00,
    ],
};
/// Nitric oxide.
pub(super) const NITRIC_OXIDE: Nasa7 = Nasa7 {
    low: [
        4.218599e+00,
        -4.639881e-03,
        1.104430e-05,
        -9.340555e-09,
        2.805549e-12,
        9.845100e+03,
        2.280610e+00,
    ],
    high: [
        3.260712e+00,
        1.191011e-03,
        -4.291226e-07,
        6.944815e-11,
        -4.032957e-15,
        9.921431e+03,
        6.369005e+00,
    ],
};
/// Iso-octane vapour, 114.232 kg/kmol.
pub(super) const ISO_OCTANE: Nasa7 = Nasa7 {
    low: [
        8.157373e-01,
        7.326440e-02,
        1.783007e-05,
        -6.935896e-08,
        3.216294e-11,
        -3.047729e+04,
        2.415100e+01,
    ],
    high: [
        1.598993e+01,
        5.531848e-02,
        -1.952671e-05,
        3.117792e-09,
        -1.853126e-13,
        -3.587580e+04,
        -6.011614e+01,
    ],
};
/// Toluene vapour, 92.141 kg/kmol.
pub(super) const TOLUENE: Nasa7 = Nasa7 {
    low: [
        1.611914e+00,
        2.111889e-02,
        8.532215e-05,
        -1.325669e-07,
        5.594061e-11,
        4.096520e+03,
        2.029736e+01,
    ],
    high: [
        1.293947e+01,
        2.669216e-02,
        -9.684201e-06,
        1.573921e-09,
        -9.466705e-14,
        -6.770358e+02,
        -4.672553e+01,
    ],
};
/// Normal heptane vapour, 100.205 kg/kmol.
pub(super) const HEPTANE: Nasa7 = Nasa7 {
    low: [
        1.115325e+01,
        -9.494154e-03,
        1.955712e-04,
        -2.497525e-07,
        9.848732e-11,
        -2.677117e+04,
        -1.590961e+01,
    ],
    high: [
        1.853547e+01,
        3.914205e-02,
        -1.380303e-05,
        2.224039e-09,
        -1.334526e-13,
        -3.195008e+04,
        -7.019028e+01,
    ],
};
/// Ethanol vapour, 46.069 kg/kmol.
pub(super) const ETHANOL: Nasa7 = Nasa7 {
    low: [
        4.858682e+00,
        -3.740067e-03,
        6.955503e-05,
        -8.865411e-08,
        3.516844e-11,
        -2.999613e+04,
        4.801923e+00,
    ],
    high: [
        6.562898e+00,
        1.520343e-02,
        -5.389222e-06,
        8.621502e-10,
        -5.128247e-14,
        -3.152580e+04,
        -9.475576e+00,
    ],
};
/// Methanol vapour, 32.042 kg/kmol.
pub(super) const METHANOL: Nasa7 = Nasa7 {
    low: [
        5.715396e+00,
        -1.523091e-02,
        6.524412e-05,
        -7.108069e-08,
        2.613527e-11,
        -2.564277e+04,
        -1.504098e+00,
    ],
    high: [
        3.601345e+00,
        1.024310e-02,
        -3.599855e-06,
        5.725060e-10,
        -3.391176e-14,
        -2.599719e+04,
        4.705123e+00,
    ],
};
