//! A photograph or a file comes in: first to the disk, then it is looked at.

use askama::Template;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use tempfile::NamedTempFile;

use super::page_of_record;
use crate::addresses;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::{ErrorSummary, FieldView, Typed};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::received::{Received, SentFile};
use crate::visitor::Viewer;
use app::read::StoreError;
use app::work::Work;
use app::{App, Failure, files};
use domain::cells::{Cells, FieldError};
use domain::files::{File, size_words};
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::{Action, may, refusal};

#[derive(Template)]
#[template(path = "files/send.html")]
struct SendPage {
    page: PageFrame,
    summary: ErrorSummary,
    /// The record to which the file will belong, where that is settled: column, kind, code, page.
    of: Option<(&'static str, Kind, String, String)>,
    file: FieldView,
    fields: Vec<FieldView>,
    most: String,
    back: String,
}

pub(crate) async fn show_form(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Response, PageError> {
    reaches(&viewer)?;
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let typed = Fields::read(query.as_bytes()).cells();
    Ok(Page(form(&app, &viewer, &typed, &[])).into_response())
}

fn reaches(viewer: &Viewer) -> Result<(), Failure> {
    let role = viewer.actor.role;
    if may(role, Action::KeepFiles) {
        return Ok(());
    }
    Err(Failure::Forbidden(refusal(role, Action::KeepFiles)))
}

pub(crate) async fn send(
    State(app): State<App>,
    viewer: Viewer,
    request: Request,
) -> Result<Response, PageError> {
    let Received { fields: typed, files, .. } = Received::read(&app, request).await?;
    let sent = files.into_iter().find(|sent| sent.field == "file");
    let cells = typed.cells();
    let most = app.config.file_limit;
    let again = |status: StatusCode, errors: &[FieldError]| {
        (status, Page(form(&app, &viewer, &cells, errors))).into_response()
    };
    let wrong = |status: StatusCode, why: String| again(status, &[FieldError::new("file", why)]);
    let Some(SentFile { name, file, bytes, .. }) = sent else {
        let why = "Choose a file that is not empty.".to_owned();
        return Ok(wrong(StatusCode::UNPROCESSABLE_ENTITY, why));
    };
    if bytes > most {
        let most = size_words(i64::try_from(most).unwrap_or(i64::MAX));
        let why = format!("This file is larger than {most}. Make it smaller, or send it in parts.");
        return Ok(wrong(StatusCode::PAYLOAD_TOO_LARGE, why));
    }
    match keep(&app, &viewer, &typed, &cells, (file, &name)).await {
        Ok(done) => Ok(done.into_response()),
        Err(Failure::Invalid(errors)) => Ok(again(StatusCode::UNPROCESSABLE_ENTITY, &errors)),
        Err(other) => Err(other.into()),
    }
}

async fn keep(
    app: &App,
    viewer: &Viewer,
    typed: &Fields,
    cells: &Cells,
    (file, name): (NamedTempFile, &str),
) -> Result<Done, Failure> {
    let whole = file.reopen().map_err(StoreError::from)?;
    let looked = files::look_at(app, whole, name).await?;
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let saved = files::add(&mut work, looked, cells).await?;
    let to = work.finish(page_of_record(&saved.record)).await?;
    let words = format!("{} is kept as {}.", saved.record.name, saved.record.code.0);
    Ok(Done::to(to).saying(words))
}

fn form(app: &App, viewer: &Viewer, typed: &Cells, errors: &[FieldError]) -> SendPage {
    let of = settled(typed);
    let most = size_words(i64::try_from(app.config.file_limit).unwrap_or(i64::MAX));
    let fields: Vec<FieldView> = File::COLUMNS
        .iter()
        .filter(|column| !column.by_operation && column.name != "code")
        .filter(|column| of.is_none() || !column.input.names().is_some_and(is_owner))
        .map(|column| FieldView::of(column).holding(typed.get(column.name)).judged(errors))
        .collect();
    let plain = Typed { kind: "file", mode: "", autocomplete: "off" };
    let file = FieldView::new("file", "Photograph or file").typed(plain).must().judged(errors);
    let mut all = vec![file.clone()];
    all.extend(fields.iter().cloned());
    let summary = ErrorSummary::of(errors, &all);
    SendPage {
        page: viewer
            .frame("Add a photograph or file", Nav::Elsewhere)
            .refusing(!summary.is_empty()),
        summary,
        back: of.as_ref().map_or_else(|| "/".to_owned(), |(.., page)| page.clone()),
        of,
        file,
        fields,
        most,
    }
}

const fn is_owner(kind: Kind) -> bool {
    matches!(kind, Kind::Attempt | Kind::Finding | Kind::OutsideItem)
}

/// The one record that the form names, if it names one alone.
fn settled(typed: &Cells) -> Option<(&'static str, Kind, String, String)> {
    let mut named = File::COLUMNS.iter().filter_map(|column| {
        let kind = column.input.names().filter(|kind| is_owner(*kind))?;
        let code = typed.get(column.name).trim();
        (!code.is_empty()).then(|| (column.name, kind, code.to_owned(), addresses::of(kind, code)))
    });
    named.next().filter(|_| named.next().is_none())
}
