//! Derives how tasks stand and stores it for filtering, in the transaction of the change. An
//! ending found here takes off what was planned after it and makes the alternatives moot.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeSet, HashMap};

use crate::Failure;
use crate::calendar::Calendar;
use crate::records::{Base, write};
use crate::sisters;
use crate::slots::step;
use crate::work::Work;
use domain::cells::Prose;
use domain::codes::{ClosureCode, FlightCode, Own, SlotCode, TaskCode};
use domain::endings::Closure;
use domain::order_of_work::{KnownTask, Tie, moot_by};
use domain::slots::Slot;
use domain::words::{ClosureKind, SlotState, TaskState};
use store::standing::{StandingRow, TaskWords};
use store::told::{self as stored_told, NotHeldRow};
use store::{Kept, reach, standing as rows, tasks};

mod everything;
mod recompute;
mod row;
mod shares;
mod told;
mod tries;
mod words;

pub use everything::renew;
pub(crate) use everything::{derive_all, is_current};
pub(crate) use recompute::{Recomputed, recompute};

/// So many tasks are derived together.
pub(crate) const MAX_TASKS_AT_ONCE: usize = 1_000;

/// Derives every task that was touched, and those that this touches in turn.
#[boxed]
pub(crate) async fn derive(work: &mut Work) -> Result<(), Failure> {
    if work.touched_tasks.is_empty() {
        return Ok(());
    }
    let calendar = Calendar::load(work.db()).await?;
    while !work.touched_tasks.is_empty() {
        let touched: Vec<TaskCode> = work.touched_tasks.iter().cloned().collect();
        // Sisters together, so that the record of a family is read once.
        let touched = tasks::by_family(work.db(), &touched).await?;
        work.touched_tasks.clear();
        work.touched_families.clear();
        for batch in touched.chunks(MAX_TASKS_AT_ONCE) {
            derive_these(work, &calendar, batch).await?;
        }
    }
    Ok(())
}

async fn derive_these(
    work: &mut Work,
    calendar: &Calendar,
    batch: &[TaskCode],
) -> Result<(), Failure> {
    let (derived, dossier) = recompute(work.db(), calendar.clone(), batch).await?;
    let before = Stored::load(work, batch, &derived).await?;
    let mut moved = BTreeSet::new();
    for task in &derived {
        before.replace(work, task).await?;
        if before.rows.get(&task.row.task).map(|row| row.state) != Some(task.row.state) {
            moved.insert(task.row.task.clone());
        }
    }
    let left = before.rows.values().filter_map(|row| row.family.clone());
    sisters::renew(work.db(), &dossier, left).await?;
    for other in reach::linked_to(work.db(), moved.iter()).await? {
        work.touch(&other);
    }
    for task in derived {
        for slot in &task.ended {
            take_off(work, slot, &task.row.task).await?;
        }
        for cut in &task.too_much {
            plan_less(work, cut, &task.row).await?;
        }
        if task.row.state == TaskState::Done && moved.contains(&task.row.task) {
            make_moot(work, &task.row.task).await?;
        }
    }
    Ok(())
}

/// What is stored of some tasks; only what differs is written.
struct Stored {
    rows: HashMap<TaskCode, StandingRow>,
    words: HashMap<i64, TaskWords>,
    flights: HashMap<TaskCode, Vec<FlightCode>>,
    not_held: HashMap<TaskCode, Vec<NotHeldRow>>,
}

impl Stored {
    async fn load(
        work: &mut Work,
        batch: &[TaskCode],
        derived: &[Recomputed],
    ) -> Result<Self, Failure> {
        let entries: Vec<i64> = derived.iter().map(|task| task.words.entry).collect();
        let stored = rows::these(work.db(), batch).await?;
        let words = rows::task_words(work.db(), &entries).await?;
        let mut flights: HashMap<TaskCode, Vec<FlightCode>> = HashMap::new();
        for (task, flight) in rows::flights_of(work.db(), batch).await? {
            flights.entry(task).or_default().push(flight);
        }
        let mut not_held: HashMap<TaskCode, Vec<NotHeldRow>> = HashMap::new();
        for row in stored_told::not_held_on(work.db(), batch).await? {
            not_held.entry(row.task.clone()).or_default().push(row);
        }
        Ok(Self {
            rows: stored.into_iter().map(|row| (row.task.clone(), row)).collect(),
            words: words.into_iter().map(|words| (words.entry, words)).collect(),
            flights,
            not_held,
        })
    }

    async fn replace(&self, work: &mut Work, new: &Recomputed) -> Result<(), Failure> {
        let task = &new.row.task;
        if self.rows.get(task) != Some(&new.row) {
            rows::put(work.db(), &new.row).await?;
        }
        if self.flights.get(task).map_or(&[][..], Vec::as_slice) != new.flights {
            rows::put_flights(work.db(), task, &new.flights).await?;
        }
        if self.words.get(&new.words.entry) != Some(&new.words) {
            rows::put_words(work.db(), &new.words).await?;
        }
        if !new.told.is_empty() {
            stored_told::put(work.db(), &new.told).await?;
        }
        if self.not_held.get(task).map_or(&[][..], Vec::as_slice) != new.not_held {
            stored_told::put_not_held(work.db(), task, &new.not_held).await?;
        }
        Ok(())
    }
}

/// A set slot plans no more than is left; with nothing left for it, it is withdrawn.
async fn plan_less(
    work: &mut Work,
    cut: &shares::SlotCut,
    now: &StandingRow,
) -> Result<(), Failure> {
    let Some(slot) = Slot::find(work.db(), cut.slot.as_str()).await? else { return Ok(()) };
    let why = format!("{} of {} are left", now.share_left, now.task);
    let before = work.why().map(str::to_owned);
    if cut.to.is_some() {
        work.because(why);
        write(work, Slot { share: cut.to, ..slot }, Base::Current).await?;
    } else {
        step(work, slot, SlotState::Withdrawn, Some(&why)).await?;
    }
    work.because(before.unwrap_or_default());
    Ok(())
}

/// Withdraws a slot that stands after the end of its task.
async fn take_off(work: &mut Work, slot: &SlotCode, task: &TaskCode) -> Result<(), Failure> {
    let Some(slot) = Slot::find(work.db(), slot.as_str()).await? else { return Ok(()) };
    if matches!(slot.state, SlotState::Set | SlotState::Pencilled) {
        let why = format!("{task} ended");
        // The step touches the task again: without the slot it may touch one flight less.
        step(work, slot, SlotState::Withdrawn, Some(&why)).await?;
    }
    Ok(())
}

/// “Instead of”: what is done makes the other moot.
async fn make_moot(work: &mut Work, done: &TaskCode) -> Result<(), Failure> {
    let links = tasks::links_among(work.db(), std::slice::from_ref(done)).await?;
    let ties: Vec<Tie> = links.iter().map(Tie::from).collect();
    let others: Vec<TaskCode> =
        links.into_iter().flat_map(|link| [link.task, link.other]).collect();
    let known: Vec<KnownTask> = rows::these(work.db(), &others)
        .await?
        .into_iter()
        .map(|row| KnownTask::as_it_stands(row.task, row.state))
        .collect();
    for task in moot_by(done, &ties, &known) {
        let closure = Closure {
            code: Own(ClosureCode::default()),
            task,
            kind: ClosureKind::Moot,
            duplicate_of: None,
            words: Prose::known(format!("{done} was done instead.")),
            evidence: Prose::default(),
            day: Some(work.today),
        };
        write(work, closure, Base::New).await?;
    }
    Ok(())
}
