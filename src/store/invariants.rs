//! What must hold across rows whatever was done: each function finds the rows that break one
//! rule, at most `MAX_NAMED` of them.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::cells::Line;
use domain::codes::{AttemptCode, ExcursionCode, RevisionCode, SlotCode, TaskCode};
use domain::kinds::Kind;
use domain::time::Day;
use domain::words::{Checked, SlotState};

/// Where so many rows break one rule, a longer list helps nobody.
pub const MAX_NAMED: i64 = 100;

/// A slot that stands where it must not.
#[derive(Debug, Clone)]
pub struct Misplaced {
    pub slot: SlotCode,
    pub task: TaskCode,
    pub excursion: ExcursionCode,
    /// The state of the excursion, or `closed`.
    pub there: String,
}

/// Set slots without a result on excursions that are closed, and set slots on excursions that
/// were called off.
pub async fn results_owing(db: &mut SqliteConnection) -> Result<Vec<Misplaced>, StoreError> {
    Ok(sqlx::query_as!(
        Misplaced,
        r#"SELECT slot.code AS "slot: SlotCode", slot.task AS "task: TaskCode",
               slot.excursion AS "excursion: ExcursionCode",
               iif(excursion.state = 'called off', excursion.state, 'closed') AS "there!: String"
           FROM slot JOIN excursion ON excursion.code = slot.excursion
           WHERE slot.state = 'set' AND (excursion.state = 'called off'
               OR (excursion.closed_at IS NOT NULL
                   AND NOT EXISTS (SELECT 1 FROM attempt WHERE attempt.slot = slot.code)
                   AND NOT EXISTS (SELECT 1 FROM deferral WHERE deferral.slot = slot.code
                       AND deferral.phase <> 'before launch')))
           ORDER BY slot.code LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// Pencils on excursions that are closed or were called off.
pub async fn pencils_left(db: &mut SqliteConnection) -> Result<Vec<Misplaced>, StoreError> {
    Ok(sqlx::query_as!(
        Misplaced,
        r#"SELECT slot.code AS "slot: SlotCode", slot.task AS "task: TaskCode",
               slot.excursion AS "excursion: ExcursionCode",
               iif(excursion.state = 'called off', excursion.state, 'closed') AS "there!: String"
           FROM slot JOIN excursion ON excursion.code = slot.excursion
           WHERE slot.state = 'pencilled'
               AND (excursion.state = 'called off' OR excursion.closed_at IS NOT NULL)
           ORDER BY slot.code LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// Flown slots on excursions that were not flown.
pub async fn flown_elsewhere(db: &mut SqliteConnection) -> Result<Vec<Misplaced>, StoreError> {
    Ok(sqlx::query_as!(
        Misplaced,
        r#"SELECT slot.code AS "slot: SlotCode", slot.task AS "task: TaskCode",
               slot.excursion AS "excursion: ExcursionCode", excursion.state AS "there: String"
           FROM slot JOIN excursion ON excursion.code = slot.excursion
           WHERE slot.state = 'flown' AND excursion.state <> 'flown'
           ORDER BY slot.code LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// A task of which more is set than is left.
#[derive(Debug, Clone)]
pub struct OverSet {
    pub task: TaskCode,
    pub share_left: i64,
    pub set: i64,
    pub slots: String,
}

/// A slot without a share plans what the others leave, so at least one per cent.
pub async fn set_beyond_the_rest(db: &mut SqliteConnection) -> Result<Vec<OverSet>, StoreError> {
    Ok(sqlx::query_as!(
        OverSet,
        r#"SELECT slot.task AS "task!: TaskCode", standing.share_left AS "share_left!: i64",
               SUM(COALESCE(slot.share, 1)) AS "set!: i64",
               group_concat(slot.code, ', ') AS "slots!: String"
           FROM slot JOIN excursion ON excursion.code = slot.excursion
               JOIN standing ON standing.task = slot.task
           WHERE slot.state = 'set' AND excursion.state = 'planned'
           GROUP BY slot.task
           HAVING SUM(COALESCE(slot.share, 1)) > standing.share_left OR SUM(slot.share IS NULL) > 1
           ORDER BY slot.task LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// A record with a review, a verification or a clearance that holds.
#[derive(Debug, Clone)]
pub struct JudgedRow {
    pub code: String,
    pub by: Line,
    pub on: Option<Day>,
    /// The author or owner whom it names.
    pub named: Option<Line>,
    pub checked: Option<Checked>,
}

macro_rules! judged {
    ($($name:ident: $table:literal by $by:literal on $on:literal naming $named:literal
        where $holds:literal),+ $(,)?) => {
        $(
            /// The judged records of this kind after a code, by code, at most so many.
            pub async fn $name(
                db: &mut SqliteConnection,
                after: &str,
                most: i64,
            ) -> Result<Vec<JudgedRow>, StoreError> {
                Ok(sqlx::query_as!(
                    JudgedRow,
                    "SELECT code, " + $by + r#" AS "by!: Line", "# + $on + r#" AS "on: Day", "#
                        + $named + r#" AS "named: Line", checked AS "checked: Checked" FROM "#
                        + $table + " WHERE " + $holds + " AND code > ? ORDER BY code LIMIT ?",
                    after,
                    most
                )
                .fetch_all(db)
                .await?)
            }
        )+
    };
}

judged! {
    judged_findings: "finding" by "reviewed_by" on "reviewed_on" naming "author" where "reviewed_by IS NOT NULL",
    judged_exemptions: "exemption" by "reviewed_by" on "reviewed_on" naming "author" where "reviewed_by IS NOT NULL",
    judged_remedies: "remedy" by "verified_by" on "verified_on" naming "owner" where "state = 'verified'",
    judged_constraints: "vehicle_constraint" by "lifted_by" on "lifted_on" naming "author" where "lifted_by IS NOT NULL",
    judged_revisions: "revision" by "cleared_by" on "cleared_on" naming "author" where "cleared_by IS NOT NULL",
}

/// A verified remedy, with what its verification does not rest on.
#[derive(Debug, Clone)]
pub struct Unfounded {
    pub code: String,
    /// As in “is verified, and …”.
    pub why: String,
}

/// Verified remedies without evidence, against a finding that nobody reviewed, or before they were
/// done or before a failure that they resolve.
pub async fn verified_in_vain(db: &mut SqliteConnection) -> Result<Vec<Unfounded>, StoreError> {
    Ok(sqlx::query_as!(
        Unfounded,
        r#"SELECT code AS "code!: String", 'there is no evidence' AS "why!: String"
           FROM remedy WHERE state = 'verified' AND trim(evidence) = ''
           UNION ALL SELECT remedy.code, finding.code || ', on which it rests, is not reviewed'
           FROM remedy JOIN finding ON finding.code = remedy.finding
           WHERE remedy.state = 'verified' AND finding.reviewed_by IS NULL
           UNION ALL SELECT code, 'it was done on ' || done_on || ', after that'
           FROM remedy WHERE state = 'verified' AND done_on > verified_on
           UNION ALL SELECT remedy.code, attempt.code || ' was made on ' || excursion.day || ', after that'
           FROM remedy JOIN remedy_attempt ON remedy_attempt.remedy = remedy.code
               JOIN attempt ON attempt.code = remedy_attempt.attempt
               JOIN excursion ON excursion.code = attempt.excursion
           WHERE remedy.state = 'verified' AND excursion.day > remedy.verified_on
           LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// A cleared change of the work that answers failures while no verified remedy says so: the repeat
/// guard would not let go.
pub async fn cleared_in_vain(db: &mut SqliteConnection) -> Result<Vec<RevisionCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: RevisionCode" FROM revision
           WHERE changes_work = 1 AND cleared_by IS NOT NULL AND answers <> ''
               AND NOT EXISTS (SELECT 1 FROM remedy WHERE remedy.technique = revision.technique
                   AND remedy.revision = revision.number AND remedy.state = 'verified')
           ORDER BY code LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// Tools of a closed excursion that are not accounted for.
#[derive(Debug, Clone)]
pub struct NotCounted {
    pub code: String,
    pub tool: String,
    pub excursion: ExcursionCode,
    pub taken_out: i64,
    pub accounted: i64,
}

pub async fn tools_unaccounted(db: &mut SqliteConnection) -> Result<Vec<NotCounted>, StoreError> {
    Ok(sqlx::query_as!(
        NotCounted,
        r#"SELECT excursion_tool.code, tool, excursion AS "excursion: ExcursionCode", taken_out,
               COALESCE(brought_in, 0) + COALESCE(left_outside, 0) + COALESCE(lost, 0)
                   AS "accounted!: i64"
           FROM excursion_tool JOIN excursion ON excursion.code = excursion_tool.excursion
           WHERE excursion.closed_at IS NOT NULL AND not_counted IS NULL
               AND (COALESCE(brought_in, left_outside, lost) IS NULL
                   OR COALESCE(brought_in, 0) + COALESCE(left_outside, 0) + COALESCE(lost, 0)
                       <> taken_out)
           ORDER BY excursion, tool LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// A slot whose last dated step tells of another state than its own.
#[derive(Debug, Clone)]
pub struct OutOfStep {
    pub slot: SlotCode,
    pub state: SlotState,
    pub last: Option<SlotState>,
}

pub async fn slots_out_of_step(db: &mut SqliteConnection) -> Result<Vec<OutOfStep>, StoreError> {
    Ok(sqlx::query_as!(
        OutOfStep,
        r#"SELECT code AS "slot!: SlotCode", state AS "state!: SlotState", last AS "last: SlotState"
           FROM (SELECT code, state, (SELECT slot_step.state FROM slot_step
                   WHERE slot_step.slot = slot.code ORDER BY ordinal DESC LIMIT 1) AS last
               FROM slot)
           WHERE last IS NULL OR last <> state ORDER BY code LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// Tasks without a row in a table that has one for each, and rows there of no task.
#[derive(Debug, Clone)]
pub struct Unpaired {
    pub code: String,
    /// Where its other half is missing.
    pub lacks: String,
}

pub async fn tasks_unpaired(db: &mut SqliteConnection) -> Result<Vec<Unpaired>, StoreError> {
    Ok(sqlx::query_as!(
        Unpaired,
        r#"SELECT code AS "code!: String", 'how it stands' AS "lacks!: String" FROM task
               WHERE NOT EXISTS (SELECT 1 FROM standing WHERE standing.task = task.code)
           UNION ALL SELECT task, 'its number in the register' FROM standing
               WHERE NOT EXISTS (SELECT 1 FROM register WHERE register.entry = standing.entry
                   AND register.kind = 'task' AND register.code = standing.task)
           UNION ALL SELECT task, 'its words for the search' FROM standing
               WHERE NOT EXISTS (SELECT 1 FROM task_words WHERE task_words.rowid = standing.entry)
           LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// A record that the register does not know, or an entry of the register without its record.
#[derive(Debug, Clone)]
pub struct Unregistered {
    pub kind: Kind,
    pub code: String,
}

macro_rules! register_and {
    ($($kind:ident in $table:literal),+ $(,)?) => {
        /// Records that the register does not know.
        pub async fn records_unregistered(
            db: &mut SqliteConnection,
        ) -> Result<Vec<Unregistered>, StoreError> {
            let mut found = Vec::new();
            $({
                let kind = Kind::$kind;
                let codes = sqlx::query_scalar!(
                    "SELECT code FROM " + $table + " AS record WHERE NOT EXISTS
                         (SELECT 1 FROM register WHERE register.kind = ? AND register.code = record.code)
                     LIMIT ?",
                    kind,
                    MAX_NAMED
                )
                .fetch_all(&mut *db)
                .await?;
                found.extend(codes.into_iter().map(|code| Unregistered { kind, code }));
            })+
            Ok(found)
        }

        /// Entries of the register whose record is not there.
        pub async fn entries_without_record(
            db: &mut SqliteConnection,
        ) -> Result<Vec<Unregistered>, StoreError> {
            let mut found = Vec::new();
            $({
                let kind = Kind::$kind;
                let codes = sqlx::query_scalar!(
                    "SELECT code FROM register WHERE kind = ? AND NOT EXISTS
                         (SELECT 1 FROM " + $table + " AS record WHERE record.code = register.code)
                     LIMIT ?",
                    kind,
                    MAX_NAMED
                )
                .fetch_all(&mut *db)
                .await?;
                found.extend(codes.into_iter().map(|code| Unregistered { kind, code }));
            })+
            Ok(found)
        }
    };
}

register_and! {
    Flight in "flight", Worksite in "worksite", Family in "family", Position in "position", Unit in "unit", Technique in "technique", Tool in "tool", Excursion in "excursion", Task in "task", Link in "link", Slot in "slot", Attempt in "attempt", Deferral in "deferral", Closure in "closure", Parking in "parking", Reopening in "reopening", Cause in "cause", Finding in "finding", Remedy in "remedy", Exemption in "exemption", Decline in "decline", Revision in "revision", Rehearsal in "rehearsal", OutsideItem in "outside_item", Constraint in "vehicle_constraint", ExcursionTool in "excursion_tool", Route in "route", File in "file", View in "view",
}

/// A record whose version is not the number of times that the log saw it written.
#[derive(Debug, Clone)]
pub struct Unlogged {
    pub kind: Kind,
    pub code: String,
    pub version: i64,
    pub logged: i64,
}

/// The kinds of cause with which a record begins were written by no person. What is taken back
/// leaves the register, and its code may be given anew: only what the log
/// says after that counts. Saved views are their person's and stand in no log.
pub async fn versions_unlogged(db: &mut SqliteConnection) -> Result<Vec<Unlogged>, StoreError> {
    Ok(sqlx::query_as!(
        Unlogged,
        r#"SELECT kind AS "kind!: Kind", code AS "code!: String", version AS "version!: i64",
               logged AS "logged!: i64"
           FROM (SELECT kind, code, version,
                   (SELECT COUNT(*) FROM change
                    WHERE change.kind = register.kind AND change.code = register.code
                        AND change.action IN ('made', 'changed', 'renamed',
                            'made because it was named')
                        AND change.seq > COALESCE((SELECT MAX(back.seq) FROM change AS back
                            WHERE back.kind = register.kind AND back.code = register.code
                                AND back.action IN ('taken back', 'given another code')), 0))
                   + (kind = 'cause' AND made_by = 'holdover') AS logged
               FROM register WHERE kind <> 'view')
           WHERE logged <> version LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}

/// An attempt that cannot have been as it is recorded.
#[derive(Debug, Clone)]
pub struct Impossible {
    pub attempt: AttemptCode,
    pub why: String,
}

/// Attempts before their task was opened, outside the flight of their excursion, by a technique of
/// another family, from a side that the task lacks, or longer than their excursion. The rule is
/// `domain::plausible`.
pub async fn impossible_attempts(db: &mut SqliteConnection) -> Result<Vec<Impossible>, StoreError> {
    Ok(sqlx::query_as!(
        Impossible,
        r#"SELECT attempt AS "attempt!: AttemptCode", why AS "why!: String" FROM (
               SELECT attempt.code AS attempt, CASE
                   WHEN excursion.day < task.opened
                       AND task.from_excursion IS NOT attempt.excursion
                       THEN 'lies before ' || task.code || ' was opened'
                   WHEN excursion.day < flight.launch OR excursion.day > flight.landing
                       THEN 'lies outside the flight ' || flight.code
                   WHEN technique.family <> task.family AND technique.task IS NOT task.code
                       THEN 'is by ' || technique.code || ', a technique of another family'
                   WHEN attempt.side IS NOT NULL AND task.sides <> ''
                       AND instr(', ' || task.sides || ', ', ', ' || attempt.side || ', ') = 0
                       THEN 'is from ' || attempt.side || ', a side that ' || task.code || ' lacks'
                   WHEN attempt.minutes > coalesce(excursion.actual,
                           max(coalesce(excursion."limit", excursion.planned),
                               coalesce(excursion.planned, excursion."limit")), 720)
                       THEN 'is longer than ' || excursion.code
                   END AS why
               FROM attempt JOIN task ON task.code = attempt.task
               JOIN excursion ON excursion.code = attempt.excursion
               LEFT JOIN flight ON flight.code = excursion.flight
               LEFT JOIN technique ON technique.code = attempt.technique)
           WHERE why IS NOT NULL ORDER BY attempt LIMIT ?"#,
        MAX_NAMED
    )
    .fetch_all(db)
    .await?)
}
