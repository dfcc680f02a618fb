//! The crank-angle layer: closed forms, balances, its integrator beside another. The laws its answers obey are in `cycle_laws.rs`.
//!
//! Reference engine: 95 × 90 mm, rod 150 mm, r = 10, two inlet valves of 36 mm and two exhaust valves of 31 mm, 9.5 mm lift, 245 deg.

use ode_solvers::{Dopri5, OutputType, SVector, System};
use pullcast::cycle::closed::ClosedPhase;
use pullcast::cycle::gas::{KilogramGas, WorkingGas};
use pullcast::cycle::open::{Contents, OpenPhase, STATES};
use pullcast::cycle::valve::{EXHAUST_FLOW, INLET_FLOW, Valve};
use pullcast::cycle::{CycleInput, CyclePoint, CylinderCycle, Spark, USUAL_BURNING_SHARE};
use pullcast::engine::CylinderGeometry;
use pullcast::engine::breathing::{InletValves, exhaust_pressure_factor, sound_speed_m_s};
use pullcast::engine::charge_gas::{ChargeGas, GasModel};
use pullcast::engine::closed_cycle::ClosedCycle;
use pullcast::engine::heat_transfer::{WallCorrelation, Walls};
use pullcast::engine::knock::{ACTIVATION_K, PRESSURE_EXPONENT};
use pullcast::engine::products::Products;
use pullcast::engine::wiebe::{BurnScaling, Wiebe};
use pullcast::fuel::Fuel;
use std::cell::Cell;
use std::f64::consts::PI;

pub(crate) fn reference(rpm: f64) -> CycleInput {
    let inlet = Valve {
        diameter_m: 0.036,
        count: 2,
        lift_m: 0.0095,
        duration_deg: 245.0,
        centre_line_deg: 112.0,
        flow: INLET_FLOW,
    };
    CycleInput {
        geometry: CylinderGeometry {
            bore_m: 0.095,
            stroke_m: 0.09,
            rod_m: 0.15,
            compression_ratio: 10.0,
        },
        rpm,
        fuel: Fuel::petrol(95.0, None),
        lambda: 0.88,
        humidity_ratio: 0.008,
        inlet_pa: 98e3,
        inlet_k: 310.0,
        exhaust_pa: 108e3,
        inlet,
        exhaust: Valve {
            diameter_m: 0.031,
            flow: EXHAUST_FLOW,
            ..inlet
        },
        burn: BurnScaling::default(),
        burning_share: USUAL_BURNING_SHARE,
        walls: Some(Walls::default()),
        octane: 95.0,
        delay_multiplier: 1.0,
        spark: Spark::Search { retard_deg: 0.0 },
    }
}

pub(crate) fn run(input: &CycleInput) -> CyclePoint {
    CylinderCycle::new(*input).expect("an admitted input").run()
}

pub(crate) fn fixed(ca50_deg: f64) -> Spark {
    Spark::Fixed { ca50_deg }
}

/// A charge of one bar and 350 K at bottom dead centre.
fn shut(gas: &WorkingGas, ratio: f64) -> ClosedPhase<'_> {
    let geometry = CylinderGeometry {
        compression_ratio: ratio,
        ..reference(3000.0).geometry
    };
    ClosedPhase {
        geometry,
        gas,
        start_rad: -PI,
        end_rad: PI,
        mass_kg: 1e5 * geometry.volume_m3(PI) / (gas.fresh.gas_constant_j_kg_k * 350.0),
        residual_fraction: 0.0,
        temperature_k: 350.0,
        burn: None,
        burning_share: 1.0,
        walls: None,
        rpm: 3000.0,
        octane: 95.0,
        delay_multiplier: 1.0,
        step_factor: 1.0,
    }
}

