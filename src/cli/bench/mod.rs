//! `holdover bench`: made-up loads, and how long the program takes over them, one file per bench.
//! A speed is a ratio against something else in the same run; the milliseconds beside it are this
//! machine's.

use std::io::IsTerminal as _;

use clap::{ArgMatches, Args, Subcommand};

use crate::{Failed, block_on, log};

mod day;
mod figures;
mod fill;
mod made_up;
mod pages;
mod press;
mod rest;
mod slots;
mod soak;
mod watch;
mod writes;

#[derive(Debug, Args)]
pub struct Bench {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Times the board of the day after an event, and the late card, on one core.
    Day(day::Day),
    /// Times the matrix of open items against coming excursions, on one core.
    Slots(slots::Slots),
    /// Fills an empty data directory with a made-up record of any size.
    Fill(fill::Fill),
    /// Times the pages of a data directory, each beside its bare queries.
    Pages(pages::Pages),
    /// Asks for every page in three roles, and says what memory is held after a rest.
    Rest(rest::Rest),
    /// Asks for pages for a long time, and watches the memory meanwhile.
    Soak(soak::Soak),
    /// Times how long people wait who save rows of a debrief at once.
    Writes(writes::Writes),
}

pub fn run(bench: &Bench, given: &ArgMatches) -> Result<(), Failed> {
    log::start(std::io::stderr().is_terminal(), log::Onto::StandardError, "warn");
    match &bench.what {
        What::Day(call) => block_on(day::run(call)),
        What::Slots(call) => {
            slots::run(call);
            Ok(())
        }
        What::Fill(call) => block_on(fill::run(call, given)),
        What::Pages(call) => block_on(pages::run(call, given)),
        What::Rest(call) => block_on(rest::run(call, given)),
        What::Soak(call) => block_on(soak::run(call, given)),
        What::Writes(call) => block_on(writes::run(call, given)),
    }
}
