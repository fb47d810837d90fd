//! Whether the database still is what it must be. One function a check; `holdover check` runs
//! them all.

use crate::app::{App, Failure};
use crate::store::{changes, schema};

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
}

impl Report {
    fn take(&mut self, check: &'static str, found: Vec<String>) {
        self.names.push(check);
        self.faults.extend(found.into_iter().map(|words| Fault { check, words }));
    }
}

/// Entries of the change log read at once.
const AT_ONCE: i64 = 1_000;

/// Runs every check. A new one is a function below and a line here.
pub async fn run(app: &App) -> Result<Report, Failure> {
    let mut report = Report::default();
    let mut db = app.db.reader().await?;
    report.take("integrity", schema::damage(&mut db).await?);
    report.take("foreign keys", schema::dangling(&mut db).await?);
    drop(db);
    report.take("change log", change_log(app).await?);
    Ok(report)
}

/// Each entry carries the hash of the one before it; one that was edited or removed shows.
pub async fn change_log(app: &App) -> Result<Vec<String>, Failure> {
    let mut db = app.db.reader().await?;
    let mut faults = Vec::new();
    let (mut last, mut previous) = (0, vec![0; 32]);
    loop {
        let entries = changes::since(&mut db, last, AT_ONCE).await?;
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
