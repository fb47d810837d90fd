//! Sessions, by the hash of their token, and the forms that came in after one had ended.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::people::Person;
use domain::time::Moment;
use domain::words::{Role, Theme};

/// A session as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    pub token_hash: Vec<u8>,
    pub person: String,
    pub csrf: String,
    pub begun_at: Moment,
    pub seen_at: Moment,
    pub address: String,
    pub agent: String,
    /// Somebody ended it; it is of no use any more.
    pub is_ended: bool,
}

/// A form that waits for its person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldForm {
    pub person: String,
    pub path: String,
    pub body: String,
    pub held_at: Moment,
}

/// The session of a token with the person as they are now, in one query.
pub async fn find(
    db: &mut SqliteConnection,
    token_hash: &[u8],
) -> Result<Option<(Session, Person)>, StoreError> {
    let row = sqlx::query!(
        r#"SELECT session.token_hash, session.person, session.csrf,
               session.begun_at AS "begun_at: Moment", session.seen_at AS "seen_at: Moment",
               session.address, session.agent, session.is_ended AS "is_ended: bool", person.name, person.role AS "role: Role",
               person.active AS "active: bool", person.theme AS "theme: Theme",
               person.seen_change, person.made_at AS "made_at: Moment"
           FROM session JOIN person ON person.name = session.person
           WHERE session.token_hash = ?"#,
        token_hash
    )
    .fetch_optional(db)
    .await?;
    Ok(row.map(|row| {
        let session = Session {
            token_hash: row.token_hash,
            person: row.person,
            csrf: row.csrf,
            begun_at: row.begun_at,
            seen_at: row.seen_at,
            address: row.address,
            agent: row.agent,
            is_ended: row.is_ended,
        };
        let person = Person {
            name: row.name,
            role: row.role,
            active: row.active,
            theme: row.theme,
            seen_change: row.seen_change,
            made_at: row.made_at,
        };
        (session, person)
    }))
}

/// The sessions of a person that nobody ended, the one used last first.
pub async fn list(db: &mut SqliteConnection, person: &str) -> Result<Vec<Session>, StoreError> {
    Ok(sqlx::query_as!(
        Session,
        r#"SELECT token_hash, person, csrf, begun_at AS "begun_at: Moment",
               seen_at AS "seen_at: Moment", address, agent, is_ended AS "is_ended: bool"
           FROM session WHERE person = ? AND is_ended = 0 ORDER BY seen_at DESC, token_hash"#,
        person
    )
    .fetch_all(db)
    .await?)
}

pub async fn add(db: &mut SqliteConnection, session: &Session) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO session (token_hash, person, csrf, begun_at, seen_at, address, agent)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        session.token_hash,
        session.person,
        session.csrf,
        session.begun_at,
        session.seen_at,
        session.address,
        session.agent
    )
    .execute(db)
    .await?;
    Ok(())
}

pub async fn see(
    db: &mut SqliteConnection,
    token_hash: &[u8],
    at: Moment,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE session SET seen_at = ? WHERE token_hash = ?", at, token_hash)
        .execute(db)
        .await?;
    Ok(())
}

pub async fn remove(db: &mut SqliteConnection, token_hash: &[u8]) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM session WHERE token_hash = ?", token_hash).execute(db).await?;
    Ok(())
}

/// Ends a session; it stays known until it is forgotten by age.
pub async fn end(db: &mut SqliteConnection, token_hash: &[u8]) -> Result<(), StoreError> {
    sqlx::query!("UPDATE session SET is_ended = 1 WHERE token_hash = ?", token_hash)
        .execute(db)
        .await?;
    Ok(())
}

/// Ends all sessions of a person but the one named; gives how many ended.
pub async fn end_others(
    db: &mut SqliteConnection,
    person: &str,
    kept: Option<&[u8]>,
) -> Result<u64, StoreError> {
    Ok(sqlx::query!(
        "UPDATE session SET is_ended = 1
         WHERE person = ? AND token_hash IS NOT ? AND is_ended = 0",
        person,
        kept
    )
    .execute(db)
    .await?
    .rows_affected())
}

/// Keeps the sessions that a person used last.
pub async fn keep_newest(
    db: &mut SqliteConnection,
    person: &str,
    most: i64,
) -> Result<(), StoreError> {
    sqlx::query!(
        "DELETE FROM session WHERE token_hash IN (
             SELECT token_hash FROM session WHERE person = ? AND is_ended = 0
             ORDER BY begun_at DESC, seen_at DESC LIMIT -1 OFFSET ?)",
        person,
        most
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Forgets what has been of no use since then: sessions, links.
pub async fn forget(db: &mut SqliteConnection, before: Moment) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM session WHERE seen_at < ?", before).execute(&mut *db).await?;
    sqlx::query!("DELETE FROM one_time_link WHERE ends_at < ?", before).execute(db).await?;
    Ok(())
}

/// Forgets forms that were kept before then.
pub async fn forget_forms(db: &mut SqliteConnection, before: Moment) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM held_form WHERE held_at < ? OR person IS NULL", before)
        .execute(db)
        .await?;
    Ok(())
}

/// Holds a form, and of all that are held for its person at most the newest `most`.
pub async fn hold(
    db: &mut SqliteConnection,
    token_hash: &[u8],
    form: &HeldForm,
    most: i64,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO held_form (token_hash, person, path, body, held_at) VALUES (?, ?, ?, ?, ?)
         ON CONFLICT (token_hash) DO UPDATE SET person = excluded.person, path = excluded.path,
             body = excluded.body, held_at = excluded.held_at",
        token_hash,
        form.person,
        form.path,
        form.body,
        form.held_at
    )
    .execute(&mut *db)
    .await?;
    sqlx::query!(
        "DELETE FROM held_form WHERE token_hash IN (
             SELECT token_hash FROM held_form WHERE person = ?1
             ORDER BY held_at DESC, rowid DESC LIMIT -1 OFFSET ?2)",
        form.person,
        most
    )
    .execute(db)
    .await?;
    Ok(())
}

pub async fn held(
    db: &mut SqliteConnection,
    token_hash: &[u8],
) -> Result<Option<HeldForm>, StoreError> {
    Ok(sqlx::query_as!(
        HeldForm,
        r#"SELECT person AS "person!", path, body, held_at AS "held_at: Moment"
           FROM held_form WHERE token_hash = ? AND person IS NOT NULL"#,
        token_hash
    )
    .fetch_optional(db)
    .await?)
}

pub async fn discard(db: &mut SqliteConnection, token_hash: &[u8]) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM held_form WHERE token_hash = ?", token_hash).execute(db).await?;
    Ok(())
}
