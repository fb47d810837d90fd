//! `holdover export`, `restore` and `backup`: the whole record out as open files, back in, and a
//! copy of the database while the service runs.

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::{ArgMatches, Args};
use indicatif::ProgressBar;

use crate::settings::{Everywhere, Settings};
use crate::{Failed, data, print_caution};
use app::clock::Clock;
use app::export;

#[derive(Debug, Args)]
pub struct Export {
    /// A folder that is empty or not there yet.
    folder: PathBuf,
    #[command(flatten)]
    everywhere: Everywhere,
}

#[derive(Debug, Args)]
pub struct Restore {
    /// The folder that `holdover export` wrote. The data directory has to be empty.
    folder: PathBuf,
    #[command(flatten)]
    everywhere: Everywhere,
}

#[derive(Debug, Args)]
pub struct Backup {
    /// The file to write; attachments go into a folder beside it.
    file: PathBuf,
    #[command(flatten)]
    everywhere: Everywhere,
}

pub async fn export(asked: Export, given: &ArgMatches) -> Result<(), Failed> {
    let begun = Instant::now();
    let app = data::of(given).await?;
    let bar = spinner();
    let mut told = |name: &str| bar.set_message(name.to_owned());
    let made = export::export(&app, &asked.folder, &mut told).await;
    bar.finish_and_clear();
    app.db.close().await;
    let manifest = made?;
    println!(
        "Exported {} rows of {} tables and {} attachments, {} bytes, to {} in {:.1} s.",
        manifest.rows(),
        manifest.tables.len(),
        manifest.files.len(),
        manifest.bytes(),
        asked.folder.display(),
        begun.elapsed().as_secs_f64()
    );
    print_caution();
    Ok(())
}

pub async fn restore(asked: Restore, given: &ArgMatches) -> Result<(), Failed> {
    let begun = Instant::now();
    let settings = Settings::read(given)?;
    let directory = settings.data();
    let bar = spinner();
    let mut progress = |name: &str| bar.set_message(name.to_owned());
    let made = export::restore(&asked.folder, &directory, data::FILE, &mut progress).await;
    bar.finish_and_clear();
    let manifest = made?;
    // What an older program derived is derived again, so that a check finds nothing to complain of.
    data::open(&directory, Clock::System, settings.config()?).await?.db.close().await;
    println!(
        "Restored {} rows and {} attachments into {} in {:.1} s. People sign in again.",
        manifest.rows(),
        manifest.files.len(),
        directory.display(),
        begun.elapsed().as_secs_f64()
    );
    print_caution();
    Ok(())
}

pub async fn backup(asked: Backup, given: &ArgMatches) -> Result<(), Failed> {
    let begun = Instant::now();
    let app = data::of(given).await?;
    let attachments = beside(&asked.file);
    let made = export::backup(&app, &asked.file, &attachments).await;
    app.db.close().await;
    let made = made?;
    println!(
        "Copied the record as of {} to {}, {} bytes, in {:.1} s.",
        made.at.to_the_minute(),
        asked.file.display(),
        made.bytes,
        begun.elapsed().as_secs_f64()
    );
    if made.files > 0 {
        println!("{} attachments are in {}.", made.files, attachments.display());
    }
    println!(
        "To use it: put it as {} into an empty data directory, with the attachments in files/.",
        data::FILE
    );
    print_caution();
    Ok(())
}

/// `copy.db` has its attachments in `copy.db.files`.
fn beside(file: &Path) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(".files");
    PathBuf::from(name)
}

fn spinner() -> ProgressBar {
    if std::io::stderr().is_terminal() { ProgressBar::new_spinner() } else { ProgressBar::hidden() }
}
