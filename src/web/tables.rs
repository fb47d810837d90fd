//! Lists to download: what a page shows, whole, as a CSV file.

use axum::body::Body;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_util::stream;

use crate::addresses;
use crate::failure::{PageError, Problem};
use app::{App, Failure, kinds};
use domain::cells::Cells;
use domain::kinds::Kind;
use domain::records::Record;
use exchange::write::Writer;

/// A narrowed list is cut after so many rows; the list of a whole kind is not.
pub(crate) const MAX_ROWS: i64 = 20_000;
/// Records of a whole kind that are held at a time.
const STEP: i64 = 1_000;

/// The address of the file that holds what stands at `/folder?query`.
pub(crate) fn address_of(folder: &str, query: &str) -> String {
    if query.is_empty() { format!("/{folder}.csv") } else { format!("/{folder}.csv?{query}") }
}

/// The address of the note beside a file: `/note.txt?of=open` for `/open.csv?q=pin`.
pub(crate) fn note_for(csv: impl AsRef<str>) -> String {
    let path = csv.as_ref().split('?').next().unwrap_or_default();
    let name = path.rsplit('/').next().unwrap_or_default().trim_end_matches(".csv");
    format!("/note.txt?of={}", addresses::encoded(name))
}

/// A file of rows under heads of its own.
pub(crate) fn file<I>(name: &str, heads: &[&str], rows: I) -> Result<Response, PageError>
where
    I: IntoIterator<Item = Vec<String>>,
{
    let written = || -> std::io::Result<Vec<u8>> {
        let mut out = Writer::new(Vec::new(), heads)?;
        rows.into_iter().try_for_each(|row| out.row(row))?;
        out.finish()
    };
    let bytes = written().map_err(|cause| {
        tracing::error!(%cause, "a file could not be written");
        Problem::ours()
    })?;
    Ok(with_heads(name, bytes))
}

/// A file of records, in the columns in which they can be imported again.
pub(crate) fn records<R: Record>(records: &[R]) -> Result<Response, PageError> {
    let rows = records.iter().map(|record| row(R::KIND, &record.cells()));
    file(addresses::folder(R::KIND), &heads(R::KIND), rows)
}

/// Every record of a kind. Read in steps while it is sent, so that its length costs no memory.
pub(crate) async fn whole_kind(kind: Kind, State(app): State<App>) -> Result<Response, PageError> {
    let first = step(&app, kind, "").await?;
    let opening = Some((first, true));
    let steps = stream::try_unfold((app, opening), move |(app, next)| async move {
        let Some((found, is_first)) = next else { return Ok(None) };
        let bytes = written(kind, &found, is_first)?;
        let last = found.last().map(|cells| cells.get("code").to_owned());
        let following = match last {
            Some(last) => step(&app, kind, &last).await.map_err(std::io::Error::other)?,
            None => Vec::new(),
        };
        let next = (!following.is_empty()).then_some((following, false));
        Ok::<_, std::io::Error>(Some((bytes, (app, next))))
    });
    Ok(with_heads(addresses::folder(kind), Body::from_stream(steps)))
}

async fn step(app: &App, kind: Kind, after: &str) -> Result<Vec<Cells>, Failure> {
    let mut db = app.reader().await?;
    kinds::after(&mut db, kind, after, STEP).await
}

fn written(kind: Kind, found: &[Cells], is_first: bool) -> std::io::Result<Vec<u8>> {
    let mut out =
        if is_first { Writer::new(Vec::new(), heads(kind))? } else { Writer::going_on(Vec::new()) };
    found.iter().try_for_each(|cells| out.row(row(kind, cells)))?;
    out.finish()
}

fn heads(kind: Kind) -> Vec<&'static str> {
    kinds::columns(kind).iter().map(|column| column.name).collect()
}

fn row(kind: Kind, cells: &Cells) -> Vec<String> {
    kinds::columns(kind).iter().map(|column| cells.get(column.name).to_owned()).collect()
}

fn with_heads(name: &str, body: impl IntoResponse) -> Response {
    let headers = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8; header=present".to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}.csv\"")),
    ];
    (headers, body).into_response()
}
