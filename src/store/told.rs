//! Stored copies of what attempts tell, and of the remedies that did not hold. Written only by the
//! operation that derives them.

use serde_json::{Value, json};
use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{AttemptCode, CauseCode, RemedyCode, TaskCode};
use domain::repeat_guard::Tells;

/// What one attempt tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AttemptTells {
    pub attempt: AttemptCode,
    pub tells: Tells,
    /// The cause that decides.
    pub cause: Option<CauseCode>,
    /// It failed, no finding names it, and the work is still open.
    pub unexplained: bool,
}

/// Stores what these attempts tell.
pub async fn put(db: &mut SqliteConnection, told: &[AttemptTells]) -> Result<(), StoreError> {
    let rows: Value = told
        .iter()
        .map(|one| {
            let cause = one.cause.as_ref().map(CauseCode::as_str);
            json!([one.attempt.as_str(), one.tells.word(), cause, i64::from(one.unexplained)])
        })
        .collect();
    let rows = rows.to_string();
    sqlx::query!(
        "UPDATE attempt SET told = said.value ->> 1, told_cause = said.value ->> 2,
             unexplained = said.value ->> 3
         FROM json_each(?) AS said WHERE attempt.code = said.value ->> 0",
        rows
    )
    .execute(db)
    .await?;
    Ok(())
}

/// A failure on a task after a verified remedy.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct NotHeldRow {
    pub task: TaskCode,
    pub remedy: RemedyCode,
    pub attempt: AttemptCode,
    pub is_answered: bool,
}

/// What is stored of these tasks, in the order of the codes.
pub async fn not_held_on(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<NotHeldRow>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_as!(
        NotHeldRow,
        r#"SELECT task AS "task: TaskCode", remedy AS "remedy: RemedyCode",
               attempt AS "attempt: AttemptCode", is_answered AS "is_answered: bool"
           FROM not_held WHERE task IN (SELECT value FROM json_each(?))
           ORDER BY task, remedy, attempt"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// Stores the failures on one task that show remedies not to have held.
pub async fn put_not_held(
    db: &mut SqliteConnection,
    task: &TaskCode,
    rows: &[NotHeldRow],
) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM not_held WHERE task = ?", task).execute(&mut *db).await?;
    for row in rows {
        sqlx::query!(
            "INSERT INTO not_held (remedy, attempt, task, is_answered) VALUES (?, ?, ?, ?)",
            row.remedy,
            row.attempt,
            task,
            row.is_answered
        )
        .execute(&mut *db)
        .await?;
    }
    Ok(())
}

/// The rules by which the stored copies were derived.
pub async fn rules(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!("SELECT rules FROM derived").fetch_one(db).await?)
}

pub async fn set_rules(db: &mut SqliteConnection, rules: i64) -> Result<(), StoreError> {
    sqlx::query!("UPDATE derived SET rules = ?", rules).execute(db).await?;
    Ok(())
}
