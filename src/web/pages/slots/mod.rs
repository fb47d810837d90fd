//! Open items against coming excursions: the matrix, and one cell of it opened.

use askama::Template;
use axum::extract::State;

use crate::failure::PageError;
use crate::forms::{ErrorSummary, FieldView, Pager};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::{gates, worth};
use crate::visitor::Viewer;
use app::backlog;
use app::matrix::{self, MatrixCell, MatrixPage, MatrixRow, ROWS};
use app::{App, Failure};
use compute::fit::{ExcursionAt, Reason, Room, margin, room_words};
use domain::excursions::Excursion;
use domain::words::{GateName, SlotState, SlotVerdict, TaskState};

pub(crate) mod ahead;
pub(crate) mod asked;
pub(crate) mod desk;
pub(crate) mod fields;
pub(crate) mod form;
pub(crate) mod if_then;
mod opened;
mod shared;

use asked::{CellAt, SlotsQuery};
use form::Typed;
use opened::Opened;
use shared::Shared;

#[derive(Template)]
#[template(path = "slots/matrix.html")]
pub(crate) struct SlotsPage {
    page: PageFrame,
    summary: ErrorSummary,
    status: String,
    filters: Vec<FieldView>,
    columns: Vec<Column>,
    rows: Vec<RowView>,
    pager: Pager,
    opened: Option<Opened>,
    /// The open cell belongs to a row of another page, so it stands above the table.
    apart: bool,
    /// The filters that are on, each with the address without it.
    active: Vec<(String, String)>,
    narrows: bool,
    ranked: bool,
}

struct Column {
    code: String,
    day: String,
    flown: String,
    room: String,
    /// The first of its flight.
    first: bool,
}

struct RowView {
    code: String,
    title: String,
    state: TaskState,
    class: String,
    need: String,
    in_danger: bool,
    carried: i64,
    value: String,
    /// What it is worth where it is worth most, and on which excursion that is.
    best: Option<(String, String)>,
    /// The reason that holds along the row; the cells say what differs.
    shared: Option<Shared>,
    cells: Vec<CellView>,
    opened: bool,
}

struct CellView {
    /// Read aloud, and shown where the columns stand one under the other.
    excursion: String,
    address: String,
    verdict: SlotVerdict,
    words: String,
    held: Option<SlotState>,
    here: bool,
    first: bool,
}

impl CellView {
    /// What needs no attention steps back.
    fn quiet(&self) -> bool {
        self.held.is_none() && self.verdict == SlotVerdict::DoesNotFit
    }
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<SlotsPage>, PageError> {
    let asked = SlotsQuery::read(viewer.address());
    Ok(Page(page(&app, &viewer, &asked, &Typed::default()).await?))
}

async fn page(
    app: &App,
    viewer: &Viewer,
    asked: &SlotsQuery,
    typed: &Typed,
) -> Result<SlotsPage, Failure> {
    let mut db = app.reader().await?;
    let sheet = matrix::page(&mut db, &asked.of_matrix()).await?;
    let offered = backlog::choices(&mut db).await?;
    let opened = match &asked.cell {
        Some(cell) => opened::read(&mut db, &sheet.board, viewer, asked, cell, typed).await?,
        None => None,
    };
    drop(db);
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
    let rows: Vec<RowView> =
        sheet.rows.iter().map(|row| row_view(row, &sheet, &columns, asked)).collect();
    let pager = Pager::new(asked.page, ROWS, sheet.total, |page| asked.on_page(page));
    let summary = if let Some(words) = &typed.refused {
        ErrorSummary::saying(words.clone())
    } else {
        let fields = opened.as_ref().map_or_else(Vec::new, Opened::all_fields);
        ErrorSummary::of(&typed.errors, &fields)
    };
    let apart = opened.is_some() && !rows.iter().any(|row| row.opened);
    let (items, excursions) = (sheet.total, columns.len());
    let status = format!(
        "{items} open {} judged against {excursions} coming {}",
        if items == 1 { "task" } else { "tasks" },
        if excursions == 1 { "excursion" } else { "excursions" },
    );
    Ok(SlotsPage {
        // Also where a refusal is shown: its forms lead back to the matrix, not to what took them.
        page: viewer
            .frame("Matrix", Nav::Slots)
            .at(asked.cell.as_ref().map_or_else(|| asked.closed(), |cell| asked.opening(cell)))
            .with_verdicts()
            .refusing(!typed.is_empty()),
        summary,
        status,
        active: asked.active(),
        filters: asked.fields(&sheet.flights(), &offered.worksites, &offered.families),
        columns,
        rows,
        pager,
        opened,
        apart,
        narrows: asked.narrows(),
        ranked: sheet.ranked,
    })
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
