//! One operating point of a turbocharged car under knock: what makes a charge bear more spark never costs, and no small change of the
//! car makes a reading jump.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::car::{Car, Limit, OnADay, OperatingPoint, Slow};
use pullcast::dyno::{Conditions, Pull, Setup};
use pullcast::files;

/// A small four that knock holds on premium fuel; the turbine's area of one car is left to be guessed.
#[derive(Clone, Copy)]
struct Small {
    octane: f64,
    compression: f64,
    boost_kpa: f64,
    turbine_mm2: Option<f64>,
}

const SMALL: Small = Small {
    octane: 95.0,
    compression: 10.0,
    boost_kpa: 110.0,
    turbine_mm2: None,
};

impl Small {
    fn setup(&self) -> Setup {
        let turbine = self
            .turbine_mm2
            .map_or_else(String::new, |area| format!("turbine_area = \"{area} mm2\""));
        let (compression, octane, boost) = (self.compression, self.octane, self.boost_kpa);
        let text = format!(
            r#"
kind = "car"
version = 1
name = "small four"
[engine]
cylinders = 4
bore = "72.5 mm"
stroke = "84 mm"
compression_ratio = {compression}
redline = "6400 rpm"
[fuel]
kind = "petrol with ethanol"
ethanol = "5 %"
research_octane = {octane}
[driveline]
drive = "front"
gearbox = "manual"
gear = 1.32
final_drive = 3.9
[wheels]
tyre_radius = "0.30 m"
[drums]
inertia = "90 kg m2"
radius = "0.35 m"
[blower]
kind = "turbocharger"
boost = "{boost} kPa gauge"
{turbine}
[blower.rated_point]
pressure_ratio = 2.0
flow = "110 g/s"
efficiency = 0.74
speed = "150000 rpm"
wheel_diameter = "44 mm"
reference_pressure = "100 kPa"
reference_temperature = "25 °C"
[cooler]
kind = "air to air"
effectiveness = "0.68 ± 0.05"
reference_flow = "130 g/s"
"#
        );
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("car.toml");
        std::fs::write(&path, text).expect("written");
        let (car, _) = files::car::open(&path).unwrap_or_else(|p| panic!("{p}"));
        car.sheet.centre
    }

    /// Small fours of several boosts and turbines.
    fn all() -> Vec<Self> {
        let mut all = Vec::new();
        for boost_kpa in [90.0, 120.0] {
            for turbine_mm2 in [None, Some(350.0)] {
                all.push(Self {
                    boost_kpa,
                    turbine_mm2,
                    ..SMALL
                });
            }
        }
        all
    }
}

fn day() -> Day {
    Day::from_relative_humidity(StationPressure::from_pa(98e3), 293.15, 0.5).expect("a day")
}

fn pull(setup: &Setup) -> Pull {
    let conditions = Conditions::rested(setup.car.engine.redline_rpm);
    setup.pull(&day(), &conditions, 40).expect("a pull")
}

fn settled(car: &Car, rpm: f64, core_k: f64) -> OperatingPoint {
    OnADay::new(car, day()).at(rpm, Slow::settled(core_k), None)
}

/// Torque may fall by what the searches leave open, relative.
const OPEN: f64 = 1e-4;

#[test]
fn a_number_of_octane_moves_no_reading_of_a_pull_far() {
    for small in Small::all() {
        let pulls: Vec<Pull> = (90..=102)
            .map(|octane| {
                let octane = f64::from(octane);
                pull(&Small { octane, ..small }.setup())
            })
            .collect();
        for pair in pulls.windows(2) {
            for (a, b) in pair[0].points.iter().zip(&pair[1].points) {
                assert!(!b.engine.limits.contains(Limit::Unsettled), "{}", b.rpm);
                // Three in a hundred at most, as the spark gains; where the turbine is short of power a cooler exhaust brings the boost
                // later by a few revolutions, which costs less than half of one.
                let change = b.engine.torque_nm / a.engine.torque_nm - 1.0;
                assert!((-0.005..0.03).contains(&change), "{} {change}", a.rpm);
            }
            // The peaks are worth what the spark gains, and never less.
            let peaks = |p: &Pull| {
                (
                    p.peak_power().expect("points").power_w,
                    p.peak_torque().expect("points").torque_nm,
                )
            };
            let ((power, torque), (more_power, more_torque)) = (peaks(&pair[0]), peaks(&pair[1]));
            assert!(more_power > power * (1.0 - OPEN), "{power} {more_power}");
            assert!(
                more_torque > torque * (1.0 - OPEN),
                "{torque} {more_torque}"
            );
        }
    }
}

