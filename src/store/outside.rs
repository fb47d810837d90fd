//! What was left outside on purpose.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, List, Prose};
use domain::codes::{
    AttemptCode, ExcursionCode, FlightCode, OutsideCode, Own, TaskCode, ToolCode, WorksiteCode,
};
use domain::outside::{Listed, OutsideItem, Statement};
use domain::time::Day;
use domain::words::{Outcome, OutsideAfter, OutsideState};

macro_rules! outside_item_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            OutsideItem,
            r#"SELECT code AS "code: Own<OutsideCode>", what AS "what: Line",
                   worksite AS "worksite: WorksiteCode", purpose AS "purpose: Line",
                   left_by AS "left_by: AttemptCode", since AS "since: Day", limit_days,
                   limit_until AS "limit_until: Day",
                   tool AS "tool: ToolCode", brought_back_by AS "brought_back_by: TaskCode",
                   returns_with AS "returns_with: FlightCode",
                   state AS "state: OutsideState", ended_on AS "ended_on: Day",
                   notes AS "notes: Prose"
               FROM outside_item "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    OutsideItem, outside_item_rows,
    "INSERT INTO outside_item (code, what, worksite, purpose, left_by, since, limit_days,
         limit_until, brought_back_by, state, ended_on, notes, tool,
         returns_with)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)
     ON CONFLICT (code) DO UPDATE SET what = excluded.what, worksite = excluded.worksite,
         purpose = excluded.purpose, left_by = excluded.left_by, since = excluded.since,
         limit_days = excluded.limit_days, limit_until = excluded.limit_until,
         brought_back_by = excluded.brought_back_by,
         state = excluded.state, ended_on = excluded.ended_on, notes = excluded.notes,
         tool = excluded.tool, returns_with = excluded.returns_with",
    code, what, worksite, purpose, left_by, since, limit_days, limit_until, brought_back_by, state,
    ended_on, notes, tool, returns_with
}

/// What a flight takes down: what is said to return with it, and what these tasks bring in.
pub async fn going_down(
    db: &mut SqliteConnection,
    flight: &FlightCode,
    tasks: &[TaskCode],
) -> Result<Vec<OutsideItem>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(outside_item_rows!(
        "WHERE state <> 'lost' AND (returns_with = ?1 OR (returns_with IS NULL
             AND state = 'in place' AND brought_back_by IN (SELECT value FROM json_each(?2))))
         ORDER BY returns_with IS NULL, code",
        flight,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// Everything that is outside now, by worksite.
pub async fn in_place(db: &mut SqliteConnection) -> Result<Vec<OutsideItem>, StoreError> {
    Ok(outside_item_rows!("WHERE state = 'in place' ORDER BY worksite, code").fetch_all(db).await?)
}

/// What some route needs to be in place, in place or not.
pub async fn that_routes_need(db: &mut SqliteConnection) -> Result<Vec<OutsideItem>, StoreError> {
    Ok(outside_item_rows!("WHERE code IN (SELECT aid FROM route) ORDER BY code")
        .fetch_all(db)
        .await?)
}

/// What is outside now at one worksite.
pub async fn at_worksite(
    db: &mut SqliteConnection,
    worksite: &WorksiteCode,
) -> Result<Vec<OutsideItem>, StoreError> {
    Ok(outside_item_rows!("WHERE state = 'in place' AND worksite = ? ORDER BY code", worksite)
        .fetch_all(db)
        .await?)
}

