//! A predicted pull: what the drums will read, and what goes on inside the car to make it so.
//!
//! One row per round engine speed, uncorrected beside corrected, and the limits the pull runs into. It is the centre of the
//! beliefs, without a range; a figure to promise comes from a quote.

mod axle;
mod rig;

pub use axle::AxlePoint;

use super::basis::{Corrected, ElectricStart, Weather};
use super::limits::{LimitLine, caps, of_pull};
use super::number::{Units, What};
use super::sequence::SequenceReport;
use super::table::{TextTable, WIDTH, paragraph};
use super::{Report, heading};
use crate::car::Car;
use crate::dyno::correction::Correction;
use crate::dyno::pull::AxleStart;
use crate::dyno::{Drums, Pull, PullPoint};
use crate::units;
use serde::Serialize;

/// A predicted pull.
#[derive(Debug, Clone, Serialize)]
pub struct PredictReport {
    /// The car's name.
    pub car: String,
    /// The plan's name, if one was applied.
    pub plan: Option<String>,
    /// The air.
    pub weather: Weather,
    /// How the electric axle starts; none on a car without one.
    pub electric_axle: Option<ElectricStart>,
    /// The correction.
    pub correction: Corrected,
    /// Highest power.
    pub peak_power: Peak,
    /// What caps that power: where anything does, the peak is what it lets through.
    pub peak_power_capped_by: Vec<&'static str>,
    /// Highest torque.
    pub peak_torque: Peak,
    /// Highest power of the car before the plan.
    pub peak_power_before: Option<Peak>,
    /// The curve.
    pub points: Vec<Point>,
    /// The same more finely, for a recording.
    #[serde(skip)]
    recording: Vec<Point>,
    /// Limits met.
    pub limits: Vec<LimitLine>,
    /// The rig, where it is more than an inertia drum under one axle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rig: Option<String>,
    /// What the split between the axles rests on; none without an electric axle that helps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub axle_split: Option<&'static str>,
    /// How long the pull takes.
    pub duration_s: f64,
    /// The pulls after this one, where they were asked for; this one is the first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sequence: Option<SequenceReport>,
}

/// The figures at one engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// Engine speed.
    pub rpm: f64,
    /// Power at the drums, uncorrected.
    pub power_w: f64,
    /// Corrected; its electric share as observed.
    pub corrected_power_w: f64,
    /// Torque at the drums referred to engine speed, uncorrected.
    pub torque_nm: f64,
    /// Corrected.
    pub corrected_torque_nm: f64,
    /// The engine's share of the uncorrected power.
    pub engine_power_w: f64,
    /// Electric share of the uncorrected power; with the engine's it makes the whole.
    pub electric_power_w: f64,
    /// What the standard would have added to that share.
    pub electric_not_added_w: f64,
}

/// One row of the curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Point {
    /// The drums' figures.
    #[serde(flatten)]
    pub drums: Peak,
    /// Time since the throttle opened.
    pub time_s: f64,
    /// Torque at the crank.
    pub crank_torque_nm: f64,
    /// Absolute manifold pressure.
    pub manifold_pressure_pa: f64,
    /// Manifold pressure above the air outside.
    pub boost_pa: f64,
    /// Charge temperature in the manifold.
    pub charge_k: f64,
    /// Speed of the blower's shaft; none without a blower.
    pub blower_rpm: Option<f64>,
    /// Power the blower takes from the crank; none without a blower on a belt.
    pub blower_power_w: Option<f64>,
    /// Pressure before the turbine; none without a turbocharger.
    pub turbine_inlet_pa: Option<f64>,
    /// Share of the exhaust gas that passes the turbine by the gate; none without a turbocharger.
    pub gate_share: Option<f64>,
    /// Relative air-fuel ratio.
    pub lambda: f64,
    /// Half the burn, after top dead centre.
    pub half_burn_deg: f64,
    /// Share of a cycle for which the injectors are told to open; none where they are not known.
    pub injector_duty: Option<f64>,
    /// The electric axle; none on a car without one, or with it off.
    pub electric_axle: Option<AxlePoint>,
    /// What caps the power here.
    pub capped_by: Vec<&'static str>,
}

