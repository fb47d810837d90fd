//! Says, while a code is typed, whether a new record could have it.

use axum::Json;
use axum::extract::State;

use crate::addresses;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::visitor::Viewer;
use app::App;
use app::records::code_refused;
use domain::kinds::Kind;

pub(crate) async fn check(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Json<serde_json::Value>, PageError> {
    let query = viewer.address().split_once('?').map_or("", |query| query.1);
    let asked = Fields::read(query.as_bytes());
    let kind = Kind::IMPORTED.iter().find(|kind| addresses::folder(**kind) == asked.get("folder"));
    let (code, now) = (asked.get("code").trim(), asked.get("now"));
    let wrong = match kind {
        Some(kind) if !code.is_empty() => {
            let mut db = app.reader().await?;
            code_refused(&mut db, *kind, code, Some(now).filter(|now| !now.is_empty())).await?
        }
        _ => None,
    };
    Ok(Json(serde_json::json!({ "wrong": wrong })))
}
