//! If–then of a slot: its fallbacks with what the record says of each approach, and the rules on
//! which technique may stand in one.

use async_recursion::async_recursion as boxed;

use super::setting::unready;
use crate::records::{current, not_there};
use crate::work::Work;
use crate::{Failure, Reader, fit};
use compute::day::Minutes;
use compute::fit::{Ask, Guard, work_minutes};
use domain::cells::FieldError;
use domain::codes::TechniqueCode;
use domain::kinds::Kind;
use domain::repeat_guard::Approach;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::verdicts::is_against;
use domain::words::{GateName, Outcome, SlotState};
use store::attempts::{self, Tally};
use store::{Kept as _, register};

/// The fallbacks of a slot with what is known around them.
#[derive(Debug, Clone)]
pub struct IfThen {
    pub slot: Slot,
    pub version: i64,
    pub title: String,
    /// It is planned ahead, so that its list may still change.
    pub is_ahead: bool,
    /// What the task can be done by, best first, with the repeat guard's word.
    pub approaches: Vec<(Approach, Guard)>,
    /// The checks that stand against the slot.
    pub against: Vec<GateName>,
    /// The minutes by its approach alone, and with the list.
    pub minutes: Option<[Minutes; 2]>,
    /// What became of the attempts by these techniques.
    pub tallies: Vec<Tally>,
}

impl IfThen {
    /// How many attempts were begun by that approach, and how many of them ended done.
    pub fn record_of(&self, approach: &Approach) -> (i64, i64) {
        let own = self.tallies.iter().filter(|one| {
            approach.technique.as_ref() == Some(&one.technique)
                && (approach.side.is_none() || approach.side == one.side)
        });
        let begun = own.filter(|one| one.outcome != Outcome::NotReached);
        begun.fold((0, 0), |(all, done), one| {
            let is_done = one.outcome == Outcome::Done;
            (all + one.count, done + if is_done { one.count } else { 0 })
        })
    }
}

/// Reads the fallbacks of a slot.
#[boxed]
pub async fn read(db: &mut Reader, code: &str) -> Result<IfThen, Failure> {
    let not_there = || Failure::NotFound(Kind::Slot, code.to_owned());
    let slot = Slot::find(db, code).await?.ok_or_else(not_there)?;
    let version = register::versions(db, Kind::Slot, [code]).await?;
    let task = Task::find(db, slot.task.as_str()).await?;
    let board = fit::board_seen(db, std::slice::from_ref(&slot.task)).await?;
    let task_at = board.task_at(&slot.task);
    let approaches: Vec<(Approach, Guard)> = task_at
        .into_iter()
        .flat_map(|at| &board.snapshot.tasks[at].approaches)
        .filter(|way| way.technique.is_some())
        .map(|way| {
            let approach = Approach { technique: way.technique.clone(), side: way.side.clone() };
            (approach, way.guard)
        })
        .collect();
    let techniques: Vec<TechniqueCode> =
        approaches.iter().filter_map(|(approach, _)| approach.technique.clone()).collect();
    let tallies = attempts::tallies(db, &techniques).await?;
    let is_ahead = matches!(slot.state, SlotState::Pencilled | SlotState::Set);
    let here = board.excursion_at(&slot.excursion).filter(|_| is_ahead);
    let minutes = here.and_then(|here| {
        let at = board.slots[here].position(|own| own.code == slot.code)?;
        work_minutes(&board.snapshot, &board.constants, here, at)
    });
    let judged = here.and_then(|_| board.judge(&slot.task, &slot.excursion, &Ask::default()));
    let against = judged.map_or_else(Vec::new, |judged| {
        let all = judged.gates.iter().filter(|gate| is_against(gate.verdict));
        all.map(|gate| gate.gate).collect()
    });
    Ok(IfThen {
        version: version.get(code).copied().unwrap_or(0),
        title: task.map_or_else(String::new, |task| task.title.into_string()),
        is_ahead: here.is_some(),
        approaches,
        against,
        minutes,
        tallies,
        slot,
    })
}

/// A fallback names a technique of the record that is for this task or its family.
#[boxed]
pub(super) async fn are_of_the_task(work: &mut Work, slot: &Slot) -> Result<(), Failure> {
    let mut wrong = Vec::new();
    let mut task = None;
    for code in slot.fallbacks.0.iter().filter_map(|then| then.technique.as_ref()) {
        let Some(technique) = Technique::find(work.db(), code.as_str()).await? else {
            wrong.push(not_there("fallbacks", Kind::Technique, code.as_str()));
            continue;
        };
        if task.is_none() {
            task = Some(current::<Task>(work, slot.task.as_str()).await?);
        }
        let is_for = |task: &Task| {
            technique.task.as_ref() == Some(&task.code.0)
                || technique.family.is_some() && technique.family == task.family
        };
        if !task.as_ref().is_some_and(is_for) {
            let words = format!("{code} is not for {}; choose an approach of its own.", slot.task);
            wrong.push(FieldError::new("fallbacks", words));
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) }
}

/// A technique that may not be set may not follow in a set slot either.
#[boxed]
pub(super) async fn may_follow(work: &mut Work, slot: &Slot) -> Result<(), Failure> {
    for code in slot.fallbacks.0.iter().filter_map(|then| then.technique.as_ref()) {
        if let Some(technique) = Technique::find(work.db(), code.as_str()).await?
            && let Some(why) = unready(&technique)
        {
            return Err(Failure::field("fallbacks", format!("{code} {why}")));
        }
    }
    Ok(())
}
