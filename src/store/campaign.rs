//! The state of the campaign in figures: what was opened and ended after each flight, which open
//! tasks each flight needs, and which have a slot.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{ExcursionCode, FlightCode, TaskCode, WorksiteCode};
use domain::time::Day;
use domain::words::{PriorityClass, SlotState};

/// So many tasks opened or ended at one place in time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// The flight after which it was, where the record names one.
    pub flight: Option<FlightCode>,
    /// The day, where it names no flight.
    pub day: Option<Day>,
    pub count: i64,
}

/// When the tasks were opened. A contingency that waits for its condition is not counted, as it is
/// not in the backlog.
pub async fn opened(db: &mut SqliteConnection) -> Result<Vec<Counted>, StoreError> {
    Ok(sqlx::query_as!(
        Counted,
        r#"SELECT opened_after AS "flight: FlightCode",
               CASE WHEN opened_after IS NULL THEN opened END AS "day: Day", COUNT(*) AS "count!: i64"
           FROM task
           WHERE code NOT IN (SELECT task FROM standing INDEXED BY standing_waiting
               WHERE is_open = 0 AND state NOT IN ('done', 'dropped'))
           GROUP BY 1, 2"#
    )
    .fetch_all(db)
    .await?)
}

/// When the tasks that are done or dropped ended: with their attempt that was done, else with their
/// closure. Each task counts once.
pub async fn ended(db: &mut SqliteConnection) -> Result<Vec<Counted>, StoreError> {
    Ok(sqlx::query_as!(
        Counted,
        r#"SELECT e.flight AS "flight: FlightCode",
               CASE WHEN e.flight IS NULL THEN e.day END AS "day: Day", COUNT(*) AS "count!: i64"
           FROM (SELECT task, MAX(excursion) AS excursion
                   FROM attempt INDEXED BY attempt_done WHERE outcome = 'done' GROUP BY task) AS d
               JOIN standing AS s ON s.task = d.task AND s.state IN ('done', 'dropped')
               JOIN excursion AS e ON e.code = d.excursion
           GROUP BY 1, 2
           UNION ALL
           SELECT NULL, c.day, COUNT(*)
           FROM (SELECT task, MAX(day) AS day FROM closure GROUP BY task) AS c
               JOIN standing AS s ON s.task = c.task AND s.state IN ('done', 'dropped')
           WHERE NOT EXISTS (SELECT 1 FROM attempt
               WHERE attempt.task = c.task AND attempt.outcome = 'done')
           GROUP BY 2"#
    )
    .fetch_all(db)
    .await?)
}

/// Open tasks that a flight needs: how many of them are set or pencilled, and how many of those are
/// at risk of being late.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Needed {
    pub flight: FlightCode,
    pub is_at_risk: bool,
    /// Nothing: no slot.
    pub slot: Option<SlotState>,
    pub count: i64,
}

/// The open tasks that these flights need.
pub async fn needed_by(
    db: &mut SqliteConnection,
    flights: &[FlightCode],
) -> Result<Vec<Needed>, StoreError> {
    let flights = json_array(flights.iter().map(FlightCode::as_str));
    Ok(sqlx::query_as!(
        Needed,
        r#"SELECT t.needed_by_flight AS "flight!: FlightCode", s.in_danger AS "is_at_risk: bool",
               CASE WHEN EXISTS (SELECT 1 FROM slot WHERE slot.task = t.code AND slot.state = 'set')
                   THEN 'set'
                   WHEN EXISTS (SELECT 1 FROM slot WHERE slot.task = t.code
                       AND slot.state = 'pencilled') THEN 'pencilled' END AS "slot: SlotState",
               COUNT(*) AS "count!: i64"
           FROM task AS t JOIN standing AS s ON s.task = t.code
           WHERE t.needed_by_flight IN (SELECT value FROM json_each(?)) AND s.is_open = 1
           GROUP BY 1, 2, 3"#,
        flights
    )
    .fetch_all(db)
    .await?)
}

/// Open tasks of one class, by the slot that they have.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfClass {
    pub class: Option<PriorityClass>,
    pub open: i64,
    pub set: i64,
    pub pencilled: i64,
}

pub async fn by_class(db: &mut SqliteConnection) -> Result<Vec<OfClass>, StoreError> {
    Ok(sqlx::query_as!(
        OfClass,
        r#"SELECT NULLIF(s.class, '9') AS "class: PriorityClass", COUNT(*) AS "open!: i64",
               COALESCE(SUM(l.is_set), 0) AS "set!: i64",
               COALESCE(SUM(NOT l.is_set), 0) AS "pencilled!: i64"
           FROM standing AS s LEFT JOIN (SELECT task, MAX(state = 'set') AS is_set
               FROM slot WHERE state IN ('pencilled', 'set') GROUP BY task) AS l ON l.task = s.task
           WHERE s.is_open = 1 GROUP BY s.class ORDER BY s.class"#
    )
    .fetch_all(db)
    .await?)
}

/// Open tasks at each worksite.
pub async fn by_worksite(
    db: &mut SqliteConnection,
) -> Result<Vec<(WorksiteCode, i64)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT worksite AS "worksite!: WorksiteCode", COUNT(*) AS "count!: i64"
           FROM standing WHERE is_open = 1 AND worksite IS NOT NULL GROUP BY worksite"#
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.worksite, row.count)).collect())
}

/// Tasks that coming excursions hold with a set slot, counted on the excursion that comes first.
pub async fn set_ahead(
    db: &mut SqliteConnection,
) -> Result<Vec<(ExcursionCode, TaskCode)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT slot.excursion AS "excursion: ExcursionCode", slot.task AS "task: TaskCode"
           FROM slot JOIN excursion ON excursion.code = slot.excursion
           WHERE slot.state = 'set' AND excursion.state = 'planned'"#
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.excursion, row.task)).collect())
}
