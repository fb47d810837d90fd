//! Slots: a task's place on an excursion.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::Line;
use domain::codes::{ExcursionCode, Own, SlotCode, TaskCode, TechniqueCode};
use domain::fallbacks::Fallbacks;
use domain::seats::Seats;
use domain::sides::Side;
use domain::slots::Slot;
use domain::time::Day;
use domain::units::{Minutes, Pet, Share};
use domain::words::SlotState;

macro_rules! slot_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Slot,
            r#"SELECT code AS "code: Own<SlotCode>", task AS "task: TaskCode",
                   excursion AS "excursion: ExcursionCode",
                   technique AS "technique: TechniqueCode", side AS "side: Side",
                   seats AS "seats: Seats", place, state AS "state: SlotState",
                   share AS "share: Share", not_before AS "not_before: Pet",
                   stopping_point AS "stopping_point: Line",
                   stopping_share AS "stopping_share: Share",
                   if_it_fails AS "if_it_fails: Line", fallbacks AS "fallbacks: Fallbacks",
                   must_do AS "must_do: bool",
                   set_on AS "set_on: Day", optimistic AS "optimistic: Minutes",
                   likely AS "likely: Minutes", pessimistic AS "pessimistic: Minutes",
                   estimator AS "estimator: Line", waived_gate AS "waived_gate: Line",
                   waiver AS "waiver: Line"
               FROM slot "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Slot, slot_rows,
    "INSERT INTO slot (code, task, excursion, technique, side, seats, place, state, share,
         stopping_point, if_it_fails, must_do, set_on, optimistic, likely, pessimistic,
         estimator, waived_gate, waiver, stopping_share, fallbacks, not_before)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19,
         ?20, ?21, ?22)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, excursion = excluded.excursion,
         technique = excluded.technique, side = excluded.side, seats = excluded.seats,
         place = excluded.place, state = excluded.state, share = excluded.share,
         not_before = excluded.not_before,
         stopping_point = excluded.stopping_point, if_it_fails = excluded.if_it_fails,
         must_do = excluded.must_do, set_on = excluded.set_on, optimistic = excluded.optimistic,
         likely = excluded.likely, pessimistic = excluded.pessimistic,
         estimator = excluded.estimator, waived_gate = excluded.waived_gate,
         waiver = excluded.waiver, stopping_share = excluded.stopping_share,
         fallbacks = excluded.fallbacks, not_before = excluded.not_before",
    code, task, excursion, technique, side, seats, place, state, share, stopping_point,
    if_it_fails, must_do, set_on, optimistic, likely, pessimistic, estimator, waived_gate, waiver,
    stopping_share, fallbacks, not_before
}

/// All slots of a task, withdrawn ones too.
pub async fn of_task(db: &mut SqliteConnection, task: &TaskCode) -> Result<Vec<Slot>, StoreError> {
    Ok(slot_rows!("WHERE task = ? ORDER BY code", task).fetch_all(db).await?)
}

/// All slots of an excursion in the order in which they are to be worked; those without a place
/// come last.
pub async fn of_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<Slot>, StoreError> {
    Ok(slot_rows!("WHERE excursion = ? ORDER BY place IS NULL, place, code", excursion)
        .fetch_all(db)
        .await?)
}

/// All slots of these excursions, those of each in the order in which they are to be worked.
pub async fn of_excursions(
    db: &mut SqliteConnection,
    excursions: &[ExcursionCode],
) -> Result<Vec<Slot>, StoreError> {
    let excursions = json_array(excursions.iter().map(ExcursionCode::as_str));
    Ok(slot_rows!(
        "WHERE excursion IN (SELECT value FROM json_each(?))
               ORDER BY excursion, place IS NULL, place, code",
        excursions
    )
    .fetch_all(db)
    .await?)
}

/// The slots that a task holds now: pencilled or set.
pub async fn live_of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Slot>, StoreError> {
    Ok(slot_rows!("WHERE task = ? AND state IN ('pencilled', 'set') ORDER BY code", task)
        .fetch_all(db)
        .await?)
}

/// The slots that these tasks hold now.
pub async fn live_of_tasks(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<Slot>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(slot_rows!(
        "WHERE task IN (SELECT value FROM json_each(?)) AND state IN ('pencilled', 'set')
               ORDER BY code",
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The pencilled and set slots of every planned excursion, in the order of each.
pub async fn coming_slots(db: &mut SqliteConnection) -> Result<Vec<Slot>, StoreError> {
    Ok(slot_rows!(
        "WHERE state IN ('pencilled', 'set')
                   AND excursion IN (SELECT code FROM excursion WHERE state = 'planned')
               ORDER BY excursion, place IS NULL, place, code"
    )
    .fetch_all(db)
    .await?)
}
