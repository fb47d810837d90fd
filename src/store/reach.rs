//! Which tasks a change concerns, so that their standing is derived anew.

use sqlx::SqliteConnection;

use crate::domain::codes::{CauseCode, FlightCode, InhibitCode, TaskCode, TechniqueCode, ToolCode};
use crate::store::{StoreError, json_array};

/// Tasks that are needed by a flight or have to do with it.
pub async fn tasks_of_flight(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code!: TaskCode" FROM task WHERE needed_by_flight = ?1
           UNION SELECT task FROM task_flight WHERE flight = ?1"#,
        flight
    )
    .fetch_all(db)
    .await?)
}

/// Tasks whose techniques, for the task or its family, need a tool.
pub async fn tasks_that_use(
    db: &mut SqliteConnection,
    tool: &ToolCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT task.code AS "code!: TaskCode"
           FROM technique_tool JOIN technique ON technique.code = technique_tool.technique
               JOIN task ON task.family = technique.family
           WHERE technique_tool.tool = ?1
           UNION
           SELECT technique.task FROM technique_tool
               JOIN technique ON technique.code = technique_tool.technique
           WHERE technique_tool.tool = ?1 AND technique.task IS NOT NULL"#,
        tool
    )
    .fetch_all(db)
    .await?)
}

/// Tasks that need an inhibit.
pub async fn tasks_that_need_inhibit(
    db: &mut SqliteConnection,
    inhibit: &InhibitCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT task AS "task!: TaskCode" FROM task_inhibit WHERE inhibit = ? ORDER BY task"#,
        inhibit
    )
    .fetch_all(db)
    .await?)
}

/// Tasks that a technique is for.
pub async fn tasks_of_technique(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT task.code AS "code!: TaskCode"
           FROM technique JOIN task ON task.family = technique.family
           WHERE technique.code = ?1
           UNION
           SELECT task FROM technique WHERE code = ?1 AND task IS NOT NULL"#,
        technique
    )
    .fetch_all(db)
    .await?)
}

/// The open tasks of the same family, and those at the same position.
pub async fn sisters(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT sister.code AS "code!: TaskCode"
           FROM task JOIN task AS sister ON sister.family = task.family
               LEFT JOIN standing ON standing.task = sister.code
           WHERE task.code = ?1 AND sister.code <> ?1
               AND COALESCE(standing.state, 'open') NOT IN ('done', 'dropped')"#,
        task
    )
    .fetch_all(db)
    .await?)
}

/// One open task of each family in which something was done, or an approach is in question.
pub async fn one_of_each_family_with_tries(
    db: &mut SqliteConnection,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT MIN(standing.task) AS "task!: TaskCode" FROM standing
           WHERE standing.is_open = 1 AND standing.family IS NOT NULL
               AND (EXISTS (SELECT 1 FROM task JOIN attempt ON attempt.task = task.code
                       WHERE task.family = standing.family AND attempt.outcome = 'done')
                   OR standing.in_question = 1)
           GROUP BY standing.family ORDER BY standing.family LIMIT 200"#
    )
    .fetch_all(db)
    .await?)
}

/// Tasks that wait for one of these, or stand instead of it, or visit with it.
pub async fn linked_to(
    db: &mut SqliteConnection,
    tasks: impl Iterator<Item = &TaskCode>,
) -> Result<Vec<TaskCode>, StoreError> {
    let tasks = json_array(tasks.map(TaskCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT task AS "code!: TaskCode" FROM link
               WHERE other IN (SELECT value FROM json_each(?1))
           UNION SELECT other FROM link WHERE task IN (SELECT value FROM json_each(?1))"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The tasks that name a flight as the one they are needed by.
pub async fn tasks_needed_by(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: TaskCode" FROM task WHERE needed_by_flight = ? ORDER BY code"#,
        flight
    )
    .fetch_all(db)
    .await?)
}

/// Tasks that a kind of cause stopped, and their sisters.
pub async fn tasks_stopped_by(
    db: &mut SqliteConnection,
    cause: &CauseCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"WITH stopped AS (
               SELECT DISTINCT task FROM attempt WHERE cause = ?1 OR told_cause = ?1
           )
           SELECT task AS "task!: TaskCode" FROM stopped
           UNION SELECT code FROM task WHERE family IN
               (SELECT family FROM task WHERE code IN stopped)"#,
        cause
    )
    .fetch_all(db)
    .await?)
}
