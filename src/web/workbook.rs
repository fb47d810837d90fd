//! Lists as workbooks: whatever a list gives as CSV, with dates, durations and numbers as such.

use axum::body::{Body, to_bytes};
use axum::extract::Request;
use axum::http::{StatusCode, header};
use axum::middleware::{Next, from_fn};
use axum::response::{IntoResponse, Response};
use axum::routing::MethodRouter;

use crate::addresses;
use crate::failure::Problem;
use crate::page::see_other;
use app::{App, kinds};
use domain::cells::Input;
use domain::kinds::Kind;
use exchange::{write, xlsx};

/// A longer list is given as CSV: a workbook is made in memory, and no spreadsheet is quick with it.
const MAX_LIST: usize = 8 * 1024 * 1024;

/// What stands at `/list.csv`, for `/list.xlsx`.
pub(crate) fn of(list: &str, csv: MethodRouter<App>) -> MethodRouter<App> {
    let list = list.to_owned();
    csv.layer(from_fn(move |request: Request, next: Next| made(list.clone(), request, next)))
}

async fn made(list: String, request: Request, next: Next) -> Response {
    let query = request.uri().query().map_or_else(String::new, |query| format!("?{query}"));
    let response = next.run(request).await;
    if response.status() != StatusCode::OK {
        return response;
    }
    let Ok(bytes) = to_bytes(response.into_body(), MAX_LIST).await else {
        return see_other(&format!("/{list}.csv{query}"));
    };
    let name = list.clone();
    let made = tokio::task::spawn_blocking(move || workbook(&name, &bytes)).await;
    match made {
        Ok(Ok(book)) => {
            let headers = [
                (
                    header::CONTENT_TYPE,
                    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet".to_owned(),
                ),
                (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{list}.xlsx\"")),
            ];
            (headers, Body::from(book)).into_response()
        }
        Ok(Err(cause)) => {
            tracing::error!(%cause, list, "a workbook could not be written");
            Problem::ours().into_response()
        }
        Err(cause) => {
            tracing::error!(%cause, list, "writing a workbook stopped");
            Problem::ours().into_response()
        }
    }
}

fn workbook(list: &str, csv: &[u8]) -> Result<Vec<u8>, String> {
    let csv = csv.strip_prefix(b"\xef\xbb\xbf").unwrap_or(csv);
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(csv);
    let heads = reader.headers().map_err(|cause| cause.to_string())?.clone();
    let kind = Kind::IMPORTED.iter().copied().find(|kind| addresses::folder(*kind) == list);
    let known = kind.map(kinds::columns).unwrap_or_default();
    let columns: Vec<(&str, Input)> = heads
        .iter()
        .map(|head| {
            let column = known.iter().find(|column| column.name == head);
            (head, column.map_or(Input::Line, |column| column.input))
        })
        .collect();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|cause| cause.to_string())?;
        // A guard against formulas is no part of the text; a workbook needs none.
        rows.push(record.iter().map(|cell| write::unguarded(cell).to_owned()).collect());
    }
    xlsx::write(list, &columns, rows).map_err(|cause| cause.to_string())
}
