//! Work that is added to a day on its board: who may add what, and the slot of the board that stands
//! for it. The record gets no slot.

use async_recursion::async_recursion as boxed;
use std::borrow::Cow;

use sqlx::SqliteConnection;

use super::Day;
use crate::Failure;
use crate::fit::Board;
use domain::codes::{ExcursionCode, Own, SlotCode};
use domain::day::{Act, Added, Progress, added};
use domain::fallbacks::Fallbacks;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::words::SlotState;
use store::{Kept as _, standing};

/// Refuses what cannot be added.
#[boxed]
pub(super) async fn allow(
    db: &mut SqliteConnection,
    there: &Day,
    adds: &Added,
) -> Result<(), Failure> {
    let Added { task, seats, technique, .. } = adds;
    let code = there.code();
    if let Some(seat) = seats.numbers().find(|seat| there.lane(*seat).is_none()) {
        return Err(Failure::field("seat", format!("{code} has no seat EV{seat}.")));
    }
    if seats.is_empty() {
        return Err(Failure::field("seat", "Choose the seats for which it is added."));
    }
    if let Some(known) = there.tasks.iter().find(|on| on.slot.task == *task) {
        let words = if known.is_added() {
            format!("{task} is added for {} already.", known.slot.seats.names())
        } else {
            format!("{task} is set on {code} as {} already.", known.slot.code.0)
        };
        return Err(Failure::Refused(words));
    }
    let state = standing::find(db, task).await?.map(|row| row.state);
    let Some(state) = state else {
        return Err(Failure::field("task", format!("There is no task {task}.")));
    };
    if !state.is_open_item() {
        return Err(Failure::Refused(format!("{task} is {state} by now; it is not added.")));
    }
    let needs = Task::find(db, task.as_str()).await?.and_then(|task| task.seats).unwrap_or(1);
    if i64::try_from(seats.0.len()).is_ok_and(|given| given < needs) {
        let words = format!("{task} needs {needs} seats; it is added for {}.", seats.names());
        return Err(Failure::field("seat", words));
    }
    if let Some(technique) = technique
        && Technique::find(db, technique.as_str()).await?.is_none()
    {
        return Err(Failure::field("technique", format!("There is no technique {technique}.")));
    }
    Ok(())
}

/// Refuses to undo that work was added while presses say that it has begun.
pub(super) fn may_undo(there: &Day, of: &str) -> Result<(), Failure> {
    let undone = there.state.log.iter().map(|(press, _)| press).find(|press| press.key == of);
    let adds = undone.filter(|press| press.act == Act::Added).and_then(|press| press.adds.as_ref());
    let Some(adds) = adds else { return Ok(()) };
    let task = there.state.tasks.get(&added::name_of(&adds.task));
    match task.map(|task| task.progress) {
        Some(Progress::Running { .. } | Progress::Ended { .. }) => {
            Err(Failure::Refused(format!("{} has been started; undo that first.", adds.task)))
        }
        Some(Progress::Planned | Progress::Dropped) | None => Ok(()),
    }
}

/// The slot that stands for added work on the board and in the debrief.
pub(super) fn slot(adds: &Added, excursion: &ExcursionCode) -> Slot {
    Slot {
        code: Own(added::name_of(&adds.task)),
        task: adds.task.clone(),
        excursion: excursion.clone(),
        technique: adds.technique.clone(),
        side: adds.side.clone(),
        seats: adds.seats.clone(),
        place: None,
        state: SlotState::Set,
        share: None,
        not_before: None,
        stopping_point: None,
        stopping_share: None,
        if_it_fails: None,
        fallbacks: Fallbacks::default(),
        must_do: false,
        set_on: None,
        optimistic: None,
        likely: None,
        pessimistic: None,
        estimator: None,
        waived_gate: None,
        waiver: None,
    }
}

/// The slots of an excursion and those of added work, in the order in which they are to be done.
pub(super) fn in_order(
    mut slots: Vec<Slot>,
    all: &[Added],
    excursion: &ExcursionCode,
) -> Vec<Slot> {
    for adds in all {
        let before = |before: &SlotCode| slots.iter().position(|slot| slot.code.0 == *before);
        let at = adds.before.as_ref().and_then(before).unwrap_or(slots.len());
        slots.insert(at, slot(adds, excursion));
    }
    slots
}

/// The record as calculated, with what was added to the day in its place.
pub(super) fn on_board<'b>(board: &'b Board, there: &Day) -> Cow<'b, Board> {
    let excursion = board.excursion_at(there.code());
    let any = there.tasks.iter().any(super::OnBoard::is_added);
    let Some(excursion) = excursion.filter(|_| any) else { return Cow::Borrowed(board) };
    let mut with = board.clone();
    for (at, on) in there.tasks.iter().enumerate().filter(|(_, on)| on.is_added()) {
        let Some(task) = with.task_at(&on.slot.task) else { continue };
        let ways = &with.snapshot.tasks[task].approaches;
        let same = |way: &compute::fit::Approach| {
            way.technique == on.slot.technique && way.side == on.slot.side
        };
        let of_fit = compute::fit::Slot {
            task,
            set: true,
            approach: ways.position(same),
            seats: on.slot.seats.numbers().collect(),
            ..compute::fit::Slot::default()
        };
        let live = &with.slots[excursion];
        let next = there.tasks[at + 1..].iter().find(|next| !next.is_added());
        let place = next.and_then(|next| live.position(|slot| slot.code == next.slot.code));
        let place = place.unwrap_or(live.next_key());
        with.slots[excursion].insert(place, on.slot.clone());
        with.snapshot.excursions[excursion].slots.insert(place, of_fit);
    }
    Cow::Owned(with)
}
