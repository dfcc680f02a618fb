//! `inertia`: the drums' moment of inertia from a coast-down pair or from falling masses.
//!
//! A stated inertia that the check contradicts ends with exit code 1, after the report.

use crate::args::InertiaArgs;
use crate::output::{Failure, Output};
use pullcast::ask::inertia::{Question, Refusal};
use pullcast::dyno::inertia_check::{Check, Known};

pub(crate) fn run(args: &InertiaArgs, out: Output<'_>) -> Result<(), Failure> {
    let question = Question {
        check: check(args)?,
        stated: args.stated,
    };
    let answer = question.answer().map_err(|refusal| match refusal {
        Refusal::Undecided(error) => Failure::Gate(error.to_string()),
        Refusal::Impossible(error) => Failure::Usage(error.to_string()),
    })?;
    out.report(&answer)?;
    if answer.contradicted() {
        return Err(Failure::Gate(
            "the stated inertia does not agree with the check".to_owned(),
        ));
    }
    Ok(())
}

fn check(args: &InertiaArgs) -> Result<Check<'_>, Failure> {
    let falls = (args.height, args.radius, args.light, args.heavy);
    match (args.added, falls) {
        (Some(added_kg_m2), _) => Ok(Check::CoastDownPair {
            bare_s: &args.bare_time,
            loaded_s: &args.loaded_time,
            added_kg_m2,
        }),
        (None, (Some(height_m), Some(radius_m), Some(light_kg), Some(heavy_kg))) => Ok(Check::FallingMasses {
            height_m,
            radius_m,
            light_kg,
            light_s: &args.light_time,
            heavy_kg,
            heavy_s: &args.heavy_time,
        }),
        _ => Err(Failure::Usage(
            "give --added with --bare-time and --loaded-time, or --height, --radius, --light, --light-time, --heavy and --heavy-time"
                .to_owned(),
        )),
    }
}

/// A number with the doubt it is written with.
pub(crate) fn known(text: &str, dimension: pullcast::units::Dimension) -> Result<Known, String> {
    pullcast::files::quantity::parse(text, dimension)
        .map(|q| Known {
            value: q.value_si,
            sd: q.sd_si(),
        })
        .map_err(|fault| fault.message)
}
