//! A photograph or a file comes in: first to the disk, then it is looked at.

use askama::Template;
use axum::extract::multipart::{Field, Multipart, MultipartError};
use axum::extract::{FromRequest as _, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use tempfile::NamedTempFile;
use tokio::io::AsyncWriteExt as _;

use super::page_of_record;
use crate::app::work::Work;
use crate::app::{App, Failure, files};
use crate::domain::cells::{Cells, FieldError};
use crate::domain::files::{File, size_words};
use crate::domain::kinds::Kind;
use crate::domain::records::Record as _;
use crate::domain::roles::{Action, may, refusal};
use crate::store::StoreError;
use crate::web::addresses;
use crate::web::extract::Fields;
use crate::web::failure::{PageError, Problem};
use crate::web::forms::{ErrorSummary, FieldView, Typed};
use crate::web::frame::{Nav, PageFrame};
use crate::web::page::{Done, Page};
use crate::web::visitor::Viewer;

/// The longest field beside the file: a caption is far shorter.
const FIELD: usize = 16 * 1024;

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

/// What came in.
struct Sent {
    typed: Fields,
    name: String,
    file: Option<NamedTempFile>,
    bytes: usize,
}

pub(crate) async fn send(
    State(app): State<App>,
    viewer: Viewer,
    request: Request,
) -> Result<Response, PageError> {
    reaches(&viewer)?;
    let Sent { typed, name, file, bytes } = receive(&app, request).await?;
    let cells = typed.cells();
    let most = app.config.file_limit;
    let again = |status: StatusCode, errors: &[FieldError]| {
        (status, Page(form(&app, &viewer, &cells, errors))).into_response()
    };
    let wrong = |status: StatusCode, why: String| again(status, &[FieldError::new("file", why)]);
    if bytes > most {
        let most = size_words(i64::try_from(most).unwrap_or(i64::MAX));
        let why = format!("This file is larger than {most}. Make it smaller, or send it in parts.");
        return Ok(wrong(StatusCode::PAYLOAD_TOO_LARGE, why));
    }
    let Some(file) = file.filter(|_| bytes > 0) else {
        let why = "Choose a file that is not empty.".to_owned();
        return Ok(wrong(StatusCode::UNPROCESSABLE_ENTITY, why));
    };
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
    let looked = files::look_at(app, file, name).await?;
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let saved = files::add(&mut work, looked, cells).await?;
    let to = work.finish(page_of_record(&saved.record)).await?;
    let words = format!("{} is kept as {}.", saved.record.name, saved.record.code.0);
    Ok(Done::to(to).saying(words))
}

/// Reads the parts of the form; the file goes to the disk as it comes. What lies beyond the limit
/// is let pass, so that the browser hears the answer.
async fn receive(app: &App, request: Request) -> Result<Sent, PageError> {
    let mut parts = Multipart::from_request(request, app).await.map_err(|cause| {
        tracing::debug!(%cause, "no form with a file");
        Problem::new(StatusCode::BAD_REQUEST, "No file came in", "Choose a file and send it again.")
    })?;
    let mut sent = Sent { typed: Fields::default(), name: String::new(), file: None, bytes: 0 };
    while let Some(part) = parts.next_field().await.map_err(|cause| broken(&cause))? {
        let name = part.name().unwrap_or_default().to_owned();
        if name == "file" {
            part.file_name().unwrap_or_default().clone_into(&mut sent.name);
            let (file, bytes) = to_disk(app, part).await?;
            (sent.file, sent.bytes) = (Some(file), bytes);
        } else {
            let text = short_text(part).await?;
            sent.typed.0.push((name, text));
        }
    }
    Ok(sent)
}

fn broken(cause: &MultipartError) -> PageError {
    tracing::debug!(%cause, "a file broke off");
    let problem = Problem::of_body(cause);
    if problem.status == StatusCode::BAD_REQUEST {
        let words = "It broke off on its way here. Choose the file again and send it once more.";
        return Problem::new(problem.status, "This file could not be read", words).into();
    }
    problem.into()
}

async fn short_text(mut part: Field<'_>) -> Result<String, PageError> {
    let mut text = Vec::new();
    while let Some(bytes) = part.chunk().await.map_err(|cause| broken(&cause))? {
        text.extend_from_slice(&bytes);
        if text.len() > FIELD {
            return Err(Problem::of_status(StatusCode::PAYLOAD_TOO_LARGE).into());
        }
    }
    Ok(String::from_utf8_lossy(&text).into_owned())
}

/// The file on the disk, and how many bytes came.
async fn to_disk(app: &App, mut part: Field<'_>) -> Result<(NamedTempFile, usize), PageError> {
    let most = app.config.file_limit;
    let file = app.db.contents().incoming().map_err(StoreError::from)?;
    let own = file.as_file().try_clone().map_err(StoreError::from)?;
    let mut out = tokio::fs::File::from_std(own);
    let mut count = 0;
    while let Some(bytes) = part.chunk().await.map_err(|cause| broken(&cause))? {
        count += bytes.len();
        if count <= most {
            out.write_all(&bytes).await.map_err(StoreError::from)?;
        }
    }
    out.flush().await.map_err(StoreError::from)?;
    Ok((file, count))
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
