//! Tasks and the links between them.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array, kept};
use domain::cells::{Line, List, Prose};
use domain::codes::{
    ExcursionCode, FamilyCode, FlightCode, InhibitCode, LinkCode, Own, PositionCode, TaskCode,
    WorksiteCode,
};
use domain::sides::Side;
use domain::tasks::{Link, Task};
use domain::time::Day;
use domain::units::{Litres, Minutes};
use domain::words::{LightNeed, LinkKind, PriorityClass, TaskState, WorkRate};

macro_rules! task_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Task,
            r#"SELECT code AS "code: Own<TaskCode>", title AS "title: Line",
                   family AS "family: FamilyCode", position AS "position: PositionCode",
                   worksite AS "worksite: WorksiteCode", sides AS "sides: List<Side>",
                   class AS "class: PriorityClass",
                   needed_by_flight AS "needed_by_flight: FlightCode",
                   needed_by_day AS "needed_by_day: Day", late_means AS "late_means: Line",
                   late_is_moot AS "late_is_moot: bool",
                   back_inside_by AS "back_inside_by: FlightCode",
                   optimistic AS "optimistic: Minutes", likely AS "likely: Minutes",
                   pessimistic AS "pessimistic: Minutes", estimator AS "estimator: Line", seats,
                   work_rate AS "work_rate: WorkRate", lighting AS "lighting: LightNeed",
                   arm AS "arm: bool", takes_out AS "takes_out: Litres",
                   brings_in AS "brings_in: Litres",
                   needs_inhibits AS "needs_inhibits: List<InhibitCode>",
                   inhibits AS "inhibits: Line",
                   hazards AS "hazards: Prose", notes AS "notes: Prose", opened AS "opened: Day",
                   opened_after AS "opened_after: FlightCode",
                   from_excursion AS "from_excursion: ExcursionCode",
                   swaps_unit AS "swaps_unit: bool", triggered AS "triggered: bool"
               FROM task "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Task, task_rows,
    "INSERT INTO task (code, title, family, position, worksite, sides, class,
         needed_by_flight, needed_by_day, late_means, late_is_moot, back_inside_by, optimistic,
         likely, pessimistic, estimator, seats, work_rate, lighting, arm, takes_out, brings_in,
         needs_inhibits, inhibits, hazards, notes, opened, opened_after, from_excursion,
         triggered, swaps_unit)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18,
         ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29, ?30, ?31)
     ON CONFLICT (code) DO UPDATE SET title = excluded.title, family = excluded.family,
         position = excluded.position, worksite = excluded.worksite, sides = excluded.sides,
         class = excluded.class, needed_by_flight = excluded.needed_by_flight,
         needed_by_day = excluded.needed_by_day, late_means = excluded.late_means,
         late_is_moot = excluded.late_is_moot, back_inside_by = excluded.back_inside_by,
         optimistic = excluded.optimistic, likely = excluded.likely,
         pessimistic = excluded.pessimistic, estimator = excluded.estimator,
         seats = excluded.seats, work_rate = excluded.work_rate, lighting = excluded.lighting,
         arm = excluded.arm, takes_out = excluded.takes_out, brings_in = excluded.brings_in,
         needs_inhibits = excluded.needs_inhibits, inhibits = excluded.inhibits,
         hazards = excluded.hazards, notes = excluded.notes,
         opened = excluded.opened, opened_after = excluded.opened_after,
         from_excursion = excluded.from_excursion, triggered = excluded.triggered,
         swaps_unit = excluded.swaps_unit",
    code, title, family, position, worksite, sides, class, needed_by_flight, needed_by_day,
    late_means, late_is_moot, back_inside_by, optimistic, likely, pessimistic, estimator, seats,
    work_rate, lighting, arm, takes_out, brings_in, needs_inhibits, inhibits, hazards,
    notes, opened, opened_after, from_excursion, triggered, swaps_unit; then rewrite_inhibits
}

async fn rewrite_inhibits(db: &mut SqliteConnection, task: &Task) -> Result<(), StoreError> {
    let inhibits = json_array(task.needs_inhibits.iter().map(InhibitCode::as_str));
    sqlx::query!("DELETE FROM task_inhibit WHERE task = ?", task.code).execute(&mut *db).await?;
    sqlx::query!(
        "INSERT INTO task_inhibit (task, inhibit) SELECT DISTINCT ?, value FROM json_each(?)",
        task.code,
        inhibits
    )
    .execute(db)
    .await?;
    Ok(())
}

