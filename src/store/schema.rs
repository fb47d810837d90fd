//! Whether a file is a database of ours, and which schema it has.

use std::fs::{File, TryLockError};
use std::path::Path;
use std::time::{Duration, Instant};

use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _, SqliteConnection};

use crate::StoreError;
use crate::making::length;

/// The steps from an empty file to the schema of this program. Each ends with its own number as
/// `user_version`.
pub(crate) static STEPS: Migrator = sqlx::migrate!("../../migrations");
/// "Hold", as the file says it is ours; the migrations write it.
pub(crate) const APPLICATION_ID: i64 = 0x486f_6c64;
/// The oldest SQLite that loses nothing in WAL mode with two connections writing.
const OLDEST_SQLITE: [u32; 3] = [3, 51, 3];
/// Steps of SQLite's machine between two looks at the clock.
const LOOK_EVERY: i32 = 10_000;
/// Another program that brings the same file up to date has so long to finish.
const LOCK_TIMEOUT: Duration = Duration::from_mins(1);

/// The number of the newest step that this program knows.
pub fn newest() -> i64 {
    STEPS.iter().map(|step| step.version).max().unwrap_or(0)
}

/// Whether this program has a step of that number.
pub fn knows(step: i64) -> bool {
    STEPS.version_exists(step)
}

/// The number of the last step that was run.
pub async fn version(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COALESCE(MAX(version), 0) AS "version!: i64" FROM _sqlx_migrations WHERE success = 1"#
    )
    .fetch_one(db)
    .await?)
}

/// Refuses a file that is not ours or was written by a newer program, before anything in it is
/// touched.
pub(crate) async fn admit(file: &Path) -> Result<(), StoreError> {
    let unreadable = |cause: sqlx::Error| unreadable(file, &cause);
    let options = SqliteConnectOptions::new().filename(file).busy_timeout(Duration::from_secs(5));
    let mut db = options.connect().await.map_err(unreadable)?;
    let found = Found::of(&mut db).await.map_err(unreadable)?;
    db.close().await?;
    found.admit(file)
}

/// The same for a file that is only looked at; one of an older schema cannot be, since it is not
/// brought up to date on the way.
pub(crate) async fn admit_to_look(
    db: &mut SqliteConnection,
    file: &Path,
) -> Result<(), StoreError> {
    let found = Found::of(db).await.map_err(|cause| not_opened(file, cause))?;
    found.admit(file)?;
    let here = version(db).await?;
    if here < newest() {
        return Err(StoreError::Unusable(format!(
            "{} has schema {here} and this program knows schema {}; start the service once, which \
             brings it up to date, and check it then, or check it with the program it belongs to.",
            file.display(),
            newest()
        )));
    }
    Ok(())
}

fn unreadable(file: &Path, cause: &sqlx::Error) -> StoreError {
    StoreError::Unusable(format!(
        "{} cannot be read as a database ({cause}); restore a backup or choose another data directory.",
        file.display()
    ))
}

/// Why a file could not be looked at; the cause itself where there may be another way to open it.
pub(crate) fn not_opened(file: &Path, cause: sqlx::Error) -> StoreError {
    if cannot_open(&cause) { cause.into() } else { unreadable(file, &cause) }
}

/// SQLite's words for a file beside the database that it could not open or write.
// Source: SQLite, Result and Error Codes, SQLITE_READONLY (8) and SQLITE_CANTOPEN (14), 2026.
fn cannot_open(cause: &sqlx::Error) -> bool {
    let code = cause.as_database_error().and_then(sqlx::error::DatabaseError::code);
    code.and_then(|code| code.parse::<i64>().ok()).is_some_and(|code| matches!(code & 0xff, 8 | 14))
}

/// What a file says of itself.
struct Found {
    ours: i64,
    version: i64,
    tables: i64,
}

impl Found {
    /// The library of the steps makes a table of its own before the first step runs, so that one
    /// says nothing of whose file it is.
    async fn of(db: &mut SqliteConnection) -> Result<Self, sqlx::Error> {
        sqlx::query_as!(
            Self,
            r#"SELECT (SELECT application_id + 0 FROM pragma_application_id()) AS "ours!: i64",
                   (SELECT user_version + 0 FROM pragma_user_version()) AS "version!: i64",
                   (SELECT COUNT(*) FROM sqlite_schema WHERE tbl_name <> '_sqlx_migrations')
                       AS "tables!: i64""#
        )
        .fetch_one(db)
        .await
    }

