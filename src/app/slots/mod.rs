//! Slots: pencilled, set, moved, withdrawn. The repeat guard and the other gates bind here, for
//! pages, files and the command line alike.

use crate::app::excursions::allowed;
use crate::app::records::{Base, Ruled, current, write};
use crate::app::work::Work;
use crate::app::{Failure, fit, slot_order};
use crate::compute::fit::Ask;
use crate::domain::cells::{FieldError, Line, Prose};
use crate::domain::codes::{DeferralCode, ExcursionCode, Own, SlotCode};
use crate::domain::endings::Deferral;
use crate::domain::excursions::Excursion;
use crate::domain::kinds::Kind;
use crate::domain::roles::Action;
use crate::domain::seats::{Seat, Seats};
use crate::domain::slots::Slot;
use crate::domain::tasks::Task;
use crate::domain::time::Moment;
use crate::domain::units::Share;
use crate::domain::words::{DeferralPhase, DeferralReason, ExcursionState, GateName, SlotState};
use crate::store::slot_history::Step;
use crate::store::{Kept, excursions, register, slot_history, slots, standing};

pub mod effect;
mod order;
mod setting;
pub mod turned;
mod undo;

pub use order::{Spot, place, reorder};
use setting::{forget_setting, settle};
pub use undo::undo;

impl Ruled for Slot {
    async fn prepare(
        work: &mut Work,
        _before: Option<&Self>,
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
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, slot: &Self) -> Result<(), Failure> {
        if before.is_none_or(|before| before.state != slot.state) {
            // A file tells on which day a slot was set; a page does it now.
            let at = match slot.set_on {
                Some(day) if work.plants_missing => Moment::of_day(day),
                Some(_) | None => work.now,
            };
            let why = work.why().map(str::to_owned);
            let step = Step { state: slot.state, at, who: work.actor.name.clone(), why };
            if work.plants_missing && slot.state == SlotState::Flown && before.is_none() {
                let set = Step { state: SlotState::Set, why: None, ..step.clone() };
                slot_history::add_step(work.db(), &slot.code.0, &set).await?;
            }
            slot_history::add_step(work.db(), &slot.code.0, &step).await?;
        }
        work.touch(&slot.task);
        Ok(())
    }
}

/// Which gates a lead waives for one slot, and why.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Waiver {
    pub gates: Vec<GateName>,
    pub reason: String,
}

/// Why a set slot is given up or moved.
#[derive(Debug, Clone)]
pub struct Reason {
    pub kind: DeferralReason,
    pub words: Prose,
}

pub(crate) async fn of_excursion(
    work: &mut Work,
    excursion: &ExcursionCode,
) -> Result<Vec<Slot>, Failure> {
    Ok(slots::of_excursion(work.db(), excursion).await?)
}

/// Moves a slot to another state and keeps the step, dated.
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
pub async fn pencil(work: &mut Work, mut slot: Slot) -> Result<Slot, Failure> {
    allowed(work, Action::Pencil)?;
    free_for(work, &slot).await?;
    slot.state = SlotState::Pencilled;
    forget_setting(&mut slot);
    Ok(write(work, slot, Base::New).await?.record)
}

/// Gives a new slot its place in the order: right before another one, else after all of them.
pub async fn place_before(
    work: &mut Work,
    slot: Slot,
    before: Option<&SlotCode>,
) -> Result<Slot, Failure> {
    allowed(work, Action::Pencil)?;
    let place = slot_order::make_room(work, &slot.excursion, before).await?;
    Ok(Slot { place, ..slot })
}

/// Chooses the seats of a new slot and its place in the order where nobody has: the best ones,
/// as far as they can be told.
pub async fn place_best(work: &mut Work, slot: Slot) -> Result<Slot, Failure> {
    let board = fit::board(work.db(), std::slice::from_ref(&slot.task)).await?;
    let (Some(task), Some(at)) = (board.task_at(&slot.task), board.excursion_at(&slot.excursion))
    else {
        return Ok(slot);
    };
    let ways = &board.snapshot.tasks[task].approaches;
    let approach = ways.iter().position(|w| w.technique == slot.technique && w.side == slot.side);
    let share = slot.share.map(|share| f64::from(u32::try_from(share.0).unwrap_or(100)) / 100.0);
    let ask = Ask { approach, share, ..Ask::default() };
    let judged = board.judge(&slot.task, &slot.excursion, &ask);
    let Some(place) = judged.and_then(|judged| judged.place) else { return Ok(slot) };
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
    place_before(work, Slot { seats, ..slot }, before.as_ref()).await
}

/// Changes what a slot plans: approach, seats, order, share. On a set slot it is a setting anew,
/// with every gate.
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
pub async fn set_new(work: &mut Work, slot: Slot, waiver: &Waiver) -> Result<Slot, Failure> {
    allowed(work, Action::SetSlot)?;
    let pencilled = pencil(work, slot).await?;
    settle(work, pencilled, waiver).await
}

