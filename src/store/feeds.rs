//! The personal addresses of calendar and changes.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::time::Moment;

/// When a person's address was made, and when it was last asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Feed {
    pub made_at: Moment,
    pub used_at: Option<Moment>,
}

pub async fn of_person(
    db: &mut SqliteConnection,
    person: &str,
) -> Result<Option<Feed>, StoreError> {
    Ok(sqlx::query_as!(
        Feed,
        r#"SELECT made_at AS "made_at: Moment", used_at AS "used_at: Moment" FROM feed
           WHERE person = ?"#,
        person
    )
    .fetch_optional(db)
    .await?)
}

/// Gives a person a new address; one that was there before leads nowhere from now on.
pub async fn put(
    db: &mut SqliteConnection,
    person: &str,
    hash: &[u8],
    at: Moment,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO feed (person, hash, made_at) VALUES (?, ?, ?)
         ON CONFLICT (person) DO UPDATE SET hash = excluded.hash, made_at = excluded.made_at,
             used_at = NULL",
        person,
        hash,
        at
    )
    .execute(db)
    .await?;
    Ok(())
}

pub async fn remove(db: &mut SqliteConnection, person: &str) -> Result<bool, StoreError> {
    let gone = sqlx::query!("DELETE FROM feed WHERE person = ?", person).execute(db).await?;
    Ok(gone.rows_affected() > 0)
}

/// The active person whose address this is.
pub async fn person_of(
    db: &mut SqliteConnection,
    hash: &[u8],
) -> Result<Option<String>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT person.name FROM feed JOIN person ON person.name = feed.person
           WHERE feed.hash = ? AND person.active = 1"#,
        hash
    )
    .fetch_optional(db)
    .await?)
}

/// Notes that an address was asked for; once an hour is enough.
pub async fn note_use(
    db: &mut SqliteConnection,
    hash: &[u8],
    at: Moment,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE feed SET used_at = ?1
         WHERE hash = ?2 AND COALESCE(used_at, 0) < ?1 - 3600000",
        at,
        hash
    )
    .execute(db)
    .await?;
    Ok(())
}
