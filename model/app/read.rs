//! `read`: what was understood of a recording, and the answers kept for the next of its make-up.
//!
//! On a terminal a question is put there and then; elsewhere it is an error that names the option to set.

use crate::args::ReadArgs;
use crate::load::ANOTHER_KIND;
use crate::output::{Failure, Output};
use crate::prompt;
use pullcast::files::inputs::kind_of;
use pullcast::files::{Asked, Problem, Problems, RunFile, RunOptions};
use std::path::Path;

pub(crate) fn run(args: &ReadArgs, out: Output) -> Result<(), Failure> {
    if let Some(problem) = of_another_kind(&args.log) {
        return Err(Problems::from(problem).into());
    }
    let mut options = RunOptions {
        columns: args.column.clone(),
        decimal: args.decimal.map(Into::into),
        ..RunOptions::default()
    };
    let run = loop {
        match RunFile::open(&args.log, &options) {
            Ok(run) => break run,
            Err(problems) => {
                let questions = prompt::questions(&problems).filter(|_| prompt::may_ask());
                let Some(questions) = questions else {
                    return Err(problems.into());
                };
                let asked = questions
                    .into_iter()
                    .flat_map(|problem| problem.asked.clone());
                let asked: Vec<Asked> = asked.collect();
                let terminal = (&mut std::io::stdin().lock(), &mut std::io::stderr().lock());
                let answers = prompt::answered(&asked, terminal).ok_or(problems)?;
                options.columns.extend(answers);
            }
        }
    };
    out.problems(&run.warnings);
    let mut account = run.account();
    let given = !options.columns.is_empty() || options.decimal.is_some();
    if given && !args.no_save {
        let path = prompt::keep(
            &args.log,
            &run.heads,
            options.columns.clone(),
            options.decimal,
            (args.logger.as_deref(), args.force),
        )?;
        account.logger = Some(path.display().to_string());
    }
    out.report(&account)
}

/// A file of the program's own where a recording belongs.
fn of_another_kind(path: &Path) -> Option<Problem> {
    let kind = kind_of(path)?;
    let message = format!("this is a {} file, not a log", kind.word());
    let problem = Problem::of_file(ANOTHER_KIND, path.display().to_string(), message);
    Some(problem.expected("a text table of time, engine speed, and power or drum speed"))
}
