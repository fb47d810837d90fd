//! Slots: pencilled, set, moved, withdrawn. The repeat guard and the other gates bind here, for
//! pages, files and the command line alike.

use crate::excursions::allowed;
use crate::records::{Base, Ruled, current, write};
use crate::work::Work;
use crate::{Failure, fit, slot_order};
use async_recursion::async_recursion as boxed;
use compute::fit::Ask;
use domain::cells::{FieldError, Prose};
use domain::codes::{ExcursionCode, SlotCode};
use domain::excursions::Excursion;
use domain::roles::Action;
use domain::seats::{Seat, Seats};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::time::Moment;
use domain::units::Share;
use domain::words::{DeferralReason, ExcursionState, GateName, SlotState};
use store::slot_history::Step;
use store::{Kept, excursions, slot_history, slots, standing};

pub mod effect;
pub mod if_then;
mod leaving;
mod order;
pub(crate) mod result;
mod setting;
pub mod turned;
mod undo;

pub(crate) use leaving::{give_up_all, is_earlier, withdraw_left_over, withdraw_pencils};
pub use leaving::{move_to, withdraw};
pub use order::{Spot, place, reorder};
use setting::{forget_setting, settle};
pub use undo::undo;

impl Ruled for Slot {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        slot: &mut Self,
    ) -> Result<(), Failure> {
        if slot.place.is_none() {
            let there = slots::of_excursion(work.db(), &slot.excursion).await?;
            let last = there.iter().filter_map(|other| other.place).max();
            slot.place = Some(last.unwrap_or(0) + 1);
        }
        if slot.share == Some(Share::NONE) {
            return Err(Failure::field("share", "A slot plans at least 1 % of the work."));
        }
        if before.is_none_or(|before| before.fallbacks != slot.fallbacks) {
            if_then::are_of_the_task(work, slot).await?;
        }
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, slot: &Self) -> Result<(), Failure> {
        if before.is_none_or(|before| before.state != slot.state) {
            // A file tells on which day a slot was set; a page does it now.
            let at = match slot.set_on {
                Some(day) if work.creates_missing => Moment::of_day(day),
                Some(_) | None => work.now,
            };
            let why = work.why().map(str::to_owned);
            let step = Step { state: slot.state, at, who: work.actor.name.clone(), why };
            if work.creates_missing && slot.state == SlotState::Flown && before.is_none() {
                let set = Step { state: SlotState::Set, why: None, ..step.clone() };
                slot_history::add_step(work.db(), &slot.code.0, &set).await?;
            }
            slot_history::add_step(work.db(), &slot.code.0, &step).await?;
        }
        Ok(())
    }
}

/// Which gates a lead waives for one slot, and why.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Waiver {
    pub gates: Vec<GateName>,
    pub reason: String,
}

/// Why a set slot leaves its excursion. A deferral needs the kind; a move to an earlier excursion
/// may have words alone.
#[derive(Debug, Clone)]
pub struct Reason {
    pub kind: Option<DeferralReason>,
    pub words: Prose,
}

#[boxed]
pub(crate) async fn of_excursion(
    work: &mut Work,
    excursion: &ExcursionCode,
) -> Result<Vec<Slot>, Failure> {
    Ok(slots::of_excursion(work.db(), excursion).await?)
}

/// Moves a slot to another state and keeps the step, dated.
#[boxed]
pub(crate) async fn step(
    work: &mut Work,
    mut slot: Slot,
    to: SlotState,
    why: Option<&str>,
) -> Result<Slot, Failure> {
    if let Some(why) = why {
        work.because(why);
    }
    slot.state = to;
    Ok(write(work, slot, Base::Current).await?.record)
}

/// Pencils a task on a coming excursion. A pencil warns and never refuses for a gate.
#[boxed]
pub async fn pencil(work: &mut Work, mut slot: Slot) -> Result<Slot, Failure> {
    allowed(work, Action::Pencil)?;
    free_for(work, &slot).await?;
    slot.state = SlotState::Pencilled;
    forget_setting(&mut slot);
    Ok(write(work, slot, Base::New).await?.record)
}

