//! Draws the page of what went wrong: one look for refusals, missing pages and faults of ours,
//! with what was typed below, so that nothing is lost.

use askama::Template;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use tower_http::csrf::ProtectionError;

use crate::failure::Problem;
use crate::forms::{ErrorLine, ErrorSummary};
use crate::frame::{Nav, PageFrame};
use crate::held_forms::{HeldForm, label_in, line_of};
use crate::quiet;
use crate::visitor::Visit;

/// One cell of a record that two people changed.
struct Difference {
    name: String,
    theirs: String,
    yours: String,
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    page: PageFrame,
    summary: ErrorSummary,
    words: String,
    /// What to tell whoever runs the service; the log has the same.
    request: Option<String>,
    changed_by: String,
    record: Option<(String, String)>,
    differences: Vec<Difference>,
    typed: Option<HeldForm>,
}

/// Replaces the bare answer that something went wrong by a page that says so.
pub(crate) fn draw(
    visit: &Visit,
    request_id: Option<&HeaderValue>,
    route: &str,
    mut response: Response,
) -> Response {
    let Some(problem) = problem_of(&mut response) else {
        return response;
    };
    if let Some(told) = quiet::told(route, &problem, visit.asked.is_write) {
        return in_place_of(response, problem.status, told);
    }
    let typed = response.extensions_mut().remove::<HeldForm>();
    let html = match trouble(visit, request_id, &problem, typed).render() {
        Ok(html) => html,
        Err(cause) => {
            tracing::error!(%cause, "the page of a problem failed");
            format!("<!doctype html><title>Holdover</title><p>{}", problem.status)
        }
    };
    in_place_of(response, problem.status, Html(html).into_response())
}

/// A page in place of a bare answer, whose other heads stay.
fn in_place_of(bare: Response, status: StatusCode, mut page: Response) -> Response {
    let (mut parts, _) = bare.into_parts();
    parts.headers.remove(header::CONTENT_LENGTH);
    parts.headers.remove(header::CONTENT_TYPE);
    parts.headers.extend(std::mem::take(page.headers_mut()));
    parts.status = status;
    let (_, body) = page.into_parts();
    Response::from_parts(parts, body)
}

/// What went wrong: what a handler said, or what a library answered with a bare status.
fn problem_of(response: &mut Response) -> Option<Problem> {
    if let Some(problem) = response.extensions_mut().remove::<Problem>() {
        return Some(problem);
    }
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return None;
    }
    let kind = response.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    let bare = kind.is_none_or(|kind| kind.starts_with("text/plain"));
    if response.extensions().get::<ProtectionError>().is_some() {
        return Some(Problem::of_status(StatusCode::FORBIDDEN));
    }
    bare.then(|| Problem::of_status(status))
}

fn trouble(
    visit: &Visit,
    request_id: Option<&HeaderValue>,
    problem: &Problem,
    typed: Option<HeldForm>,
) -> ErrorPage {
    let page = match &visit.viewer {
        Some(viewer) => viewer.frame(&problem.heading, Nav::Elsewhere),
        None => visit.asked.frame(&problem.heading, Nav::Elsewhere),
    };
    let lines = problem.fields.iter().map(|wrong| ErrorLine {
        target: typed
            .iter()
            .flat_map(|form| &form.fields)
            .find(|field| field.name == wrong.field)
            .map_or_else(|| "main".to_owned(), |field| field.id.clone()),
        words: line_of(&visit.asked.address, wrong),
    });
    let mut summary = ErrorSummary::default();
    if !problem.fields.is_empty() {
        summary.lines = lines.collect();
        "Nothing is saved yet".clone_into(&mut summary.heading);
    }
    let conflict = problem.conflict.as_deref();
    let typed = typed.map(|mut form| {
        form.fields = form.fields.into_iter().map(|field| field.judged(&problem.fields)).collect();
        if let Some(conflict) = conflict {
            // Sent again, it is an edit of the version that stands now.
            form.version = conflict.version.to_string();
        }
        form
    });
    ErrorPage {
        page: page.refusing(true),
        summary,
        words: problem.words_for(visit.asked.is_write),
        request: (problem.status == StatusCode::INTERNAL_SERVER_ERROR)
            .then(|| request_id.and_then(|id| id.to_str().ok()).map(str::to_owned))
            .flatten(),
        changed_by: conflict.map_or_else(String::new, |conflict| conflict.changed_by.clone()),
        record: conflict.map(|conflict| {
            (crate::addresses::of(conflict.kind, &conflict.code), conflict.code.clone())
        }),
        differences: conflict.map_or_else(Vec::new, |conflict| {
            conflict
                .theirs
                .iter()
                .filter(|(name, theirs)| conflict.yours.get(name) != *theirs)
                .map(|(name, theirs)| Difference {
                    name: label_in(conflict.kind, name),
                    theirs: theirs.to_owned(),
                    yours: conflict.yours.get(name).to_owned(),
                })
                .collect()
        }),
        typed,
    }
}
