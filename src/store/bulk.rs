//! Many rows at once, as a made-up record needs them: what `register`, `changes`, `standing` and
//! `slot_history` write one by one.

use std::fmt::Write as _;

use serde_json::{Value, json};
use sqlx::SqliteConnection;

use crate::StoreError;
use crate::changes::Change;
use domain::kinds::Kind;
use domain::time::Moment;

/// A new record as the register and the index of everything take it.
#[derive(Debug, Clone)]
pub struct NewRecord {
    pub kind: Kind,
    pub code: String,
    pub title: String,
    pub words: String,
}

/// Enters new records, in this order, with their words.
pub async fn enter(
    db: &mut SqliteConnection,
    records: &[NewRecord],
    who: &str,
    at: Moment,
) -> Result<(), StoreError> {
    let rows: Value = records
        .iter()
        .map(|one| json!([one.kind.word(), one.code, one.title, one.words]))
        .collect();
    let rows = rows.to_string();
    sqlx::query!(
        "INSERT INTO register (kind, code, made_by, made_at, changed_by, changed_at)
         SELECT value ->> 0, value ->> 1, ?2, ?3, ?2, ?3 FROM json_each(?1)",
        rows,
        who,
        at
    )
    .execute(&mut *db)
    .await?;
    sqlx::query!(
        "INSERT INTO event_words (rowid, code, kind, title, words)
         SELECT register.entry, register.code, register.kind, value ->> 2, value ->> 3
         FROM json_each(?) JOIN register ON register.kind = value ->> 0
             AND register.code = value ->> 1",
        rows
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Appends entries that follow from one another.
pub async fn append(db: &mut SqliteConnection, changes: &[Change]) -> Result<(), StoreError> {
    let rows: Value = changes
        .iter()
        .map(|one| {
            json!([
                one.seq,
                one.at.0,
                one.who,
                one.kind.word(),
                one.code,
                one.action,
                one.before,
                one.after,
                one.why,
                hex(&one.previous),
                hex(&one.hash)
            ])
        })
        .collect();
    let rows = rows.to_string();
    sqlx::query!(
        "INSERT INTO change (seq, at, who, kind, code, action, before, after, why, previous, hash)
         SELECT value ->> 0, value ->> 1, value ->> 2, value ->> 3, value ->> 4, value ->> 5,
             value ->> 6, value ->> 7, value ->> 8, unhex(value ->> 9), unhex(value ->> 10)
         FROM json_each(?)",
        rows
    )
    .execute(db)
    .await?;
    Ok(())
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing into a text cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// One dated step of a new slot.
#[derive(Debug, Clone)]
pub struct NewStep {
    pub slot: String,
    pub ordinal: i64,
    pub state: &'static str,
    pub at: Moment,
}

pub async fn add_steps(
    db: &mut SqliteConnection,
    steps: &[NewStep],
    who: &str,
) -> Result<(), StoreError> {
    let rows: Value =
        steps.iter().map(|one| json!([one.slot, one.ordinal, one.state, one.at.0])).collect();
    let rows = rows.to_string();
    sqlx::query!(
        "INSERT INTO slot_step (slot, ordinal, state, at, who)
         SELECT value ->> 0, value ->> 1, value ->> 2, value ->> 3, ?2 FROM json_each(?1)",
        rows,
        who
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Closes the debrief of every flown excursion on which nothing is set any more.
pub async fn close_debriefs(db: &mut SqliteConnection, at: Moment) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE excursion SET closed_at = ? WHERE state = 'flown' AND closed_at IS NULL
             AND code NOT IN (SELECT excursion FROM slot WHERE state = 'set')",
        at
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Lets the planner count its rows, so that it chooses indexes as it will in service.
pub async fn count_rows(db: &mut SqliteConnection) -> Result<(), StoreError> {
    sqlx::raw_sql("PRAGMA optimize").execute(db).await?;
    Ok(())
}
