//! Excursions and what each took out.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, List, Prose};
use domain::codes::{ExcursionCode, ExcursionToolCode, FlightCode, Own, ToolCode, WorksiteCode};
use domain::excursions::{Excursion, ExcursionTool};
use domain::kinds::Kind;
use domain::seats::Seats;
use domain::time::{Day, Moment};
use domain::units::{
    Degrees, Kilograms, Kilometres, Litres, Minutes, PeriodMinutes, Pet, Share, Window,
};
use domain::words::ExcursionState;

macro_rules! excursion_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Excursion,
            r#"SELECT code AS "code: Own<ExcursionCode>", flight AS "flight: FlightCode", number,
                   day AS "day: Day", state AS "state?: ExcursionState",
                   planned AS "planned: Minutes", "limit" AS "limit: Minutes",
                   egress AS "egress: Minutes", ingress AS "ingress: Minutes",
                   seats AS "seats: Seats", airlock AS "airlock: WorksiteCode",
                   "deferrable" AS "deferrable: bool", flown_chance AS "flown_chance: Share",
                   arm_windows AS "arm_windows: List<Window>",
                   orbit_period AS "orbit_period: PeriodMinutes",
                   orbit_altitude AS "orbit_altitude: Kilometres", beta AS "beta: Degrees",
                   first_sunrise AS "first_sunrise: Pet", oxygen AS "oxygen: Kilograms",
                   scrubber AS "scrubber: Kilograms", water AS "water: Kilograms",
                   battery AS "battery: Minutes", bag_out AS "bag_out: Litres",
                   bag_in AS "bag_in: Litres", tools AS "tools: List<ToolCode>",
                   egress_at AS "egress_at: Moment", actual AS "actual: Minutes",
                   ended_early AS "ended_early: Line", notes AS "notes: Prose"
               FROM excursion "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Excursion, excursion_rows,
    r#"INSERT INTO excursion (code, flight, number, day, state, planned, "limit", egress,
         ingress, seats, airlock, "deferrable", flown_chance, arm_windows, orbit_period,
         orbit_altitude, beta, first_sunrise, oxygen, scrubber, water, battery, bag_out, bag_in,
         tools, egress_at, actual, ended_early, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18,
         ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29)
     ON CONFLICT (code) DO UPDATE SET flight = excluded.flight, number = excluded.number,
         day = excluded.day, state = excluded.state, planned = excluded.planned,
         "limit" = excluded."limit", egress = excluded.egress, ingress = excluded.ingress,
         seats = excluded.seats, airlock = excluded.airlock,
         "deferrable" = excluded."deferrable", flown_chance = excluded.flown_chance,
         arm_windows = excluded.arm_windows, orbit_period = excluded.orbit_period,
         orbit_altitude = excluded.orbit_altitude, beta = excluded.beta,
         first_sunrise = excluded.first_sunrise, oxygen = excluded.oxygen,
         scrubber = excluded.scrubber, water = excluded.water, battery = excluded.battery,
         bag_out = excluded.bag_out, bag_in = excluded.bag_in, tools = excluded.tools,
         egress_at = excluded.egress_at, actual = excluded.actual,
         ended_early = excluded.ended_early, notes = excluded.notes"#,
    code, flight, number, day, state, planned, limit, egress, ingress, seats, airlock,
    deferrable, flown_chance, arm_windows, orbit_period, orbit_altitude, beta, first_sunrise,
    oxygen, scrubber, water, battery, bag_out, bag_in, tools, egress_at, actual, ended_early,
    notes; first stated
}

/// An empty state is read from the dates before an excursion comes here.
fn stated(excursion: &Excursion) -> Result<(), StoreError> {
    match excursion.state {
        Some(_) => Ok(()),
        None => Err(StoreError::Corrupt {
            table: "excursion",
            why: format!("{} was to be saved without a state", excursion.code.0),
        }),
    }
}

macro_rules! excursion_tool_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            ExcursionTool,
            r#"SELECT code AS "code: Own<ExcursionToolCode>",
                   excursion AS "excursion: ExcursionCode", tool AS "tool: ToolCode", taken_out,
                   brought_in, broken, left_outside, lost, not_counted AS "not_counted: Line"
               FROM excursion_tool "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    ExcursionTool, excursion_tool_rows,
    "INSERT INTO excursion_tool (code, excursion, tool, taken_out, brought_in, left_outside,
         lost, not_counted, broken)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
     ON CONFLICT (code) DO UPDATE SET excursion = excluded.excursion, tool = excluded.tool,
         taken_out = excluded.taken_out, brought_in = excluded.brought_in,
         left_outside = excluded.left_outside, lost = excluded.lost,
         not_counted = excluded.not_counted, broken = excluded.broken",
    code, excursion, tool, taken_out, brought_in, left_outside, lost, not_counted, broken
}