/// Motored without walls: state at top dead centre by `∫ c_p dT/T = R ln(p₂/p₁)` (Simpson's rule over 2000 intervals) with p V/T
/// fixed; no work over the revolution. To 4e-5 with the steps in use, to 1e-8 with steps a tenth as long.
#[test]
fn motored_compression_is_isentropic() {
    for (fuel, lambda, ratio) in [
        (Fuel::petrol(95.0, None), 0.88, 10.0),
        (Fuel::ethanol(), 1.1, 14.0),
        (Fuel::iso_octane(), 0.75, 8.0),
    ] {
        let gas = WorkingGas::new(&fuel, lambda, 0.01);
        for (step_factor, tolerance) in [(1.0, 4e-5), (0.1, 1e-8)] {
            let whole = ClosedPhase {
                step_factor,
                ..shut(&gas, ratio)
            };
            let top = ClosedPhase {
                end_rad: 0.0,
                ..whole
            }
            .run();
            let h = (top.end_k - 350.0) / 2000.0;
            let weighed = |k: u32| {
                let weight = match k {
                    0 | 2000 => 1.0,
                    odd if odd % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                let kelvin = 350.0 + h * f64::from(k);
                weight * gas.fresh.enthalpy_and_cp(kelvin).1 / kelvin
            };
            let entropy = (0..=2000).map(weighed).sum::<f64>() * h / 3.0;
            let expected = gas.fresh.gas_constant_j_kg_k * (top.end_pa / 1e5).ln();
            let error = entropy / expected - 1.0;
            assert!(error.abs() < tolerance, "{ratio} {step_factor}: {error}");
            let state = top.end_pa / 1e5 / (ratio * top.end_k / 350.0) - 1.0;
            assert!(state.abs() < 1e-12, "{state}");
            let work = whole.run().work_j / (1e5 * whole.geometry.volume_m3(PI));
            assert!(work.abs() < 10.0 * tolerance, "{work}");
        }
    }
}

/// The older closed cycle (one zone, fitted γ, no change of moles) on the same charge, burn and walls. Measured, new over old:
/// work 1.036 to 1.042 at λ = 0.88 and 0.982 to 0.989 at λ = 1, peak pressure 0.953 to 1.011, wall heat 0.935 to 1.008, knock
/// integral as that of a pressure 3.4 % lower at most. The older one's γ of burned gas carries 5e-3, which is some 4 % of γ − 1 and so of work.
#[test]
fn both_closed_cycles_tell_the_same_story() {
    let fuel = Fuel::petrol(95.0, None);
    let hohenberg = Walls {
        correlation: WallCorrelation::Hohenberg,
        ..Walls::default()
    };
    for lambda in [0.88, 1.0] {
        let gas = WorkingGas::new(&fuel, lambda, 0.0);
        let products = Products::burned(&fuel, lambda);
        for (rpm, duration_deg) in [(2000.0, 45.0_f64), (6000.0, 58.0)] {
            let burn = Wiebe::centred(8_f64.to_radians(), duration_deg.to_radians());
            let base = shut(&gas, 10.0);
            let heat_j = base.mass_kg * products.released_j / products.mass_kg;
            let mixture = GasModel::Mixture(ChargeGas::new(&fuel, lambda));
            for walls in [None, Some(Walls::default()), Some(hohenberg)] {
                let new = ClosedPhase {
                    burn: Some(burn),
                    walls,
                    rpm,
                    ..base
                }
                .run();
                let old = ClosedCycle {
                    walls,
                    rpm,
                    ..ClosedCycle::full_stroke(base.geometry, burn, heat_j, mixture)
                }
                .run();
                assert!((new.work_j / old.work_j - 1.0).abs() < 0.045);
                assert!((new.peak_pa / old.peak_pressure_pa - 1.0).abs() < 0.05);
                // Told as a pressure, for the integral goes with p^1.7 and, through the end gas at some 900 K, with p^0.23 in the exponential. The
                // window closes near the peak, where the two pressures differ by up to 4.7 %.
                let of_pressure = PRESSURE_EXPONENT + 0.23 * ACTIVATION_K / 900.0;
                let knock = (new.knock_integral / old.knock_integral).ln() / of_pressure;
                assert!(knock.abs() < 0.035, "{knock}");
                if walls.is_some() {
                    assert!((new.wall_heat_j / old.wall_heat_j - 1.0).abs() < 0.07);
                }
            }
        }
    }
}

/// Knock-limited CA50 from an independent script, as for the older cycle in `knock.rs`: iso-octane, λ = 0.88, 5 % residual, nine
/// tenths of the heat, wall area 2 `A_p` + 4 V/B. Empty: earlier than 2 deg. Tolerance 2.2 deg, of which the heat's doubt of 4 % is 1.2.
#[test]
fn knock_limits_agree_with_an_independent_cycle() {
    let gas = WorkingGas::new(&Fuel::iso_octane(), 0.88, 0.0);
    let base = shut(&gas, 10.0);
    let walls = Some(Walls {
        head_factor: 1.0,
        ..Walls::default()
    });
    let mut held = 0;
    for line in include_str!("data/knock/limits.csv").lines().skip(1) {
        let cells: Vec<f64> = line
            .split(',')
            .map(|cell| cell.parse().unwrap_or(f64::NAN))
            .collect();
        let [bar, kelvin, octane, rpm, duration_deg, expected] = cells[..] else {
            panic!("{line}");
        };
        let (mut low, mut high) = (-5.0_f64, 60.0);
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            let phase = ClosedPhase {
                burn: Some(Wiebe::centred(
                    middle.to_radians(),
                    duration_deg.to_radians(),
                )),
                burning_share: 0.9,
                residual_fraction: 0.05,
                temperature_k: kelvin,
                mass_kg: base.mass_kg * bar * 350.0 / kelvin,
                walls,
                rpm,
                octane,
                ..base
            };
            if phase.knock_integral() > 1.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        if expected.is_nan() {
            assert!(low < 4.2, "{line}: {low}");
        } else {
            assert!((low - expected).abs() < 2.2, "{line}: {low}");
            held += 1;
        }
    }
    assert!(held > 15, "{held}");
}

/// Over the settled cycle, mass in equals mass out to 1e-5 of the charge and energy in energy out to 1e-5 of the fuel's heating value.
/// Measured: 3e-6 at most (where a cycle counts as settled) and 4.2e-6 (the steps of the closed phase).
#[test]
fn mass_and_energy_close() {
    let manifolds = [(98e3, 108e3), (60e3, 105e3), (200e3, 130e3), (170e3, 240e3)];
    let mixtures = [
        (Fuel::petrol(95.0, None), 0.85),
        (Fuel::ethanol(), 1.0),
        (Fuel::methanol(), 1.2),
    ];
    for rpm in [700.0, 1500.0, 3000.0, 6000.0, 9000.0] {
        for (inlet_pa, exhaust_pa) in manifolds {
            for (fuel, lambda) in mixtures {
                for walls in [None, Some(Walls::default())] {
                    let point = run(&CycleInput {
                        inlet_pa,
                        exhaust_pa,
                        fuel,
                        lambda,
                        walls,
                        ..reference(rpm)
                    });
                    assert!(point.settled, "{rpm} {inlet_pa} {lambda}");
                    assert!(point.mass_error.abs() < 1e-5, "{point:?}");
                    assert!(point.energy_error.abs() < 1e-5, "{point:?}");
                }
            }
        }
    }
}

/// The steps in use against steps a tenth as long: air, work and exhaust temperature within 1e-4, CA50 within 0.005 deg. Measured at
/// most 6.1e-5 and 0.0033 deg.
#[test]
fn steps_are_short_enough() {
    for rpm in [700.0, 2000.0, 4000.0, 7000.0] {
        for inlet_pa in [98e3, 170e3] {
            let input = CycleInput {
                inlet_pa,
                ..reference(rpm)
            };
            let cycle = CylinderCycle::new(input).expect("admitted");
            let (here, fine) = (cycle.run(), cycle.with_steps(0.1).run());
            for (ours, truth) in [
                (here.trapped_air_kg, fine.trapped_air_kg),
                (here.gross_pa, fine.gross_pa),
                (here.net_pa, fine.net_pa),
                (here.exhaust_k, fine.exhaust_k),
                (here.peak_pa, fine.peak_pa),
            ] {
                assert!((ours / truth - 1.0).abs() < 1e-4, "{rpm}: {ours} {truth}");
            }
            assert!((here.ca50_deg - fine.ca50_deg).abs() < 5e-3, "{rpm}");
        }
    }
}

struct Counted<'a, F: Fn(f64, &[f64; STATES]) -> [f64; STATES]> {
    rates: F,
    calls: &'a Cell<u32>,
}

