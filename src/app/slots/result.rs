//! A slot and its result: the slot that an attempt or a deferral names, and what becomes of one
//! that has lost its result.

use crate::Failure;
use crate::slots::step;
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::codes::{ExcursionCode, SlotCode, TaskCode};
use domain::excursions::Excursion;
use domain::slots::Slot;
use domain::words::{DeferralPhase, ExcursionState, SlotState};
use store::{Kept as _, attempts, endings, excursions};

/// The slot that a result names; refused where it is another task's or another excursion's.
#[boxed]
pub(crate) async fn named(
    work: &mut Work,
    code: &SlotCode,
    task: &TaskCode,
    excursion: &ExcursionCode,
) -> Result<Option<Slot>, Failure> {
    let slot = Slot::find(work.db(), code.as_str()).await?;
    if let Some(slot) = &slot
        && (slot.task != *task || slot.excursion != *excursion)
    {
        let message = format!(
            "{code} holds {} on {}, not this task here. Leave the slot empty, or name the one of \
             this task.",
            slot.task, slot.excursion
        );
        return Err(Failure::field("slot", message));
    }
    Ok(slot)
}

/// A slot that has no result any more waits for one again, as it did at landing, as long as the
/// debrief of its excursion is open.
#[boxed]
pub(crate) async fn wait_again(work: &mut Work, code: &SlotCode) -> Result<(), Failure> {
    let Some(slot) = Slot::find(work.db(), code.as_str()).await? else { return Ok(()) };
    if !matches!(slot.state, SlotState::Flown | SlotState::Withdrawn) {
        return Ok(());
    }
    let on = slot.excursion.clone();
    let flown = Excursion::find(work.db(), on.as_str())
        .await?
        .is_some_and(|excursion| excursion.state == Some(ExcursionState::Flown));
    if !flown || excursions::closed_at(work.db(), &on).await?.is_some() {
        return Ok(());
    }
    let put_off = endings::deferrals_of_excursion(work.db(), &on).await?;
    let has_deferral = put_off.iter().any(|deferral| {
        deferral.slot.as_ref() == Some(code) && deferral.phase != DeferralPhase::BeforeLaunch
    });
    if !has_deferral && attempts::of_slot(work.db(), code).await?.is_empty() {
        step(work, slot, SlotState::Set, None).await?;
    }
    Ok(())
}
