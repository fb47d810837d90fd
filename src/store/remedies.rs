//! Remedies, with the attempts that each answers.

use sqlx::SqliteConnection;

use crate::domain::cells::{Line, List, Prose};
use crate::domain::codes::{
    AttemptCode, FamilyCode, FindingCode, FlightCode, Own, RemedyCode, TaskCode, TechniqueCode,
};
use crate::domain::findings::Remedy;
use crate::domain::time::Day;
use crate::domain::words::{FlightState, Reach, RemedyState};
use crate::store::{StoreError, json_array, kept};

macro_rules! remedy_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Remedy,
            r#"SELECT code AS "code: Own<RemedyCode>", what AS "what: Line",
                   finding AS "finding: FindingCode", attempts AS "attempts: List<AttemptCode>",
                   reach AS "reach: Reach", technique AS "technique: TechniqueCode", revision,
                   owner AS "owner: Line", needed_by AS "needed_by: FlightCode",
                   opened_on AS "opened_on: Day", state AS "state: RemedyState",
                   done_on AS "done_on: Day", verified_by AS "verified_by: Line",
                   verified_on AS "verified_on: Day", evidence AS "evidence: Prose"
               FROM remedy "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Remedy, remedy_rows,
    "INSERT INTO remedy (code, what, finding, attempts, reach, technique, revision, owner,
         needed_by, opened_on, state, done_on, verified_by, verified_on, evidence)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)
     ON CONFLICT (code) DO UPDATE SET what = excluded.what, finding = excluded.finding,
         attempts = excluded.attempts, reach = excluded.reach, technique = excluded.technique,
         revision = excluded.revision, owner = excluded.owner, needed_by = excluded.needed_by,
         opened_on = excluded.opened_on, state = excluded.state, done_on = excluded.done_on,
         verified_by = excluded.verified_by, verified_on = excluded.verified_on,
         evidence = excluded.evidence",
    code, what, finding, attempts, reach, technique, revision, owner, needed_by, opened_on,
    state, done_on, verified_by, verified_on, evidence; then rewrite_attempts
}

async fn rewrite_attempts(db: &mut SqliteConnection, remedy: &Remedy) -> Result<(), StoreError> {
    let attempts = json_array(remedy.attempts.iter().map(AttemptCode::as_str));
    sqlx::query!("DELETE FROM remedy_attempt WHERE remedy = ?", remedy.code)
        .execute(&mut *db)
        .await?;
    sqlx::query!(
        "INSERT INTO remedy_attempt (remedy, attempt) SELECT DISTINCT ?, value FROM json_each(?)",
        remedy.code,
        attempts
    )
    .execute(db)
    .await?;
    Ok(())
}

/// The remedies that answer an attempt at this task.
pub async fn of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Remedy>, StoreError> {
    Ok(remedy_rows!(
        "WHERE code IN (SELECT remedy FROM remedy_attempt
                   WHERE attempt IN (SELECT code FROM attempt WHERE task = ?))
               ORDER BY code",
        task
    )
    .fetch_all(db)
    .await?)
}

/// The remedies of a finding.
pub async fn of_finding(
    db: &mut SqliteConnection,
    finding: &FindingCode,
) -> Result<Vec<Remedy>, StoreError> {
    Ok(remedy_rows!("WHERE finding = ? ORDER BY code", finding).fetch_all(db).await?)
}

/// The remedies, in whatever state, that name an attempt at a task of this family.
pub async fn answering(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Vec<Remedy>, StoreError> {
    Ok(remedy_rows!(
        "WHERE code IN (SELECT remedy_attempt.remedy FROM task
                   JOIN attempt ON attempt.task = task.code
                   JOIN remedy_attempt ON remedy_attempt.attempt = attempt.code
                   WHERE task.family = ?)
               ORDER BY code",
        family
    )
    .fetch_all(db)
    .await?)
}

/// A remedy that is neither verified nor withdrawn, with the flight that needs it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    pub code: RemedyCode,
    pub what: Line,
    pub owner: Option<Line>,
    pub state: RemedyState,
    pub finding: Option<FindingCode>,
    pub needed_by: FlightCode,
    pub launch: Option<Day>,
    pub flight_state: FlightState,
}

/// The remedies that a flight waits for, the earliest flight first.
pub async fn due(db: &mut SqliteConnection) -> Result<Vec<Due>, StoreError> {
    Ok(sqlx::query_as!(
        Due,
        r#"SELECT remedy.code AS "code: RemedyCode", remedy.what AS "what: Line",
               remedy.owner AS "owner: Line", remedy.state AS "state: RemedyState",
               remedy.finding AS "finding: FindingCode", flight.code AS "needed_by: FlightCode",
               flight.launch AS "launch: Day", flight.state AS "flight_state: FlightState"
           FROM remedy JOIN flight ON flight.code = remedy.needed_by
           WHERE remedy.state IN ('open', 'done') AND flight.state <> 'cancelled'
           ORDER BY flight.order_day, flight.sequence, flight.code, remedy.code"#
    )
    .fetch_all(db)
    .await?)
}
