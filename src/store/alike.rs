//! Attempts that may be like another one: few, and each read by an index.

use serde_json::Value;
use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::cells::List;
use domain::codes::{
    AttemptCode, CauseCode, ExcursionCode, FamilyCode, PositionCode, RemedyCode, TaskCode,
    TechniqueCode, ToolCode, UnitCode,
};
use domain::sides::Side;
use domain::time::Day;
use domain::words::Outcome;

/// The number of the record that was entered last: about how many there are.
pub async fn last_entry(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT COALESCE(MAX(entry), 0) AS "entry!: i64" FROM register"#)
        .fetch_one(db)
        .await?)
}

/// How many records each of these asks of the index finds, in their order, counted up to `most`.
pub async fn counts(
    db: &mut SqliteConnection,
    asks: &[String],
    most: i64,
) -> Result<Vec<i64>, StoreError> {
    let asks = json_array(asks.iter().map(String::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT (SELECT COUNT(*) FROM (SELECT 1 FROM event_words
                   WHERE event_words MATCH asked.value LIMIT ?2)) AS "count!: i64"
           FROM json_each(?1) AS asked ORDER BY asked.key"#,
        asks,
        most
    )
    .fetch_all(db)
    .await?)
}

/// A record that holds some of the words: its number and its rank, higher for a better match.
#[derive(Debug, Clone, Copy)]
pub struct Ranked {
    pub entry: i64,
    pub rank: f64,
}

/// The records that hold these words best, by the ranking of the full-text index.
pub async fn best(
    db: &mut SqliteConnection,
    asked: &str,
    most: i64,
) -> Result<Vec<Ranked>, StoreError> {
    Ok(sqlx::query_as!(
        Ranked,
        r#"SELECT rowid + 0 AS "entry!: i64",
               -bm25(event_words, 0.0, 0.0, 1.0, 1.0) AS "rank!: f64"
           FROM event_words WHERE event_words MATCH ?1
           ORDER BY bm25(event_words, 0.0, 0.0, 1.0, 1.0), rowid LIMIT ?2"#,
        asked,
        most
    )
    .fetch_all(db)
    .await?)
}

/// The attempts that these records tell of, each with the place of its record in the list: an attempt
/// itself, those that a finding or a remedy names, the last failure of a task.
pub async fn attempts_of(
    db: &mut SqliteConnection,
    entries: &[i64],
) -> Result<Vec<(usize, AttemptCode)>, StoreError> {
    let entries = entries.iter().copied().collect::<Value>().to_string();
    let rows = sqlx::query!(
        r#"WITH named AS (
               SELECT listed.key + 0 AS place, register.kind, register.code
               FROM json_each(?) AS listed CROSS JOIN register ON register.entry = listed.value
           )
           SELECT place AS "place!: i64", code AS "attempt!: AttemptCode"
           FROM named WHERE kind = 'attempt'
           UNION ALL
           SELECT place, finding_attempt.attempt FROM named
               CROSS JOIN finding_attempt ON finding_attempt.finding = named.code
           WHERE kind = 'finding'
           UNION ALL
           SELECT place, remedy_attempt.attempt FROM named
               CROSS JOIN remedy_attempt ON remedy_attempt.remedy = named.code
           WHERE kind = 'remedy'
           UNION ALL
           SELECT place, tried.code FROM named CROSS JOIN attempt AS tried ON tried.code =
               (SELECT attempt.code FROM attempt WHERE attempt.task = named.code
                ORDER BY attempt.told = 'failure' DESC, attempt.rowid DESC LIMIT 1)
           WHERE kind = 'task'"#,
        entries
    )
    .fetch_all(db)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| (usize::try_from(row.place).unwrap_or(usize::MAX), row.attempt))
        .collect())
}

