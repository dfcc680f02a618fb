//! How far knock moves the spark: a whole engine without boost against what engines were measured to ask.
//!
//! Source: A review of the effect of engine operating conditions on borderline knock, SAE 960497 (1996), abstract read: guidelines from
//! a single cylinder with production heads of two and four valves, and from the literature beside it: 1 octane number for 1 deg of
//! spark, for 7 K of intake air, 3 to 4 for 10 kPa of intake pressure, 5 for a unit of compression, 1 for 30 kPa of exhaust
//! pressure. The abstract prints no errors; 30 % is taken for those told as one round number, as the engines and conditions of its
//! literature "were quite different". The mixture is the one at which it found most knock, 5 % rich.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::belief::typical;
use pullcast::car::{Car, Facts, Fuelling, OnADay, OperatingPoint, Slow};
use pullcast::driveline::gears::{Drive, Gearbox};
use pullcast::fit::calibration::spark_deg;
use pullcast::fuel::Fuel;

/// Borderline knock: an engine whose delay was chosen so that knock holds half the burn here, deg. The literature's engines differ in
/// level, and slopes are asked where knock binds.
const HELD_AT_DEG: f64 = 15.0;

#[derive(Clone, Copy)]
struct Engine {
    rpm: f64,
    ratio: f64,
    octane: f64,
    pressure_pa: f64,
    kelvin: f64,
    delay: f64,
}

impl Engine {
    /// At borderline knock on a dry day of 1000 hPa and 32 °C.
    fn at_the_limit(rpm: f64, ratio: f64, octane: f64) -> Self {
        let mut engine = Self {
            rpm,
            ratio,
            octane,
            pressure_pa: 1e5,
            kelvin: 305.0,
            delay: 1.0,
        };
        let (mut low, mut high) = (0.1_f64.ln(), 10_f64.ln());
        for _ in 0..24 {
            let middle = 0.5 * (low + high);
            engine.delay = middle.exp();
            if engine.point().cylinder.ca50_deg > HELD_AT_DEG {
                low = middle;
            } else {
                high = middle;
            }
        }
        engine
    }

    fn car(&self) -> Car {
        let mut car = typical(Facts {
            name: "four".into(),
            cylinders: 4,
            bore_m: 0.086,
            stroke_m: 0.086,
            compression_ratio: self.ratio,
            inlet_valves: 2,
            fuelling: Fuelling::Injection,
            redline_rpm: 6500.0,
            fuel: Fuel::petrol(self.octane, None),
            drive: Drive::Rear,
            gearbox: Gearbox::Manual,
            gear_ratio: 1.0,
            final_ratio: 3.5,
            tyre_radius_m: 0.33,
        });
        car.tune.lambda = 0.95;
        car.engine.knock.delay_multiplier = self.delay;
        car.retabulate_knock();
        car
    }

    fn point(&self) -> OperatingPoint {
        let car = self.car();
        let pressure = StationPressure::from_pa(self.pressure_pa);
        let day = Day::from_relative_humidity(pressure, self.kelvin, 0.0).expect("a possible day");
        OnADay::new(&car, day).at(self.rpm, Slow::settled(300.0), None)
    }

    /// Spark, deg before top dead centre.
    fn spark(&self) -> f64 {
        spark_deg(&self.point())
    }

    /// Degrees of spark for an octane number more.
    fn per_octane(&self) -> f64 {
        let spark = |octane: f64| Self { octane, ..*self }.spark();
        0.5 * (spark(self.octane + 1.0) - spark(self.octane - 1.0))
    }

    /// Octane numbers that keep the spark of the one engine in the other.
    fn octane_asked(&self, gentler: &Self, harsher: &Self) -> f64 {
        (gentler.spark() - harsher.spark()) / self.per_octane()
    }
}

fn engines() -> [Engine; 2] {
    [
        Engine::at_the_limit(1500.0, 9.0, 91.0),
        Engine::at_the_limit(2500.0, 10.0, 95.0),
    ]
}

#[test]
fn an_octane_number_is_worth_a_degree_of_spark() {
    for engine in engines() {
        let slope = engine.per_octane();
        assert!((0.7..1.3).contains(&slope), "{slope}");
    }
}

#[test]
fn seven_kelvin_of_intake_air_ask_for_an_octane_number() {
    for engine in engines() {
        let at = |kelvin: f64| Engine { kelvin, ..engine };
        let asked = engine.octane_asked(&at(engine.kelvin - 3.5), &at(engine.kelvin + 3.5));
        assert!((0.7..1.3).contains(&asked), "{asked}");
    }
}

/// A day's pressure stands behind the exhaust too, so its 1 number for 30 kPa is added to both ends.
#[test]
fn ten_kilopascal_ask_for_three_to_four_octane_numbers() {
    for engine in engines() {
        let at = |pressure_pa: f64| Engine {
            pressure_pa,
            ..engine
        };
        let asked = engine.octane_asked(&at(0.95e5), &at(1.05e5));
        let behind = 10.0 / 30.0;
        assert!((3.0 + behind..4.0 + behind).contains(&asked), "{asked}");
    }
}

#[test]
fn a_unit_of_compression_asks_for_five_octane_numbers() {
    for engine in engines() {
        let at = |ratio: f64| Engine { ratio, ..engine };
        let asked = engine.octane_asked(&at(engine.ratio - 0.5), &at(engine.ratio + 0.5));
        assert!((3.5..6.5).contains(&asked), "{asked}");
    }
}