impl<F: Fn(f64, &[f64; STATES]) -> [f64; STATES]> System<f64, SVector<f64, STATES>>
    for Counted<'_, F>
{
    fn system(&self, angle: f64, state: &SVector<f64, STATES>, slope: &mut SVector<f64, STATES>) {
        self.calls.set(self.calls.get() + 1);
        let values: [f64; STATES] = std::array::from_fn(|i| state[i]);
        slope.copy_from_slice(&(self.rates)(angle, &values));
    }
}

/// What a full-load cylinder holds when its exhaust valve opens: 0.7 g at 1600 K, 4 % of it unburned.
fn burned_charge(gas: &WorkingGas) -> (Contents, f64) {
    let (fresh_kg, burned_kg, kelvin) = (0.28e-4, 6.72e-4, 1600.0);
    let energy =
        |part: &KilogramGas| part.enthalpy_j_kg(kelvin) - part.gas_constant_j_kg_k * kelvin;
    let contents = Contents {
        fresh_kg,
        burned_kg,
        energy_j: fresh_kg * energy(&gas.fresh) + burned_kg * energy(&gas.burned),
        waiting_kg: 0.0,
        waiting_burned_kg: 0.0,
        waiting_j: 0.0,
        exhaust_burned: 0.96,
        exhaust_k: 1200.0,
    };
    (contents, kelvin)
}

