//! The content of a file, as a browser may have it: pictures to look at, everything else to save.

use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use tokio::io::AsyncReadExt as _;

use super::shown::version_of;
use crate::addresses::encoded;
use crate::extract::Path;
use crate::failure::{PageError, Problem};
use crate::visitor::Viewer;
use app::read::{Found as _, StoreError};
use app::{App, Failure};
use domain::files::File;
use domain::kinds::Kind;

/// Bytes read at a time.
const STEP: usize = 64 * 1024;
/// A photograph never changes under its address; only the browser of the person keeps it.
// Source: RFC 8246, section 2 (immutable), 2017; RFC 9111, section 5.2.2.7 (private), 2022.
const KEPT: &str = "private, max-age=31536000, immutable";
/// Whatever it is, it runs nothing and fetches nothing.
// Source: W3C, Content Security Policy Level 3, section 6.3.2 (sandbox), working draft.
const POLICY: &str = "sandbox; default-src 'none'";

pub(crate) async fn content(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let file = find(&app, &code).await?;
    let how = if file.media.is_picture() { "inline" } else { "attachment" };
    answer(&app, &viewer, &file, file.hash.as_str(), how).await
}

/// A picture made small; what is no picture has none.
pub(crate) async fn preview(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let file = find(&app, &code).await?;
    match &file.preview {
        Some(hash) => answer(&app, &viewer, &file, hash.as_str(), "inline").await,
        None => Err(Problem::of_status(StatusCode::NOT_FOUND).into()),
    }
}

async fn find(app: &App, code: &str) -> Result<File, Failure> {
    let mut db = app.reader().await?;
    let missing = || Failure::NotFound(Kind::File, code.to_owned());
    File::find(&mut db, code).await?.ok_or_else(missing)
}

async fn answer(
    app: &App,
    viewer: &Viewer,
    file: &File,
    hash: &str,
    how: &str,
) -> Result<Response, PageError> {
    let path = app.db.contents().path(hash);
    let opened = tokio::fs::File::open(&path).await.map_err(StoreError::from)?;
    let length = opened.metadata().await.map_err(StoreError::from)?.len();
    let steps = stream::try_unfold(opened, |mut opened| async move {
        let mut step = vec![0; STEP];
        let read = opened.read(&mut step).await?;
        step.truncate(read);
        Ok::<_, std::io::Error>((read > 0).then(|| (Bytes::from(step), opened)))
    });
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(file.media.mime())),
        (header::CONTENT_LENGTH, HeaderValue::from(length)),
        (header::CONTENT_DISPOSITION, disposition(how, &file.name_outside())),
        (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY)),
        (header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff")),
    ];
    let mut response = (headers, Body::from_stream(steps)).into_response();
    if is_of_version(viewer.address(), hash) && file.media.is_picture() {
        response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static(KEPT));
    }
    Ok(response)
}

/// Whether the address names this very content, as the pages do.
fn is_of_version(address: &str, hash: &str) -> bool {
    address.split_once("?v=").is_some_and(|(_, asked)| asked == version_of(hash))
}

/// A name for any browser: plain letters first, the whole name after.
// Source: RFC 6266, sections 4.1 to 4.3 and appendix D, 2011; RFC 8187, section 3.2, 2017.
fn disposition(how: &str, name: &str) -> HeaderValue {
    let plain = |c: char| {
        if c.is_ascii_alphanumeric() || " ._-".contains(c) { c } else { '_' }
    };
    let short: String = name.chars().map(plain).collect();
    let text = format!("{how}; filename=\"{short}\"; filename*=UTF-8''{}", encoded(name));
    HeaderValue::try_from(text).unwrap_or(HeaderValue::from_static("attachment"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_can_neither_break_its_header_nor_lose_its_letters() {
        let said = disposition("attachment", "Clip “é”\"; x=1.pdf");
        assert_eq!(
            said.to_str().unwrap(),
            "attachment; filename=\"Clip _____ x_1.pdf\"; \
             filename*=UTF-8''Clip%20%E2%80%9C%C3%A9%E2%80%9D%22%3B%20x%3D1.pdf"
        );
    }
}
