//! A form that may carry files: its fields as typed, its files on the disk, whichever way the
//! browser packed them.

use axum::extract::multipart::{Field, Multipart, MultipartError};
use axum::extract::{FromRequest as _, Request};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use tempfile::NamedTempFile;
use tokio::io::AsyncWriteExt as _;

use crate::extract::Fields;
use crate::failure::{PageError, Problem};
use crate::held_forms::HeldForm;
use crate::upload::is_upload;
use crate::visitor::Viewer;
use app::App;
use domain::bounds::{MAX_FIELD_BYTES, MAX_FORM_FIELDS, MAX_FORM_FILES};
use store::StoreError;

/// One file that came with a form.
pub(crate) struct SentFile {
    /// The field in which it was chosen.
    pub field: String,
    pub name: String,
    pub file: NamedTempFile,
    /// As many as came; what lies beyond the limit is not kept.
    pub bytes: usize,
}

/// What came in.
#[derive(Default)]
pub(crate) struct Received {
    pub fields: Fields,
    /// Those that hold something.
    pub files: Vec<SentFile>,
    /// The fields of the files beyond the largest number that one form may bring; none of those is
    /// kept.
    pub beyond: Vec<String>,
}

impl Received {
    /// Reads a form in one part or in several. Files go to the disk as they come; what lies beyond
    /// the limit is let pass, so that the browser hears the answer.
    pub async fn read(app: &App, request: Request) -> Result<Self, PageError> {
        if !is_upload(request.headers()) {
            let fields = Fields::from_request(request, app).await?;
            return Ok(Self { fields, ..Self::default() });
        }
        let mut parts = Multipart::from_request(request, app).await.map_err(|cause| {
            tracing::debug!(%cause, "no form with a file");
            Problem::new(
                StatusCode::BAD_REQUEST,
                "No file came in",
                "Choose a file and send it again.",
            )
        })?;
        let mut received = Self::default();
        let mut left = app.config.form_limit;
        while let Some(part) = parts.next_field().await.map_err(|cause| broken(&cause))? {
            let field = part.name().unwrap_or_default().to_owned();
            let Some(name) = part.file_name().map(str::to_owned) else {
                let text = short_text(part).await?;
                let room = left.checked_sub(field.len() + text.len());
                received.fields.0.push((field, text));
                let Some(room) = room.filter(|_| received.fields.0.len() <= MAX_FORM_FIELDS) else {
                    return Err(Problem::of_status(StatusCode::PAYLOAD_TOO_LARGE).into());
                };
                left = room;
                continue;
            };
            if received.files.len() >= MAX_FORM_FILES {
                if !received.beyond.contains(&field) {
                    received.beyond.push(field);
                }
                continue;
            }
            let (file, bytes) = to_disk(app, part, app.config.file_limit).await?;
            if bytes > 0 {
                received.files.push(SentFile { field, name, file, bytes });
            }
        }
        Ok(received)
    }
}

/// Gives what was typed along with a page that says what went wrong, as the guard does for forms of
/// one part.
pub(crate) fn held(
    viewer: &Viewer,
    fields: &Fields,
    outcome: Result<Response, PageError>,
) -> Response {
    let mut response = outcome.into_response();
    if response.extensions().get::<Problem>().is_some() {
        response.extensions_mut().insert(HeldForm::new(viewer.address(), fields));
    }
    response
}

pub(crate) fn broken(cause: &MultipartError) -> PageError {
    tracing::debug!(%cause, "a file broke off");
    let problem = Problem::of_body(cause);
    if problem.status == StatusCode::BAD_REQUEST {
        let words = "It broke off on its way here. Choose the file again and send it once more.";
        return Problem::new(problem.status, "This file could not be read", words).into();
    }
    problem.into()
}

pub(crate) async fn short_text(mut part: Field<'_>) -> Result<String, PageError> {
    let mut text = Vec::new();
    while let Some(bytes) = part.chunk().await.map_err(|cause| broken(&cause))? {
        text.extend_from_slice(&bytes);
        if text.len() > MAX_FIELD_BYTES {
            return Err(Problem::of_status(StatusCode::PAYLOAD_TOO_LARGE).into());
        }
    }
    Ok(String::from_utf8_lossy(&text).into_owned())
}

/// The file on the disk, and how many bytes came; what lies beyond `most` is not kept.
pub(crate) async fn to_disk(
    app: &App,
    mut part: Field<'_>,
    most: usize,
) -> Result<(NamedTempFile, usize), PageError> {
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
