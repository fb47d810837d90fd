//! Deferrals, closures, parking and reopening.

use async_recursion::async_recursion as boxed;

use crate::excursions::allowed;
use crate::records::{Ruled, remove};
use crate::work::Work;
use crate::{Failure, slots};
use domain::cells::Line;
use domain::codes::TaskCode;
use domain::debrief::check_deferral;
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::roles::{Action, deferral_action};
use domain::slots::Slot;
use domain::units::Share;
use domain::words::{ClosureKind, SlotState, TaskState};
use store::{Kept, slots as slot_rows, standing};

impl Ruled for Deferral {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        deferral: &mut Self,
    ) -> Result<(), Failure> {
        allowed(work, deferral_action(deferral.phase))?;
        let wrong = check_deferral(deferral);
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
        if before.is_none() {
            if deferral.decided_by.is_none() {
                deferral.decided_by = Some(Line::known(work.actor.name.clone()));
            }
            if deferral.day.is_none() && !work.creates_missing {
                deferral.day = Some(work.today);
            }
        }
        let is_new_target =
            before.is_none_or(|before| before.to_excursion != deferral.to_excursion);
        if let Some(to) = deferral.to_excursion.as_ref().filter(|_| is_new_target)
            && !work.creates_missing
            && slots::is_earlier(work.db(), to, &deferral.excursion).await?
        {
            let from = &deferral.excursion;
            let message = format!(
                "{to} comes before {from}, so that is no deferral. Move the slot to {to} instead, \
                 or leave this field empty."
            );
            return Err(Failure::field("to_excursion", message));
        }
        let moved = before.is_some_and(|before| {
            (&before.task, &before.excursion) != (&deferral.task, &deferral.excursion)
                && before.slot == deferral.slot
        });
        if moved {
            // The slot stays with the task and the excursion that it was for.
            deferral.slot = None;
        }
        if let Some(slot) = &deferral.slot {
            slots::result::named(work, slot, &deferral.task, &deferral.excursion).await?;
        }
        if deferral.slot.is_none() {
            let of_task = slot_rows::of_task(work.db(), &deferral.task).await?;
            deferral.slot = of_task
                .into_iter()
                .filter(|slot| slot.excursion == deferral.excursion)
                .find(|slot| slot.state != SlotState::Withdrawn)
                .map(|slot| slot.code.0);
        }
        Ok(())
    }

    async fn follow(
        work: &mut Work,
        before: Option<&Self>,
        deferral: &Self,
    ) -> Result<(), Failure> {
        if let Some(slot) = before.and_then(|before| before.slot.as_ref())
            && deferral.slot.as_ref() != Some(slot)
        {
            slots::result::wait_again(work, slot).await?;
        }
        if let Some(code) = &deferral.slot
            && let Some(slot) = Slot::find(work.db(), code.as_str()).await?
            && matches!(slot.state, SlotState::Set | SlotState::Pencilled)
        {
            slots::step(work, slot, SlotState::Withdrawn, None).await?;
        }
        Ok(())
    }
}

impl Ruled for Closure {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        closure: &mut Self,
    ) -> Result<(), Failure> {
        match (closure.kind, &closure.duplicate_of) {
            (ClosureKind::Duplicate, None) => {
                return Err(Failure::field(
                    "duplicate_of",
                    "Name the task of which this one is a duplicate.",
                ));
            }
            (ClosureKind::Duplicate, Some(other)) if *other == closure.task => {
                return Err(Failure::field("duplicate_of", "A task is no duplicate of itself."));
            }
            (ClosureKind::Duplicate, Some(_)) | (_, None) => {}
            (_, Some(_)) => closure.duplicate_of = None,
        }
        if closure.words.is_empty() && closure.evidence.is_empty() && !work.creates_missing {
            return Err(Failure::field("words", "Say in words why the task ends here."));
        }
        if before.is_none() && closure.day.is_none() && !work.creates_missing {
            closure.day = Some(work.today);
        }
        Ok(())
    }
}

impl Ruled for Parking {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        parking: &mut Self,
    ) -> Result<(), Failure> {
        if before.is_none() && parking.day.is_none() && !work.creates_missing {
            parking.day = Some(work.today);
        }
        Ok(())
    }
}

/// So many parkings are undone at once.
pub const UNDONE_AT_ONCE: usize = 60;

/// Undoes parkings as if they had not been made; the log keeps what they said. Refused where one of
/// their tasks is not parked by it any more.
#[boxed]
pub async fn undo_parkings(work: &mut Work, codes: &[&str]) -> Result<Vec<TaskCode>, Failure> {
    allowed(work, Action::Park)?;
    if codes.is_empty() || codes.len() > UNDONE_AT_ONCE {
        let words = format!("1 to {UNDONE_AT_ONCE} parkings are undone at once.");
        return Err(Failure::Refused(words));
    }
    let mut tasks = Vec::new();
    for code in codes {
        let Some(parking) = Parking::find(work.db(), code).await? else {
            return Err(Failure::Refused(format!("{code} is undone already.")));
        };
        let stands = standing::find(work.db(), &parking.task).await?;
        if stands.is_none_or(|stands| stands.state != TaskState::Parked) {
            return Err(Failure::Refused(format!(
                "{} is not parked any more, so there is nothing to undo. Its page says what \
                 happened since.",
                parking.task
            )));
        }
        remove::<Parking>(work, code).await?;
        tasks.push(parking.task);
    }
    Ok(tasks)
}

impl Ruled for Reopening {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        reopening: &mut Self,
    ) -> Result<(), Failure> {
        if reopening.share_left == Share::NONE {
            return Err(Failure::field("share_left", "Something must be left to do, 1 to 100 %."));
        }
        if before.is_none() && reopening.day.is_none() && !work.creates_missing {
            reopening.day = Some(work.today);
        }
        Ok(())
    }
}
