//! The newest changes as an Atom feed, all of them or those of the tasks of a saved view.

use std::collections::HashSet;
use std::fmt::Write as _;

use sqlx::SqliteConnection;

use crate::drawings::markup::escaped;
use crate::pages::open::asked_of;
use app::Failure;
use domain::kinds::Kind;
use domain::time::Moment;
use store::changes::{self, Change};
use store::{open_items, views};

/// Entries of a feed.
const ENTRIES: i64 = 100;
/// Changes that are looked through for those of a view.
const LOOKED_AT: i64 = 2_000;
/// Tasks of a view.
const TASKS: i64 = 5_000;

/// `None` where the person has no such view.
// Source: RFC 4287, sections 4.1.1 (feed) and 4.1.2 (entry), 2005.
pub(super) async fn written(
    db: &mut SqliteConnection,
    person: &str,
    view: &str,
    now: Moment,
    outpost: &str,
) -> Result<Option<String>, Failure> {
    let place =
        if outpost.is_empty() { "Holdover".to_owned() } else { format!("{outpost}, Holdover") };
    let (title, id, entries) = if view.is_empty() {
        let entries = changes::newest(db, i64::MAX, None, ENTRIES).await?;
        (format!("Changes, {place}"), "urn:holdover:changes".to_owned(), entries)
    } else {
        let own = views::of_person(db, person).await?;
        let Some(found) = own.into_iter().find(|one| one.code.as_str() == view) else {
            return Ok(None);
        };
        let (filter, sort) = asked_of(&found.query);
        let tasks: HashSet<String> = open_items::page(db, &filter, sort, 0, TASKS)
            .await?
            .into_iter()
            .map(|item| item.task.to_string())
            .collect();
        let mut entries = changes::newest(db, i64::MAX, None, LOOKED_AT).await?;
        entries.retain(|change| concerns(change, &tasks));
        entries.truncate(usize::try_from(ENTRIES).unwrap_or(usize::MAX));
        let id = format!("urn:holdover:changes:{}", found.code);
        (format!("Changes of {}, {place}", found.name), id, entries)
    };
    let updated = entries.first().map_or(now, |change| change.at);
    let mut out = String::from(
        "<?xml version=\"1.0\" encoding=\"utf-8\"?>\n<feed xmlns=\"http://www.w3.org/2005/Atom\">\n",
    );
    let _ = write!(
        out,
        "<title>{}</title>\n<id>{}</id>\n<updated>{}</updated>\n<author><name>Holdover</name></author>\n\
         <subtitle>A planning aid; flight rules and the people licensed to decide stand above it.</subtitle>\n",
        text(&title),
        text(&id),
        moment(updated)
    );
    for change in &entries {
        entry(&mut out, change);
    }
    out.push_str("</feed>\n");
    Ok(Some(out))
}

/// Whether a change is of one of these tasks, or of a record that names one.
fn concerns(change: &Change, tasks: &HashSet<String>) -> bool {
    if change.kind == Kind::Task {
        return tasks.contains(&change.code);
    }
    let named = |json: Option<&str>| {
        let read = json.and_then(|json| serde_json::from_str::<serde_json::Value>(json).ok());
        read.as_ref()
            .and_then(|cells| cells.get("task"))
            .and_then(serde_json::Value::as_str)
            .is_some_and(|task| tasks.contains(task))
    };
    named(change.after.as_deref()) || named(change.before.as_deref())
}

fn entry(out: &mut String, change: &Change) {
    let title = format!("{} {} {}", change.kind, change.code, change.action);
    let why = change.why.as_deref().map_or_else(String::new, |why| format!(" Because: {why}"));
    let _ = write!(
        out,
        "<entry>\n<title>{}</title>\n<id>urn:holdover:change:{}</id>\n<updated>{}</updated>\n\
         <author><name>{}</name></author>\n<content type=\"text\">{}</content>\n</entry>\n",
        text(&title),
        change.seq,
        moment(change.at),
        text(&change.who),
        text(&format!("{title}.{why}"))
    );
}

/// Text without the control characters that XML cannot hold.
// Source: W3C, Extensible Markup Language (XML) 1.0, section 2.2 (characters), 2008.
fn text(words: &str) -> String {
    let held: String = words
        .chars()
        .filter(|c| {
            matches!(c, '\t' | '\n') || (*c >= ' ' && !matches!(c, '\u{fffe}' | '\u{ffff}'))
        })
        .collect();
    escaped(&held)
}

// Source: RFC 3339, section 5.6, 2002.
fn moment(at: Moment) -> String {
    format!("{}T{}:00Z", at.day(), at.clock())
}
