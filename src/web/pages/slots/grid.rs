//! The matrix as rows and cells, for its own page and for Plan.

use super::asked::{CellAt, SlotsQuery};
use super::shared::Shared;
use crate::pages::{gates, worth};
use app::matrix::{MatrixCell, MatrixPage, MatrixRow};
use compute::fit::{ExcursionAt, Reason, Room, margin, room_words};
use domain::excursions::Excursion;
use domain::words::{GateName, SlotState, SlotVerdict, TaskState};

/// Tasks down, coming excursions across.
pub(crate) struct Grid {
    pub columns: Vec<Column>,
    pub rows: Vec<RowView>,
    /// By value and chance.
    pub ranked: bool,
    /// All tasks that could stand here.
    pub total: i64,
}

impl Grid {
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty() || self.columns.is_empty()
    }

    pub(super) fn whole(sheet: &MatrixPage, asked: &SlotsQuery) -> Self {
        Self::of(sheet, asked, usize::MAX)
    }

    fn of(sheet: &MatrixPage, asked: &SlotsQuery, most: usize) -> Self {
        let columns: Vec<Column> = sheet
            .columns
            .iter()
            .map(|&at| (&sheet.board.excursions[at], &sheet.rooms[at]))
            .scan(None, |flight, (excursion, room)| {
                let first = *flight != Some(&excursion.flight);
                *flight = Some(&excursion.flight);
                Some(column(excursion, room, first))
            })
            .collect();
        let rows = sheet.rows.iter().take(most);
        let rows = rows.map(|row| row_view(row, sheet, &columns, asked)).collect();
        Self { columns, rows, ranked: sheet.ranked, total: sheet.total }
    }
}

/// So many cells of the matrix stand on Plan, in so many rows at most and at least.
const CELLS_ON_PLAN: usize = 96;
const ROWS_ON_PLAN: (usize, usize) = (3, 12);

/// The first rows of the matrix, as Plan shows them.
pub(super) fn first_rows(sheet: &MatrixPage, asked: &SlotsQuery) -> Grid {
    let (least, most) = ROWS_ON_PLAN;
    let rows = CELLS_ON_PLAN / sheet.columns.len().max(1);
    Grid::of(sheet, asked, rows.clamp(least, most))
}

pub(crate) struct Column {
    pub code: String,
    pub day: String,
    pub flown: String,
    pub room: String,
    /// The first of its flight.
    pub first: bool,
}

pub(crate) struct RowView {
    pub code: String,
    pub title: String,
    pub state: TaskState,
    pub class: String,
    pub need: String,
    pub in_danger: bool,
    pub carried: i64,
    pub value: String,
    /// What it is worth where it is worth most, and on which excursion that is.
    pub best: Option<(String, String)>,
    /// The reason that holds along the row; the cells say what differs.
    pub shared: Option<Shared>,
    pub cells: Vec<CellView>,
    pub opened: bool,
}

pub(crate) struct CellView {
    /// Read aloud, and shown where the columns stand one under the other.
    pub excursion: String,
    pub address: String,
    pub verdict: SlotVerdict,
    pub words: String,
    pub held: Option<SlotState>,
    pub here: bool,
    pub first: bool,
}

impl CellView {
    /// What needs no attention steps back.
    pub fn quiet(&self) -> bool {
        self.held.is_none() && self.verdict == SlotVerdict::DoesNotFit
    }
}

fn column(excursion: &Excursion, room: &Room, first: bool) -> Column {
    let chance = excursion.flown_chance.map(|chance| chance.to_string());
    let flown = match (excursion.deferrable, chance) {
        (true, Some(chance)) => format!("deferrable, {chance}"),
        (true, None) => "deferrable".to_owned(),
        (false, Some(chance)) => format!("flown {chance}"),
        (false, None) => "chance unknown".to_owned(),
    };
    Column {
        code: excursion.code.0.to_string(),
        day: excursion.day.map_or_else(|| "date unknown".to_owned(), |day| day.to_string()),
        flown,
        room: room_words(room),
        first,
    }
}

fn row_view(
    row: &MatrixRow,
    sheet: &MatrixPage,
    columns: &[Column],
    asked: &SlotsQuery,
) -> RowView {
    let item = &row.item;
    let need = match (&item.needed_by_flight, item.needed_by_day) {
        (Some(flight), _) => flight.to_string(),
        (None, Some(day)) => day.to_string(),
        (None, None) => String::new(),
    };
    // A parked task is held against no excursion.
    let seen: Vec<(ExcursionAt, &MatrixCell)> = if row.cells.is_empty() {
        Vec::new()
    } else {
        sheet.columns.iter().map(|&at| (at, &row.cells[at])).collect()
    };
    let named: Vec<(&str, &MatrixCell)> = seen
        .iter()
        .map(|(at, seen)| (sheet.board.excursions[*at].code.0.as_str(), *seen))
        .collect();
    let shared = Shared::along(&named);
    let cells = seen
        .iter()
        .enumerate()
        .map(|(column, &(at, seen))| {
            let excursion = sheet.board.excursions[at].code.0.clone();
            let cell = CellAt { task: item.task.clone(), excursion };
            let own = sheet.board.slots[at].iter().find(|slot| slot.task == item.task);
            let held = own.map(|slot| slot.state);
            let late =
                sheet.board.excursions[at].day.zip(item.need_day).map(|(on, need)| on.since(need));
            let said_once = shared.as_ref().is_some_and(|shared| shared.decides(seen));
            CellView {
                excursion: cell.excursion.to_string(),
                address: asked.opening(&cell),
                verdict: seen.cell.verdict,
                words: if said_once {
                    left_words(seen).unwrap_or_default()
                } else {
                    in_words(seen, late, held.is_some())
                },
                held,
                here: asked.cell.as_ref() == Some(&cell),
                first: columns[column].first,
            }
        })
        .collect();
    RowView {
        code: item.task.to_string(),
        title: item.title.as_str().to_owned(),
        state: item.state,
        class: item.class.map_or_else(String::new, |class| class.word().to_owned()),
        need,
        in_danger: item.in_danger,
        carried: item.carry_count,
        value: worth::figure(row.value),
        best: row.best.map(|(at, worth)| {
            (worth::figure(worth.total), sheet.board.excursions[at].code.0.to_string())
        }),
        shared,
        cells,
        opened: asked.cell.as_ref().is_some_and(|cell| cell.task == item.task),
    }
}

/// The margin that would be left, where the task has a place.
fn left_words(seen: &MatrixCell) -> Option<String> {
    let fits = matches!(seen.cell.verdict, SlotVerdict::Fits | SlotVerdict::Tight);
    seen.left.filter(|_| fits).map(|left| format!("{} left", margin(left)))
}

/// What decides, in a word, and the margin that would be left; where a slot is held the word alone
/// has room.
fn in_words(seen: &MatrixCell, late: Option<i64>, held: bool) -> String {
    let left = left_words(seen);
    let Some((gate, because)) = seen.cell.deciding() else {
        return left.unwrap_or_default();
    };
    let by = |word: &str| match late.filter(|days| *days > 0) {
        Some(days) => format!("{word}, {days} d"),
        None => word.to_owned(),
    };
    let word = match (gate, because) {
        (GateName::NeededBy, Reason::Late) => return by("late"),
        (GateName::NeededBy, Reason::LateMoot) => return by("moot"),
        (GateName::Time, _) if left.is_some() => return left.unwrap_or_default(),
        _ => gates::in_a_word(gate).to_owned(),
    };
    match left {
        Some(left) if !held => format!("{word}, {left}"),
        Some(_) | None => word,
    }
}
