//! Counts over a period: how attempts ended, why tasks were deferred, how long work took.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::time::Day;
use domain::words::{DeferralReason, Outcome};

/// A period; `None` is open at that end.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Period {
    pub from: Option<Day>,
    pub until: Option<Day>,
}

pub async fn outcomes(
    db: &mut SqliteConnection,
    period: Period,
) -> Result<Vec<(Outcome, i64)>, StoreError> {
    let rows = sqlx::query!(
        // Counted along the index first, so that an excursion is looked up once and not once an attempt.
        r#"SELECT few.outcome AS "outcome!: Outcome", SUM(few.times) AS "count!: i64"
           FROM (SELECT excursion, outcome, COUNT(*) AS times FROM attempt
                 GROUP BY excursion, outcome) AS few
               JOIN excursion ON excursion.code = few.excursion
           WHERE (?1 IS NULL OR excursion.day >= ?1) AND (?2 IS NULL OR excursion.day <= ?2)
           GROUP BY few.outcome ORDER BY 2 DESC, 1"#,
        period.from,
        period.until
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.outcome, row.count)).collect())
}

/// What stopped attempts, by the words of the cause that decides.
pub async fn causes(
    db: &mut SqliteConnection,
    period: Period,
) -> Result<Vec<(String, i64)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT cause.words AS "words!: String", SUM(few.times) AS "count!: i64"
           FROM (SELECT told_cause, excursion, COUNT(*) AS times FROM attempt
                 WHERE told_cause IS NOT NULL GROUP BY told_cause, excursion) AS few
               JOIN excursion ON excursion.code = few.excursion
               JOIN cause ON cause.code = few.told_cause
           WHERE (?1 IS NULL OR excursion.day >= ?1) AND (?2 IS NULL OR excursion.day <= ?2)
           GROUP BY cause.code ORDER BY 2 DESC, 1"#,
        period.from,
        period.until
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.words, row.count)).collect())
}

pub async fn deferrals(
    db: &mut SqliteConnection,
    period: Period,
) -> Result<Vec<(DeferralReason, i64)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT deferral.reason AS "reason!: DeferralReason", COUNT(*) AS "count!: i64"
           FROM deferral JOIN excursion ON excursion.code = deferral.excursion
           WHERE (?1 IS NULL OR COALESCE(deferral.day, excursion.day) >= ?1)
               AND (?2 IS NULL OR COALESCE(deferral.day, excursion.day) <= ?2)
           GROUP BY deferral.reason ORDER BY 2 DESC, 1"#,
        period.from,
        period.until
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.reason, row.count)).collect())
}

/// Open items by the number of flights over which they were carried.
pub async fn carried(db: &mut SqliteConnection) -> Result<Vec<(i64, i64)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT carry_count AS "carried!: i64", COUNT(*) AS "count!: i64"
           FROM standing WHERE is_open = 1 GROUP BY carry_count ORDER BY carry_count"#
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.carried, row.count)).collect())
}

/// Days since each open item was opened, where that is known.
pub async fn open_since(db: &mut SqliteConnection) -> Result<Vec<Option<Day>>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT task.opened AS "opened: Day" FROM standing JOIN task ON task.code = standing.task
           WHERE standing.is_open = 1"#
    )
    .fetch_all(db)
    .await?)
}

/// Of each task that ended done in the period: the likely minutes when its last slot was set, beside
/// the minutes of all its attempts since the first one after it was opened again.
pub async fn minutes(
    db: &mut SqliteConnection,
    period: Period,
) -> Result<Vec<(i64, i64)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT slot.likely AS "planned!: i64",
               (SELECT SUM(other.minutes) FROM attempt AS other
                    JOIN excursion AS there ON there.code = other.excursion
                WHERE other.task = attempt.task
                    AND (there.day < excursion.day OR there.code = excursion.code)
                    AND there.day > COALESCE((SELECT MAX(ended.day) FROM attempt AS earlier
                            JOIN excursion AS ended ON ended.code = earlier.excursion
                        WHERE earlier.task = attempt.task AND earlier.outcome = 'done'
                            AND ended.day < excursion.day), '')) AS "actual!: i64"
           FROM attempt JOIN slot ON slot.code = attempt.slot
               JOIN excursion ON excursion.code = attempt.excursion
           WHERE attempt.outcome = 'done' AND slot.likely > 0 AND attempt.minutes IS NOT NULL
               AND (?1 IS NULL OR excursion.day >= ?1) AND (?2 IS NULL OR excursion.day <= ?2)"#,
        period.from,
        period.until
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.planned, row.actual)).collect())
}

/// A waiver with the slot that it was written for.
#[derive(Debug, Clone)]
pub struct WaiverRow {
    pub slot: String,
    pub task: String,
    pub excursion: String,
    pub gate: String,
    pub reason: String,
    pub who: String,
    pub at: domain::time::Moment,
}

