//! Whether the photographs and files that the record names are there, and are what they were.

use sqlx::SqliteConnection;

use crate::Failure;
use store::contents::{Contents, Harm};
use store::{StoreError, files};

/// Files looked at between two questions to the database.
const AT_ONCE: i64 = 200;

/// Every content that a row names, read whole and held against its hash.
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
                Some(Harm::Missing) => "is not there",
                Some(Harm::Changed) => "is not what it was when it came in",
            };
            faults.push(format!("the {} of {} {words}: files/{}", one.what, one.code, one.hash));
        }
    }
}
