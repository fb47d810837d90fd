//! Lists as workbooks: whatever a list gives as CSV, with dates, durations and numbers as such.

use std::sync::LazyLock;

use axum::body::{Body, to_bytes};
use axum::extract::Request;
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware::{Next, from_fn};
use axum::response::{IntoResponse, Response};
use axum::routing::MethodRouter;
use tokio::sync::Semaphore;

use crate::addresses;
use crate::failure::Problem;
use crate::page::see_other;
use app::{App, kinds};
use domain::cells::{Cell as _, Input};
use domain::kinds::Kind;
use domain::time::{Day, Moment};
use exchange::{write, xlsx};

/// Bytes of a list as CSV; a longer one is given as CSV alone.
const MAX_LIST: usize = 64_000_000;
/// Workbooks that are made at the same time; the list of each is held meanwhile.
static AT_ONCE: LazyLock<Semaphore> = LazyLock::new(|| Semaphore::new(2));
const MEDIA: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// What stands at `/list.csv`, for `/list.xlsx`.
pub(crate) fn of(list: &str, csv: MethodRouter<App>) -> MethodRouter<App> {
    let list = list.to_owned();
    csv.layer(from_fn(move |request: Request, next: Next| made(list.clone(), request, next)))
}

async fn made(list: String, request: Request, next: Next) -> Response {
    let query = request.uri().query().map_or_else(String::new, |query| format!("?{query}"));
    let as_csv = format!("/{list}.csv{query}");
    let Ok(_turn) = AT_ONCE.acquire().await else { return Problem::ours().into_response() };
    let response = next.run(request).await;
    if response.status() != StatusCode::OK {
        return response;
    }
    let name = file_name(response.headers(), &list);
    let Ok(bytes) = to_bytes(response.into_body(), MAX_LIST).await else {
        return see_other(&as_csv);
    };
    let own = list.clone();
    match tokio::task::spawn_blocking(move || workbook(&own, &bytes)).await {
        Ok(Ok(Some(book))) => {
            let headers = [
                (header::CONTENT_TYPE, MEDIA.to_owned()),
                (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}.xlsx\"")),
            ];
            (headers, Body::from(book)).into_response()
        }
        Ok(Ok(None)) => see_other(&as_csv),
        Ok(Err(cause)) => failed(&list, &cause),
        Err(cause) => failed(&list, &cause.to_string()),
    }
}

fn failed(list: &str, cause: &str) -> Response {
    tracing::error!(cause, list, "a workbook could not be written");
    Problem::ours().into_response()
}

/// The name under which the list is saved as CSV.
fn file_name(headers: &HeaderMap, list: &str) -> String {
    let told = headers.get(header::CONTENT_DISPOSITION).and_then(|value| value.to_str().ok());
    let name = told.and_then(|told| told.split('"').nth(1)?.strip_suffix(".csv"));
    name.unwrap_or(list).to_owned()
}

/// Nothing where it is more than a workbook can hold.
fn workbook(list: &str, csv: &[u8]) -> Result<Option<Vec<u8>>, String> {
    let csv = csv.strip_prefix(b"\xef\xbb\xbf").unwrap_or(csv);
    let heads = reader(csv).headers().map_err(|cause| cause.to_string())?.clone();
    let kind = Kind::IMPORTED.iter().copied().find(|kind| addresses::folder(*kind) == list);
    let known = kind.map(kinds::columns).unwrap_or_default();
    let told = |head: &str| known.iter().find(|column| column.name == head);
    let mut columns = Vec::with_capacity(heads.len());
    for (at, head) in heads.iter().enumerate() {
        let input = match told(head) {
            Some(column) => column.input,
            None => holds(csv, at),
        };
        columns.push((head, input));
    }
    let mut broken = None;
    let rows = reader(csv).into_records().map_while(|record| match record {
        // A guard against formulas is no part of the text; a workbook needs none.
        Ok(record) => Some(record.iter().map(|cell| write::unguarded(cell).to_owned()).collect()),
        Err(cause) => {
            broken = Some(cause.to_string());
            None
        }
    });
    match xlsx::write(list, &columns, rows) {
        _ if broken.is_some() => Err(broken.unwrap_or_default()),
        Ok(book) => Ok(Some(book)),
        Err(xlsx::NotWritten::TooMuch) => Ok(None),
        Err(cause) => Err(cause.to_string()),
    }
}

fn reader(csv: &[u8]) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new().flexible(true).from_reader(csv)
}

/// What a cell can be read as, and how that is told.
type Form = (Input, fn(&str) -> bool);

/// What every cell of a column holds that no kind of record has.
fn holds(csv: &[u8], at: usize) -> Input {
    let forms: [Form; 4] = [
        (Input::Day, |cell| cell.len() == 10 && cell.contains('-') && Day::read(cell).is_ok()),
        (Input::Moment, |cell| cell.ends_with('Z') && Moment::read(cell).is_ok()),
        (Input::Duration, is_clock),
        (Input::Number, is_number),
    ];
    let mut fits = [true; 4];
    let mut is_empty = true;
    for record in reader(csv).into_records().map_while(Result::ok) {
        let Some(cell) = record.get(at).filter(|cell| !cell.is_empty()) else { continue };
        is_empty = false;
        for (fit, (_, is)) in fits.iter_mut().zip(&forms) {
            *fit &= is(cell);
        }
        if !fits.contains(&true) {
            break;
        }
    }
    let found = fits.iter().zip(&forms).find(|(fit, _)| **fit && !is_empty);
    found.map_or(Input::Line, |(_, (input, _))| *input)
}

/// Hours and minutes: `6:30`.
fn is_clock(cell: &str) -> bool {
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    cell.split_once(':').is_some_and(|(hours, minutes)| {
        (1..=4).contains(&hours.len()) && minutes.len() == 2 && digits(hours) && digits(minutes)
    })
}

/// A plain number; `007` is a code.
fn is_number(cell: &str) -> bool {
    let digits = cell.strip_prefix('-').unwrap_or(cell);
    let leads = digits.len() > 1 && digits.starts_with('0') && !digits.starts_with("0.");
    !leads
        && digits.len() <= 15
        && digits.starts_with(|letter: char| letter.is_ascii_digit())
        && digits.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.')
        && cell.parse::<f64>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_is_what_each_of_its_cells_is() {
        let csv = b"a,b,c,d,e,f,g\r\n2031-03-18,6:30,1.5,007,2031-03-05T08:12:00.000Z,2,\r\n\
                    2028-02-29,26:05,-3,8,2031-03-05T08:12:00.500Z,x,\r\n,,,,,,\r\n";
        let found: Vec<Input> = (0..7).map(|at| holds(csv, at)).collect();
        let expected = [
            Input::Day,
            Input::Duration,
            Input::Number,
            Input::Line,
            Input::Moment,
            Input::Line,
            Input::Line,
        ];
        assert_eq!(found, expected);
    }
}
