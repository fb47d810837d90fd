//! A copy of one state of the database: for work that is thrown away, such as what would come of a
//! table, and for work that is put into the database at once when it is whole.

use std::path::Path;
use std::sync::Arc;

use sqlx::sqlite::{SqlitePool, SqliteSynchronous};
use sqlx::{ConnectOptions as _, Connection as _, SqliteConnection};
use tempfile::TempPath;
use tokio::sync::OwnedMutexGuard;

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

/// A copy on which nobody works any more.
#[derive(Debug)]
pub struct Closed(TempPath);

/// A copy that stands beside the database for the connection that writes, one at a time.
#[derive(Debug)]
pub struct Attached {
    write: SqlitePool,
    _alone: OwnedMutexGuard<()>,
}

impl Db {
    /// Lets the connection that writes see the copy as `aside`.
    pub async fn attach(&self, copy: &Closed) -> Result<Attached, StoreError> {
        let alone = Arc::clone(&self.aside).lock_owned().await;
        let name = text_of(&copy.0)?;
        let mut writer = self.write.acquire().await?;
        detach(&mut writer).await?;
        sqlx::query!("ATTACH DATABASE ? AS aside", name).execute(&mut *writer).await?;
        Ok(Attached { write: self.write.clone(), _alone: alone })
    }
}

impl Attached {
    pub async fn detach(self) -> Result<(), StoreError> {
        detach(&mut *self.write.acquire().await?).await
    }
}

/// Nothing where none is attached.
async fn detach(writer: &mut SqliteConnection) -> Result<(), StoreError> {
    let is_there = sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: i64" FROM pragma_database_list WHERE name = 'aside'"#
    );
    if is_there.fetch_one(&mut *writer).await? > 0 {
        sqlx::raw_sql("DETACH DATABASE aside").execute(writer).await?;
    }
    Ok(())
}

impl Closed {
    /// Removes the copy.
    pub fn discard(self) {
        // What cannot be removed now goes by age.
        let _ = making::remove(&self.0);
    }
}

impl Copied {
    /// Ends the work on the copy, which stays as it is now.
    pub async fn close(self) -> Closed {
        let Self { db, path } = self;
        db.close().await;
        Closed(path)
    }

    /// Closes the copy and removes it.
    pub async fn discard(self) {
        self.close().await.discard();
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
