//! The order of the slots on an excursion: making room for one more.

use crate::Failure;
use crate::records::{Base, write};
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::codes::{ExcursionCode, SlotCode};
use domain::slots::Slot;
use domain::words::SlotState;
use store::slots;

/// The order number for a slot right before another one, or after all where none is named. Where
/// the numbers leave no room, those behind move on; the order among them stays.
#[boxed]
pub(crate) async fn make_room(
    work: &mut Work,
    excursion: &ExcursionCode,
    before: Option<&SlotCode>,
) -> Result<Option<i64>, Failure> {
    let live = |slot: &Slot| matches!(slot.state, SlotState::Pencilled | SlotState::Set);
    let all = slots::of_excursion(work.db(), excursion).await?;
    let here: Vec<Slot> = all.into_iter().filter(live).collect();
    let at = before.and_then(|code| here.iter().position(|slot| slot.code.0 == *code));
    // Without a number of its own the slot goes behind all others when it is saved.
    let Some((at, number)) = at.and_then(|at| Some((at, here[at].place?))) else {
        return Ok(None);
    };
    let ahead = at.checked_sub(1).and_then(|at| here[at].place).unwrap_or(0);
    if number - 1 > ahead {
        return Ok(Some(number - 1));
    }
    for (next, slot) in (number + 1..).zip(&here[at..]) {
        if slot.place.is_none_or(|place| place >= next) {
            break;
        }
        write(work, Slot { place: Some(next), ..slot.clone() }, Base::Current).await?;
    }
    Ok(Some(number))
}
