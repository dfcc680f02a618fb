//! `correct`: one weather under every correction standard.

use crate::args::CorrectArgs;
use crate::load::{Files, read};
use crate::output::{Failure, Output};
use pullcast::air::atmosphere::GaugePressure;
use pullcast::ask::correct::Question;
use pullcast::dyno::correction::Subject;
use pullcast::dyno::correction::boosted::BoostLaw;
use pullcast::dyno::correction::engine::{EngineKind, Fuelling};

pub(crate) fn run(args: &CorrectArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("correct", out);
    let air = files.weather(&args.weather);
    files.finish(out)?;
    let air = read(air)?;
    let engine = EngineKind {
        ignition: args.engine.into(),
        charging: args.charging.into(),
    };
    let question = Question {
        day: air.day,
        source: air.source,
        altitude_m: args.altitude.or(air.altitude_m),
        subject: Subject {
            engine,
            mechanical_efficiency: args.mechanical_efficiency,
            fuelling: args.fuel_per_cycle.map(|qc_mg_l| Fuelling { qc_mg_l }),
        },
        engine_w: args.power,
        electric_w: args.electric.unwrap_or(0.0),
        law: args
            .held_boost
            .map(|pa| BoostLaw::HeldGauge(GaugePressure::from_pa(pa))),
    };
    out.report(&question.answer())
}
