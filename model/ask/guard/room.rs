//! The room and the sensors held against physics: pressure for its altitude, temperatures that no room or intake has, a manifold against the
//! room and against the torque.
//!
//! Exists because a pressure reduced to sea level or a temperature in °F makes a plausible number that bends every correction. It refuses what
//! only a fitted car could tell.

use super::{Candidate, Contradiction, Finding, Mistake, Question, Severity};
use crate::air::atmosphere::{AltimeterSetting, standard_atmosphere};
use crate::car::Blower;
use crate::dyno::Band;
use crate::units;
use std::f64::consts::PI;

/// Station pressure strays from the standard atmosphere's by no more, Pa: the strongest highs and lows outside a storm (common practice, no
/// source); beyond the second no weather takes it.
const WEATHER_PA: (f64, f64) = (5_000.0, 7_000.0);
/// No room is warmer, K, and no charge colder than its room by more, K (common practice, no source).
const WARMEST_ROOM_K: f64 = 323.15;
const COLDER_K: f64 = 10.0;
/// Charge above the room at the start of a pull, K: unblown, blown and cooled, blown (common practice, no source).
const CHARGE_K: [f64; 3] = [50.0, 70.0, 140.0];
/// Manifold over room at the lowest speed of an unblown engine at full throttle (common practice, no source).
const OPEN_THROTTLE: std::ops::RangeInclusive<f64> = 0.88..=1.03;
/// Mean effective pressure at the wheels over absolute manifold pressure at full throttle: wider than any healthy engine's (common practice, no
/// source), and what most have.
const MEAN_PRESSURE: std::ops::RangeInclusive<f64> = 5.0..=14.0;
const USUAL_MEAN_PRESSURE: f64 = 9.5;

fn found(
    finding: Contradiction,
    ratio: f64,
    within: f64,
    candidates: Vec<Candidate>,
    severity: Severity,
) -> Finding {
    Finding {
        finding,
        ratio,
        within,
        candidates,
        severity,
    }
}

fn candidate(mistake: Mistake, value: f64) -> Candidate {
    Candidate {
        mistake,
        value_that_would_agree: value,
    }
}

/// What a temperature would be if its number were degrees Fahrenheit, K. By definition.
fn from_fahrenheit(kelvin: f64) -> f64 {
    (kelvin - 273.15 - 32.0) / 1.8 + 273.15
}

/// What a temperature would be if its number, read as degrees Fahrenheit, were degrees Celsius, K. By definition.
fn to_fahrenheit(kelvin: f64) -> f64 {
    (kelvin - 273.15) * 1.8 + 32.0 + 273.15
}

