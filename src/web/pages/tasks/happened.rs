//! All that happened to one task, however much, a page at a time.

use askama::Template;
use axum::extract::State;

use super::events::{self, EventRow, Happened};
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::carry;
use crate::visitor::Viewer;
use app::App;
use app::whole_task;

/// Rows on one page.
const ROWS: usize = 50;

#[derive(Template)]
#[template(path = "tasks/events.html")]
pub(crate) struct EventsPage {
    page: PageFrame,
    code: String,
    title: String,
    events: Vec<EventRow>,
    pager: Pager,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<EventsPage>, PageError> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let page = Fields::read(query.as_bytes()).get("page").parse().unwrap_or(1).clamp(1, 100_000);
    let mut db = app.reader().await?;
    let read = whole_task::happened(&mut db, &code).await?;
    drop(db);
    let happened = Happened {
        dossier: &read.dossier,
        told: &read.told,
        findings: &read.findings,
        files: &read.files,
        causes: &read.causes,
    };
    let opening = carry::opening(&read.dossier, &read.task.code.0);
    let rows = opening.map_or_else(Vec::new, |opening| events::rows(&happened, opening));
    let whole = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let at = format!("{}/events", addresses::within("tasks", &code));
    let pager =
        Pager::new(page, whole(ROWS), whole(rows.len()), |page| format!("{at}?page={page}"));
    let skip = usize::try_from(pager.page - 1).unwrap_or(0) * ROWS;
    Ok(Page(EventsPage {
        page: viewer.frame(format!("Events of {code}"), Nav::Backlog),
        title: read.task.title.as_str().to_owned(),
        events: rows.into_iter().skip(skip).take(ROWS).collect(),
        pager,
        code,
    }))
}
