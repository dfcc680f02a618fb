//! The program: parses the command line, runs one verb, prints its report and leaves an exit code.
//!
//! Data go to standard output, everything else to standard error. Exit codes: 0 fine; 1 it ran, but a gate failed (a fit that
//! did not come to rest, a car file that its pulls contradict, draws that failed, runs that must not be compared, an inertia that its check
//! contradicts, an output that could not be written); 2 the command line is wrong; 65 a file
//! holds bad data; 66 a file is missing.

mod args;
mod book;
mod compare;
mod config;
mod correct;
mod diagnose;
mod fit;
mod guard;
mod hint;
mod inertia;
mod learned;
mod load;
mod manual;
mod meter;
mod new;
mod offset;
mod output;
mod predict;
mod prompt;
mod quote;
mod read;
mod reduce;
mod rules;
mod schema;
mod serve;
mod shelf;
mod spread;
mod spread_args;
mod spread_kept;
mod trace;
mod values;

use args::{Cli, Verb};
use clap::Parser;
use output::{Failure, Output};
use pullcast::report::Units;
use std::process::ExitCode;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args_os()
        .skip(1)
        .map(|word| word.to_string_lossy().into_owned())
        .collect();
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => return output::wrong_call(&error, &words),
    };
    let (shop, found) = load::shop(cli.shop.as_deref());
    let units = cli
        .units
        .map(Units::from)
        .or_else(|| shop.units.map(load::units));
    let out = Output::new(
        cli.format(),
        units.unwrap_or_default(),
        cli.details,
        cli.color,
        &shop,
    );
    out.problems(&found);
    if found.has_errors() {
        return ExitCode::from(Failure::Files(found).exit_code());
    }
    let run = || match &cli.verb {
        Verb::New(args) => new::run(args, out),
        Verb::Read(args) => read::run(args, out),
        Verb::Reduce(args) => reduce::run(args, out),
        Verb::Correct(args) => correct::run(args, out),
        Verb::Predict(args) => predict::run(args, out),
        Verb::Fit(args) => fit::run(args, out),
        Verb::Quote(args) => quote::run(args, out),
        Verb::Spread(args) => spread::run(args, out),
        Verb::Trace(args) => trace::run(args, out),
        Verb::Diagnose(args) => diagnose::run(args, out),
        Verb::Compare(args) => compare::run(args, out),
        Verb::Inertia(args) => inertia::run(args, out),
        Verb::Offset(args) => offset::run(args, out),
        Verb::Rules(args) => rules::run(args, out),
        Verb::Book(args) => book::run(args, out),
        Verb::Shelf(args) => shelf::run(args, out),
        Verb::Serve(args) => serve::run(args, out),
        Verb::Config(args) => config::run(args, &cli, out),
        Verb::Schema(args) => schema::run(args),
        Verb::Completions(args) => manual::completions(args),
        Verb::Manual(args) => manual::run(args),
    };
    let mut done = run();
    // What a log leaves open is asked on a terminal, whichever verb reads it; then the verb begins anew.
    // `read` asks by itself, and may be told to keep no answer.
    let asks_itself = matches!(cli.verb, Verb::Read(_));
    while let (Err(Failure::Files(problems)), false) = (&done, asks_itself) {
        match prompt::settled(problems, out) {
            Ok(true) => done = run(),
            Ok(false) => break,
            Err(failure) => done = Err(failure),
        }
    }
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            out.failure(&failure);
            ExitCode::from(failure.exit_code())
        }
    }
}
