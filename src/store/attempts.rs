//! Attempts, with the position at which each was made.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::attempts::Attempt;
use domain::cells::{Line, List, Prose};
use domain::codes::{
    AttemptCode, CauseCode, ExcursionCode, FlightCode, OutsideCode, Own, SlotCode, TaskCode,
    TechniqueCode, ToolCode, UnitCode, WorksiteCode,
};
use domain::confirmations::Confirmation;
use domain::history::StatedAmount;
use domain::kinds::Kind;
use domain::quantities::Measured;
use domain::seats::Seats;
use domain::sides::Side;
use domain::time::Day;
use domain::units::{Celsius, Hours, Minutes, Pet, Share};
use domain::words::{FunctionAfter, LightingThen, Outcome, OutsideAfter};

macro_rules! attempt_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Attempt,
            r#"SELECT code AS "code: Own<AttemptCode>", task AS "task: TaskCode",
                   excursion AS "excursion: ExcursionCode", slot AS "slot: SlotCode",
                   seats AS "seats: Seats", technique AS "technique: TechniqueCode", revision,
                   side AS "side: Side", pet_start AS "pet_start: Pet",
                   pet_end AS "pet_end: Pet", minutes AS "minutes: Minutes",
                   outcome AS "outcome: Outcome", left_after AS "left_after: Share",
                   share AS "share: Share", planned_share AS "planned_share: Share", cause AS "cause: CauseCode",
                   words AS "words: Prose", symptom AS "symptom: Line",
                   indications AS "indications: Line", tried AS "tried: List<Prose>",
                   lighting AS "lighting: LightingThen", temperature AS "temperature: Celsius",
                   time_left AS "time_left: Minutes", operated AS "operated: Hours", measured AS "measured: List<Measured>",
                   last_step AS "last_step: Line", as_left AS "as_left: Prose",
                   safe_until AS "safe_until: Day",
                   safe_until_flight AS "safe_until_flight: FlightCode",
                   forbids AS "forbids: Line", temporary AS "temporary: Line",
                   outside_after AS "outside_after: OutsideAfter",
                   outside_items AS "outside_items: List<OutsideCode>",
                   function_after AS "function_after: FunctionAfter",
                   tools AS "tools: List<ToolCode>", unit AS "unit: UnitCode",
                   serial AS "serial: Line", worksite AS "worksite: WorksiteCode",
                   came_out AS "came_out: Line", went_in AS "went_in: Line",
                   cut_off AS "cut_off: Minutes", recorded_by AS "recorded_by: Line",
                   confirmed AS "confirmed: Confirmation"
               FROM attempt "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Attempt, attempt_rows,
    "INSERT INTO attempt (code, task, excursion, slot, seats, technique, revision, side,
         pet_start, pet_end, minutes, outcome, share, planned_share, cause, words, measured,
         last_step, as_left, safe_until, safe_until_flight, forbids, temporary, function_after,
         tools, unit, serial, worksite, cut_off, recorded_by, outside_after, outside_items, symptom,
         indications, tried, lighting, temperature, time_left, operated, confirmed, came_out,
         went_in, left_after, position)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18,
         ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29, ?30, ?31, ?32, ?33, ?34, ?35,
         ?36, ?37, ?38, ?39, ?40, ?41, ?42, ?43,
         (SELECT position FROM task WHERE code = ?2))
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, excursion = excluded.excursion,
         slot = excluded.slot, seats = excluded.seats, technique = excluded.technique,
         revision = excluded.revision, side = excluded.side, pet_start = excluded.pet_start,
         pet_end = excluded.pet_end, minutes = excluded.minutes, outcome = excluded.outcome,
         share = excluded.share, planned_share = excluded.planned_share, cause = excluded.cause,
         words = excluded.words, measured = excluded.measured, last_step = excluded.last_step,
         as_left = excluded.as_left, safe_until = excluded.safe_until,
         safe_until_flight = excluded.safe_until_flight, forbids = excluded.forbids,
         temporary = excluded.temporary, function_after = excluded.function_after,
         tools = excluded.tools, unit = excluded.unit, serial = excluded.serial,
         worksite = excluded.worksite, cut_off = excluded.cut_off,
         recorded_by = excluded.recorded_by, outside_after = excluded.outside_after,
         outside_items = excluded.outside_items, symptom = excluded.symptom,
         indications = excluded.indications, tried = excluded.tried,
         lighting = excluded.lighting, temperature = excluded.temperature,
         time_left = excluded.time_left, operated = excluded.operated,
         confirmed = excluded.confirmed, came_out = excluded.came_out,
         went_in = excluded.went_in,
         position = CASE WHEN attempt.task = excluded.task THEN attempt.position
             ELSE excluded.position END,
         left_after = excluded.left_after",
    code, task, excursion, slot, seats, technique, revision, side, pet_start, pet_end, minutes,
    outcome, share, planned_share, cause, words, measured, last_step, as_left, safe_until,
    safe_until_flight, forbids, temporary, function_after, tools, unit, serial, worksite,
    cut_off, recorded_by, outside_after, outside_items, symptom, indications, tried, lighting,
    temperature, time_left, operated, confirmed, came_out, went_in, left_after
}

