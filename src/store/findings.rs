//! Causes, findings and exemptions.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, List, Prose};
use domain::codes::{
    AttemptCode, CauseCode, ExcursionCode, ExemptionCode, FindingCode, Own, TaskCode, TechniqueCode,
};
use domain::findings::{Cause, Exemption, Finding};
use domain::sides::Side;
use domain::time::Day;
use domain::words::{Checked, Confidence, Disposition, Scope};

macro_rules! cause_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Cause,
            r#"SELECT code AS "code: Own<CauseCode>", words AS "words: Line",
                   cause_group AS "cause_group: Line", scope AS "scope: Scope",
                   time_ran_out AS "time_ran_out: bool"
               FROM cause "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Cause, cause_rows,
    "INSERT INTO cause (code, words, cause_group, scope, time_ran_out)
     VALUES (?1, ?2, ?3, ?4, ?5)
     ON CONFLICT (code) DO UPDATE SET words = excluded.words, cause_group = excluded.cause_group,
         scope = excluded.scope, time_ran_out = excluded.time_ran_out",
    code, words, cause_group, scope, time_ran_out
}

/// The tasks that the attempts of these findings were at.
pub async fn tasks_of(
    db: &mut SqliteConnection,
    findings: &[FindingCode],
) -> Result<Vec<(FindingCode, TaskCode)>, StoreError> {
    let findings = json_array(findings.iter().map(FindingCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT DISTINCT f.finding AS "finding!: FindingCode", a.task AS "task!: TaskCode"
           FROM finding_attempt AS f JOIN attempt AS a ON a.code = f.attempt
           WHERE f.finding IN (SELECT value FROM json_each(?)) ORDER BY 1, 2"#,
        findings
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.finding, row.task)).collect())
}

/// The kinds of cause that say that time ran out.
pub async fn time_ran_out(db: &mut SqliteConnection) -> Result<Vec<CauseCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: CauseCode" FROM cause WHERE time_ran_out = 1 ORDER BY code"#
    )
    .fetch_all(db)
    .await?)
}

/// Whether the service brought this kind of cause itself: no person made it.
pub async fn is_of_the_service(
    db: &mut SqliteConnection,
    code: &CauseCode,
) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM register WHERE kind = 'cause' AND code = ?
               AND made_by = 'holdover') AS "is_so!: bool""#,
        code
    )
    .fetch_one(db)
    .await?)
}

/// How many attempts and findings name this kind of cause.
pub async fn named_by(db: &mut SqliteConnection, code: &CauseCode) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT (SELECT COUNT(*) FROM attempt WHERE cause = ?1)
               + (SELECT COUNT(*) FROM finding WHERE cause = ?1) AS "count!: i64""#,
        code
    )
    .fetch_one(db)
    .await?)
}

macro_rules! finding_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Finding,
            r#"SELECT code AS "code: Own<FindingCode>", attempts AS "attempts: List<AttemptCode>",
                   cause AS "cause: CauseCode", contributing AS "contributing: List<CauseCode>",
                   words AS "words: Prose", evidence AS "evidence: Prose",
                   confirmed AS "confirmed: Line", confidence AS "confidence: Confidence",
                   disposition AS "disposition: Disposition",
                   recommended_technique AS "recommended_technique: TechniqueCode",
                   recommended_side AS "recommended_side: Side", author AS "author: Line",
                   written_on AS "written_on: Day", reviewed_by AS "reviewed_by: Line",
                   reviewed_on AS "reviewed_on: Day", checked AS "checked: Checked"
               FROM finding "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Finding, finding_rows,
    "INSERT INTO finding (code, attempts, cause, contributing, words, evidence,
         recommended_technique, recommended_side, author, written_on, reviewed_by, reviewed_on,
         confirmed, confidence, disposition, checked)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)
     ON CONFLICT (code) DO UPDATE SET attempts = excluded.attempts, cause = excluded.cause,
         contributing = excluded.contributing, words = excluded.words,
         evidence = excluded.evidence, recommended_technique = excluded.recommended_technique,
         recommended_side = excluded.recommended_side, author = excluded.author,
         written_on = excluded.written_on, reviewed_by = excluded.reviewed_by,
         reviewed_on = excluded.reviewed_on, confirmed = excluded.confirmed,
         confidence = excluded.confidence, disposition = excluded.disposition,
         checked = excluded.checked",
    code, attempts, cause, contributing, words, evidence, recommended_technique,
    recommended_side, author, written_on, reviewed_by, reviewed_on, confirmed, confidence,
    disposition, checked; then rewrite_links
}

