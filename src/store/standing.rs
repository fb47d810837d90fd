//! Stored copies of how tasks stand, written by the operation that derives them.

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{ExcursionCode, FamilyCode, FlightCode, TaskCode, WorksiteCode};
use domain::history::Left;
use domain::kinds::Kind;
use domain::units::Share;
use domain::words::TaskState;

/// How one task stands, as the backlog filters and sorts it.
#[expect(clippy::struct_excessive_bools, reason = "each is a column of its own")]
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandingRow {
    pub task: TaskCode,
    pub state: TaskState,
    /// An open item that counts: no contingency that waits for its trigger.
    pub is_open: bool,
    /// While it is unknown, the most that can be left.
    pub share_left: Share,
    /// The attempt after which it is unknown how much of an open item is left.
    pub left_unknown: Option<String>,
    pub carry_count: i64,
    pub deferred_before: i64,
    /// The kind of reason why it is open; the state where it is not.
    pub why: String,
    pub why_words: String,
    /// Code of the event behind it.
    pub why_event: Option<String>,
    /// `9` where unknown.
    pub class: String,
    /// `9999-12-31` where nothing needs it.
    pub need_day: String,
    /// The record whose date that is, where the task's own comes later or is not known.
    pub need_from: Option<String>,
    pub in_danger: bool,
    pub in_question: bool,
    pub twice_same: bool,
    pub held_tool: bool,
    pub held_order: bool,
    pub held_remedy: bool,
    pub worksite: Option<WorksiteCode>,
    pub family: Option<FamilyCode>,
    pub title: String,
    /// Some event has no known place in time.
    pub undated: bool,
}

impl StandingRow {
    pub fn left(&self) -> Left {
        Left { most: self.share_left, unknown_after: self.left_unknown.clone() }
    }
}

pub async fn find(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Option<StandingRow>, StoreError> {
    Ok(these(db, std::slice::from_ref(task)).await?.pop())
}

pub async fn these(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<StandingRow>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_as!(
        StandingRow,
        r#"SELECT task AS "task: TaskCode", state AS "state: TaskState", is_open AS "is_open: bool",
               share_left AS "share_left: Share", left_unknown, carry_count, deferred_before, why, why_words,
               why_event, class, need_day, need_from, in_danger AS "in_danger: bool",
               in_question AS "in_question: bool", twice_same AS "twice_same: bool",
               held_tool AS "held_tool: bool", held_order AS "held_order: bool",
               held_remedy AS "held_remedy: bool", worksite AS "worksite: WorksiteCode",
               family AS "family: FamilyCode", title, undated AS "undated: bool"
           FROM standing WHERE task IN (SELECT value FROM json_each(?)) ORDER BY task"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

pub async fn put(db: &mut SqliteConnection, row: &StandingRow) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT OR REPLACE INTO standing (entry, task, state, is_open, share_left, carry_count,
             deferred_before, why, why_words, why_event, class, need_day, in_danger, in_question,
             twice_same, held_tool, held_order, held_remedy, worksite, family, title, undated,
             left_unknown, need_from)
         SELECT entry, ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17,
             ?18, ?19, ?20, ?21, ?22, ?23
         FROM register WHERE kind = 'task' AND code = ?1",
        row.task,
        row.state,
        row.is_open,
        row.share_left,
        row.carry_count,
        row.deferred_before,
        row.why,
        row.why_words,
        row.why_event,
        row.class,
        row.need_day,
        row.in_danger,
        row.in_question,
        row.twice_same,
        row.held_tool,
        row.held_order,
        row.held_remedy,
        row.worksite,
        row.family,
        row.title,
        row.undated,
        row.left_unknown,
        row.need_from
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Those of these tasks that are open items, with their titles.
pub async fn open_titles(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<(TaskCode, String)>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT task AS "task: TaskCode", state AS "state: TaskState", title FROM standing
           WHERE task IN (SELECT value FROM json_each(?)) ORDER BY task"#,
        tasks
    )
    .fetch_all(db)
    .await?;
    let open = rows.into_iter().filter(|row| row.state.is_open_item());
    Ok(open.map(|row| (row.task, row.title)).collect())
}

/// An open task of which an attempt says that nothing is left, without having ended it.
#[derive(Debug, Clone)]
pub struct LeftUnknown {
    pub task: TaskCode,
    pub title: String,
    pub share_left: Share,
    pub attempt: String,
    pub excursion: ExcursionCode,
}

/// Those tasks, with the attempt that has to be corrected.
pub async fn left_unknown(
    db: &mut SqliteConnection,
    most: i64,
) -> Result<Vec<LeftUnknown>, StoreError> {
    Ok(sqlx::query_as!(
        LeftUnknown,
        r#"SELECT standing.task AS "task: TaskCode", standing.title,
               standing.share_left AS "share_left: Share", attempt.code AS "attempt",
               attempt.excursion AS "excursion: ExcursionCode"
           FROM standing JOIN attempt ON attempt.code = standing.left_unknown
           WHERE standing.left_unknown IS NOT NULL
               AND (attempt.left_after IS NOT NULL OR attempt.share IS NOT NULL)
           ORDER BY standing.task LIMIT ?"#,
        most
    )
    .fetch_all(db)
    .await?)
}

pub async fn left_unknown_count(db: &mut SqliteConnection) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT COUNT(*) FROM standing JOIN attempt ON attempt.code = standing.left_unknown
           WHERE standing.left_unknown IS NOT NULL
               AND (attempt.left_after IS NOT NULL OR attempt.share IS NOT NULL)"#
    )
    .fetch_one(db)
    .await?)
}

