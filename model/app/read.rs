//! `read`: what was understood of a recording, and the answers kept for the next of its make-up.
//!
//! On a terminal a question is put there and then; elsewhere it is an error that names the option to set.

use crate::args::ReadArgs;
use crate::load::ANOTHER_KIND;
use crate::output::{Failure, Output, overwrite};
use pullcast::files::inputs::kind_of;
use pullcast::files::run_csv::{Logger, logger_file_name};
use pullcast::files::{Code, Problem, Problems, RunFile, RunOptions, shown, write_atomic};
use std::io::{IsTerminal, Write};
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
    let may_ask = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
    let run = loop {
        match RunFile::open(&args.log, &options) {
            Ok(run) => break run,
            Err(problems) if may_ask => {
                let answers = answered(&problems).ok_or(problems)?;
                options.columns.extend(answers);
            }
            Err(problems) => return Err(problems.into()),
        }
    };
    out.problems(&run.warnings);
    let mut account = run.account();
    let given = !options.columns.is_empty() || options.decimal.is_some();
    if given && !args.no_save {
        let path = args
            .logger
            .clone()
            .unwrap_or_else(|| logger_file_name(&args.log));
        let mut logger = Logger {
            heads: run.heads.clone(),
            columns: options.columns.clone(),
            decimal: options.decimal,
        };
        if let Some(head) = logger.stray() {
            let problem = Problem::of_file(
                Code::COLUMNS_UNKNOWN,
                args.log.display().to_string(),
                format!("there is no column '{head}', so its answer is not kept"),
            )
            .expected(format!("one of: {}", run.heads.join("; ")));
            return Err(Problems::from(problem).into());
        }
        // Answers for the same make-up are added to the ones before; another file is replaced only if asked.
        let before = Logger::open(&path)
            .ok()
            .filter(|before| before.fits(&run.heads));
        let ours = before.is_some();
        if let Some(before) = before {
            logger = logger.and_before(before);
        }
        write_atomic(
            &path,
            logger.text().as_bytes(),
            overwrite(args.force || ours),
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

/// Puts the questions of problems on the terminal; none where they ask nothing or nobody answers.
fn answered(problems: &Problems) -> Option<Vec<(String, String)>> {
    let asked: Vec<_> = problems.iter().flat_map(|problem| &problem.asked).collect();
    if asked.is_empty() {
        return None;
    }
    let mut answers = Vec::new();
    for question in asked {
        let mut stderr = std::io::stderr().lock();
        let _ = writeln!(stderr, "{}", shown::shown(&question.question));
        for (number, answer) in question.answers.iter().enumerate() {
            let _ = writeln!(stderr, "  {}: {}", number + 1, shown::shown(answer));
        }
        let _ = write!(stderr, "number, or another name with its unit: ");
        let _ = stderr.flush();
        let mut line = String::new();
        if std::io::stdin().read_line(&mut line).ok()? == 0 || line.trim().is_empty() {
            return None;
        }
        let line = line.trim();
        let chosen = line
            .parse::<usize>()
            .ok()
            .and_then(|number| question.answers.get(number.checked_sub(1)?));
        let answer = chosen.map_or(line, String::as_str);
        // `Torque=wheel_torque_lb_ft` answers of another column than the one asked about.
        let (column, name) = answer
            .rsplit_once('=')
            .unwrap_or((&question.column, answer));
        answers.push((column.to_owned(), name.to_owned()));
    }
    Some(answers)
}
