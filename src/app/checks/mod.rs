//! Whether the database still is what it must be. One function a check; `holdover check` runs
//! them all.

use sqlx::{Connection as _, SqliteConnection};

use crate::{Failure, standing};
use store::{Contents, Db, changes, schema};

mod alike;
mod evidence;
mod rules;
mod second_person;
mod standings;

pub use evidence::missing_files;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    pub check: &'static str,
    pub words: String,
}

/// What was looked at, and what is wrong.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Report {
    pub names: Vec<&'static str>,
    pub faults: Vec<Fault>,
    /// What is no fault and worth knowing.
    pub notes: Vec<String>,
}

impl Report {
    /// A check that broke off found damage: the rest is looked at all the same.
    fn take(&mut self, check: &'static str, found: Result<Vec<String>, impl Into<Failure>>) {
        self.names.push(check);
        let found = found.unwrap_or_else(|cause| vec![broke_off(&cause.into())]);
        self.faults.extend(found.into_iter().map(|words| Fault { check, words }));
    }
}

fn broke_off(failure: &Failure) -> String {
    let mut words = "could not be checked to its end".to_owned();
    let mut next = match failure {
        Failure::Internal(cause) => Some(cause as &(dyn std::error::Error + 'static)),
        other => return format!("{words}: {other}"),
    };
    while let Some(cause) = next {
        words = format!("{words}: {cause}");
        next = cause.source();
    }
    words
}

/// Entries of the change log read at once.
const AT_ONCE: i64 = 1_000;

/// Runs every check on one state of the database.
pub async fn run(db: &Db, progress: impl FnMut(usize, usize) + Send) -> Result<Report, Failure> {
    let contents = db.contents().clone();
    every(&mut db.apart().await?, &contents, true, progress).await
}

/// The same on a database that was opened to be looked at: one that this program has not opened to
/// write yet holds what older rules derived.
pub async fn run_on(
    db: &mut SqliteConnection,
    contents: &Contents,
    progress: impl FnMut(usize, usize) + Send,
) -> Result<Report, Failure> {
    let is_current = standing::is_current(db).await.unwrap_or(true);
    every(db, contents, is_current, progress).await
}

/// A new check is a function and a line here. `progress` is told how many tasks of all are derived
/// anew.
async fn every(
    db: &mut SqliteConnection,
    contents: &Contents,
    is_current: bool,
    progress: impl FnMut(usize, usize) + Send,
) -> Result<Report, Failure> {
    let mut report = Report::default();
    let mut db = db.begin().await?;
    report.take("integrity", schema::damage(&mut db).await);
    report.take("foreign keys", schema::dangling(&mut db).await);
    report.take("change log", chain(&mut db).await);
    report.take("register", rules::register(&mut db).await);
    report.take("versions", rules::versions(&mut db).await);
    report.take("tasks", rules::tasks(&mut db).await);
    if is_current {
        report.take("standing", standings::compared(&mut db, progress).await);
    } else {
        report.notes.push(
            "The states of the tasks were derived by an older program and are not compared; start the \
             service once, which derives it anew."
                .to_owned(),
        );
    }
    report.take("shares", rules::shares(&mut db).await);
    report.take("attempts", rules::attempts(&mut db).await);
    report.take("what is left", rules::what_is_left(&mut db).await);
    report.take("slots", rules::slots(&mut db).await);
    report.take("pencils", rules::pencils(&mut db).await);
    report.take("steps", rules::steps(&mut db).await);
    report.take("debriefs", rules::debriefs(&mut db).await);
    report.take("tool counts", rules::tool_counts(&mut db).await);
    report.take("second person", second_person::faults(&mut db).await);
    report.take("constraints", rules::prohibitions(&mut db).await);
    report.take("links", rules::links(&mut db).await);
    report.take("revisions", rules::revisions(&mut db).await);
    report.take("files", evidence::files(&mut db, contents).await);
    match alike::notes(&mut db).await {
        Ok(notes) => report.notes.extend(notes),
        Err(cause) => report.take("codes", Err(cause)),
    }
    Ok(report)
}

/// Each entry carries the hash of the one before it; one that was edited or removed shows.
async fn chain(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let mut faults = Vec::new();
    let (mut last, mut previous) = (0, vec![0; 32]);
    loop {
        let entries = changes::since(db, last, AT_ONCE).await?;
        if entries.is_empty() {
            return Ok(faults);
        }
        for entry in entries {
            if entry.seq != last + 1 {
                faults.push(format!("entry {} is followed by entry {}", last, entry.seq));
            }
            if entry.previous != previous {
                faults.push(format!("entry {} does not follow from the one before it", entry.seq));
            }
            if entry.hash != entry.worked_out_hash() {
                faults.push(format!("entry {} is not what it was when it was written", entry.seq));
            }
            last = entry.seq;
            previous = entry.hash;
        }
    }
}
