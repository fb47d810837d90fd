//! The order of the slots of one excursion.

use super::{Waiver, over, settle};
use crate::excursions::allowed;
use crate::records::{Base, current, write};
use crate::work::Work;
use crate::{Failure, slot_order};
use async_recursion::async_recursion as boxed;
use domain::codes::SlotCode;
use domain::kinds::Kind;
use domain::roles::Action;
use domain::seats::Seats;
use domain::slots::Slot;
use domain::words::SlotState;
use store::{register, slot_history, slots};

/// Where in the order of an excursion.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Spot {
    AsItIs,
    Before(SlotCode),
    Last,
}

/// Moves a slot along its lanes and between them: on those seats, or on the ones that it has. A
/// set slot is set anew: its gates must let it, under the waivers that it has and this one. Other
/// slots that make room stay set; what that does to them is told, not refused.
#[boxed]
pub async fn place(
    work: &mut Work,
    code: &str,
    version: i64,
    seats: Option<Seats>,
    to: &Spot,
    waiver: &Waiver,
) -> Result<Slot, Failure> {
    allowed(work, Action::Pencil)?;
    let slot = current::<Slot>(work, code).await?;
    match slot.state {
        SlotState::Pencilled => {}
        SlotState::Set => allowed(work, Action::SetSlot)?,
        SlotState::Flown | SlotState::Withdrawn => return Err(over(&slot)),
    }
    let registered = register::find(work.db(), Kind::Slot, code).await?;
    if let Some(now) = registered.filter(|now| now.version != version) {
        return Err(Failure::Refused(format!(
            "{} changed the slot of {} in the meantime; the page shows it as it is now.",
            now.changed_by, slot.task
        )));
    }
    let before = slot.clone();
    let mut slot = moved(work, slot, to).await?;
    slot.seats = seats.unwrap_or(slot.seats);
    if slot == before {
        return Err(Failure::Refused(format!("{} is worked there already.", slot.task)));
    }
    let slot = write(work, slot, Base::Current).await?.record;
    if slot.state == SlotState::Set {
        let mut all = kept_waiver(work, &slot).await?;
        all.gates.extend(&waiver.gates);
        if !waiver.reason.trim().is_empty() {
            all.reason.clone_from(&waiver.reason);
        }
        return settle(work, slot, &all).await;
    }
    Ok(slot)
}

/// The slot with its order number there; the others make room.
async fn moved(work: &mut Work, slot: Slot, to: &Spot) -> Result<Slot, Failure> {
    let before = match to {
        Spot::AsItIs => return Ok(slot),
        Spot::Before(code) if *code == slot.code.0 => return Ok(slot),
        Spot::Before(code) => Some(code),
        Spot::Last => None,
    };
    let order = live(work, &slot).await?;
    let at = order.iter().position(|other| other.code == slot.code);
    let next = at.and_then(|at| order.get(at + 1));
    if next.map(|next| &next.code.0) == before {
        return Ok(slot);
    }
    if let Some(code) = before
        && !order.iter().any(|other| other.code.0 == *code)
    {
        return Err(Failure::field("before", format!("{code} is no longer on this excursion.")));
    }
    let place = slot_order::make_room(work, &slot.excursion, before).await?;
    // Making room may have moved the slot itself.
    let slot = current::<Slot>(work, slot.code.0.as_str()).await?;
    Ok(Slot { place, ..slot })
}

/// The pencilled and set slots of the excursion on which a slot stands, in their order.
async fn live(work: &mut Work, slot: &Slot) -> Result<Vec<Slot>, Failure> {
    let mut all = slots::of_excursion(work.db(), &slot.excursion).await?;
    all.retain(|other| matches!(other.state, SlotState::Pencilled | SlotState::Set));
    Ok(all)
}

/// Moves a slot before the one ahead of it on its lanes, or behind the next one.
#[boxed]
pub async fn reorder(work: &mut Work, code: &str, earlier: bool) -> Result<Slot, Failure> {
    allowed(work, Action::Pencil)?;
    let slot = current::<Slot>(work, code).await?;
    let order = live(work, &slot).await?;
    let Some(at) = order.iter().position(|other| other.code == slot.code) else {
        return Err(over(&slot));
    };
    let met = |other: &&Slot| share_a_lane(&slot.seats, &other.seats);
    let before = |slot: &Slot| Spot::Before(slot.code.0.clone());
    let to = if earlier {
        order[..at].iter().rev().find(met).map(before)
    } else {
        let next = order[at + 1..].iter().position(|other| met(&other));
        next.map(|next| order.get(at + next + 2).map_or(Spot::Last, before))
    };
    let Some(to) = to else {
        let end = if earlier { "first" } else { "last" };
        return Err(Failure::Refused(format!("{} is the {end} one on its lane.", slot.task)));
    };
    let registered = register::find(work.db(), Kind::Slot, code).await?;
    let version = registered.map_or(0, |registered| registered.version);
    place(work, code, version, None, &to, &Waiver::default()).await
}

/// Slots without seats stand on every lane, until somebody chooses.
fn share_a_lane(a: &Seats, b: &Seats) -> bool {
    a.is_empty() || b.is_empty() || a.numbers().any(|seat| b.numbers().any(|other| other == seat))
}

/// The waiver under which a slot was set.
async fn kept_waiver(work: &mut Work, slot: &Slot) -> Result<Waiver, Failure> {
    let kept = slot_history::waivers_of(work.db(), &slot.code.0).await?;
    Ok(Waiver {
        gates: kept.iter().map(|waiver| waiver.gate).collect(),
        reason: kept.first().map_or_else(String::new, |waiver| waiver.reason.clone()),
    })
}
