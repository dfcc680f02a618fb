//! What is asked of a person, in one message that names the options to set.

use super::answers::answers;
use super::channel::Channel;
use super::read::Sheet;
use super::settle::Asked;
use crate::files::diagnostic::{Code, Problem};

/// The file's name as a word of a command.
fn word(name: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./:\\".contains(c);
    if name.chars().all(plain) {
        name.to_owned()
    } else {
        format!("'{name}'")
    }
}

/// What is asked of columns, in one message.
pub(super) fn question(sheet: &Sheet<'_>, asked: &[Asked]) -> Problem {
    let option = |of: &Asked, answer: &str| format!("--column \"{}={answer}\"", of.head);
    let first = &asked[0];
    let more = first
        .question
        .answers
        .iter()
        .filter(|answer| *answer != "skip");
    let options: Vec<String> = asked
        .iter()
        .filter_map(|of| Some(option(of, of.question.answers.first()?)))
        .collect();
    let message = match asked {
        [only] => only.question.message.clone(),
        several => {
            let named: Vec<String> = several
                .iter()
                .map(|of| of.question.message.clone())
                .collect();
            format!(
                "{} columns leave a question: {}",
                several.len(),
                named.join("; ")
            )
        }
    };
    let others: Vec<&str> = more.skip(1).map(String::as_str).collect();
    let others = match (asked.len(), others.as_slice()) {
        (1, [_, ..]) => format!(" (or {})", others.join(", ")),
        _ => String::new(),
    };
    let help = format!(
        "answer once: pullcast read {} {}{others}; logs with the same heads are then read with it",
        word(&sheet.name),
        options.join(" ")
    );
    let mut problem = sheet.at_head(first.question.code, first.index, message);
    if asked.len() == 1 && first.question.code != Code::COLUMN_DUPLICATE {
        problem = problem.value(&first.head);
    }
    problem
        .expected(first.question.expected.clone())
        .help(help)
        .asking(sheet.heads(), asked.iter().map(put).collect())
}

fn put(asked: &Asked) -> crate::files::Asked {
    crate::files::Asked {
        column: asked.head.clone(),
        question: asked.question.message.clone(),
        answers: asked.question.answers.clone(),
    }
}

pub(super) fn nothing_known(sheet: &Sheet<'_>) -> Problem {
    let names = [
        Channel::Time,
        Channel::EngineSpeed,
        Channel::DrumSpeed,
        Channel::WheelPower,
        Channel::WheelTorque,
    ];
    let expected: Vec<&str> = names.into_iter().map(Channel::name).collect();
    let heads = sheet.table.header.iter().filter(|head| !head.is_empty());
    let asked: Vec<_> = heads
        .take(12)
        .map(|head| crate::files::Asked {
            column: head.clone(),
            question: format!("what is '{head}'?"),
            answers: answers(&names),
        })
        .collect();
    let named = sheet.table.header.first().map_or("", String::as_str);
    let mut problem = Problem::of_file(Code::COLUMNS_UNKNOWN, &sheet.name, "no column has a known name")
        .value(sheet.table.header_text.trim())
        .expected(format!("headers such as '{}' with a unit in brackets", expected.join("', '")))
        .help(format!(
            "name them once: pullcast read {} --column \"{named}=time_s\" --column \"...=engine_speed_rpm\" and so on",
            word(&sheet.name)
        ));
    problem.line = Some(sheet.table.header_line);
    problem.column = Some(1);
    problem.asking(sheet.heads(), asked)
}
