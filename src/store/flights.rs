//! Flights, with the day by which they are ordered.

use sqlx::SqliteConnection;

use crate::{StoreError, kept};
use domain::cells::{Line, Prose};
use domain::codes::{FlightCode, Own};
use domain::flights::Flight;
use domain::time::Day;
use domain::words::FlightState;

macro_rules! flight_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Flight,
            r#"SELECT code AS "code: Own<FlightCode>", name AS "name: Line",
                   launch AS "launch: Day", landing AS "landing: Day", sequence,
                   state AS "state: FlightState", notes AS "notes: Prose"
               FROM flight "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Flight, flight_rows,
    "INSERT INTO flight (code, name, launch, landing, sequence, state, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
     ON CONFLICT (code) DO UPDATE SET name = excluded.name, launch = excluded.launch,
         landing = excluded.landing, sequence = excluded.sequence, state = excluded.state,
         notes = excluded.notes",
    code, name, launch, landing, sequence, state, notes
}

/// A flight as the order of flights shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FlightRow {
    pub code: FlightCode,
    pub name: Option<Line>,
    pub launch: Option<Day>,
    pub landing: Option<Day>,
    pub state: FlightState,
    /// The day that decides the order; `0000-00-00` and `9999-12-31` where nobody knows it.
    pub order_day: String,
    pub sequence: Option<i64>,
}

/// All flights, the earliest first. A flight's place in this list is its rank.
pub async fn in_order(db: &mut SqliteConnection) -> Result<Vec<FlightRow>, StoreError> {
    Ok(sqlx::query_as!(
        FlightRow,
        r#"SELECT code AS "code: FlightCode", name AS "name: Line", launch AS "launch: Day",
               landing AS "landing: Day", state AS "state: FlightState", order_day, sequence
           FROM flight ORDER BY order_day, sequence, code"#
    )
    .fetch_all(db)
    .await?)
}

/// The flights that have not landed by the record although their landing date has passed.
pub async fn past_landing(
    db: &mut SqliteConnection,
    today: Day,
) -> Result<Vec<FlightRow>, StoreError> {
    Ok(sqlx::query_as!(
        FlightRow,
        r#"SELECT code AS "code: FlightCode", name AS "name: Line", launch AS "launch: Day",
               landing AS "landing: Day", state AS "state: FlightState", order_day, sequence
           FROM flight WHERE state IN ('coming', 'under way') AND landing < ?
           ORDER BY landing, code"#,
        today
    )
    .fetch_all(db)
    .await?)
}

/// Derives the day by which a flight is ordered: its launch, else its first excursion, else after
/// all others while it is to come and before all others once it is over.
pub async fn save_order_day(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE flight SET order_day = COALESCE(launch,
             (SELECT MIN(day) FROM excursion WHERE excursion.flight = flight.code),
             CASE WHEN state IN ('coming', 'under way') THEN '9999-12-31' ELSE '0000-00-00' END)
         WHERE code = ?",
        flight
    )
    .execute(db)
    .await?;
    Ok(())
}