/// Spacing of the rows, rpm.
const ROW_RPM: f64 = 250.0;
/// Distance of engine speeds in the curve written as a recording, rpm: enough rows for any engine's pull.
const RECORDING_RPM: f64 = 50.0;

impl PredictReport {
    /// Reads the pull, started with the electric axle so, at round engine speeds.
    pub fn new(
        car: &Car,
        plan: Option<String>,
        (pull, axle): (&Pull, AxleStart),
        before: Option<&Pull>,
        weather: Weather,
        correction: &Correction,
    ) -> Option<Self> {
        let peak_power = peak(pull.peak_power()?, correction);
        let helps = car.electric.is_some() && axle.on;
        let points = |step| points((pull, helps), weather.station_pressure_pa, correction, step);
        Some(Self {
            car: car.name.clone(),
            electric_axle: ElectricStart::of(car, axle),
            plan,
            peak_power,
            peak_power_capped_by: pull.peak_power().map(caps).unwrap_or_default(),
            peak_torque: peak(pull.peak_torque()?, correction),
            peak_power_before: before
                .and_then(Pull::peak_power)
                .map(|p| peak(p, correction)),
            points: points(ROW_RPM),
            recording: points(RECORDING_RPM),
            limits: of_pull(pull),
            rig: None,
            axle_split: None,
            duration_s: pull.points.last()?.time_s,
            weather,
            correction: Corrected::from(correction),
            sequence: None,
        })
    }

    /// Says what these drums are, and what the split between the axles rests on.
    pub fn on_drums(&mut self, drums: &Drums, pull: &Pull) {
        let helps = self.points.iter().any(|p| p.electric_axle.is_some());
        self.axle_split = helps.then(|| axle::split(drums.coupling));
        self.rig = rig::words(drums, pull);
    }

    /// The curve as a recording: headers with units, one row per engine speed, readable by every verb that takes runs.
    pub fn csv(&self) -> String {
        let mut out = String::from(
            "time (s),engine speed (rpm),wheel power (kW),corrected wheel power (kW),wheel torque (N m),manifold pressure (kPa absolute),charge temperature (°C),lambda\n",
        );
        for p in &self.recording {
            add!(
                out,
                "{:.4},{:.1},{:.3},{:.3},{:.3},{:.3},{:.2},{:.4}\n",
                p.time_s,
                p.drums.rpm,
                p.drums.power_w / 1e3,
                p.drums.corrected_power_w / 1e3,
                p.drums.torque_nm,
                p.manifold_pressure_pa / 1e3,
                p.charge_k - 273.15,
                p.lambda
            );
        }
        out
    }
}

fn figures(rpm: f64, power_w: f64, electric_power_w: f64, correction: &Correction) -> Peak {
    let corrected = correction.apply(power_w - electric_power_w, electric_power_w);
    let speed_rad_s = units::rad_s(rpm);
    Peak {
        rpm,
        power_w,
        corrected_power_w: corrected.total_w,
        torque_nm: power_w / speed_rad_s,
        corrected_torque_nm: corrected.total_w / speed_rad_s,
        engine_power_w: power_w - electric_power_w,
        electric_power_w,
        electric_not_added_w: corrected.electric_not_added_w,
    }
}

/// The figures of one point of a pull.
pub fn peak(point: &PullPoint, correction: &Correction) -> Peak {
    figures(point.rpm, point.power_w, point.electric_w, correction)
}

