//! How a slot leaves its excursion: withdrawn, deferred, moved, or taken along when the excursion is
//! called off or its debrief closed.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use super::{Reason, Waiver, over, pencil, place_best, set_new, step};
use crate::calendar::Calendar;
use crate::excursions::allowed;
use crate::records::{Base, current, write};
use crate::work::Work;
use crate::{Actor, App, Failure};
use domain::cells::{Line, Prose};
use domain::codes::{DeferralCode, ExcursionCode, Own, SlotCode};
use domain::endings::Deferral;
use domain::excursions::Excursion;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::repeat_guard::Approach;
use domain::roles::Action;
use domain::seats::Seats;
use domain::slots::Slot;
use domain::words::{DeferralPhase, DeferralReason, ExcursionState, FlightState, Role, SlotState};
use store::{Kept, invariants, register, slot_history, slots};

/// Removes a slot from its excursion. A set one asks for the reason and writes a deferral.
#[boxed]
pub async fn withdraw(
    work: &mut Work,
    code: &str,
    reason: Option<Reason>,
    to: Option<ExcursionCode>,
) -> Result<(), Failure> {
    let slot = current::<Slot>(work, code).await?;
    not_flown(work, &slot).await?;
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
            let reason = reason.and_then(|reason| Some((reason.kind?, reason.words)));
            let Some((kind, words)) = reason else {
                return Err(Failure::field(
                    "reason",
                    "Choose the reason: a set slot that is removed or moved later leaves a deferral.",
                ));
            };
            defer(work, slot, kind, words, to).await
        }
        SlotState::Flown | SlotState::Withdrawn => Err(over(&slot)),
    }
}

/// Moves a slot to another coming excursion: withdrawn here, pencilled there, and set there where
/// it was set here and the checks let it. A set slot that moves later leaves a deferral; one that
/// moves earlier is noted as a move.
#[boxed]
pub async fn move_to(
    work: &mut Work,
    code: &str,
    to: &ExcursionCode,
    with: Option<Approach>,
    reason: Option<Reason>,
    waiver: &Waiver,
) -> Result<Slot, Failure> {
    let slot = current::<Slot>(work, code).await?;
    if slot.excursion == *to {
        return Err(Failure::field("to", "It is on that excursion already."));
    }
    let sets = slot.state == SlotState::Set;
    let own = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
    let Approach { technique, side } = with.unwrap_or(own);
    let there = Slot {
        code: Own(SlotCode::default()),
        excursion: to.clone(),
        technique,
        side,
        place: None,
        // It waited for something on the excursion that it leaves.
        not_before: None,
        ..slot.clone()
    };
    if !sets || !is_earlier(work.db(), to, &slot.excursion).await? {
        withdraw(work, code, reason, Some(to.clone())).await?;
        let there = placed_anew(work, there, sets).await?;
        return if sets { set_new(work, there, waiver).await } else { pencil(work, there).await };
    }
    let left = pull_forward(work, slot, reason).await?;
    let there = placed_anew(work, there, sets).await?;
    let moved = set_new(work, there, waiver).await?;
    slot_history::note_move(work.db(), &left, &moved.code.0).await?;
    Ok(moved)
}

/// A slot at the best place of the excursion to which it moves; with its own seats where no place is
/// known there.
async fn placed_anew(work: &mut Work, there: Slot, is_set: bool) -> Result<Slot, Failure> {
    let seats = there.seats.clone();
    let free = Slot { seats: Seats::default(), ..there };
    let placed = place_best(work, free, is_set).await?;
    Ok(if placed.seats.is_empty() { Slot { seats, ..placed } } else { placed })
}

/// A slot of an excursion that was flown gets its result in the debrief.
async fn not_flown(work: &mut Work, slot: &Slot) -> Result<(), Failure> {
    let excursion = current::<Excursion>(work, slot.excursion.as_str()).await?;
    if excursion.state != Some(ExcursionState::Flown) {
        return Ok(());
    }
    Err(Failure::Refused(format!(
        "{} was flown. Record in its debrief what came of {}; what is not done returns to the backlog \
         then.",
        slot.excursion, slot.task
    )))
}

