//! What is of no use any more is removed by age: keys of forms, kept forms, ended sessions, used
//! links, practice runs of a day, tables that nobody imported, files that never came in whole.

use async_recursion::async_recursion as boxed;
use std::time::Duration;

use crate::{App, Failure, sessions::FORGOTTEN_AFTER};
use domain::bounds::{MAX_FORM_KEY_DAYS, MAX_HELD_MINUTES, MAX_PRACTICE_DAYS, MAX_UPLOAD_HOURS};
use domain::time::Moment;
use store::{StoreError, day, forms, imports, sessions};

const EVERY: Duration = Duration::from_hours(1);

/// Removes by age now and then every hour, until it is dropped. A failure is logged and tried again
/// an hour later: nothing that people do depends on it.
#[boxed]
pub async fn every_hour(app: App) {
    loop {
        if let Err(cause) = once(&app).await {
            tracing::warn!(%cause, "old entries could not be removed; tried again in an hour");
        }
        tokio::time::sleep(EVERY).await;
    }
}

/// Removes once what is older than its bound.
#[boxed]
pub async fn once(app: &App) -> Result<(), Failure> {
    let now = app.clock.now().0;
    let hour = 60 * 60_000;
    let mut tx = app.db.begin().await?;
    sessions::forget(&mut tx, Moment(now - FORGOTTEN_AFTER)).await?;
    sessions::forget_forms(&mut tx, Moment(now - MAX_HELD_MINUTES * 60_000)).await?;
    forms::forget(&mut tx, Moment(now - MAX_FORM_KEY_DAYS * 24 * hour)).await?;
    day::forget_runs(&mut tx, Moment(now - MAX_PRACTICE_DAYS * 24 * hour)).await?;
    imports::forget_uploads(&mut tx, Moment(now - MAX_UPLOAD_HOURS * hour)).await?;
    tx.commit().await?;
    let contents = app.db.contents().clone();
    let age = Duration::from_secs(MAX_UPLOAD_HOURS.unsigned_abs() * 3_600);
    let removed = tokio::task::spawn_blocking(move || contents.remove_unfinished(age)).await;
    removed
        .map_err(|cause| StoreError::Files(std::io::Error::other(cause)))?
        .map_err(StoreError::from)?;
    Ok(())
}
