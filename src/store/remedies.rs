//! Remedies, with the attempts that each answers.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, List, Prose};
use domain::codes::{
    AttemptCode, ExcursionCode, FamilyCode, FindingCode, FlightCode, Own, RemedyCode, TaskCode,
    TechniqueCode,
};
use domain::findings::Remedy;
use domain::sides::Side;
use domain::time::Day;
use domain::words::{Checked, FlightState, Reach, RemedyState};

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
                   verified_on AS "verified_on: Day", evidence AS "evidence: Prose",
                   checked AS "checked: Checked"
               FROM remedy "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Remedy, remedy_rows,
    "INSERT INTO remedy (code, what, finding, attempts, reach, technique, revision, owner,
         needed_by, opened_on, state, done_on, verified_by, verified_on, evidence, checked)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)
     ON CONFLICT (code) DO UPDATE SET what = excluded.what, finding = excluded.finding,
         attempts = excluded.attempts, reach = excluded.reach, technique = excluded.technique,
         revision = excluded.revision, owner = excluded.owner, needed_by = excluded.needed_by,
         opened_on = excluded.opened_on, state = excluded.state, done_on = excluded.done_on,
         verified_by = excluded.verified_by, verified_on = excluded.verified_on,
         evidence = excluded.evidence, checked = excluded.checked",
    code, what, finding, attempts, reach, technique, revision, owner, needed_by, opened_on,
    state, done_on, verified_by, verified_on, evidence, checked; then rewrite_attempts
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

/// The remedies that nobody verified yet and that were not withdrawn, in the order of their codes.
pub async fn not_verified(db: &mut SqliteConnection) -> Result<Vec<Remedy>, StoreError> {
    Ok(remedy_rows!("WHERE state IN ('open', 'done') ORDER BY code").fetch_all(db).await?)
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

/// The remedies that name this revision of a technique as what was changed.
pub async fn by_revision(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
    revision: i64,
) -> Result<Vec<Remedy>, StoreError> {
    Ok(remedy_rows!("WHERE technique = ? AND revision = ? ORDER BY code", technique, revision)
        .fetch_all(db)
        .await?)
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

/// A failure after a verified remedy that was to prevent it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotHeldSeen {
    pub remedy: RemedyCode,
    pub what: Line,
    pub finding: Option<FindingCode>,
    pub verified_on: Option<Day>,
    pub attempt: AttemptCode,
    pub task: TaskCode,
    pub title: String,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    /// The cause that decides, in words.
    pub cause: Option<String>,
    /// Of the same kind as that of a failure which the remedy answers.
    pub is_same_cause: bool,
    /// Another verified remedy names that failure.
    pub is_answered: bool,
    /// The last finding that names that failure.
    pub explained_by: Option<FindingCode>,
}

/// The failures that show remedies not to have held, the latest first: of these remedies, or of all;
/// with those that something answers by now, or without.
pub async fn not_held(
    db: &mut SqliteConnection,
    of: Option<&[RemedyCode]>,
    open_alone: bool,
    most: i64,
) -> Result<Vec<NotHeldSeen>, StoreError> {
    let of = of.map(|codes| json_array(codes.iter().map(RemedyCode::as_str)));
    Ok(sqlx::query_as!(
        NotHeldSeen,
        r#"SELECT not_held.remedy AS "remedy: RemedyCode", remedy.what AS "what: Line",
               remedy.finding AS "finding: FindingCode", remedy.verified_on AS "verified_on: Day",
               attempt.code AS "attempt: AttemptCode", attempt.task AS "task: TaskCode",
               task.title, attempt.excursion AS "excursion: ExcursionCode",
               excursion.day AS "day: Day", attempt.technique AS "technique: TechniqueCode",
               attempt.side AS "side: Side", cause.words AS "cause?: String",
               EXISTS (SELECT 1 FROM remedy_attempt
                   JOIN attempt AS named ON named.code = remedy_attempt.attempt
                   WHERE remedy_attempt.remedy = remedy.code AND named.code <> attempt.code
                       AND named.told_cause = attempt.told_cause) AS "is_same_cause!: bool",
               not_held.is_answered AS "is_answered: bool",
               (SELECT finding FROM finding_attempt WHERE finding_attempt.attempt = attempt.code
                    ORDER BY finding DESC LIMIT 1) AS "explained_by?: FindingCode"
           FROM not_held JOIN remedy ON remedy.code = not_held.remedy
               JOIN attempt ON attempt.code = not_held.attempt
               JOIN task ON task.code = attempt.task
               JOIN excursion ON excursion.code = attempt.excursion
               LEFT JOIN cause ON cause.code = attempt.told_cause
           WHERE (?1 IS NULL OR not_held.remedy IN (SELECT value FROM json_each(?1)))
               AND (?2 = 0 OR not_held.is_answered = 0)
           ORDER BY excursion.day DESC, attempt.code DESC, not_held.remedy LIMIT ?3"#,
        of,
        open_alone,
        most
    )
    .fetch_all(db)
    .await?)
}
