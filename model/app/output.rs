//! Where things go: the report to standard output, the rest to standard error, and the exit code of a failure.
//!
//! With `--format json` standard output holds one document or nothing, and standard error one JSON document per line: problems,
//! notes and failures, each with its own schema.

use crate::args::DrawArgs;
use crate::hint;
use crate::meter::metered;
use clap::ValueEnum;
use pullcast::ask::Progress;
use pullcast::files::shop::ShopFile;
use pullcast::files::shown::{escaped_json, shown};
use pullcast::files::{Code, Look, Overwrite, Problems, Severity};
use pullcast::report::chart::png;
use pullcast::report::{Report, Units, View};
use serde_json::json;
use std::io::{self, ErrorKind, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

/// Why a verb did not end well.
#[derive(Debug)]
pub(crate) enum Failure {
    /// Files hold problems.
    Files(Problems),
    /// The command line asks for something that cannot be.
    Usage(String),
    /// It ran, but a gate failed.
    Gate(String),
}

impl Failure {
    /// The exit code of the manual.
    pub(crate) fn exit_code(&self) -> u8 {
        const NOT_WRITTEN: [Code; 3] = [
            Code::FILE_EXISTS,
            Code::FILE_IS_INPUT,
            Code::FILE_NOT_WRITTEN,
        ];
        match self {
            Self::Gate(_) => 1,
            Self::Usage(_) => 2,
            Self::Files(problems) => {
                let mut errors = problems
                    .iter()
                    .filter(|p| p.severity == Severity::Error)
                    .map(|p| p.code);
                if problems.with_code(Code::FILE_MISSING).next().is_some() {
                    66
                } else if errors.all(|code| NOT_WRITTEN.contains(&code)) {
                    1
                } else {
                    65
                }
            }
        }
    }
}

impl From<Problems> for Failure {
    fn from(problems: Problems) -> Self {
        Self::Files(problems)
    }
}

/// As what a report is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Format {
    /// Text for a terminal; problems and notes too.
    Text,
    /// One document for a program; problems and notes as JSON lines.
    Json,
    /// One page; problems and notes as text.
    Html,
}

/// How to speak.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Output<'s> {
    format: Format,
    pub(crate) units: Units,
    view: View,
    colour: Colour,
    /// The shop's profile, empty where there is none.
    pub(crate) shop: &'s ShopFile,
    quiet: bool,
}

/// When escape sequences weight the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Colour {
    /// On a terminal, unless `NO_COLOR` is set
    Auto,
    /// Whatever is written to
    Always,
    /// Not at all
    Never,
}

impl Colour {
    /// Whether it is wanted, on a terminal or elsewhere. The variable counts unless it is empty, as its convention has it.
    fn wanted(self, on_terminal: bool) -> bool {
        let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        match self {
            Self::Auto => on_terminal && !refused,
            Self::Always => true,
            Self::Never => false,
        }
    }
}

/// Columns of the terminal: those that COLUMNS states, or its own.
fn columns() -> usize {
    let stated = std::env::var("COLUMNS").ok();
    let stated = stated.and_then(|text| text.trim().parse().ok());
    let seen = || terminal_size::terminal_size_of(io::stdout()).map(|size| usize::from(size.0.0));
    stated.or_else(seen).unwrap_or(View::WIDTH)
}

/// Columns of a problem's report at most: an excerpt of a file with what is wrong below it reads badly when stretched.
const MOST_WIDTH: usize = 100;

impl<'s> Output<'s> {
    pub(crate) fn new(
        format: Format,
        units: Units,
        details: bool,
        colour: Colour,
        shop: &'s ShopFile,
    ) -> Self {
        let view = View {
            details,
            width: columns(),
            colour: colour.wanted(io::stdout().is_terminal()),
        };
        Self {
            format,
            units,
            view,
            colour,
            shop,
            quiet: false,
        }
    }

    /// One that prints nothing: for a page.
    pub(crate) fn silent(units: Units, shop: &'s ShopFile) -> Self {
        Self {
            quiet: true,
            ..Self::new(Format::Text, units, false, Colour::Never, shop)
        }
    }

