//! Keys of forms that were taken, and the version of the data.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::time::Moment;

/// Where the browser was sent when this form came in before.
pub async fn answer(
    db: &mut SqliteConnection,
    key: &str,
    person: &str,
) -> Result<Option<String>, StoreError> {
    Ok(sqlx::query_scalar!(
        "SELECT answer FROM taken_form WHERE key = ? AND person = ?",
        key,
        person
    )
    .fetch_optional(db)
    .await?)
}

pub async fn take(
    db: &mut SqliteConnection,
    key: &str,
    person: &str,
    answer: &str,
    at: Moment,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO taken_form (key, person, answer, taken_at) VALUES (?, ?, ?, ?)",
        key,
        person,
        answer,
        at
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Forgets keys older than `before`; a browser does not send a form again after days.
pub async fn forget(db: &mut SqliteConnection, before: Moment) -> Result<u64, StoreError> {
    Ok(sqlx::query!("DELETE FROM taken_form WHERE taken_at < ?", before)
        .execute(db)
        .await?
        .rows_affected())
}

pub async fn data_version(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!("SELECT version FROM data_version").fetch_one(db).await?)
}

/// One state of one file: what is worked out from it holds as long as the state is the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct State {
    pub file: String,
    pub version: i64,
}

impl State {
    /// Whether it is a later state of the same file.
    pub fn is_after(&self, other: &Self) -> bool {
        self.file == other.file && self.version > other.version
    }
}

/// The state that a connection reads; nothing where it may write, since what it has not committed
/// moved no version yet.
pub async fn state_read(db: &mut SqliteConnection) -> Result<Option<State>, StoreError> {
    // A bare column of a virtual table ends the compiler that asks for its origin.
    let row = sqlx::query!(
        r#"SELECT version,
               (SELECT file || '' FROM pragma_database_list WHERE name = 'main') AS "file!: String",
               (SELECT query_only + 0 FROM pragma_query_only) AS "only_reads!: bool"
           FROM data_version"#
    )
    .fetch_one(db)
    .await?;
    Ok(row.only_reads.then_some(State { file: row.file, version: row.version }))
}

pub async fn move_data_version(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::query!("UPDATE data_version SET version = version + 1").execute(db).await?;
    Ok(())
}

/// Writes the version as it is: a write that changes nothing, to see whether one is taken.
pub(crate) async fn touch_data_version(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::query!("UPDATE data_version SET version = version").execute(db).await?;
    Ok(())
}