macro_rules! link_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Link,
            r#"SELECT code AS "code: Own<LinkCode>", task AS "task: TaskCode",
                   kind AS "kind: LinkKind", other AS "other: TaskCode", words AS "words: Line"
               FROM link "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Link, link_rows,
    "INSERT INTO link (code, task, kind, other, words)
     VALUES (?1, ?2, ?3, ?4, ?5)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, kind = excluded.kind,
         other = excluded.other, words = excluded.words",
    code, task, kind, other, words
}

/// The tasks on the units of a family.
pub async fn of_family(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Vec<Task>, StoreError> {
    Ok(task_rows!("WHERE family = ? ORDER BY code", family).fetch_all(db).await?)
}

/// A task on another unit of the same family.
#[derive(Debug, Clone)]
pub struct Sister {
    pub task: TaskCode,
    pub title: String,
    pub position: Option<PositionCode>,
    pub state: Option<TaskState>,
}

/// The first of the other tasks of a family, those that are open before the others; and how many
/// there are.
pub async fn first_sisters(
    db: &mut SqliteConnection,
    family: &FamilyCode,
    but: &TaskCode,
    most: i64,
) -> Result<(Vec<Sister>, i64), StoreError> {
    let first = sqlx::query_as!(
        Sister,
        r#"SELECT task.code AS "task: TaskCode", task.title, task.position AS "position: PositionCode",
               standing.state AS "state?: TaskState"
           FROM task LEFT JOIN standing ON standing.task = task.code
           WHERE task.family = ? AND task.code <> ?
           ORDER BY COALESCE(standing.state, 'open') IN ('done', 'dropped'), task.code LIMIT ?"#,
        family,
        but,
        most
    )
    .fetch_all(&mut *db)
    .await?;
    let all = sqlx::query_scalar!(
        "SELECT COUNT(*) FROM task WHERE family = ? AND code <> ?",
        family,
        but
    )
    .fetch_one(db)
    .await?;
    Ok((first, all))
}

/// The tasks on the units of a family with their positions, in the order of their codes.
pub async fn places_of_family(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Vec<(TaskCode, Option<PositionCode>)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT code AS "code: TaskCode", position AS "position: PositionCode" FROM task
           WHERE family = ? ORDER BY code"#,
        family
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.code, row.position)).collect())
}

/// The tasks at a position.
pub async fn by_position(
    db: &mut SqliteConnection,
    position: &PositionCode,
) -> Result<Vec<Task>, StoreError> {
    Ok(task_rows!("WHERE position = ? ORDER BY code", position).fetch_all(db).await?)
}

/// These tasks, in the order of their codes.
pub async fn these(db: &mut SqliteConnection, tasks: &[TaskCode]) -> Result<Vec<Task>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(task_rows!("WHERE code IN (SELECT value FROM json_each(?)) ORDER BY code", tasks)
        .fetch_all(db)
        .await?)
}

/// Those of these tasks that were triggered.
pub async fn triggered(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<TaskCode>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: TaskCode" FROM task
           WHERE triggered = 1 AND code IN (SELECT value FROM json_each(?)) ORDER BY code"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// What decides which approaches can be offered to a task.
#[derive(Debug, Clone)]
pub struct Sided {
    pub task: TaskCode,
    pub family: Option<FamilyCode>,
    pub sides: List<Side>,
    pub seats: Option<i64>,
}

/// These tasks with their sides, in the order of their codes.
pub async fn sided(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<Sided>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_as!(
        Sided,
        r#"SELECT code AS "task: TaskCode", family AS "family: FamilyCode",
               sides AS "sides: List<Side>", seats
           FROM task WHERE code IN (SELECT value FROM json_each(?)) ORDER BY code"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The same tasks with those of one family together.
pub async fn by_family(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<TaskCode>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: TaskCode" FROM task
           WHERE code IN (SELECT value FROM json_each(?)) ORDER BY family, code"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// Every task, those of one family together.
pub async fn all_by_family(db: &mut SqliteConnection) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT code AS "code: TaskCode" FROM task ORDER BY family, code"#)
        .fetch_all(db)
        .await?)
}

/// How many tasks each family has, and how many have none.
pub async fn family_sizes(
    db: &mut SqliteConnection,
) -> Result<Vec<(Option<FamilyCode>, i64)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT family AS "family: FamilyCode", COUNT(*) AS "count!: i64"
           FROM task GROUP BY family ORDER BY family"#
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.family, row.count)).collect())
}

