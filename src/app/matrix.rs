//! Open items held against the coming excursions, a page of rows at a time.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::app::Failure;
use crate::app::fit::{self, Board};
use crate::compute::fit::{Cell, Counting, Part, TaskAt, excursion_as_planned, matrix, sentence};
use crate::domain::codes::TaskCode;
use crate::domain::words::GateName;
use crate::store::StoreError;
use crate::store::open_items::{self, Filter, OpenItem, Sort};

/// Rows on one page.
pub const ROWS: i64 = 25;
/// A gate is looked for among at most so many open items.
const SEARCHED: i64 = 2_000;

/// What is asked of the matrix.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    pub filter: Filter,
    /// Only items that this gate keeps from some coming excursion, or makes tight there.
    pub gate: Option<GateName>,
    pub page: i64,
    /// A task that is looked at closely, on this page or not.
    pub opened: Option<TaskCode>,
}

/// A page of the matrix.
#[derive(Debug)]
pub struct Sheet {
    pub board: Board,
    pub rows: Vec<Row>,
    pub total: i64,
    /// Minutes that are left before the limit of each excursion with what is set on it, at P80.
    pub left: Vec<Option<f64>>,
}

/// One open item; `cells` is empty where it is parked.
#[derive(Debug)]
pub struct Row {
    pub item: OpenItem,
    pub cells: Vec<Seen>,
}

/// A cell with the reason that decided it.
#[derive(Debug)]
pub struct Seen {
    pub cell: Cell,
    pub because: Option<(GateName, Vec<Part>)>,
}

/// Reads and judges one page.
pub async fn page(db: &mut SqliteConnection, asked: &Asked) -> Result<Sheet, Failure> {
    let (from, most) = match asked.gate {
        Some(_) => (0, SEARCHED),
        None => ((asked.page - 1) * ROWS, ROWS),
    };
    let items = open_items::page(db, &asked.filter, Sort::Rank, from, most).await?;
    let mut wanted: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
    wanted.extend(asked.opened.clone());
    let board = fit::board(db, &wanted).await?;
    let total = open_items::count(db, &asked.filter).await?;
    let mut sheet = judged(board, items).await?;
    match asked.gate {
        Some(gate) => {
            let decides =
                |seen: &Seen| seen.because.as_ref().is_some_and(|(name, _)| *name == gate);
            sheet.rows.retain(|row| row.cells.iter().any(decides));
            sheet.total = i64::try_from(sheet.rows.len()).unwrap_or(i64::MAX);
            let skip = usize::try_from((asked.page - 1) * ROWS).unwrap_or(0);
            let rows = std::mem::take(&mut sheet.rows);
            let most = usize::try_from(ROWS).unwrap_or(0);
            sheet.rows = rows.into_iter().skip(skip).take(most).collect();
        }
        None => sheet.total = total,
    }
    Ok(sheet)
}

/// Judging takes the processor and no connection, so that other requests go on meanwhile.
async fn judged(board: Board, items: Vec<OpenItem>) -> Result<Sheet, Failure> {
    let all = move || {
        let snapshot = &board.snapshot;
        let matrix = matrix(snapshot, &board.constants);
        let row_of: HashMap<TaskAt, usize> =
            matrix.tasks.iter().enumerate().map(|(row, &task)| (task, row)).collect();
        let seen = |task: TaskAt, cell: &Cell| Seen {
            cell: *cell,
            because: cell.deciding().map(|(gate, why)| (gate, sentence(snapshot, task, &why))),
        };
        let rows = items
            .into_iter()
            .map(|item| {
                let task = board.task_at(&item.task);
                let cells = task
                    .and_then(|task| Some((task, matrix.row(*row_of.get(&task)?))))
                    .map(|(task, cells)| cells.iter().map(|cell| seen(task, cell)).collect())
                    .unwrap_or_default();
                Row { item, cells }
            })
            .collect();
        let left = (0..snapshot.excursions.len())
            .map(|at| {
                let planned = excursion_as_planned(snapshot, at, Counting::Set, &board.constants);
                Some(snapshot.excursions[at].limit? - planned.timing?.end_p80)
            })
            .collect();
        Sheet { rows, left, total: 0, board }
    };
    let stopped = |cause| StoreError::Unusable(format!("judging the slots stopped: {cause}"));
    Ok(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
}
