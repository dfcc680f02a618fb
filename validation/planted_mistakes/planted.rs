//! The mistakes, and how each spoils a recording, its room or its car's file.

use pullcast::air::Day;
use pullcast::air::atmosphere::{AltimeterSetting, StationPressure};
use pullcast::ask::guard::Mistake;
use pullcast::dyno::{Band, Recording};
use pullcast::fit::observation::MeasuredPull;

/// A mistake as it is planted.
#[derive(Debug, Clone, Copy)]
pub(super) enum Planted {
    /// Numbers under the header of another unit, or corrected: recorded over true power, or the day's own factor.
    Reading(Mistake, Option<f64>),
    /// A number of the car file, times a factor.
    Entry(Mistake, &'static str, f64),
    /// The same where what was typed into the rig is noted.
    Noted(Mistake, &'static str, f64),
    /// The displacement of the car file, times a factor.
    Size(f64),
    /// What happened to the log or the room.
    Happened(Mistake, fn(&mut Made) -> Option<f64>),
}

/// A recording being spoiled; what would agree is given back, nothing where the mistake cannot be made.
pub(super) struct Made {
    pub(super) recording: Recording,
    pub(super) pull: MeasuredPull,
    pub(super) others: Vec<MeasuredPull>,
    pub(super) altitude_m: Option<f64>,
    pub(super) blown: bool,
}

/// Degrees Fahrenheit under the name Celsius. By definition.
fn fahrenheit(kelvin: f64) -> f64 {
    1.8 * (kelvin - 273.15) + 32.0 + 273.15
}

fn sea_level(made: &mut Made) -> Option<f64> {
    let day = &made.pull.day;
    let station = day.station();
    // The pressure that an altimeter would be set to: found from the reduction itself.
    let reduced = |pa: f64| {
        AltimeterSetting::from_pa(pa)
            .to_station(made.altitude_m.unwrap_or(0.0))
            .pa()
    };
    let typed_pa = station.pa() * station.pa() / reduced(station.pa());
    let typed_pa = typed_pa + station.pa() - reduced(typed_pa);
    let at = StationPressure::from_pa(typed_pa);
    let (room_k, humidity) = (day.temperature_k(), day.relative_humidity());
    let true_pa = station.pa();
    made.altitude_m.filter(|m| *m > 500.0)?;
    made.pull.day = Day::from_relative_humidity(at, room_k, humidity).ok()?;
    Some(true_pa)
}

fn warm_room(made: &mut Made) -> Option<f64> {
    let day = &made.pull.day;
    let true_k = day.temperature_k();
    let humidity = 0.3 * day.relative_humidity();
    made.pull.day =
        Day::from_relative_humidity(day.station(), fahrenheit(true_k), humidity).ok()?;
    Some(true_k)
}

fn warm_charge(made: &mut Made) -> Option<f64> {
    let charge_k = made.recording.charge_k.as_mut()?;
    for k in charge_k.iter_mut() {
        *k = fahrenheit(*k);
    }
    made.pull.curve.bands.first()?.charge_k
}

fn gauge(made: &mut Made) -> Option<f64> {
    let room_pa = made.pull.day.station().pa();
    let manifold_pa = made.recording.manifold_pa.as_mut()?;
    let bands = made.pull.curve.bands.iter();
    let torque = |b: &&Band| b.power_w / b.rpm;
    // An unblown engine is told at its lowest speed, a blown one where it pulls hardest.
    let told = if made.blown {
        bands.max_by(|a, b| torque(a).total_cmp(&torque(b)))
    } else {
        made.pull.curve.bands.first()
    };
    let first = told?.manifold_pa?;
    for pa in manifold_pa.iter_mut() {
        *pa = (*pa - room_pa).max(100.0);
    }
    Some(first)
}

/// The manifold pressure where a blown engine pulls hardest, Pa, before the boost of every row is read as another.
fn boost(made: &mut Made, read: impl Fn(f64, f64) -> f64) -> Option<f64> {
    if !made.blown {
        return None;
    }
    let room_pa = made.pull.day.station().pa();
    let bands = made.pull.curve.bands.iter();
    let strongest = bands.max_by(|a, b| a.power_w.total_cmp(&b.power_w))?;
    let told_pa = strongest.manifold_pa?;
    for pa in made.recording.manifold_pa.as_mut()?.iter_mut() {
        *pa = room_pa + read(*pa, room_pa);
    }
    // A tenth of a bar more or less in any unit is no boost to be told by.
    (told_pa > 1.15 * room_pa).then_some(told_pa)
}

fn absolute(made: &mut Made) -> Option<f64> {
    boost(made, |pa, _| pa)
}

/// 1 psi is 6.894757 kPa (NIST SP 811).
fn psi(made: &mut Made) -> Option<f64> {
    boost(made, |pa, room_pa| (pa - room_pa) / 6.894757)
}

/// Degrees Celsius under the name Fahrenheit. By definition.
fn cold_charge(made: &mut Made) -> Option<f64> {
    let first_k = made.pull.curve.bands.first()?.charge_k?;
    let charge_k = made.recording.charge_k.as_mut()?;
    for k in charge_k.iter_mut() {
        *k = (*k - 273.15 - 32.0) / 1.8 + 273.15;
    }
    Some(first_k)
}

fn doubled(made: &mut Made) -> Option<f64> {
    made.recording.engine_rpm.first()?;
    for rpm in &mut made.recording.engine_rpm {
        *rpm *= 2.0;
    }
    Some(2.0)
}

/// A foot that comes up for some half a second: power falls to a third, and the drum gains speed that much more slowly.
fn lifted(made: &mut Made) -> Option<f64> {
    let recording = &mut made.recording;
    let n = recording.len();
    let at = 3 * n / 5;
    let (from, to) = (at, (at + 12).min(n - 1));
    let time_s = recording.time_s.clone();
    let mut later = 0.0;
    for row in 1..n {
        if (from..to).contains(&row) {
            later += 2.0 * (time_s[row] - time_s[row - 1]);
            recording.power_w[row] /= 3.0;
        }
        recording.time_s[row] = time_s[row] + later;
    }
    recording.engine_rpm.get(from.midpoint(to)).copied()
}

fn slow(made: &mut Made) -> Option<f64> {
    let dropped: Vec<usize> = (0..made.recording.len())
        .filter(|row| row % 10 != 0)
        .collect();
    made.recording.time_s.first()?;
    made.recording = made.recording.without(&dropped);
    Some(f64::NAN)
}

/// A stronger engine: more power, and less time for the same speeds.
fn another_car(made: &mut Made) -> Option<f64> {
    if made.others.is_empty() {
        return None;
    }
    made.recording.power_w.iter_mut().for_each(|w| *w *= 1.25);
    made.recording.time_s.iter_mut().for_each(|s| *s /= 1.25);
    Some(1.25)
}

/// 1 kW in hp and 1 N m in lb ft, from the definitions (NIST SP 811).
const HP: f64 = 1.341_022;
const LB_FT: f64 = 0.737_562;

pub(super) const PLANTED: [(&str, Planted); 24] = [
    ("hp as kW", Planted::Reading(Mistake::PowerHpAsKw, Some(HP))),
    (
        "kW as hp",
        Planted::Reading(Mistake::PowerKwAsHp, Some(1.0 / HP)),
    ),
    (
        "lb ft as N m",
        Planted::Reading(Mistake::TorqueLbFtAsNm, Some(LB_FT)),
    ),
    (
        "corrected power as read",
        Planted::Reading(Mistake::CorrectedPowerAsRead, None),
    ),
    (
        "gear 25 % too long",
        Planted::Entry(Mistake::Gear, "driveline.gear", 0.8),
    ),
    (
        "gear 25 % too short",
        Planted::Entry(Mistake::Gear, "driveline.gear", 1.25),
    ),
    (
        "final drive 8 % low",
        Planted::Entry(Mistake::FinalDrive, "driveline.final_drive", 0.92),
    ),
    (
        "final drive 8 % high",
        Planted::Entry(Mistake::FinalDrive, "driveline.final_drive", 1.08),
    ),
    (
        "inertia 10 % low",
        Planted::Entry(Mistake::DrumInertia, "drums.inertia", 0.9),
    ),
    (
        "inertia 10 % high",
        Planted::Entry(Mistake::DrumInertia, "drums.inertia", 1.1),
    ),
    (
        "inertia 10 % high, noted",
        Planted::Noted(Mistake::DrumInertia, "drums.inertia", 1.1),
    ),
    (
        "sea-level pressure",
        Planted::Happened(Mistake::SeaLevelPressure, sea_level),
    ),
    (
        "°F as °C, room",
        Planted::Happened(Mistake::FahrenheitAsCelsius, warm_room),
    ),
    (
        "°F as °C, charge",
        Planted::Happened(Mistake::FahrenheitAsCelsius, warm_charge),
    ),
    (
        "gauge as absolute",
        Planted::Happened(Mistake::GaugeForAbsolute, gauge),
    ),
    (
        "absolute as boost",
        Planted::Happened(Mistake::AbsoluteForGauge, absolute),
    ),
    (
        "boost in psi as kPa",
        Planted::Happened(Mistake::BoostPsiAsKpa, psi),
    ),
    (
        "°C as °F, charge",
        Planted::Happened(Mistake::CelsiusAsFahrenheit, cold_charge),
    ),
    (
        "pick-up counts double",
        Planted::Happened(Mistake::EnginePickUp, doubled),
    ),
    ("a lift", Planted::Happened(Mistake::ThrottleLift, lifted)),
    ("5 rows a second", Planted::Happened(Mistake::SlowLog, slow)),
    (
        "another car",
        Planted::Happened(Mistake::AnotherCar, another_car),
    ),
    ("displacement 40 % high", Planted::Size(1.4)),
    ("displacement 40 % low", Planted::Size(1.0 / 1.4)),
];