/// Rewrites the flights that a task has to do with.
pub async fn put_flights(
    db: &mut SqliteConnection,
    task: &TaskCode,
    flights: &[FlightCode],
) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM task_flight WHERE task = ?", task).execute(&mut *db).await?;
    let flights = json_array(flights.iter().map(FlightCode::as_str));
    sqlx::query!(
        "INSERT OR IGNORE INTO task_flight (flight, task) SELECT value, ? FROM json_each(?)",
        task,
        flights
    )
    .execute(db)
    .await?;
    Ok(())
}

/// The flights that these tasks have to do with, in the order of their codes.
pub async fn flights_of(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<(TaskCode, FlightCode)>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT task AS "task: TaskCode", flight AS "flight: FlightCode"
           FROM task_flight WHERE task IN (SELECT value FROM json_each(?)) ORDER BY task, flight"#,
        tasks
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.task, row.flight)).collect())
}

/// What the backlog's search finds of a task, under its number in the register.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TaskWords {
    pub entry: i64,
    pub task: TaskCode,
    pub title: String,
    pub notes: String,
    /// The words of its attempts, findings and remedies.
    pub record: String,
}

/// The words kept under these numbers.
pub async fn task_words(
    db: &mut SqliteConnection,
    entries: &[i64],
) -> Result<Vec<TaskWords>, StoreError> {
    let entries = entries.iter().copied().collect::<serde_json::Value>().to_string();
    // A bare column of a virtual table ends the compiler that asks for its origin.
    Ok(sqlx::query_as!(
        TaskWords,
        r#"SELECT rowid + 0 AS "entry!: i64", task || '' AS "task!: TaskCode",
               title || '' AS "title!: String", notes || '' AS "notes!: String",
               record || '' AS "record!: String"
           FROM task_words WHERE rowid IN (SELECT value FROM json_each(?))"#,
        entries
    )
    .fetch_all(db)
    .await?)
}

