//! The command line: arguments, exit statuses, one file per command.

use std::ffi::OsString;
use std::io::IsTerminal as _;
use std::process::ExitCode;

use clap::{ArgMatches, CommandFactory as _, FromArgMatches as _, Parser, Subcommand};

use app::Failure;
use store::StoreError;

mod bench;
mod check;
pub mod data;
mod demo;
mod export;
mod import;
pub mod log;
mod people;
mod serve;
pub mod settings;

/// Keeps the tasks of one flight after another, and finds where they fit next.
#[derive(Debug, Parser)]
#[command(name = "holdover", version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve the pages; the database is created or updated first.
    Serve(serve::Serve),
    /// Add people, set passwords, list who there is.
    People(people::People),
    /// Import a table: flights, tasks, attempts and the rest, as CSV.
    Import(import::Import),
    /// Check the database; every fault is listed.
    Check(check::Check),
    /// Write the whole record as open files: a CSV file a table, a manifest, the attachments.
    Export(export::Export),
    /// Read an export into an empty data directory.
    Restore(export::Restore),
    /// Copy the database as it stands at one moment, while the service runs.
    Backup(export::Backup),
    /// Fill made-up records of any size and measure how long the program takes.
    Bench(bench::Bench),
}

/// Why a command did not do what was asked.
#[derive(Debug)]
pub enum Failed {
    /// The call makes no sense; exit status 2.
    Usage(String),
    /// The thing asked for failed; exit status 1.
    Asked(String),
    /// It failed, and what there is to say is printed already; exit status 1.
    Said,
}

impl From<Failure> for Failed {
    fn from(failure: Failure) -> Self {
        match &failure {
            // Nobody reads a log here, so the cause itself is said.
            Failure::Internal(cause) | Failure::Unsure(cause) => Self::Asked(causes(cause)),
            Failure::Invalid(errors) => {
                let words: Vec<&str> = errors.iter().map(|wrong| wrong.message.as_str()).collect();
                Self::Asked(words.join(" "))
            }
            Failure::NotFound(..)
            | Failure::Refused(_)
            | Failure::Forbidden(_)
            | Failure::Conflict(_)
            | Failure::Busy(..)
            | Failure::Slip(_)
            | Failure::AlreadyTaken(_) => Self::Asked(failure.to_string()),
        }
    }
}

impl From<StoreError> for Failed {
    fn from(cause: StoreError) -> Self {
        Self::Asked(causes(&cause))
    }
}

/// Runs one call of the program.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let mut grammar = grammar();
    let matches = match grammar.try_get_matches_from_mut(arguments) {
        Ok(matches) => matches,
        Err(wrong) => {
            // Nothing is left to do where even this cannot be printed.
            let _ = wrong.print();
            return ExitCode::from(u8::try_from(wrong.exit_code()).unwrap_or(2));
        }
    };
    let outcome = Arguments::from_arg_matches(&matches)
        .map_err(|wrong| Failed::Usage(wrong.to_string()))
        .and_then(|arguments| act(arguments, &matches));
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(Failed::Said) => ExitCode::from(1),
        Err(Failed::Asked(words)) => {
            eprintln!("holdover: {}", one_line(&words));
            ExitCode::from(1)
        }
        Err(Failed::Usage(words)) => {
            eprintln!("holdover: {}", one_line(&words));
            ExitCode::from(2)
        }
    }
}

/// The grammar, with the caution under every help.
fn grammar() -> clap::Command {
    cautioned(Arguments::command())
}

/// A command and all below it, each with the caution under its help.
fn cautioned(command: clap::Command) -> clap::Command {
    command.after_help(domain::caution::CAUTION).mut_subcommands(cautioned)
}

/// What stands under a report: the caution, in a line of its own.
fn print_caution() {
    println!("{}", domain::caution::CAUTION);
}

fn act(arguments: Arguments, matches: &ArgMatches) -> Result<(), Failed> {
    let given = innermost(matches);
    match arguments.command {
        Command::Serve(serve) => block_on(serve::run(&serve, given)),
        Command::People(people) => {
            log::start(std::io::stderr().is_terminal(), log::Onto::StandardError, "warn");
            block_on(people::run(people, given))
        }
        Command::Import(import) => {
            log::start(std::io::stderr().is_terminal(), log::Onto::StandardError, "warn");
            block_on(import::run(import, given))
        }
        Command::Check(_) => {
            log::start(std::io::stderr().is_terminal(), log::Onto::StandardError, "warn");
            block_on(check::run(given))
        }
        Command::Export(export) => {
            log::start(std::io::stderr().is_terminal(), log::Onto::StandardError, "warn");
            block_on(export::export(export, given))
        }
        Command::Restore(restore) => {
            log::start(std::io::stderr().is_terminal(), log::Onto::StandardError, "warn");
            block_on(export::restore(restore, given))
        }
        Command::Backup(backup) => {
            log::start(std::io::stderr().is_terminal(), log::Onto::StandardError, "warn");
            block_on(export::backup(backup, given))
        }
        Command::Bench(bench) => bench::run(&bench, given),
    }
}

/// The arguments of the command that was called, below all its parents.
fn innermost(matches: &ArgMatches) -> &ArgMatches {
    let mut given = matches;
    while let Some((_, below)) = given.subcommand() {
        given = below;
    }
    given
}

fn block_on<T>(work: impl Future<Output = Result<T, Failed>>) -> Result<T, Failed> {
    let machine = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|cause| Failed::Asked(format!("no threads to work with: {cause}")))?;
    machine.block_on(work)
}

fn causes(cause: &(dyn std::error::Error + 'static)) -> String {
    let mut words = cause.to_string();
    let mut next = cause.source();
    while let Some(behind) = next {
        words = format!("{words}: {behind}");
        next = behind.source();
    }
    words
}

fn one_line(words: &str) -> String {
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_grammar_of_the_command_line_holds_together() {
        grammar().debug_assert();
    }

    #[test]
    fn the_caution_stands_in_every_help() {
        let mut grammar = grammar();
        grammar.build();
        let (mut waiting, mut count) = (vec![&grammar], 0);
        while let Some(command) = waiting.pop() {
            if command.get_name() != "help" {
                count += 1;
                waiting.extend(command.get_subcommands());
                let help = command.clone().render_long_help().to_string();
                let said = help.split_whitespace().collect::<Vec<_>>().join(" ");
                assert!(said.contains(domain::caution::CAUTION), "{}", command.get_name());
            }
        }
        assert!(count > 15, "{count} commands, those of bench and people among them");
    }
}
