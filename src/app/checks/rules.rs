//! The rules that hold across rows, each broken one in a sentence with the codes concerned.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::Failure;
use domain::order_of_work::{Tie, cycle, ring_in_words};
use store::invariants::{self, MAX_NAMED};
use store::standing;

/// Every record has its entry in the register, and every entry its record.
#[boxed]
pub(super) async fn register(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let lost = invariants::records_unregistered(db).await?;
    let ghosts = invariants::entries_without_record(db).await?;
    let mut faults: Vec<String> = lost
        .into_iter()
        .map(|one| format!("{} {} is not in the register", one.kind, one.code))
        .collect();
    faults.extend(
        ghosts
            .into_iter()
            .map(|one| format!("the register names {} {}, which is not there", one.kind, one.code)),
    );
    Ok(capped(faults))
}

/// The log saw every record as often as it was written.
#[boxed]
pub(super) async fn versions(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::versions_unlogged(db).await?;
    Ok(capped(found.into_iter().map(|one| {
        let (kind, code, version, logged) = (one.kind, one.code, one.version, one.logged);
        format!("{kind} {code} has version {version}, and the change log knows of {logged}")
    })))
}

/// Each task has how it stands and its words for the search.
#[boxed]
pub(super) async fn tasks(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::tasks_unpaired(db).await?;
    Ok(capped(found.into_iter().map(|one| format!("task {} lacks {}", one.code, one.lacks))))
}

/// The set shares of a task never exceed the share left.
#[boxed]
pub(super) async fn shares(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::set_beyond_the_rest(db).await?;
    Ok(capped(found.into_iter().map(|one| {
        let (task, left, set, slots) = (one.task, one.share_left, one.set, one.slots);
        format!("{task} has {left} % left, and its set slots plan {set} % or more: {slots}")
    })))
}

/// No attempt is what `domain::plausible` refuses.
#[boxed]
pub(super) async fn attempts(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::impossible_attempts(db).await?;
    Ok(capped(found.into_iter().map(|one| format!("{} {}", one.attempt, one.why))))
}

/// Only `done` or a closure ends a task: no attempt leaves nothing without being done.
#[boxed]
pub(super) async fn what_is_left(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = standing::left_unknown(db, MAX_NAMED).await?;
    Ok(capped(found.into_iter().map(|one| {
        let (task, attempt, excursion) = (one.task, one.attempt, one.excursion);
        format!(
            "{task} is not done, and {attempt} on {excursion} leaves 0 %; correct \
             {attempt}: enter the % left, or record it as done"
        )
    })))
}

/// A flown slot stands only on a flown excursion.
#[boxed]
pub(super) async fn slots(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::flown_elsewhere(db).await?;
    Ok(capped(found.into_iter().map(|one| {
        let (slot, task, excursion) = (one.slot, one.task, one.excursion);
        format!("{slot} ({task}) is flown, and {excursion} is {}", one.there)
    })))
}

/// No pencil is left on an excursion that is closed or was called off.
#[boxed]
pub(super) async fn pencils(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::pencils_left(db).await?;
    Ok(capped(found.into_iter().map(|one| {
        let (slot, task, excursion) = (one.slot, one.task, one.excursion);
        format!("{slot} ({task}) is pencilled, and {excursion} is {}", one.there)
    })))
}

/// The last dated step of a slot says its state.
#[boxed]
pub(super) async fn steps(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::slots_out_of_step(db).await?;
    Ok(capped(found.into_iter().map(|one| match one.last {
        Some(last) => format!("{} is {}, and its last step says {last}", one.slot, one.state),
        None => format!("{} is {}, and no step says since when", one.slot, one.state),
    })))
}

/// No set slot on a closed excursion owes a result, and none stands on one that was called off.
#[boxed]
pub(super) async fn debriefs(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::results_owing(db).await?;
    Ok(capped(found.into_iter().map(|one| {
        let (slot, task, excursion) = (one.slot, one.task, one.excursion);
        format!("{slot} ({task}) is set and has no result, and {excursion} is {}", one.there)
    })))
}

/// On a closed excursion each tool is accounted for: out = in + left outside + lost, or why not.
#[boxed]
pub(super) async fn tool_counts(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::tools_unaccounted(db).await?;
    Ok(capped(found.into_iter().map(|one| {
        let (tool, code, excursion) = (one.tool, one.code, one.excursion);
        format!(
            "{tool} ({code}): {} went out on {excursion}, which is closed; {} are accounted for, \
             and the reason is not recorded",
            one.taken_out, one.accounted
        )
    })))
}

/// A cleared change of the work resolves the failures that it names.
#[boxed]
pub(super) async fn revisions(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = invariants::cleared_in_vain(db).await?;
    Ok(capped(found.into_iter().map(|code| {
        format!("{code} is cleared as a change of the work without a verified remedy")
    })))
}

/// What an attempt forbids stands in a constraint that its own end does not end.
#[boxed]
pub(super) async fn prohibitions(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let found = store::constraints::attempts_without(db).await?;
    let named = found.into_iter().take(usize::try_from(MAX_NAMED).unwrap_or(usize::MAX));
    Ok(capped(named.map(|code| {
        format!("{code} forbids the vehicle something, and no constraint stands for it")
    })))
}

/// No tasks come after each other in a ring.
#[boxed]
pub(super) async fn links(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let ties: Vec<Tie> = store::tasks::every_link(db).await?.iter().map(Tie::from).collect();
    let ring = cycle(&ties).map(|ring| ring_in_words(&ring, &ties));
    Ok(ring.into_iter().map(|ring| format!("each would come after the next: {ring}")).collect())
}

/// Says that there may be more where a list was cut off.
pub(super) fn capped(found: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut faults: Vec<String> = found.into_iter().collect();
    if faults.len() >= usize::try_from(MAX_NAMED).unwrap_or(usize::MAX) {
        faults.push("and perhaps more; correct these and check again".to_owned());
    }
    faults
}
