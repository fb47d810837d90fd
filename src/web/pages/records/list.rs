//! All records of a kind without a list of its own, by code.

use askama::Template;
use axum::extract::State;

use super::{add_words, capital, nav};
use crate::addresses::{self, encoded};
use crate::extract::Fields;
use crate::failure::PageError;
use crate::frame::PageFrame;
use crate::page::Page;
use crate::pages::words;
use crate::tables;
use crate::visitor::Viewer;
use app::{App, kinds};
use domain::cells::Input;
use domain::kinds::Kind;
use domain::records::Column;
use domain::roles::{action_for, may};

/// Rows on one page.
const PAGE: usize = 100;
/// Columns beside the code: what does not fit stands on the record's page.
const COLUMNS: usize = 5;

#[derive(Template)]
#[template(path = "records/list.html")]
pub(super) struct ListPage {
    page: PageFrame,
    heading: String,
    /// The entry of `/words` that explains the heading.
    term: &'static str,
    new: Option<(String, String)>,
    csv: String,
    heads: Vec<&'static str>,
    rows: Vec<ListRow>,
    first: Option<String>,
    next: Option<String>,
}

struct ListRow {
    address: String,
    code: String,
    cells: Vec<ListCell>,
}

struct ListCell {
    text: String,
    address: Option<String>,
}

/// What a list shows of a record: its first columns, and of an attempt how it ended.
fn shown(kind: Kind) -> Vec<&'static Column> {
    let told = |column: &&Column| match kind {
        Kind::Attempt => {
            ["task", "excursion", "outcome", "technique", "side"].contains(&column.name)
        }
        _ => column.name != "code" && !matches!(column.input, Input::Prose),
    };
    kinds::columns(kind).iter().filter(told).take(COLUMNS).collect()
}

pub(super) async fn show(
    kind: Kind,
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<ListPage>, PageError> {
    let asked = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let after = Fields::read(asked.as_bytes()).get("after").to_owned();
    let mut db = app.reader().await?;
    let most = i64::try_from(PAGE + 1).unwrap_or(i64::MAX);
    let mut found = kinds::after(&mut db, kind, &after, most).await?;
    let folder = format!("/{}", addresses::folder(kind));
    let more = found.len() > PAGE;
    found.truncate(PAGE);
    let next = found
        .last()
        .filter(|_| more)
        .map(|last| format!("{folder}?after={}", encoded(last.get("code"))));
    if kind == Kind::Cause && !more {
        // Numbers by their worth: 2 before 10.
        found.sort_by_key(|cells| cells.get("code").parse::<u32>().unwrap_or(u32::MAX));
    }
    let columns = shown(kind);
    let rows = found
        .iter()
        .map(|cells| ListRow {
            address: addresses::of(kind, cells.get("code")),
            code: cells.get("code").to_owned(),
            cells: columns
                .iter()
                .map(|column| {
                    let text = cells.get(column.name).to_owned();
                    let address = match column.input {
                        Input::Code(named) if !text.is_empty() => Some(addresses::of(named, &text)),
                        _ => None,
                    };
                    ListCell { text, address }
                })
                .collect(),
        })
        .collect();
    let heading = capital(&kind.plural().replace('-', " "));
    Ok(Page(ListPage {
        page: viewer.frame(heading.clone(), nav(kind)),
        heading,
        term: words::term_of(kind),
        new: may(viewer.actor.role, action_for(kind))
            .then(|| (format!("{folder}/new"), add_words(kind))),
        csv: tables::address_of(addresses::folder(kind), ""),
        heads: columns.iter().map(|column| column.label).collect(),
        rows,
        first: (!after.is_empty()).then(|| folder.clone()),
        next,
    }))
}
