//! `holdover bench`: how long the program takes over made-up loads, one file per bench.

mod slots;

use clap::{Args, Subcommand};

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

pub fn run(bench: &Bench) {
    match &bench.what {
        What::Slots(call) => slots::run(call),
    }
}
