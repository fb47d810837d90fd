//! What the repeat guard reads beside the attempts: the tasks of a family, remedies, exemptions, the
//! units at their positions and the scope of each kind of cause.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{
    AttemptCode, CauseCode, ExemptionCode, FamilyCode, PositionCode, RemedyCode, TaskCode,
    TechniqueCode, UnitCode,
};
use domain::time::Day;
use domain::words::{Reach, RemedyState, Scope};

/// A task of a family, thin.
#[derive(Debug, Clone)]
pub struct SisterTask {
    pub task: TaskCode,
    pub family: FamilyCode,
    pub position: Option<PositionCode>,
}

/// All tasks of these families.
pub async fn tasks_of_families(
    db: &mut SqliteConnection,
    families: &[FamilyCode],
) -> Result<Vec<SisterTask>, StoreError> {
    let families = json_array(families.iter().map(FamilyCode::as_str));
    Ok(sqlx::query_as!(
        SisterTask,
        r#"SELECT code AS "task: TaskCode", family AS "family!: FamilyCode",
               position AS "position: PositionCode"
           FROM task WHERE family IN (SELECT value FROM json_each(?)) ORDER BY code"#,
        families
    )
    .fetch_all(db)
    .await?)
}

/// A remedy and one attempt that it names.
#[derive(Debug, Clone)]
pub struct NamedByRemedy {
    pub remedy: RemedyCode,
    pub attempt: AttemptCode,
    pub reach: Reach,
    pub state: RemedyState,
    pub technique: Option<TechniqueCode>,
    pub revision: Option<i64>,
    pub verified_on: Option<Day>,
    pub entry: i64,
}

/// The remedies that name attempts on these tasks.
pub async fn answers_to(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<NamedByRemedy>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_as!(
        NamedByRemedy,
        r#"SELECT remedy.code AS "remedy: RemedyCode", remedy_attempt.attempt AS "attempt: AttemptCode",
               remedy.reach AS "reach: Reach", remedy.state AS "state: RemedyState",
               remedy.technique AS "technique: TechniqueCode", remedy.revision,
               remedy.verified_on AS "verified_on: Day", register.entry
           FROM attempt JOIN remedy_attempt ON remedy_attempt.attempt = attempt.code
               JOIN remedy ON remedy.code = remedy_attempt.remedy
               CROSS JOIN register ON register.kind = 'remedy' AND register.code = remedy.code
           WHERE attempt.task IN (SELECT value FROM json_each(?))
           ORDER BY remedy.code, remedy_attempt.attempt"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// An exemption as the guard sees it; `attempts` is the cell's text.
#[derive(Debug, Clone)]
pub struct ExemptionRow {
    pub code: ExemptionCode,
    pub task: TaskCode,
    pub attempts: String,
    pub is_reviewed: bool,
}

pub async fn exemptions_of(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<ExemptionRow>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_as!(
        ExemptionRow,
        r#"SELECT code AS "code: ExemptionCode", task AS "task: TaskCode", attempts,
               reviewed_by IS NOT NULL AS "is_reviewed!: bool"
           FROM exemption WHERE task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The unit that stands at each of these positions now.
pub async fn units_now(
    db: &mut SqliteConnection,
    positions: &[PositionCode],
) -> Result<Vec<(PositionCode, UnitCode)>, StoreError> {
    let positions = json_array(positions.iter().map(PositionCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT position AS "position: PositionCode", unit AS "unit: UnitCode"
           FROM stay WHERE until_day IS NULL
               AND position IN (SELECT value FROM json_each(?)) ORDER BY from_day"#,
        positions
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.position, row.unit)).collect())
}

/// What a kind of cause says of the approach that met it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CauseScope {
    pub scope: Scope,
    /// It says that time ran out.
    pub time_ran_out: bool,
}

/// The scope of every kind of cause.
pub async fn scopes(db: &mut SqliteConnection) -> Result<Vec<(CauseCode, CauseScope)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT code AS "code: CauseCode", scope AS "scope: Scope",
               time_ran_out AS "time_ran_out: bool" FROM cause"#
    )
    .fetch_all(db)
    .await?;
    let scope = |scope, time_ran_out| CauseScope { scope, time_ran_out };
    Ok(rows.into_iter().map(|row| (row.code, scope(row.scope, row.time_ran_out))).collect())
}
