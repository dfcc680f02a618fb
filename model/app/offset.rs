//! `offset`: what another rig reads more or less, from cars measured on both.

use crate::args::OffsetArgs;
use crate::compare::tags;
use crate::load::{Files, read};
use crate::output::{Failure, Output};
use pullcast::ask::compare::{CompareError, Pulls};
use pullcast::ask::offset::{Both, OffsetError, Question};

pub(crate) fn run(args: &OffsetArgs, out: Output<'_>) -> Result<(), Failure> {
    let mut files = Files::of("offset", out);
    let visits = files.drum_visits(&args.cars);
    files.finish(out)?;
    let visits: Vec<_> = visits.into_iter().map(read).collect::<Result<_, _>>()?;
    let tags: Vec<_> = visits.iter().map(tags).collect();
    let pulls: Vec<Pulls<'_>> = visits
        .iter()
        .zip(&tags)
        .map(|(file, tags)| Pulls {
            visit: &file.visit,
            tags,
        })
        .collect();
    let cars: Vec<Both<'_>> = pulls
        .chunks_exact(2)
        .map(|both| Both {
            here: both[0],
            there: both[1],
        })
        .collect();
    let question = Question {
        cars: &cars,
        standard: args.correction.standard(out),
        mechanical_efficiency: args.correction.mechanical_efficiency,
        noise: out.shop.noise(),
    };
    let answer = question.answer().map_err(|error| match &error {
        OffsetError::Apart { error: apart, .. }
            if matches!(**apart, CompareError::Correction(_)) =>
        {
            Failure::Usage(error.to_string())
        }
        _ => Failure::Gate(error.to_string()),
    })?;
    out.report(&answer)
}