/// Every record that names an attempt, so that it cannot be withdrawn: its kind and code.
pub async fn named_by(
    db: &mut SqliteConnection,
    attempt: &AttemptCode,
) -> Result<Vec<(Kind, String)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT 'finding' AS "kind!: Kind", finding AS "code!: String"
               FROM finding_attempt WHERE attempt = ?1
           UNION ALL SELECT 'remedy', remedy FROM remedy_attempt WHERE attempt = ?1
           UNION ALL SELECT 'outside item', code FROM outside_item WHERE left_by = ?1
           UNION ALL SELECT 'file', code FROM file WHERE attempt = ?1
           UNION ALL SELECT 'declined offer', code FROM decline WHERE attempt = ?1
           UNION ALL SELECT 'exemption', code FROM exemption
               WHERE instr(', ' || attempts || ', ', ', ' || ?1 || ', ') > 0
           UNION ALL SELECT 'revision', code FROM revision
               WHERE instr(', ' || answers || ', ', ', ' || ?1 || ', ') > 0"#,
        attempt
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.kind, row.code)).collect())
}

/// The day of each of these attempts, where its excursion has one.
pub async fn days(
    db: &mut SqliteConnection,
    codes: &[AttemptCode],
) -> Result<Vec<(AttemptCode, Option<Day>)>, StoreError> {
    let codes = json_array(codes.iter().map(AttemptCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT attempt.code AS "code!: AttemptCode", excursion.day AS "day: Day"
           FROM json_each(?) AS asked CROSS JOIN attempt ON attempt.code = asked.value
               JOIN excursion ON excursion.code = attempt.excursion
           ORDER BY attempt.code"#,
        codes
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.code, row.day)).collect())
}

/// The attempts at a task in the order in which they were entered under their codes; the order
/// in which they happened is `domain::history`'s.
pub async fn of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Attempt>, StoreError> {
    Ok(attempt_rows!("WHERE task = ? ORDER BY code", task).fetch_all(db).await?)
}

/// The attempts of an excursion by PET; those without one come last.
pub async fn of_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<Attempt>, StoreError> {
    Ok(attempt_rows!("WHERE excursion = ? ORDER BY pet_start IS NULL, pet_start, code", excursion)
        .fetch_all(db)
        .await?)
}

/// How the slots of these excursions came out, one row an attempt.
pub async fn outcomes_of_slots(
    db: &mut SqliteConnection,
    excursions: &[ExcursionCode],
) -> Result<Vec<(SlotCode, Outcome)>, StoreError> {
    let excursions = json_array(excursions.iter().map(ExcursionCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT slot AS "slot!: SlotCode", outcome AS "outcome: Outcome" FROM attempt
           WHERE excursion IN (SELECT value FROM json_each(?)) AND slot IS NOT NULL"#,
        excursions
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.slot, row.outcome)).collect())
}

/// The results that a slot has.
pub async fn of_slot(
    db: &mut SqliteConnection,
    slot: &SlotCode,
) -> Result<Vec<Attempt>, StoreError> {
    Ok(attempt_rows!("WHERE slot = ? ORDER BY pet_start IS NULL, pet_start, code", slot)
        .fetch_all(db)
        .await?)
}