/// The excursions of a flight by date. One without a date comes where its number puts it.
pub async fn of_flight(
    db: &mut SqliteConnection,
    flight: &FlightCode,
) -> Result<Vec<Excursion>, StoreError> {
    Ok(excursion_rows!(
        "WHERE flight = ? ORDER BY COALESCE(day, (SELECT MAX(e.day) FROM excursion AS e
                   WHERE e.flight = excursion.flight AND e.number < excursion.number), ''),
                   number, code",
        flight
    )
    .fetch_all(db)
    .await?)
}

/// The planned excursions of flights that are not cancelled, the next one first.
pub async fn coming(db: &mut SqliteConnection) -> Result<Vec<Excursion>, StoreError> {
    Ok(excursion_rows!(
        "WHERE state = 'planned' AND COALESCE(
                   (SELECT flight.state FROM flight WHERE flight.code = excursion.flight), '')
                   <> 'cancelled'
               ORDER BY (SELECT order_day FROM flight WHERE flight.code = excursion.flight),
                   (SELECT sequence FROM flight WHERE flight.code = excursion.flight),
                   flight, COALESCE(day, (SELECT MAX(e.day) FROM excursion AS e
                       WHERE e.flight = excursion.flight AND e.number < excursion.number), ''),
                   number, code"
    )
    .fetch_all(db)
    .await?)
}

/// The flown excursions whose results are not complete, the earliest first.
pub async fn to_debrief(db: &mut SqliteConnection) -> Result<Vec<Excursion>, StoreError> {
    Ok(excursion_rows!("WHERE state = 'flown' AND closed_at IS NULL ORDER BY day, code")
        .fetch_all(db)
        .await?)
}

/// The excursions that are still planned although their date has passed, the earliest first.
pub async fn past_date(
    db: &mut SqliteConnection,
    today: Day,
) -> Result<Vec<Excursion>, StoreError> {
    Ok(excursion_rows!("WHERE state = 'planned' AND day < ? ORDER BY day, code", today)
        .fetch_all(db)
        .await?)
}

/// When the debrief of an excursion was closed.
pub async fn closed_at(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Option<Moment>, StoreError> {
    let closed = sqlx::query_scalar!(
        r#"SELECT closed_at AS "closed_at: Moment" FROM excursion WHERE code = ?"#,
        excursion
    )
    .fetch_optional(db)
    .await?;
    Ok(closed.flatten())
}

/// Closes the debrief of an excursion, or opens it again.
pub async fn set_closed(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    at: Option<Moment>,
) -> Result<(), StoreError> {
    sqlx::query!("UPDATE excursion SET closed_at = ? WHERE code = ?", at, excursion)
        .execute(db)
        .await?;
    Ok(())
}

/// What an excursion took out, tool by tool.
pub async fn tools_of(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<ExcursionTool>, StoreError> {
    Ok(excursion_tool_rows!("WHERE excursion = ? ORDER BY tool", excursion).fetch_all(db).await?)
}

/// The tools that the techniques of the slots set on an excursion need.
pub async fn tools_of_slots(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<ToolCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT DISTINCT technique_tool.tool AS "tool!: ToolCode" FROM slot
               JOIN technique_tool ON technique_tool.technique = slot.technique
           WHERE slot.excursion = ? AND slot.state IN ('set', 'flown')
           ORDER BY technique_tool.tool"#,
        excursion
    )
    .fetch_all(db)
    .await?)
}

/// The excursions that took a tool out, the latest code first.
pub async fn outings_of(
    db: &mut SqliteConnection,
    tool: &ToolCode,
    most: i64,
) -> Result<Vec<ExcursionTool>, StoreError> {
    Ok(excursion_tool_rows!("WHERE tool = ? ORDER BY excursion DESC LIMIT ?", tool, most)
        .fetch_all(db)
        .await?)
}

/// One excursion as lists show it: what was planned on it and what came of it.
#[derive(Debug, Clone)]
pub struct Tally {
    pub code: ExcursionCode,
    pub flight: Option<FlightCode>,
    pub day: Option<Day>,
    pub state: ExcursionState,
    pub closed_at: Option<Moment>,
    pub planned: Option<Minutes>,
    pub actual: Option<Minutes>,
    pub is_deferrable: bool,
    pub set: i64,
    pub pencilled: i64,
    pub done: i64,
    pub part_done: i64,
    pub not_completed: i64,
    pub not_reached: i64,
    pub deferred: i64,
}

