//! What the crank-angle cycle makes of parts inside the cylinder, over the demo shop's cars: its factor on the mean-value work.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::build::{Change, Plan};
use pullcast::car::{Blower, Car};
use pullcast::files;
use pullcast::fuel::Fuel;
use std::path::Path;

const CARS: [&str; 3] = ["manual_coupe", "turbo_four", "upland_estate"];

fn car(name: &str) -> Car {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name);
    let (file, _) = files::car::open(&folder.join("car.toml")).expect("a demo car");
    file.sheet.centre.car
}

fn day() -> Day {
    Day::from_relative_humidity(StationPressure::from_pa(98e3), 295.15, 0.45).expect("a day")
}

fn built(car: &Car, changes: Vec<Change<f64>>) -> Car {
    Plan {
        name: String::new(),
        changes,
    }
    .apply_by_cycle(car, day())
    .expect("a plan that fits")
}

#[test]
fn probe() {
    for name in CARS {
        for (kind, mut car) in [("as is", car(name)), ("bare", car(name))] {
            if kind == "bare" {
                car.blower = Blower::None;
                car.cooler = None;
            }
            let r = car.engine.geometry.cylinder.compression_ratio;
            let l = car.tune.lambda;
            let e85 = Fuel::petrol_with_ethanol(car.fuel, 0.8);
            let e30 = Fuel::petrol_with_ethanol(car.fuel, 0.3);
            let fuel = |f: Fuel| Change::Fuel {
                fuel: Box::new(f),
                research_octane: f.research_octane,
                motor_octane: f.motor_octane,
            };
            let oct = Fuel {
                research_octane: car.fuel.research_octane + 4.0,
                motor_octane: car.fuel.motor_octane + 4.0,
                ..car.fuel
            };
            let c = |ratio: f64| Change::CompressionRatio { ratio };
            let m = |lambda: f64| Change::Mixture { lambda };
            for (what, change) in [
                ("r+0.1", c(r + 0.1)),
                ("r+1", c(r + 1.0)),
                ("r+3", c(r + 3.0)),
                ("r-1.5", c(r - 1.5)),
                ("l-.05", m(l - 0.05)),
                ("l+.05", m(l + 0.05)),
                ("l+.12", m(l + 0.12)),
                ("e30", fuel(e30)),
                ("e80", fuel(e85)),
                ("oct+4", fuel(oct)),
            ] {
                let start = std::time::Instant::now();
                let b = built(&car, vec![change]);
                let took = start.elapsed();
                let Some(w) = b.engine.work_by_cycle else {
                    eprintln!("{name} {kind} {what} none");
                    continue;
                };
                let show: Vec<String> = w
                    .asked()
                    .iter()
                    .map(|a| format!("{:.0}: {:.4}/{:.4}={:.4}", a.rpm, a.cycle, a.mean_value, a.factor))
                    .collect();
                eprintln!("{name} r{r:.1} l{l:.2} {kind} {what} {took:.0?} {}", show.join("  "));
            }
        }
    }
}

#[test]
fn knock_probe() {
    use pullcast::car::{OnADay, Slow};
    use pullcast::cycle::{CycleInput, CylinderCycle, Spark};
    for name in CARS {
        let old = car(name);
        let r = old.engine.geometry.cylinder.compression_ratio;
        let fuel = |f: Fuel| Change::Fuel {
            fuel: Box::new(f),
            research_octane: f.research_octane,
            motor_octane: f.motor_octane,
        };
        let oct = Fuel {
            research_octane: old.fuel.research_octane + 3.0,
            motor_octane: old.fuel.motor_octane + 3.0,
            ..old.fuel
        };
        let less = Fuel {
            research_octane: old.fuel.research_octane - 3.0,
            motor_octane: old.fuel.motor_octane - 3.0,
            ..old.fuel
        };
        for (what, change) in [
            ("same", Change::CompressionRatio { ratio: r }),
            ("r+1", Change::CompressionRatio { ratio: r + 1.0 }),
            ("r+2", Change::CompressionRatio { ratio: r + 2.0 }),
            ("r-1", Change::CompressionRatio { ratio: r - 1.0 }),
            ("l-.05", Change::Mixture { lambda: old.tune.lambda - 0.05 }),
            ("l+.1", Change::Mixture { lambda: old.tune.lambda + 0.1 }),
            ("e10", fuel(Fuel::petrol_with_ethanol(old.fuel, 0.1))),
            ("e20", fuel(Fuel::petrol_with_ethanol(old.fuel, 0.2))),
            ("e80", fuel(Fuel::petrol_with_ethanol(old.fuel, 0.8))),
            ("oct+3", fuel(oct)),
            ("oct-3", fuel(less)),
        ] {
            let new = built(&old, vec![change]);
            let days = [&old, &new].map(|c| OnADay::new(c, day()));
            let mut line = String::new();
            for share in [0.25, 0.44, 0.63, 0.82, 1.0] {
                let rpm = share * old.engine.redline_rpm;
                let p = [0, 1].map(|k| days[k].at(rpm, Slow::settled(day().temperature_k()), None));
                let input = [0, 1].map(|k| {
                    let best = days[k].car().engine.phasing.mbt_ca50_deg;
                    CycleInput {
                        spark: Spark::AfterBest { later_deg: (p[k].cylinder.ca50_deg - best).max(0.0) },
                        ..days[k].cycle_input(&p[k], &days[k].car().valve_gear())
                    }
                });
                let c = [0, 1].map(|k| CylinderCycle::new(input[k]).unwrap().run());
                let k = c[0].knock_integral;
                let n = CylinderCycle::new(CycleInput {
                    delay_multiplier: input[1].delay_multiplier * k,
                    spark: Spark::Search { retard_deg: 0.0 },
                    ..input[1]
                }).unwrap().run();
                let mv = p[1].cylinder.ca50_deg - p[0].cylinder.ca50_deg;
                let later0 = c[0].ca50_deg - c[0].best_ca50_deg;
                line += &format!(
                    "  {:.0}{}: MV +{:.1}{:+.1} cyc {:+.1} (K {:.2},{:.2})",
                    rpm, if p[0].cylinder.knock_limited {"k"} else {" "}, later0, mv,
                    n.ca50_deg - n.best_ca50_deg - later0, k, c[1].knock_integral
                );
            }
            eprintln!("{name} {what} {line}");
        }
    }
}
