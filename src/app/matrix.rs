//! Open items held against the coming excursions, a page of rows at a time.

use async_recursion::async_recursion as boxed;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use crate::fit::{self, Board};
use crate::{Failure, Reader};
use compute::fit::{
    Added, Cell, ExcursionAt, Part, Room, TaskAt, left_with, matrix_where, rooms, sentence,
};
use compute::value::{Worth, best_worth};
use domain::codes::TaskCode;
use domain::words::{GateName, PriorityClass, SlotVerdict};
use store::StoreError;
use store::open_items::{self, Filter, OpenItem, Sort};
use typed_index_collections::TiVec;

/// Rows on one page.
pub const ROWS: i64 = 25;
/// A gate is looked for among at most so many open items.
const SEARCHED: i64 = 2_000;
/// So many of them at a time.
const JUDGED_AT_ONCE: usize = 250;
/// So many rows are all judged and ranked by what they are worth; more stay in the order of class,
/// needed by, times carried.
pub const RANKED: i64 = 500;

/// What is asked of the matrix.
#[derive(Debug, Clone, Default)]
pub struct MatrixQuery {
    pub filter: Filter,
    /// Only items that this check keeps from some coming excursion, or makes tight there.
    pub gate: Option<GateName>,
    /// Only items that stand so.
    pub verdict: Option<Somewhere>,
    /// Only the excursions of this flight.
    pub flight: Option<domain::codes::FlightCode>,
    pub page: i64,
    /// A task that is looked at closely, on this page or not.
    pub opened: Option<TaskCode>,
}

impl MatrixQuery {
    /// Whether rows are left out by how they stand.
    const fn narrows(&self) -> bool {
        self.gate.is_some() || self.verdict.is_some()
    }

    /// The excursions that are shown, by their place on the board.
    fn columns(&self, sheet: &MatrixPage) -> Vec<ExcursionAt> {
        let of_it = |(_, excursion): &(ExcursionAt, &domain::excursions::Excursion)| {
            self.flight.is_none() || excursion.flight == self.flight
        };
        sheet.board.excursions.iter_enumerated().filter(of_it).map(|(at, _)| at).collect()
    }

    fn shows(&self, row: &MatrixRow, columns: &[ExcursionAt]) -> bool {
        let cells = || columns.iter().filter_map(|&at| row.cells.get(at));
        let decides = |gate| {
            let by_it =
                |seen: &MatrixCell| seen.because.as_ref().is_some_and(|(name, _)| *name == gate);
            row.cells.iter().any(by_it)
        };
        self.verdict.is_none_or(|verdict| !row.cells.is_empty() && verdict.holds(cells()))
            && self.gate.is_none_or(decides)
    }
}

/// How a task stands along the excursions that are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Somewhere {
    Fits,
    MayBeSet,
    Nowhere,
    Unknown,
}

impl Somewhere {
    pub const ALL: [Self; 4] = [Self::Fits, Self::MayBeSet, Self::Nowhere, Self::Unknown];

    pub const fn word(self) -> &'static str {
        match self {
            Self::Fits => "fits somewhere",
            Self::MayBeSet => "fits or tight somewhere",
            Self::Nowhere => "fits nowhere",
            Self::Unknown => "cannot tell somewhere",
        }
    }

    pub fn read(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|verdict| verdict.word() == text)
    }

    fn holds<'c>(self, mut cells: impl Iterator<Item = &'c MatrixCell>) -> bool {
        let may_be_set =
            |seen: &MatrixCell| matches!(seen.cell.verdict, SlotVerdict::Fits | SlotVerdict::Tight);
        match self {
            Self::Fits => cells.any(|seen| seen.cell.verdict == SlotVerdict::Fits),
            Self::MayBeSet => cells.any(may_be_set),
            Self::Nowhere => !cells.any(may_be_set),
            Self::Unknown => cells.any(|seen| seen.cell.verdict == SlotVerdict::CannotTell),
        }
    }
}

/// A page of the matrix.
#[derive(Debug)]
pub struct MatrixPage {
    pub board: Arc<Board>,
    pub rows: Vec<MatrixRow>,
    pub total: i64,
    /// What each excursion has left before its limit.
    pub rooms: TiVec<ExcursionAt, Room>,
    /// By value and chance, and not by class, needed by, times carried.
    pub ranked: bool,
    /// The excursions that are shown, by their place on the board.
    pub columns: Vec<ExcursionAt>,
}

