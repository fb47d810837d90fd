//! What is overdue, and what waits for whom.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeMap;
use std::sync::Arc;

use sqlx::SqliteConnection;

use crate::four_eyes::Touches;
use crate::{Failure, Reader};
use domain::kinds::Kind;
use domain::time::Day;
use domain::waits::{
    FindingStands, RemedyStands, Step, Wait, Who, of_failure, of_finding, of_remedy, patience_ended,
};
use domain::words::{FlightState, RemedyState};
use store::remedies::{self as remedy_rows, NotHeldSeen};
use store::waits;

/// Of each kind so many are read; failures beyond are counted.
const MAX_READ: i64 = 2_000;

/// One step that waits, with the record that it belongs to.
#[derive(Debug, Clone)]
pub struct Waiting {
    pub kind: Kind,
    pub code: String,
    /// What happened, or what is changed.
    pub words: String,
    /// Where it is worked on: the finding of a remedy.
    pub at: Option<String>,
    /// What must not begin before it: a flight.
    pub by: Option<String>,
    pub wait: Wait,
}

/// How much waits for somebody.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Burden {
    pub who: Who,
    pub step: Step,
    pub count: i64,
    pub overdue: i64,
}

#[derive(Debug, Default)]
pub struct Board {
    /// What is overdue first, then by day.
    pub all: Vec<Waiting>,
    pub burdens: Vec<Burden>,
    /// Failures after a verified remedy that nothing answers yet.
    pub reopened: Vec<NotHeldSeen>,
}

impl Board {
    pub fn overdue(&self) -> i64 {
        self.burdens.iter().map(|burden| burden.overdue).sum()
    }

    pub fn count(&self) -> i64 {
        self.burdens.iter().map(|burden| burden.count).sum()
    }
}

/// Read once for all who read the same state of the record.
#[boxed]
pub async fn seen(db: &mut Reader, today: Day) -> Result<Arc<Board>, Failure> {
    let place = db.place(today.to_string());
    let board = place.get_or_try_init(|| async { read(db, today).await.map(Arc::new) });
    board.await.cloned()
}

async fn read(db: &mut SqliteConnection, today: Day) -> Result<Board, Failure> {
    let mut all = Vec::new();
    let findings = waits::findings(db, MAX_READ).await?;
    let to_review = findings.iter().filter(|row| !row.is_reviewed);
    let to_review: Vec<String> = to_review.map(|row| row.code.to_string()).collect();
    let touches = Touches::of(db, Kind::Finding, &to_review).await?;
    for row in findings {
        let stands = FindingStands {
            author: row.author,
            touched_by: touches.accounts(row.code.as_str()),
            written_on: row.written_on,
            is_reviewed: row.is_reviewed,
            reviewed_on: row.reviewed_on,
            has_remedy: row.has_remedy,
            failed_again_on: row.failed_again.then_some(row.failed_again_on),
        };
        all.extend(of_finding(&stands, today).map(|wait| Waiting {
            kind: Kind::Finding,
            code: row.code.to_string(),
            words: row.words.into_string(),
            at: None,
            by: None,
            wait,
        }));
    }
    let remedies = waits::remedies(db, MAX_READ).await?;
    let to_verify = remedies.iter().filter(|row| row.state == RemedyState::Done);
    let to_verify: Vec<String> = to_verify.map(|row| row.code.to_string()).collect();
    let touches = Touches::of(db, Kind::Remedy, &to_verify).await?;
    for row in remedies {
        let begun = matches!(row.flight, Some(FlightState::UnderWay | FlightState::Flown));
        let stands = RemedyStands {
            owner: row.owner,
            touched_by: touches.accounts(row.code.as_str()),
            state: row.state,
            flight_has_begun: begun,
            launch: row.launch,
        };
        all.extend(of_remedy(&stands, today).map(|wait| Waiting {
            kind: Kind::Remedy,
            code: row.code.to_string(),
            words: row.what.into_string(),
            at: row.finding.map(|finding| finding.to_string()),
            by: row.needed_by.map(|flight| flight.to_string()),
            wait,
        }));
    }
    let mut burdens = burdens(&all);
    let (count, overdue) = waits::count_failures(db, patience_ended(today)).await?;
    if count > 0 {
        burdens.push(Burden { who: Who::Anyone, step: Step::Explain, count, overdue });
    }
    burdens.sort_by(|a, b| (b.overdue, b.count, a.step).cmp(&(a.overdue, a.count, b.step)));
    all.extend(waits::failures(db, MAX_READ).await?.into_iter().map(|row| Waiting {
        kind: Kind::Attempt,
        code: row.code.to_string(),
        words: format!("Failed at {} on {}: {}", row.task, row.excursion, row.title),
        at: None,
        by: None,
        wait: of_failure(row.day, today),
    }));
    all.sort_by_key(|one| {
        (!one.wait.overdue, one.wait.due.is_none(), one.wait.due, one.wait.step, one.code.clone())
    });
    let reopened = remedy_rows::not_held(db, None, true, MAX_READ).await?;
    Ok(Board { all, burdens, reopened })
}

fn burdens(all: &[Waiting]) -> Vec<Burden> {
    let mut counted: BTreeMap<(&Who, Step), (i64, i64)> = BTreeMap::new();
    for one in all {
        let (count, overdue) = counted.entry((&one.wait.who, one.wait.step)).or_default();
        *count += 1;
        *overdue += i64::from(one.wait.overdue);
    }
    counted
        .into_iter()
        .map(|((who, step), (count, overdue))| Burden { who: who.clone(), step, count, overdue })
        .collect()
}
