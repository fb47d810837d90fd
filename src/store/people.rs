//! People: who they are, their passwords' hashes, and the links by which they choose one.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::people::Person;
use domain::time::Moment;
use domain::words::{Role, Theme};

pub async fn find(db: &mut SqliteConnection, name: &str) -> Result<Option<Person>, StoreError> {
    Ok(sqlx::query_as!(
        Person,
        r#"SELECT name, role AS "role: Role", active AS "active: bool", theme AS "theme: Theme",
               seen_change, made_at AS "made_at: Moment"
           FROM person WHERE name = ?"#,
        name
    )
    .fetch_optional(db)
    .await?)
}

/// Everybody, by name.
pub async fn list(db: &mut SqliteConnection) -> Result<Vec<Person>, StoreError> {
    Ok(sqlx::query_as!(
        Person,
        r#"SELECT name, role AS "role: Role", active AS "active: bool", theme AS "theme: Theme",
               seen_change, made_at AS "made_at: Moment"
           FROM person ORDER BY name"#
    )
    .fetch_all(db)
    .await?)
}

pub async fn count(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!("SELECT COUNT(*) FROM person").fetch_one(db).await?)
}

/// Active people with that role.
pub async fn count_active(db: &mut SqliteConnection, role: Role) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!("SELECT COUNT(*) FROM person WHERE active = 1 AND role = ?", role)
        .fetch_one(db)
        .await?)
}

/// Adds a person. The hash is a PHC string, or anything else where no password fits yet.
pub async fn add(
    db: &mut SqliteConnection,
    name: &str,
    role: Role,
    hash: &str,
    at: Moment,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO person (name, role, password, made_at) VALUES (?, ?, ?, ?)",
        name,
        role,
        hash,
        at
    )
    .execute(db)
    .await?;
    Ok(())
}

pub async fn set_role(db: &mut SqliteConnection, name: &str, role: Role) -> Result<(), StoreError> {
    sqlx::query!("UPDATE person SET role = ? WHERE name = ?", role, name).execute(db).await?;
    Ok(())
}

pub async fn set_active(
    db: &mut SqliteConnection,
    name: &str,
    active: bool,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE person SET active = ? WHERE name = ?", active, name).execute(db).await?;
    Ok(())
}

pub async fn set_theme(
    db: &mut SqliteConnection,
    name: &str,
    theme: Theme,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE person SET theme = ? WHERE name = ?", theme, name).execute(db).await?;
    Ok(())
}

/// Remembers up to where in the change log this person has looked.
pub async fn set_seen_change(
    db: &mut SqliteConnection,
    name: &str,
    seq: i64,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE person SET seen_change = ? WHERE name = ?", seq, name).execute(db).await?;
    Ok(())
}

pub async fn hash(db: &mut SqliteConnection, name: &str) -> Result<Option<String>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT password FROM person WHERE name = ?", name)
        .fetch_optional(db)
        .await?)
}

pub async fn set_hash(db: &mut SqliteConnection, name: &str, hash: &str) -> Result<(), StoreError> {
    sqlx::query!("UPDATE person SET password = ? WHERE name = ?", hash, name).execute(db).await?;
    Ok(())
}

/// Makes a link the only one of its person.
pub async fn add_link(
    db: &mut SqliteConnection,
    token_hash: &[u8],
    person: Option<&str>,
    ends_at: Moment,
) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM one_time_link WHERE person IS ?", person).execute(&mut *db).await?;
    sqlx::query!(
        "INSERT INTO one_time_link (token_hash, person, ends_at) VALUES (?, ?, ?)",
        token_hash,
        person,
        ends_at
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Whose link this is, where it still holds; inside, nobody for the first administrator.
pub async fn link(
    db: &mut SqliteConnection,
    token_hash: &[u8],
    now: Moment,
) -> Result<Option<Option<String>>, StoreError> {
    Ok(sqlx::query_scalar!(
        "SELECT person FROM one_time_link WHERE token_hash = ? AND ends_at > ?",
        token_hash,
        now
    )
    .fetch_optional(db)
    .await?)
}

pub async fn remove_link(db: &mut SqliteConnection, token_hash: &[u8]) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM one_time_link WHERE token_hash = ?", token_hash).execute(db).await?;
    Ok(())
}