    fn admit(&self, file: &Path) -> Result<(), StoreError> {
        let shown = file.display();
        if self.tables > 0 && self.ours != APPLICATION_ID {
            return Err(StoreError::Unusable(format!(
                "{shown} is not a database of Holdover; choose another data directory."
            )));
        }
        if self.version > newest() {
            return Err(StoreError::Unusable(format!(
                "{shown} has schema {} and this program knows schema {}; start the newer program.",
                self.version,
                newest()
            )));
        }
        Ok(())
    }
}

/// Refuses to run on a library that can lose committed writes.
// Source: SQLite release notes 3.51.3 (the WAL-reset race), 2026, as quoted in the news.
pub(crate) async fn demand_safe_library(db: &mut SqliteConnection) -> Result<(), StoreError> {
    let running = sqlx::query_scalar!(r#"SELECT sqlite_version() AS "version!: String""#)
        .fetch_one(db)
        .await?;
    let parts: Vec<u32> = running.split('.').filter_map(|part| part.parse().ok()).collect();
    if parts.as_slice() >= OLDEST_SQLITE.as_slice() {
        return Ok(());
    }
    Err(StoreError::Unusable(format!("SQLite {running} is too old; build with 3.51.3 or newer.")))
}

/// Held by whoever brings the schema up to date; let go when dropped, also by a crash. The lock
/// of the migration library does nothing on SQLite.
pub(crate) fn lock(file: &Path) -> Result<File, StoreError> {
    let path = file.with_extension("lock");
    let refused = |cause: std::io::Error| {
        StoreError::Unusable(format!(
            "{} cannot be written ({cause}); make the data directory writable.",
            path.display()
        ))
    };
    let held = File::create(&path).map_err(refused)?;
    let begun = Instant::now();
    loop {
        match held.try_lock() {
            Ok(()) => return Ok(held),
            Err(TryLockError::Error(cause)) => return Err(refused(cause)),
            Err(TryLockError::WouldBlock) if begun.elapsed() < LOCK_TIMEOUT => {
                std::thread::sleep(Duration::from_millis(50));
            }
            Err(TryLockError::WouldBlock) => {
                return Err(StoreError::Unusable(format!(
                    "Another program has been bringing {} up to date for a minute; wait for it or end it.",
                    file.display()
                )));
            }
        }
    }
}

/// Whether the database holds the demo scenario.
pub async fn is_demo(db: &mut SqliteConnection) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT is_demo > 0 AS "demo!: bool" FROM data_version"#)
        .fetch_one(db)
        .await?)
}

/// Marks the database as the demo's, for good.
pub async fn mark_demo(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::query!("UPDATE data_version SET is_demo = 1").execute(db).await?;
    Ok(())
}

/// Whether the demo scenario was laid out to its end.
pub async fn demo_is_whole(db: &mut SqliteConnection) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT is_demo = 2 AS "whole!: bool" FROM data_version"#)
        .fetch_one(db)
        .await?)
}

/// Notes that the demo scenario was laid out to its end.
pub async fn mark_demo_whole(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::query!("UPDATE data_version SET is_demo = 2").execute(db).await?;
    Ok(())
}

/// Whether nothing was ever entered: no person, no record, no change.
pub async fn is_empty(db: &mut SqliteConnection) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT NOT EXISTS (SELECT 1 FROM person) AND NOT EXISTS (SELECT 1 FROM register
                   WHERE NOT (kind = 'cause' AND made_by = 'holdover'))
               AND NOT EXISTS (SELECT 1 FROM change) AS "empty!: bool""#
    )
    .fetch_one(db)
    .await?)
}

/// What SQLite itself finds wrong with the file; empty where all is well.
pub async fn damage(db: &mut SqliteConnection) -> Result<Vec<String>, StoreError> {
    let mut found = sqlx::query_scalar!(
        r#"SELECT integrity_check || '' AS "words!: String" FROM pragma_integrity_check()"#
    )
    .fetch_all(db)
    .await?;
    found.retain(|words| words != "ok");
    Ok(found)
}

/// Refuses a file that SQLite finds damaged as far as it comes in `patience`. Nothing is said of one
/// that is not there yet.
pub async fn refuse_damaged(file: &Path, patience: Duration) -> Result<(), StoreError> {
    if length(file)? == 0 {
        return Ok(());
    }
    let shown = file.display();
    let options = SqliteConnectOptions::new().filename(file).busy_timeout(Duration::from_secs(5));
    let mut db = options.connect().await.map_err(|cause| unreadable(file, &cause))?;
    let found = damage_within(&mut db, patience).await?;
    db.close().await?;
    let Some(first) = found.first() else { return Ok(()) };
    Err(StoreError::Unusable(format!(
        "{shown} is damaged ({first}); restore a backup. `holdover check` lists what is wrong."
    )))
}

