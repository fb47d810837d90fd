//! Tools and hardware items.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept, shelf};
use domain::cells::{Line, Prose};
use domain::codes::{ExcursionCode, FlightCode, OutsideCode, Own, ToolCode, WorksiteCode};
use domain::time::Day;
use domain::tools::{Outing, OutsideTool, Tool};
use domain::units::{Kilograms, Litres};
use domain::words::{OutsideState, ToolState};

macro_rules! tool_rows {
    ($rest:literal $(+ $more:literal)* $(, $value:expr)*) => {
        sqlx::query_as!(
            Tool,
            r#"SELECT code AS "code: Own<ToolCode>", name AS "name: Line",
                   mass AS "mass: Kilograms", volume AS "volume: Litres", on_board,
                   counted_on AS "counted_on: Day", arriving, arrives_with AS "arrives_with: FlightCode",
                   going_down, returns_with AS "returns_with: FlightCode", state AS "state: ToolState",
                   notes AS "notes: Prose"
               FROM tool "# + $rest $(+ $more)*
            $(, $value)*
        )
    };
}

kept! {
    Tool, tool_rows,
    "INSERT INTO tool (code, name, mass, volume, on_board, arrives_with, state, notes,
         counted_on, arriving, returns_with, going_down)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)
     ON CONFLICT (code) DO UPDATE SET name = excluded.name, mass = excluded.mass,
         volume = excluded.volume, on_board = excluded.on_board,
         arrives_with = excluded.arrives_with, state = excluded.state, notes = excluded.notes,
         counted_on = excluded.counted_on, arriving = excluded.arriving,
         returns_with = excluded.returns_with, going_down = excluded.going_down",
    code, name, mass, volume, on_board, arrives_with, state, notes, counted_on, arriving,
    returns_with, going_down
}

/// The tools that come aboard with a flight.
pub async fn arriving_with(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<Vec<Tool>, StoreError> {
    Ok(tool_rows!("WHERE arrives_with = ? ORDER BY code", flight).fetch_all(db).await?)
}

/// The tools that go down with a flight.
pub async fn returning_with(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<Vec<Tool>, StoreError> {
    Ok(tool_rows!("WHERE returns_with = ? ORDER BY code", flight).fetch_all(db).await?)
}

shelf! { Tool, tool_rows, "tool", "code || ' ' || name" }

/// What flown excursions lost, broke or left of these tools, and where nobody counted.
pub async fn outings(
    db: &mut SqliteConnection,
    tools: &[ToolCode],
) -> Result<Vec<(ToolCode, Outing)>, StoreError> {
    let tools = json_array(tools.iter().map(ToolCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT excursion_tool.tool AS "tool: ToolCode",
               excursion_tool.excursion AS "excursion: ExcursionCode", excursion.day AS "day: Day",
               COALESCE(lost, 0) AS "lost!: i64", COALESCE(broken, 0) AS "broken!: i64",
               COALESCE(left_outside, 0) AS "left!: i64",
               not_counted IS NOT NULL AS "uncounted!: bool"
           FROM excursion_tool JOIN excursion ON excursion.code = excursion_tool.excursion
           WHERE tool IN (SELECT value FROM json_each(?)) AND excursion.state = 'flown'
               AND (lost > 0 OR broken > 0 OR left_outside > 0 OR not_counted IS NOT NULL)
           ORDER BY excursion.day, excursion.code"#,
        tools
    )
    .fetch_all(db)
    .await?;
    let outing = rows.into_iter().map(|row| {
        let (excursion, day) = (row.excursion, row.day);
        let (lost, broken, left, uncounted) = (row.lost, row.broken, row.left, row.uncounted);
        (row.tool, Outing { excursion, day, lost, broken, left, uncounted })
    });
    Ok(outing.collect())
}

/// These tools on the outside list, whatever became of them, with the day of the first set slot
/// ahead that brings each in.
pub async fn outside(
    db: &mut SqliteConnection,
    tools: &[ToolCode],
) -> Result<Vec<(ToolCode, OutsideTool)>, StoreError> {
    let tools = json_array(tools.iter().map(ToolCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT item.tool AS "tool!: ToolCode", item.code AS "item: OutsideCode",
               item.worksite AS "worksite: WorksiteCode",
               attempt.excursion AS "left_on?: ExcursionCode", item.since AS "since: Day",
               item.state AS "state: OutsideState", item.ended_on AS "ended_on: Day",
               (SELECT MIN(excursion.day) FROM slot
                    JOIN excursion ON excursion.code = slot.excursion
                WHERE slot.task = item.brought_back_by AND slot.state = 'set'
                    AND excursion.state = 'planned') AS "comes_in?: Day"
           FROM outside_item AS item LEFT JOIN attempt ON attempt.code = item.left_by
           WHERE item.tool IN (SELECT value FROM json_each(?))
           ORDER BY item.code"#,
        tools
    )
    .fetch_all(db)
    .await?;
    let item = rows.into_iter().map(|row| {
        let (item, worksite, left_on) = (row.item, row.worksite, row.left_on);
        let (since, state, ended_on, comes_in) = (row.since, row.state, row.ended_on, row.comes_in);
        (row.tool, OutsideTool { item, worksite, left_on, since, state, ended_on, comes_in })
    });
    Ok(item.collect())
}
