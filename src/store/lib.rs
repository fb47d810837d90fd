//! All SQL. One file per aggregate; every function takes a connection, so that it serves a pool,
//! a transaction and a test alike.

use std::future::Future;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use sqlx::{ConnectOptions as _, Sqlite, SqliteConnection, Transaction};

use domain::records::Record;

pub mod affected;
pub mod alike;
pub mod attempts;
pub mod bulk;
pub mod calendar;
pub mod campaign;
pub mod causes;
pub mod changes;
pub mod constraints;
pub mod contents;
pub mod copy;
pub mod day;
pub mod declines;
pub mod draft;
pub mod drafts;
pub mod endings;
pub mod events;
pub mod excursion_list;
pub mod excursions;
pub mod families;
pub mod feeds;
pub mod files;
pub mod findings;
pub mod first_steps;
pub mod flights;
pub mod forms;
pub mod history;
pub mod imports;
pub mod inhibits;
pub mod invariants;
mod kept;
pub mod lane_changes;
pub mod library;
pub mod look;
mod making;
pub mod measured;
pub mod named_by;
pub mod open_items;
pub mod outside;
pub mod people;
pub mod reach;
pub mod register;
pub mod remedies;
pub mod revisions;
pub mod schema;
pub mod search;
pub mod sessions;
pub mod settings;
pub mod slot_history;
pub mod slots;
pub mod staging;
pub mod standing;
pub mod statistics;
pub mod tasks;
pub mod techniques;
pub mod told;
pub mod tools;
pub mod transfer;
pub mod views;
pub mod waits;
pub mod words;
pub mod worksites;

#[cfg(test)]
mod migration_tests;
#[cfg(test)]
mod reading_tests;
#[cfg(test)]
mod tests;

pub use contents::Contents;
pub(crate) use kept::{json_array, kept, shelf};

/// How long an operation waits for the one writing connection.
const WRITER_TIMEOUT: Duration = Duration::from_secs(15);

/// A promise of the storage that was broken.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    #[error("the database did not answer as it should")]
    Database(#[from] sqlx::Error),
    #[error("the schema could not be brought up to date")]
    Migration(#[from] sqlx::migrate::MigrateError),
    #[error("a row of {table} makes no sense: {why}")]
    Corrupt { table: &'static str, why: String },
    #[error("a file beside the database could not be read or written")]
    Files(#[from] std::io::Error),
    #[error("{0}")]
    Unusable(String),
}

impl StoreError {
    /// Others held the database for so long that this did not come to its turn.
    pub const fn is_busy(&self) -> bool {
        matches!(self, Self::Database(sqlx::Error::PoolTimedOut))
    }
}

/// A record that the database keeps.
pub trait Kept: Record {
    fn find(
        db: &mut SqliteConnection,
        code: &str,
    ) -> impl Future<Output = Result<Option<Self>, StoreError>> + Send;

    /// Writes the record, new or changed, with what hangs on its columns alone.
    fn save(
        &self,
        db: &mut SqliteConnection,
    ) -> impl Future<Output = Result<(), StoreError>> + Send;

    /// Up to `most` records whose codes come after `after`, in the order of their codes.
    fn after(
        db: &mut SqliteConnection,
        after: &str,
        most: i64,
    ) -> impl Future<Output = Result<Vec<Self>, StoreError>> + Send;
}

/// A reader that is kept for longer holds back the write-ahead log; the log warns of it.
const SLOW: Duration = Duration::from_secs(1);

/// A read transaction. It derefs to its connection and is rolled back when it is dropped.
#[derive(Debug)]
pub struct Reader {
    tx: Transaction<'static, Sqlite>,
    since: Instant,
}

impl Drop for Reader {
    /// Within the span of the request, which says for which page.
    fn drop(&mut self) {
        let ms = self.since.elapsed().as_millis();
        if self.since.elapsed() >= SLOW {
            tracing::warn!(ms, "slow: one page read for so long; look at what it was asked for");
        } else {
            tracing::debug!(ms, "read");
        }
    }
}

impl std::ops::Deref for Reader {
    type Target = SqliteConnection;
    fn deref(&self) -> &SqliteConnection {
        &self.tx
    }
}

impl std::ops::DerefMut for Reader {
    fn deref_mut(&mut self) -> &mut SqliteConnection {
        &mut self.tx
    }
}

/// How a database that is written to is opened.
fn options(file: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(file)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(Duration::from_secs(5))
        .statement_cache_capacity(400)
        .pragma("trusted_schema", "off")
}

fn pool() -> SqlitePoolOptions {
    SqlitePoolOptions::new()
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(WRITER_TIMEOUT)
        .test_before_acquire(false)
}

/// The database: one connection that writes, some that read; and the files beside it.
#[derive(Debug, Clone)]
pub struct Db {
    write: SqlitePool,
    read: SqlitePool,
    contents: Contents,
    /// Held while a copy stands beside the database.
    aside: Arc<tokio::sync::Mutex<()>>,
}

impl Db {
    /// Opens or creates the file and brings its schema up to date.
    pub async fn open(file: &Path) -> Result<Self, StoreError> {
        let path = file.to_owned();
        let lock = tokio::task::spawn_blocking(move || schema::lock(&path)).await;
        let lock = lock.map_err(|cause| StoreError::Unusable(cause.to_string()))??;
        if making::is_missing(file)? {
            making::make(file).await?;
        }
        schema::admit(file).await?;
        let options = options(file);
        let write = pool().max_connections(1).connect_with(options.clone()).await?;
        schema::demand_safe_library(&mut *write.acquire().await?).await?;
        schema::STEPS.run(&write).await?;
        drop(lock);
        Self::reading(write, options, Contents::beside(file)).await
    }

    async fn reading(
        write: SqlitePool,
        options: SqliteConnectOptions,
        contents: Contents,
    ) -> Result<Self, StoreError> {
        let options = options.pragma("query_only", "on");
        let read = pool().max_connections(4).connect_with(options).await?;
        Ok(Self { write, read, contents, aside: Arc::default() })
    }

    /// The files beside the database.
    pub const fn contents(&self) -> &Contents {
        &self.contents
    }

    /// One state of the database to read from: what is committed after the first read is not seen
    /// until another reader is asked for. A page is drawn from one reader, so that the version in a
    /// form belongs to the cells beside it.
    pub async fn reader(&self) -> Result<Reader, StoreError> {
        let tx = self.read.begin_with("BEGIN DEFERRED").await?;
        Ok(Reader { tx, since: Instant::now() })
    }

    /// A connection of its own that only reads. One of the pool may hold the index of words as it
    /// stood when it last read it, and the integrity check would take that for damage.
    pub async fn apart(&self) -> Result<SqliteConnection, StoreError> {
        Ok(self.read.connect_options().connect().await?)
    }

    /// A transaction that may write; it takes the write lock at once.
    pub async fn begin(&self) -> Result<Transaction<'static, Sqlite>, StoreError> {
        Ok(self.write.begin_with("BEGIN IMMEDIATE").await?)
    }

    /// Shows that the database answers, has our schema and takes a write to the disk.
    pub async fn prove(&self) -> Result<(), StoreError> {
        let known = schema::newest();
        let mut tx = self.begin().await?;
        let applied = schema::version(&mut tx).await?;
        if applied != known {
            return Err(StoreError::Unusable(format!(
                "the schema is at step {applied} and this program at {known}"
            )));
        }
        forms::touch_data_version(&mut tx).await?;
        tx.commit().await?;
        Ok(())
    }

    pub async fn close(self) {
        self.read.close().await;
        self.write.close().await;
    }
}
