//! Excursions as the order of events needs them: flight, number, day, how far they have come.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::{ExcursionCode, FlightCode};
use domain::time::Day;
use domain::words::ExcursionState;

/// One excursion, thin: there may be thousands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExcursionRow {
    pub code: ExcursionCode,
    pub flight: Option<FlightCode>,
    pub number: Option<i64>,
    pub day: Option<Day>,
    pub state: ExcursionState,
    pub is_closed: bool,
}

/// All excursions, those of one flight together and by date. One without a date comes where its
/// number puts it.
pub async fn excursions(db: &mut SqliteConnection) -> Result<Vec<ExcursionRow>, StoreError> {
    Ok(sqlx::query_as!(
        ExcursionRow,
        r#"SELECT code AS "code: ExcursionCode", flight AS "flight: FlightCode", number,
               day AS "day: Day", state AS "state: ExcursionState",
               closed_at IS NOT NULL AS "is_closed!: bool"
           FROM excursion ORDER BY flight, COALESCE(day, (SELECT MAX(e.day) FROM excursion AS e
               WHERE e.flight = excursion.flight AND e.number < excursion.number), ''),
               number, code"#
    )
    .fetch_all(db)
    .await?)
}
