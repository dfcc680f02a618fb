//! The same warning of several files, told once.
//!
//! Four recordings of one rig would otherwise say the same four times before every answer. Errors stand each by itself, and so does
//! whatever differs in a word; records for programs are not gathered at all.

use super::diagnostic::{Problem, Severity};

/// The list with warnings that are the same of several files told once, in the place of the first, with the other files named.
pub(super) fn gathered(list: &[Problem]) -> Vec<Problem> {
    let mut shown: Vec<(Problem, Vec<&str>)> = Vec::new();
    for problem in list {
        let same = |(first, others): &&mut (Problem, Vec<&str>)| {
            first.severity == Severity::Warning
                && (first.severity, first.code) == (problem.severity, problem.code)
                && (&first.value, &first.message) == (&problem.value, &problem.message)
                && (&first.expected, &first.help) == (&problem.expected, &problem.help)
                && first.file != problem.file
                && !others.contains(&problem.file.as_str())
        };
        match shown.iter_mut().find(same) {
            Some((_, others)) => others.push(&problem.file),
            None => shown.push((problem.clone(), Vec::new())),
        }
    }
    shown
        .into_iter()
        .map(|(problem, others)| {
            if others.is_empty() {
                return problem;
            }
            let also = format!("the same in {}", others.join(", "));
            let help = match &problem.help {
                Some(help) => format!("{help}\n{also}"),
                None => also,
            };
            problem.help(help)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::diagnostic::{Code, Problems};
    use super::*;

    #[test]
    fn the_same_warning_of_several_files_is_told_once_with_all_of_them() {
        let warned = |file: &str, message: &str| {
            Problem::of_file(Code::COLUMN_IGNORED, file, message).warning()
        };
        let mut problems = Problems::new();
        for file in ["a.csv", "b.csv", "c.csv"] {
            problems.push(warned(file, "column 'x' is not read"));
        }
        problems.push(warned("b.csv", "column 'y' is not read"));
        problems.push(Problem::of_file(
            Code::FILE_EMPTY,
            "d.csv",
            "the file is empty",
        ));
        problems.push(Problem::of_file(
            Code::FILE_EMPTY,
            "e.csv",
            "the file is empty",
        ));
        let text = problems.to_string();
        assert_eq!(text.matches("'x' is not read").count(), 1, "{text}");
        assert_eq!(text.matches("'y' is not read").count(), 1, "{text}");
        assert!(text.contains("the same in b.csv, c.csv"), "{text}");
        // Errors stand each by itself.
        assert_eq!(text.matches("the file is empty").count(), 2, "{text}");
    }
}
