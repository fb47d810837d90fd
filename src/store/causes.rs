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

/// Puts the names to what is commonest of what was counted. A count walks an index in its order; groups
/// of causes and flights are looked up once a cause or an excursion, and not once an attempt.
macro_rules! ranked {
    ($db:ident, $filter:ident, $most:ident, ($($counted:literal),+), $names:literal) => {
        sqlx::query_as!(
            Counted,
            "WITH counted AS (" $(+ $counted)+ + r#")
               SELECT key AS "key!: String", times AS "count!: i64",
                   SUM(times) OVER () AS "total!: i64", COUNT(*) OVER () AS "rows!: i64",
                   COALESCE(("# + $names + r#"), '') AS "words!: String"
               FROM counted ORDER BY times DESC, key LIMIT ?7"#,
            $filter.cause,
            $filter.group,
            $filter.technique,
            $filter.side,
            $filter.worksite,
            $filter.flight,
            $most
        )
        .fetch_all($db)
        .await?
    };
}

/// The attempts that pass the filter, counted by a column of their own.
macro_rules! by_column {
    ($db:ident, $filter:ident, $most:ident, $column:literal, $names:literal) => {
        ranked!(
            $db,
            $filter,
            $most,
            (
                "SELECT COALESCE(",
                $column,
                ", '') AS key, COUNT(*) AS times FROM attempt
                 WHERE told_cause IS NOT NULL
                     AND (?1 IS NULL OR told_cause = ?1)
                     AND (?2 IS NULL OR told_cause IN (SELECT code FROM cause WHERE cause_group = ?2))
                     AND (?3 IS NULL OR COALESCE(technique, '') = ?3)
                     AND (?4 IS NULL OR COALESCE(side, '') = ?4)
                     AND (?5 IS NULL OR COALESCE(worksite, '') = ?5)
                     AND (?6 IS NULL OR excursion IN
                         (SELECT code FROM excursion WHERE COALESCE(flight, '') = ?6))
                 GROUP BY ",
                $column
            ),
            $names
        )
    };
}

/// The commonest first, up to `most`. Each attempt counts once, by the cause that decides.
pub async fn ranked(
    db: &mut SqliteConnection,
    by: CountedBy,
    filter: &Filter,
    most: i64,
) -> Result<Vec<Counted>, StoreError> {
    Ok(match by {
        CountedBy::Cause => {
            by_column!(db, filter, most, "told_cause", "SELECT words FROM cause WHERE code = key")
        }
        CountedBy::Technique => {
            by_column!(db, filter, most, "technique", "SELECT name FROM technique WHERE code = key")
        }
        CountedBy::Side => by_column!(db, filter, most, "side", "SELECT ''"),
        CountedBy::Worksite => {
            by_column!(db, filter, most, "worksite", "SELECT name FROM worksite WHERE code = key")
        }
        CountedBy::Group => ranked!(
            db,
            filter,
            most,
            ("SELECT cause.cause_group AS key, SUM(few.times) AS times
             FROM (SELECT told_cause, COUNT(*) AS times FROM attempt
                   WHERE told_cause IS NOT NULL
                       AND (?1 IS NULL OR told_cause = ?1)
                       AND (?3 IS NULL OR COALESCE(technique, '') = ?3)
                       AND (?4 IS NULL OR COALESCE(side, '') = ?4)
                       AND (?5 IS NULL OR COALESCE(worksite, '') = ?5)
                       AND (?6 IS NULL OR excursion IN
                           (SELECT code FROM excursion WHERE COALESCE(flight, '') = ?6))
                   GROUP BY told_cause) AS few
                 JOIN cause ON cause.code = few.told_cause
             WHERE ?2 IS NULL OR cause.cause_group = ?2
             GROUP BY cause.cause_group"),
            "SELECT ''"
        ),
        CountedBy::Flight => ranked!(
            db,
            filter,
            most,
            ("SELECT COALESCE(excursion.flight, '') AS key, SUM(few.times) AS times
             FROM (SELECT told_cause, excursion, COUNT(*) AS times FROM attempt
                   WHERE told_cause IS NOT NULL
                       AND (?1 IS NULL OR told_cause = ?1)
                       AND (?2 IS NULL OR told_cause IN
                           (SELECT code FROM cause WHERE cause_group = ?2))
                       AND (?3 IS NULL OR COALESCE(technique, '') = ?3)
                       AND (?4 IS NULL OR COALESCE(side, '') = ?4)
                       AND (?5 IS NULL OR COALESCE(worksite, '') = ?5)
                   GROUP BY told_cause, excursion) AS few
                 JOIN excursion ON excursion.code = few.excursion
             WHERE ?6 IS NULL OR COALESCE(excursion.flight, '') = ?6
             GROUP BY COALESCE(excursion.flight, '')"),
            "SELECT name FROM flight WHERE code = key"
        ),
    })
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
