//! What a period shows in figures.

use std::sync::Arc;

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::{Failure, Reader};
use domain::time::Day;
use domain::words::{DeferralReason, Outcome};
use store::statistics::{self, Period};

/// Below so many cases a figure says little.
pub const FEW: i64 = 10;

/// Counts of a period, and how open items stand now.
#[derive(Debug)]
pub struct Statistics {
    pub outcomes: Vec<(Outcome, i64)>,
    /// By the words of the cause.
    pub causes: Vec<(String, i64)>,
    pub deferrals: Vec<(DeferralReason, i64)>,
    /// Open items by the flights over which they were carried.
    pub carried: Vec<(i64, i64)>,
    /// The day on which each open item was opened.
    pub opened: Vec<Option<Day>>,
    /// Likely minutes beside actual ones, of each task that ended done.
    pub minutes: Vec<(i64, i64)>,
}

/// Read once for all who read the same state of the record.
#[boxed]
pub async fn seen(db: &mut Reader, period: Period) -> Result<Arc<Statistics>, Failure> {
    let place = db.place(format!("{period:?}"));
    let statistics = place.get_or_try_init(|| async { read(db, period).await.map(Arc::new) });
    statistics.await.cloned()
}

async fn read(db: &mut SqliteConnection, period: Period) -> Result<Statistics, Failure> {
    Ok(Statistics {
        outcomes: statistics::outcomes(db, period).await?,
        causes: statistics::causes(db, period).await?,
        deferrals: statistics::deferrals(db, period).await?,
        carried: statistics::carried(db).await?,
        opened: statistics::open_since(db).await?,
        minutes: statistics::minutes(db, period).await?,
    })
}
