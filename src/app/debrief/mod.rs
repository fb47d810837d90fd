//! The debrief: all results of one flown excursion, saved as they are typed, closed when nothing
//! is missing. What did not end `done` is back in the backlog in the same transaction.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, BTreeSet};

use sqlx::SqliteConnection;

use crate::Failure;
use crate::constraints::{self, InForce};
use crate::day::BoardTimes;
use crate::excursions::allowed;
use crate::slots::withdraw_pencils;
use crate::touched;
use crate::work::Work;
use domain::codes::{ExcursionCode, TaskCode, ToolCode};
use domain::debrief::{Missing, SetSlot, missing};
use domain::excursions::{Excursion, ExcursionTool};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::roles::Action;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::time::Moment;
use domain::words::{ExcursionState, Outcome, SlotState};
use store::{Kept, day, excursions, outside, reach, register, slots, tasks};

mod results;
mod rows;

pub use results::{RowSaved, TypedRow, drop_draft, save_rows, take_back};
pub use rows::{DEFERRED, DebriefRow, FIELDS, look_at_what_is_left, stamp};

/// Everything about the results of one excursion.
#[derive(Debug, Clone)]
pub struct Debrief {
    pub excursion: Excursion,
    pub version: i64,
    pub closed_at: Option<Moment>,
    pub rows: Vec<DebriefRow>,
    /// When the crew went out and was inside, as pressed on the board of the day. It fills the
    /// fields of the excursion, and is saved by a person.
    pub board: BoardTimes,
    pub tools: Vec<ExcursionTool>,
    /// The tools that were to be taken and that nobody counted yet.
    pub uncounted: Vec<ToolCode>,
    pub left_outside: Vec<OutsideItem>,
    pub missing: Vec<Missing>,
    /// The tasks that closing returns to the backlog.
    pub returns: Vec<TaskCode>,
    /// The pencils that closing withdraws.
    pub pencils: Vec<Slot>,
}

/// Reads the debrief of an excursion.
#[boxed]
pub async fn read(db: &mut SqliteConnection, code: &str) -> Result<Debrief, Failure> {
    let not_there = || Failure::NotFound(Kind::Excursion, code.to_owned());
    let excursion = Excursion::find(db, code).await?.ok_or_else(not_there)?;
    let registered = register::find(db, Kind::Excursion, code).await?.ok_or_else(not_there)?;
    let code = excursion.code.0.clone();
    let mut rows = rows::all(db, &code).await?;
    let titles = titles(db, &rows).await?;
    for row in &mut rows {
        row.title = titles.get(&row.task).cloned().unwrap_or_default();
    }
    let tools = excursions::tools_of(db, &code).await?;
    let missing = what_is_missing(&rows, &tools);
    let done: BTreeSet<&TaskCode> = rows
        .iter()
        .filter(|row| row.attempt.as_ref().is_some_and(|tried| tried.outcome == Outcome::Done))
        .map(|row| &row.task)
        .collect();
    let returns: BTreeSet<TaskCode> = rows
        .iter()
        .filter(|row| row.is_complete() && !done.contains(&row.task))
        .map(|row| row.task.clone())
        .collect();
    let closed_at = excursions::closed_at(db, &code).await?;
    Ok(Debrief {
        uncounted: uncounted(db, &excursion, &tools, closed_at.is_some()).await?,
        closed_at,
        board: BoardTimes::of(&day::presses(db, &code, None).await?),
        left_outside: outside::left_by_excursion(db, &code).await?,
        pencils: slots::of_excursion(db, &code)
            .await?
            .into_iter()
            .filter(|slot| slot.state == SlotState::Pencilled)
            .collect(),
        version: registered.version,
        excursion,
        rows,
        tools,
        missing,
        returns: returns.into_iter().collect(),
    })
}

/// The tools that a flown excursion was to take, as its record and the techniques of its set tasks
/// name them, and that no count names. Where counts are recorded and the debrief is closed, these
/// counts are the list of what went out.
#[boxed]
pub async fn uncounted(
    db: &mut SqliteConnection,
    excursion: &Excursion,
    counted: &[ExcursionTool],
    is_closed: bool,
) -> Result<Vec<ToolCode>, Failure> {
    let mut tools = excursions::tools_of_slots(db, &excursion.code.0).await?;
    let is_flown = excursion.state == Some(ExcursionState::Flown);
    if !is_flown || (is_closed && !counted.is_empty()) {
        return Ok(Vec::new());
    }
    tools.extend(excursion.tools.iter().cloned());
    tools.sort_unstable();
    tools.dedup();
    tools.retain(|tool| counted.iter().all(|row| row.tool != *tool));
    Ok(tools)
}

