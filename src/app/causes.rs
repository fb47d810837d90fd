//! What stops work, counted for its page: ranked, and over the flights that were flown last.

use std::sync::Arc;

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::{Failure, Reader};
use domain::codes::FlightCode;
use domain::words::CountedBy;
use domain::words::FlightState;
use store::causes::{self, Counted, OnFlight};
use store::events::Filter;
use store::flights;

/// Rows of the ranked list.
const ROWS: i64 = 15;
/// The last flights over which the counts are followed.
const FLIGHTS: usize = 12;

#[derive(Debug)]
pub struct Causes {
    pub ranked: Vec<Counted>,
    /// By what the rows over the flights are counted: as the list, or by group where that is by flight.
    pub rows_by: CountedBy,
    pub rows: Vec<Counted>,
    /// The oldest first.
    pub flights: Vec<FlightCode>,
    pub over_flights: Vec<OnFlight>,
}

/// Read once for all who read the same state of the record.
#[boxed]
pub async fn seen(db: &mut Reader, by: CountedBy, filter: &Filter) -> Result<Arc<Causes>, Failure> {
    let place = db.place(format!("{by} {filter:?}"));
    let causes = place.get_or_try_init(|| async { read(db, by, filter).await.map(Arc::new) });
    causes.await.cloned()
}

async fn read(
    db: &mut SqliteConnection,
    by: CountedBy,
    filter: &Filter,
) -> Result<Causes, Failure> {
    let ranked = causes::ranked(db, by, filter, ROWS).await?;
    let rows_by = if by == CountedBy::Flight { CountedBy::Group } else { by };
    let rows = if rows_by == by {
        ranked.clone()
    } else {
        causes::ranked(db, rows_by, filter, ROWS).await?
    };
    let mut last: Vec<FlightCode> = flights::in_order(db)
        .await?
        .into_iter()
        .filter(|flight| matches!(flight.state, FlightState::Flown | FlightState::UnderWay))
        .rev()
        .map(|flight| flight.code)
        .filter(|flight| filter.flight.as_ref().is_none_or(|asked| flight.as_str() == asked))
        .take(FLIGHTS)
        .collect();
    last.reverse();
    let over_flights = causes::over_flights(db, rows_by, filter, &last).await?;
    Ok(Causes { ranked, rows_by, rows, flights: last, over_flights })
}
