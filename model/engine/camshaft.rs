//! What another camshaft does to filling: lift to flow coefficient, closing to ram, open durations to overlap.
//!
//! Exists because a cam card gives angles and lift, and the filling model wants a mean flow coefficient, a closing angle and
//! an overlap factor. Every function gives a ratio to the cam that was there and is exactly 1 for the same cam. It refuses
//! pipe waves: how much ram a car has is in its breathing numbers, which a pull calibrates.

use super::breathing::InletValves;
use super::geometry::CylinderGeometry;
use crate::numeric::Real;

/// Highest lift over head diameter where nobody measured it; 0.25 to 0.30, from memory of road engines.
/// Equation (11.3).
pub const USUAL_LIFT_OVER_DIAMETER: f64 = 0.27;
/// Flow coefficients on the geometric area at no lift and at [`HIGH_LIFT`]: 0.90 to 0.95 falling to about 0.7 (JSME
/// Mechanical Engineering Dictionary, valve discharge coefficient).
const LOW_LIFT_COEFFICIENT: f64 = 0.92;
const HIGH_LIFT_COEFFICIENT: f64 = 0.70;
const HIGH_LIFT: f64 = 0.30;
/// Points over half of the lift curve.
const POINTS: u32 = 64;

/// Mean flow coefficient of a valve over its open period, referred to the head area, from its highest lift over its diameter.
///
/// ```text
/// C = mean of C_d(l/D) · min(4 l/D, 1),   l = l_max sin²
/// ```
///
/// Area `min(π D l, π D²/4)`. Meant for ratios of two lifts; the level of a car is [`InletValves::mean_flow_coefficient`].
/// Source: derived; coefficients as above, a lift curve of sine squared from memory. Worked: 0.25 gives 0.391, 0.30 gives 0.428.
/// Equation (2.12).
pub fn mean_coefficient(lift_over_diameter: f64) -> f64 {
    let at = |point: u32| {
        let sine =
            (std::f64::consts::FRAC_PI_2 * (f64::from(point) + 0.5) / f64::from(POINTS)).sin();
        let lift = lift_over_diameter * sine * sine;
        let fall = (LOW_LIFT_COEFFICIENT - HIGH_LIFT_COEFFICIENT) * (lift / HIGH_LIFT).min(1.5);
        (LOW_LIFT_COEFFICIENT - fall) * (4.0 * lift).min(1.0)
    };
    (0..POINTS).map(at).sum::<f64>() / f64::from(POINTS)
}

/// Crank angle ahead of its seat at which an inlet valve is as good as shut. With it the cylinder volume at closing gives what a
/// cylinder filled through its valve alone keeps at low speed, and what it loses for 9 deg later (0.94 and 3.5 %, computed,
/// `validation/data/camshaft`).
const SHUT_EARLY_DEG: f64 = 20.0;
/// Square of speed over ram speed above which no more ram is counted: the column of air is then near choking at the valve.
/// No source, assumed.
const MOST_RAM: f64 = 2.5;

/// Filling with the inlet valve closing `later_deg` later, over that with the closing the breathing numbers belong to.
///
/// ```text
/// ln F = ln[V(θ + Δ)/V(θ)] − (N/N_ram)² · (V′/V)(θ) · Δ
/// ```
///
/// The first term is charge pushed back, the second the ram of the moving column, which grows with speed squared. Its size
/// follows from what the ram speed means: there the closing as it stands is best, so the two cancel to first order. Held in
/// 0.5..1.3. θ is taken 20 deg ahead of the seat. Without ram the first term remains.
/// Source: derived. Worked: 86 × 86 mm, r = 10.5, closing 55°, 9° later: −3.6 % far below the ram speed, +2.9 % at 1.43
/// times it.
/// Equation (2.11).
#[inline(always)]
pub fn closing_factor<R: Real>(
    valves: &InletValves,
    cylinder: &CylinderGeometry,
    later_deg: f64,
    rpm: R,
    ram_rpm: f64,
) -> R {
    if later_deg == 0.0 {
        return rpm.of(1.0);
    }
    let angle = |abdc_deg: f64| (180.0 + (abdc_deg - SHUT_EARLY_DEG).max(0.0)).to_radians();
    let (volume, slope) = cylinder.volume_and_slope(angle(valves.closing_abdc_deg));
    let moved = cylinder.volume_m3(angle(valves.closing_abdc_deg + later_deg));
    let ram = (rpm / ram_rpm).squared().at_most(MOST_RAM);
    let exponent =
        (ram * slope / volume * later_deg.to_radians()).taken_from((moved / volume).ln());
    exponent.exp().within(0.5, 1.3)
}

