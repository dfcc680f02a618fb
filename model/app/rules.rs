//! `rules`: pulls or a quote held against the rules of a class.
//!
//! What lies over a limit by more than the tolerance ends with exit code 1, after the report.

use crate::args::{CorrectionArgs, QuoteArgs, RulesArgs};
use crate::compare::tags;
use crate::load::{Files, read};
use crate::output::{Failure, Output};
use crate::quote;
use pullcast::ask::compare::{CompareError, Pulls};
use pullcast::ask::rules::{Answer, Class, Question, RulesError, Source, Standing};
use std::path::Path;

pub(crate) fn run(args: &RulesArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("rules", out);
    let class = files.class(&args.class);
    let paths: Vec<_> = args.visit.iter().cloned().collect();
    let visits = files.drum_visits(&paths);
    files.finish(out)?;
    let class = read(class)?;
    let answer = match (visits.into_iter().next(), &args.car) {
        (Some(visit), _) => {
            let visit = read(visit)?;
            let source = Source::Measured {
                pulls: Pulls {
                    visit: &visit.visit,
                    tags: &tags(&visit),
                },
                mechanical_efficiency: args.mechanical_efficiency,
                noise: &out.shop.noise(),
            };
            held(&class, source, args)
        }
        (None, Some(car)) => {
            let quoted = quote::quoted(&quote_of(&class, car, args), None, out)?;
            held(&class, Source::Quoted(&quoted.report.report.answer), args)
        }
        (None, None) => Err(Failure::Usage("name a visit, or --car".to_owned())),
    }?;
    out.report(&answer)?;
    match answer.standing() {
        Standing::Over => Err(Failure::Gate("over the limit of the class".to_owned())),
        Standing::Pass | Standing::WithinTolerance => Ok(()),
    }
}

/// The call of `quote` that asks for the car in the class's correction.
fn quote_of(class: &Class, car: &Path, args: &RulesArgs) -> QuoteArgs {
    QuoteArgs {
        car: car.to_owned(),
        plan: args.plan.clone(),
        visits: args.calibrate.clone(),
        correction: CorrectionArgs {
            standard: Some(class.standard),
            mechanical_efficiency: args.mechanical_efficiency,
        },
        seed: QuoteArgs::SEED,
        ..QuoteArgs::default()
    }
}

fn held(class: &Class, source: Source<'_>, args: &RulesArgs) -> Result<Answer, Failure> {
    let question = Question {
        class,
        source,
        mass: args.mass,
    };
    question.answer().map_err(|error| match &error {
        RulesError::NoMass
        | RulesError::BoostOfQuote
        | RulesError::Pulls(CompareError::Correction(_)) => Failure::Usage(error.to_string()),
        _ => Failure::Gate(error.to_string()),
    })
}
