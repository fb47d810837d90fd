//! What the vehicle may not do meanwhile.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, List, Prose};
use domain::codes::{
    AttemptCode, ConstraintCode, ExcursionCode, FindingCode, FlightCode, OutsideCode, Own,
    SlotCode, TaskCode,
};
use domain::constraints::{Constraint, EndingSlot};
use domain::time::Day;
use domain::words::{Checked, Outcome, SlotState};

macro_rules! constraint_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Constraint,
            r#"SELECT code AS "code: Own<ConstraintCode>", forbidden AS "forbidden: Line",
                   function AS "function: Line", owner AS "owner: Line",
                   attempts AS "attempts: List<AttemptCode>",
                   outside_items AS "outside_items: List<OutsideCode>",
                   findings AS "findings: List<FindingCode>", since AS "since: Day",
                   safe_until AS "safe_until: Day",
                   safe_until_flight AS "safe_until_flight: FlightCode",
                   safe_until_words AS "safe_until_words: Line", task AS "task: TaskCode",
                   ends_when AS "ends_when: Line", author AS "author: Line",
                   lifted_by AS "lifted_by: Line", lifted_on AS "lifted_on: Day",
                   lift_reason AS "lift_reason: Prose", lift_evidence AS "lift_evidence: Prose",
                   checked AS "checked: Checked"
               FROM vehicle_constraint "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Constraint, constraint_rows,
    "INSERT INTO vehicle_constraint (code, forbidden, function, owner, attempts, outside_items,
         findings, since, safe_until, safe_until_flight, safe_until_words, task, ends_when, author,
         lifted_by, lifted_on, lift_reason, lift_evidence, checked)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19)
     ON CONFLICT (code) DO UPDATE SET forbidden = excluded.forbidden,
         function = excluded.function, owner = excluded.owner, attempts = excluded.attempts,
         outside_items = excluded.outside_items, findings = excluded.findings,
         since = excluded.since, safe_until = excluded.safe_until,
         safe_until_flight = excluded.safe_until_flight,
         safe_until_words = excluded.safe_until_words, task = excluded.task,
         ends_when = excluded.ends_when, author = excluded.author,
         lifted_by = excluded.lifted_by, lifted_on = excluded.lifted_on,
         lift_reason = excluded.lift_reason, lift_evidence = excluded.lift_evidence,
         checked = excluded.checked",
    code, forbidden, function, owner, attempts, outside_items, findings, since, safe_until,
    safe_until_flight, safe_until_words, task, ends_when, author, lifted_by, lifted_on, lift_reason,
    lift_evidence, checked; then rewrite_sources
}

async fn rewrite_sources(
    db: &mut SqliteConnection,
    constraint: &Constraint,
) -> Result<(), StoreError> {
    let attempts = json_array(constraint.attempts.iter().map(AttemptCode::as_str));
    sqlx::query!(
        "DELETE FROM constraint_attempt WHERE vehicle_constraint = ?
             AND attempt NOT IN (SELECT value FROM json_each(?))",
        constraint.code,
        attempts
    )
    .execute(&mut *db)
    .await?;
    sqlx::query!(
        "INSERT OR IGNORE INTO constraint_attempt (vehicle_constraint, attempt, stands_for)
         SELECT DISTINCT ?, value, attempt.forbids
         FROM json_each(?) LEFT JOIN attempt ON attempt.code = value",
        constraint.code,
        attempts
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Notes that the constraints of an attempt stand for these words of it.
pub async fn stands_for(
    db: &mut SqliteConnection,
    attempt: &AttemptCode,
    words: &Line,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE constraint_attempt SET stands_for = ? WHERE attempt = ?", words, attempt)
        .execute(db)
        .await?;
    Ok(())
}

/// Every constraint, ended and lifted ones too.
pub async fn all(db: &mut SqliteConnection) -> Result<Vec<Constraint>, StoreError> {
    Ok(constraint_rows!("ORDER BY code").fetch_all(db).await?)
}

/// The constraints that one of these attempts left behind.
pub async fn left_by(
    db: &mut SqliteConnection,
    attempts: &[AttemptCode],
) -> Result<Vec<Constraint>, StoreError> {
    let attempts = json_array(attempts.iter().map(AttemptCode::as_str));
    Ok(constraint_rows!(
        "WHERE code IN (SELECT vehicle_constraint FROM constraint_attempt
             WHERE attempt IN (SELECT value FROM json_each(?))) ORDER BY code",
        attempts
    )
    .fetch_all(db)
    .await?)
}

/// The constraints that end when one of these tasks is done.
pub async fn ended_by(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<Constraint>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(constraint_rows!("WHERE task IN (SELECT value FROM json_each(?)) ORDER BY code", tasks)
        .fetch_all(db)
        .await?)
}

/// The day on which an attempt or a closure ended each of these tasks as done.
pub async fn done_on(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<(TaskCode, Option<Day>)>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT standing.task AS "task: TaskCode",
               COALESCE((SELECT MAX(excursion.day) FROM attempt
                       JOIN excursion ON excursion.code = attempt.excursion
                   WHERE attempt.task = standing.task AND attempt.outcome = 'done'),
                   (SELECT MAX(day) FROM closure WHERE closure.task = standing.task)) AS "day?: Day"
           FROM standing
           WHERE standing.state = 'done' AND standing.task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.task, row.day)).collect())
}

