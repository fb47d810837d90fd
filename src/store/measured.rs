//! The places of a large record at which its pages are slowest, for measuring.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::{ExcursionCode, FamilyCode, FlightCode, SlotCode, TaskCode, WorksiteCode};
use domain::kinds::Kind;

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

pub async fn count_tasks(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!("SELECT COUNT(*) FROM task").fetch_one(db).await?)
}

/// The code before the one in the middle of a kind, in the order of codes.
pub async fn before_the_middle(
    db: &mut SqliteConnection,
    kind: Kind,
) -> Result<Option<String>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code!: String" FROM register WHERE kind = ?1 ORDER BY code LIMIT 1
           OFFSET (SELECT MAX(COUNT(*) / 2 - 1, 0) FROM register WHERE kind = ?1)"#,
        kind
    )
    .fetch_optional(db)
    .await?)
}

/// The codes of the largest records of a kind: those that most others hang on.
pub async fn largest(db: &mut SqliteConnection, kind: Kind) -> Result<Vec<String>, StoreError> {
    macro_rules! codes {
        ($query:literal) => {
            sqlx::query_scalar!("SELECT code AS \"code!: String\" FROM (" + $query + ")")
                .fetch_all(&mut *db)
                .await?
        };
    }
    Ok(match kind {
        Kind::Task => codes!(
            "SELECT * FROM (SELECT task AS code FROM attempt GROUP BY task
                 ORDER BY COUNT(*) DESC, task LIMIT 1)
             UNION ALL SELECT * FROM (SELECT task FROM standing WHERE is_open = 1 AND family =
                 (SELECT family FROM task WHERE family IS NOT NULL GROUP BY family
                  ORDER BY COUNT(*) DESC, family LIMIT 1) ORDER BY class, need_day LIMIT 1)
             UNION ALL SELECT * FROM (SELECT attempt.task FROM attempt
                 JOIN standing ON standing.task = attempt.task
                 WHERE standing.is_open = 1 GROUP BY attempt.task
                 ORDER BY COUNT(*) DESC, attempt.task LIMIT 1)"
        ),
        Kind::Family => codes!(
            "SELECT family AS code FROM task WHERE family IS NOT NULL GROUP BY family
             ORDER BY COUNT(*) DESC, family LIMIT 1"
        ),
        Kind::Technique => codes!(
            "SELECT technique AS code FROM attempt WHERE technique IS NOT NULL GROUP BY technique
             ORDER BY COUNT(*) DESC, technique LIMIT 1"
        ),
        Kind::Worksite => codes!(
            "SELECT worksite AS code FROM standing WHERE is_open = 1 AND worksite IS NOT NULL
             GROUP BY worksite ORDER BY COUNT(*) DESC, worksite LIMIT 1"
        ),
        Kind::Tool => codes!(
            "SELECT tool AS code FROM technique_tool GROUP BY tool
             ORDER BY COUNT(*) DESC, tool LIMIT 1"
        ),
        Kind::Excursion => codes!(
            "SELECT * FROM (SELECT excursion AS code FROM attempt GROUP BY excursion
                 ORDER BY COUNT(*) DESC, excursion LIMIT 1)
             UNION ALL SELECT * FROM (SELECT slot.excursion FROM slot
                 JOIN excursion ON excursion.code = slot.excursion
                 WHERE slot.state IN ('set', 'pencilled') AND excursion.state = 'planned'
                 GROUP BY slot.excursion ORDER BY COUNT(*) DESC, slot.excursion LIMIT 1)
             UNION ALL SELECT * FROM (SELECT slot.excursion FROM slot
                 JOIN excursion ON excursion.code = slot.excursion
                 WHERE excursion.state = 'flown' AND excursion.closed_at IS NULL
                 GROUP BY slot.excursion ORDER BY COUNT(*) DESC, slot.excursion LIMIT 1)"
        ),
        Kind::Flight => codes!(
            "SELECT * FROM (SELECT flight AS code FROM task_flight GROUP BY flight
                 ORDER BY COUNT(*) DESC, flight LIMIT 1)
             UNION ALL SELECT * FROM (SELECT code FROM flight WHERE state = 'coming'
                 ORDER BY order_day LIMIT 1)"
        ),
        Kind::Finding => codes!(
            "SELECT finding AS code FROM finding_attempt GROUP BY finding
             ORDER BY COUNT(*) DESC, finding LIMIT 1"
        ),
        Kind::Cause => codes!(
            "SELECT told_cause AS code FROM attempt WHERE told_cause IS NOT NULL GROUP BY told_cause
             ORDER BY COUNT(*) DESC, told_cause LIMIT 1"
        ),
        Kind::Slot => codes!(
            "SELECT slot.code FROM slot JOIN excursion ON excursion.code = slot.excursion
             WHERE slot.state = 'set' AND excursion.state = 'planned' ORDER BY slot.code LIMIT 1"
        ),
        _ => Vec::new(),
    })
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