/// The newest attempts with the same cause and side, the same cause, or the same approach, up to `most`
/// of each.
pub async fn with_the_same(
    db: &mut SqliteConnection,
    cause: Option<&CauseCode>,
    technique: Option<&TechniqueCode>,
    side: Option<&Side>,
    most: i64,
) -> Result<Vec<AttemptCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code!: AttemptCode" FROM (SELECT code FROM attempt
               WHERE told_cause = ?1 AND side = ?3 ORDER BY rowid DESC LIMIT ?4)
           UNION SELECT code FROM (SELECT code FROM attempt INDEXED BY attempt_by_cause
               WHERE cause = ?1 ORDER BY rowid DESC LIMIT ?4)
           UNION SELECT code FROM (SELECT code FROM attempt
               WHERE technique = ?2 AND side = ?3 ORDER BY rowid DESC LIMIT ?4)"#,
        cause,
        technique,
        side,
        most
    )
    .fetch_all(db)
    .await?)
}

/// An attempt with all by which it is compared.
#[derive(Debug, Clone)]
pub struct Candidate {
    pub code: AttemptCode,
    pub task: TaskCode,
    pub title: String,
    pub family: Option<FamilyCode>,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    pub outcome: Outcome,
    pub cause: Option<CauseCode>,
    pub cause_words: Option<String>,
    pub cause_group: Option<String>,
    pub tools: List<ToolCode>,
    pub words: String,
    pub as_left: String,
    pub last_step: Option<String>,
    pub unit: Option<UnitCode>,
    pub position: Option<PositionCode>,
    /// What findings say of it.
    pub found: Option<String>,
}

pub async fn candidates(
    db: &mut SqliteConnection,
    attempts: &[AttemptCode],
) -> Result<Vec<Candidate>, StoreError> {
    let attempts = json_array(attempts.iter().map(AttemptCode::as_str));
    Ok(sqlx::query_as!(
        Candidate,
        r#"SELECT attempt.code AS "code: AttemptCode", attempt.task AS "task: TaskCode", task.title,
               task.family AS "family: FamilyCode", attempt.excursion AS "excursion: ExcursionCode",
               excursion.day AS "day: Day", attempt.technique AS "technique: TechniqueCode",
               attempt.side AS "side: Side", attempt.outcome AS "outcome: Outcome",
               attempt.told_cause AS "cause: CauseCode", cause.words AS "cause_words?: String",
               cause.cause_group AS "cause_group?: String",
               attempt.tools AS "tools: List<ToolCode>", attempt.words, attempt.as_left,
               attempt.last_step, attempt.unit AS "unit: UnitCode",
               COALESCE(attempt.position, task.position) AS "position?: PositionCode",
               (SELECT group_concat(finding.words, ' ') FROM finding_attempt
                    JOIN finding ON finding.code = finding_attempt.finding
                    WHERE finding_attempt.attempt = attempt.code) AS "found?: String"
           FROM json_each(?) AS named CROSS JOIN attempt ON attempt.code = named.value
               JOIN task ON task.code = attempt.task
               JOIN excursion ON excursion.code = attempt.excursion
               LEFT JOIN cause ON cause.code = attempt.told_cause
           ORDER BY attempt.code"#,
        attempts
    )
    .fetch_all(db)
    .await?)
}

/// A verified remedy that names an attempt.
#[derive(Debug, Clone)]
pub struct RemedyAfter {
    pub attempt: AttemptCode,
    pub remedy: RemedyCode,
    pub what: String,
    /// It failed again after that.
    pub did_not_hold: bool,
}

pub async fn verified_remedies(
    db: &mut SqliteConnection,
    attempts: &[AttemptCode],
) -> Result<Vec<RemedyAfter>, StoreError> {
    let attempts = json_array(attempts.iter().map(AttemptCode::as_str));
    Ok(sqlx::query_as!(
        RemedyAfter,
        r#"SELECT remedy_attempt.attempt AS "attempt: AttemptCode",
               remedy.code AS "remedy: RemedyCode", remedy.what,
               EXISTS (SELECT 1 FROM not_held WHERE not_held.remedy = remedy.code)
                   AS "did_not_hold!: bool"
           FROM json_each(?) AS named
               CROSS JOIN remedy_attempt ON remedy_attempt.attempt = named.value
               JOIN remedy ON remedy.code = remedy_attempt.remedy
           WHERE remedy.state = 'verified' ORDER BY remedy.code"#,
        attempts
    )
    .fetch_all(db)
    .await?)
}
