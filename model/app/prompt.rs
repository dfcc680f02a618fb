//! Questions put on the terminal: of a recording's columns, and of a logged force.
//!
//! Whichever verb reads a log, what it cannot know is asked once and kept where the next log of the same make-up is read with it: beside the recording, or in
//! the description of a drum log. Elsewhere than on a terminal a question stays an error that names the option to set; it refuses to choose an answer itself.

use crate::output::{Failure, Output, overwrite};
use pullcast::drumlog::{Sense, Told};
use pullcast::files::drum_log::{FORCE_QUESTION, keep_force};
use pullcast::files::run_csv::{DecimalMark, Logger, logger_file_name};
use pullcast::files::{Asked, Code, DrumLogFile, Problem, Problems, Severity, shown, write_atomic};
use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Whether somebody sits there to answer.
pub(crate) fn may_ask() -> bool {
    std::io::stdin().is_terminal() && std::io::stderr().is_terminal()
}

/// The errors, where each of them is a question: what cannot be answered is shown before anybody is asked.
pub(crate) fn questions(problems: &Problems) -> Option<Vec<&Problem>> {
    let errors = problems.iter().filter(|p| p.severity == Severity::Error);
    let errors: Vec<&Problem> = errors.collect();
    let all = errors.iter().all(|error| !error.asked.is_empty());
    (all && !errors.is_empty()).then_some(errors)
}

/// Puts the questions of problems on the terminal and keeps the answers beside the recordings; whether there were any, and all were answered.
pub(crate) fn settled(problems: &Problems, out: Output<'_>) -> Result<bool, Failure> {
    let Some(asking) = questions(problems).filter(|_| may_ask()) else {
        return Ok(false);
    };
    for problem in asking {
        let terminal = (&mut std::io::stdin().lock(), &mut std::io::stderr().lock());
        let Some(answers) = answered(&problem.asked, terminal) else {
            return Ok(false);
        };
        let log = Path::new(&problem.file);
        let kept = keep(log, problem.heads(), answers, None, (None, false))?;
        out.note(&format!("answers written to {}", kept.display()));
    }
    Ok(true)
}

/// Puts questions of columns; none where nobody answers.
pub(crate) fn answered(
    asked: &[Asked],
    (input, output): (&mut impl BufRead, &mut impl Write),
) -> Option<Vec<(String, String)>> {
    let mut answers = Vec::new();
    for question in asked {
        let line = put(
            &question.question,
            &question.answers,
            ", or another name with its unit",
            (input, output),
        )?;
        // `Torque=wheel_torque_lb_ft` answers of another column than the one asked about.
        let (column, name) = line.rsplit_once('=').unwrap_or((&question.column, &line));
        answers.push((column.to_owned(), name.to_owned()));
    }
    Some(answers)
}

/// Puts one question; the answer chosen by its number, or the words typed.
fn put(
    question: &str,
    answers: &[impl AsRef<str>],
    or_else: &str,
    (input, output): (&mut impl BufRead, &mut impl Write),
) -> Option<String> {
    let _ = writeln!(output, "{}", shown::shown(question));
    for (number, answer) in answers.iter().enumerate() {
        let _ = writeln!(
            output,
            "  {}: {}",
            number + 1,
            shown::shown(answer.as_ref())
        );
    }
    let _ = write!(output, "number{or_else}: ");
    let _ = output.flush();
    let mut line = String::new();
    if input.read_line(&mut line).ok()? == 0 || line.trim().is_empty() {
        return None;
    }
    let line = line.trim();
    let chosen = line
        .parse::<usize>()
        .ok()
        .and_then(|number| answers.get(number.checked_sub(1)?));
    Some(chosen.map_or(line, AsRef::as_ref).to_owned())
}

/// Keeps answers for recordings of one make-up, added to the ones before; another file is replaced only if asked.
pub(crate) fn keep(
    log: &Path,
    heads: &[String],
    columns: Vec<(String, String)>,
    decimal: Option<DecimalMark>,
    (logger_file, force): (Option<&Path>, bool),
) -> Result<PathBuf, Failure> {
    let path = logger_file.map_or_else(|| logger_file_name(log), Path::to_owned);
    let mut logger = Logger {
        heads: heads.to_vec(),
        columns,
        decimal,
    };
    if let Some(head) = logger.stray() {
        let problem = Problem::of_file(
            Code::COLUMNS_UNKNOWN,
            log.display().to_string(),
            format!("there is no column '{head}', so its answer is not kept"),
        )
        .expected(format!("one of: {}", heads.join("; ")));
        return Err(Problems::from(problem).into());
    }
    let before = Logger::open(&path).ok().filter(|before| before.fits(heads));
    let ours = before.is_some();
    if let Some(before) = before {
        logger = logger.and_before(before);
    }
    write_atomic(&path, logger.text().as_bytes(), overwrite(force || ours))?;
    Ok(path)
}

