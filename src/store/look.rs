//! Looking a database over without writing anything, in it or beside it: for `holdover check`.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, SqliteConnection};
use tempfile::TempDir;

use crate::making::{beside, length};
use crate::{Contents, StoreError, schema};

/// A database that is only looked at.
#[derive(Debug)]
pub struct Look {
    pub db: SqliteConnection,
    pub contents: Contents,
    file: PathBuf,
    /// How the file stood at the beginning, where nothing would tell that it changed since.
    stood: Option<Stamp>,
    /// Holds a copy where the file itself could not be read without writing beside it.
    _copy: Option<TempDir>,
}

type Stamp = (u64, Option<SystemTime>);

/// How a file is read.
enum Way {
    /// Together with a service that may run.
    Shared,
    /// As a file that nobody has open.
    Alone,
    /// As a copy: it has changes beside it that could be read in its place only by writing there.
    Copied,
}

impl Look {
    /// Opens the file to look at it. One that is empty, not ours, or of another schema is refused.
    pub async fn at(file: &Path) -> Result<Self, StoreError> {
        if length(file)? == 0 {
            return Err(StoreError::Unusable(format!(
                "{} is empty: there is no record in it. Restore a backup if there should be one; \
                 otherwise `holdover serve` begins a new record.",
                file.display()
            )));
        }
        let has_changes = length(&beside(file, "-wal"))? > 0;
        let first = if beside(file, "-shm").exists() {
            Way::Shared
        } else if has_changes {
            Way::Copied
        } else {
            Way::Alone
        };
        let is_shared = matches!(first, Way::Shared);
        match Self::by(file, first).await {
            // The directory takes no writing, so what stands beside the file cannot be shared.
            Err(StoreError::Database(_)) if is_shared => {
                Self::by(file, if has_changes { Way::Copied } else { Way::Alone }).await
            }
            found => found,
        }
    }

    async fn by(file: &Path, way: Way) -> Result<Self, StoreError> {
        let mut copy = None;
        let mut there = file.to_owned();
        if matches!(way, Way::Copied) {
            let folder = tempfile::tempdir()?;
            there = folder.path().join("copy.db");
            std::fs::copy(file, &there)?;
            std::fs::copy(beside(file, "-wal"), beside(&there, "-wal"))?;
            copy = Some(folder);
        }
        let stood = if matches!(way, Way::Alone) { Some(stamp(file)?) } else { None };
        let mut db = SqliteConnectOptions::new()
            .filename(&there)
            .read_only(copy.is_none())
            .immutable(stood.is_some())
            .busy_timeout(Duration::from_secs(5))
            .pragma("trusted_schema", "off")
            .connect()
            .await
            .map_err(|cause| schema::not_opened(file, cause))?;
        schema::admit_to_look(&mut db, file).await?;
        Ok(Self { db, contents: Contents::beside(file), file: file.to_owned(), stood, _copy: copy })
    }

    /// Whether the file is still the one that was looked at. A service that was started meanwhile
    /// writes to it, and what was found then means nothing.
    pub fn still_stands(&self) -> Result<bool, StoreError> {
        let Some(stood) = self.stood else { return Ok(true) };
        Ok(stamp(&self.file)? == stood && length(&beside(&self.file, "-wal"))? == 0)
    }
}

fn stamp(file: &Path) -> Result<Stamp, StoreError> {
    let found = std::fs::metadata(file)?;
    Ok((found.len(), found.modified().ok()))
}
