//! Imports that go on while their person looks at how far they are: one for each person, held in
//! memory. What was not committed when the service stops was not taken.

use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::watch;

use crate::import::{self, Far, Given, Limits, Options, Report, Request, Upload};
use crate::work::FormKey;
use crate::{Actor, App, Failure};
use domain::bounds::{MAX_TABLE_SECONDS, MAX_TABLES_AT_ONCE};
use store::StoreError;

/// Seconds after which a table that found no room may find some.
const TRY_AGAIN: i64 = 30;

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
    is_look: AtomicBool,
    limits: Limits,
    outcome: Mutex<Option<Result<Report, Failure>>>,
    ended: watch::Sender<bool>,
}

impl Run {
    /// How far it is; no rows at all while the file is still being read.
    pub fn far(&self) -> Far {
        Far {
            is_look: self.is_look.load(Ordering::Relaxed),
            through: self.through.load(Ordering::Relaxed),
            rows: self.rows.load(Ordering::Relaxed),
        }
    }

    /// Tells it to end, with nothing taken. One that is being saved already goes on to its end.
    pub fn stop(&self) {
        self.limits.stop.now();
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
    let kind = table.kind;
    let run = Arc::new(Run {
        upload: code,
        options,
        rows: AtomicU64::default(),
        through: AtomicU64::default(),
        is_look: AtomicBool::new(true),
        limits: Limits {
            holds_up: Some(Duration::from_secs(MAX_TABLE_SECONDS)),
            ..Limits::default()
        },
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
        if runs.values().filter(|other| !*other.ended.borrow()).count() >= MAX_TABLES_AT_ONCE {
            return Err(Failure::Busy(
                format!(
                    "{MAX_TABLES_AT_ONCE} tables are being read, as many as are read at once; try \
                     again in {TRY_AGAIN} seconds."
                ),
                TRY_AGAIN,
            ));
        }
        runs.insert(actor.name.clone(), Arc::clone(&run));
    }
    let (app, actor, under_way) = (app.clone(), actor.clone(), Arc::clone(&run));
    let work = {
        let run = Arc::clone(&run);
        async move {
            let options = run.options.clone();
            let table = Given::File(table.path);
            let request = Request { kind, table, options };
            let told = |far: Far| {
                run.rows.store(far.rows, Ordering::Relaxed);
                run.through.store(far.through, Ordering::Relaxed);
                run.is_look.store(far.is_look, Ordering::Relaxed);
            };
            if run.options.dry_run {
                return previewed(&app, &actor, &request, &run, told).await;
            }
            Box::pin(import::run_within(&app, &actor, &request, key.as_ref(), &run.limits, told))
                .await
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

/// What would come of a table, kept for as long as the record stays as it is.
async fn previewed(
    app: &App,
    actor: &Actor,
    request: &Request<'_>,
    run: &Run,
    told: impl FnMut(Far) + Send,
) -> Result<Report, Failure> {
    let today = app.clock.now().day();
    let Request { kind, options, .. } = request;
    let name = format!("{} {kind} {options:?} {today} {actor:?}", run.upload);
    let place = app.reader().await?.place::<Report>(name);
    let report = place.get_or_try_init(|| async {
        Box::pin(import::run_within(app, actor, request, None, &run.limits, told))
            .await
            .map(Arc::new)
    });
    report.await.map(|report| Report::clone(report))
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
