//! Rows of files that carried no code, so that the same file twice adds nothing; and the marks
//! inside a long import to which one bad row goes back.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::AttemptCode;
use domain::kinds::Kind;
use domain::time::Moment;

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

/// Keeps a table until it is taken; each person keeps their last three. Gives the older ones that
/// this one takes the place of.
pub async fn keep_upload(
    db: &mut SqliteConnection,
    code: &str,
    person: &str,
    (kind, name): (Kind, &str),
    at: Moment,
) -> Result<Vec<String>, StoreError> {
    sqlx::query!(
        "INSERT INTO upload (code, person, kind, name, sent_at) VALUES (?, ?, ?, ?, ?)",
        code,
        person,
        kind,
        name,
        at
    )
    .execute(&mut *db)
    .await?;
    Ok(sqlx::query_scalar!(
        "DELETE FROM upload WHERE person = ?1 AND code NOT IN
             (SELECT code FROM upload WHERE person = ?1 ORDER BY sent_at DESC, code LIMIT 3)
         RETURNING code",
        person
    )
    .fetch_all(db)
    .await?)
}

/// Says anew what the rows of this person's table are.
pub async fn say_kind(
    db: &mut SqliteConnection,
    code: &str,
    person: &str,
    kind: Kind,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE upload SET kind = ? WHERE code = ? AND person = ?", kind, code, person)
        .execute(db)
        .await?;
    Ok(())
}

/// Forgets tables that were sent before then; their files go by age as well.
pub async fn forget_uploads(db: &mut SqliteConnection, before: Moment) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM upload WHERE sent_at < ?", before).execute(db).await?;
    Ok(())
}

/// What the rows of this person's table are, and what its file was called; nobody sees another's.
pub async fn upload(
    db: &mut SqliteConnection,
    code: &str,
    person: &str,
) -> Result<Option<(Kind, String)>, StoreError> {
    let found = sqlx::query!(
        r#"SELECT kind AS "kind: Kind", name FROM upload WHERE code = ? AND person = ?"#,
        code,
        person
    )
    .fetch_optional(db)
    .await?;
    Ok(found.map(|row| (row.kind, row.name)))
}
