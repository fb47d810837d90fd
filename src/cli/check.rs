//! `holdover check`: what is wrong with the database, if anything.

use clap::{ArgMatches, Args};

use crate::app::checks;
use crate::cli::settings::Everywhere;
use crate::cli::{Failed, data};

#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    everywhere: Everywhere,
}

pub async fn run(given: &ArgMatches) -> Result<(), Failed> {
    let app = data::of(given).await?;
    let report = checks::run(&app).await?;
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
