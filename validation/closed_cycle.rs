//! The crank-angle cycle against closed forms and an independent script (`SciPy` 1.17), and the mean-value fits against it.
//!
//! Reference cylinder: bore 95, stroke 90, rod 150 mm, r = 10; 1 bar and 350 K at bottom dead centre.

use pullcast::engine::CylinderGeometry;
use pullcast::engine::charge_gas::GasModel;
use pullcast::engine::closed_cycle::ClosedCycle;
use pullcast::engine::combustion::WallLoss;
use pullcast::engine::heat_transfer::{WallCorrelation, Walls};
use pullcast::engine::knock_map::{BURN_COMPLETENESS, KnockConditions, KnockMapInput};
use pullcast::engine::phasing::retard_factor;
use pullcast::engine::wiebe::Wiebe;
use pullcast::fuel::Fuel;

const REFERENCE: CylinderGeometry = CylinderGeometry {
    bore_m: 0.095,
    stroke_m: 0.090,
    rod_m: 0.150,
    compression_ratio: 10.0,
};
const GAS: GasModel = GasModel::Constant { gamma: 1.3 };

fn base_case() -> ClosedCycle {
    let burn = Wiebe::new((-20.0_f64).to_radians(), 50_f64.to_radians());
    ClosedCycle::full_stroke(REFERENCE, burn, 1500.0, GAS)
}

fn walled(correlation: WallCorrelation) -> ClosedCycle {
    let walls = Walls {
        correlation,
        head_factor: 1.0,
        ..Walls::default()
    };
    ClosedCycle {
        walls: Some(walls),
        rpm: 3000.0,
        ..base_case()
    }
}

fn close(value: f64, expected: f64, relative: f64) {
    assert!(
        (value / expected - 1.0).abs() < relative,
        "{value} against {expected}"
    );
}

/// Motored, γ 1.30: 19.953 bar, 698.3 K at top dead centre, no work (closed form p r^γ).
#[test]
fn motored_compression_is_isentropic() {
    let half = ClosedCycle {
        end_rad: 0.0,
        heat_j: 0.0,
        ..base_case()
    }
    .run();
    close(half.end_pressure_pa, 19.953e5, 1e-4);
    close(half.end_temperature_k, 698.3, 1e-4);
    let whole = ClosedCycle {
        heat_j: 0.0,
        ..base_case()
    }
    .run();
    assert!(whole.imep_pa.abs() < 10.0, "{}", whole.imep_pa);
}

/// A burn of 0.5 deg at top dead centre, adiabatic: 1 − r^(1−γ) = 0.4988 (closed form of the Otto cycle).
#[test]
fn an_instant_burn_gives_the_otto_efficiency() {
    let burn = Wiebe::new(0.0, 0.5_f64.to_radians());
    let result = ClosedCycle {
        burn,
        step_deg: 0.02,
        ..base_case()
    }
    .run();
    close(result.efficiency, 1.0 - 10_f64.powf(-0.3), 1e-4);
}

/// 1500 J, −20 to 30 deg, adiabatic: 11.369 bar, peak 57.67 bar at 14.0 deg (0.1 %, angle 0.1 deg).
#[test]
fn adiabatic_case_matches() {
    let result = base_case().run();
    close(result.imep_pa, 11.369e5, 1e-3);
    close(result.peak_pressure_pa, 57.67e5, 1e-3);
    assert!((result.peak_pressure_rad.to_degrees() - 14.0).abs() < 0.1);
}

/// The same with Woschni, 3000 rpm, 450 K, 2 `A_p` + 4 V/B: 10.3593 bar, heat 0.1258 of Q, 56.30 bar at 13.6 deg.
#[test]
fn woschni_case_matches() {
    let result = walled(WallCorrelation::Woschni).run();
    close(result.imep_pa, 10.3593e5, 1e-3);
    close(result.wall_heat_j / 1500.0, 0.1258, 1e-3);
    close(result.peak_pressure_pa, 56.30e5, 1e-3);
    assert!((result.peak_pressure_rad.to_degrees() - 13.6).abs() < 0.1);
}

/// The same with Hohenberg: 10.325 bar, heat 0.1409 of Q.
#[test]
fn hohenberg_case_matches() {
    let result = walled(WallCorrelation::Hohenberg).run();
    close(result.imep_pa, 10.325e5, 1e-3);
    close(result.wall_heat_j / 1500.0, 0.1409, 1e-3);
}

/// One-degree steps against a twentieth: relative difference below 1e-6.
#[test]
fn one_degree_steps_are_converged() {
    for correlation in [WallCorrelation::Woschni, WallCorrelation::Hohenberg] {
        let coarse = walled(correlation).run().imep_pa;
        let fine = ClosedCycle {
            step_deg: 0.05,
            ..walled(correlation)
        }
        .run()
        .imep_pa;
        assert!((coarse / fine - 1.0).abs() < 1e-6);
    }
}

/// First law over the closed part, constant γ: heat in = work + walls + rise of internal energy pV/(γ−1). Integration error only.
#[test]
fn energy_is_conserved_over_the_closed_cycle() {
    let cycle = walled(WallCorrelation::Woschni);
    let result = cycle.run();
    let volume = REFERENCE.volume_m3(std::f64::consts::PI);
    let rise = (result.end_pressure_pa - cycle.pressure_pa) * volume / 0.3;
    close(result.work_j + result.wall_heat_j + rise, 1500.0, 1e-6);
}