    /// Without remarks, and with another profile: for an answer that is made again.
    pub(crate) fn quiet(self, shop: &ShopFile) -> Output<'_> {
        Output {
            format: self.format,
            units: self.units,
            view: self.view,
            colour: self.colour,
            shop,
            quiet: true,
        }
    }

    /// Writes a report's charts where they are asked for.
    pub(crate) fn drawing<R: Report>(
        self,
        report: &R,
        args: &DrawArgs,
        force: bool,
    ) -> Result<(), Failure> {
        if args.svg.is_none() && args.png.is_none() {
            return Ok(());
        }
        let document = report.document(self.units);
        let drawing = document.svg().ok_or_else(|| {
            Failure::Gate("this answer has no chart, so none is written".to_owned())
        })?;
        if let Some(path) = &args.svg {
            write_file(path, &drawing, force)?;
            self.note(&format!("charts written to {}", path.display()));
        }
        if let Some(path) = &args.png {
            let picture = png::picture(&drawing)
                .map_err(|error| Failure::Gate(format!("{}: {error}", path.display())))?;
            write_file(path, &picture, force)?;
            self.note(&format!("charts written to {}", path.display()));
        }
        Ok(())
    }

    /// Prints a report.
    pub(crate) fn report<R: Report>(self, report: &R) -> Result<(), Failure> {
        match self.format {
            Format::Text => data(&report.drawn(self.units, self.view)),
            Format::Html => data(&report.document(self.units).html()),
            Format::Json => data(&report.json().map_err(|error| {
                Failure::Gate(format!("the report cannot be written as JSON: {error}"))
            })?),
        }
    }

    /// Shows problems, if any.
    pub(crate) fn problems(self, problems: &Problems) {
        if problems.is_empty() || (self.quiet && !problems.has_errors()) {
            return;
        }
        if self.format == Format::Json {
            let (problems, more) = problems.told();
            line(&json!({ "schema": "pullcast/problems/1", "problems": problems, "more": more }));
        } else {
            let look = if self.colour.wanted(io::stderr().is_terminal()) {
                Look::Terminal
            } else {
                Look::Plain
            };
            aside(&problems.render(look, self.view.width.min(MOST_WIDTH)));
        }
    }

    /// Runs something that may be long, and shows meanwhile how many of `things` are done, but not to a program.
    pub(crate) fn metered<T>(self, things: &str, job: impl FnOnce(Progress<'_>) -> T) -> T {
        metered(self.format != Format::Json && !self.quiet, things, job)
    }

    /// A remark on what is going on.
    pub(crate) fn note(self, text: &str) {
        if self.quiet {
            return;
        }
        if self.format == Format::Json {
            line(&json!({ "schema": "pullcast/note/1", "note": text }));
        } else {
            aside(&format!("{}\n", shown(text)));
        }
    }

    /// Says why the verb failed.
    pub(crate) fn failure(self, failure: &Failure) {
        match failure {
            Failure::Files(problems) => self.problems(problems),
            Failure::Usage(message) | Failure::Gate(message) if self.format == Format::Json => {
                line(
                    &json!({ "schema": "pullcast/failure/1", "message": message, "exit_code": failure.exit_code() }),
                );
            }
            Failure::Usage(message) => aside(&format!(
                "error: {}\n\nFor more information, try '--help'.\n",
                shown(message)
            )),
            Failure::Gate(message) => aside(&format!("failed: {}\n", shown(message))),
        }
    }
}

/// Says what is wrong with a command line, or prints the help or version asked for.
pub(crate) fn wrong_call(error: &clap::Error, words: &[String]) -> ExitCode {
    let mended = hint::mended(error, words);
    let json = words
        .iter()
        .any(|word| word == "--json" || word == "--format=json")
        || words.windows(2).any(|pair| pair == ["--format", "json"]);
    if error.use_stderr() && json {
        let message = error.render().to_string();
        let failure = Failure::Usage(message.trim_end().to_owned());
        line(&json!({
            "schema": "pullcast/failure/1", "message": message.trim_end(), "exit_code": failure.exit_code(), "call": mended,
        }));
    } else {
        // Nobody is left to be told where it cannot be printed.
        let _ = error.print();
        if let Some(call) = mended {
            aside(&format!("\n{}\n", shown(&call)));
        }
    }
    ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2))
}

/// Prints a document that is JSON whatever the format asked for.
pub(crate) fn document(document: &serde_json::Value) -> Result<(), Failure> {
    data(&format!("{document:#}\n"))
}

/// One document, one line.
fn line(document: &serde_json::Value) {
    aside(&format!("{}\n", escaped_json(&document.to_string())));
}

/// A reader that has seen enough may close the pipe; anything else that keeps data from going out is a failure.
pub(crate) fn data(text: &str) -> Result<(), Failure> {
    let mut stdout = io::stdout().lock();
    match stdout
        .write_all(text.as_bytes())
        .and_then(|()| stdout.flush())
    {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::Gate(format!(
            "standard output cannot be written: {error}"
        ))),
        _ => Ok(()),
    }
}

/// Nobody is left to be told when standard error is closed.
fn aside(text: &str) {
    let _ = io::stderr().lock().write_all(text.as_bytes());
}

/// Writes a file whole or not at all.
pub(crate) fn write_file(
    path: &Path,
    content: &(impl AsRef<[u8]> + ?Sized),
    force: bool,
) -> Result<(), Failure> {
    Ok(pullcast::files::write_atomic(
        path,
        content.as_ref(),
        overwrite(force),
    )?)
}

/// What `--force` means.
pub(crate) fn overwrite(force: bool) -> Overwrite {
    if force {
        Overwrite::Allow
    } else {
        Overwrite::Refuse
    }
}