/// An attempt that left a constraint behind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    pub attempt: AttemptCode,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
    pub outcome: Outcome,
}

/// These attempts with their excursions, as far as they are in the record.
pub async fn sources(
    db: &mut SqliteConnection,
    attempts: &[AttemptCode],
) -> Result<Vec<Source>, StoreError> {
    let attempts = json_array(attempts.iter().map(AttemptCode::as_str));
    Ok(sqlx::query_as!(
        Source,
        r#"SELECT attempt.code AS "attempt: AttemptCode",
               attempt.excursion AS "excursion: ExcursionCode", excursion.day AS "day: Day",
               attempt.outcome AS "outcome: Outcome"
           FROM attempt JOIN excursion ON excursion.code = attempt.excursion
           WHERE attempt.code IN (SELECT value FROM json_each(?)) ORDER BY attempt.code"#,
        attempts
    )
    .fetch_all(db)
    .await?)
}

/// The coming slots of the tasks that end a constraint, with the days of their excursions.
pub async fn coming_slots(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<EndingSlot>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_as!(
        EndingSlot,
        r#"SELECT slot.code AS "slot: SlotCode", slot.task AS "task: TaskCode",
               slot.state AS "state: SlotState", slot.excursion AS "excursion: ExcursionCode",
               excursion.day AS "day: Day"
           FROM slot JOIN excursion ON excursion.code = slot.excursion
           WHERE slot.task IN (SELECT value FROM json_each(?))
               AND slot.state IN ('set', 'pencilled') AND excursion.state = 'planned'
           ORDER BY excursion.day, slot.code"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// Attempts that forbid something for which no constraint stands: those of an older record, and
/// those whose constraint ends with the very task that they did.
pub async fn attempts_without(db: &mut SqliteConnection) -> Result<Vec<AttemptCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT attempt.code AS "code: AttemptCode" FROM attempt
               JOIN excursion ON excursion.code = attempt.excursion
           WHERE attempt.forbids IS NOT NULL AND NOT EXISTS
               (SELECT 1 FROM constraint_attempt JOIN vehicle_constraint
                    ON vehicle_constraint.code = constraint_attempt.vehicle_constraint
                WHERE constraint_attempt.attempt = attempt.code
                    AND constraint_attempt.stands_for = attempt.forbids
                    AND (vehicle_constraint.lifted_by IS NOT NULL OR attempt.outcome <> 'done'
                        OR vehicle_constraint.task IS NULL
                        OR vehicle_constraint.task <> attempt.task))
           ORDER BY excursion.day, excursion.number, attempt.code"#
    )
    .fetch_all(db)
    .await?)
}
