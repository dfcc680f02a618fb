//! `inertia`: the drums' moment of inertia from a coast-down pair or from falling masses.
//!
//! A stated inertia that the check contradicts ends with exit code 1, after the report.

use crate::args::InertiaArgs;
use crate::output::{Failure, Output};
use pullcast::dyno::inertia_check::{Check, InertiaError, Known};
use pullcast::report::inertia::InertiaReport;

pub(crate) fn run(args: &InertiaArgs, out: Output) -> Result<(), Failure> {
    let (check, method) = check(args)?;
    let checked = check.inertia().map_err(|error| match error {
        InertiaError::Unresolved { .. }
        | InertiaError::BearingsDrive { .. }
        | InertiaError::Outlier { .. }
        | InertiaError::Apart { .. } => Failure::Gate(error.to_string()),
        _ => Failure::Usage(error.to_string()),
    })?;
    let report = InertiaReport::new(method, &checked, args.stated);
    out.report(&report)?;
    if report.contradicted() {
        return Err(Failure::Gate(
            "the stated inertia is contradicted".to_owned(),
        ));
    }
    Ok(())
}

fn check(args: &InertiaArgs) -> Result<(Check<'_>, &'static str), Failure> {
    let falls = (args.height, args.radius, args.light, args.heavy);
    match (args.added, falls) {
        (Some(added_kg_m2), _) => Ok((
            Check::CoastDownPair {
                bare_s: &args.bare_time,
                loaded_s: &args.loaded_time,
                added_kg_m2,
            },
            "from times between the same two speeds, bare and with a known inertia on; it must add no drag of its own",
        )),
        (None, (Some(height_m), Some(radius_m), Some(light_kg), Some(heavy_kg))) => Ok((
            Check::FallingMasses {
                height_m,
                radius_m,
                light_kg,
                light_s: &args.light_time,
                heavy_kg,
                heavy_s: &args.heavy_time,
            },
            "from two masses on a rope, from rest through the same height; the bearings' drag is taken to be the same for both",
        )),
        _ => Err(Failure::Usage(
            "say --added with --bare-time and --loaded-time, or --height, --radius, --light, --light-time, --heavy and --heavy-time"
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
