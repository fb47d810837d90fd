//! `holdover check`: what is wrong with the database, if anything.

use std::io::IsTerminal as _;

use clap::{ArgMatches, Args};
use indicatif::{ProgressBar, ProgressStyle};

use crate::settings::Everywhere;
use crate::{Failed, data};
use app::checks;

#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    everywhere: Everywhere,
}

pub async fn run(given: &ArgMatches) -> Result<(), Failed> {
    let app = data::of(given).await?;
    let bar = progress();
    let report = checks::run(&app.db, |done, all| {
        bar.set_length(all as u64);
        bar.set_position(done as u64);
    })
    .await;
    bar.finish_and_clear();
    let report = report?;
    app.db.close().await;
    for fault in &report.faults {
        println!("{}: {}", fault.check, fault.words);
    }
    if report.faults.is_empty() {
        println!("{} checks, nothing wrong: {}.", report.names.len(), report.names.join(", "));
        return Ok(());
    }
    eprintln!(
        "holdover: {} things are wrong; restore a backup or repair them.",
        report.faults.len()
    );
    Err(Failed::Said)
}

fn progress() -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(0);
    if let Ok(style) = ProgressStyle::with_template("{pos} of {len} tasks {wide_bar} {eta}") {
        bar.set_style(style);
    }
    bar
}