/// What a logged force is, put as a question where that is what stands in the way, used, and kept in the description; whether it was answered.
pub(crate) fn settled_force(
    problems: &Problems,
    file: &mut DrumLogFile,
    description: &Path,
    out: Output<'_>,
) -> Result<bool, Failure> {
    let Some(problem) = problems.with_code(FORCE_QUESTION).next() else {
        return Ok(false);
    };
    let (Some(force), true) = (&mut file.log.force, may_ask()) else {
        return Ok(false);
    };
    let terminal = (&mut std::io::stdin().lock(), &mut std::io::stderr().lock());
    let Some((word, sense)) = sense_of(problem, terminal) else {
        return Ok(false);
    };
    force.stated = Some((sense, Told::Stated));
    if keep_force(description, word)? {
        out.note(&format!("answer written to {}", description.display()));
    } else {
        out.note(&format!(
            "answer used for this run; to keep it, write force = \"{word}\" under [drums]"
        ));
    }
    Ok(true)
}

fn sense_of(
    problem: &Problem,
    (input, output): (&mut impl BufRead, &mut impl Write),
) -> Option<(&'static str, Sense)> {
    let words = Sense::NAMED.map(|(word, _)| word);
    let expected = problem.expected.as_deref().unwrap_or_default();
    let question = format!("{}\n({expected})", problem.message);
    loop {
        let said = put(&question, &words, "", (&mut *input, &mut *output))?;
        let known = Sense::NAMED.into_iter().find(|(word, _)| *word == said);
        if known.is_some() {
            return known;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(column: &str) -> Asked {
        Asked {
            column: column.to_owned(),
            question: format!("column '{column}' has no unit"),
            answers: vec!["wheel_power_hp".to_owned(), "wheel_power_kw".to_owned()],
        }
    }

    #[test]
    fn questions_are_put_one_after_the_other_and_answered_by_number_or_by_name() {
        let asked = [question("Power"), question("Old"), question("P2")];
        let mut said = Vec::new();
        let typed = "2\nskip\nTorque=wheel_torque_lb_ft\n";
        let answers = answered(&asked, (&mut typed.as_bytes(), &mut said)).expect("answered");
        let expected = [
            ("Power", "wheel_power_kw"),
            ("Old", "skip"),
            ("Torque", "wheel_torque_lb_ft"),
        ];
        assert_eq!(
            answers,
            expected.map(|(of, name)| (of.to_owned(), name.to_owned()))
        );
        let said = String::from_utf8(said).expect("text");
        assert!(
            said.contains("'Power' has no unit\n  1: wheel_power_hp"),
            "{said}"
        );
        // Nobody there, or nothing said.
        for typed in ["", "\n", "1\n\n"] {
            assert_eq!(
                answered(&asked, (&mut typed.as_bytes(), &mut Vec::new())),
                None
            );
        }
    }

    #[test]
    fn nobody_is_asked_while_a_fault_stands_beside_the_question_and_a_remark_is_none() {
        let fault = |asked: bool| {
            let mut problem = Problem::of_file(Code::UNIT_MISSING, "pull.csv", "no unit");
            problem.asked.extend(asked.then(|| question("Power")));
            problem
        };
        let mut problems = Problems::from(fault(true));
        problems.push(fault(false).warning());
        assert_eq!(questions(&problems).map(|all| all.len()), Some(1));
        problems.push(fault(false));
        assert!(questions(&problems).is_none());
        assert!(questions(&Problems::new()).is_none());
    }

    #[test]
    fn a_force_is_asked_until_the_answer_is_one() {
        let problem = Problem::of_file(
            FORCE_QUESTION,
            "drum.csv",
            "all of it or the brake's alone?",
        );
        let mut said = Vec::new();
        let typed = "no idea\nbrake alone\n";
        let (word, sense) =
            sense_of(&problem, (&mut typed.as_bytes(), &mut said)).expect("answered");
        assert_eq!(word, "brake alone");
        assert_eq!(
            Some((word, sense)),
            Sense::NAMED.into_iter().find(|(w, _)| *w == word)
        );
    }
}