/// Excursions by code, the latest first.
pub async fn these(
    db: &mut SqliteConnection,
    codes: &[ExcursionCode],
) -> Result<Vec<Excursion>, StoreError> {
    let codes = json_array(codes.iter().map(ExcursionCode::as_str));
    Ok(excursion_rows!(
        "WHERE code IN (SELECT value FROM json_each(?)) ORDER BY day DESC, code DESC",
        codes
    )
    .fetch_all(db)
    .await?)
}

/// The excursions flown last, the latest first.
pub async fn flown_last(
    db: &mut SqliteConnection,
    most: i64,
) -> Result<Vec<Excursion>, StoreError> {
    Ok(excursion_rows!("WHERE state = 'flown' ORDER BY day DESC, code DESC LIMIT ?", most)
        .fetch_all(db)
        .await?)
}

/// On which day the flight of each of these excursions was launched, as far as that is known.
pub async fn launches_of(
    db: &mut SqliteConnection,
    codes: &[ExcursionCode],
) -> Result<Vec<(ExcursionCode, Day)>, StoreError> {
    let codes = json_array(codes.iter().map(ExcursionCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT e.code AS "code: ExcursionCode", f.launch AS "launch!: Day"
           FROM excursion AS e JOIN flight AS f ON f.code = e.flight
           WHERE e.code IN (SELECT value FROM json_each(?)) AND f.launch IS NOT NULL"#,
        codes
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.code, row.launch)).collect())
}

/// The excursions of these flights, in their order within each.
pub async fn tallies_of(
    db: &mut SqliteConnection,
    flights: &[FlightCode],
) -> Result<Vec<Tally>, StoreError> {
    let flights = json_array(flights.iter().map(FlightCode::as_str));
    Ok(sqlx::query_as!(
        Tally,
        r#"SELECT e.code AS "code: ExcursionCode", e.flight AS "flight: FlightCode",
                   e.day AS "day: Day", e.state AS "state: ExcursionState",
                   e.closed_at AS "closed_at: Moment", e.planned AS "planned: Minutes",
                   e.actual AS "actual: Minutes", e."deferrable" AS "is_deferrable: bool",
                   (SELECT COUNT(*) FROM slot WHERE excursion = e.code AND state = 'set')
                       AS "set!: i64",
                   (SELECT COUNT(*) FROM slot WHERE excursion = e.code AND state = 'pencilled')
                       AS "pencilled!: i64",
                   (SELECT COUNT(*) FROM attempt WHERE excursion = e.code AND outcome = 'done')
                       AS "done!: i64",
                   (SELECT COUNT(*) FROM attempt WHERE excursion = e.code
                       AND outcome = 'part done') AS "part_done!: i64",
                   (SELECT COUNT(*) FROM attempt WHERE excursion = e.code
                       AND outcome = 'not completed') AS "not_completed!: i64",
                   (SELECT COUNT(*) FROM attempt WHERE excursion = e.code
                       AND outcome = 'not reached') AS "not_reached!: i64",
                   (SELECT COUNT(*) FROM deferral WHERE excursion = e.code) AS "deferred!: i64"
               FROM excursion AS e
               WHERE e.flight IN (SELECT value FROM json_each(?))
               ORDER BY COALESCE(e.day, (SELECT MAX(o.day) FROM excursion AS o
                   WHERE o.flight = e.flight AND o.number < e.number), ''), e.number, e.code"#,
        flights
    )
    .fetch_all(db)
    .await?)
}

/// A record made of words of an excursion's notes: its kind, its code and the words it keeps.
#[derive(Debug, Clone)]
pub struct Quoted {
    pub kind: Kind,
    pub code: String,
    pub text: String,
}

/// Every record that may keep words of this excursion's notes.
pub async fn quoting(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<Quoted>, StoreError> {
    Ok(sqlx::query_as!(
        Quoted,
        r#"SELECT 'attempt' AS "kind!: Kind", code AS "code!", words AS "text!"
           FROM attempt WHERE excursion = ?1 AND words <> ''
           UNION ALL SELECT 'deferral', code, words FROM deferral
               WHERE excursion = ?1 AND words <> ''
           UNION ALL SELECT 'task', code, notes FROM task
               WHERE from_excursion = ?1 AND notes <> ''"#,
        excursion
    )
    .fetch_all(db)
    .await?)
}
