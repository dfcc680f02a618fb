//! Water in the air: saturation, dew point, wet bulb, humidity ratio, density.
//!
//! It exists because oxygen and fuel follow the *dry* part of the pressure, so every weather factor
//! and every gram of trapped air starts by taking the vapour out. Air and vapour are treated as
//! ideal gases that do not know each other: the enhancement of the saturation pressure by the air
//! (0.4 to 0.5 %) is left out, as ASHRAE's equations leave it out. It refuses to guess: a wet bulb
//! or dew point with no solution gives `None`.

/// Gas constant of dry air, J/(kg K). Source: ASHRAE Fundamentals 2017, ch. 1, eqn 1, as held by
/// `PsychroLib` 2.5.0.
pub const DRY_AIR_J_KG_K: f64 = 287.042;

/// Molar mass of water over that of dry air. Source: ASHRAE Fundamentals 2017, ch. 1, eqn 20
/// (0.621945).
pub const WATER_TO_AIR_MASS: f64 = 0.621945;

/// Gas constant of water vapour, J/(kg K); derived from the two above: 461.52.
pub const WATER_VAPOUR_J_KG_K: f64 = DRY_AIR_J_KG_K / WATER_TO_AIR_MASS;

/// Mole fraction of oxygen in dry air. Source: ISO 2533 composition, from memory.
pub const OXYGEN_MOLE_FRACTION_DRY: f64 = 0.2095;

/// Triple point of water, K; the switch between ice and water. ASHRAE prints 0 °C, but there the
/// two branches leave a step and the dew point inversion would not converge (the same departure as
/// in `PsychroLib` 2.5.0).
pub const TRIPLE_POINT_K: f64 = 273.16;

/// 0 °C in kelvin, where a wet bulb's wick is taken to freeze.
const FREEZING_K: f64 = 273.15;

/// Lowest and highest temperature of the two saturation equations, K (−100 °C and 200 °C).
const SATURATION_RANGE_K: (f64, f64) = (173.15, 473.15);

/// Natural logarithm of the saturation pressure (Pa) and its slope against temperature, 1/K.
/// Equation (1.1).
fn ln_saturation(temperature_k: f64) -> (f64, f64) {
    let t = temperature_k;
    if t <= TRIPLE_POINT_K {
        let ln_p = -5.6745359e3 / t + 6.3925247 - 9.677843e-3 * t
            + 6.2215701e-7 * t * t
            + 2.0747825e-9 * t.powi(3)
            - 9.484024e-13 * t.powi(4)
            + 4.1635019 * t.ln();
        let slope = 5.6745359e3 / (t * t) - 9.677843e-3
            + 2.0 * 6.2215701e-7 * t
            + 3.0 * 2.0747825e-9 * t * t
            - 4.0 * 9.484024e-13 * t.powi(3)
            + 4.1635019 / t;
        (ln_p, slope)
    } else {
        let ln_p = -5.8002206e3 / t + 1.3914993 - 4.8640239e-2 * t + 4.1764768e-5 * t * t
            - 1.4452093e-8 * t.powi(3)
            + 6.5459673 * t.ln();
        let slope = 5.8002206e3 / (t * t) - 4.8640239e-2 + 2.0 * 4.1764768e-5 * t
            - 3.0 * 1.4452093e-8 * t * t
            + 6.5459673 / t;
        (ln_p, slope)
    }
}

/// Saturation pressure of water vapour, Pa: over ice up to the triple point, over water above it.
///
/// ```text
/// ln p = Σ cᵢ Tⁱ + c ln T      (Hyland and Wexler)
/// ```
///
/// Holds for: −100 to 200 °C; within 0.023 % of IAPWS-95 from 0.5 to 50 °C. Outside, the end value
/// is returned. Weather stations report humidity below freezing over supercooled water, 5 % more at
/// −5 °C: 1.3e-4 in a factor.
/// Source: ASHRAE Fundamentals 2017, ch. 1, eqns 5 and 6 (coefficients read in `PsychroLib` 2.5.0).
/// Worked: 20 °C gives 2338.80 Pa.
/// Equation (1.1).
pub fn saturation_pa(temperature_k: f64) -> f64 {
    ln_saturation(temperature_k.clamp(SATURATION_RANGE_K.0, SATURATION_RANGE_K.1))
        .0
        .exp()
}

/// Vapour pressure at a relative humidity (0 to 1), Pa: `p_v = φ p_sat(T)`.
///
/// The humidity must be measured where the temperature is. Worked: 30 °C, 0.6 gives 2547.6 Pa.
/// Equation (1.10).
pub fn vapour_from_relative_humidity_pa(temperature_k: f64, relative_humidity: f64) -> f64 {
    relative_humidity * saturation_pa(temperature_k)
}