/// Overlap factor with more overlap and lift, over that before.
///
/// ```text
/// OF = (1.45/B) (107 + 7.8 Δθ + Δθ²) n l D/B²,   mm and deg
/// ```
///
/// Δθ is the overlap between 0.15 mm lifts; it is read back from the factor as it stands, so that only the change is asked.
/// Source: Fox, Cheng & Heywood 1993, from memory, its one valve counted `n` times. Worked: 86 mm, two 32 mm valves, 1.3 deg/m
/// reads as 27 deg; 18 deg more gives 2.4 times the factor.
/// Equation (2.13).
pub fn overlap_growth(
    factor_deg_m: f64,
    valves: &InletValves,
    bore_m: f64,
    more_deg: f64,
    lift_ratio: f64,
) -> f64 {
    let (bore_mm, head_mm) = (1e3 * bore_m, 1e3 * valves.diameter_m);
    let openings = f64::from(valves.count) * USUAL_LIFT_OVER_DIAMETER * head_mm * head_mm;
    // 107 + 7.8 x + x² = 91.79 + (x + 3.9)², lowest at no overlap worth the name.
    let square = (factor_deg_m * bore_mm.powi(3) / (1.45 * openings) - 91.79).max(0.0);
    let root = square.sqrt();
    let after = (root + more_deg).max(0.0);
    lift_ratio * (91.79 + after * after) / (91.79 + root * root)
}

#[cfg(test)]
mod tests {
    use super::*;

    const CYLINDER: CylinderGeometry = CylinderGeometry {
        bore_m: 0.086,
        stroke_m: 0.086,
        rod_m: 0.1393,
        compression_ratio: 10.5,
    };
    const VALVES: InletValves = InletValves {
        diameter_m: 0.03225,
        count: 2,
        mean_flow_coefficient: 0.35,
        open_duration_deg: 245.0,
        closing_abdc_deg: 55.0,
    };

    #[test]
    fn the_same_cam_changes_nothing() {
        assert_eq!(closing_factor(&VALVES, &CYLINDER, 0.0, 6000.0, 4500.0), 1.0);
        assert_eq!(overlap_growth(1.3, &VALVES, 0.086, 0.0, 1.0), 1.0);
    }

    #[test]
    fn at_the_ram_speed_the_closing_as_it_stands_is_best() {
        for later in [-6.0, 6.0] {
            let here = closing_factor(&VALVES, &CYLINDER, later, 4500.0, 4500.0);
            assert!(here < 1.0 && here > 0.99, "{later}: {here}");
        }
        assert!(closing_factor(&VALVES, &CYLINDER, 6.0, 6500.0, 4500.0) > 1.01);
        assert!(closing_factor(&VALVES, &CYLINDER, 6.0, 2500.0, 4500.0) < 0.99);
    }

    #[test]
    fn more_lift_flows_more_and_less_for_every_millimetre() {
        let [a, b, c] = [0.20, 0.25, 0.30].map(mean_coefficient);
        assert!(
            (b - 0.391).abs() < 5e-4 && (c - 0.428).abs() < 5e-4,
            "{b} {c}"
        );
        assert!(b > a && c > b && c - b < b - a);
    }

    #[test]
    fn eighteen_degrees_make_a_road_cam_a_sporting_one() {
        let growth = overlap_growth(1.3, &VALVES, 0.086, 18.0, 1.0);
        assert!((growth - 2.4).abs() < 0.05, "{growth}");
    }
}