/// Every waiver there is, the latest first.
pub async fn waivers(db: &mut SqliteConnection) -> Result<Vec<WaiverRow>, StoreError> {
    Ok(sqlx::query_as!(
        WaiverRow,
        r#"SELECT waiver.slot, slot.task, slot.excursion, waiver.gate, waiver.reason, waiver.who,
               waiver.at AS "at: domain::time::Moment"
           FROM waiver JOIN slot ON slot.code = waiver.slot ORDER BY waiver.at DESC, waiver.slot"#
    )
    .fetch_all(db)
    .await?)
}

/// A judgement by a second person.
#[derive(Debug, Clone)]
pub struct SecondPerson {
    pub kind: String,
    pub code: String,
    pub author: Option<String>,
    pub by: String,
    pub day: Option<Day>,
    pub checked: Option<String>,
}

/// Every review, verification, clearance and lifting, the latest first.
pub async fn second_persons(db: &mut SqliteConnection) -> Result<Vec<SecondPerson>, StoreError> {
    Ok(sqlx::query_as!(
        SecondPerson,
        r#"SELECT kind AS "kind!: String", code AS "code!: String", author AS "author?: String",
               "by" AS "by!: String", day AS "day?: Day", checked AS "checked?: String" FROM (
               SELECT 'finding reviewed' AS kind, code, author, reviewed_by AS "by",
                   reviewed_on AS day, checked FROM finding WHERE reviewed_by IS NOT NULL
               UNION ALL SELECT 'remedy verified', code, owner, verified_by, verified_on, checked
                   FROM remedy WHERE state = 'verified' AND verified_by IS NOT NULL
               UNION ALL SELECT 'exemption reviewed', code, author, reviewed_by, reviewed_on,
                   checked FROM exemption WHERE reviewed_by IS NOT NULL
               UNION ALL SELECT 'revision cleared', code, author, cleared_by, cleared_on, checked
                   FROM revision WHERE cleared_by IS NOT NULL
               UNION ALL SELECT 'constraint lifted', code, author, lifted_by, lifted_on, checked
                   FROM vehicle_constraint WHERE lifted_by IS NOT NULL)
           ORDER BY day DESC, code"#
    )
    .fetch_all(db)
    .await?)
}

/// One event in the life of a unit.
#[derive(Debug, Clone)]
pub struct UnitEvent {
    pub day: Option<Day>,
    pub code: String,
    pub what: String,
    pub words: String,
}

/// The life of one unit, the earliest first: stays, swaps, slots and deferrals of the tasks at which
/// it was worked on or that are planned at its position, attempts, findings, remedies, constraints.
pub async fn story(db: &mut SqliteConnection, unit: &str) -> Result<Vec<UnitEvent>, StoreError> {
    Ok(sqlx::query_as!(
        UnitEvent,
        r#"WITH tried AS (SELECT code, task FROM attempt WHERE unit = ?1),
               of_it AS (SELECT task FROM tried UNION
                   SELECT task.code FROM task JOIN stay ON stay.position = task.position
                   WHERE stay.unit = ?1 AND stay.until_day IS NULL)
           SELECT day AS "day?: Day", code AS "code!: String", what AS "what!: String",
               words AS "words!: String" FROM (
               SELECT stay.from_day AS day, stay.position AS code, 'came to' AS what, '' AS words
                   FROM stay WHERE stay.unit = ?1
               UNION ALL SELECT stay.until_day, stay.position, 'left', ''
                   FROM stay WHERE stay.unit = ?1 AND stay.until_day IS NOT NULL
               UNION ALL SELECT excursion.day, attempt.code, attempt.outcome, attempt.words
                   FROM attempt JOIN excursion ON excursion.code = attempt.excursion
                   WHERE attempt.unit = ?1
               UNION ALL SELECT excursion.day, slot.code, 'slot ' || slot.state,
                   slot.task || ' on ' || slot.excursion
                   FROM slot JOIN excursion ON excursion.code = slot.excursion
                   WHERE slot.task IN (SELECT task FROM of_it)
               UNION ALL SELECT COALESCE(deferral.day, excursion.day), deferral.code, 'deferred',
                   deferral.task || ' from ' || deferral.excursion || ', ' || deferral.reason
                   FROM deferral JOIN excursion ON excursion.code = deferral.excursion
                   WHERE deferral.task IN (SELECT task FROM of_it)
               UNION ALL SELECT finding.written_on, finding.code, 'finding', finding.words
                   FROM finding WHERE finding.code IN (SELECT finding FROM finding_attempt
                       WHERE attempt IN (SELECT code FROM tried))
               UNION ALL SELECT COALESCE(remedy.verified_on, remedy.done_on, remedy.opened_on),
                   remedy.code, 'remedy ' || remedy.state, remedy.what
                   FROM remedy WHERE remedy.code IN (SELECT remedy FROM remedy_attempt
                       WHERE attempt IN (SELECT code FROM tried))
               UNION ALL SELECT vehicle_constraint.since, vehicle_constraint.code, 'constraint',
                   vehicle_constraint.forbidden
                   FROM vehicle_constraint WHERE vehicle_constraint.code IN
                       (SELECT vehicle_constraint FROM constraint_attempt
                        WHERE attempt IN (SELECT code FROM tried)))
           ORDER BY day IS NULL, day, code"#,
        unit
    )
    .fetch_all(db)
    .await?)
}
