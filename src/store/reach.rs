//! Which tasks a change concerns, so that their standing is derived again.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{
    AttemptCode, CauseCode, ExcursionCode, FamilyCode, FlightCode, InhibitCode, TaskCode,
    TechniqueCode, ToolCode,
};

/// Tasks that are needed by a flight, have to do with it or use a tool that it brings.
pub async fn tasks_of_flight(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code!: TaskCode" FROM task WHERE needed_by_flight = ?1
           UNION SELECT task FROM task_flight WHERE flight = ?1
           UNION SELECT task FROM vehicle_constraint
               WHERE safe_until_flight = ?1 AND task IS NOT NULL
           UNION SELECT task.code FROM tool
               JOIN technique_tool ON technique_tool.tool = tool.code
               JOIN technique ON technique.code = technique_tool.technique
               JOIN task ON task.family = technique.family OR task.code = technique.task
           WHERE tool.arrives_with = ?1"#,
        flight
    )
    .fetch_all(db)
    .await?)
}

/// Tasks that were set, tried, put off or found on an excursion.
pub async fn tasks_on_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT task AS "task!: TaskCode" FROM slot WHERE excursion = ?1
           UNION SELECT task FROM attempt WHERE excursion = ?1
           UNION SELECT task FROM deferral WHERE excursion = ?1
           UNION SELECT code FROM task WHERE from_excursion = ?1"#,
        excursion
    )
    .fetch_all(db)
    .await?)
}

/// The tasks of these attempts with those of their sisters on which attempts count.
pub async fn tasks_of_attempts(
    db: &mut SqliteConnection,
    attempts: &[AttemptCode],
) -> Result<Vec<TaskCode>, StoreError> {
    let attempts = json_array(attempts.iter().map(AttemptCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"WITH tried AS (
               SELECT task FROM attempt WHERE code IN (SELECT value FROM json_each(?))
           )
           SELECT task AS "task!: TaskCode" FROM tried
           UNION SELECT sister.code
           FROM task JOIN task AS sister ON sister.family = task.family
               LEFT JOIN standing ON standing.task = sister.code
           WHERE task.code IN tried
               AND (COALESCE(standing.state, 'open') NOT IN ('done', 'dropped')
                   OR EXISTS (SELECT 1 FROM attempt WHERE attempt.task = sister.code
                       AND attempt.outcome IN ('part done', 'not completed')))"#,
        attempts
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

/// The family of a task.
pub async fn family_of(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Option<FamilyCode>, StoreError> {
    let found = sqlx::query_scalar!(
        r#"SELECT family AS "family: FamilyCode" FROM task WHERE code = ?"#,
        task
    );
    Ok(found.fetch_optional(db).await?.flatten())
}

/// The tasks of a family that are open, or on which something fell short: there a remedy may show
/// not to have held.
pub async fn sisters(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT sister.code AS "code!: TaskCode"
           FROM task AS sister LEFT JOIN standing ON standing.task = sister.code
           WHERE sister.family = ?
               AND (COALESCE(standing.state, 'open') NOT IN ('done', 'dropped')
                   OR EXISTS (SELECT 1 FROM attempt WHERE attempt.task = sister.code
                       AND attempt.outcome IN ('part done', 'not completed')))"#,
        family
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
