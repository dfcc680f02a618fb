//! `completions` and `manual`: what a shell and `man` need, made from the definition of the command line, so that they cannot fall behind it.

use crate::args::{Cli, CompletionsArgs, ManualArgs};
use crate::output::{Failure, data};
use clap::CommandFactory;
use clap_mangen::Man;

pub(crate) fn completions(args: &CompletionsArgs) -> Result<(), Failure> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "pullcast", &mut text);
    data(&String::from_utf8_lossy(&text))
}

pub(crate) fn run(args: &ManualArgs) -> Result<(), Failure> {
    let mut program = Cli::command();
    program.build();
    let command = match &args.verb {
        None => program,
        Some(verb) => match program.find_subcommand(verb) {
            Some(command) => command.clone(),
            None => return Err(Failure::Usage(no_verb(&program, verb))),
        },
    };
    let mut page = Vec::new();
    Man::new(command)
        .render(&mut page)
        .map_err(|error| Failure::Gate(format!("the page cannot be made: {error}")))?;
    data(&String::from_utf8_lossy(&page))
}

fn no_verb(program: &clap::Command, verb: &str) -> String {
    let verbs: Vec<&str> = program
        .get_subcommands()
        .map(clap::Command::get_name)
        .collect();
    format!("there is no verb '{verb}'; there are {}", verbs.join(", "))
}
