//! A record of a kind without a page of its own: what it says, and how it came to say it.

use askama::Template;
use axum::extract::State;

use super::history::{self, ChangeRow};
use super::{capital, nav};
use crate::app::{App, Failure, kinds};
use crate::domain::kinds::Kind;
use crate::domain::roles::{action_for, may};
use crate::store::register;
use crate::web::addresses;
use crate::web::extract::Path;
use crate::web::failure::PageError;
use crate::web::frame::PageFrame;
use crate::web::page::Page;
use crate::web::visitor::Viewer;

#[derive(Template)]
#[template(path = "records/show.html")]
pub(super) struct ShowPage {
    page: PageFrame,
    code: String,
    heading: String,
    list: String,
    /// Where it is edited, for those who may.
    edit: Option<String>,
    lines: Vec<RecordLine>,
    changes: Vec<ChangeRow>,
}

struct RecordLine {
    label: &'static str,
    text: String,
    /// The codes that stand there, with their addresses.
    codes: Vec<(String, String)>,
}

pub(super) async fn show(
    kind: Kind,
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<ShowPage>, PageError> {
    let mut db = app.db.reader().await?;
    let missing = || Failure::NotFound(kind, code.clone());
    let cells = kinds::find(&mut db, kind, &code).await?.ok_or_else(missing)?;
    let row = register::find(&mut db, kind, &code).await?.ok_or_else(missing)?;
    let lines = kinds::columns(kind)
        .iter()
        .filter(|column| column.name != "code" && !cells.get(column.name).is_empty())
        .map(|column| {
            let text = cells.get(column.name).to_owned();
            let codes = column.input.names().map_or_else(Vec::new, |named| {
                text.split(", ").map(|code| (addresses::of(named, code), code.to_owned())).collect()
            });
            RecordLine { label: column.label, text, codes }
        })
        .collect();
    let changes = history::of_record(&mut db, kind, &code).await?;
    let heading = capital(kind.word());
    let page = viewer.frame(format!("{heading} {code}"), nav(kind)).of_version(row.version);
    Ok(Page(ShowPage {
        page,
        heading,
        list: match kind {
            // Remedies are read beside the findings that they answer.
            Kind::Remedy => "/findings".to_owned(),
            _ => format!("/{}", addresses::folder(kind)),
        },
        edit: may(viewer.actor.role, action_for(kind))
            .then(|| format!("{}/edit", addresses::of(kind, &code))),
        code,
        lines,
        changes,
    }))
}
