//! The record of a technique as one table: a row for each unit and side, a column for each flight.

use std::collections::BTreeMap;

use app::calendar::Calendar;
use app::read::attempts::TriedBy;
use domain::words::Outcome;

pub(super) struct Record {
    /// The last flights on which it was tried, in their order.
    pub flights: Vec<String>,
    pub rows: Vec<RecordRow>,
    /// Flights before those, and units beyond those that are shown.
    pub earlier: usize,
    pub more: usize,
}

/// So many flights and units are shown.
const FLIGHTS: usize = 6;
const ROWS: usize = 25;

pub(super) struct RecordRow {
    pub side: String,
    pub unit: Option<String>,
    pub task: String,
    /// The tries on each flight.
    pub cells: Vec<Vec<AttemptMark>>,
}

pub(super) struct AttemptMark {
    pub attempt: String,
    pub outcome: Outcome,
    pub revision: Option<i64>,
}

/// `attempts` come as they happened.
pub(super) fn of(attempts: &[TriedBy], calendar: &Calendar) -> Record {
    let unknown = calendar.flights.len();
    let rank = |attempt: &TriedBy| {
        calendar.excursions.get(&attempt.excursion).and_then(|on| on.flight).unwrap_or(unknown)
    };
    let mut ranks: Vec<usize> = attempts.iter().map(rank).collect();
    ranks.sort_unstable();
    ranks.dedup();
    let earlier = ranks.len().saturating_sub(FLIGHTS);
    ranks.drain(..earlier);
    let mut rows: BTreeMap<(String, Option<String>, String), Vec<Vec<AttemptMark>>> =
        BTreeMap::new();
    for attempt in attempts.iter().filter(|attempt| ranks.contains(&rank(attempt))) {
        let side =
            attempt.side.as_ref().map_or_else(|| "not recorded".to_owned(), ToString::to_string);
        let unit = attempt.unit.as_ref().map(ToString::to_string);
        let key = (side, unit, attempt.task.to_string());
        let cells = rows.entry(key).or_insert_with(|| ranks.iter().map(|_| Vec::new()).collect());
        let column = ranks.iter().position(|known| *known == rank(attempt));
        if let Some(cell) = column.and_then(|at| cells.get_mut(at)) {
            cell.push(AttemptMark {
                attempt: attempt.code.to_string(),
                outcome: attempt.outcome,
                revision: attempt.revision,
            });
        }
    }
    let name = |rank: &usize| {
        let flight = calendar.flights.get(*rank);
        flight.map_or_else(|| "flight unknown".to_owned(), |flight| flight.code.to_string())
    };
    let more = rows.len().saturating_sub(ROWS);
    Record {
        earlier,
        more,
        flights: ranks.iter().map(name).collect(),
        rows: rows
            .into_iter()
            .take(ROWS)
            .map(|((side, unit, task), cells)| RecordRow { side, unit, task, cells })
            .collect(),
    }
}
