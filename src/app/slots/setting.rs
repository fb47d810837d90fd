//! Setting a slot for good: what must hold, what may be waived, and what is kept of the moment.

use super::{Waiver, if_then};
use crate::records::{Base, current, write};
use crate::work::Work;
use crate::{Failure, fit};
use async_recursion::async_recursion as boxed;
use domain::cells::{Cell as _, Line};
use domain::roles::{self, Action};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::units::Share;
use domain::verdicts::{may_set, share_to_set};
use domain::words::{GateName, SlotState, TechniqueState};
use store::{Kept, slot_history, slots, standing};

/// Sets a slot for good: shares, gates, waiver, and what is kept of the moment.
#[boxed]
pub(super) async fn settle(
    work: &mut Work,
    mut slot: Slot,
    waiver: &Waiver,
) -> Result<Slot, Failure> {
    let technique = technique_to_set(work, &slot).await?;
    if_then::may_follow(work, &slot).await?;
    shares_hold(work, &slot).await?;
    let judged = fit::judge_slot(work.db(), &slot).await?;
    let gates = judged.verdicts();
    if let Err(refused) = may_set(&gates, &waiver.gates) {
        let against: Vec<GateName> = refused.gates.iter().map(|(gate, _)| *gate).collect();
        return Err(Failure::Refused(judged.refusal(&against)));
    }
    // Only a gate that stands against the slot can be waived; other names are left out.
    let needed = |gate: &&GateName| may_set(&gates, &without(&waiver.gates, **gate)).is_err();
    let passed_over: Vec<GateName> = waiver.gates.iter().filter(needed).copied().collect();
    let mut reason_given = None;
    if !passed_over.is_empty() {
        if !roles::may(work.actor.role, Action::Waive) {
            return Err(Failure::Forbidden(roles::refusal(work.actor.role, Action::Waive)));
        }
        if waiver.reason.trim().is_empty() {
            return Err(Failure::field(
                "waiver",
                "Write down why the rule may be passed over here.",
            ));
        }
        let reason = Line::read(&waiver.reason);
        reason_given = Some(reason.map_err(|message| Failure::field("waiver", message))?);
    }
    keep_the_moment(work, &mut slot, technique).await?;
    slot.waived_gate = (!passed_over.is_empty())
        .then(|| Line::known(passed_over.iter().map(|g| g.word()).collect::<Vec<_>>().join(", ")));
    slot.waiver.clone_from(&reason_given);
    slot.state = SlotState::Set;
    let slot = write(work, slot, Base::Current).await?.record;
    let (now, who) = (work.now, work.actor.name.clone());
    slot_history::replace_gates(work.db(), &slot.code.0, &judged.gate_rows(now)).await?;
    slot_history::remove_waivers(work.db(), &slot.code.0).await?;
    for gate in passed_over {
        let kept = slot_history::Waiver {
            gate,
            reason: reason_given.as_ref().map_or_else(String::new, ToString::to_string),
            who: who.clone(),
            at: now,
        };
        slot_history::add_waiver(work.db(), &slot.code.0, &kept).await?;
    }
    Ok(slot)
}

fn without(gates: &[GateName], gate: GateName) -> Vec<GateName> {
    gates.iter().copied().filter(|other| *other != gate).collect()
}

/// The set shares of a task never exceed the share left.
async fn shares_hold(work: &mut Work, slot: &Slot) -> Result<(), Failure> {
    let left = standing::find(work.db(), &slot.task).await?.map_or(Share::WHOLE, |s| s.share_left);
    let others: Vec<Slot> = slots::live_of_task(work.db(), &slot.task)
        .await?
        .into_iter()
        .filter(|other| other.state == SlotState::Set && other.code != slot.code)
        .collect();
    let held: Vec<Share> = others.iter().map(|other| other.share.unwrap_or(left)).collect();
    share_to_set(left, &held, slot.share).map_err(|message| {
        let there: Vec<&str> = others.iter().map(|other| other.excursion.as_str()).collect();
        let there =
            if there.is_empty() { String::new() } else { format!(" ({})", there.join(", ")) };
        Failure::field("share", format!("{message}{there}"))
    })?;
    Ok(())
}

/// The technique of a slot, where it may be set: one that is drafted or withdrawn may not, and no
/// waiver changes that.
async fn technique_to_set(work: &mut Work, slot: &Slot) -> Result<Option<Technique>, Failure> {
    let Some(code) = &slot.technique else { return Ok(None) };
    let technique = Technique::find(work.db(), code.as_str()).await?;
    match technique.as_ref().and_then(unready) {
        Some(refused) => Err(Failure::field("technique", format!("{code} {refused}"))),
        None => Ok(technique),
    }
}

/// Why a technique may not be set.
pub(super) const fn unready(technique: &Technique) -> Option<&'static str> {
    match technique.state {
        TechniqueState::Drafted => Some(
            "is drafted, so it can be pencilled but not set. Clear it first, or choose another \
             technique.",
        ),
        TechniqueState::Withdrawn => {
            Some("is withdrawn, so it can be pencilled but not set. Choose another technique.")
        }
        TechniqueState::Rehearsed | TechniqueState::Cleared => None,
    }
}

/// Setting keeps the estimate and its estimator as they stood.
async fn keep_the_moment(
    work: &mut Work,
    slot: &mut Slot,
    technique: Option<Technique>,
) -> Result<(), Failure> {
    let task = current::<Task>(work, slot.task.as_str()).await?;
    let of_technique = technique
        .filter(|technique| technique.likely.is_some())
        .map(|technique| (technique.optimistic, technique.likely, technique.pessimistic));
    (slot.optimistic, slot.likely, slot.pessimistic) =
        of_technique.unwrap_or((task.optimistic, task.likely, task.pessimistic));
    slot.estimator = task.estimator;
    if slot.set_on.is_none() || !work.creates_missing {
        slot.set_on = Some(work.today);
    }
    Ok(())
}

pub(super) fn forget_setting(slot: &mut Slot) {
    slot.set_on = None;
    (slot.optimistic, slot.likely, slot.pessimistic) = (None, None, None);
    slot.estimator = None;
    slot.waived_gate = None;
    slot.waiver = None;
}
