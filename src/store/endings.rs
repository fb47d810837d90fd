//! The events of a task that are no attempts.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, Prose};
use domain::codes::{
    ClosureCode, DeferralCode, ExcursionCode, FlightCode, Own, ParkingCode, ReopeningCode,
    SlotCode, TaskCode,
};
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::time::Day;
use domain::units::Share;
use domain::words::{ClosureKind, DeferralPhase, DeferralReason};

macro_rules! deferral_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Deferral,
            r#"SELECT code AS "code: Own<DeferralCode>", task AS "task: TaskCode",
                   excursion AS "excursion: ExcursionCode", slot AS "slot: SlotCode",
                   phase AS "phase: DeferralPhase", reason AS "reason: DeferralReason",
                   words AS "words: Prose", decided_by AS "decided_by: Line",
                   to_excursion AS "to_excursion: ExcursionCode", day AS "day: Day"
               FROM deferral "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Deferral, deferral_rows,
    "INSERT INTO deferral (code, task, excursion, slot, phase, reason, words, decided_by,
         to_excursion, day)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, excursion = excluded.excursion,
         slot = excluded.slot, phase = excluded.phase, reason = excluded.reason,
         words = excluded.words, decided_by = excluded.decided_by,
         to_excursion = excluded.to_excursion, day = excluded.day",
    code, task, excursion, slot, phase, reason, words, decided_by, to_excursion, day
}

macro_rules! closure_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Closure,
            r#"SELECT code AS "code: Own<ClosureCode>", task AS "task: TaskCode",
                   kind AS "kind: ClosureKind", duplicate_of AS "duplicate_of: TaskCode",
                   words AS "words: Prose", evidence AS "evidence: Prose", day AS "day: Day"
               FROM closure "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Closure, closure_rows,
    "INSERT INTO closure (code, task, kind, duplicate_of, words, evidence, day)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, kind = excluded.kind,
         duplicate_of = excluded.duplicate_of, words = excluded.words,
         evidence = excluded.evidence, day = excluded.day",
    code, task, kind, duplicate_of, words, evidence, day
}

macro_rules! parking_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Parking,
            r#"SELECT code AS "code: Own<ParkingCode>", task AS "task: TaskCode",
                   why AS "why: Line", until_day AS "until_day: Day",
                   until_flight AS "until_flight: FlightCode", day AS "day: Day"
               FROM parking "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Parking, parking_rows,
    "INSERT INTO parking (code, task, why, until_day, until_flight, day)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, why = excluded.why,
         until_day = excluded.until_day, until_flight = excluded.until_flight, day = excluded.day",
    code, task, why, until_day, until_flight, day
}

macro_rules! reopening_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Reopening,
            r#"SELECT code AS "code: Own<ReopeningCode>", task AS "task: TaskCode",
                   share_left AS "share_left: Share", words AS "words: Line", day AS "day: Day"
               FROM reopening "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Reopening, reopening_rows,
    "INSERT INTO reopening (code, task, share_left, words, day)
     VALUES (?1, ?2, ?3, ?4, ?5)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, share_left = excluded.share_left,
         words = excluded.words, day = excluded.day",
    code, task, share_left, words, day
}

pub async fn deferrals_of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Deferral>, StoreError> {
    Ok(deferral_rows!("WHERE task = ? ORDER BY code", task).fetch_all(db).await?)
}

pub async fn closures_of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Closure>, StoreError> {
    Ok(closure_rows!("WHERE task = ? ORDER BY code", task).fetch_all(db).await?)
}

pub async fn parkings_of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Parking>, StoreError> {
    Ok(parking_rows!("WHERE task = ? ORDER BY code", task).fetch_all(db).await?)
}

pub async fn reopenings_of_task(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<Reopening>, StoreError> {
    Ok(reopening_rows!("WHERE task = ? ORDER BY code", task).fetch_all(db).await?)
}

/// What was taken off an excursion.
pub async fn deferrals_of_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<Deferral>, StoreError> {
    Ok(deferral_rows!("WHERE excursion = ? ORDER BY code", excursion).fetch_all(db).await?)
}

/// The slots of these excursions that were given up once their flight was under way.
pub async fn given_up_on(
    db: &mut SqliteConnection,
    excursions: &[ExcursionCode],
) -> Result<Vec<SlotCode>, StoreError> {
    let excursions = json_array(excursions.iter().map(ExcursionCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT slot AS "slot!: SlotCode" FROM deferral
           WHERE excursion IN (SELECT value FROM json_each(?1)) AND slot IS NOT NULL AND phase = ?2"#,
        excursions,
        DeferralPhase::During
    )
    .fetch_all(db)
    .await?)
}