fn engine() -> KnockMapInput {
    KnockMapInput {
        geometry: REFERENCE,
        fuel: Fuel::petrol(95.0, None),
        lambda: 0.88,
        residual_fraction: 0.05,
        completeness: BURN_COMPLETENESS,
        walls: Some(Walls::default()),
    }
}

fn at(bar: f64, kelvin: f64, rpm: f64, duration: f64) -> KnockConditions {
    KnockConditions {
        pressure_pa: bar * 1e5,
        temperature_k: kelvin,
        rpm,
        octane: 95.0,
        burn_duration_deg: duration,
        delay_multiplier: 1.0,
    }
}

/// The retard curve (fitted to another script's cycle) against this cycle with Woschni and mixture properties.
///
/// Measured differences in torque: 0.002 at 5 deg late, 0.005 at 10, 0.010 at 15, 0.015 at 20, 0.030 at 30, 0.053 at 45, 0.009 at 10
/// early; always in the sense that the cycle loses less, most so at high speed. The tolerances are these, rounded up.
/// Best CA50 of this cycle is 8 deg at 2000 rpm but 4 at 6000: earlier than the 8 ± 1.5 that engines show.
#[test]
fn retard_costs_what_the_cycle_says() {
    for (rpm, bar, duration) in [
        (2000.0, 1.0, 45.0),
        (2000.0, 1.6, 60.0),
        (6000.0, 1.0, 60.0),
        (6000.0, 1.6, 45.0),
    ] {
        let work = |ca50: f64| {
            engine()
                .cycle(&at(bar, 350.0, rpm, duration), ca50)
                .run()
                .work_j
        };
        let best = (0..150)
            .map(|k| f64::from(k) * 0.1)
            .max_by(|a, b| work(*a).total_cmp(&work(*b)))
            .expect("150");
        assert!((3.0..9.5).contains(&best), "{best}");
        for (late, tolerance) in [
            (-10.0, 0.012),
            (5.0, 0.003),
            (10.0, 0.006),
            (15.0, 0.011),
            (20.0, 0.016),
            (30.0, 0.031),
            (45.0, 0.056),
        ] {
            let cycle = work(best + late) / work(best);
            assert!(
                (cycle - retard_factor(late)).abs() < tolerance,
                "{rpm} {bar} {late}: {cycle}"
            );
        }
    }
}

/// Wall loss: the power law of [`WallLoss`] against the cycles it was fitted to (1500..7000 rpm, 0.6..2.5 bar). 6 % of the share,
/// the misfit of a power law; the work lost per share within 10 %.
#[test]
fn wall_loss_scales_with_speed_and_density_as_fitted() {
    let law = WallLoss::default();
    for rpm in [1500.0, 3000.0, 4500.0, 7000.0] {
        for bar in [0.6, 1.0, 2.5] {
            let cycle = engine().cycle(&at(bar, 350.0, rpm, 50.0), 8.0);
            let result = cycle.run();
            let adiabatic = ClosedCycle {
                walls: None,
                ..cycle
            }
            .run();
            let share = result.wall_heat_j / cycle.heat_j;
            let speed = REFERENCE.mean_piston_speed_m_s(rpm);
            let fitted = law.share(speed, WallLoss::charge_density_kg_m3(bar * 1e5, 350.0), 8.0);
            assert!(
                (fitted / share - 1.0).abs() < 0.06,
                "{rpm} {bar}: {fitted} {share}"
            );
            let per_share = (1.0 - result.work_j / adiabatic.work_j) / share;
            assert!(
                (per_share / law.work_per_share - 1.0).abs() < 0.1,
                "{per_share}"
            );
        }
    }
}

/// Phasing: walls take less from a later burn. The exponential of [`WallLoss`] within 3 % of the cycle's share, CA50 0..48.
#[test]
fn a_later_burn_heats_the_walls_less() {
    let law = WallLoss::default();
    for ca50 in [0.0, 3.0, 8.0, 13.0, 18.0, 28.0, 38.0, 48.0] {
        let cycle = engine().cycle(&at(1.0, 350.0, 3000.0, 50.0), ca50);
        let share = cycle.run().wall_heat_j / cycle.heat_j;
        let fitted = law.share(9.0, 1.047, ca50);
        assert!(
            (fitted / share - 1.0).abs() < 0.03,
            "{ca50}: {fitted} {share}"
        );
    }
}

/// Efficiency rises with compression at fixed phasing, and the cycle's gain is near the ideal's to the power 0.8:
/// 10 to 11 +2.4 % (measured engines gain that much without knock, from memory).
#[test]
fn compression_gain_of_the_cycle() {
    let work = |ratio: f64| {
        let geometry = CylinderGeometry {
            compression_ratio: ratio,
            ..REFERENCE
        };
        let result = KnockMapInput {
            geometry,
            ..engine()
        }
        .cycle(&at(1.0, 350.0, 4000.0, 55.0), 8.0)
        .run();
        result.efficiency
    };
    let values: Vec<f64> = (8..=14).map(|r| work(f64::from(r))).collect();
    assert!(values.windows(2).all(|pair| pair[1] > pair[0]));
    let gain = work(11.0) / work(10.0) - 1.0;
    assert!((0.015..0.030).contains(&gain), "{gain}");
}
