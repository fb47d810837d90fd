//! The backlog as `/open` lists it: filters, orders and pages, each answered by an index.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::cells::Line;
use domain::codes::{FamilyCode, FlightCode, PositionCode, TaskCode, WorksiteCode};
use domain::time::Day;
use domain::units::Share;
use domain::words::{PriorityClass, TaskState};

/// Rows on one page of a list.
pub const PAGE: i64 = 50;
/// Up to so many finds a search is answered from its finds; beyond, along the order of the list.
const FEW_FINDS: i64 = 2_000;

/// What blocks a task.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blocker {
    Tool,
    Order,
    Remedy,
    /// By nothing.
    Free,
}

/// What a list is narrowed to; nothing given is every open item.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// As `words::asked` makes it.
    pub words: Option<String>,
    pub flight: Option<FlightCode>,
    pub worksite: Option<WorksiteCode>,
    pub family: Option<FamilyCode>,
    pub class: Option<PriorityClass>,
    pub why: Option<String>,
    pub carried_at_least: Option<i64>,
    pub needed_by: Option<Day>,
    pub in_question: bool,
    pub in_danger: bool,
    pub twice_same: bool,
    pub held: Option<Blocker>,
    /// `done` and `dropped` list what has ended.
    pub state: Option<TaskState>,
}

/// The order of a list; what is equal goes on by class, need, carry count and code.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Sort {
    #[default]
    Rank,
    Code,
    Need,
    Carry,
    Title,
}

/// One row of the list.
#[expect(clippy::struct_excessive_bools, reason = "each is a column of its own")]
#[derive(Debug, Clone, PartialEq)]
pub struct OpenItem {
    pub task: TaskCode,
    pub title: Line,
    pub state: TaskState,
    pub share_left: Share,
    pub left_unknown: Option<String>,
    pub class: Option<PriorityClass>,
    pub family: Option<FamilyCode>,
    pub position: Option<PositionCode>,
    pub worksite: Option<WorksiteCode>,
    pub needed_by_flight: Option<FlightCode>,
    pub needed_by_day: Option<Day>,
    /// The day by which it is needed, a flight resolved to its day.
    pub need_day: Option<Day>,
    /// The record whose date that is, where it is not the task's own.
    pub need_from: Option<String>,
    pub late_means: Option<Line>,
    pub late_is_moot: bool,
    pub carry_count: i64,
    pub deferred_before: i64,
    pub why: String,
    pub why_words: String,
    pub why_event: Option<String>,
    pub in_danger: bool,
    pub in_question: bool,
    pub twice_same: bool,
    pub held_tool: bool,
    pub held_order: bool,
    pub held_remedy: bool,
    pub undated: bool,
    /// Nobody entered the day on which it was opened.
    pub lacks_opened: bool,
}

/// The filter as the statements take it.
#[expect(clippy::struct_excessive_bools, reason = "each is a column of its own")]
struct FilterValues<'a> {
    is_open: bool,
    words: Option<&'a str>,
    flight: Option<&'a FlightCode>,
    worksite: Option<&'a WorksiteCode>,
    family: Option<&'a FamilyCode>,
    class: Option<PriorityClass>,
    why: Option<&'a str>,
    carried_at_least: Option<i64>,
    needed_by: Option<Day>,
    in_question: bool,
    in_danger: bool,
    twice_same: bool,
    held: Option<&'static str>,
    state: Option<TaskState>,
}

/// From where a list is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ReadOrder {
    /// The whole backlog in the order that is asked for.
    Order,
    /// One family or one worksite.
    Family,
    Worksite,
    /// What touches one flight, sorted once it is found.
    Flight,
    /// The few in danger, or the few that hold the words: sorted once they are found.
    Danger,
    Finds,
}

