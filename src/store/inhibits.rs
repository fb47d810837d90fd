//! Inhibits and what is arranged of them.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept, shelf};
use domain::cells::{Line, Prose};
use domain::codes::{ArrangementCode, ExcursionCode, InhibitCode, Own};
use domain::inhibits::{Arrangement, Inhibit};
use domain::units::{Minutes, Pet};
use domain::words::ArrangementState;

macro_rules! inhibit_rows {
    ($rest:literal $(+ $more:literal)* $(, $value:expr)*) => {
        sqlx::query_as!(
            Inhibit,
            r#"SELECT code AS "code: Own<InhibitCode>", what AS "what: Line",
                   owner AS "owner: Line", lead AS "lead: Minutes", cost AS "cost: Line",
                   notes AS "notes: Prose"
               FROM inhibit "# + $rest $(+ $more)*
            $(, $value)*
        )
    };
}

kept! {
    Inhibit, inhibit_rows,
    "INSERT INTO inhibit (code, what, owner, lead, cost, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6)
     ON CONFLICT (code) DO UPDATE SET what = excluded.what, owner = excluded.owner,
         lead = excluded.lead, cost = excluded.cost, notes = excluded.notes",
    code, what, owner, lead, cost, notes
}

macro_rules! arrangement_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Arrangement,
            r#"SELECT code AS "code: Own<ArrangementCode>", inhibit AS "inhibit: InhibitCode",
                   excursion AS "excursion: ExcursionCode", state AS "state: ArrangementState",
                   from_pet AS "from_pet: Pet", until_pet AS "until_pet: Pet",
                   notes AS "notes: Prose"
               FROM arrangement "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Arrangement, arrangement_rows,
    "INSERT INTO arrangement (code, inhibit, excursion, state, from_pet, until_pet, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
     ON CONFLICT (code) DO UPDATE SET inhibit = excluded.inhibit, excursion = excluded.excursion,
         state = excluded.state, from_pet = excluded.from_pet, until_pet = excluded.until_pet,
         notes = excluded.notes",
    code, inhibit, excursion, state, from_pet, until_pet, notes
}

/// What is arranged on these excursions.
pub async fn arranged_on(
    db: &mut SqliteConnection,
    excursions: &[ExcursionCode],
) -> Result<Vec<Arrangement>, StoreError> {
    let excursions = json_array(excursions.iter().map(ExcursionCode::as_str));
    Ok(arrangement_rows!(
        "WHERE excursion IN (SELECT value FROM json_each(?)) ORDER BY excursion, inhibit",
        excursions
    )
    .fetch_all(db)
    .await?)
}

/// What is arranged of one inhibit, and was.
pub async fn arranged_of(
    db: &mut SqliteConnection,
    inhibit: &InhibitCode,
) -> Result<Vec<Arrangement>, StoreError> {
    Ok(arrangement_rows!("WHERE inhibit = ? ORDER BY excursion", inhibit).fetch_all(db).await?)
}

/// The state of one inhibit on one excursion.
pub async fn of_both(
    db: &mut SqliteConnection,
    inhibit: &InhibitCode,
    excursion: &ExcursionCode,
) -> Result<Option<Arrangement>, StoreError> {
    Ok(arrangement_rows!("WHERE inhibit = ? AND excursion = ?", inhibit, excursion)
        .fetch_optional(db)
        .await?)
}

/// These inhibits, by code.
pub async fn these(
    db: &mut SqliteConnection,
    codes: &[InhibitCode],
) -> Result<Vec<Inhibit>, StoreError> {
    let codes = json_array(codes.iter().map(InhibitCode::as_str));
    Ok(inhibit_rows!("WHERE code IN (SELECT value FROM json_each(?)) ORDER BY code", codes)
        .fetch_all(db)
        .await?)
}

/// How many open items need each of these.
pub async fn open_that_need(
    db: &mut SqliteConnection,
    codes: &[InhibitCode],
) -> Result<Vec<(InhibitCode, i64)>, StoreError> {
    let codes = json_array(codes.iter().map(InhibitCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT task_inhibit.inhibit AS "inhibit!: InhibitCode", COUNT(*) AS "count!: i64"
           FROM task_inhibit JOIN standing ON standing.task = task_inhibit.task
           WHERE task_inhibit.inhibit IN (SELECT value FROM json_each(?)) AND standing.is_open
           GROUP BY task_inhibit.inhibit"#,
        codes
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.inhibit, row.count)).collect())
}

shelf! { Inhibit, inhibit_rows, "inhibit", "code || ' ' || what || ' ' || coalesce(owner, '')" }
