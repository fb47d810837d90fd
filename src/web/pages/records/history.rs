//! The changes of one record, newest first, cell by cell.

use app::read::Connection;
use serde_json::{Map, Value};

use crate::pages::changes::action_words;
use app::read::changes::{Change, newest};
use app::{Failure, kinds};
use domain::kinds::Kind;
use domain::time::Moment;

/// The newest entries that a page shows.
const MAX_ENTRIES: i64 = 50;

/// One entry of the log, as a page shows it.
pub(crate) struct ChangeRow {
    pub at: Moment,
    pub who: String,
    pub action: String,
    pub why: String,
    pub cells: Vec<CellChange>,
}

pub(crate) struct CellChange {
    pub label: String,
    pub before: String,
    pub after: String,
}

pub(crate) async fn of_record(
    db: &mut Connection,
    kind: Kind,
    code: &str,
) -> Result<Vec<ChangeRow>, Failure> {
    let changes = newest(db, i64::MAX, Some((kind, code)), MAX_ENTRIES).await?;
    Ok(changes.into_iter().map(|change| row(kind, change)).collect())
}

fn row(kind: Kind, change: Change) -> ChangeRow {
    let (before, after) = (cells(change.before.as_deref()), cells(change.after.as_deref()));
    let text = |cells: &Map<String, Value>, name: &str| {
        cells.get(name).and_then(Value::as_str).unwrap_or("").to_owned()
    };
    let label = |name: &str| {
        let column = kinds::columns(kind).iter().find(|column| column.name == name);
        column.map_or_else(|| name.to_owned(), |column| column.label.to_owned())
    };
    let named = if after.is_empty() { &before } else { &after };
    let cells = named
        .keys()
        .map(|name| CellChange {
            label: label(name),
            before: text(&before, name),
            after: text(&after, name),
        })
        .collect();
    let action = action_words(&change).to_owned();
    ChangeRow { at: change.at, who: change.who, action, why: change.why.unwrap_or_default(), cells }
}

fn cells(json: Option<&str>) -> Map<String, Value> {
    match json.map(serde_json::from_str) {
        Some(Ok(Value::Object(cells))) => cells,
        _ => Map::new(),
    }
}
