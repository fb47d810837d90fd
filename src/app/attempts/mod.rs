//! Attempts: what flew can always be recorded; what it means is derived from it.

mod cut_off;
pub mod form;
pub(crate) mod surroundings;
pub mod withdraw;

use crate::excursions::allowed;
use crate::records::{Base, Ruled, current, write};
use crate::work::Work;
use crate::{Failure, constraints, slots, swaps, touched};
use async_recursion::async_recursion as boxed;
use domain::attempts::Attempt;
use domain::cells::{FieldError, Line, Prose};
use domain::codes::{LinkCode, Own, TaskCode};
use domain::confirmations::Confirmation;
use domain::debrief::{follow_pet, opens_follow_on};
use domain::excursions::Excursion;
use domain::plausible::{AttemptContext, unlikely};
use domain::roles::Action;
use domain::slots::Slot;
use domain::tasks::{Link, Task};
use domain::units::Minutes;
use domain::words::{ExcursionState, LinkKind, Outcome, OutsideAfter, SlotState};
use store::{Kept, excursions, families, imports};

use cut_off::Planned;

impl Ruled for Attempt {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        attempt: &mut Self,
    ) -> Result<(), Failure> {
        if let Some(before) = before {
            follow_pet(before, attempt);
        }
        let from_table = work.creates_missing;
        let moved = before.is_some_and(|before| {
            (&before.task, &before.excursion) != (&attempt.task, &attempt.excursion)
                && before.slot == attempt.slot
        });
        if moved {
            // The slot stays with the task and the excursion that it was for.
            attempt.slot = None;
        }
        let Some(known) = surroundings::known(work.db(), attempt).await? else {
            // The codes are named by the check of references; what is wrong beside them is not lost.
            let wrong =
                surroundings::contradictions(work.db(), attempt, None, None, from_table).await?;
            return if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) };
        };
        let mut wrong = surroundings::wrong(work.db(), attempt, &known, before, from_table).await?;
        wrong.extend(not_flown(&known.excursion));
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
        confirm(work, before, attempt, &known)?;
        let slot = belonging_slot(work, before, attempt).await?;
        let time_ran_out = surroundings::says_time_ran_out(work.db(), attempt).await?;
        let left_before = if time_ran_out {
            Some(surroundings::left_before(work.db(), attempt, before).await?)
        } else {
            None
        };
        let planned = Planned { before, slot: slot.as_ref(), left_before, time_ran_out };
        complete(work, attempt, &known, planned).await?;
        swaps::check(work, attempt, &known.task, &known.excursion).await
    }

    async fn follow(work: &mut Work, before: Option<&Self>, attempt: &Self) -> Result<(), Failure> {
        if let Some(slot) = before.and_then(|before| before.slot.as_ref())
            && attempt.slot.as_ref() != Some(slot)
        {
            slots::result::wait_again(work, slot).await?;
        }
        if let Some(slot) = &attempt.slot {
            let slot = current::<Slot>(work, slot.as_str()).await?;
            if matches!(slot.state, SlotState::Set | SlotState::Pencilled) {
                slots::step(work, slot, SlotState::Flown, None).await?;
            }
        }
        if before.is_none() && opens_follow_on(attempt) {
            follow_on(work, attempt).await?;
        }
        if before.is_none() && work.creates_missing {
            imports::note_attempt(work.db(), &attempt.code.0).await?;
        }
        swaps::follow(work, attempt).await?;
        constraints::follow(work, before, attempt).await
    }

    async fn reach(work: &mut Work, attempt: &Self) -> Result<(), Failure> {
        touched::family(work, &attempt.task).await
    }
}

/// Asks once about minutes that are unlikely, and keeps who answered. A value that stood before is
/// not asked about again.
fn confirm(
    work: &mut Work,
    before: Option<&Attempt>,
    attempt: &mut Attempt,
    known: &AttemptContext,
) -> Result<(), Failure> {
    let sent = attempt.confirmed.take();
    let Some(asked) = unlikely(attempt, known.estimate) else { return Ok(()) };
    let stood = before.filter(|before| unlikely(before, known.estimate) == Some(asked));
    if let Some(before) = stood {
        attempt.confirmed.clone_from(&before.confirmed);
        return Ok(());
    }
    if !sent.is_some_and(|sent| sent.answers(asked)) {
        return Err(Failure::Invalid(vec![surroundings::ask(asked, known, work.creates_missing)]));
    }
    let by = if work.creates_missing {
        work.confirmed += 1;
        format!("{}, from a table", work.actor.name)
    } else {
        work.actor.name.clone()
    };
    attempt.confirmed = Some(Confirmation::given(asked, by, work.now));
    Ok(())
}

fn not_flown(excursion: &Excursion) -> Option<FieldError> {
    let code = &excursion.code.0;
    match excursion.state {
        Some(ExcursionState::Planned) => Some(FieldError::new(
            "excursion",
            format!("{code} is still planned; mark it as flown, then record what was tried on it."),
        )),
        Some(ExcursionState::CalledOff) => Some(FieldError::new(
            "excursion",
            format!("{code} was called off; nothing can have been tried on it."),
        )),
        Some(ExcursionState::Flown) | None => None,
    }
}