/// An attempt as the pages of its technique show it: a technique may have been tried ten thousand
/// times.
#[derive(Debug, Clone)]
pub struct TriedBy {
    pub code: AttemptCode,
    pub task: TaskCode,
    pub excursion: ExcursionCode,
    pub revision: Option<i64>,
    pub side: Option<Side>,
    pub pet_start: Option<Pet>,
    pub minutes: Option<Minutes>,
    pub outcome: Outcome,
    pub left_after: Option<Share>,
    pub share: Option<Share>,
    pub unit: Option<UnitCode>,
    pub serial: Option<Line>,
    /// The first line of what was said.
    pub words: String,
}

impl TriedBy {
    /// What it says about the amount of work.
    pub fn said(&self) -> Option<StatedAmount> {
        StatedAmount::of(self.left_after, self.share)
    }
}

/// The attempts by a technique, in the order of their codes.
pub async fn by_technique(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
) -> Result<Vec<TriedBy>, StoreError> {
    Ok(sqlx::query_as!(
        TriedBy,
        r#"SELECT code AS "code: AttemptCode", task AS "task: TaskCode",
               excursion AS "excursion: ExcursionCode", revision, side AS "side: Side",
               pet_start AS "pet_start: Pet", minutes AS "minutes: Minutes",
               outcome AS "outcome: Outcome", left_after AS "left_after: Share",
               share AS "share: Share", unit AS "unit: UnitCode", serial AS "serial: Line",
               CASE instr(words, char(10)) WHEN 0 THEN words
                   ELSE rtrim(substr(words, 1, instr(words, char(10)) - 1), char(13)) END
                   AS "words!: String"
           FROM attempt WHERE technique = ? ORDER BY code"#,
        technique
    )
    .fetch_all(db)
    .await?)
}

/// The tasks that this approach ended done, each with the excursion.
pub async fn done_by(
    db: &mut SqliteConnection,
    technique: &TechniqueCode,
    side: Option<&Side>,
) -> Result<Vec<(TaskCode, ExcursionCode)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT task AS "task: TaskCode", excursion AS "excursion: ExcursionCode" FROM attempt
           WHERE technique = ? AND side IS ? AND outcome = 'done' ORDER BY task"#,
        technique,
        side
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.task, row.excursion)).collect())
}

/// How many attempts by a technique from a side ended so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    pub technique: TechniqueCode,
    pub side: Option<Side>,
    pub outcome: Outcome,
    pub count: i64,
}

/// The attempts by these techniques, counted by side and outcome.
pub async fn tallies(
    db: &mut SqliteConnection,
    techniques: &[TechniqueCode],
) -> Result<Vec<Tally>, StoreError> {
    let techniques = json_array(techniques.iter().map(TechniqueCode::as_str));
    Ok(sqlx::query_as!(
        Tally,
        r#"SELECT technique AS "technique!: TechniqueCode", side AS "side: Side",
                  outcome AS "outcome: Outcome", COUNT(*) AS "count!: i64"
           FROM attempt WHERE technique IN (SELECT value FROM json_each(?))
           GROUP BY technique, side, outcome ORDER BY technique, side, outcome"#,
        techniques
    )
    .fetch_all(db)
    .await?)
}

/// The attempts at these tasks, in the order of their codes.
pub async fn of_tasks(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<Attempt>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(attempt_rows!("WHERE task IN (SELECT value FROM json_each(?)) ORDER BY code", tasks)
        .fetch_all(db)
        .await?)
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::{saved, world};
    use domain::tasks::Task;

    async fn position(db: &mut SqliteConnection) -> Option<String> {
        sqlx::query_scalar!("SELECT position FROM attempt WHERE code = 'A-9'")
            .fetch_one(db)
            .await
            .unwrap()
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn an_attempt_keeps_the_position_at_which_it_was_made(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        saved::<Task>(db, "code: T-9 | title: Swap it | position: P-1").await;
        let attempt = "code: A-9 | task: T-9 | excursion: E-1 | outcome: done";
        saved::<Attempt>(db, attempt).await;

        saved::<Task>(db, "code: T-9 | title: Swap it | position: P-2").await;
        saved::<Attempt>(db, attempt).await;

        assert_eq!(position(db).await.as_deref(), Some("P-1"));
    }
}