async fn rewrite_links(db: &mut SqliteConnection, finding: &Finding) -> Result<(), StoreError> {
    let attempts = json_array(finding.attempts.iter().map(AttemptCode::as_str));
    let causes = json_array(finding.contributing.iter().map(CauseCode::as_str));
    sqlx::query!("DELETE FROM finding_attempt WHERE finding = ?", finding.code)
        .execute(&mut *db)
        .await?;
    sqlx::query!("DELETE FROM finding_cause WHERE finding = ?", finding.code)
        .execute(&mut *db)
        .await?;
    sqlx::query!(
        "INSERT INTO finding_attempt (finding, attempt) SELECT DISTINCT ?, value FROM json_each(?)",
        finding.code,
        attempts
    )
    .execute(&mut *db)
    .await?;
    sqlx::query!(
        "INSERT INTO finding_cause (finding, cause) SELECT DISTINCT ?, value FROM json_each(?)",
        finding.code,
        causes
    )
    .execute(db)
    .await?;
    Ok(())
}

macro_rules! exemption_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Exemption,
            r#"SELECT code AS "code: Own<ExemptionCode>", task AS "task: TaskCode",
                   attempts AS "attempts: List<AttemptCode>", words AS "words: Prose",
                   author AS "author: Line", written_on AS "written_on: Day",
                   reviewed_by AS "reviewed_by: Line", reviewed_on AS "reviewed_on: Day",
                   checked AS "checked: Checked"
               FROM exemption "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Exemption, exemption_rows,
    "INSERT INTO exemption (code, task, attempts, words, author, written_on, reviewed_by,
         reviewed_on, checked)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, attempts = excluded.attempts,
         words = excluded.words, author = excluded.author, written_on = excluded.written_on,
         reviewed_by = excluded.reviewed_by, reviewed_on = excluded.reviewed_on,
         checked = excluded.checked",
    code, task, attempts, words, author, written_on, reviewed_by, reviewed_on, checked
}

/// The findings that name an attempt at this task, the first one first.
pub async fn of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Finding>, StoreError> {
    Ok(finding_rows!(
        "WHERE code IN (SELECT finding FROM finding_attempt
                   WHERE attempt IN (SELECT code FROM attempt WHERE task = ?))
               ORDER BY written_on, code",
        task
    )
    .fetch_all(db)
    .await?)
}

/// The findings that explain an attempt, the first one first.
pub async fn explaining(
    db: &mut SqliteConnection,
    attempt: &AttemptCode,
) -> Result<Vec<FindingCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT finding AS "finding: FindingCode" FROM finding_attempt
           WHERE attempt = ? ORDER BY finding"#,
        attempt
    )
    .fetch_all(db)
    .await?)
}

/// The findings that explain attempts on an excursion, each with its attempt.
pub async fn of_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<(AttemptCode, FindingCode)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT attempt AS "attempt: AttemptCode", finding AS "finding: FindingCode"
           FROM finding_attempt
           WHERE attempt IN (SELECT code FROM attempt WHERE excursion = ?) ORDER BY finding"#,
        excursion
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.attempt, row.finding)).collect())
}

/// An exemption as a list names it.
#[derive(Debug, Clone)]
pub struct ExemptionNamed {
    pub code: ExemptionCode,
    pub task: TaskCode,
    pub is_reviewed: bool,
}

