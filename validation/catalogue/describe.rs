//! An engine of a table as a bare car: what the table holds is given, what a car file cannot do without is guessed with its doubt.

use super::stand;
use super::table::Engine;
use pullcast::belief::sheet::Sheet;
use pullcast::belief::{Prior, typical};
use pullcast::boost::{
    BoostControl, CentrifugalCompressor, CompressorMap, Holds, MapPoint, MapReference, Turbocharger,
};
use pullcast::car::{Blower, Facts};
use pullcast::cooling::HeatSink;
use pullcast::cooling::charge_cooler::ChargeCooler;
use pullcast::fuel::Fuel;

/// Redline over the speed of rated power (common practice, no source: road engines are cut off 5 to 15 % beyond it).
pub(super) const REDLINE_OVER_RATED: f64 = 1.10;

/// Compression ratio where a table holds none, with its standard deviation, and research octane of the fuel that engines of the time were
/// rated on (common practice, no source).
fn compression(engine: &Engine) -> (f64, f64) {
    match (engine.year < 2000.0, engine.turbo) {
        (true, false) => (9.2, 0.5),
        (true, true) => (8.0, 0.5),
        (false, false) => (10.8, 0.6),
        (false, true) => (9.9, 0.5),
    }
}

fn octane(engine: &Engine) -> f64 {
    if engine.year < 2000.0 { 92.0 } else { 96.0 }
}

fn normal(mean: f64, sd: f64, lower: f64, upper: f64) -> Prior {
    Prior::normal(mean, sd, lower, upper).expect("a spread inside its bounds")
}

fn exact(value: f64) -> Prior {
    Prior::fixed(value).expect("a finite number")
}

/// The engine with the beliefs `more` in place of the catalogue's defaults.
pub(super) fn sheet(engine: &Engine, more: &[(&'static str, Prior)], turbo: &Boost) -> Sheet {
    let cylinders = f64::from(engine.cylinders);
    let area = |bore_m: f64| 0.25 * std::f64::consts::PI * bore_m * bore_m * cylinders;
    let (bore_m, stroke_m) = match (engine.bore_m, engine.stroke_m) {
        (Some(bore), Some(stroke)) => (bore, stroke),
        (None, Some(stroke)) => (
            (engine.displacement_m3 / (area(1.0) * stroke)).sqrt(),
            stroke,
        ),
        (Some(bore), None) => (bore, engine.displacement_m3 / area(bore)),
        (None, None) => {
            let side = (engine.displacement_m3 / area(1.0)).cbrt();
            (side, side)
        }
    };
    let redline_rpm = REDLINE_OVER_RATED * engine.power.1;
    let fuel = Fuel::petrol(octane(engine), None);
    let (ratio, ratio_sd) = match engine.compression_ratio {
        Some(ratio) => (ratio, 0.0),
        None => compression(engine),
    };
    let facts = Facts {
        name: engine.id.clone(),
        cylinders: engine.cylinders,
        bore_m,
        stroke_m,
        compression_ratio: ratio,
        inlet_valves: engine.inlet_valves.unwrap_or(1),
        fuelling: engine.fuelling,
        redline_rpm,
        fuel,
        drive: stand::DRIVE,
        gearbox: stand::GEARBOX,
        gear_ratio: stand::GEAR,
        final_ratio: stand::FINAL_DRIVE,
        tyre_radius_m: stand::TYRE_RADIUS_M,
    };
    let compression = if ratio_sd > 0.0 {
        normal(ratio, ratio_sd, 6.0, 14.0)
    } else {
        exact(ratio)
    };
    let mut given = vec![
        ("engine.bore", exact(bore_m)),
        ("engine.stroke", exact(stroke_m)),
        ("engine.compression_ratio", compression),
        ("engine.redline", exact(redline_rpm)),
        ("fuel.research_octane", exact(fuel.research_octane)),
        ("fuel.motor_octane", exact(fuel.motor_octane)),
    ];
    given.extend_from_slice(more);
    let mut car = typical(facts);
    if engine.turbo {
        let flow_kg_s = car.intake.reference_flow_kg_s;
        car.blower = Blower::Turbo(Box::new(turbo.charger(flow_kg_s, redline_rpm)));
        let sink = HeatSink::Air;
        let usual = sink.usual();
        car.cooler = Some(ChargeCooler::rated(
            usual.effectiveness.0,
            1.3 * flow_kg_s,
            usual.heat_capacity_j_k.0,
            sink,
        ));
    }
    stand::sheet(car, given).unwrap_or_else(|e| panic!("{}: {e}", engine.id))
}

/// Boost that nobody stated.
#[derive(Debug, Clone, Copy)]
pub(super) struct Boost {
    /// Above the air outside, Pa.
    pub(super) gauge_pa: f64,
    /// Share of it that is left at the redline.
    pub(super) at_redline: f64,
    /// Turbine area over the usual one.
    pub(super) turbine: f64,
}

/// A mild boost, for whoever asks about engines without any.
#[cfg(test)]
pub(super) const MILD: Boost = Boost {
    gauge_pa: 50e3,
    at_redline: 1.0,
    turbine: 1.0,
};

/// Compressor of a modern turbocharger at its rated point, which stands at three quarters of the engine's flow at the redline: efficiency, work
/// over the square of the rim's speed, and wheel for a flow (all from memory).
const RATED_SHARE: f64 = 0.75;
const EFFICIENCY: f64 = 0.74;
const WORK_FACTOR: f64 = 0.70;
const WHEEL: (f64, f64) = (0.049, 0.130);
/// Engine speed over the redline from which all of the boost is asked for.
const ASKED_FROM: f64 = 0.3;

impl Boost {
    fn charger(&self, reference_flow_kg_s: f64, redline_rpm: f64) -> Turbocharger {
        let ratio = 1.05 + self.gauge_pa / 101_325.0;
        let flow_kg_s = RATED_SHARE * reference_flow_kg_s * ratio;
        let reference = MapReference {
            pressure_pa: 100e3,
            temperature_k: 298.15,
        };
        let work = 1005.0 * 298.15 * (ratio.powf(0.2857) - 1.0) / EFFICIENCY;
        let rim_m_s = (work / WORK_FACTOR).sqrt();
        let wheel_diameter_m = WHEEL.0 * (flow_kg_s / WHEEL.1).sqrt();
        let point = MapPoint {
            speed_rad_s: 2.0 * rim_m_s / wheel_diameter_m,
            flow_kg_s,
            pressure_ratio: ratio,
            efficiency: EFFICIENCY,
        };
        let map = CompressorMap::from_rated_point(point, reference, wheel_diameter_m)
            .expect("a possible compressor");
        let control = BoostControl {
            holds: Holds::Gauge,
            asked: vec![
                (ASKED_FROM * redline_rpm, self.gauge_pa),
                (redline_rpm, self.at_redline * self.gauge_pa),
            ],
            factor: 1.0,
        };
        let mut turbo = Turbocharger::usual(
            CentrifugalCompressor::of_map(map),
            1,
            control,
            reference_flow_kg_s,
        );
        turbo.turbine.effective_area_m2 *= self.turbine;
        turbo
    }
}
