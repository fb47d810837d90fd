//! All excursions as a list, the latest first: by flight, by state, by words.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::cells::{Line, Prose};
use domain::codes::{ExcursionCode, FlightCode};
use domain::time::Day;
use domain::units::Minutes;
use domain::words::ExcursionState;

/// What the list is narrowed to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// As `words::asked` makes it; looked for in everything the excursion says.
    pub words: Option<String>,
    pub flight: Option<FlightCode>,
    pub state: Option<ExcursionState>,
}

/// One row of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExcursionRow {
    pub code: ExcursionCode,
    pub flight: Option<FlightCode>,
    pub number: Option<i64>,
    pub day: Option<Day>,
    pub state: ExcursionState,
    pub planned: Option<Minutes>,
    pub actual: Option<Minutes>,
    pub ended_early: Option<Line>,
    pub notes: Prose,
    /// Its debrief is complete.
    pub is_closed: bool,
    /// Attempts recorded on it, and slots that it still holds.
    pub attempts: i64,
    pub slots: i64,
}

/// A statement over the excursions that pass the filter, parameters 1 to 3. What holds the words is found
/// once and not once a row.
macro_rules! filtered {
    ($query:ident, [$($into:ident)?], $before:literal, [$($rest:literal)*], $filter:ident
        $(, $more:expr)*) => {
        sqlx::$query!(
            $($into,)?
            "WITH found AS MATERIALIZED (SELECT register.code
                FROM event_words CROSS JOIN register ON register.entry = event_words.rowid
                WHERE ?3 IS NOT NULL AND register.kind = 'excursion' AND event_words
                    MATCH '({title words} : (' || ?3 || ')) AND kind : excursion') "
                + $before + " FROM excursion LEFT JOIN flight ON flight.code = excursion.flight
                WHERE (?1 IS NULL OR excursion.flight = ?1)
                    AND (?2 IS NULL OR excursion.state = ?2)
                    AND (?3 IS NULL OR excursion.code IN (SELECT code FROM found))"
                $(+ $rest)*,
            $filter.flight,
            $filter.state,
            $filter.words
            $(, $more)*
        )
    };
}

/// The rows of one page in an order. They are told first: nothing is counted for the others.
macro_rules! in_order {
    ($filter:ident, $most:ident, $offset:ident, $order:literal) => {
        filtered!(
            query_as,
            [ExcursionRow],
            r#"SELECT excursion.code AS "code: ExcursionCode", excursion.flight AS "flight: FlightCode",
                   excursion.number, excursion.day AS "day: Day",
                   excursion.state AS "state: ExcursionState", excursion.planned AS "planned: Minutes",
                   excursion.actual AS "actual: Minutes",
                   excursion.ended_early AS "ended_early: Line", excursion.notes AS "notes: Prose",
                   excursion.closed_at IS NOT NULL AS "is_closed!: bool",
                   (SELECT COUNT(*) FROM attempt WHERE attempt.excursion = excursion.code)
                       AS "attempts!: i64",
                   (SELECT COUNT(*) FROM slot WHERE slot.excursion = excursion.code
                       AND slot.state IN ('pencilled', 'set')) AS "slots!: i64"
               FROM (SELECT excursion.code"#,
            [" ORDER BY " $order " LIMIT ?4 OFFSET ?5) AS listed
               CROSS JOIN excursion ON excursion.code = listed.code
               LEFT JOIN flight ON flight.code = excursion.flight ORDER BY " $order],
            $filter,
            $most,
            $offset
        )
    };
}

/// Rows of the list from `offset` on. Those whose flight nobody knows come last.
pub async fn page(
    db: &mut SqliteConnection,
    filter: &Filter,
    offset: i64,
    most: i64,
) -> Result<Vec<ExcursionRow>, StoreError> {
    Ok(in_order!(
        filter,
        most,
        offset,
        "flight.order_day DESC, flight.sequence DESC, flight.code DESC,
            COALESCE(excursion.day, (SELECT MAX(e.day) FROM excursion AS e
                WHERE e.flight = excursion.flight AND e.number < excursion.number), '') DESC,
            excursion.number DESC, excursion.code DESC"
    )
    .fetch_all(db)
    .await?)
}

/// How many excursions all pages of the list hold together.
pub async fn count(db: &mut SqliteConnection, filter: &Filter) -> Result<i64, StoreError> {
    Ok(filtered!(query_scalar, [], r#"SELECT COUNT(*) AS "count!: i64""#, [], filter)
        .fetch_one(db)
        .await?)
}

#[cfg(test)]
mod tests {
    use sqlx::{Execute as _, SqlitePool};

    use super::*;
    use crate::tests::{plan, saved, world};
    use crate::{flights, register, standing, words};
    use domain::excursions::Excursion;
    use domain::flights::Flight;
    use domain::kinds::Kind;
    use domain::time::Moment;

    #[sqlx::test(migrations = "../../migrations")]
    async fn what_holds_the_words_is_found_once_and_not_once_a_row(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        let (filter, no) = (Filter::default(), 0_i64);
        let count = filtered!(query_scalar, [], r#"SELECT COUNT(*) AS "count!: i64""#, [], filter);
        let page = in_order!(filter, no, no, "excursion.code");
        for sql in [count.sql().as_str().to_owned(), page.sql().as_str().to_owned()] {
            let steps = plan(db, &sql).await;
            let search = steps.iter().find(|step| step.contains("event_words")).unwrap();
            // An equals sign in the number of the search stands for a row that is looked up by itself.
            assert!(search.ends_with("VIRTUAL TABLE INDEX 0:M4"), "{steps:#?}");
        }
    }

    async fn codes(db: &mut SqliteConnection, filter: &Filter) -> Vec<String> {
        let rows = page(db, filter, 0, 50).await.unwrap();
        assert_eq!(count(db, filter).await.unwrap(), i64::try_from(rows.len()).unwrap());
        rows.iter().map(|row| row.code.to_string()).collect()
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn the_list_begins_with_the_latest_and_keeps_what_is_asked(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        saved::<Flight>(db, "code: G-1 | state: flown | launch: 2030-01-01").await;
        saved::<Excursion>(db, "code: E-1.2 | flight: G-1 | number: 2 | state: flown").await;
        saved::<Excursion>(db, "code: E-0 | state: flown").await;
        for flight in ["G-1", "G-2"] {
            flights::save_order_day(db, &flight.into()).await.unwrap();
        }
        for (kind, code) in [(Kind::Excursion, "E-1.2"), (Kind::Attempt, "A-1")] {
            register::enter(db, kind, code, "lead", Moment(0)).await.unwrap();
            standing::put_record_words(db, kind, code, ("", "the hatch seal stuck")).await.unwrap();
        }

        let all = Filter::default();
        assert_eq!(codes(db, &all).await, ["E-2", "E-1.2", "E-1", "E-0"]);
        let of_flight = Filter { flight: Some("G-1".into()), ..Filter::default() };
        assert_eq!(codes(db, &of_flight).await, ["E-1.2", "E-1"]);
        let planned = Filter { state: Some(ExcursionState::Planned), ..Filter::default() };
        assert_eq!(codes(db, &planned).await, ["E-2"]);
        let said = Filter { words: words::asked("hatch seal"), ..Filter::default() };
        assert_eq!(codes(db, &said).await, ["E-1.2"]);

        let rows = page(db, &all, 1, 2).await.unwrap();
        assert_eq!((rows[1].attempts, rows[1].slots, rows[1].is_closed), (2, 0, false));
        assert_eq!(rows[0].number, Some(2));
    }
}
