//! Making a new database: under another name, which it loses once it is whole. Whatever cuts that
//! off leaves no half of a database behind, and the next start begins anew.

use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
use sqlx::{ConnectOptions as _, Connection as _, SqliteConnection};

use crate::{StoreError, schema};

/// What SQLite keeps beside a database.
pub(crate) const COMPANIONS: [&str; 3] = ["-wal", "-shm", "-journal"];

/// The file that SQLite keeps beside a database under that ending.
pub(crate) fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = OsString::from(file);
    name.push(ending);
    PathBuf::from(name)
}

/// Bytes of a file; none where it is not there.
pub(crate) fn length(file: &Path) -> io::Result<u64> {
    match fs::metadata(file) {
        Ok(found) => Ok(found.len()),
        Err(cause) if cause.kind() == ErrorKind::NotFound => Ok(0),
        Err(cause) => Err(cause),
    }
}

/// Whether there is no database yet: no file, or an empty one. One that was lost while its last
/// changes are still there is not begun anew.
pub(crate) fn is_missing(file: &Path) -> Result<bool, StoreError> {
    if length(file)? > 0 {
        return Ok(false);
    }
    let changes = beside(file, "-wal");
    if length(&changes)? > 0 {
        return Err(StoreError::Unusable(format!(
            "{} is missing or empty while {} holds changes to it; restore a backup, or move that \
             file away to begin a new record.",
            file.display(),
            changes.display()
        )));
    }
    Ok(true)
}

/// Makes the database. Whoever calls holds the lock, so what an earlier try left is nobody's.
pub(crate) async fn make(file: &Path) -> Result<(), StoreError> {
    let draft = file.with_extension("new");
    remove(&draft)?;
    up_to(&draft, schema::newest()).await?.close().await?;
    put_in_place(&draft, file)?;
    Ok(())
}

/// A new file with the schema as of this step. Nothing is lost with a draft; whoever puts it in place
/// brings it to the disk as a whole.
pub(crate) async fn up_to(draft: &Path, step: i64) -> Result<SqliteConnection, StoreError> {
    let options = SqliteConnectOptions::new()
        .filename(draft)
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Delete)
        .synchronous(SqliteSynchronous::Off);
    let mut db = options.connect().await?;
    schema::STEPS.run_to(step, &mut db).await?;
    Ok(db)
}

/// Gives a whole database that nobody has open its name; when this returns, it outlives a cut of
/// the power.
pub(crate) fn put_in_place(draft: &Path, file: &Path) -> io::Result<()> {
    File::open(draft)?.sync_all()?;
    for ending in COMPANIONS {
        remove_one(&beside(file, ending))?;
    }
    fs::rename(draft, file)?;
    match file.parent() {
        Some(folder) => File::open(folder)?.sync_all(),
        None => Ok(()),
    }
}

/// Removes a database that is of no use, with what stands beside it.
pub(crate) fn remove(file: &Path) -> io::Result<()> {
    remove_one(file)?;
    COMPANIONS.iter().try_for_each(|ending| remove_one(&beside(file, ending)))
}

fn remove_one(file: &Path) -> io::Result<()> {
    match fs::remove_file(file) {
        Err(cause) if cause.kind() != ErrorKind::NotFound => Err(cause),
        _ => Ok(()),
    }
}