/// The computed point nearest to an engine speed: a limit holds or not, there is nothing between.
fn nearest(pull: &Pull, rpm: f64) -> Option<&PullPoint> {
    let off = |p: &PullPoint| (p.rpm - rpm).abs();
    let points = pull.points.iter();
    points.min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// `helps` says whether an electric axle does.
fn points(
    (pull, helps): (&Pull, bool),
    ambient_pa: f64,
    correction: &Correction,
    step_rpm: f64,
) -> Vec<Point> {
    let (Some(first), Some(last)) = (pull.points.first(), pull.points.last()) else {
        return Vec::new();
    };
    let start = (first.rpm / step_rpm - 1e-6).ceil() * step_rpm;
    let mut speeds = Vec::new();
    let mut rpm = start;
    while rpm < last.rpm - 1.0 {
        speeds.push(rpm);
        rpm += step_rpm;
    }
    speeds.push(last.rpm);
    speeds
        .into_iter()
        .map(|rpm| {
            let at = |of: fn(&PullPoint) -> f64| pull.reading(rpm, of);
            let manifold_pressure_pa = at(|p| p.engine.manifold_pa);
            let turns = at(|p| p.engine.blower.speed_rad_s);
            let blown = turns > 0.0;
            let turbo = pull.points.iter().any(|p| p.engine.shaft.is_some());
            Point {
                drums: figures(rpm, at(|p| p.power_w), at(|p| p.electric_w), correction),
                time_s: at(|p| p.time_s),
                crank_torque_nm: at(|p| p.engine.torque_nm),
                manifold_pressure_pa,
                boost_pa: manifold_pressure_pa - ambient_pa,
                charge_k: at(|p| p.engine.charge_k),
                blower_rpm: blown.then_some(units::rpm(turns)),
                blower_power_w: (blown && !turbo).then(|| at(|p| p.engine.blower.crank_w)),
                turbine_inlet_pa: turbo.then(|| at(|p| p.engine.exhaust_pa)),
                gate_share: turbo
                    .then(|| at(|p| p.engine.shaft.map_or(0.0, |s| s.gate_share)).clamp(0.0, 1.0)),
                lambda: at(|p| p.engine.cylinder.lambda),
                half_burn_deg: at(|p| p.engine.cylinder.ca50_deg),
                injector_duty: first
                    .engine
                    .injector_duty
                    .map(|_| at(|p| p.engine.injector_duty.unwrap_or(0.0))),
                electric_axle: helps.then(|| AxlePoint::at(pull, rpm)),
                capped_by: nearest(pull, rpm).map(caps).unwrap_or_default(),
            }
        })
        .collect()
}

impl Report for PredictReport {
    const SCHEMA: &'static str = "pullcast/predict/1";

    fn text(&self, units: Units) -> String {
        let title = match &self.plan {
            Some(plan) => format!("{}, with {plan}", self.car),
            None => self.car.clone(),
        };
        let mut out = heading(&format!("Predicted pull: {title}"));
        add!(out, "Air:        {}\n", self.weather.line(units));
        if let Some(axle) = &self.electric_axle {
            add!(out, "Electric:   axle {}\n", axle.line(units));
        }
        add!(out, "Correction: {}\n", self.correction.line());
        out.push_str(&self.correction.breaches_text());
        if let Some(rig) = &self.rig {
            out.push_str(&paragraph("Rig:", rig, 12, WIDTH));
        }
        out.push('\n');
        out.push_str(&self.peaks(units));
        out.push('\n');
        out.push_str(&self.curve(units));
        out.push_str(&axle::text(&self.points, units));
        if let Some(split) = self.axle_split {
            out.push_str(&paragraph("", split, 2, WIDTH));
        }
        add!(
            out,
            "\nThe pull takes {}.\n",
            units.show(What::Time, self.duration_s)
        );
        if self.limits.is_empty() {
            out.push_str("No limit is met.\n");
        } else {
            out.push_str("\nLimits met\n");
            out.extend(self.limits.iter().map(|limit| limit.text(units)));
        }
        out.extend(self.sequence.iter().map(|row| row.text(units)));
        out.push_str("\nThis is the middle of what is believed, without a range; `quote` gives the range to promise.\n");
        out
    }
}

impl PredictReport {
    fn peaks(&self, units: Units) -> String {
        let mut table = TextTable::new("lr");
        table.row(["", "uncorrected", "corrected", "at rpm"]);
        let mut add = |name: &str, what, plain, corrected, rpm| {
            table.row([
                name.to_owned(),
                units.show(what, plain),
                units.show(what, corrected),
                units.cell(What::PeakRpm, rpm),
            ]);
        };
        let p = &self.peak_power;
        add(
            "peak power at the drums",
            What::Power,
            p.power_w,
            p.corrected_power_w,
            p.rpm,
        );
        let t = &self.peak_torque;
        add(
            "peak torque at engine speed",
            What::Torque,
            t.torque_nm,
            t.corrected_torque_nm,
            t.rpm,
        );
        if let Some(b) = &self.peak_power_before {
            add(
                "peak power before the work",
                What::Power,
                b.power_w,
                b.corrected_power_w,
                b.rpm,
            );
        }
        let mut out = table.render();
        if !self.peak_power_capped_by.is_empty() {
            add!(
                out,
                "  That peak is capped: {}.\n",
                self.peak_power_capped_by.join("; ")
            );
        }
        if p.electric_power_w > 0.0 {
            add!(
                out,
                "  Of the peak, {} is electric and left uncorrected",
                units.show(What::Power, p.electric_power_w)
            );
            if self.correction.changes_power() {
                add!(
                    out,
                    "; the factor would have changed it by {}",
                    units.show_change(What::Power, p.electric_not_added_w)
                );
            }
            out.push_str(".\n");
        }
        out
    }

    fn curve(&self, units: Units) -> String {
        let blown = self.points.iter().any(|p| p.blower_rpm.is_some());
        let turbo = self.points.iter().any(|p| p.gate_share.is_some());
        let electric = self.points.iter().any(|p| p.drums.electric_power_w > 0.0);
        let mut table = TextTable::new("r");
        let (power, torque) = (units.symbol(What::Power), units.symbol(What::Torque));
        let pressure = units.symbol(What::Pressure);
        let mut head = vec![
            "rpm", "power", "corr.", "torque", "corr.", "crank", "manifold", "boost", "charge",
        ];
        let mut symbols = vec![
            "",
            power,
            power,
            torque,
            torque,
            torque,
            pressure,
            pressure,
            units.symbol(What::Temperature),
        ];
        if turbo {
            head.extend(["shaft", "turbine", "gate"]);
            symbols.extend(["rpm", pressure, "%"]);
        } else if blown {
            head.extend(["blower", "takes"]);
            symbols.extend(["rpm", power]);
        }
        if electric {
            head.push("electric");
            symbols.push(power);
        }
        let metered = self.points.iter().any(|p| p.injector_duty.is_some());
        if metered {
            head.extend(["duty", "lambda"]);
            symbols.extend([units.symbol(What::Percent), ""]);
        }
        let capped = self.points.iter().any(|p| !p.capped_by.is_empty());
        if capped {
            head.push("");
            symbols.push("");
        }
        table.row(head);
        table.row(symbols);
        for p in &self.points {
            let d = &p.drums;
            let mut row = vec![
                units.cell(What::Rpm, d.rpm),
                units.cell(What::Power, d.power_w),
                units.cell(What::Power, d.corrected_power_w),
                units.cell(What::Torque, d.torque_nm),
                units.cell(What::Torque, d.corrected_torque_nm),
                units.cell(What::Torque, p.crank_torque_nm),
                units.cell(What::Pressure, p.manifold_pressure_pa),
                units.cell(What::Pressure, p.boost_pa),
                units.cell(What::Temperature, p.charge_k),
            ];
            let cell =
                |what, value: Option<f64>| value.map_or_else(String::new, |x| units.cell(what, x));
            if blown {
                row.push(cell(What::Rpm, p.blower_rpm));
            }
            if turbo {
                row.push(cell(What::Pressure, p.turbine_inlet_pa));
                row.push(cell(What::Percent, p.gate_share));
            } else if blown {
                row.push(cell(What::Power, p.blower_power_w));
            }
            if electric {
                row.push(units.cell(What::Power, d.electric_power_w));
            }
            if metered {
                row.push(
                    p.injector_duty
                        .map_or_else(String::new, |x| units.cell(What::Percent, x)),
                );
                row.push(units.cell(What::Ratio, p.lambda));
            }
            if capped {
                row.push(if p.capped_by.is_empty() { "" } else { "capped" }.to_owned());
            }
            table.row(row);
        }
        table.render()
    }
}