/// Gives a new slot its place in the order: right before another one, else after all of them.
#[boxed]
pub async fn place_before(
    work: &mut Work,
    slot: Slot,
    before: Option<&SlotCode>,
) -> Result<Slot, Failure> {
    allowed(work, Action::Pencil)?;
    let place = slot_order::make_room(work, &slot.excursion, before).await?;
    Ok(Slot { place, ..slot })
}

/// Chooses the seats of a new slot and its place in the order where nobody has, as far as they are
/// known: for one that is set those that its cell shows, the best beside the set tasks; for a
/// pencilled one the best beside the pencilled ones too.
#[boxed]
pub async fn place_best(work: &mut Work, slot: Slot, is_set: bool) -> Result<Slot, Failure> {
    let board = fit::board(work.db(), std::slice::from_ref(&slot.task)).await?;
    let (Some(task), Some(at)) = (board.task_at(&slot.task), board.excursion_at(&slot.excursion))
    else {
        return Ok(slot);
    };
    let ways = &board.snapshot.tasks[task].approaches;
    let approach = ways.position(|w| w.technique == slot.technique && w.side == slot.side);
    let share = slot.share.map(|share| f64::from(u32::try_from(share.0).unwrap_or(100)) / 100.0);
    let begin = slot.not_before.map(|pet| f64::from(u32::try_from(pet.0).unwrap_or(0)));
    let ask = Ask { approach, share, begin, ..Ask::default() };
    let place = if is_set {
        board.judge(&slot.task, &slot.excursion, &ask).and_then(|judged| judged.place)
    } else {
        board.place_beside_pencilled(task, at, &ask)
    };
    let Some(place) = place else { return Ok(slot) };
    let seats = Seats(
        board.excursions[at]
            .seats
            .numbers()
            .enumerate()
            .filter(|(lane, _)| place.lanes.has(*lane))
            .map(|(_, number)| Seat { number, crew: None })
            .collect(),
    );
    let before = board.slots[at].get(place.before_slot).map(|slot| slot.code.0.clone());
    let not_before = place.begin.map(compute::fit::pet);
    place_before(work, Slot { seats, not_before, ..slot }, before.as_ref()).await
}

/// Changes what a slot plans: approach, seats, order, share. On a set slot it is a setting anew,
/// with every gate.
#[boxed]
pub async fn change(
    work: &mut Work,
    slot: Slot,
    version: i64,
    waiver: &Waiver,
) -> Result<Slot, Failure> {
    let before = current::<Slot>(work, slot.code.0.as_str()).await?;
    if before.task != slot.task || before.excursion != slot.excursion {
        return Err(Failure::Refused(
            "Move the slot instead; a change keeps task and excursion.".to_owned(),
        ));
    }
    let slot = Slot {
        state: before.state,
        set_on: before.set_on,
        optimistic: before.optimistic,
        likely: before.likely,
        pessimistic: before.pessimistic,
        estimator: before.estimator.clone(),
        waived_gate: before.waived_gate.clone(),
        waiver: before.waiver.clone(),
        ..slot
    };
    match before.state {
        SlotState::Pencilled => {
            allowed(work, Action::Pencil)?;
            Ok(write(work, slot, Base::Version(version)).await?.record)
        }
        SlotState::Set => {
            allowed(work, Action::SetSlot)?;
            let changed = write(work, slot, Base::Version(version)).await?.record;
            settle(work, changed, waiver).await
        }
        SlotState::Flown | SlotState::Withdrawn => Err(over(&before)),
    }
}

/// Keeps a slot that is set by a waiver, after a gate turned against it.
#[boxed]
pub async fn keep_set(work: &mut Work, code: &str, waiver: &Waiver) -> Result<Slot, Failure> {
    allowed(work, Action::SetSlot)?;
    let slot = current::<Slot>(work, code).await?;
    if slot.state != SlotState::Set {
        return Err(Failure::Refused(format!(
            "{code} is {}; only a set slot is kept.",
            slot.state
        )));
    }
    settle(work, slot, waiver).await
}

/// Sets a pencilled slot: by its gates, or by a waiver that names each gate that stands against it.
#[boxed]
pub async fn set(work: &mut Work, code: &str, waiver: &Waiver) -> Result<Slot, Failure> {
    allowed(work, Action::SetSlot)?;
    let slot = current::<Slot>(work, code).await?;
    match slot.state {
        SlotState::Pencilled => settle(work, slot, waiver).await,
        SlotState::Set => Ok(slot),
        SlotState::Flown | SlotState::Withdrawn => Err(over(&slot)),
    }
}

