//! Rows of files that carried no code, so that the same file twice adds nothing; and the marks
//! inside a long import to which one bad row goes back.

use sqlx::SqliteConnection;

use crate::domain::codes::AttemptCode;
use crate::domain::kinds::Kind;
use crate::store::StoreError;

/// The record that this row became when it came in before.
pub async fn known_row(
    db: &mut SqliteConnection,
    kind: Kind,
    key: &str,
) -> Result<Option<String>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT code FROM imported_row WHERE kind = ? AND key = ?", kind, key)
        .fetch_optional(db)
        .await?)
}

pub async fn remember_row(
    db: &mut SqliteConnection,
    kind: Kind,
    key: &str,
    code: &str,
) -> Result<(), StoreError> {
    sqlx::query!("INSERT INTO imported_row (kind, key, code) VALUES (?, ?, ?)", kind, key, code)
        .execute(db)
        .await?;
    Ok(())
}

/// Sets the mark to which `back` returns.
pub async fn mark(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::raw_sql("SAVEPOINT one_row").execute(db).await?;
    Ok(())
}

/// Keeps what was done since the mark.
pub async fn keep(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::raw_sql("RELEASE one_row").execute(db).await?;
    Ok(())
}

/// Undoes what was done since the mark.
pub async fn back(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::raw_sql("ROLLBACK TO one_row; RELEASE one_row").execute(db).await?;
    Ok(())
}

/// Notes that an attempt came in from a file.
pub async fn note_attempt(
    db: &mut SqliteConnection,
    attempt: &AttemptCode,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE attempt SET imported = 1 WHERE code = ?", attempt).execute(db).await?;
    Ok(())
}
