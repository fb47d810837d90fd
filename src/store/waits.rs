//! What waits for a next step: failures without a finding, findings, remedies.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::cells::{Line, Prose};
use domain::codes::{
    AttemptCode, CauseCode, ExcursionCode, FindingCode, FlightCode, RemedyCode, TaskCode,
};
use domain::time::Day;
use domain::words::{FlightState, RemedyState};

/// A finding that is not closed.
#[derive(Debug, Clone)]
pub struct FindingRow {
    pub code: FindingCode,
    pub words: Prose,
    pub cause: Option<CauseCode>,
    pub author: Option<Line>,
    pub written_on: Option<Day>,
    pub is_reviewed: bool,
    pub reviewed_on: Option<Day>,
    pub has_remedy: bool,
    pub failed_again: bool,
    pub failed_again_on: Option<Day>,
}

/// The findings that are not reviewed, have no remedy, or whose remedy did not hold.
pub async fn findings(db: &mut SqliteConnection, most: i64) -> Result<Vec<FindingRow>, StoreError> {
    Ok(sqlx::query_as!(
        FindingRow,
        r#"WITH again AS (
               SELECT remedy.finding AS finding, MIN(excursion.day) AS day
               FROM not_held JOIN remedy ON remedy.code = not_held.remedy
                   JOIN attempt ON attempt.code = not_held.attempt
                   JOIN excursion ON excursion.code = attempt.excursion
               WHERE not_held.is_answered = 0 GROUP BY remedy.finding
           ), those AS (
               SELECT finding.*, EXISTS (SELECT 1 FROM remedy WHERE remedy.finding = finding.code
                       AND remedy.state <> 'withdrawn') AS has_remedy,
                   EXISTS (SELECT 1 FROM again WHERE again.finding = finding.code) AS failed_again
               FROM finding
           )
           SELECT code AS "code!: FindingCode", words AS "words!: Prose",
               cause AS "cause: CauseCode", author AS "author: Line",
               written_on AS "written_on: Day", reviewed_by IS NOT NULL AS "is_reviewed!: bool",
               reviewed_on AS "reviewed_on: Day", has_remedy AS "has_remedy!: bool",
               failed_again AS "failed_again!: bool",
               (SELECT day FROM again WHERE again.finding = those.code) AS "failed_again_on?: Day"
           FROM those WHERE reviewed_by IS NULL OR NOT has_remedy OR failed_again
           ORDER BY written_on, code LIMIT ?"#,
        most
    )
    .fetch_all(db)
    .await?)
}

/// A remedy that is neither verified nor withdrawn.
#[derive(Debug, Clone)]
pub struct RemedyRow {
    pub code: RemedyCode,
    pub what: Line,
    pub finding: Option<FindingCode>,
    pub owner: Option<Line>,
    pub state: RemedyState,
    pub needed_by: Option<FlightCode>,
    pub launch: Option<Day>,
    pub flight: Option<FlightState>,
}

pub async fn remedies(db: &mut SqliteConnection, most: i64) -> Result<Vec<RemedyRow>, StoreError> {
    Ok(sqlx::query_as!(
        RemedyRow,
        r#"SELECT remedy.code AS "code: RemedyCode", remedy.what AS "what: Line",
               remedy.finding AS "finding: FindingCode", remedy.owner AS "owner: Line",
               remedy.state AS "state: RemedyState", remedy.needed_by AS "needed_by: FlightCode",
               COALESCE(flight.launch, NULLIF(flight.order_day, '0000-00-00')) AS "launch?: Day",
               flight.state AS "flight?: FlightState"
           FROM remedy LEFT JOIN flight ON flight.code = remedy.needed_by
           WHERE remedy.state IN ('open', 'done') ORDER BY remedy.code LIMIT ?"#,
        most
    )
    .fetch_all(db)
    .await?)
}

/// An attempt at open work that failed and that no finding names.
#[derive(Debug, Clone)]
pub struct FailureRow {
    pub code: AttemptCode,
    pub task: TaskCode,
    pub title: String,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
}

/// Failures that no finding names, the oldest first.
pub async fn failures(db: &mut SqliteConnection, most: i64) -> Result<Vec<FailureRow>, StoreError> {
    Ok(sqlx::query_as!(
        FailureRow,
        // The excursions whose failures are among the first so many, before any of them is read.
        r#"WITH counted AS (
               SELECT excursion AS code, COUNT(*) AS times FROM attempt WHERE unexplained = 1
               GROUP BY excursion
           ), oldest AS (
               SELECT excursion.code, excursion.day, SUM(counted.times) OVER
                       (ORDER BY excursion.day IS NULL, excursion.day, excursion.code)
                       - counted.times AS earlier
               FROM counted JOIN excursion ON excursion.code = counted.code
           )
           SELECT attempt.code AS "code!: AttemptCode", attempt.task AS "task!: TaskCode",
               task.title AS "title!: String", attempt.excursion AS "excursion!: ExcursionCode",
               oldest.day AS "day?: Day"
           FROM oldest CROSS JOIN attempt ON attempt.excursion = oldest.code
               JOIN task ON task.code = attempt.task
           WHERE oldest.earlier < ?1 AND attempt.unexplained = 1
           ORDER BY oldest.day IS NULL, oldest.day, oldest.code, attempt.code LIMIT ?1"#,
        most
    )
    .fetch_all(db)
    .await?)
}

/// How many there are, and how many of them from before that day.
pub async fn count_failures(
    db: &mut SqliteConnection,
    before: Day,
) -> Result<(i64, i64), StoreError> {
    let row = sqlx::query!(
        r#"SELECT COALESCE(SUM(times), 0) AS "all!: i64",
               COALESCE(SUM(CASE WHEN excursion.day < ? THEN times END), 0) AS "before!: i64"
           FROM (SELECT excursion, COUNT(*) AS times FROM attempt WHERE unexplained = 1
                   GROUP BY excursion) AS counted
               JOIN excursion ON excursion.code = counted.excursion"#,
        before
    )
    .fetch_one(db)
    .await?;
    Ok((row.all, row.before))
}