/// The slot that this attempt fills: the named one. A new row of a table that names none fills the
/// one that was set there; a person is asked (`form::settle`).
async fn belonging_slot(
    work: &mut Work,
    before: Option<&Attempt>,
    attempt: &mut Attempt,
) -> Result<Option<Slot>, Failure> {
    if let Some(code) = &attempt.slot {
        return slots::result::named(work, code, &attempt.task, &attempt.excursion).await;
    }
    if !work.creates_missing || before.is_some() {
        return Ok(None);
    }
    let set = form::slot_there(work.db(), &attempt.task, &attempt.excursion).await?;
    work.slots_found += u64::from(set.is_some());
    attempt.slot = set.as_ref().map(|slot| slot.code.0.clone());
    Ok(set)
}

/// Fills in what follows from the task, the slot and the excursion, as they were then.
async fn complete(
    work: &mut Work,
    attempt: &mut Attempt,
    known: &AttemptContext,
    planned: Planned<'_>,
) -> Result<(), Failure> {
    let AttemptContext { task, excursion, technique, .. } = known;
    let Planned { before, slot, .. } = planned;
    match attempt.outcome {
        Outcome::Done | Outcome::NotReached => attempt.left_after = None,
        Outcome::PartDone | Outcome::NotCompleted => {}
    }
    if attempt.left_after.is_some() || (!work.creates_missing && attempt.outcome == Outcome::Done) {
        attempt.share = None;
    }
    if let (Some(start), Some(end)) = (attempt.pet_start, attempt.pet_end) {
        attempt.minutes = Some(Minutes(end.0 - start.0));
    }
    let names_anew = before.is_none_or(|before| before.temporary != attempt.temporary);
    if attempt.outside_after.is_none() && attempt.temporary.is_some() && names_anew {
        // A table may name it for the past; a person who does so now says that it stands there.
        attempt.outside_after = (!work.creates_missing).then_some(OutsideAfter::Left);
    }
    let other_slot = |before: &&Attempt| {
        before.slot != attempt.slot && before.planned_share == attempt.planned_share
    };
    if before.as_ref().is_some_and(other_slot) {
        attempt.planned_share = None;
    }
    if attempt.planned_share.is_none() {
        attempt.planned_share = slot.and_then(|slot| slot.share);
    }
    let other_task = before.filter(|before| before.task != attempt.task);
    if let Some(before) = other_task {
        // Where it was and on what belongs to the task that it was taken for.
        if before.worksite == attempt.worksite {
            attempt.worksite = None;
        }
        if (&before.unit, &before.serial) == (&attempt.unit, &attempt.serial) {
            (attempt.unit, attempt.serial) = (None, None);
        }
    }
    if before.is_none() || other_task.is_some() {
        if attempt.worksite.is_none() {
            attempt.worksite.clone_from(&task.worksite);
        }
        if let (None, Some(position)) = (&attempt.unit, &task.position) {
            let stood = families::unit_at(work.db(), position, excursion.day).await?;
            if let Some((unit, serial)) = stood {
                attempt.unit = Some(unit);
                attempt.serial = attempt.serial.clone().or(serial);
            }
        }
        if attempt.recorded_by.is_none() {
            attempt.recorded_by = Some(Line::known(work.actor.name.clone()));
        }
    }
    if attempt.revision.is_none() && before.is_none() && !work.creates_missing {
        attempt.revision = technique.as_ref().and_then(|technique| technique.revision);
    }
    if before.is_some_and(|before| cut_off::is_outdated(before, attempt)) {
        attempt.cut_off = None;
    }
    if attempt.cut_off.is_none() && planned.time_ran_out {
        attempt.cut_off = cut_off::p80(known, &planned, attempt.planned_share);
    }
    Ok(())
}

/// Work that was done while the function did not come back is followed by a task of its own.
async fn follow_on(work: &mut Work, attempt: &Attempt) -> Result<(), Failure> {
    let task = current::<Task>(work, attempt.task.as_str()).await?;
    let title = format!("Find out why the function did not come back: {}", task.title);
    let follow_on = Task {
        code: Own(TaskCode::default()),
        title: Line::shortened(&title),
        notes: Prose::known(format!(
            "{} ended done on {} and the function was not restored.",
            task.code.0, attempt.excursion
        )),
        opened: Some(work.today),
        from_excursion: Some(attempt.excursion.clone()),
        optimistic: None,
        likely: None,
        pessimistic: None,
        estimator: None,
        triggered: false,
        ..task.clone()
    };
    let made = write(work, follow_on, Base::New).await?;
    let link = Link {
        code: Own(LinkCode::default()),
        task: made.record.code.0,
        kind: LinkKind::Continues,
        other: task.code.0,
        words: Some(Line::known("done, function not restored")),
    };
    write(work, link, Base::New).await?;
    Ok(())
}

/// Records an attempt from a page.
#[boxed]
pub async fn record(work: &mut Work, attempt: Attempt) -> Result<Attempt, Failure> {
    allowed(work, Action::RecordAttempt)?;
    if let Some(excursion) = Excursion::find(work.db(), attempt.excursion.as_str()).await?
        && excursions::closed_at(work.db(), &excursion.code.0).await?.is_some()
    {
        // What is entered late takes its place in the past; the excursion stays closed.
        work.because("entered after the debrief was closed");
    }
    Ok(write(work, attempt, Base::New).await?.record)
}