/// Every exemption, in the order of their codes.
pub async fn exemptions_named(
    db: &mut SqliteConnection,
) -> Result<Vec<ExemptionNamed>, StoreError> {
    Ok(sqlx::query_as!(
        ExemptionNamed,
        r#"SELECT code AS "code: ExemptionCode", task AS "task: TaskCode",
               reviewed_by IS NOT NULL AS "is_reviewed!: bool"
           FROM exemption ORDER BY code"#
    )
    .fetch_all(db)
    .await?)
}

/// The exemptions written for one task.
pub async fn exemptions_of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Exemption>, StoreError> {
    Ok(exemption_rows!("WHERE task = ? ORDER BY code", task).fetch_all(db).await?)
}

/// Which findings a list shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    All,
    /// Not reviewed yet.
    Open,
    /// No remedy that was not withdrawn.
    WithoutRemedy,
    /// A remedy is not verified although the flight it is needed by has begun.
    Overdue,
    /// A failure after a verified remedy that nothing answers yet.
    Reopened,
}

/// Findings, the newest first, with how many there are on all pages together.
pub async fn page(
    db: &mut SqliteConnection,
    shown: Shown,
    today: Day,
    offset: i64,
    most: i64,
) -> Result<(Vec<Finding>, i64), StoreError> {
    let word = shown.word();
    let found = finding_rows!(
        "WHERE CASE ?1
                   WHEN 'open' THEN reviewed_by IS NULL
                   WHEN 'without remedy' THEN NOT EXISTS (SELECT 1 FROM remedy
                       WHERE remedy.finding = finding.code AND remedy.state <> 'withdrawn')
                   WHEN 'overdue' THEN EXISTS (SELECT 1 FROM remedy
                       JOIN flight ON flight.code = remedy.needed_by
                       WHERE remedy.finding = finding.code AND remedy.state IN ('open', 'done')
                           AND (flight.state IN ('under way', 'flown') OR flight.order_day <= ?2))
                   WHEN 'reopened' THEN EXISTS (SELECT 1 FROM remedy
                       JOIN not_held ON not_held.remedy = remedy.code
                       WHERE remedy.finding = finding.code AND not_held.is_answered = 0)
                   ELSE 1 END
               ORDER BY written_on DESC, code DESC LIMIT ?3 OFFSET ?4",
        word,
        today,
        most,
        offset
    )
    .fetch_all(&mut *db)
    .await?;
    let count = sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: i64" FROM finding
           WHERE CASE ?1
               WHEN 'open' THEN reviewed_by IS NULL
               WHEN 'without remedy' THEN NOT EXISTS (SELECT 1 FROM remedy
                   WHERE remedy.finding = finding.code AND remedy.state <> 'withdrawn')
               WHEN 'overdue' THEN EXISTS (SELECT 1 FROM remedy
                   JOIN flight ON flight.code = remedy.needed_by
                   WHERE remedy.finding = finding.code AND remedy.state IN ('open', 'done')
                       AND (flight.state IN ('under way', 'flown') OR flight.order_day <= ?2))
               WHEN 'reopened' THEN EXISTS (SELECT 1 FROM remedy
                   JOIN not_held ON not_held.remedy = remedy.code
                   WHERE remedy.finding = finding.code AND not_held.is_answered = 0)
               ELSE 1 END"#,
        word,
        today
    )
    .fetch_one(db)
    .await?;
    Ok((found, count))
}

/// Of these findings, those whose question was reopened: a failure after a verified remedy that nothing
/// answers yet.
pub async fn reopened_among(
    db: &mut SqliteConnection,
    findings: &[FindingCode],
) -> Result<Vec<FindingCode>, StoreError> {
    let findings = json_array(findings.iter().map(FindingCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT DISTINCT remedy.finding AS "finding!: FindingCode"
           FROM remedy JOIN not_held ON not_held.remedy = remedy.code
           WHERE not_held.is_answered = 0 AND remedy.finding IN (SELECT value FROM json_each(?))"#,
        findings
    )
    .fetch_all(db)
    .await?)
}

impl Shown {
    const fn word(self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Open => "open",
            Self::WithoutRemedy => "without remedy",
            Self::Overdue => "overdue",
            Self::Reopened => "reopened",
        }
    }
}
