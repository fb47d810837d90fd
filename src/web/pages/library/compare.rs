//! Two revisions of a technique side by side.

use askama::Template;
use axum::extract::State;

use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame, Shelf};
use crate::page::Page;
use crate::side_by_side::{Differs, LinePair, rows};
use crate::visitor::Viewer;
use app::read::attempts::TriedBy;
use app::{App, Failure, library};
use domain::kinds::Kind;
use domain::revisions::Revision;

use super::minutes;
use super::revisions::{by, cleared, known, record};

#[derive(Template)]
#[template(path = "library/compare.html")]
pub(crate) struct ComparePage {
    page: PageFrame,
    code: String,
    name: String,
    numbers: Vec<i64>,
    left: Head,
    right: Head,
    facts: Vec<Fact>,
    steps: Vec<LinePair>,
    told: String,
}

/// The head of one column.
struct Head {
    number: i64,
    by: String,
    changed: String,
    changes_work: bool,
    answers: Vec<String>,
    cleared: String,
    record: String,
}

/// One fact apart from the steps, on both sides.
struct Fact {
    label: &'static str,
    differs: Differs,
    left: String,
    right: String,
}

pub(crate) async fn compare(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<ComparePage>, PageError> {
    let mut db = app.reader().await?;
    let read = library::technique(&mut db, &code, 1).await?;
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let asked = Fields::read(query.as_bytes());
    let known = known(&read.technique, &read.revisions);
    let last = known.len().saturating_sub(1);
    let pick = |name: &str, otherwise: usize| {
        let number: Option<i64> = asked.get(name).parse().ok();
        known.iter().find(|one| Some(one.number) == number).or_else(|| known.get(otherwise))
    };
    let (Some(left), Some(right)) = (pick("a", last.saturating_sub(1)), pick("b", last)) else {
        return Err(Failure::NotFound(Kind::Revision, code).into());
    };
    let steps = rows(left.steps.as_str(), right.steps.as_str());
    let facts = facts(left, right);
    let changed = steps.iter().filter(|row| row.differs != Differs::Same).count();
    let facts_changed = facts.iter().filter(|fact| fact.differs != Differs::Same).count();
    let told = match (changed, facts_changed) {
        (0, 0) => "They say the same.".to_owned(),
        (steps, facts) => format!("{} and {} differ.", count(steps, "step"), count(facts, "fact")),
    };
    let title = format!("{code}, two revisions");
    Ok(Page(ComparePage {
        page: viewer.frame(title, Nav::Library(Shelf::Techniques)),
        name: read.technique.name.as_str().to_owned(),
        numbers: known.iter().map(|one| one.number).collect(),
        left: head(left, &read.attempts),
        right: head(right, &read.attempts),
        code,
        facts,
        steps,
        told,
    }))
}

impl ComparePage {
    fn answers(&self) -> [&[String]; 2] {
        [&self.left.answers, &self.right.answers]
    }

    /// What is said of the two apart from their steps.
    fn words(&self) -> Vec<(&'static str, Differs, &str, &str)> {
        let (a, b) = (&self.left, &self.right);
        let work = |head: &Head| if head.changes_work { "yes" } else { "no" };
        let mut all: Vec<(&'static str, Differs, &str, &str)> = vec![
            (
                "What changed",
                Differs::Same,
                or_not_recorded(&a.changed),
                or_not_recorded(&b.changed),
            ),
            ("Changes the work", Differs::Same, work(a), work(b)),
            ("Cleared", Differs::Same, &a.cleared, &b.cleared),
            ("Attempts", Differs::Same, &a.record, &b.record),
        ];
        all.extend(self.facts.iter().map(|f| (f.label, f.differs, &*f.left, &*f.right)));
        all
    }
}

fn or_not_recorded(words: &str) -> &str {
    if words.is_empty() { "not recorded" } else { words }
}

fn count(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        more => format!("{more} {what}s"),
    }
}

fn head(revision: &Revision, attempts: &[TriedBy]) -> Head {
    Head {
        number: revision.number,
        by: by(revision),
        changed: revision.changed.as_str().to_owned(),
        changes_work: revision.changes_work,
        answers: revision.answers.iter().map(ToString::to_string).collect(),
        cleared: cleared(revision),
        record: record(revision, attempts),
    }
}

fn facts(left: &Revision, right: &Revision) -> Vec<Fact> {
    let codes = |all: &[String]| if all.is_empty() { "none".to_owned() } else { all.join(", ") };
    let said = |one: &Revision| {
        let sides: Vec<String> = one.sides.iter().map(ToString::to_string).collect();
        let tools: Vec<String> = one.tools.iter().map(ToString::to_string).collect();
        [
            ("Sides", if sides.is_empty() { "any side".to_owned() } else { sides.join(", ") }),
            ("Tools", codes(&tools)),
            ("Seats", one.seats.map_or_else(|| "as the task".to_owned(), |n| n.to_string())),
            (
                "Minutes, optimistic · likely · pessimistic",
                minutes(one.optimistic, one.likely, one.pessimistic),
            ),
        ]
    };
    said(left)
        .into_iter()
        .zip(said(right))
        .map(|((label, left), (_, right))| Fact {
            label,
            differs: if left == right { Differs::Same } else { Differs::Changed },
            left,
            right,
        })
        .collect()
}
