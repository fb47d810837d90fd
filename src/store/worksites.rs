//! Worksites, the routes between them and the positions at them.

use sqlx::SqliteConnection;

use crate::{StoreError, kept, shelf};
use domain::cells::{Line, Prose};
use domain::codes::{OutsideCode, Own, PositionCode, RouteCode, WorksiteCode};
use domain::units::{MapPlace, Minutes};
use domain::worksites::{Position, Route, Worksite};

macro_rules! worksite_rows {
    ($rest:literal $(+ $more:literal)* $(, $value:expr)*) => {
        sqlx::query_as!(
            Worksite,
            r#"SELECT code AS "code: Own<WorksiteCode>", name AS "name: Line",
                   setup AS "setup: Minutes", cleanup AS "cleanup: Minutes",
                   map_x AS "map_x: MapPlace", map_y AS "map_y: MapPlace",
                   one_by_one AS "one_by_one: bool", notes AS "notes: Prose"
               FROM worksite "# + $rest $(+ $more)*
            $(, $value)*
        )
    };
}

kept! {
    Worksite, worksite_rows,
    "INSERT INTO worksite (code, name, setup, cleanup, map_x, map_y, one_by_one, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
     ON CONFLICT (code) DO UPDATE SET name = excluded.name, setup = excluded.setup,
         cleanup = excluded.cleanup, map_x = excluded.map_x, map_y = excluded.map_y,
         one_by_one = excluded.one_by_one, notes = excluded.notes",
    code, name, setup, cleanup, map_x, map_y, one_by_one, notes
}

macro_rules! route_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Route,
            r#"SELECT code AS "code: Own<RouteCode>", from_site AS "from_site: WorksiteCode",
                   to_site AS "to_site: WorksiteCode", minutes AS "minutes: Minutes",
                   minutes_back AS "minutes_back: Minutes", aid AS "aid: OutsideCode",
                   notes AS "notes: Prose"
               FROM route "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Route, route_rows,
    "INSERT INTO route (code, from_site, to_site, minutes, minutes_back, aid, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
     ON CONFLICT (code) DO UPDATE SET from_site = excluded.from_site, to_site = excluded.to_site,
         minutes = excluded.minutes, minutes_back = excluded.minutes_back, aid = excluded.aid,
         notes = excluded.notes",
    code, from_site, to_site, minutes, minutes_back, aid, notes
}

macro_rules! position_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Position,
            r#"SELECT code AS "code: Own<PositionCode>", worksite AS "worksite: WorksiteCode",
                   notes AS "notes: Prose"
               FROM position "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Position, position_rows,
    "INSERT INTO position (code, worksite, notes)
     VALUES (?1, ?2, ?3)
     ON CONFLICT (code) DO UPDATE SET worksite = excluded.worksite, notes = excluded.notes",
    code, worksite, notes
}

shelf! { Worksite, worksite_rows, "worksite", "code || ' ' || COALESCE(name, '')" }

/// The routes that begin or end at a worksite.
pub async fn routes_at(
    db: &mut SqliteConnection,
    site: &WorksiteCode,
) -> Result<Vec<Route>, StoreError> {
    Ok(route_rows!("WHERE from_site = ?1 OR to_site = ?1 ORDER BY code", site)
        .fetch_all(db)
        .await?)
}

/// The positions at a worksite.
pub async fn positions_at(
    db: &mut SqliteConnection,
    site: &WorksiteCode,
) -> Result<Vec<Position>, StoreError> {
    Ok(position_rows!("WHERE worksite = ? ORDER BY code", site).fetch_all(db).await?)
}
