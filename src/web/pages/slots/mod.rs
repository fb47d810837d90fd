//! Open items against coming excursions: the matrix, and one cell of it opened.

use std::sync::Arc;

use askama::Template;
use axum::extract::State;

use crate::failure::PageError;
use crate::forms::{ErrorLine, ErrorSummary, FieldView, Pager};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::visitor::Viewer;
use app::backlog;
use app::matrix::{self, MatrixPage, ROWS};
use app::{App, Failure, Reader};

pub(crate) mod ahead;
pub(crate) mod asked;
pub(crate) mod desk;
pub(crate) mod fields;
pub(crate) mod form;
pub(crate) mod grid;
pub(crate) mod if_then;
pub(crate) mod opened;
mod shared;

use asked::SlotsQuery;
use form::Typed;
use grid::Grid;
use opened::Opened;

#[derive(Template)]
#[template(path = "slots/matrix.html")]
pub(crate) struct SlotsPage {
    page: PageFrame,
    summary: ErrorSummary,
    status: String,
    filters: Vec<FieldView>,
    grid: Grid,
    pager: Pager,
    opened: Option<Opened>,
    /// The open cell belongs to a row of another page, so it stands above the table.
    apart: bool,
    /// The filters that are on, each with the address without it.
    active: Vec<(String, String)>,
    narrows: bool,
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
    let Shown { sheet, grid, summary, opened, apart } =
        shown(&mut db, viewer, asked, typed, Grid::whole).await?;
    let offered = backlog::choices(&mut db).await?;
    drop(db);
    let pager = Pager::new(asked.page, ROWS, sheet.total, |page| asked.on_page(page));
    let (items, excursions) = (sheet.total, grid.columns.len());
    let status = format!(
        "{items} open {} judged against {excursions} coming {}",
        if items == 1 { "task" } else { "tasks" },
        if excursions == 1 { "excursion" } else { "excursions" },
    );
    Ok(SlotsPage {
        page: frame(viewer, "Matrix", Nav::Slots, asked, typed),
        summary,
        status,
        active: asked.active(),
        filters: asked.fields(&sheet.flights(), &offered.worksites, &offered.families),
        grid,
        pager,
        opened,
        apart,
        narrows: asked.narrows(),
    })
}

/// The matrix as a page shows it, with the cell that is open.
pub(crate) struct Shown {
    pub sheet: Arc<MatrixPage>,
    pub grid: Grid,
    /// What was wrong with a form of the open cell.
    pub summary: ErrorSummary,
    pub opened: Option<Opened>,
    /// The open cell belongs to a row that is not shown, so it stands above the table.
    pub apart: bool,
}

/// The first rows of the matrix, as Plan shows them.
pub(crate) async fn on_plan(
    db: &mut Reader,
    viewer: &Viewer,
    asked: &SlotsQuery,
    typed: &Typed,
) -> Result<Shown, Failure> {
    shown(db, viewer, asked, typed, grid::first_rows).await
}

async fn shown(
    db: &mut Reader,
    viewer: &Viewer,
    asked: &SlotsQuery,
    typed: &Typed,
    rows: fn(&MatrixPage, &SlotsQuery) -> Grid,
) -> Result<Shown, Failure> {
    let sheet = matrix::page(db, &asked.of_matrix()).await?;
    let opened = match &asked.cell {
        Some(cell) => opened::read(db, &sheet.board, viewer, asked, cell, typed).await?,
        None => None,
    };
    let grid = rows(&sheet, asked);
    let apart = opened.is_some() && !grid.rows.iter().any(|row| row.opened);
    Ok(Shown { summary: summary(typed, opened.as_ref()), sheet, grid, opened, apart })
}

fn summary(typed: &Typed, opened: Option<&Opened>) -> ErrorSummary {
    let Some(words) = &typed.refused else {
        let fields = opened.map_or_else(Vec::new, Opened::all_fields);
        return ErrorSummary::of(&typed.errors, &fields);
    };
    let heading = if typed.on.is_some() { "The change was not made" } else { "No slot was made" };
    let line = ErrorLine { target: "cell".to_owned(), words: words.clone() };
    ErrorSummary { heading: heading.to_owned(), lines: vec![line] }
}

/// The frame of a page with the matrix. Its forms lead back to it, also where a refusal is shown.
pub(crate) fn frame(
    viewer: &Viewer,
    title: &str,
    nav: Nav,
    asked: &SlotsQuery,
    typed: &Typed,
) -> PageFrame {
    let here = asked.cell.as_ref().map_or_else(|| asked.closed(), |cell| asked.opening(cell));
    viewer.frame(title, nav).at(here).with_verdicts().refusing(!typed.is_empty())
}
