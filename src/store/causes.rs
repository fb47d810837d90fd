//! How often each cause stopped an attempt: by cause, group, technique, side, worksite or flight.

use sqlx::SqliteConnection;

use crate::events::Filter;
use crate::{StoreError, json_array};
use domain::codes::FlightCode;
use domain::words::CountedBy;

/// One row of the count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// Its code or word; empty where it was not recorded.
    pub key: String,
    /// The name that goes with a code.
    pub words: String,
    pub count: i64,
    /// How many attempts there are in all rows together, shown or not.
    pub total: i64,
    /// How many rows there are.
    pub rows: i64,
}

/// The commonest first, up to `most`. Each attempt counts once, by the cause that decides.
pub async fn ranked(
    db: &mut SqliteConnection,
    by: CountedBy,
    filter: &Filter,
    most: i64,
) -> Result<Vec<Counted>, StoreError> {
    Ok(sqlx::query_as!(
        Counted,
        r#"WITH stopped AS (
               SELECT CASE ?1 WHEN 'cause' THEN attempt.told_cause
                       WHEN 'group' THEN cause.cause_group
                       WHEN 'technique' THEN COALESCE(attempt.technique, '')
                       WHEN 'side' THEN COALESCE(attempt.side, '')
                       WHEN 'worksite' THEN COALESCE(attempt.worksite, '')
                       ELSE COALESCE(excursion.flight, '') END AS key
               FROM attempt JOIN cause ON cause.code = attempt.told_cause
                   JOIN excursion ON excursion.code = attempt.excursion
               WHERE attempt.told_cause IS NOT NULL
                   AND (?2 IS NULL OR attempt.told_cause = ?2)
                   AND (?3 IS NULL OR cause.cause_group = ?3)
                   AND (?4 IS NULL OR COALESCE(attempt.technique, '') = ?4)
                   AND (?5 IS NULL OR COALESCE(attempt.side, '') = ?5)
                   AND (?6 IS NULL OR COALESCE(attempt.worksite, '') = ?6)
                   AND (?7 IS NULL OR COALESCE(excursion.flight, '') = ?7)
           ), counted AS (SELECT key, COUNT(*) AS times FROM stopped GROUP BY key)
           SELECT key AS "key!: String", times AS "count!: i64",
               SUM(times) OVER () AS "total!: i64", COUNT(*) OVER () AS "rows!: i64",
               COALESCE(CASE ?1
                   WHEN 'cause' THEN (SELECT words FROM cause WHERE code = key)
                   WHEN 'technique' THEN (SELECT name FROM technique WHERE code = key)
                   WHEN 'worksite' THEN (SELECT name FROM worksite WHERE code = key)
                   WHEN 'flight' THEN (SELECT name FROM flight WHERE code = key) END, '')
                   AS "words!: String"
           FROM counted ORDER BY times DESC, key LIMIT ?8"#,
        by,
        filter.cause,
        filter.group,
        filter.technique,
        filter.side,
        filter.worksite,
        filter.flight,
        most
    )
    .fetch_all(db)
    .await?)
}

/// How often on one flight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnFlight {
    pub key: String,
    pub flight: FlightCode,
    pub count: i64,
}

/// The same counts flight by flight, for these flights alone.
pub async fn over_flights(
    db: &mut SqliteConnection,
    by: CountedBy,
    filter: &Filter,
    flights: &[FlightCode],
) -> Result<Vec<OnFlight>, StoreError> {
    let flights = json_array(flights.iter().map(FlightCode::as_str));
    Ok(sqlx::query_as!(
        OnFlight,
        r#"WITH stopped AS (
               SELECT CASE ?1 WHEN 'cause' THEN attempt.told_cause
                       WHEN 'technique' THEN COALESCE(attempt.technique, '')
                       WHEN 'side' THEN COALESCE(attempt.side, '')
                       WHEN 'worksite' THEN COALESCE(attempt.worksite, '')
                       ELSE cause.cause_group END AS key, excursion.flight
               FROM json_each(?8) AS named
                   CROSS JOIN excursion ON excursion.flight = named.value
                   CROSS JOIN attempt ON attempt.excursion = excursion.code
                   JOIN cause ON cause.code = attempt.told_cause
               WHERE (?2 IS NULL OR attempt.told_cause = ?2)
                   AND (?3 IS NULL OR cause.cause_group = ?3)
                   AND (?4 IS NULL OR COALESCE(attempt.technique, '') = ?4)
                   AND (?5 IS NULL OR COALESCE(attempt.side, '') = ?5)
                   AND (?6 IS NULL OR COALESCE(attempt.worksite, '') = ?6)
                   AND (?7 IS NULL OR COALESCE(excursion.flight, '') = ?7)
           )
           SELECT key AS "key!: String", flight AS "flight!: FlightCode", COUNT(*) AS "count!: i64"
           FROM stopped GROUP BY key, flight ORDER BY key, flight"#,
        by,
        filter.cause,
        filter.group,
        filter.technique,
        filter.side,
        filter.worksite,
        filter.flight,
        flights
    )
    .fetch_all(db)
    .await?)
}
