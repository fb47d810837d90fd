//! Who changed what, when and why.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::addresses;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::tables;
use crate::visitor::Viewer;
use app::App;
use app::read::changes::{self, Change};
use domain::kinds::Kind;

const PAGE: i64 = 100;

/// One entry of the log, as lists show it.
pub(crate) struct ChangeRow {
    pub seq: i64,
    pub when: String,
    pub who: String,
    pub address: String,
    pub code: String,
    pub words: String,
    pub why: String,
    /// The cells that changed: name, before, after.
    pub cells: Vec<(String, String, String)>,
}

impl ChangeRow {
    pub fn of(change: &Change) -> Self {
        Self {
            seq: change.seq,
            when: change.at.to_the_minute(),
            who: change.who.clone(),
            address: addresses::of_changed(change.kind, &change.code),
            code: change.code.clone(),
            words: format!("{} {}", change.kind, action_words(change)),
            why: change.why.clone().unwrap_or_default(),
            cells: cells(change),
        }
    }
}

/// What was done, in the words of now: entries of the log keep those that they were written with.
pub(crate) fn action_words(change: &Change) -> &str {
    match (change.action.as_str(), change.kind) {
        ("taken back", Kind::File) => "removed",
        ("taken back", _) => "undone",
        (action, _) => action,
    }
}

fn cells(change: &Change) -> Vec<(String, String, String)> {
    let read = |text: &Option<String>| -> serde_json::Map<String, serde_json::Value> {
        text.as_deref().and_then(|text| serde_json::from_str(text).ok()).unwrap_or_default()
    };
    let (before, after) = (read(&change.before), read(&change.after));
    let mut names: Vec<&String> = before.keys().chain(after.keys()).collect();
    names.sort_unstable();
    names.dedup();
    let shown = |value: Option<&serde_json::Value>| {
        value.map_or_else(String::new, |value| {
            value.as_str().map_or_else(|| value.to_string(), str::to_owned)
        })
    };
    names
        .into_iter()
        .map(|name| (name.replace('_', " "), shown(before.get(name)), shown(after.get(name))))
        .collect()
}

#[derive(Template)]
#[template(path = "changes/list.html")]
pub(crate) struct ChangesPage {
    page: PageFrame,
    rows: Vec<ChangeRow>,
    /// The record whose changes alone are shown.
    of: Option<(String, String)>,
    older: Option<String>,
    newest: i64,
    newest_hash: String,
}

/// The newest entries as a file, with the hashes that chain them.
pub(crate) async fn file(State(app): State<App>) -> Result<Response, PageError> {
    const HEADS: &[&str] = &[
        "no",
        "at",
        "who",
        "kind",
        "code",
        "action",
        "before",
        "after",
        "why",
        "hash_before",
        "hash",
    ];
    let mut db = app.reader().await?;
    let found = changes::newest(&mut db, i64::MAX, None, tables::MAX_ROWS).await?;
    tables::file("changes", HEADS, found.into_iter().map(file_cells))
}

fn file_cells(change: Change) -> Vec<String> {
    vec![
        change.seq.to_string(),
        change.at.to_string(),
        change.who,
        change.kind.word().to_owned(),
        change.code,
        change.action,
        change.before.unwrap_or_default(),
        change.after.unwrap_or_default(),
        change.why.unwrap_or_default(),
        app::tokens::hex(&change.previous),
        app::tokens::hex(&change.hash),
    ]
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<ChangesPage>, PageError> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query).to_owned();
    let asked = Fields::read(query.as_bytes());
    let before = asked.get("before").parse().unwrap_or(i64::MAX);
    let record = Kind::named(asked.get("kind")).map(|kind| (kind, asked.get("code")));
    let mut db = app.reader().await?;
    let newest = changes::last(&mut db).await?;
    let found = changes::newest(&mut db, before, record, PAGE).await?;
    let hash = changes::newest(&mut db, i64::MAX, None, 1).await?;
    let older = match found.last() {
        Some(last) if found.len() == 100 && last.seq > 1 => Some(match record {
            Some((kind, code)) => format!(
                "/changes?kind={}&code={}&before={}",
                addresses::encoded(kind.word()),
                addresses::encoded(code),
                last.seq
            ),
            None => format!("/changes?before={}", last.seq),
        }),
        _ => None,
    };
    let of = record.map(|(kind, code)| (addresses::of(kind, code), code.to_owned()));
    Ok(Page(ChangesPage {
        page: viewer.frame("Changes", Nav::Changes),
        rows: found.iter().map(ChangeRow::of).collect(),
        of,
        older,
        newest,
        newest_hash: hash.first().map_or_else(String::new, |change| app::tokens::hex(&change.hash)),
    }))
}
