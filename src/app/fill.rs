//! Fills an empty record with a made-up one of any size, for measuring. It writes what the
//! operations would have written, many rows at once, and derives how the tasks stand at the end.

use sqlx::SqliteConnection;

use crate::kinds;
use crate::standing::derive_all;
use crate::{App, Failure};
use domain::cells::{Cell as _, Cells};
use domain::codes::FlightCode;
use domain::kinds::Kind;
use domain::time::{Day, Moment};
use load::{Load, Row};
use store::bulk::{self, NewRecord, NewStep};
use store::changes::Change;
use store::{StoreError, flights, schema};

/// Rows that are entered in the register and the log together.
const AT_ONCE: usize = 2_000;
/// Rows of one transaction.
const ONE_COMMIT: usize = 40_000;
/// Who the log says it was.
const WHO: &str = "load";

/// What was done, and how much there is to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// So many tasks of all are written with all that happened to them.
    Written(usize, usize),
    /// So many tasks of all are derived.
    Derived(usize, usize),
}

/// Fills the record; gives the number of records written.
pub async fn fill(
    app: &App,
    load: &Load,
    mut progress: impl FnMut(Step) + Send,
) -> Result<u64, Failure> {
    if !schema::is_empty(&mut *app.db.reader().await?).await? {
        return Err(Failure::Refused(
            "There is a record here already; name an empty data directory.".to_owned(),
        ));
    }
    let mut filler =
        Filler { at: app.clock.now(), written: 0, last: None, waiting: Waiting::default() };
    let mut tx = app.db.begin().await?;
    for row in load.ground() {
        filler.take(&mut tx, row).await?;
    }
    for number in 0..load.tasks() {
        for row in load.task(number) {
            filler.take(&mut tx, row).await?;
        }
        if filler.waiting.since_commit >= ONE_COMMIT {
            filler.flush(&mut tx).await?;
            tx.commit().await?;
            tx = app.db.begin().await?;
            filler.waiting.since_commit = 0;
            progress(Step::Written(number, load.tasks()));
        }
    }
    for row in load.links() {
        filler.take(&mut tx, row).await?;
    }
    filler.flush(&mut tx).await?;
    let all: Vec<FlightCode> =
        flights::in_order(&mut tx).await?.into_iter().map(|flight| flight.code).collect();
    for flight in all {
        flights::save_order_day(&mut tx, &flight).await?;
    }
    bulk::close_debriefs(&mut tx, filler.at).await?;
    tx.commit().await?;
    derive_all(app, &mut |done, all| progress(Step::Derived(done, all))).await?;
    bulk::count_rows(&mut *app.db.begin().await?).await?;
    Ok(filler.written)
}

/// What is written as rows and waits for its register, log and steps.
#[derive(Default)]
struct Waiting {
    records: Vec<NewRecord>,
    said: Vec<Option<String>>,
    steps: Vec<NewStep>,
    since_commit: usize,
}

struct Filler {
    at: Moment,
    written: u64,
    /// Number and hash of the last entry of the log.
    last: Option<(i64, Vec<u8>)>,
    waiting: Waiting,
}

impl Filler {
    async fn take(&mut self, db: &mut SqliteConnection, (kind, cells): Row) -> Result<(), Failure> {
        let laid = kinds::lay(db, kind, &cells).await.map_err(|failure| named(&cells, failure))?;
        if kind == Kind::Slot {
            self.waiting.steps.extend(steps(&laid.code, &cells, self.at));
        }
        self.waiting.records.push(NewRecord {
            kind,
            code: laid.code,
            title: laid.title,
            words: laid.words,
        });
        self.waiting.said.push(laid.said);
        self.waiting.since_commit += 1;
        self.written += 1;
        if self.waiting.records.len() >= AT_ONCE { self.flush(db).await } else { Ok(()) }
    }

    async fn flush(&mut self, db: &mut SqliteConnection) -> Result<(), Failure> {
        let records = std::mem::take(&mut self.waiting.records);
        let said = std::mem::take(&mut self.waiting.said);
        let mut changes = Vec::with_capacity(records.len());
        for (record, after) in records.iter().zip(said) {
            let (seq, previous) = self.last.take().unwrap_or((0, vec![0; 32]));
            let mut change = Change {
                seq: seq + 1,
                at: self.at,
                who: WHO.to_owned(),
                kind: record.kind,
                code: record.code.clone(),
                action: "made".to_owned(),
                before: None,
                after,
                why: None,
                previous,
                hash: Vec::new(),
            };
            change.hash = change.worked_out_hash();
            self.last = Some((change.seq, change.hash.clone()));
            changes.push(change);
        }
        bulk::enter(db, &records, WHO, self.at).await?;
        bulk::append(db, &changes).await?;
        bulk::add_steps(db, &std::mem::take(&mut self.waiting.steps), WHO).await?;
        Ok(())
    }
}

/// A slot that was set went through that step on the way to where it is.
fn steps(slot: &str, cells: &Cells, at: Moment) -> Vec<NewStep> {
    let set_on = Day::read(cells.get("set_on")).ok().map(Moment::of_day);
    let step = |ordinal, state, at| NewStep { slot: slot.to_owned(), ordinal, state, at };
    match (cells.get("state"), set_on) {
        ("flown", Some(set)) => vec![step(1, "set", set), step(2, "flown", set)],
        ("set", Some(set)) => vec![step(1, "set", set)],
        _ => vec![step(1, "pencilled", at)],
    }
}

fn named(cells: &Cells, failure: Failure) -> Failure {
    let why = format!("{}: {failure}", cells.get("code"));
    match failure {
        Failure::Internal(cause) => Failure::Internal(cause),
        _ => Failure::Internal(StoreError::Corrupt { table: "load", why }),
    }
}
