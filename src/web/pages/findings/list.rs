//! The findings, narrowed in the address.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

use super::waits::{self, StepFilter};
use super::{PAGE, View, cause_words, views};
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::tables;
use crate::visitor::Viewer;
use app::read::Found;
use app::read::findings::{Shown, page as page_of, reopened_among};
use app::{App, waits as board};
use domain::cells::Line;
use domain::findings::{Cause, Finding};
use domain::roles::{Action, may};
use domain::time::Day;

/// No list of causes is longer.
const MAX_READ: i64 = 20_000;

#[derive(Template)]
#[template(path = "findings/list.html")]
pub(crate) struct FindingsPage {
    page: PageFrame,
    views: Vec<View>,
    rows: Vec<FindingRow>,
    total: i64,
    csv: String,
    pager: Pager,
    may_write: bool,
}

struct FindingRow {
    code: String,
    words: String,
    cause: String,
    attempts: Vec<String>,
    author: String,
    written_on: Option<Day>,
    reviewed: Option<String>,
    reopened: bool,
}

/// Which findings the address asks for; `None`: what waits.
fn shown(asked: &Fields) -> (&'static str, Option<Shown>) {
    match asked.get("show") {
        "all" => ("all", Some(Shown::All)),
        "open" => ("open", Some(Shown::Open)),
        "without-remedy" => ("without-remedy", Some(Shown::WithoutRemedy)),
        "overdue" => ("overdue", Some(Shown::Overdue)),
        "reopened" => ("reopened", Some(Shown::Reopened)),
        _ => ("", None),
    }
}

fn asked(viewer: &Viewer) -> Fields {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    Fields::read(query.as_bytes())
}

/// What the list shows, whole, as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    const HEADS: &[&str] = &["step", "who", "kind", "code", "words", "due", "flight", "overdue"];
    let asked = asked(&viewer);
    let today = viewer.now().day();
    let mut db = app.reader().await?;
    if asked.get("show") == "waits" {
        let board = board::seen(&mut db, today).await?;
        let rows = waits::file_rows(&board, &StepFilter::read(&asked), &viewer.actor.name);
        return tables::file("findings", HEADS, rows);
    }
    let shown = shown(&asked).1.unwrap_or(Shown::All);
    let (found, _) = page_of(&mut db, shown, today, 0, tables::MAX_ROWS).await?;
    tables::records(&found)
}

pub(crate) async fn list(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let asked = asked(&viewer);
    let number: i64 = asked.get("page").parse().unwrap_or(1).clamp(1, 1_000_000);
    let today = viewer.now().day();
    let mut db = app.reader().await?;
    let (word, Some(shown)) = shown(&asked) else {
        let board = board::seen(&mut db, today).await?;
        let page = waits::page(&viewer, &board, &StepFilter::read(&asked), number);
        return Ok(Page(page).into_response());
    };
    let (found, total) = page_of(&mut db, shown, today, (number - 1) * PAGE, PAGE).await?;
    let codes: Vec<_> = found.iter().map(|finding| finding.code.0.clone()).collect();
    let reopened = reopened_among(&mut db, &codes).await?;
    let causes = Cause::after(&mut db, "", MAX_READ).await?;
    let rows = found
        .iter()
        .map(|finding| row(finding, &causes, reopened.contains(&finding.code.0)))
        .collect();
    Ok(Page(FindingsPage {
        page: viewer.frame("Findings", Nav::Findings),
        views: views(word),
        rows,
        total,
        csv: tables::address_of("findings", &format!("show={word}")),
        pager: Pager::new(number, PAGE, total, |page| format!("/findings?show={word}&page={page}")),
        may_write: may(viewer.actor.role, Action::WriteFinding),
    })
    .into_response())
}

fn row(finding: &Finding, causes: &[Cause], reopened: bool) -> FindingRow {
    let shown = |line: &Option<Line>| {
        line.as_ref().map_or_else(String::new, |line| line.as_str().to_owned())
    };
    FindingRow {
        code: finding.code.0.to_string(),
        words: finding.words.as_str().to_owned(),
        cause: finding
            .cause
            .as_ref()
            .map_or_else(|| "not known yet".to_owned(), |code| cause_words(code, causes)),
        attempts: finding.attempts.iter().map(ToString::to_string).collect(),
        author: shown(&finding.author),
        written_on: finding.written_on,
        reviewed: finding.reviewed_by.as_ref().map(|name| name.as_str().to_owned()),
        reopened,
    }
}
