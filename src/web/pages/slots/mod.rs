//! Open items against coming excursions: the matrix, and one cell of it opened.

use askama::Template;
use axum::extract::State;

use crate::failure::PageError;
use crate::forms::{ErrorLine, ErrorSummary, FieldView, Pager};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::visitor::Viewer;
use app::backlog;
use app::matrix::{self, ROWS};
use app::{App, Failure};

pub(crate) mod ahead;
pub(crate) mod asked;
pub(crate) mod desk;
pub(crate) mod fields;
pub(crate) mod form;
pub(crate) mod grid;
pub(crate) mod if_then;
mod opened;
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
    let sheet = matrix::page(&mut db, &asked.of_matrix()).await?;
    let offered = backlog::choices(&mut db).await?;
    let opened = match &asked.cell {
        Some(cell) => opened::read(&mut db, &sheet.board, viewer, asked, cell, typed).await?,
        None => None,
    };
    drop(db);
    let grid = Grid::of(&sheet, asked, usize::MAX);
    let pager = Pager::new(asked.page, ROWS, sheet.total, |page| asked.on_page(page));
    let summary = if let Some(words) = &typed.refused {
        let heading =
            if typed.on.is_some() { "The change was not made" } else { "No slot was made" };
        let line = ErrorLine { target: "cell".to_owned(), words: words.clone() };
        ErrorSummary { heading: heading.to_owned(), lines: vec![line] }
    } else {
        let fields = opened.as_ref().map_or_else(Vec::new, Opened::all_fields);
        ErrorSummary::of(&typed.errors, &fields)
    };
    let apart = opened.is_some() && !grid.rows.iter().any(|row| row.opened);
    let (items, excursions) = (sheet.total, grid.columns.len());
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
        grid,
        pager,
        opened,
        apart,
        narrows: asked.narrows(),
    })
}
