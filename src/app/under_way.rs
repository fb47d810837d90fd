//! Imports that go on while their person looks at how far they are: one for each person, held in
//! memory. What was not committed when the service stops was not taken.

use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::watch;

use crate::import::{self, Options, Report, Upload};
use crate::work::FormKey;
use crate::{Actor, App, Failure};
use store::StoreError;

/// The runs of all who are signed in.
#[derive(Debug, Default)]
pub(crate) struct Runs(Mutex<HashMap<String, Arc<Run>>>);

/// One import, under way or ended.
#[derive(Debug)]
pub struct Run {
    /// The table that is taken in.
    pub upload: String,
    pub options: Options,
    rows: AtomicU64,
    through: AtomicU64,
    outcome: Mutex<Option<Result<Report, Failure>>>,
    ended: watch::Sender<bool>,
}

impl Run {
    /// Rows that are through, and all rows; both nothing while the file is still being read.
    pub fn progress(&self) -> (u64, u64) {
        (self.through.load(Ordering::Relaxed), self.rows.load(Ordering::Relaxed))
    }

    /// Waits for the end, but not longer than `most`.
    pub async fn ends_within(&self, most: Duration) -> bool {
        let mut ended = self.ended.subscribe();
        tokio::time::timeout(most, ended.wait_for(|ended| *ended)).await.is_ok()
    }

    fn end(&self, outcome: Result<Report, Failure>) {
        *self.outcome.lock().unwrap_or_else(PoisonError::into_inner) = Some(outcome);
        self.ended.send_replace(true);
    }
}

/// Starts an import and gives it back at once.
pub fn start(
    app: &App,
    actor: &Actor,
    upload: (String, Upload),
    options: Options,
    key: Option<FormKey>,
) -> Result<Arc<Run>, Failure> {
    let (code, table) = upload;
    let run = Arc::new(Run {
        upload: code,
        options,
        rows: AtomicU64::default(),
        through: AtomicU64::default(),
        outcome: Mutex::default(),
        ended: watch::Sender::new(false),
    });
    {
        let mut runs = app.runs.0.lock().unwrap_or_else(PoisonError::into_inner);
        if runs.get(&actor.name).is_some_and(|other| !*other.ended.borrow()) {
            return Err(Failure::Refused(
                "A table of yours is being read already; wait until it is through.".to_owned(),
            ));
        }
        runs.insert(actor.name.clone(), Arc::clone(&run));
    }
    let (app, actor, under_way) = (app.clone(), actor.clone(), Arc::clone(&run));
    let work = {
        let run = Arc::clone(&run);
        async move {
            let options = run.options.clone();
            let request = import::Request { kind: table.kind, bytes: &table.bytes, options };
            let told = |through, rows| {
                run.rows.store(rows, Ordering::Relaxed);
                run.through.store(through, Ordering::Relaxed);
            };
            import::run(&app, &actor, &request, key.as_ref(), told).await
        }
    };
    tokio::spawn(async move {
        let outcome = tokio::spawn(work).await.unwrap_or_else(|cause| {
            Err(StoreError::Unusable(format!("an import broke off: {cause}")).into())
        });
        under_way.end(outcome);
    });
    Ok(run)
}

/// This person's run of that table, under way or ended.
pub fn find(app: &App, actor: &Actor, upload: &str) -> Option<Arc<Run>> {
    let runs = app.runs.0.lock().unwrap_or_else(PoisonError::into_inner);
    runs.get(&actor.name).filter(|run| run.upload == upload).cloned()
}

/// What came of this person's run; told once.
pub fn outcome(app: &App, actor: &Actor, run: &Run) -> Option<Result<Report, Failure>> {
    let outcome = run.outcome.lock().unwrap_or_else(PoisonError::into_inner).take()?;
    app.runs.0.lock().unwrap_or_else(PoisonError::into_inner).remove(&actor.name);
    Some(outcome)
}
