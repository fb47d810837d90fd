//! A form that may carry files: its fields as typed, its files on the disk, whichever way the
//! browser packed them.

use axum::body::Bytes;
use axum::extract::multipart::{Field, Multipart, MultipartError};
use axum::extract::{FromRequest as _, Request};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use tempfile::NamedTempFile;
use tokio::io::AsyncWriteExt as _;

use crate::extract::Fields;
use crate::failure::{PageError, Problem, taken_before};
use crate::guard::taken;
use crate::held_forms::HeldForm;
use crate::upload::is_upload;
use crate::visitor::Viewer;
use app::App;
use app::read::StoreError;
use domain::bounds::{MAX_FIELD_BYTES, MAX_FORM_FILES};

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
    /// The field of the first file beyond the largest number that one form may bring; then none of
    /// them is kept.
    pub beyond: Option<String>,
}

/// What becomes of the files of a form.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Files {
    ToDisk,
    LetPass,
}

impl Received {
    /// Reads a form in one part or in several. Files go to the disk as they come; what lies beyond
    /// the limit is let pass, so that the browser hears the answer.
    pub async fn read(app: &App, request: Request) -> Result<Self, PageError> {
        Self::parts(app, request, Files::ToDisk).await
    }

    /// What was typed into a form that is not taken: its files are let pass.
    pub async fn typed(app: &App, request: Request) -> Result<Fields, PageError> {
        Ok(Self::parts(app, request, Files::LetPass).await?.fields)
    }

    async fn parts(app: &App, request: Request, files: Files) -> Result<Self, PageError> {
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
                left = room.ok_or_else(|| Problem::too_large(app.config.form_limit))?;
                received.fields.0.push((field, text));
                continue;
            };
            if files == Files::LetPass {
                continue;
            }
            if received.files.len() >= MAX_FORM_FILES {
                received.beyond_of(field, part).await?;
            } else if let Some((file, bytes)) = to_disk(app, part, app.config.file_limit).await? {
                received.files.push(SentFile { field, name, file, bytes });
            }
        }
        if received.beyond.is_some() {
            received.files.clear();
        }
        Ok(received)
    }

    /// One more file than a form may bring, unless it is an empty part.
    async fn beyond_of(&mut self, field: String, mut part: Field<'_>) -> Result<(), PageError> {
        if first_bytes(&mut part).await?.is_some() && self.beyond.is_none() {
            self.beyond = Some(field);
        }
        Ok(())
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

/// Answers a form that is not taken, before a file of it comes to the disk: where it led, if it was
/// taken before, else why it is not, with what was typed.
pub(crate) async fn not_taken(
    app: &App,
    viewer: &Viewer,
    request: Request,
    why: PageError,
) -> Result<Response, PageError> {
    let typed = Received::typed(app, request).await?;
    if let Some(answer) = taken(app, &typed, &viewer.actor.name).await? {
        return Ok(taken_before(&answer));
    }
    Ok(held(viewer, &typed, Err(why)))
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
            return Err(Problem::field_too_long(part.name().unwrap_or_default()).into());
        }
    }
    Ok(String::from_utf8_lossy(&text).into_owned())
}

/// The first bytes of a part; none where it is empty.
async fn first_bytes(part: &mut Field<'_>) -> Result<Option<Bytes>, PageError> {
    while let Some(bytes) = part.chunk().await.map_err(|cause| broken(&cause))? {
        if !bytes.is_empty() {
            return Ok(Some(bytes));
        }
    }
    Ok(None)
}

/// The file on the disk, and how many bytes came; what lies beyond `most` is not kept. Of an empty
/// part nothing is made.
pub(crate) async fn to_disk(
    app: &App,
    mut part: Field<'_>,
    most: usize,
) -> Result<Option<(NamedTempFile, usize)>, PageError> {
    let Some(first) = first_bytes(&mut part).await? else { return Ok(None) };
    let file = app.db.contents().incoming().map_err(StoreError::from)?;
    let own = file.as_file().try_clone().map_err(StoreError::from)?;
    let mut out = tokio::fs::File::from_std(own);
    let (mut count, mut next) = (0, Some(first));
    while let Some(bytes) = next {
        count += bytes.len();
        if count <= most {
            out.write_all(&bytes).await.map_err(StoreError::from)?;
        }
        next = part.chunk().await.map_err(|cause| broken(&cause))?;
    }
    out.flush().await.map_err(StoreError::from)?;
    Ok(Some((file, count)))
}
