//! A large table: worked out on a copy of the database while everybody else saves on, and then put
//! into the database in one short transaction. Where others changed what it rests on meanwhile, it
//! is worked out again on a copy of what they saved.

use std::sync::Arc;
use std::time::{Duration, Instant};

use super::{Far, Limits, Report, Table};
use crate::numbers::{self, Range};
use crate::work::{FormKey, Work};
use crate::{Actor, App, Failure};
use store::StoreError;
use store::copy::Closed;
use store::staging::{Put, Staging};

/// So often it is worked out before the person is told that others were in between every time.
const MAX_TRIES: usize = 3;

/// What came of one try.
enum Tried {
    Ended(Box<Report>),
    /// Others changed this in between.
    Changed(String),
}

/// Imports the table, or says what is wrong with it.
pub(super) async fn import(
    table: &Table<'_>,
    app: &App,
    (actor, key): (&Actor, Option<&FormKey>),
    opening: Report,
    limits: &Limits,
    told: &mut (impl FnMut(Far) + Send),
) -> Result<Report, Failure> {
    let kind = table.request.kind;
    let numbers = if table.heads.head("code", &table.file.survey.heads).is_none() {
        Some(numbers::keep(app, kind, opening.rows).await?)
    } else {
        None
    };
    let mut in_between = String::new();
    for _ in 0..MAX_TRIES {
        let worked_out = WorkedOut::new(table, app, actor, &opening, numbers.as_ref(), told);
        let worked_out = match worked_out.await? {
            Ok(worked_out) => worked_out,
            Err(report) => return Ok(report),
        };
        match worked_out.put_in(table, app, (actor, key), limits, told).await? {
            Tried::Ended(report) => return Ok(*report),
            Tried::Changed(what) => in_between = what,
        }
    }
    Err(Failure::Refused(format!(
        "Others saved what this table rests on while it was checked, {MAX_TRIES} times in a row, \
         the last time {in_between}. Nothing was imported. Import it again."
    )))
}

/// A good table, worked out on a copy on which nobody works any more.
struct WorkedOut {
    copy: Closed,
    staging: Staging,
    report: Report,
}

impl WorkedOut {
    /// Works it out; gives the report alone where the table is not good.
    async fn new(
        table: &Table<'_>,
        app: &App,
        actor: &Actor,
        opening: &Report,
        numbers: Option<&Arc<Range>>,
        told: &mut (impl FnMut(Far) + Send),
    ) -> Result<Result<Self, Report>, Failure> {
        let copy = app.db.copied().await?;
        let mut report = opening.clone();
        let gone = async {
            let mut tx = copy.db.begin().await?;
            let staging = Staging::begin(&mut tx).await?;
            tx.commit().await.map_err(StoreError::from)?;
            let mut work = Work::begin(&app.aside(&copy.db), actor, None).await?;
            work.own_numbers = numbers.cloned();
            let mut told = |far: Far| told(Far { is_look: true, ..far });
            let work = table.gone_through(work, &mut report, &mut told).await?;
            if !report.is_good(&table.request.options) {
                return Ok(None);
            }
            work.finish_aside().await?;
            Ok::<_, Failure>(Some(staging))
        };
        let gone = gone.await;
        let copy = copy.close().await;
        match gone {
            Ok(Some(staging)) => Ok(Ok(Self { copy, staging, report })),
            Ok(None) => {
                copy.discard();
                Ok(Err(report))
            }
            Err(failure) => {
                copy.discard();
                Err(failure)
            }
        }
    }

    /// Puts it into the database, all of it or nothing, and removes the copy.
    async fn put_in(
        self,
        table: &Table<'_>,
        app: &App,
        by: (&Actor, Option<&FormKey>),
        limits: &Limits,
        told: &mut (impl FnMut(Far) + Send),
    ) -> Result<Tried, Failure> {
        let Self { copy, staging, report } = self;
        let tried = match app.db.attach(&copy).await {
            Ok(attached) => {
                let tried = saved(&staging, table, app, by, (report, limits), told).await;
                attached.detach().await?;
                tried
            }
            Err(cause) => Err(cause.into()),
        };
        copy.discard();
        tried
    }
}

/// Saves what stands beside the database.
async fn saved(
    staging: &Staging,
    table: &Table<'_>,
    app: &App,
    (actor, key): (&Actor, Option<&FormKey>),
    (mut report, limits): (Report, &Limits),
    told: &mut (impl FnMut(Far) + Send),
) -> Result<Tried, Failure> {
    table.stop.asked()?;
    let mut work = Work::begin(app, actor, key).await?;
    work.trace.concerns(table.request.kind, "");
    let begun = Instant::now();
    let rows = report.rows;
    let put = work
        .take(staging, |through, of| {
            told(Far { is_look: false, through: part_of(rows, through, of), rows });
            limits.holds_up.is_none_or(|longest| begun.elapsed() < longest)
        })
        .await?;
    match put {
        Put::In { .. } => {
            work.finish(format!("/{}", table.request.kind.plural())).await?;
            report.committed = true;
            Ok(Tried::Ended(Box::new(report)))
        }
        Put::Changed(what) => Ok(Tried::Changed(what)),
        Put::Stopped { rows: through, of } => {
            let longest = limits.holds_up.unwrap_or_default();
            Err(Failure::Refused(too_long(part_of(rows, through, of), longest)))
        }
    }
}

/// As many of the table's rows as so many of all the rows that were touched for them.
fn part_of(rows: u64, through: i64, of: i64) -> u64 {
    let (through, of) = (through.unsigned_abs(), of.unsigned_abs().max(1));
    u64::try_from(u128::from(rows) * u128::from(through) / u128::from(of)).unwrap_or(rows)
}

/// Why a table is not saved of which only so many rows were in after the longest time.
fn too_long(rows: u64, longest: Duration) -> String {
    // Whole hundreds, so that nobody counts to the last row.
    let rows = if rows < 100 { rows.max(1) } else { rows / 100 * 100 };
    format!(
        "Saving this table would hold up everybody else who saves for more than {} s. Nothing was \
         imported. Split it into tables of at most {rows} rows.",
        longest.as_secs()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_that_would_hold_others_up_too_long_is_refused_with_how_many_rows_may_come() {
        let words = too_long(part_of(20_000, 70_000, 160_000), Duration::from_secs(10));
        assert!(words.contains("for more than 10 s"), "{words}");
        assert!(words.contains("at most 8700 rows"), "{words}");
        // A table of few rows with long lists may be cut anywhere.
        let words = too_long(part_of(500, 1, 5_000), Duration::from_secs(10));
        assert!(words.contains("at most 1 rows"), "{words}");
    }
}