async fn titles(
    db: &mut SqliteConnection,
    rows: &[DebriefRow],
) -> Result<BTreeMap<TaskCode, String>, Failure> {
    let codes: Vec<TaskCode> = rows.iter().map(|row| row.task.clone()).collect();
    let found = tasks::these(db, &codes).await?;
    Ok(found.into_iter().map(|task: Task| (task.code.0, task.title.into_string())).collect())
}

fn what_is_missing(rows: &[DebriefRow], tools: &[ExcursionTool]) -> Vec<Missing> {
    let set: Vec<SetSlot> = rows
        .iter()
        .filter(|row| !row.is_extra())
        .filter_map(|row| row.slot.as_ref())
        .map(|slot| SetSlot { slot: slot.code.0.clone(), task: slot.task.clone() })
        .collect();
    let answered = rows
        .iter()
        .filter(|row| row.attempt.is_some() || row.deferral.is_some())
        .filter_map(|row| row.slot.as_ref().map(|slot| slot.code.0.clone()))
        .collect();
    let unfinished: Vec<_> = rows
        .iter()
        .filter(|row| row.draft.is_some())
        .map(|row| (row.slot.as_ref().map(|slot| slot.code.0.clone()), row.task.clone()))
        .collect();
    let mut all = missing(&set, &answered, &unfinished, tools);
    let added = rows.iter().filter(|row| row.is_extra() && row.is_from_board());
    all.extend(added.map(|row| Missing::Added { task: row.task.clone() }));
    all
}

/// Refuses results for an excursion that is closed or has not been flown.
#[boxed]
pub async fn open_for_results(
    db: &mut SqliteConnection,
    code: &ExcursionCode,
) -> Result<(), Failure> {
    let found = Excursion::find(db, code.as_str()).await?;
    let excursion = found.ok_or_else(|| Failure::NotFound(Kind::Excursion, code.to_string()))?;
    if excursion.state != Some(ExcursionState::Flown) {
        return Err(Failure::Refused(format!(
            "{code} has not been flown; mark it as flown first."
        )));
    }
    if excursions::closed_at(db, code).await?.is_some() {
        return Err(Failure::Refused(format!("The debrief of {code} is closed; reopen it first.")));
    }
    Ok(())
}

/// What closing a debrief did.
#[derive(Debug, Clone)]
pub struct Closed {
    pub returned: Vec<TaskCode>,
    pub withdrawn: Vec<Slot>,
    /// What the vehicle may not do from now on because of it, and what no longer binds it.
    pub from_now: Vec<InForce>,
    pub ended: Vec<InForce>,
}

/// Closes an excursion once everything has its result. Its pencils are withdrawn.
#[boxed]
pub async fn close(work: &mut Work, code: &ExcursionCode) -> Result<Closed, Failure> {
    allowed(work, Action::CloseExcursion)?;
    open_for_results(work.db(), code).await?;
    let debrief = read(work.db(), code.as_str()).await?;
    if !debrief.missing.is_empty() {
        let sentences: Vec<String> = debrief.missing.iter().map(Missing::to_string).collect();
        return Err(Failure::Refused(sentences.join(" ")));
    }
    let now = work.now;
    excursions::set_closed(work.db(), code, Some(now)).await?;
    work.log(Kind::Excursion, code.as_str(), "closed", None, None).await?;
    touch_all(work, code).await?;
    let withdrawn = withdraw_pencils(work, code).await?;
    work.settle().await?;
    let today = work.today;
    let (mut from_now, ended) = constraints::for_excursion(work.db(), code, today).await?;
    from_now.retain(|one| one.state.holds());
    Ok(Closed { returned: debrief.returns, withdrawn, from_now, ended })
}

/// Opens a closed excursion again; everything that hangs on it is derived again.
#[boxed]
pub async fn reopen(work: &mut Work, code: &ExcursionCode, why: &str) -> Result<(), Failure> {
    allowed(work, Action::ReopenExcursion)?;
    if why.trim().is_empty() {
        return Err(Failure::field("why", "Say why the debrief is opened again."));
    }
    if excursions::closed_at(work.db(), code).await?.is_none() {
        return Err(Failure::Refused(format!("The debrief of {code} is open already.")));
    }
    work.because(why);
    excursions::set_closed(work.db(), code, None).await?;
    work.log(Kind::Excursion, code.as_str(), "reopened", None, None).await?;
    touch_all(work, code).await
}

async fn touch_all(work: &mut Work, code: &ExcursionCode) -> Result<(), Failure> {
    let tasks = reach::tasks_on_excursion(work.db(), code).await?;
    touched::all(work, tasks);
    Ok(())
}