/// What the attempts at these tasks left outside and what is there still, each with its task.
pub async fn left_by_tasks(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<(TaskCode, OutsideItem)>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    let by = sqlx::query!(
        r#"SELECT code AS "code: AttemptCode", task AS "task: TaskCode" FROM attempt
           WHERE task IN (SELECT value FROM json_each(?))
               AND code IN (SELECT left_by FROM outside_item WHERE state = 'in place')"#,
        tasks
    )
    .fetch_all(&mut *db)
    .await?;
    let attempts = json_array(by.iter().map(|row| row.code.as_str()));
    let items = outside_item_rows!(
        "WHERE state = 'in place' AND left_by IN (SELECT value FROM json_each(?)) ORDER BY code",
        attempts
    )
    .fetch_all(db)
    .await?;
    let task_of = |item: &OutsideItem| {
        by.iter().find(|row| item.left_by.as_ref() == Some(&row.code)).map(|row| row.task.clone())
    };
    Ok(items.into_iter().filter_map(|item| Some((task_of(&item)?, item))).collect())
}

/// What the attempts of one excursion left outside, whatever became of it since.
pub async fn left_by_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<OutsideItem>, StoreError> {
    Ok(outside_item_rows!(
        "WHERE left_by IN (SELECT code FROM attempt WHERE excursion = ?) ORDER BY code",
        excursion
    )
    .fetch_all(db)
    .await?)
}

/// What one task brings back in.
pub async fn brought_back_by(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<OutsideItem>, StoreError> {
    Ok(outside_item_rows!("WHERE brought_back_by = ? ORDER BY code", task).fetch_all(db).await?)
}

/// What these tasks bring back in.
pub async fn brought_back_by_these(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<OutsideItem>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(outside_item_rows!(
        "WHERE brought_back_by IN (SELECT value FROM json_each(?)) ORDER BY code",
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// Every item, whatever became of it.
pub async fn all(db: &mut SqliteConnection) -> Result<Vec<OutsideItem>, StoreError> {
    Ok(outside_item_rows!("ORDER BY code").fetch_all(db).await?)
}

/// What attempts say of the hardware outside, in the order in which they were made: those that say
/// it in so many words, and those that ended done and have such a word, or an item, behind them.
pub async fn statements(db: &mut SqliteConnection) -> Result<Vec<Statement>, StoreError> {
    Ok(sqlx::query_as!(
        Statement,
        r#"SELECT attempt.code AS "attempt: AttemptCode", attempt.task AS "task: TaskCode",
               attempt.excursion AS "excursion: ExcursionCode", excursion.day AS "day: Day",
               attempt.outcome AS "outcome: Outcome",
               attempt.outside_after AS "after: OutsideAfter",
               attempt.outside_items AS "items: List<OutsideCode>",
               attempt.temporary AS "temporary: Line", attempt.worksite AS "worksite: WorksiteCode"
           FROM (SELECT rowid AS id FROM attempt WHERE outside_after IS NOT NULL
                 UNION SELECT rowid FROM attempt INDEXED BY attempt_done
                 WHERE outcome = 'done' AND task IN
                     (SELECT brought_back_by FROM outside_item WHERE state = 'in place'
                      UNION SELECT task FROM attempt
                      WHERE outside_after IS NOT NULL AND outside_after = 'temporary hardware left')
                ) AS said
               CROSS JOIN attempt ON attempt.rowid = said.id
               JOIN excursion ON excursion.code = attempt.excursion
           ORDER BY excursion.day, excursion.number, attempt.pet_start, attempt.code"#
    )
    .fetch_all(db)
    .await?)
}

/// The whole list, each item with the task whose attempt left it.
pub async fn listed(db: &mut SqliteConnection) -> Result<Vec<Listed>, StoreError> {
    let items = outside_item_rows!("ORDER BY code").fetch_all(&mut *db).await?;
    let tasks: HashMap<OutsideCode, TaskCode> = sqlx::query!(
        r#"SELECT outside_item.code AS "code: OutsideCode", attempt.task AS "task: TaskCode"
           FROM outside_item JOIN attempt ON attempt.code = outside_item.left_by"#
    )
    .fetch_all(db)
    .await?
    .into_iter()
    .map(|row| (row.code, row.task))
    .collect();
    let task = |item: &OutsideItem| tasks.get(&item.code.0).cloned();
    Ok(items.into_iter().map(|item| Listed { left_by_task: task(&item), item }).collect())
}