/// A statement over `standing AS s` with the filter as its parameters 1 to 14. Each condition asks
/// its parameter first, so that a row is looked up only for what the filter names.
macro_rules! filtered {
    ($query:ident, [$($into:ident)?], [$($select:literal)+], $narrow:literal, [$($rest:literal)*],
        $asked:ident $(, $more:expr)*) => {
        sqlx::$query!(
            $($into,)?
            $($select +)+ " WHERE s.is_open = ?1 AND " + $narrow
                + " AND (?3 IS NULL OR EXISTS (SELECT 1 FROM task_flight AS touches
                        WHERE touches.flight = ?3 AND touches.task = s.task))
                    AND (?4 IS NULL OR s.worksite = ?4)
                    AND (?5 IS NULL OR s.family = ?5)
                    AND (?6 IS NULL OR s.class = ?6)
                    AND (?7 IS NULL OR s.why = ?7)
                    AND (?8 IS NULL OR s.carry_count >= ?8)
                    AND (?9 IS NULL OR s.need_day <= ?9)
                    AND (NOT ?10 OR s.in_question)
                    AND (NOT ?11 OR s.in_danger)
                    AND (NOT ?12 OR s.twice_same)
                    AND (?13 IS NULL OR CASE ?13 WHEN 'tool' THEN s.held_tool
                        WHEN 'order' THEN s.held_order WHEN 'remedy' THEN s.held_remedy
                        ELSE NOT (s.held_tool OR s.held_order OR s.held_remedy) END)
                    AND (?14 IS NULL OR s.state = ?14)" $(+ $rest)*,
            $asked.is_open,
            $asked.words,
            $asked.flight,
            $asked.worksite,
            $asked.family,
            $asked.class,
            $asked.why,
            $asked.carried_at_least,
            $asked.needed_by,
            $asked.in_question,
            $asked.in_danger,
            $asked.twice_same,
            $asked.held,
            $asked.state
            $(, $more)*
        )
    };
}

macro_rules! rows {
    ($from:literal, $narrow:literal, $order:literal, $asked:ident, $($more:expr),+) => {
        filtered!(
            query_as,
            [OpenItem],
            [r#"SELECT s.task AS "task: TaskCode", s.title AS "title: Line",
                    s.state AS "state: TaskState", s.share_left AS "share_left: Share", s.left_unknown,
                    t.class AS "class: PriorityClass", t.family AS "family: FamilyCode",
                    t.position AS "position: PositionCode", t.worksite AS "worksite: WorksiteCode",
                    t.needed_by_flight AS "needed_by_flight: FlightCode",
                    t.needed_by_day AS "needed_by_day: Day",
                    NULLIF(s.need_day, '9999-12-31') AS "need_day?: Day", s.need_from,
                    t.late_means AS "late_means: Line", t.late_is_moot AS "late_is_moot: bool",
                    s.carry_count, s.deferred_before, s.why, s.why_words, s.why_event,
                    s.in_danger AS "in_danger: bool", s.in_question AS "in_question: bool",
                    s.twice_same AS "twice_same: bool", s.held_tool AS "held_tool: bool",
                    s.held_order AS "held_order: bool", s.held_remedy AS "held_remedy: bool",
                    s.undated AS "undated: bool", t.opened IS NULL AS "lacks_opened!: bool"
                FROM "# $from " CROSS JOIN task AS t ON t.code = s.task"],
            $narrow,
            [" ORDER BY " $order " LIMIT ?15 OFFSET ?16"],
            $asked,
            $($more),+
        )
    };
}

/// The rows of the whole backlog that hold the words, if there are any.
macro_rules! in_order {
    ($order:literal, $asked:ident, $($more:expr),+) => {
        rows!(
            "standing AS s",
            "(?2 IS NULL OR s.entry IN
                (SELECT rowid FROM task_words WHERE task_words MATCH ?2))",
            $order, $asked, $($more),+
        )
    };
}