/// Greatest change of a reading between the pulls of cars that differ a little.
fn greatest_step(cars: impl Iterator<Item = Small>) -> f64 {
    let pulls: Vec<Pull> = cars.map(|small| pull(&small.setup())).collect();
    let mut most: f64 = 0.0;
    for pair in pulls.windows(2) {
        for (a, b) in pair[0].points.iter().zip(&pair[1].points) {
            assert!(!b.engine.limits.contains(Limit::Unsettled), "{}", b.rpm);
            most = most.max((b.engine.torque_nm / a.engine.torque_nm - 1.0).abs());
        }
    }
    most
}

#[test]
fn a_little_compression_moves_no_reading_of_a_pull_far() {
    for small in Small::all() {
        let cars = (0..=10).map(|k| Small {
            compression: 8.5 + 0.25 * f64::from(k),
            ..small
        });
        let most = greatest_step(cars);
        assert!(most < 0.03, "{most}");
    }
}

#[test]
fn a_little_boost_moves_no_reading_of_a_pull_far() {
    let cars = (0..=16).map(|k| Small {
        boost_kpa: 60.0 + 5.0 * f64::from(k),
        turbine_mm2: Some(350.0),
        ..SMALL
    });
    let most = greatest_step(cars);
    // Three in a hundred of the absolute pressure.
    assert!(most < 0.045, "{most}");
}

/// Settled torque at speeds where the gate is open, of cars in an order in which the charge bears more and more spark.
fn never_falls_with_the_gate_open(cars: &[(Setup, f64)]) -> usize {
    let mut compared = 0;
    for rpm in [
        2500.0, 3000.0, 3500.0, 4000.0, 4500.0, 5000.0, 5500.0, 6000.0,
    ] {
        let points: Vec<OperatingPoint> = cars
            .iter()
            .map(|(setup, core_k)| settled(&setup.car, rpm, *core_k))
            .collect();
        for pair in points.windows(2) {
            let open = |p: &OperatingPoint| p.shaft.is_some_and(|s| s.gate_share > 0.0);
            if open(&pair[0]) && open(&pair[1]) {
                compared += 1;
                let (less, more) = (pair[0].torque_nm, pair[1].torque_nm);
                assert!(more > less * (1.0 - OPEN), "{rpm}: {less} {more}");
            }
        }
        for point in &points {
            let shaft = point.shaft.expect("a shaft");
            if shaft.gate_share > 0.0 {
                // Where the gate is open the boost is what the control holds, on any branch there might be: to the shaft's search.
                let outlet = point.blower.pressure_ratio * point.inlet_pa;
                let held = shaft.target_pa - shaft.held_back_pa;
                assert!((outlet / held - 1.0).abs() < 1e-3, "{rpm}: {outlet} {held}");
            }
        }
    }
    compared
}

#[test]
fn with_the_gate_open_more_octane_never_costs() {
    let mut compared = 0;
    for small in Small::all() {
        let cars: Vec<_> = (90..=102)
            .map(|octane| {
                let octane = f64::from(octane);
                (Small { octane, ..small }.setup(), 300.0)
            })
            .collect();
        compared += never_falls_with_the_gate_open(&cars);
    }
    assert!(compared > 100, "{compared}");
}

#[test]
fn with_the_gate_open_a_colder_charge_never_costs() {
    let mut compared = 0;
    for small in Small::all() {
        let setup = small.setup();
        let cars: Vec<_> = [340.0, 330.0, 320.0, 310.0, 300.0, 290.0, 280.0]
            .map(|core_k| (setup.clone(), core_k))
            .into();
        compared += never_falls_with_the_gate_open(&cars);
    }
    assert!(compared > 50, "{compared}");
}

/// At a shaft speed given, the exhaust cannot bring more boost: knock alone decides.
#[test]
fn at_a_shaft_speed_more_octane_never_costs() {
    for small in Small::all() {
        let cars: Vec<Setup> = (90..=102)
            .map(|octane| {
                let octane = f64::from(octane);
                Small { octane, ..small }.setup()
            })
            .collect();
        for rpm in [2500.0, 3500.0, 5000.0] {
            for wheel_rad_s in [8e3, 11e3, 14e3, 17e3] {
                let slow = Slow {
                    wheel_rad_s: Some(wheel_rad_s),
                    ..Slow::settled(300.0)
                };
                let torques: Vec<f64> = cars
                    .iter()
                    .map(|setup| OnADay::new(&setup.car, day()).at(rpm, slow, None).torque_nm)
                    .collect();
                for pair in torques.windows(2) {
                    assert!(
                        pair[1] > pair[0] * (1.0 - OPEN),
                        "{rpm} {wheel_rad_s}: {torques:?}"
                    );
                }
            }
        }
    }
}