/// Withdraws a set slot that goes on at an earlier excursion, which is no deferral.
#[boxed]
pub(super) async fn pull_forward(
    work: &mut Work,
    slot: Slot,
    reason: Option<Reason>,
) -> Result<SlotCode, Failure> {
    allowed(work, Action::SetSlot)?;
    not_flown(work, &slot).await?;
    let words = reason.map(|reason| reason.words.as_str().trim().to_owned());
    let words = words.filter(|words| !words.is_empty());
    let slot = step(work, slot, SlotState::Withdrawn, words.as_deref()).await?;
    Ok(slot.code.0)
}

/// Whether the first excursion is known to come before the second.
#[boxed]
pub(crate) async fn is_earlier(
    db: &mut SqliteConnection,
    first: &ExcursionCode,
    second: &ExcursionCode,
) -> Result<bool, Failure> {
    let calendar = Calendar::load(db).await?;
    Ok(calendar.is_before(first, second) == Some(true))
}

/// Withdraws everything that is pencilled or set on an excursion that is called off; each set slot
/// leaves a deferral.
#[boxed]
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
                let kind = DeferralReason::ExcursionGivenUp;
                defer(work, slot, kind, Prose::known(words), None).await?;
            }
            SlotState::Flown | SlotState::Withdrawn => {}
        }
    }
    Ok(())
}

/// Withdraws the pencils that earlier versions left on excursions that are over.
#[boxed]
pub(crate) async fn withdraw_left_over(app: &App) -> Result<(), Failure> {
    let actor = Actor { name: "holdover".to_owned(), role: Role::Lead };
    let mut work = Work::begin(app, &actor, None).await?;
    loop {
        let left = invariants::pencils_left(work.db()).await?;
        if left.is_empty() {
            break;
        }
        for one in left {
            let slot = current::<Slot>(&mut work, one.slot.as_str()).await?;
            let why = format!("{} is {}", one.excursion, one.there);
            step(&mut work, slot, SlotState::Withdrawn, Some(&why)).await?;
        }
    }
    work.finish("").await?;
    Ok(())
}

/// Withdraws the pencils of an excursion whose debrief is closed, and gives them back to be named.
#[boxed]
pub(crate) async fn withdraw_pencils(
    work: &mut Work,
    excursion: &ExcursionCode,
) -> Result<Vec<Slot>, Failure> {
    let mut pencils = slots::of_excursion(work.db(), excursion).await?;
    pencils.retain(|slot| slot.state == SlotState::Pencilled);
    let why = format!("the debrief of {excursion} was closed");
    let before = work.why().map(str::to_owned);
    for slot in &pencils {
        step(work, slot.clone(), SlotState::Withdrawn, Some(&why)).await?;
    }
    work.because(before.unwrap_or_default());
    Ok(pencils)
}

/// Writes the deferral of a set slot; the slot is withdrawn with it.
async fn defer(
    work: &mut Work,
    slot: Slot,
    reason: DeferralReason,
    words: Prose,
    to: Option<ExcursionCode>,
) -> Result<(), Failure> {
    let phase = phase_now(work, &slot.excursion).await?;
    let deferral = Deferral {
        code: Own(DeferralCode::default()),
        task: slot.task.clone(),
        excursion: slot.excursion.clone(),
        slot: Some(slot.code.0.clone()),
        phase,
        reason,
        words,
        decided_by: Some(Line::known(work.actor.name.clone())),
        to_excursion: to,
        day: Some(work.today),
    };
    write(work, deferral, Base::New).await?;
    Ok(())
}

/// Before launch until the flight is under way, then in flight before egress.
async fn phase_now(work: &mut Work, excursion: &ExcursionCode) -> Result<DeferralPhase, Failure> {
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
