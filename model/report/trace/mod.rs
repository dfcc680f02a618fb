//! The working at one engine speed: every intermediate number, in the order the air goes, with the name of its equation.
//!
//! It exists so that a figure can be checked by hand and argued with. Numbers are taken from the operating point and the
//! pull; where a step is worked out again here (port, driveline), it uses the device's own formula and must come out at
//! the pull's reading.

mod by_cycle;
mod drums;
mod engine;
mod supply;

use super::basis::{ElectricStart, Weather};
use super::limits::LimitLine;
use super::number::{Units, What};
use super::table::{TextTable, WIDTH, paragraph};
use super::{Report, heading};
use crate::air::Day;
use crate::dyno::pull::AxleStart;
use crate::dyno::{Conditions, Pull, PullError, Setup};
use serde::Serialize;

/// The working.
#[derive(Debug, Clone, Serialize)]
pub struct TraceReport {
    /// The car's name.
    pub car: String,
    /// The plan's name, if one was applied.
    pub plan: Option<String>,
    /// The air.
    pub weather: Weather,
    /// How the electric axle starts; none on a car without one.
    pub electric_axle: Option<ElectricStart>,
    /// Engine speed.
    pub rpm: f64,
    /// Time since the start of the pull.
    pub time_s: f64,
    /// The steps, in the order the air and then the torque go.
    pub sections: Vec<Section>,
    /// Where the power went.
    pub ledger: Vec<Share>,
    /// Fuel, air and warmth in, less everything out, over the fuel's power: the balance's own check.
    pub imbalance: f64,
    /// Limits met here.
    pub limits: Vec<LimitLine>,
}

/// Steps that belong to one part.
#[derive(Debug, Clone, Serialize)]
pub struct Section {
    /// The part.
    pub part: &'static str,
    /// Its numbers.
    pub steps: Vec<Step>,
}

/// One number of the working.
#[derive(Debug, Clone, Serialize)]
pub struct Step {
    /// What it is.
    pub quantity: &'static str,
    /// SI; rpm and deg where the quantity is an engine speed or a crank angle.
    pub value: f64,
    /// Unit of the value.
    pub unit: &'static str,
    /// The equation's name, or where the number comes from.
    pub equation: &'static str,
    #[serde(skip)]
    what: What,
}

/// One line of the ledger.
#[derive(Debug, Clone, Serialize)]
pub struct Share {
    /// What it is.
    pub entry: &'static str,
    /// Power.
    pub power_w: f64,
    /// Over the fuel's power.
    pub share_of_fuel: f64,
}

/// SI unit in which a quantity is held.
fn held_in(what: What) -> &'static str {
    match what {
        What::Power => "W",
        What::Torque => "N m",
        What::Pressure => "Pa",
        What::Temperature | What::TemperatureDifference => "K",
        What::Speed | What::PistonSpeed => "m/s",
        What::Length => "m",
        What::MassFlow => "kg/s",
        What::Ratio | What::Octane | What::Percent => "1",
        What::Force
        | What::Rpm
        | What::PeakRpm
        | What::CrankAngle
        | What::Density
        | What::Acceleration
        | What::Inertia
        | What::Mass
        | What::Time => Units::Metric.symbol(what),
    }
}

fn step(quantity: &'static str, what: What, value: f64, equation: &'static str) -> Step {
    Step {
        quantity,
        value,
        unit: held_in(what),
        equation,
        what,
    }
}

/// Share of the engine speed asked for at which a pull starts when its usual start lies above.
const EARLY_START: f64 = 0.85;

impl TraceReport {
    /// Simulates a pull up to the engine speed, in the air of a day and its origin, and shows the working there.
    ///
    /// Fails when the car cannot pull that far.
    pub fn new(
        setup: &Setup,
        plan: Option<String>,
        (day, source): (&Day, String),
        rpm: f64,
        axle: AxleStart,
    ) -> Result<Self, PullError> {
        let usual = Conditions {
            axle,
            ..Conditions::rested(setup.car.engine.redline_rpm)
        };
        let from_rpm = usual.from_rpm.min(EARLY_START * rpm);
        let pull = setup.pull(
            day,
            &Conditions {
                from_rpm,
                to_rpm: rpm,
                ..usual
            },
            12,
        )?;
        let stalled = PullError::CannotAccelerate {
            rpm: pull.stalled_rpm.unwrap_or(rpm),
            force_n: 0.0,
            drag_n: 0.0,
        };
        let (None, Some(point)) = (pull.stalled_rpm, pull.points.last()) else {
            return Err(stalled);
        };
        let mut sections = engine::sections(&setup.car, day, point);
        sections.push(drums::section(setup, point));
        let ledger = &point.engine.ledger;
        Ok(Self {
            car: setup.car.name.clone(),
            plan,
            weather: Weather::of(day, source),
            electric_axle: ElectricStart::of(&setup.car, axle),
            rpm: point.rpm,
            time_s: point.time_s,
            sections,
            ledger: engine::ledger(ledger),
            imbalance: ledger.imbalance(),
            limits: limits(&pull),
        })
    }
}

/// Limits met at the last point of a pull.
fn limits(pull: &Pull) -> Vec<LimitLine> {
    let Some(point) = pull.points.last() else {
        return Vec::new();
    };
    point
        .limits
        .iter()
        .map(|limit| LimitLine {
            limit: limit.words(),
            from_rpm: None,
            to_rpm: None,
            share_of_draws: None,
            caps_power: limit.caps_power(),
            remedy: limit.remedy(),
        })
        .collect()
}

/// A share that ought to be nothing, in words.
fn small_share(share: f64) -> String {
    const MILLIONTH: f64 = 1e-6;
    if share.abs() < MILLIONTH {
        "less than a millionth".to_owned()
    } else {
        format!("{:.4} %", 100.0 * share.abs())
    }
}

impl Report for TraceReport {
    const SCHEMA: &'static str = "pullcast/trace/1";

    fn text(&self, units: Units) -> String {
        let title = self.plan.as_ref().map_or_else(
            || self.car.clone(),
            |plan| format!("{}, with {plan}", self.car),
        );
        let mut out = heading(&format!(
            "Working at {}: {title}",
            units.show(What::Rpm, self.rpm)
        ));
        add!(
            out,
            "Air: {}\n{} into the pull\n",
            self.weather.line(units),
            units.show(What::Time, self.time_s)
        );
        if let Some(axle) = &self.electric_axle {
            add!(out, "Electric axle: {}\n", axle.line(units));
        }
        for section in &self.sections {
            add!(out, "\n{}\n", section.part);
            let mut table = TextTable::new("lrll");
            for s in &section.steps {
                table.row([
                    s.quantity.to_owned(),
                    units.cell(s.what, s.value),
                    units.symbol(s.what).to_owned(),
                    s.equation.to_owned(),
                ]);
            }
            out.push_str(&table.render());
        }
        out.push_str("\nWhere the power went\n");
        let mut table = TextTable::new("lr");
        for share in &self.ledger {
            table.row([
                share.entry.to_owned(),
                units.show(What::Power, share.power_w),
                units.show(What::Percent, share.share_of_fuel),
            ]);
        }
        out.push_str(&table.render());
        let note = format!(
            "The first law over the whole engine, which is used nowhere in the working, leaves {} of the fuel's power \
             unexplained.",
            small_share(self.imbalance)
        );
        out.push_str(&paragraph("", &note, 2, WIDTH));
        if !self.limits.is_empty() {
            out.push_str("\nLimits met here\n");
            out.extend(self.limits.iter().map(|limit| limit.text(units)));
        }
        out
    }
}
