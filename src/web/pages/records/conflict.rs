//! Two people, one record: both versions side by side, to choose from field by field or whole.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::{nav, offers};
use crate::addresses;
use crate::frame::PageFrame;
use crate::page::Page;
use crate::pages::attempts::photos::WaitingPhoto;
use crate::visitor::Viewer;
use app::Conflict;

#[derive(Template)]
#[template(path = "records/conflict.html")]
struct ConflictPage {
    page: PageFrame,
    code: String,
    changed_by: String,
    version: i64,
    action: String,
    record: String,
    /// The fields that differ, and those that agree.
    differing: Vec<Both>,
    agreeing: Vec<Both>,
    /// Photographs that were sent along and wait for the choice.
    waiting: Vec<WaitingPhoto>,
}

struct Both {
    name: &'static str,
    label: &'static str,
    theirs: String,
    yours: String,
    /// The edit did not touch it: what stands now is chosen.
    left: bool,
}

pub(crate) fn page(viewer: &Viewer, both: &Conflict, waiting: Vec<WaitingPhoto>) -> Response {
    let (differing, agreeing) = offers::columns(both.kind, viewer.actor.role, false)
        .into_iter()
        .map(|column| Both {
            name: column.name,
            label: column.label,
            theirs: both.theirs.get(column.name).to_owned(),
            yours: both.yours.get(column.name).to_owned(),
            left: both.leaves(column.name),
        })
        .partition(|field| field.theirs != field.yours);
    let record = addresses::of(both.kind, &both.code);
    let title = format!("Two versions of {}", both.code);
    let page = ConflictPage {
        page: viewer.frame(title, nav(both.kind)).refusing(true),
        code: both.code.clone(),
        changed_by: both.changed_by.clone(),
        version: both.version,
        action: format!("{record}/edit"),
        record,
        differing,
        agreeing,
        waiting,
    };
    (StatusCode::CONFLICT, Page(page)).into_response()
}
