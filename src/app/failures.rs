//! A finding with everything around it, read for its page.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::Failure;
use domain::attempts::Attempt;
use domain::excursions::Excursion;
use domain::files::File;
use domain::findings::{Cause, Finding, Remedy};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::tasks::Task;
use store::register::Registered;
use store::remedies::NotHeldSeen;
use store::{Kept, files, outside, register, remedies as remedy_rows};

/// No list of causes is longer.
const MAX_CAUSES: i64 = 20_000;

/// A finding, the attempts that it explains, its remedies and the words of its causes.
#[derive(Debug)]
pub struct WholeFinding {
    pub finding: Finding,
    pub registered: Registered,
    pub attempts: Vec<Attempt>,
    pub remedies: Vec<Remedy>,
    /// Failures that show one of them not to have held, the latest first.
    pub not_held: Vec<NotHeldSeen>,
    pub causes: Vec<Cause>,
}

/// What a report names and the loop does not keep: where it was, what was out there, the files.
#[derive(Debug, Default)]
pub struct Beside {
    pub tasks: Vec<Task>,
    pub excursions: Vec<Excursion>,
    pub items: Vec<OutsideItem>,
    pub files: Vec<File>,
}

#[boxed]
pub async fn beside(db: &mut SqliteConnection, around: &WholeFinding) -> Result<Beside, Failure> {
    let mut beside = Beside::default();
    let finding = around.finding.code.0.as_str();
    beside.files.extend(files::of_record(db, Kind::Finding, finding).await?);
    for attempt in &around.attempts {
        if !beside.tasks.iter().any(|task| task.code.0 == attempt.task) {
            beside.tasks.extend(Task::find(db, attempt.task.as_str()).await?);
        }
        if !beside.excursions.iter().any(|there| there.code.0 == attempt.excursion) {
            beside.excursions.extend(Excursion::find(db, attempt.excursion.as_str()).await?);
        }
        let code = attempt.code.0.as_str();
        beside.files.extend(files::of_record(db, Kind::Attempt, code).await?);
    }
    let names = |item: &OutsideItem| {
        around.attempts.iter().any(|attempt| {
            item.left_by.as_ref() == Some(&attempt.code.0)
                || attempt.outside_items.contains(&item.code.0)
        })
    };
    beside.items = outside::all(db).await?.into_iter().filter(names).collect();
    Ok(beside)
}

#[boxed]
pub async fn read(db: &mut SqliteConnection, code: &str) -> Result<WholeFinding, Failure> {
    let not_there = || Failure::NotFound(Kind::Finding, code.to_owned());
    let finding = Finding::find(db, code).await?.ok_or_else(not_there)?;
    let registered = register::find(db, Kind::Finding, code).await?.ok_or_else(not_there)?;
    let mut attempts = Vec::new();
    for attempt in finding.attempts.iter() {
        attempts.extend(Attempt::find(db, attempt.as_str()).await?);
    }
    let remedies = remedy_rows::of_finding(db, &finding.code.0).await?;
    let codes: Vec<_> = remedies.iter().map(|remedy| remedy.code.0.clone()).collect();
    let not_held = remedy_rows::not_held(db, Some(&codes), false, MAX_CAUSES).await?;
    let causes = Cause::after(db, "", MAX_CAUSES).await?;
    Ok(WholeFinding { finding, registered, attempts, remedies, not_held, causes })
}
