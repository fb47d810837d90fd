//! `holdover bench fill`: a made-up record of any size, written into an empty data directory.

use std::io::IsTerminal as _;
use std::time::Instant;

use clap::{ArgMatches, Args};
use indicatif::{ProgressBar, ProgressStyle};

use crate::settings::Everywhere;
use crate::{Failed, data};
use app::fill::{self, Step};
use load::{Load, Size};

#[derive(Debug, Args)]
pub struct Fill {
    /// How many tasks
    #[arg(long, default_value_t = 1_000)]
    tasks: usize,
    /// How many attempts at them
    #[arg(long, default_value_t = 10_000)]
    attempts: usize,
    /// The same seed gives the same record
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    everywhere: Everywhere,
}

pub async fn run(call: &Fill, given: &ArgMatches) -> Result<(), Failed> {
    if call.tasks == 0 {
        return Err(Failed::Usage("a record needs at least one task; say --tasks 1.".to_owned()));
    }
    let app = data::of_or_new(given).await?;
    let size = Size { tasks: call.tasks, attempts: call.attempts, seed: call.seed };
    let load = Load::new(size, app.clock.now().day());
    let bar = progress();
    let begun = Instant::now();
    let written = fill::fill(&app, &load, |step| match step {
        Step::Written(done, all) => show(&bar, "written", done, all),
        Step::Derived(done, all) => show(&bar, "derived", done, all),
    })
    .await;
    bar.finish_and_clear();
    app.db.close().await;
    let written = written?;
    println!("{written} records, {} tasks among them, in {:.0?}.", call.tasks, begun.elapsed());
    Ok(())
}

fn show(bar: &ProgressBar, word: &'static str, done: usize, all: usize) {
    bar.set_message(word);
    bar.set_length(all as u64);
    bar.set_position(done as u64);
}

fn progress() -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(0);
    if let Ok(style) = ProgressStyle::with_template("{pos} of {len} tasks {msg} {wide_bar} {eta}") {
        bar.set_style(style);
    }
    bar
}
