//! The newest changes as an Atom feed, all of them or those of the tasks of a saved view.

use std::collections::HashMap;
use std::fmt::Write as _;

use app::read::Connection;

use super::left::left;
use crate::addresses;
use crate::drawings::markup::escaped;
use crate::pages::changes::action_words;
use crate::pages::open::asked_of;
use app::Failure;
use app::read::changes::{self, Change};
use app::read::open_items::{self, Filter, Sort};
use app::read::{attempts, views};
use domain::codes::TaskCode;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::TaskState;

/// Entries of a feed.
const ENTRIES: i64 = 100;
/// Changes that are read at once while those of a view are looked for.
const AT_ONCE: i64 = 2_000;
/// Tasks of a view.
const TASKS: i64 = 5_000;

/// `None` where the person has no such view.
// Source: RFC 4287, sections 4.1.1 (feed) and 4.1.2 (entry), 2005.
pub(super) async fn written(
    db: &mut Connection,
    person: &str,
    // The address of the service, and under it that of the feed.
    (service, address): (&str, &str),
    view: &str,
    now: Moment,
    outpost: &str,
) -> Result<Option<String>, Failure> {
    let place =
        if outpost.is_empty() { "Holdover".to_owned() } else { format!("{outpost}, Holdover") };
    let own_id = own_id(db).await?;
    let (title, id, entries) = if view.is_empty() {
        let entries = changes::newest(db, i64::MAX, None, ENTRIES).await?;
        (format!("Changes, {place}"), format!("urn:holdover:{own_id}:changes"), entries)
    } else {
        let own = views::of_person(db, person).await?;
        let Some(found) = own.into_iter().find(|one| one.code.as_str() == view) else {
            return Ok(None);
        };
        let named = named_by_view(db, &found.query).await?;
        let entries = newest_of(db, &named).await?;
        let id = format!("urn:holdover:{own_id}:changes:{}", found.code);
        (format!("Changes of {}, {place}", found.name), id, entries)
    };
    let updated = entries.first().map_or(now, |change| change.at);
    let mut out = String::from(
        "<?xml version=\"1.0\" encoding=\"utf-8\"?>\n<feed xmlns=\"http://www.w3.org/2005/Atom\">\n",
    );
    let _ = write!(
        out,
        "<title>{}</title>\n<id>{}</id>\n<link rel=\"self\" href=\"{}\"/>\n<updated>{}</updated>\n\
         <author><name>Holdover</name></author>\n\
         <subtitle>A planning aid; flight rules and the people licensed to decide stand above it.</subtitle>\n",
        text(&title),
        text(&id),
        text(&format!("{service}{address}")),
        moment(updated)
    );
    for change in &entries {
        entry(&mut out, change, &own_id, service);
    }
    out.push_str("</feed>\n");
    Ok(Some(out))
}

/// What tells one installation from another and stays: the hash of its first change.
async fn own_id(db: &mut Connection) -> Result<String, Failure> {
    let first = changes::since(db, 0, 1).await?;
    let hash = first.first().map_or(&[][..], |change| &change.hash[..8]);
    Ok(hash.iter().fold(String::new(), |mut out, byte| {
        let _ = write!(out, "{byte:02x}");
        out
    }))
}

/// Records by code, each with the number of the last change that belongs to the view.
type Named = HashMap<String, i64>;

/// The codes of the tasks that a view lists, of those that it listed until they ended or until one of
/// their cells was edited, and of the attempts at them.
async fn named_by_view(db: &mut Connection, query: &str) -> Result<Named, Failure> {
    let (filter, sort, words) = asked_of(query);
    let tasks = listed(db, filter.clone(), sort).await?;
    let attempts = attempts::of_tasks(db, &tasks).await?;
    let codes = attempts.iter().map(|one| one.code.0.to_string());
    let codes = codes.chain(tasks.iter().map(ToString::to_string));
    let mut named: Named = codes.map(|code| (code, i64::MAX)).collect();
    for (task, seq) in left(db, &filter, &words).await? {
        named.entry(task).or_insert(seq);
    }
    Ok(named)
}

/// The tasks that a filter lists, and those that it listed until they ended.
pub(super) async fn listed(
    db: &mut Connection,
    mut filter: Filter,
    sort: Sort,
) -> Result<Vec<TaskCode>, Failure> {
    let mut tasks = Vec::new();
    for state in [filter.state, Some(TaskState::Done), Some(TaskState::Dropped)] {
        filter.state = state;
        let found = open_items::page(db, &filter, sort, 0, TASKS).await?;
        tasks.extend(found.into_iter().map(|item| item.task));
    }
    Ok(tasks)
}

/// The newest changes of these records and of those that name one of them.
async fn newest_of(db: &mut Connection, named: &Named) -> Result<Vec<Change>, Failure> {
    let most = usize::try_from(ENTRIES).unwrap_or(usize::MAX);
    let (mut all, mut before) = (Vec::new(), i64::MAX);
    while all.len() < most {
        let read = changes::newest(db, before, None, AT_ONCE).await?;
        let Some(last) = read.last() else { break };
        before = last.seq;
        all.extend(read.into_iter().filter(|change| concerns(change, named)));
    }
    all.truncate(most);
    Ok(all)
}

/// Whether a change is of one of these records, or of one that names them in any cell.
fn concerns(change: &Change, named: &Named) -> bool {
    let is_named = |code: &str| named.get(code).is_some_and(|last| change.seq <= *last);
    let has_one = |json: Option<&str>| {
        let read = json.and_then(|json| serde_json::from_str::<serde_json::Value>(json).ok());
        read.as_ref().and_then(serde_json::Value::as_object).is_some_and(|cells| {
            let texts = cells.values().filter_map(serde_json::Value::as_str);
            texts.flat_map(|text| text.split(", ")).any(is_named)
        })
    };
    let is_own = matches!(change.kind, Kind::Task | Kind::Attempt) && is_named(&change.code);
    is_own || has_one(change.after.as_deref()) || has_one(change.before.as_deref())
}

fn entry(out: &mut String, change: &Change, own_id: &str, service: &str) {
    let title = format!("{} {} {}", change.kind, change.code, action_words(change));
    let why = change.why.as_deref().map_or_else(String::new, |why| format!(" Because: {why}"));
    let _ = write!(
        out,
        "<entry>\n<title>{}</title>\n<id>urn:holdover:{own_id}:change:{}</id>\n\
         <link href=\"{}\"/>\n<updated>{}</updated>\n\
         <author><name>{}</name></author>\n<content type=\"text\">{}</content>\n</entry>\n",
        text(&title),
        change.seq,
        text(&format!("{service}{}", addresses::of_changed(change.kind, &change.code))),
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
