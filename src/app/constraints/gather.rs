//! Constraints of a record that is older than they are: each attempt that forbids something leaves
//! one behind.

use crate::work::Work;
use crate::{Actor, App, Failure};
use async_recursion::async_recursion as boxed;
use domain::attempts::Attempt;
use domain::words::Role;
use store::{Kept, constraints};

#[boxed]
pub(crate) async fn gather(app: &App) -> Result<(), Failure> {
    let without = constraints::attempts_without(&mut *app.db.reader().await?).await?;
    if without.is_empty() {
        return Ok(());
    }
    let actor = Actor { name: "holdover".to_owned(), role: Role::Lead };
    let mut work = Work::begin(app, &actor, None).await?;
    work.because("read from what the attempts left behind");
    for code in &without {
        if let Some(attempt) = Attempt::find(work.db(), code.as_str()).await? {
            super::follow(&mut work, None, &attempt).await?;
        }
    }
    work.finish("").await?;
    tracing::info!(attempts = without.len(), "constraints were read from attempts");
    Ok(())
}