/// The rows of a part of the backlog, sorted by the word of parameter 17.
macro_rules! sorted {
    ($from:literal, $narrow:literal, $asked:ident, $sort:ident, $($more:expr),+) => {
        rows!(
            $from, $narrow,
            "CASE ?17 WHEN 'code' THEN s.task WHEN 'title' THEN s.title
                    WHEN 'need' THEN s.need_day END,
                CASE ?17 WHEN 'carry' THEN -s.carry_count END, s.class,
                CASE ?17 WHEN 'rank' THEN s.need_day END,
                CASE ?17 WHEN 'rank' THEN -s.carry_count END, s.task",
            $asked, $($more),+, $sort.word()
        )
    };
}

/// Gives `$body` the one statement for this order along this part, as `$query`.
macro_rules! list {
    ($query:ident => $body:expr, $along:expr, $sort:ident, $asked:ident, $most:ident, $offset:ident) => {
        match ($along, $sort) {
            (ReadOrder::Order, Sort::Rank) => {
                let $query = in_order!(
                    "s.class, s.need_day, s.carry_count DESC, s.task",
                    $asked,
                    $most,
                    $offset
                );
                $body
            }
            (ReadOrder::Order, Sort::Code) => {
                let $query = in_order!("s.task", $asked, $most, $offset);
                $body
            }
            (ReadOrder::Order, Sort::Need) => {
                let $query = in_order!("s.need_day, s.class, s.task", $asked, $most, $offset);
                $body
            }
            (ReadOrder::Order, Sort::Carry) => {
                let $query =
                    in_order!("s.carry_count DESC, s.class, s.task", $asked, $most, $offset);
                $body
            }
            (ReadOrder::Order, Sort::Title) => {
                let $query = in_order!("s.title, s.task", $asked, $most, $offset);
                $body
            }
            (ReadOrder::Family, Sort::Rank) => {
                let $query = rows!(
                    "standing AS s",
                    "s.family = ?5",
                    "s.class, s.need_day, s.carry_count DESC, s.task",
                    $asked,
                    $most,
                    $offset
                );
                $body
            }
            (ReadOrder::Worksite, Sort::Rank) => {
                let $query = rows!(
                    "standing AS s",
                    "s.worksite = ?4",
                    "s.class, s.need_day, s.carry_count DESC, s.task",
                    $asked,
                    $most,
                    $offset
                );
                $body
            }
            (ReadOrder::Family, _) => {
                let $query =
                    sorted!("standing AS s", "s.family = ?5", $asked, $sort, $most, $offset);
                $body
            }
            (ReadOrder::Worksite, _) => {
                let $query =
                    sorted!("standing AS s", "s.worksite = ?4", $asked, $sort, $most, $offset);
                $body
            }
            (ReadOrder::Flight, _) => {
                let $query = sorted!(
                    "task_flight CROSS JOIN standing AS s ON s.task = task_flight.task",
                    "task_flight.flight = ?3",
                    $asked,
                    $sort,
                    $most,
                    $offset
                );
                $body
            }
            (ReadOrder::Danger, _) => {
                let $query = sorted!(
                    "standing AS s INDEXED BY standing_in_danger",
                    "s.in_danger = 1",
                    $asked,
                    $sort,
                    $most,
                    $offset
                );
                $body
            }
            (ReadOrder::Finds, _) => {
                let $query = sorted!(
                    "task_words CROSS JOIN standing AS s ON s.entry = task_words.rowid",
                    "task_words MATCH ?2",
                    $asked,
                    $sort,
                    $most,
                    $offset
                );
                $body
            }
        }
    };
}

/// How many rows the list has along this part, as `$query`.
macro_rules! tally {
    ($query:ident => $body:expr, $along:expr, $asked:ident) => {
        match $along {
            ReadOrder::Order => {
                let $query = counted!("standing AS s", "true", $asked);
                $body
            }
            ReadOrder::Family => {
                let $query = counted!("standing AS s", "s.family = ?5", $asked);
                $body
            }
            ReadOrder::Worksite => {
                let $query = counted!("standing AS s", "s.worksite = ?4", $asked);
                $body
            }
            ReadOrder::Flight => {
                let $query = counted!(
                    "task_flight CROSS JOIN standing AS s ON s.task = task_flight.task",
                    "task_flight.flight = ?3",
                    $asked
                );
                $body
            }
            ReadOrder::Danger => {
                let $query = counted!(
                    "standing AS s INDEXED BY standing_in_danger",
                    "s.in_danger = 1",
                    $asked
                );
                $body
            }
            ReadOrder::Finds => {
                let $query = counted!(
                    "task_words CROSS JOIN standing AS s ON s.entry = task_words.rowid",
                    "task_words MATCH ?2",
                    $asked
                );
                $body
            }
        }
    };
}

