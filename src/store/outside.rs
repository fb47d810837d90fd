//! What was left outside on purpose.

use sqlx::SqliteConnection;

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{AttemptCode, ExcursionCode, OutsideCode, Own, TaskCode, WorksiteCode};
use crate::domain::outside::OutsideItem;
use crate::domain::time::Day;
use crate::domain::words::OutsideState;
use crate::store::{StoreError, kept};

macro_rules! outside_item_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            OutsideItem,
            r#"SELECT code AS "code: Own<OutsideCode>", what AS "what: Line",
                   worksite AS "worksite: WorksiteCode", purpose AS "purpose: Line",
                   left_by AS "left_by: AttemptCode", since AS "since: Day", limit_days,
                   limit_until AS "limit_until: Day",
                   brought_back_by AS "brought_back_by: TaskCode",
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
         limit_until, brought_back_by, state, ended_on, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)
     ON CONFLICT (code) DO UPDATE SET what = excluded.what, worksite = excluded.worksite,
         purpose = excluded.purpose, left_by = excluded.left_by, since = excluded.since,
         limit_days = excluded.limit_days, brought_back_by = excluded.brought_back_by,
         state = excluded.state, ended_on = excluded.ended_on, notes = excluded.notes",
    code, what, worksite, purpose, left_by, since, limit_days, limit_until, brought_back_by, state,
    ended_on, notes
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
