//! The order of the slots of one excursion.

use super::{Waiver, over, settle};
use crate::app::Failure;
use crate::app::excursions::allowed;
use crate::app::records::{Base, current, write};
use crate::app::work::Work;
use crate::domain::roles::Action;
use crate::domain::slots::Slot;
use crate::domain::words::SlotState;
use crate::store::{slot_history, slots};

/// Moves a slot one place up or down in the order of its excursion. A set slot whose place
/// changes is set anew: its gates must let it, under the waivers that it has.
pub async fn reorder(work: &mut Work, code: &str, earlier: bool) -> Result<(), Failure> {
    allowed(work, Action::Pencil)?;
    let slot = current::<Slot>(work, code).await?;
    let mut order: Vec<Slot> = slots::of_excursion(work.db(), &slot.excursion)
        .await?
        .into_iter()
        .filter(|other| matches!(other.state, SlotState::Pencilled | SlotState::Set))
        .collect();
    let Some(at) = order.iter().position(|other| other.code == slot.code) else {
        return Err(over(&slot));
    };
    let to = if earlier { at.checked_sub(1) } else { Some(at + 1).filter(|to| *to < order.len()) };
    let Some(to) = to else {
        let end = if earlier { "first" } else { "last" };
        return Err(Failure::Refused(format!("{code} is the {end} one already.")));
    };
    order.swap(at, to);
    let mut moved = Vec::new();
    for (slot, place) in order.into_iter().zip(1..) {
        if slot.place != Some(place) {
            if slot.state == SlotState::Set {
                allowed(work, Action::SetSlot)?;
            }
            let slot = Slot { place: Some(place), ..slot };
            moved.push(write(work, slot, Base::Current).await?.record);
        }
    }
    for slot in moved.into_iter().filter(|slot| slot.state == SlotState::Set) {
        let waiver = kept_waiver(work, &slot).await?;
        settle(work, slot, &waiver).await?;
    }
    Ok(())
}

/// The waiver under which a slot was set.
async fn kept_waiver(work: &mut Work, slot: &Slot) -> Result<Waiver, Failure> {
    let kept = slot_history::waivers_of(work.db(), &slot.code.0).await?;
    Ok(Waiver {
        gates: kept.iter().map(|waiver| waiver.gate).collect(),
        reason: kept.first().map_or_else(String::new, |waiver| waiver.reason.clone()),
    })
}