macro_rules! counted {
    ($from:literal, $narrow:literal, $asked:ident) => {
        filtered!(
            query_scalar, [], [r#"SELECT COUNT(*) AS "count!: i64" FROM "# $from], $narrow, [],
            $asked
        )
    };
}

/// Rows of the list from `offset` on.
pub async fn page(
    db: &mut SqliteConnection,
    filter: &Filter,
    sort: Sort,
    offset: i64,
    most: i64,
) -> Result<Vec<OpenItem>, StoreError> {
    let along = match (filter.along(), &filter.words) {
        (ReadOrder::Finds, Some(words)) if has_many_finds(db, words).await? => ReadOrder::Order,
        (along, _) => along,
    };
    let asked = filter.asked();
    list!(query => Ok(query.fetch_all(db).await?), along, sort, asked, most, offset)
}

/// How many rows all pages of the list hold together.
pub async fn count(db: &mut SqliteConnection, filter: &Filter) -> Result<i64, StoreError> {
    if *filter == Filter::default() {
        return Ok(sqlx::query_scalar!(
            r#"SELECT COUNT(*) AS "count!: i64" FROM standing WHERE is_open = 1"#
        )
        .fetch_one(db)
        .await?);
    }
    let asked = filter.asked();
    tally!(query => Ok(query.fetch_one(db).await?), filter.along(), asked)
}

/// Whether so many tasks hold the words that they are better met along the order of the list than
/// sorted.
async fn has_many_finds(db: &mut SqliteConnection, words: &str) -> Result<bool, StoreError> {
    let finds = sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: i64"
           FROM (SELECT 1 FROM task_words WHERE task_words MATCH ?1 LIMIT ?2 + 1)"#,
        words,
        FEW_FINDS
    )
    .fetch_one(db)
    .await?;
    Ok(finds > FEW_FINDS)
}

impl Filter {
    fn along(&self) -> ReadOrder {
        if self.words.is_some() {
            ReadOrder::Finds
        } else if self.in_danger {
            ReadOrder::Danger
        } else if self.family.is_some() {
            ReadOrder::Family
        } else if self.worksite.is_some() {
            ReadOrder::Worksite
        } else if self.flight.is_some() {
            ReadOrder::Flight
        } else {
            ReadOrder::Order
        }
    }

    fn asked(&self) -> FilterValues<'_> {
        FilterValues {
            is_open: self.state.is_none_or(TaskState::is_open_item),
            words: self.words.as_deref(),
            flight: self.flight.as_ref(),
            worksite: self.worksite.as_ref(),
            family: self.family.as_ref(),
            class: self.class,
            why: self.why.as_deref(),
            carried_at_least: self.carried_at_least,
            needed_by: self.needed_by,
            in_question: self.in_question,
            in_danger: self.in_danger,
            twice_same: self.twice_same,
            held: self.held.map(Blocker::word),
            state: self.state,
        }
    }
}

impl Blocker {
    const fn word(self) -> &'static str {
        match self {
            Self::Tool => "tool",
            Self::Order => "order",
            Self::Remedy => "remedy",
            Self::Free => "free",
        }
    }
}

impl Sort {
    const fn word(self) -> &'static str {
        match self {
            Self::Rank => "rank",
            Self::Code => "code",
            Self::Need => "need",
            Self::Carry => "carry",
            Self::Title => "title",
        }
    }
}

#[cfg(test)]
mod tests;
