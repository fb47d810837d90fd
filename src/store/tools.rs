//! Tools and hardware items.

use sqlx::SqliteConnection;

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{FlightCode, Own, ToolCode};
use crate::domain::tools::Tool;
use crate::domain::units::{Kilograms, Litres};
use crate::domain::words::ToolState;
use crate::store::{StoreError, kept};

macro_rules! tool_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Tool,
            r#"SELECT code AS "code: Own<ToolCode>", name AS "name: Line",
                   mass AS "mass: Kilograms", volume AS "volume: Litres", on_board,
                   arrives_with AS "arrives_with: FlightCode", state AS "state: ToolState",
                   notes AS "notes: Prose"
               FROM tool "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Tool, tool_rows,
    "INSERT INTO tool (code, name, mass, volume, on_board, arrives_with, state, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
     ON CONFLICT (code) DO UPDATE SET name = excluded.name, mass = excluded.mass,
         volume = excluded.volume, on_board = excluded.on_board,
         arrives_with = excluded.arrives_with, state = excluded.state, notes = excluded.notes",
    code, name, mass, volume, on_board, arrives_with, state, notes
}

/// The tools that come aboard with a flight.
pub async fn arriving_with(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<Vec<Tool>, StoreError> {
    Ok(tool_rows!("WHERE arrives_with = ? ORDER BY code", flight).fetch_all(db).await?)
}

/// The tools whose code or name holds what was typed, by code.
pub async fn matching(
    db: &mut SqliteConnection,
    typed: &str,
    offset: i64,
    most: i64,
) -> Result<Vec<Tool>, StoreError> {
    Ok(tool_rows!(
        "WHERE instr(lower(code || ' ' || name), lower(?1)) > 0
               ORDER BY code LIMIT ?2 OFFSET ?3",
        typed,
        most,
        offset
    )
    .fetch_all(db)
    .await?)
}

/// How many there are of them.
pub async fn count_matching(db: &mut SqliteConnection, typed: &str) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: i64" FROM tool
           WHERE instr(lower(code || ' ' || name), lower(?)) > 0"#,
        typed
    )
    .fetch_one(db)
    .await?)
}