impl MatrixPage {
    /// The flights that the coming excursions belong to, in order.
    pub fn flights(&self) -> Vec<domain::codes::FlightCode> {
        let mut flights: Vec<domain::codes::FlightCode> = Vec::new();
        for flight in self.board.excursions.iter().filter_map(|there| there.flight.clone()) {
            if !flights.contains(&flight) {
                flights.push(flight);
            }
        }
        flights
    }
}

/// One open item; `cells` is empty where it is parked.
#[derive(Debug)]
pub struct MatrixRow {
    pub item: OpenItem,
    pub cells: TiVec<ExcursionAt, MatrixCell>,
    pub value: f64,
    /// Where it may be set and is worth most.
    pub best: Option<(ExcursionAt, Worth)>,
}

/// A cell with the reason that decided it.
#[derive(Debug)]
pub struct MatrixCell {
    pub cell: Cell,
    pub because: Option<(GateName, Vec<Part>)>,
    /// Minutes left before the limit at P80 with the set tasks and this one alone.
    pub left: Option<f64>,
}

/// Reads and judges one page, once for all who read the same state of the record.
#[boxed]
pub async fn page(db: &mut Reader, asked: &MatrixQuery) -> Result<Arc<MatrixPage>, Failure> {
    let place = db.place(format!("{asked:?}"));
    let page = place.get_or_try_init(|| async { judged_page(db, asked).await.map(Arc::new) });
    page.await.cloned()
}

#[boxed]
async fn judged_page(db: &mut Reader, asked: &MatrixQuery) -> Result<MatrixPage, Failure> {
    let all = open_items::count(db, &asked.filter).await?;
    let ranked = all <= RANKED;
    let is_searched = asked.narrows() && !ranked;
    let mut total = all;
    let items = if is_searched {
        let found = in_order(db, asked).await?;
        total = i64::try_from(found.len()).unwrap_or(i64::MAX);
        on_page(found.iter().cloned(), asked.page)
    } else {
        let (from, most) = if ranked { (0, RANKED) } else { ((asked.page - 1) * ROWS, ROWS) };
        open_items::page(db, &asked.filter, Sort::Rank, from, most).await?
    };
    let mut wanted: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
    wanted.extend(asked.opened.clone());
    let board = fit::board_seen(db, &wanted).await?;
    let mut sheet = judged(board, items).await?;
    sheet.columns = asked.columns(&sheet);
    if ranked {
        let columns = &sheet.columns;
        sheet.rows.retain(|row| asked.shows(row, columns));
        if asked.narrows() {
            total = i64::try_from(sheet.rows.len()).unwrap_or(i64::MAX);
        }
        rank(&mut sheet.rows);
        sheet.rows = on_page(std::mem::take(&mut sheet.rows).into_iter(), asked.page);
    }
    (sheet.total, sheet.ranked) = (total, ranked);
    with_room(sheet).await
}

/// What of a whole list stands on one page of it.
fn on_page<T>(all: impl Iterator<Item = T>, page: i64) -> Vec<T> {
    let skip = usize::try_from((page - 1) * ROWS).unwrap_or(0);
    all.skip(skip).take(usize::try_from(ROWS).unwrap_or(0)).collect()
}

/// What a narrowed matrix of many tasks shows on all its pages, in their order; once for all who read it.
async fn in_order(db: &mut Reader, asked: &MatrixQuery) -> Result<Arc<Vec<OpenItem>>, Failure> {
    let all_pages = MatrixQuery { page: 0, opened: None, ..asked.clone() };
    let place = db.place(format!("order of {all_pages:?}"));
    let order = place.get_or_try_init(|| async { found(db, asked).await.map(Arc::new) });
    order.await.cloned()
}