impl Question<'_> {
    /// Everything that the room and the sensors contradict.
    /// Equation (6.33).
    pub(super) fn room(&self) -> Vec<Finding> {
        let each = [
            self.station_pressure(),
            self.room_temperature(),
            self.charge_temperature(),
            self.manifold_of_the_room(),
            self.mean_pressure(),
        ];
        each.into_iter().flatten().collect()
    }

    fn severe(&self, stops: bool) -> Severity {
        if stops && !self.trusted {
            Severity::Stops
        } else {
            Severity::Warns
        }
    }

    /// Station pressure against the standard atmosphere at the room's altitude, where that is known.
    fn station_pressure(&self) -> Option<Finding> {
        let altitude_m = self.entered.altitude_m?;
        let usual_pa = standard_atmosphere(altitude_m)?.station.pa();
        let typed_pa = self.pull.day.station().pa();
        let off_pa = typed_pa - usual_pa;
        (off_pa.abs() > WEATHER_PA.0).then(|| {
            let room_pa = AltimeterSetting::from_pa(typed_pa)
                .to_station(altitude_m)
                .pa();
            let reduced = (room_pa - usual_pa).abs() < WEATHER_PA.0;
            let candidates = reduced.then(|| candidate(Mistake::SeaLevelPressure, room_pa));
            found(
                Contradiction::StationPressure,
                typed_pa / usual_pa,
                WEATHER_PA.0 / usual_pa,
                candidates.into_iter().collect(),
                self.severe(off_pa.abs() > WEATHER_PA.1),
            )
        })
    }

    fn room_temperature(&self) -> Option<Finding> {
        let room_k = self.pull.day.temperature_k();
        let first = self.pull.curve.bands.first()?.charge_k;
        let colder = first.is_some_and(|charge_k| charge_k < room_k - COLDER_K);
        (room_k > WARMEST_ROOM_K || colder).then(|| {
            let usual_k = first.unwrap_or(WARMEST_ROOM_K).min(WARMEST_ROOM_K);
            let room = candidate(Mistake::FahrenheitAsCelsius, from_fahrenheit(room_k));
            // A charge read in the wrong unit is as cold as a room that is.
            let charge_k = first
                .map(to_fahrenheit)
                .filter(|charge_k| (room_k - COLDER_K..=room_k + CHARGE_K[0]).contains(charge_k));
            let charge = charge_k.map(|k| candidate(Mistake::CelsiusAsFahrenheit, k));
            let mut candidates: Vec<Candidate> = charge.into_iter().chain([room]).collect();
            if room_k > WARMEST_ROOM_K {
                candidates.reverse();
            }
            found(
                Contradiction::RoomTemperature,
                room_k / usual_k,
                COLDER_K / usual_k,
                candidates,
                self.severe(room_k > WARMEST_ROOM_K),
            )
        })
    }

    fn charge_temperature(&self) -> Option<Finding> {
        let charge_k = self.pull.curve.bands.first()?.charge_k?;
        let room_k = self.pull.day.temperature_k();
        let car = &self.sheet.centre.car;
        let most_k = match (&car.blower, &car.cooler) {
            (Blower::None, _) => CHARGE_K[0],
            (_, Some(_)) => CHARGE_K[1],
            (_, None) => CHARGE_K[2],
        };
        (charge_k > room_k + most_k).then(|| {
            let other_k = from_fahrenheit(charge_k);
            let fits = (room_k - COLDER_K..=room_k + most_k).contains(&other_k);
            let candidates = fits.then(|| candidate(Mistake::FahrenheitAsCelsius, other_k));
            found(
                Contradiction::ChargeTemperature,
                charge_k / room_k,
                most_k / room_k,
                candidates.into_iter().collect(),
                Severity::Warns,
            )
        })
    }

    /// The manifold of an unblown engine at full throttle against the room.
    fn manifold_of_the_room(&self) -> Option<Finding> {
        let car = &self.sheet.centre.car;
        if !matches!(car.blower, Blower::None) {
            return None;
        }
        let manifold_pa = self.pull.curve.bands.iter().find_map(|b| b.manifold_pa)?;
        let room_pa = self.pull.day.station().pa();
        let ratio = manifold_pa / room_pa;
        (!OPEN_THROTTLE.contains(&ratio)).then(|| {
            let mut candidates = Vec::new();
            if ratio > 1.5 {
                candidates.push(candidate(Mistake::AbsoluteForGauge, manifold_pa - room_pa));
            } else if ratio < 0.4 {
                candidates.push(candidate(Mistake::GaugeForAbsolute, manifold_pa + room_pa));
            } else if ratio < 1.0 {
                candidates.push(candidate(Mistake::SeaLevelPressure, manifold_pa / 0.98));
            }
            let stops = !(0.4..=1.5).contains(&ratio);
            found(
                Contradiction::ManifoldOfTheRoom,
                ratio,
                if ratio > 1.0 {
                    OPEN_THROTTLE.end() - 1.0
                } else {
                    1.0 - OPEN_THROTTLE.start()
                },
                candidates,
                self.severe(stops),
            )
        })
    }

    /// Mean effective pressure at the wheels over the logged manifold pressure, of the band of greatest torque.
    ///
    /// ```text
    /// p_w = 4π P/(ω V_d),   5.0 ≤ p_w/p_m ≤ 14.0
    /// ```
    ///
    /// Source: definition of the mean effective pressure of a four-stroke. Equation (6.32).
    fn mean_pressure(&self) -> Option<Finding> {
        let car = &self.sheet.centre.car;
        if car.electric.is_some() {
            return None;
        }
        let nm = |band: &Band| band.power_w / units::rad_s(band.rpm);
        let bands = self.pull.curve.bands.iter();
        let best = bands.max_by(|a, b| nm(a).total_cmp(&nm(b)))?;
        let manifold_pa = best.manifold_pa.filter(|pa| *pa > 0.0)?;
        let volume_m3 = car.engine.geometry.displacement_m3();
        let ratio = 4.0 * PI * nm(best) / volume_m3 / manifold_pa;
        if MEAN_PRESSURE.contains(&ratio) {
            return None;
        }
        let with = |pa: f64| MEAN_PRESSURE.contains(&(ratio * manifold_pa / pa));
        let candidates = self.pressures_or_size(
            (manifold_pa, best.rpm),
            with,
            volume_m3 * ratio / USUAL_MEAN_PRESSURE,
        );
        let edge = if ratio > *MEAN_PRESSURE.end() {
            *MEAN_PRESSURE.end()
        } else {
            *MEAN_PRESSURE.start()
        };
        Some(found(
            Contradiction::MeanPressure,
            ratio / USUAL_MEAN_PRESSURE,
            (edge / USUAL_MEAN_PRESSURE - 1.0).abs(),
            candidates,
            Severity::Warns,
        ))
    }
}
