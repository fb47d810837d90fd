//! Addresses that scripts ask: what went wrong there is answered as JSON, with the status and the
//! words that its page would have.

use axum::Json;
use axum::response::{IntoResponse as _, Response};

use crate::failure::Problem;

/// Each with what its refusals begin with.
const ROUTES: [(&str, &str); 5] = [
    ("/excursions/{code}/debrief/rows", "Not saved: "),
    ("/excursions/{code}/day/press", ""),
    ("/excursions/{code}/day/state", ""),
    ("/excursions/{code}/practice/{run}/press", ""),
    ("/excursions/{code}/practice/{run}/state", ""),
];

/// What a script is told of a problem; nothing where a page is drawn: no script asked, or it is to
/// let its person sign in again.
pub(crate) fn told(route: &str, problem: &Problem, is_write: bool) -> Option<Response> {
    let (_, begins) = ROUTES.iter().find(|(known, _)| *known == route)?;
    if problem.is_of_session {
        return None;
    }
    let begins = if problem.status.is_server_error() { "" } else { begins };
    let words = format!("{begins}{}", problem.line(is_write));
    Some(Json(serde_json::json!({ "words": words })).into_response())
}
