//! Attempts and deferrals across all tasks: searched, counted by cause, and how each planned task
//! of the last flights ended.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::cells::List;
use domain::codes::{CauseCode, ExcursionCode, TaskCode, TechniqueCode};
use domain::kinds::Kind;
use domain::quantities::Measured;
use domain::sides::Side;
use domain::time::Day;
use domain::words::{Outcome, SlotState};

/// What a search of the history is narrowed to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// As `words::asked` makes it.
    pub words: Option<String>,
    /// The cause that decides.
    pub cause: Option<CauseCode>,
    pub group: Option<String>,
    /// Here and below, nothing between the quotes: not recorded.
    pub technique: Option<TechniqueCode>,
    pub side: Option<String>,
    pub worksite: Option<String>,
    pub flight: Option<String>,
    pub outcome: Option<Outcome>,
    /// Something stopped it.
    pub stopped: bool,
}

/// One attempt or deferral in the list.
#[derive(Debug, Clone)]
pub struct EventRow {
    pub kind: Kind,
    pub code: String,
    pub task: TaskCode,
    pub title: String,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    pub outcome: Option<Outcome>,
    pub cause: Option<String>,
    pub words: String,
    pub measured: List<Measured>,
    pub as_left: String,
}

/// A statement over the attempts that pass a filter, the newest first. Where words are asked for, their
/// index leads: it tells the newest first, so what stands on one page is read and no more.
macro_rules! of_attempts {
    ($query:ident, [$($into:ident)?], $before:literal, $after:literal, $fetch:ident, $db:ident,
        $filter:ident $(, $more:expr)*) => {
        match &$filter.words {
            Some(words) => of_attempts!(
                $query, [$($into)?],
                $before + " FROM event_words
                       CROSS JOIN register ON register.entry = event_words.rowid
                       CROSS JOIN attempt ON attempt.code = register.code",
                "event_words MATCH '({title words} : (' || ?1 || ')) AND kind : attempt'",
                " ORDER BY event_words.rowid DESC" + $after,
                $filter, words $(, $more)*
            )
            .$fetch($db)
            .await?,
            None => of_attempts!(
                $query, [$($into)?], $before + " FROM attempt", "?1 IS NULL",
                " ORDER BY attempt.rowid DESC" + $after,
                $filter, None::<String> $(, $more)*
            )
            .$fetch($db)
            .await?,
        }
    };
    ($query:ident, [$($into:ident)?], $before:literal + $from:literal, $led:literal,
        $order:literal + $after:literal, $filter:ident, $words:expr $(, $more:expr)*) => {
        sqlx::$query!(
            $($into,)?
            $before + $from + " JOIN task ON task.code = attempt.task
                JOIN excursion ON excursion.code = attempt.excursion
                LEFT JOIN cause ON cause.code = attempt.told_cause
            WHERE " + $led + "
                AND (?2 IS NULL OR attempt.told_cause = ?2)
                AND (?3 IS NULL OR COALESCE(attempt.technique, '') = ?3)
                AND (?4 IS NULL OR COALESCE(attempt.side, '') = ?4)
                AND (?5 IS NULL OR COALESCE(attempt.worksite, '') = ?5)
                AND (?6 IS NULL OR COALESCE(excursion.flight, '') = ?6)
                AND (?7 IS NULL OR attempt.outcome = ?7)
                AND (?8 IS NULL OR cause.cause_group = ?8)
                AND (?9 = 0 OR attempt.told_cause IS NOT NULL)" + $order + $after,
            $words,
            $filter.cause,
            $filter.technique,
            $filter.side,
            $filter.worksite,
            $filter.flight,
            $filter.outcome,
            $filter.group,
            $filter.stopped
            $(, $more)*
        )
    };
}

/// Attempts, the newest entered first.
pub async fn attempts(
    db: &mut SqliteConnection,
    filter: &Filter,
    offset: i64,
    most: i64,
) -> Result<Vec<EventRow>, StoreError> {
    Ok(of_attempts!(
        query_as,
        [EventRow],
        r#"SELECT 'attempt' AS "kind!: Kind", attempt.code AS "code!",
               attempt.task AS "task!: TaskCode", task.title AS "title!",
               attempt.excursion AS "excursion!: ExcursionCode", excursion.day AS "day: Day",
               attempt.technique AS "technique: TechniqueCode", attempt.side AS "side: Side",
               attempt.outcome AS "outcome: Outcome", cause.words AS "cause?: String",
               attempt.words AS "words!", attempt.measured AS "measured!: List<Measured>",
               attempt.as_left AS "as_left!""#,
        " LIMIT ?10 OFFSET ?11",
        fetch_all,
        db,
        filter,
        most,
        offset
    ))
}

/// How many attempts there are, counted to one more than `most`.
pub async fn count_attempts(
    db: &mut SqliteConnection,
    filter: &Filter,
    most: i64,
) -> Result<i64, StoreError> {
    Ok(of_attempts!(
        query_scalar,
        [],
        r#"SELECT COUNT(*) AS "count!: i64" FROM (SELECT 1 AS one"#,
        " LIMIT ?10 + 1)",
        fetch_one,
        db,
        filter,
        most
    ))
}