/// The tasks of these families.
pub async fn of_families(
    db: &mut SqliteConnection,
    families: &[FamilyCode],
) -> Result<Vec<TaskCode>, StoreError> {
    let families = json_array(families.iter().map(FamilyCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: TaskCode" FROM task
           WHERE family IN (SELECT value FROM json_each(?)) ORDER BY family, code"#,
        families
    )
    .fetch_all(db)
    .await?)
}

/// Tasks without a family whose codes come after `after`.
pub async fn without_family(
    db: &mut SqliteConnection,
    after: &str,
    most: i64,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: TaskCode" FROM task
           WHERE family IS NULL AND code > ? ORDER BY code LIMIT ?"#,
        after,
        most
    )
    .fetch_all(db)
    .await?)
}

/// The other tasks of the task's family.
pub async fn sisters(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<TaskCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT code AS "code: TaskCode" FROM task
           WHERE family = (SELECT family FROM task WHERE code = ?1) AND code <> ?1 ORDER BY code"#,
        task
    )
    .fetch_all(db)
    .await?)
}

/// Every `needs`: the link, the task that waits, the task it waits for.
pub async fn all_needs(
    db: &mut SqliteConnection,
) -> Result<Vec<(LinkCode, TaskCode, TaskCode)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT code AS "code: LinkCode", task AS "task: TaskCode", other AS "other: TaskCode"
           FROM link WHERE kind = 'needs'"#
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.code, row.task, row.other)).collect())
}

/// Every link there is.
pub async fn every_link(db: &mut SqliteConnection) -> Result<Vec<Link>, StoreError> {
    Ok(link_rows!("ORDER BY code").fetch_all(db).await?)
}

/// A link as it reads from one of its ends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LinkSeen {
    pub code: LinkCode,
    pub kind: LinkKind,
    /// Whether it starts here: `needs` read from the task that waits.
    pub from_here: bool,
    /// The task at the other end.
    pub other: TaskCode,
    pub title: Line,
    pub state: Option<TaskState>,
    pub words: Option<Line>,
}

/// The links of a task in both directions, with what stands at the other end.
pub async fn links_of(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Vec<LinkSeen>, StoreError> {
    Ok(sqlx::query_as!(
        LinkSeen,
        r#"SELECT ends.code AS "code!: LinkCode", ends.kind AS "kind!: LinkKind",
               ends.from_here AS "from_here!: bool", ends.other AS "other!: TaskCode",
               task.title AS "title: Line", standing.state AS "state?: TaskState",
               ends.words AS "words?: Line"
           FROM (SELECT code, kind, 1 AS from_here, other, words FROM link WHERE task = ?1
               UNION ALL SELECT code, kind, 0, task, words FROM link WHERE other = ?1) AS ends
           JOIN task ON task.code = ends.other
           LEFT JOIN standing ON standing.task = ends.other
           ORDER BY ends.kind, ends.from_here DESC, ends.other"#,
        task
    )
    .fetch_all(db)
    .await?)
}

/// Every link that starts or ends at one of these tasks.
pub async fn links_among(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<Link>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(link_rows!(
        "WHERE code IN (SELECT code FROM link WHERE task IN (SELECT value FROM json_each(?1))
                   UNION SELECT code FROM link WHERE other IN (SELECT value FROM json_each(?1)))
               ORDER BY code",
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The tasks that one of these holds up, those that they hold up in turn, and so on.
pub async fn that_need(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<TaskCode>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_scalar!(
        r#"WITH RECURSIVE waiting (task) AS (
               SELECT task FROM link
                   WHERE kind IN ('needs', 'undoes') AND other IN (SELECT value FROM json_each(?1))
               UNION
               SELECT link.task FROM waiting JOIN link ON link.other = waiting.task
                   WHERE link.kind IN ('needs', 'undoes'))
           SELECT task AS "task!: TaskCode" FROM waiting ORDER BY task"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}