/// What SQLite finds wrong with the file as far as it comes in `patience`; nothing where it finds
/// nothing by then.
async fn damage_within(
    db: &mut SqliteConnection,
    patience: Duration,
) -> Result<Vec<String>, StoreError> {
    let until = Instant::now() + patience;
    db.lock_handle().await?.set_progress_handler(LOOK_EVERY, move || Instant::now() < until);
    let found = sqlx::query_scalar!(
        r#"SELECT quick_check || '' AS "words!: String" FROM pragma_quick_check LIMIT 20"#
    )
    .fetch_all(&mut *db)
    .await;
    db.lock_handle().await?.remove_progress_handler();
    match found {
        Ok(mut found) => {
            found.retain(|words| words != "ok");
            Ok(found)
        }
        Err(_) if Instant::now() >= until => Ok(Vec::new()),
        Err(sqlx::Error::Database(error)) => Ok(vec![error.message().to_owned()]),
        Err(cause) => Err(cause.into()),
    }
}

/// Rows that name a row which is not there.
pub async fn dangling(db: &mut SqliteConnection) -> Result<Vec<String>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT "table" || '' AS "table!: String", rowid + 0 AS "row: i64",
               parent || '' AS "parent!: String"
           FROM pragma_foreign_key_check() LIMIT 100"#
    )
    .fetch_all(db)
    .await?;
    Ok(rows
        .into_iter()
        .map(|found| {
            let row = found.row.map_or_else(String::new, |row| format!(" {row}"));
            format!("row{row} of {} names a missing row of {}", found.table, found.parent)
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Db;

    async fn refusal(file: &Path) -> String {
        match Db::open(file).await {
            Ok(_) => "opened".to_owned(),
            Err(refused) => refused.to_string(),
        }
    }

    async fn run(file: &Path, statement: &'static str) {
        use sqlx::Executor as _;
        let options = SqliteConnectOptions::new().filename(file).create_if_missing(true);
        let mut db = options.connect().await.unwrap();
        db.execute(statement).await.unwrap();
        db.close().await.unwrap();
    }

    #[tokio::test]
    async fn a_fresh_database_says_that_it_is_ours_and_which_schema_it_has() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("holdover.db");
        let db = Db::open(&file).await.unwrap();
        let mut reader = db.reader().await.unwrap();
        let ours = sqlx::query!(
            r#"SELECT (SELECT application_id + 0 FROM pragma_application_id()) AS "id!: i64",
                   (SELECT user_version + 0 FROM pragma_user_version()) AS "version!: i64""#
        )
        .fetch_one(&mut *reader)
        .await
        .unwrap();
        assert_eq!((ours.id, ours.version), (APPLICATION_ID, newest()));
        assert_eq!(version(&mut reader).await.unwrap(), newest());
        assert!(is_empty(&mut reader).await.unwrap() && !is_demo(&mut reader).await.unwrap());
        assert!(damage(&mut reader).await.unwrap().is_empty());
    }

    #[tokio::test]
    async fn a_database_of_something_else_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("holdover.db");
        run(&file, "CREATE TABLE theirs (one INTEGER)").await;
        let before = std::fs::read(&file).unwrap();
        assert!(refusal(&file).await.contains("is not a database of Holdover"));
        assert_eq!(std::fs::read(&file).unwrap(), before);
    }

    #[tokio::test]
    async fn a_newer_schema_is_refused_with_both_versions_named() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("holdover.db");
        Db::open(&file).await.unwrap().close().await;
        run(&file, "PRAGMA user_version = 9999").await;
        let words = refusal(&file).await;
        assert!(words.contains("schema 9999") && words.contains(&format!("schema {}", newest())));
    }

    #[tokio::test]
    async fn a_file_that_is_no_database_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("holdover.db");
        std::fs::write(
            &file,
            "not a database at all, though long enough to be taken for one".repeat(99),
        )
        .unwrap();
        assert!(refusal(&file).await.contains("cannot be read as a database"));
    }

    #[tokio::test]
    async fn two_that_open_a_new_file_at_once_both_have_it() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("holdover.db");
        let (one, other) = tokio::join!(Db::open(&file), Db::open(&file));
        assert!(one.is_ok() && other.is_ok());
    }
}
