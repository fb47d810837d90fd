//! `holdover bench`: how long the program takes over made-up loads, one file per bench.

mod slots;

use clap::{ArgMatches, Args, Subcommand};

use crate::cli::Failed;

#[derive(Debug, Args)]
pub struct Bench {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Times the matrix of open items against coming excursions, on one core.
    Slots(slots::Slots),
}

/// `given` are the arguments of the bench itself, for settings that may stand in a file.
pub async fn run(bench: Bench, given: &ArgMatches) -> Result<(), Failed> {
    let _ = given;
    match bench.what {
        What::Slots(call) => slots::run(&call),
    }
}
