//! Every task derived, family by family: after a made-up record was written, and after the rules
//! of the derivation changed.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::calendar::Calendar;
use crate::constraints::gather;
use crate::sisters;
use crate::slots::withdraw_left_over;
use crate::standing::{MAX_TASKS_AT_ONCE, recompute};
use crate::{App, Failure};
use domain::codes::TaskCode;
use store::{standing, tasks, told};

/// Grows with every change to what is derived, so that what an older program stored is derived again.
const RULES: i64 = 5;

/// Derives every task where the stored copies stem from older rules.
#[boxed]
pub async fn renew(app: &App) -> Result<(), Failure> {
    if is_current(&mut *app.db.reader().await?).await? {
        return Ok(());
    }
    withdraw_left_over(app).await?;
    gather(app).await?;
    let all = derive_all(app, &mut |_, _| {}).await?;
    if all > 0 {
        tracing::info!(tasks = all, "how every task stands was derived again");
    }
    Ok(())
}

/// Whether what is stored was derived by the rules of this program.
#[boxed]
pub(crate) async fn is_current(db: &mut SqliteConnection) -> Result<bool, Failure> {
    Ok(told::rules(db).await? >= RULES)
}

/// Derives every task and stores how it stands; gives their number. `progress` is told how many of all
/// are done.
pub(crate) async fn derive_all(
    app: &App,
    progress: &mut (impl FnMut(usize, usize) + Send),
) -> Result<usize, Failure> {
    let mut tx = app.db.begin().await?;
    let calendar = Calendar::load(&mut tx).await?;
    let all = tasks::all_by_family(&mut tx).await?;
    for (done, batch) in all.chunks(MAX_TASKS_AT_ONCE).enumerate() {
        write(&mut tx, &calendar, batch).await?;
        tx.commit().await?;
        tx = app.db.begin().await?;
        progress(done * MAX_TASKS_AT_ONCE, all.len());
    }
    // What waits for another task reads how that one stands, so these are derived once more.
    let waiting: Vec<TaskCode> =
        tasks::all_needs(&mut tx).await?.into_iter().map(|(_, task, _)| task).collect();
    for batch in waiting.chunks(MAX_TASKS_AT_ONCE) {
        write(&mut tx, &calendar, batch).await?;
    }
    told::set_rules(&mut tx, RULES).await?;
    tx.commit().await?;
    Ok(all.len())
}

async fn write(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    batch: &[TaskCode],
) -> Result<(), Failure> {
    let (derived, dossier) = recompute(db, calendar.clone(), batch).await?;
    for task in derived {
        standing::put(db, &task.row).await?;
        standing::put_flights(db, &task.row.task, &task.flights).await?;
        standing::put_words(db, &task.words).await?;
        if !task.told.is_empty() {
            told::put(db, &task.told).await?;
        }
        told::put_not_held(db, &task.row.task, &task.not_held).await?;
    }
    // A family that goes on in the next batch is told anew with it.
    sisters::renew(db, &dossier, []).await
}