/// Sets a task on an excursion at once.
#[boxed]
pub async fn set_new(work: &mut Work, slot: Slot, waiver: &Waiver) -> Result<Slot, Failure> {
    allowed(work, Action::SetSlot)?;
    let pencilled = pencil(work, slot).await?;
    settle(work, pencilled, waiver).await
}

/// What must hold before a task may stand on an excursion at all.
async fn free_for(work: &mut Work, slot: &Slot) -> Result<(), Failure> {
    let excursion = current::<Excursion>(work, slot.excursion.as_str()).await?;
    let task = current::<Task>(work, slot.task.as_str()).await?;
    let mut wrong: Vec<FieldError> = Vec::new();
    if excursion.state != Some(ExcursionState::Planned) {
        let state = excursion.state.map_or("unknown", ExcursionState::word);
        wrong.push(FieldError::new(
            "excursion",
            format!("{} is {state}; a slot needs a planned excursion.", excursion.code.0),
        ));
    }
    if let Some(standing) = standing::find(work.db(), &task.code.0).await?
        && !standing.state.is_open_item()
    {
        wrong.push(FieldError::new(
            "task",
            format!("{} is {}; reopen it before it is planned again.", task.code.0, standing.state),
        ));
    }
    let live = slots::live_of_task(work.db(), &task.code.0).await?;
    if let Some(there) = live.iter().find(|live| live.excursion == slot.excursion) {
        wrong.push(FieldError::new(
            "excursion",
            format!("{} is on {} already, as {}.", task.code.0, slot.excursion, there.code.0),
        ));
    }
    if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) }
}

fn over(slot: &Slot) -> Failure {
    Failure::Refused(format!("{} is {}; make a new slot instead.", slot.code.0, slot.state))
}

fn given_up(excursion: Option<&Excursion>) -> bool {
    excursion.is_some_and(|excursion| excursion.state == Some(ExcursionState::CalledOff))
}

/// Takes in a slot from a file: a coming one goes through the same gates as on a page, a flown
/// one is history.
#[boxed]
pub(crate) async fn take_in(work: &mut Work, slot: Slot, base: Base) -> Result<Slot, Failure> {
    let waiver = Waiver {
        gates: slot
            .waived_gate
            .iter()
            .flat_map(|gates| gates.as_str().split(','))
            .filter_map(GateName::read)
            .collect(),
        reason: slot.waiver.as_ref().map_or_else(String::new, ToString::to_string),
    };
    let excursion = Excursion::find(work.db(), slot.excursion.as_str()).await?;
    let planned = excursion.as_ref().is_none_or(|e| e.state == Some(ExcursionState::Planned));
    match (slot.state, planned) {
        (SlotState::Pencilled, true) => pencil(work, slot).await,
        (SlotState::Set, true) => {
            let (set_on, share) = (slot.set_on, slot.share);
            let mut pencilled = pencil(work, slot).await?;
            pencilled.set_on = set_on;
            pencilled.share = share;
            allowed(work, Action::SetSlot)?;
            settle(work, pencilled, &waiver).await
        }
        (SlotState::Flown, true) => Err(Failure::field(
            "state",
            format!("{} is still planned; nothing on it has been flown.", slot.excursion),
        )),
        (SlotState::Pencilled, false) => {
            let there = excursion.and_then(|excursion| excursion.state);
            let there = there.map_or("unknown", ExcursionState::word);
            let message = format!(
                "{} is {there}, and a pencil needs a planned excursion. Leave the row out, or give \
                 the state withdrawn.",
                slot.excursion
            );
            Err(Failure::field("state", message))
        }
        (SlotState::Set, false) if given_up(excursion.as_ref()) => {
            let message = format!("{} was called off; it has no slots.", slot.excursion);
            Err(Failure::field("excursion", message))
        }
        (state, _) => {
            allowed(work, Action::SetSlot)?;
            if state == SlotState::Set {
                // A result is owing, so the debrief is not closed.
                excursions::set_closed(work.db(), &slot.excursion, None).await?;
            }
            Ok(write(work, slot, base).await?.record)
        }
    }
}