/// As for attempts, of deferrals.
macro_rules! of_deferrals {
    ($from:literal, $led:literal, $order:literal, $db:ident, $filter:ident, $words:expr, $most:ident,
        $offset:ident) => {
        sqlx::query_as!(
            EventRow,
            r#"SELECT 'deferral' AS "kind!: Kind", deferral.code AS "code!",
                   deferral.task AS "task!: TaskCode", task.title AS "title!",
                   deferral.excursion AS "excursion!: ExcursionCode", excursion.day AS "day: Day",
                   NULL AS "technique: TechniqueCode", NULL AS "side: Side",
                   NULL AS "outcome: Outcome",
                   deferral.phase || ', ' || deferral.reason AS "cause?: String",
                   deferral.words AS "words!", '' AS "measured!: List<Measured>",
                   '' AS "as_left!: String" FROM "# + $from + " JOIN task ON task.code = deferral.task
                   JOIN excursion ON excursion.code = deferral.excursion
               WHERE " + $led + "
                   AND (?2 IS NULL OR task.worksite = ?2)
                   AND (?3 IS NULL OR COALESCE(excursion.flight, '') = ?3)
               ORDER BY " + $order + " DESC LIMIT ?4 OFFSET ?5",
            $words,
            $filter.worksite,
            $filter.flight,
            $most,
            $offset
        )
        .fetch_all($db)
        .await?
    };
}

/// Deferrals, the newest entered first.
pub async fn deferrals(
    db: &mut SqliteConnection,
    filter: &Filter,
    offset: i64,
    most: i64,
) -> Result<Vec<EventRow>, StoreError> {
    Ok(match &filter.words {
        Some(words) => of_deferrals!(
            "event_words CROSS JOIN register ON register.entry = event_words.rowid
                CROSS JOIN deferral ON deferral.code = register.code",
            "event_words MATCH '({title words} : (' || ?1 || ')) AND kind : deferral'",
            "event_words.rowid",
            db,
            filter,
            words,
            most,
            offset
        ),
        None => of_deferrals!(
            "deferral",
            "?1 IS NULL",
            "deferral.rowid",
            db,
            filter,
            None::<String>,
            most,
            offset
        ),
    })
}

/// How often a kind of cause stopped an attempt.
#[derive(Debug, Clone)]
pub struct CauseCount {
    pub code: CauseCode,
    pub words: String,
    pub cause_group: String,
    pub count: i64,
}

/// What stops work, the commonest first; narrowed as the list is.
pub async fn causes(
    db: &mut SqliteConnection,
    filter: &Filter,
) -> Result<Vec<CauseCount>, StoreError> {
    let narrowed = [&filter.side, &filter.worksite, &filter.flight];
    if filter.technique.is_none() && narrowed.iter().all(|asked| asked.is_none()) {
        // Counted in the index alone: an attempt of a large record is not read for it.
        return Ok(sqlx::query_as!(
            CauseCount,
            r#"SELECT cause.code AS "code: CauseCode", cause.words, cause.cause_group,
                   counted.times AS "count!: i64"
               FROM (SELECT told_cause, COUNT(*) AS times FROM attempt
                       WHERE told_cause IS NOT NULL GROUP BY told_cause) AS counted
                   JOIN cause ON cause.code = counted.told_cause
               ORDER BY counted.times DESC, cause.code"#
        )
        .fetch_all(db)
        .await?);
    }
    Ok(sqlx::query_as!(
        CauseCount,
        r#"SELECT cause.code AS "code: CauseCode", cause.words, cause.cause_group,
               COUNT(*) AS "count!: i64"
           FROM attempt JOIN cause ON cause.code = attempt.told_cause
               JOIN excursion ON excursion.code = attempt.excursion
           WHERE (?1 IS NULL OR COALESCE(attempt.technique, '') = ?1)
               AND (?2 IS NULL OR COALESCE(attempt.side, '') = ?2)
               AND (?3 IS NULL OR COALESCE(attempt.worksite, '') = ?3)
               AND (?4 IS NULL OR COALESCE(excursion.flight, '') = ?4)
           GROUP BY cause.code ORDER BY COUNT(*) DESC, cause.code"#,
        filter.technique,
        filter.side,
        filter.worksite,
        filter.flight
    )
    .fetch_all(db)
    .await?)
}

/// How a slot of an excursion ended, or stands.
#[derive(Debug, Clone)]
pub struct EndedSlot {
    pub excursion: ExcursionCode,
    pub task: TaskCode,
    pub title: String,
    pub state: SlotState,
    pub outcome: Option<Outcome>,
    /// What the attempt says is left.
    pub left: Option<i64>,
    pub deferred: bool,
}

/// The slots of these excursions with the outcome of their last attempt.
pub async fn slots_of(
    db: &mut SqliteConnection,
    excursions: &[ExcursionCode],
) -> Result<Vec<EndedSlot>, StoreError> {
    let excursions = crate::json_array(excursions.iter().map(ExcursionCode::as_str));
    Ok(sqlx::query_as!(
        EndedSlot,
        r#"SELECT slot.excursion AS "excursion: ExcursionCode", slot.task AS "task: TaskCode",
               task.title, slot.state AS "state: SlotState",
               (SELECT outcome FROM attempt WHERE attempt.slot = slot.code
                    ORDER BY attempt.rowid DESC LIMIT 1) AS "outcome: Outcome",
               (SELECT COALESCE(left_after, 100 - share) FROM attempt
                    WHERE attempt.slot = slot.code
                    ORDER BY attempt.rowid DESC LIMIT 1) AS "left: i64",
               EXISTS (SELECT 1 FROM deferral WHERE deferral.slot = slot.code
                    AND deferral.phase <> 'before launch') AS "deferred!: bool"
           FROM slot JOIN task ON task.code = slot.task
           WHERE slot.excursion IN (SELECT value FROM json_each(?))
           ORDER BY slot.excursion, slot.place, slot.code"#,
        excursions
    )
    .fetch_all(db)
    .await?)
}
