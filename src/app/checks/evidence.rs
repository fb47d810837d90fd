//! Whether the photographs and files that the record names are there, and are what they were.

use async_recursion::async_recursion as boxed;
use std::time::{Duration, Instant};

use sqlx::SqliteConnection;

use crate::Failure;
use store::contents::{ContentFault, Contents};
use store::{Db, StoreError, files};

/// Files looked at between two questions to the database.
const AT_ONCE: i64 = 200;

/// Every content that a row names, read whole and held against its hash.
#[boxed]
pub(super) async fn files(
    db: &mut SqliteConnection,
    contents: &Contents,
) -> Result<Vec<String>, Failure> {
    let mut faults = Vec::new();
    let mut last = String::new();
    loop {
        let named = files::named(db, &last, AT_ONCE).await?;
        let Some(end) = named.last() else { return Ok(faults) };
        last.clone_from(&end.code);
        let contents = contents.clone();
        let judged = tokio::task::spawn_blocking(move || {
            let judge = |one: files::Named| Ok((contents.judge(&one.hash)?, one));
            named.into_iter().map(judge).collect::<std::io::Result<Vec<_>>>()
        });
        let judged = judged.await.map_err(std::io::Error::other).map_err(StoreError::from)?;
        for (harm, one) in judged.map_err(StoreError::from)? {
            let words = match harm {
                None => continue,
                Some(ContentFault::Missing) => "is missing",
                Some(ContentFault::Changed) => "was changed after it was added",
            };
            faults.push(format!("the {} of {} {words}: files/{}", one.what, one.code, one.hash));
        }
    }
}

/// Contents that are missing or cut short, as far as one comes in `patience` without reading them.
#[boxed]
pub async fn missing_files(db: &Db, patience: Duration) -> Result<Vec<String>, Failure> {
    let until = Instant::now() + patience;
    let (mut faults, mut last) = (Vec::new(), String::new());
    while Instant::now() < until {
        let named = files::named(&mut *db.reader().await?, &last, AT_ONCE).await?;
        let Some(end) = named.last() else { break };
        last.clone_from(&end.code);
        let contents = db.contents().clone();
        let judge = move |one: files::Named| {
            let words = match (contents.length(&one.hash), one.bytes) {
                (None, _) => "is missing",
                (Some(there), Some(once)) if i64::try_from(there) != Ok(once) => {
                    "is shorter or longer than when it was added"
                }
                _ => return None,
            };
            Some(format!("the {} of {} {words}: files/{}", one.what, one.code, one.hash))
        };
        let found = tokio::task::spawn_blocking(move || {
            named.into_iter().filter_map(judge).collect::<Vec<_>>()
        });
        faults.extend(found.await.map_err(std::io::Error::other).map_err(StoreError::from)?);
    }
    Ok(faults)
}
