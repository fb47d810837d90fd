//! One photograph or file: what it shows, to which record it belongs, and how it is taken away.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::pages::records::history::{self, ChangeRow};
use crate::visitor::Viewer;
use app::read::{Found as _, register};
use app::work::Work;
use app::{App, Failure, files};
use domain::files::{File, size_words};
use domain::kinds::Kind;
use domain::roles::{Action, may};

mod content;
mod send;
mod shown;

pub(crate) use content::{content, preview};
pub(crate) use send::{send, show_form};
pub(crate) use shown::{Evidence, FileView, any_prints};

#[derive(Template)]
#[template(path = "files/show.html")]
pub(crate) struct FilePage {
    page: PageFrame,
    shown: FileView,
    file: File,
    /// The record to which it belongs: its kind, its code and its page.
    of: Option<(Kind, String, String)>,
    size: String,
    edit: Option<String>,
    changes: Vec<ChangeRow>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<FilePage>, PageError> {
    let mut db = app.reader().await?;
    let missing = || Failure::NotFound(Kind::File, code.clone());
    let file = File::find(&mut db, &code).await?.ok_or_else(missing)?;
    let row = register::find(&mut db, Kind::File, &code).await?.ok_or_else(missing)?;
    let changes = history::of_record(&mut db, Kind::File, &code).await?;
    let may_keep = may(viewer.actor.role, Action::KeepFiles);
    Ok(Page(FilePage {
        page: viewer.frame(format!("File {code}"), nav(&file)).of_version(row.version),
        shown: FileView::of(&file),
        of: file
            .belongs_to()
            .map(|(kind, code)| (kind, code.to_owned(), addresses::of(kind, code))),
        size: size_words(file.bytes),
        edit: may_keep.then(|| format!("{}/edit", addresses::of(Kind::File, &code))),
        file,
        changes,
    }))
}

/// Files belong where their record does.
fn nav(file: &File) -> Nav {
    match file.belongs_to() {
        Some((Kind::Finding, _)) => Nav::Findings,
        Some((Kind::OutsideItem, _)) => Nav::OutsideList,
        _ => Nav::Backlog,
    }
}

/// The page of the record to which a file belongs.
fn page_of_record(file: &File) -> String {
    file.belongs_to().map_or_else(|| "/".to_owned(), |(kind, code)| addresses::of(kind, code))
}

pub(crate) async fn remove(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let (file, entry) = files::remove_from_record(&mut work, &code, typed.get("why")).await?;
    let to = work.finish(page_of_record(&file)).await?;
    let words = format!("{code} is removed; the log keeps what it was.");
    Ok(Done::to(to).saying(words).undo(format!("/files/put-back/{entry}"), "Put it back"))
}

pub(crate) async fn put_back(
    State(app): State<App>,
    viewer: Viewer,
    Path(entry): Path<i64>,
    typed: Fields,
) -> Result<Response, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let saved = files::put_back(&mut work, entry).await?;
    let to = work.finish(page_of_record(&saved.record)).await?;
    let words = format!("{} is back.", saved.record.code.0);
    Ok(Done::to(to).saying(words).into_response())
}