/// Takes a slot off. A set one asks for the reason and leaves a deferral.
pub async fn withdraw(
    work: &mut Work,
    code: &str,
    reason: Option<Reason>,
    to: Option<ExcursionCode>,
) -> Result<(), Failure> {
    let slot = current::<Slot>(work, code).await?;
    match slot.state {
        SlotState::Pencilled => {
            let registered = register::find(work.db(), Kind::Slot, code).await?;
            let own = registered.is_some_and(|row| row.made_by == work.actor.name);
            allowed(work, if own { Action::WithdrawOwnPencil } else { Action::WithdrawAnyPencil })?;
            step(work, slot, SlotState::Withdrawn, None).await?;
            Ok(())
        }
        SlotState::Set => {
            allowed(work, Action::DeferBeforeLaunch)?;
            let Some(reason) = reason else {
                return Err(Failure::field(
                    "reason",
                    "Say why it is taken off; a set slot leaves a deferral.",
                ));
            };
            defer(work, slot, reason, to).await
        }
        SlotState::Flown | SlotState::Withdrawn => Err(over(&slot)),
    }
}

/// Moves a slot to another coming excursion: off here, pencilled there, and set there where it
/// was set here and the gates let it.
pub async fn move_to(
    work: &mut Work,
    code: &str,
    to: &ExcursionCode,
    reason: Option<Reason>,
    waiver: &Waiver,
) -> Result<Slot, Failure> {
    let slot = current::<Slot>(work, code).await?;
    if slot.excursion == *to {
        return Err(Failure::field("to", "It is on that excursion already."));
    }
    let there =
        Slot { code: Own(SlotCode::default()), excursion: to.clone(), place: None, ..slot.clone() };
    let was_set = slot.state == SlotState::Set;
    withdraw(work, code, reason, Some(to.clone())).await?;
    if was_set { set_new(work, there, waiver).await } else { pencil(work, there).await }
}

/// Calls off everything on an excursion that is given up: set slots leave a deferral.
pub(crate) async fn give_up_all(
    work: &mut Work,
    excursion: &Excursion,
    here: Vec<Slot>,
) -> Result<(), Failure> {
    for slot in here {
        match slot.state {
            SlotState::Pencilled => {
                step(work, slot, SlotState::Withdrawn, None).await?;
            }
            SlotState::Set => {
                let words = work
                    .why()
                    .map_or_else(|| format!("{} was called off.", excursion.code.0), str::to_owned);
                let reason = Reason { kind: DeferralReason::ExcursionGivenUp, words: Prose(words) };
                defer(work, slot, reason, None).await?;
            }
            SlotState::Flown | SlotState::Withdrawn => {}
        }
    }
    Ok(())
}

/// Writes the deferral of a set slot; the slot is withdrawn with it.
async fn defer(
    work: &mut Work,
    slot: Slot,
    reason: Reason,
    to: Option<ExcursionCode>,
) -> Result<(), Failure> {
    let phase = phase_now(work, &slot.excursion).await?;
    let deferral = Deferral {
        code: Own(DeferralCode::default()),
        task: slot.task.clone(),
        excursion: slot.excursion.clone(),
        slot: Some(slot.code.0.clone()),
        phase,
        reason: reason.kind,
        words: reason.words,
        decided_by: Some(Line(work.actor.name.clone())),
        to_excursion: to,
        day: Some(work.today),
    };
    write(work, deferral, Base::New).await?;
    Ok(())
}

/// Before launch until the flight is under way, then in flight before egress.
async fn phase_now(work: &mut Work, excursion: &ExcursionCode) -> Result<DeferralPhase, Failure> {
    use crate::domain::flights::Flight;
    use crate::domain::words::FlightState;
    let excursion = current::<Excursion>(work, excursion.as_str()).await?;
    let flight = match &excursion.flight {
        Some(code) => Flight::find(work.db(), code.as_str()).await?,
        None => None,
    };
    Ok(match flight.map(|flight| flight.state) {
        Some(FlightState::UnderWay | FlightState::Flown) => DeferralPhase::BeforeEgress,
        Some(FlightState::Coming | FlightState::Cancelled) | None => DeferralPhase::BeforeLaunch,
    })
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
            format!("{} stands on {} already, as {}.", task.code.0, slot.excursion, there.code.0),
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
pub async fn take_in(work: &mut Work, slot: Slot, base: Base) -> Result<Slot, Failure> {
    let waiver = Waiver {
        gates: slot
            .waived_gate
            .iter()
            .flat_map(|gates| gates.as_str().split(','))
            .filter_map(GateName::read)
            .collect(),
        reason: slot.waiver.as_ref().map_or_else(String::new, |reason| reason.0.clone()),
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
        (SlotState::Pencilled | SlotState::Set, false) if given_up(excursion.as_ref()) => {
            let message = format!("{} was called off; nothing stands on it.", slot.excursion);
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