pub async fn put_words(db: &mut SqliteConnection, words: &TaskWords) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM task_words WHERE rowid = ?", words.entry).execute(&mut *db).await?;
    sqlx::query!(
        "INSERT INTO task_words (rowid, task, code, title, notes, record) VALUES (?, ?, ?, ?, ?, ?)",
        words.entry,
        words.task,
        words.task,
        words.title,
        words.notes,
        words.record
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Puts a record's title and its other words into the index of everything, under its number in
/// the register.
pub async fn put_record_words(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
    (title, words): (&str, &str),
) -> Result<(), StoreError> {
    let entry =
        sqlx::query_scalar!("SELECT entry FROM register WHERE kind = ? AND code = ?", kind, code)
            .fetch_one(&mut *db)
            .await?;
    sqlx::query!("DELETE FROM event_words WHERE rowid = ?", entry).execute(&mut *db).await?;
    sqlx::query!(
        "INSERT INTO event_words (rowid, code, kind, title, words) VALUES (?, ?, ?, ?, ?)",
        entry,
        code,
        kind,
        title,
        words
    )
    .execute(db)
    .await?;
    Ok(())
}

/// The words of findings and remedies on these tasks, for the search.
pub async fn words_about(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<(TaskCode, String)>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    let rows = sqlx::query!(
        r#"SELECT attempt.task AS "task!: TaskCode",
               finding.words || ' ' || finding.evidence AS "words!: String"
           FROM attempt JOIN finding_attempt ON finding_attempt.attempt = attempt.code
               JOIN finding ON finding.code = finding_attempt.finding
           WHERE attempt.task IN (SELECT value FROM json_each(?1))
           UNION
           SELECT attempt.task, remedy.what || ' ' || remedy.evidence
           FROM attempt JOIN remedy_attempt ON remedy_attempt.attempt = attempt.code
               JOIN remedy ON remedy.code = remedy_attempt.remedy
           WHERE attempt.task IN (SELECT value FROM json_each(?1))
           ORDER BY 1, 2"#,
        tasks
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| (row.task, row.words)).collect())
}

/// What holds a task up, beside its own history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WhatBlocks {
    pub task: TaskCode,
    /// Techniques that are not withdrawn, and how many of them lack a tool.
    pub techniques: i64,
    pub lacking: i64,
    /// Tasks that it needs, or undoes, and that are not done.
    pub needs_open: i64,
    /// Remedies that name its attempts and are not verified.
    pub remedies_open: i64,
    /// It stands in the backlog only once something triggers it.
    pub is_contingency: bool,
}

pub async fn holds(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<WhatBlocks>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    Ok(sqlx::query_as!(
        WhatBlocks,
        r#"SELECT task.code AS "task!: TaskCode",
               (SELECT COUNT(*) FROM technique WHERE state <> 'withdrawn'
                    AND (technique.task = task.code OR technique.family = task.family))
                   AS "techniques!: i64",
               (SELECT COUNT(*) FROM technique WHERE state <> 'withdrawn'
                    AND (technique.task = task.code OR technique.family = task.family)
                    AND EXISTS (SELECT 1 FROM technique_tool
                        JOIN tool ON tool.code = technique_tool.tool
                        WHERE technique_tool.technique = technique.code
                            AND (tool.state <> 'usable' OR COALESCE(tool.on_board, 1) = 0
                                OR (tool.on_board IS NULL AND tool.arrives_with IN
                                    (SELECT code FROM flight WHERE state = 'coming')))))
                   AS "lacking!: i64",
               (SELECT COUNT(*) FROM link LEFT JOIN standing ON standing.task = link.other
                    WHERE link.task = task.code AND link.kind IN ('needs', 'undoes')
                        AND COALESCE(standing.state, 'open') <> 'done') AS "needs_open!: i64",
               (SELECT COUNT(DISTINCT remedy.code) FROM attempt
                    JOIN remedy_attempt ON remedy_attempt.attempt = attempt.code
                    JOIN remedy ON remedy.code = remedy_attempt.remedy
                    WHERE attempt.task = task.code AND remedy.state IN ('open', 'done'))
                   AS "remedies_open!: i64",
               EXISTS (SELECT 1 FROM link WHERE link.task = task.code AND link.kind = 'only if')
                   AS "is_contingency!: bool"
           FROM task WHERE task.code IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}