/// Vapour pressure at a dew point (below freezing: frost point), Pa: `p_v = p_sat(T_d)`.
/// Equation (1.10).
pub fn vapour_from_dew_point_pa(dew_point_k: f64) -> f64 {
    saturation_pa(dew_point_k)
}

/// Temperature at which this vapour would start to condense (below the triple point: to frost), K.
///
/// The inverse of [`saturation_pa`], by Newton steps in ln p, to 1e-9 K. `None` below the vapour
/// pressure of ice at −100 °C (perfectly dry air has no dew point) or above that of water at 200
/// °C.
pub fn dew_point_k(vapour_pa: f64) -> Option<f64> {
    let (low_k, high_k) = SATURATION_RANGE_K;
    if !(saturation_pa(low_k)..=saturation_pa(high_k)).contains(&vapour_pa) {
        return None;
    }
    let target = vapour_pa.ln();
    let mut temperature_k: f64 = 280.0;
    for _ in 0..50 {
        let (ln_p, slope) = ln_saturation(temperature_k);
        // ln p is nearly straight in 1/T: stepping there converges from anywhere in the range.
        let inverse =
            1.0 / temperature_k + (ln_p - target) / (slope * temperature_k * temperature_k);
        let next_k = if inverse > 0.0 {
            (1.0 / inverse).clamp(low_k, high_k)
        } else {
            high_k
        };
        let step_k = next_k - temperature_k;
        temperature_k = next_k;
        if step_k.abs() < 1e-9 {
            break;
        }
    }
    Some(temperature_k)
}

/// Mass of water per mass of dry air: `W = 0.621945 p_v / (p − p_v)`.
///
/// Holds for `vapour_pa < pressure_pa`. Source: ASHRAE Fundamentals 2017, ch. 1, eqn 20.
/// Equation (1.10).
pub fn humidity_ratio(pressure_pa: f64, vapour_pa: f64) -> f64 {
    WATER_TO_AIR_MASS * vapour_pa / (pressure_pa - vapour_pa)
}

/// Vapour pressure of air with a humidity ratio, Pa: `p_v = p W / (0.621945 + W)`.
/// Equation (1.10).
pub fn vapour_from_humidity_ratio_pa(pressure_pa: f64, humidity_ratio: f64) -> f64 {
    pressure_pa * humidity_ratio / (WATER_TO_AIR_MASS + humidity_ratio)
}

/// Humidity ratio from the thermodynamic wet bulb; negative when the wet bulb is colder than dry
/// air allows.
/// Equation (1.2).
fn humidity_ratio_from_wet_bulb(temperature_k: f64, wet_bulb_k: f64, pressure_pa: f64) -> f64 {
    let (t, wet) = (temperature_k - FREEZING_K, wet_bulb_k - FREEZING_K);
    let saturated = humidity_ratio(pressure_pa, saturation_pa(wet_bulb_k));
    if wet >= 0.0 {
        ((2501.0 - 2.326 * wet) * saturated - 1.006 * (t - wet)) / (2501.0 + 1.86 * t - 4.186 * wet)
    } else {
        ((2830.0 - 0.24 * wet) * saturated - 1.006 * (t - wet)) / (2830.0 + 1.86 * t - 2.1 * wet)
    }
}

/// Vapour pressure from the thermodynamic wet bulb, Pa; negative when no air can have so cold a wet
/// bulb.
///
/// ```text
/// W = [(2501 − 2.326 t_w) W_s(t_w) − 1.006 (t − t_w)] / (2501 + 1.86 t − 4.186 t_w)     t_w ≥ 0 °C
/// ```
///
/// and the matching form over ice below. A whirled thermometer reads up to 0.07 kPa away from it,
/// under 0.1 % in a factor. Source: ASHRAE Fundamentals 2017, ch. 1, eqns 33 and 35 (read in
/// `PsychroLib` 2.5.0).
/// Worked: 30 °C, 20 °C, 101.325 kPa gives 1684.9 Pa.
pub fn vapour_from_wet_bulb_pa(temperature_k: f64, wet_bulb_k: f64, pressure_pa: f64) -> f64 {
    let ratio = humidity_ratio_from_wet_bulb(temperature_k, wet_bulb_k, pressure_pa);
    vapour_from_humidity_ratio_pa(pressure_pa, ratio)
}