/// Judges whatever could be shown a part at a time: the board of all of it would be large, and is of no
/// use once its rows are found.
#[boxed]
async fn found(db: &mut Reader, asked: &MatrixQuery) -> Result<Vec<OpenItem>, Failure> {
    let mut items = open_items::page(db, &asked.filter, Sort::Rank, 0, SEARCHED).await?;
    let mut found = Vec::new();
    while !items.is_empty() {
        let rest = items.split_off(items.len().min(JUDGED_AT_ONCE));
        let wanted: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
        let board = Arc::new(fit::board(db, &wanted).await?);
        let sheet = judged(board, std::mem::replace(&mut items, rest)).await?;
        let columns = asked.columns(&sheet);
        let rows = sheet.rows.into_iter().filter(|row| asked.shows(row, &columns));
        found.extend(rows.map(|row| row.item));
    }
    Ok(found)
}

/// Times what is shown: each excursion, and each cell that may be set.
async fn with_room(mut sheet: MatrixPage) -> Result<MatrixPage, Failure> {
    let all = move || {
        let (snapshot, constants) = (&sheet.board.snapshot, &sheet.board.constants);
        sheet.rooms = rooms(snapshot, constants);
        let mut shown: Vec<(&mut Option<f64>, Added)> = Vec::new();
        for row in &mut sheet.rows {
            let Some(task) = sheet.board.task_at(&row.item.task) else { continue };
            for (excursion, seen) in row.cells.iter_mut_enumerated() {
                // Where it does not fit nobody reads what it would leave.
                let fits = matches!(seen.cell.verdict, SlotVerdict::Fits | SlotVerdict::Tight);
                let Some(place) = seen.cell.place.filter(|_| fits) else { continue };
                let approach = seen.cell.approach;
                let added = Added { excursion, task, approach, share: None, place };
                shown.push((&mut seen.left, added));
            }
        }
        let (cells, added): (Vec<_>, Vec<_>) = shown.into_iter().unzip();
        for (cell, left) in cells.into_iter().zip(left_with(snapshot, constants, &added)) {
            *cell = left;
        }
        sheet
    };
    let stopped = |cause| StoreError::Unusable(format!("timing the slots stopped: {cause}"));
    Ok(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
}

/// Class 1 first; among the rest what is worth most where it may be set; what may be set nowhere
/// stays in the order in which it came.
fn rank(rows: &mut [MatrixRow]) {
    let worth = |row: &MatrixRow| row.best.map_or(0.0, |(_, worth)| worth.total);
    let first = |row: &MatrixRow| row.item.class == Some(PriorityClass::Safety);
    rows.sort_by(|a, b| first(b).cmp(&first(a)).then(worth(b).total_cmp(&worth(a))));
}

/// Judging takes the processor and no connection, so that other requests go on meanwhile.
async fn judged(board: Arc<Board>, items: Vec<OpenItem>) -> Result<MatrixPage, Failure> {
    let all = move || {
        let snapshot = &board.snapshot;
        let shown: HashSet<TaskAt> =
            items.iter().filter_map(|item| board.task_at(&item.task)).collect();
        let matrix = matrix_where(snapshot, &board.constants, |task, _| shown.contains(&task));
        let row_of: HashMap<TaskAt, usize> =
            matrix.tasks.iter().enumerate().map(|(row, &task)| (task, row)).collect();
        let seen = |task: TaskAt, cell: &Cell| MatrixCell {
            cell: *cell,
            because: cell.deciding().map(|(gate, why)| (gate, sentence(snapshot, task, &why))),
            left: None,
        };
        let rows = items
            .into_iter()
            .map(|item| {
                let task = board.task_at(&item.task);
                let value = task.map_or(0.0, |task| board.values.total(task));
                let judged = task.and_then(|task| Some((task, matrix.row(*row_of.get(&task)?))));
                let best =
                    judged.and_then(|(task, row)| best_worth(snapshot, &board.values, task, row));
                let cells = judged
                    .map(|(task, cells)| cells.iter().map(|cell| seen(task, cell)).collect())
                    .unwrap_or_default();
                MatrixRow { item, cells, value, best }
            })
            .collect();
        let columns = board.excursions.keys().collect();
        MatrixPage { rows, rooms: TiVec::new(), total: 0, ranked: false, columns, board }
    };
    let stopped = |cause| StoreError::Unusable(format!("judging the slots stopped: {cause}"));
    Ok(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
}
