//! The places of a large record at which its pages are slowest, for measuring.

use sqlx::SqliteConnection;

use crate::StoreError;
use crate::search::RANKED;
use domain::codes::{ExcursionCode, FamilyCode, FlightCode, SlotCode, TaskCode, WorksiteCode};

pub async fn largest_family(db: &mut SqliteConnection) -> Result<Option<FamilyCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT family AS "family!: FamilyCode" FROM task WHERE family IS NOT NULL
           GROUP BY family ORDER BY COUNT(*) DESC, family LIMIT 1"#
    )
    .fetch_optional(db)
    .await?)
}

/// The task that was tried most often.
pub async fn busiest_task(db: &mut SqliteConnection) -> Result<Option<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT task AS "task: TaskCode" FROM attempt
           GROUP BY task ORDER BY COUNT(*) DESC, task LIMIT 1"#
    )
    .fetch_optional(db)
    .await?)
}

pub async fn open_task_of(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Option<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT task AS "task: TaskCode" FROM standing
           WHERE is_open = 1 AND family = ? ORDER BY class, need_day LIMIT 1"#,
        family
    )
    .fetch_optional(db)
    .await?)
}

pub async fn last_flown(db: &mut SqliteConnection) -> Result<Option<FlightCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: FlightCode" FROM flight
           WHERE state = 'flown' ORDER BY order_day DESC LIMIT 1"#
    )
    .fetch_optional(db)
    .await?)
}

pub async fn some_worksite(db: &mut SqliteConnection) -> Result<Option<WorksiteCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: WorksiteCode" FROM worksite ORDER BY code DESC LIMIT 1"#
    )
    .fetch_optional(db)
    .await?)
}

/// A slot that waits for its result: its code, its task and where it is.
pub async fn waiting_slots(
    db: &mut SqliteConnection,
    most: i64,
) -> Result<Vec<(SlotCode, TaskCode, ExcursionCode)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT slot.code AS "code: SlotCode", slot.task AS "task: TaskCode",
               slot.excursion AS "excursion: ExcursionCode"
           FROM slot JOIN excursion ON excursion.code = slot.excursion
           WHERE slot.state IN ('set', 'flown') AND excursion.state = 'flown'
               AND excursion.closed_at IS NULL
           ORDER BY slot.code LIMIT ?"#,
        most
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.code, row.task, row.excursion)).collect())
}

/// The bare full-text query of a search: a page of the best matches.
pub async fn best_matches(
    db: &mut SqliteConnection,
    asked: &str,
    most: i64,
) -> Result<Vec<i64>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT rowid + 0 AS "entry!: i64" FROM event_words WHERE event_words MATCH ?1
           ORDER BY bm25(event_words, 8.0, 0.0, 4.0, 1.0), rowid DESC LIMIT ?2"#,
        asked,
        most
    )
    .fetch_all(db)
    .await?)
}

/// How many records match, counted to one more than are ranked.
pub async fn count(db: &mut SqliteConnection, asked: &str) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: i64"
           FROM (SELECT 1 FROM event_words WHERE event_words MATCH ?1 LIMIT ?2 + 1)"#,
        asked,
        RANKED
    )
    .fetch_one(db)
    .await?)
}