/// Thermodynamic wet bulb, K: the inverse of [`vapour_from_wet_bulb_pa`], by bisection to 1e-9 K.
///
/// A wick at 0 °C may be wet or frozen, which gives two answers in a band of about a degree; the
/// bisection then returns one of them, or the step itself. `None` when the vapour is more than
/// saturated or not below the total pressure.
pub fn wet_bulb_k(temperature_k: f64, vapour_pa: f64, pressure_pa: f64) -> Option<f64> {
    let saturated_pa = saturation_pa(temperature_k);
    if !(0.0..=saturated_pa * (1.0 + 1e-9)).contains(&vapour_pa)
        || vapour_pa >= pressure_pa
        || saturated_pa >= pressure_pa
    {
        return None;
    }
    let target = humidity_ratio(pressure_pa, vapour_pa);
    let (mut low_k, mut high_k) = (SATURATION_RANGE_K.0, temperature_k);
    while high_k - low_k > 1e-9 {
        let middle_k = 0.5 * (low_k + high_k);
        if middle_k <= low_k || middle_k >= high_k {
            break;
        }
        if humidity_ratio_from_wet_bulb(temperature_k, middle_k, pressure_pa) < target {
            low_k = middle_k;
        } else {
            high_k = middle_k;
        }
    }
    Some(0.5 * (low_k + high_k))
}

/// Density of moist air, kg/m³: `ρ = (p − p_v)/(R_a T) + p_v/(R_w T)`.
///
/// Ideal-gas mixture; real air is up to 0.08 % denser between −10 and 40 °C (`CoolProp` 8.0.0).
/// Equation (1.10).
pub fn density_kg_m3(pressure_pa: f64, temperature_k: f64, vapour_pa: f64) -> f64 {
    ((pressure_pa - vapour_pa) / DRY_AIR_J_KG_K + vapour_pa / WATER_VAPOUR_J_KG_K) / temperature_k
}

/// Gas constant of moist air with a humidity ratio, J/(kg K): `R = (R_a + W R_w)/(1 + W)`.
/// Equation (1.10).
pub fn gas_constant_j_kg_k(humidity_ratio: f64) -> f64 {
    (DRY_AIR_J_KG_K + humidity_ratio * WATER_VAPOUR_J_KG_K) / (1.0 + humidity_ratio)
}

/// Mole fraction of oxygen in the moist mixture. Worked: 2540.2 Pa of vapour in 101.325 kPa gives
/// 0.2042.
/// Equation (1.10).
pub fn oxygen_mole_fraction(pressure_pa: f64, vapour_pa: f64) -> f64 {
    OXYGEN_MOLE_FRACTION_DRY * dry_fraction(pressure_pa, vapour_pa)
}

/// Share of dry air in the moles, and in the pressure: `(p − p_v)/p`. Compression does not change
/// it.
/// Equation (1.10).
pub fn dry_fraction(pressure_pa: f64, vapour_pa: f64) -> f64 {
    (pressure_pa - vapour_pa) / pressure_pa
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturation_at_twenty_degrees_is_the_printed_value() {
        // ASHRAE form evaluated with PsychroLib 2.5.0: 23.3880 hPa; the last printed digit is 0.01
        // Pa.
        assert!((saturation_pa(293.15) - 2338.80).abs() < 0.01);
    }

    #[test]
    fn ice_and_water_meet_at_the_triple_point() {
        let below = saturation_pa(TRIPLE_POINT_K);
        let above = saturation_pa(TRIPLE_POINT_K + 1e-9);
        // The two published fits leave 2e-5 between them where they are switched.
        assert!((above / below - 1.0).abs() < 3e-5, "{below} {above}");
    }

    #[test]
    fn slope_of_saturation_agrees_with_a_difference() {
        for t in [200.0, 260.0, 280.0, 310.0, 400.0] {
            let h = 1e-3;
            let difference = (ln_saturation(t + h).0 - ln_saturation(t - h).0) / (2.0 * h);
            // Central difference at 1 mK: truncation 1e-9, rounding 1e-11.
            assert!((difference - ln_saturation(t).1).abs() < 1e-8);
        }
    }

    #[test]
    fn dry_air_has_no_dew_point_and_weighs_the_ideal_gas() {
        assert_eq!(dew_point_k(0.0), None);
        assert!(
            (density_kg_m3(101_325.0, 288.15, 0.0) - 101_325.0 / (DRY_AIR_J_KG_K * 288.15)).abs()
                < 1e-12
        );
    }

    #[test]
    fn impossible_wet_bulbs_have_no_vapour_and_no_inverse() {
        assert!(vapour_from_wet_bulb_pa(313.15, 278.15, 101_325.0) < 0.0);
        assert_eq!(wet_bulb_k(293.15, 3000.0, 101_325.0), None);
    }
}
