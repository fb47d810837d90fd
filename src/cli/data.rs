//! The data directory of a command.

use std::path::{Path, PathBuf};

use clap::ArgMatches;

use crate::Failed;
use crate::settings::Settings;
use app::clock::Clock;
use app::config::Config;
use app::{App, standing};
use store::Db;

/// The database within the data directory.
pub const FILE: &str = "holdover.db";

/// Opens the data directory for the service; it is made where it is missing.
pub async fn open(directory: &Path, clock: Clock, config: Config) -> Result<App, Failed> {
    make(directory)?;
    let db = Db::open(&directory.join(FILE)).await?;
    let app = App::new(db, clock, config);
    standing::renew(&app).await?;
    Ok(app)
}

/// Opens the data directory that the settings name, for a command on what is there already.
pub async fn of(given: &ArgMatches) -> Result<App, Failed> {
    let settings = Settings::read(given)?;
    existing(&settings)?;
    open(&settings.data(), Clock::System, settings.config()?).await
}

/// The database that the settings name, which is there.
pub fn existing(settings: &Settings) -> Result<PathBuf, Failed> {
    let file = settings.data().join(FILE);
    if file.exists() {
        return Ok(file);
    }
    Err(Failed::Asked(format!(
        "there is no {}; name the data directory with --data, or make one with `holdover serve`.",
        file.display()
    )))
}

/// The same, but the data directory is made where it is missing.
pub async fn of_or_new(given: &ArgMatches) -> Result<App, Failed> {
    let settings = Settings::read(given)?;
    open(&settings.data(), Clock::System, settings.config()?).await
}

/// Makes the directory for its owner alone.
pub fn make(directory: &Path) -> Result<(), Failed> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(directory).map_err(|cause| {
        Failed::Asked(format!(
            "the data directory {} cannot be made ({cause}); choose another with --data.",
            directory.display()
        ))
    })
}
