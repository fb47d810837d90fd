//! `holdover check`: what is wrong with the database, if anything.

use std::io::IsTerminal as _;

use clap::{ArgMatches, Args};
use indicatif::{ProgressBar, ProgressStyle};

use crate::settings::{Everywhere, Settings};
use crate::{Failed, data, print_caution};
use app::checks;
use store::look::Look;

#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    everywhere: Everywhere,
}

/// Looks, and writes nothing: a directory that takes no writing is looked over like any other.
pub async fn run(given: &ArgMatches) -> Result<(), Failed> {
    let file = data::existing(&Settings::read(given)?)?;
    let mut look = Look::at(&file).await?;
    let bar = progress();
    let contents = look.contents.clone();
    let report = checks::run_on(&mut look.db, &contents, |done, all| {
        bar.set_length(all as u64);
        bar.set_position(done as u64);
    })
    .await;
    bar.finish_and_clear();
    let report = report?;
    if !look.still_stands()? {
        return Err(Failed::Asked(
            "a service was started while the file was being checked, so the result is not \
             valid; check it again."
                .to_owned(),
        ));
    }
    for fault in &report.faults {
        println!("{}: {}", fault.check, fault.words);
    }
    for note in &report.notes {
        println!("note: {note}");
    }
    if report.faults.is_empty() {
        println!("{} checks, nothing wrong: {}.", report.names.len(), report.names.join(", "));
        print_caution();
        return Ok(());
    }
    print_caution();
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
