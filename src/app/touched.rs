//! Which tasks a record concerns: those whose standing has to be derived again when it is made,
//! changed, moved to another task or taken back.

use crate::Failure;
use crate::records::Ruled;
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::codes::{AttemptCode, TaskCode};
use domain::kinds::Kind;
use store::reach;

/// Marks the tasks of one record as it is stored. The one way to save calls it for the record as
/// it was, before that is overwritten, and for the record as it is now; so a kind cannot forget the
/// task that it left. What a column names is found by the column; the rest says `Ruled::reach`.
pub(crate) async fn by<R: Ruled>(work: &mut Work, record: &R) -> Result<(), Failure> {
    let cells = record.cells();
    let named = |kind: Kind| {
        R::COLUMNS
            .iter()
            .filter(move |column| column.input.names() == Some(kind))
            .flat_map(|column| cells.get(column.name).split(", "))
            .filter(|code| !code.is_empty())
    };
    for code in named(Kind::Task) {
        work.touch(&TaskCode::from(code));
    }
    let attempts: Vec<AttemptCode> = named(Kind::Attempt).map(AttemptCode::from).collect();
    if !attempts.is_empty() {
        let tasks = reach::tasks_of_attempts(work.db(), &attempts).await?;
        all(work, tasks);
    }
    R::reach(work, record).await
}

/// Marks a task with its sisters: what one unit learnt concerns the whole family. An operation looks
/// a family up once until it derives; a sister that comes to count meanwhile is marked by what makes
/// it count.
#[boxed]
pub(crate) async fn family(work: &mut Work, task: &TaskCode) -> Result<(), Failure> {
    work.touch(task);
    let Some(family) = reach::family_of(work.db(), task).await? else { return Ok(()) };
    if work.touched_families.insert(family.clone()) {
        let sisters = reach::sisters(work.db(), &family).await?;
        all(work, sisters);
    }
    Ok(())
}

/// Marks these tasks.
pub(crate) fn all(work: &mut Work, tasks: impl IntoIterator<Item = TaskCode>) {
    for task in tasks {
        work.touch(&task);
    }
}