/// Our rule of steps beside Dormand and Prince's adaptive method on the same equations in the same run. Measured at 1500, 3000
/// and 6000 rpm: 2448, 1008 and 948 rates for errors of trapped fresh charge of 7e-8, 4.8e-5 and 9e-8, where the adaptive method at a
/// tolerance of 1e-5 took 1971, 1167 and 765 for 1.5e-6, 8e-6 and 4.7e-6. Neither is better; ours places its steps by the engine
/// alone, so that two engines that hardly differ have steps that hardly differ, and ends one at every opening and dead centre.
#[test]
fn the_step_rule_stands_beside_an_adaptive_method() {
    for rpm in [1500.0, 3000.0, 6000.0] {
        let cycle = CylinderCycle::new(reference(rpm)).expect("admitted");
        let phase = cycle.open_phase();
        let (start, kelvin) = burned_charge(cycle.gas());
        let (from, to) = (cycle.opening_rad(), cycle.closing_rad() + 4.0 * PI);
        let truth = OpenPhase {
            step_factor: 0.05,
            ..phase
        }
        .run(from, to, &start, kelvin);
        let ours = phase.run(from, to, &start, kelvin);
        let error = |fresh_kg: f64| (fresh_kg / truth.contents.fresh_kg - 1.0).abs();
        assert!(error(ours.contents.fresh_kg) < 1e-4);
        let calls = Cell::new(0);
        let system = Counted {
            rates: phase.rates(kelvin),
            calls: &calls,
        };
        let state = SVector::<f64, STATES>::from_row_slice(&OpenPhase::start_state(&start));
        let mut solver = Dopri5::new(system, from, to, 0.1, state, 1e-5, 1e-8);
        solver.set_output(OutputType::Sparse);
        solver.integrate().expect("an integral");
        let end = solver.y_out().last().expect("an end");
        assert!(error(end[0]) < 1e-4, "{}", error(end[0]));
        let rates = u32::try_from(4 * ours.steps).expect("a small number");
        eprintln!(
            "{rpm} rpm: {rates} rates, error {:.1e}; adaptive {} rates, error {:.1e}",
            error(ours.contents.fresh_kg),
            calls.get(),
            error(end[0])
        );
        assert!(
            2 * rates < 3 * calls.get(),
            "{rates} against {}",
            calls.get()
        );
    }
}

/// The ideal cycle's filling against exhaust pressure (Heywood, Taylor), at 400 rpm, without walls and without overlap. Measured: the
/// effect is 9 to 12 % stronger than that of one gas with γ = 1.34, the mean of fresh and burned; burned gas has the larger heat
/// capacity. 15 %.
#[test]
fn exhaust_pressure_acts_on_filling_as_in_the_ideal_cycle() {
    let inlet = Valve {
        duration_deg: 182.0,
        centre_line_deg: 90.0,
        ..reference(400.0).inlet
    };
    let fresh_kg = |ratio: f64, exhaust: f64| {
        let mut input = CycleInput {
            inlet,
            exhaust: Valve {
                diameter_m: 0.031,
                flow: EXHAUST_FLOW,
                ..inlet
            },
            walls: None,
            spark: fixed(8.0),
            exhaust_pa: exhaust * reference(400.0).inlet_pa,
            ..reference(400.0)
        };
        input.geometry.compression_ratio = ratio;
        run(&input).trapped_air_kg
    };
    for ratio in [8.0, 12.0] {
        for exhaust in [0.8, 1.2, 1.5] {
            let ours = fresh_kg(ratio, exhaust) / fresh_kg(ratio, 1.0);
            let ideal = exhaust_pressure_factor(1.0, exhaust, ratio, 1.34);
            let stronger = (1.0 - ours) / (1.0 - ideal);
            assert!(
                (1.0..1.15).contains(&stronger),
                "{ratio} {exhaust}: {stronger}"
            );
        }
    }
}

/// Were the inlet valves choked for their whole open period, the filling would be `Z_c/Z`; it never reaches that, and it falls towards
/// it: 0.23 of the bound at Z = 0.2, two thirds of it and more from Z = 0.7 on.
#[test]
fn filling_never_exceeds_what_choked_valves_pass() {
    let mut nearest = 0.0_f64;
    for rpm in [3000.0, 6000.0, 10_000.0, 15_000.0, 20_000.0] {
        let input = CycleInput {
            spark: fixed(10.0),
            ..reference(rpm)
        };
        let known = InletValves {
            diameter_m: input.inlet.diameter_m,
            count: input.inlet.count,
            mean_flow_coefficient: input.inlet.mean_flow_coefficient(),
            open_duration_deg: input.inlet.duration_deg,
            closing_abdc_deg: 54.5,
        };
        let index = known.mach_index(
            input.geometry.piston_area_m2(),
            input.geometry.mean_piston_speed_m_s(rpm),
            sound_speed_m_s(input.inlet_k),
        );
        let filling = run(&input).volumetric_efficiency;
        let of_bound = filling * index / known.choking_index();
        assert!(of_bound < 1.0, "{rpm}: {filling}");
        nearest = nearest.max(of_bound);
    }
    assert!((0.6..0.8).contains(&nearest), "{nearest}");
}
