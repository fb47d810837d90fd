//! Codes that could be taken for one another. New ones are refused; older ones stay, and are told.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeSet;

use sqlx::SqliteConnection;

use crate::Failure;
use store::register;

/// So many pairs are named.
const NAMED: i64 = 100;
/// Codes looked at between two questions to the database.
const AT_ONCE: i64 = 1_000;

#[boxed]
pub(super) async fn notes(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let mut pairs: BTreeSet<_> = register::look_alikes(db, NAMED).await?.into_iter().collect();
    let mut after = 0;
    loop {
        let batch = register::beyond_ascii(db, after, AT_ONCE).await?;
        let Some((last, ..)) = batch.last() else { break };
        after = *last;
        for (_, kind, code) in batch {
            if let Some(other) = register::alike(db, kind, &code, None).await? {
                let (one, other) = if code < other { (code, other) } else { (other, code) };
                pairs.insert((kind, one, other));
            }
        }
    }
    let told = pairs.into_iter().map(|(kind, one, other)| {
        format!("{kind} {one} and {kind} {other} could be taken for one another; rename one.")
    });
    Ok(told.collect())
}
