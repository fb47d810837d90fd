//! A copy of one state of the database, for work that is thrown away: what would come of a table.

use std::path::Path;

use sqlx::sqlite::SqliteSynchronous;
use sqlx::{ConnectOptions as _, Connection as _};
use tempfile::TempPath;

use crate::{Db, StoreError, making, options, pool};

/// The copy, with the files of the database that it was made of.
#[derive(Debug)]
pub struct Copied {
    pub db: Db,
    path: TempPath,
}

impl Db {
    /// Copies the database as it is now. Nobody waits for that, and what is done to the copy is done
    /// to nothing else. It stands with the files that are still coming in, and is removed by age
    /// like them should the program be killed.
    pub async fn copied(&self) -> Result<Copied, StoreError> {
        let path = self.contents().incoming()?.into_temp_path();
        let name = text_of(&path)?;
        let mut source = self.write.connect_options().connect().await?;
        sqlx::query!("VACUUM INTO ?", name).execute(&mut source).await?;
        source.close().await?;
        let options = options(&path).synchronous(SqliteSynchronous::Off);
        let write = pool().max_connections(1).connect_with(options.clone()).await?;
        let db = Self::reading(write, options, self.contents().clone()).await?;
        Ok(Copied { db, path })
    }
}

impl Copied {
    /// Closes the copy and removes it.
    pub async fn discard(self) {
        let Self { db, path } = self;
        db.close().await;
        // What cannot be removed now goes by age.
        let _ = making::remove(&path);
    }
}

fn text_of(path: &Path) -> Result<String, StoreError> {
    path.to_str().map(str::to_owned).ok_or_else(|| {
        StoreError::Unusable(format!(
            "{} is no text; choose a data directory whose path is.",
            path.display()
        ))
    })
}
