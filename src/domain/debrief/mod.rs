//! The debrief of one flown excursion: what is still missing before it can be closed, and what is
//! wrong with one result.

use std::collections::BTreeSet;

use crate::attempts::Attempt;
use crate::cells::FieldError;
use crate::codes::{SlotCode, TaskCode, ToolCode};
use crate::endings::Deferral;
use crate::excursions::ExcursionTool;
use crate::history::{Left, StatedAmount};
use crate::units::{Minutes, Share};
use crate::words::{DeferralPhase, DeferralReason, FunctionAfter, Outcome, OutsideAfter};

/// A slot that was set on the excursion.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetSlot {
    pub slot: SlotCode,
    pub task: TaskCode,
}

/// What keeps an excursion from being closed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Missing {
    NoResult {
        slot: SlotCode,
        task: TaskCode,
    },
    /// Somebody began to type a result that is not complete.
    Unfinished {
        slot: Option<SlotCode>,
        task: TaskCode,
    },
    /// It was added and begun on the board of the day.
    Added {
        task: TaskCode,
    },
    ToolNotCounted {
        tool: ToolCode,
        out: i64,
    },
    ToolsDoNotAddUp {
        tool: ToolCode,
        out: i64,
        accounted: i64,
    },
}

impl std::fmt::Display for Missing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoResult { task, slot } => write!(
                f,
                "{task} was set here ({slot}) and has no result: enter how it ended, or defer it."
            ),
            Self::Unfinished { task, .. } => {
                write!(
                    f,
                    "The result of {task} is not complete: fill in what is marked, or remove it."
                )
            }
            Self::Added { task } => write!(
                f,
                "{task} was added and begun on the board of the day and has no result: enter how it ended, or undo its presses there."
            ),
            Self::ToolNotCounted { tool, out } => write!(
                f,
                "{tool}: {out} went out and none is accounted for. Count what came in, was left outside or lost, or say why nobody counted."
            ),
            Self::ToolsDoNotAddUp { tool, out, accounted } => write!(
                f,
                "{tool}: {out} went out, and in, left outside and lost make {accounted}. Correct the count, or say why nobody counted."
            ),
        }
    }
}

/// Everything that must be answered first: each set slot by an attempt or a deferral that names it, each
/// result that was begun, each tool. Empty: the excursion can be closed.
///
/// Source: Operating an Outpost in the New Frontier, p. 330, 2017: a tool count that was skipped hid a
/// loss for weeks.
pub fn missing(
    slots: &[SetSlot],
    answered: &BTreeSet<SlotCode>,
    unfinished: &[(Option<SlotCode>, TaskCode)],
    tools: &[ExcursionTool],
) -> Vec<Missing> {
    let begun: BTreeSet<&SlotCode> =
        unfinished.iter().filter_map(|(slot, _)| slot.as_ref()).collect();
    let no_result = slots
        .iter()
        .filter(|set| !answered.contains(&set.slot) && !begun.contains(&set.slot))
        .map(|set| Missing::NoResult { slot: set.slot.clone(), task: set.task.clone() });
    let unfinished = unfinished
        .iter()
        .map(|(slot, task)| Missing::Unfinished { slot: slot.clone(), task: task.clone() });
    let uncounted = tools.iter().filter(|row| !row.adds_up()).map(|row| {
        let (tool, out) = (row.tool.clone(), row.taken_out);
        let counts = [row.brought_in, row.left_outside, row.lost];
        if counts.iter().all(Option::is_none) {
            Missing::ToolNotCounted { tool, out }
        } else {
            let accounted = counts.iter().flatten().sum();
            Missing::ToolsDoNotAddUp { tool, out, accounted }
        }
    });
    no_result.chain(unfinished).chain(uncounted).collect()
}

/// What is known around one result.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ResultContext {
    /// How long the excursion lasted.
    pub actual: Option<Minutes>,
    /// The cause chosen is “time ran out”, which asks for the minutes spent.
    pub time_ran_out: bool,
    /// What was left of the task before it; `None`: nobody looked.
    pub left_before: Option<Left>,
}

/// What is wrong with one attempt beyond its single fields.
pub fn check_attempt(attempt: &Attempt, around: &ResultContext) -> Vec<FieldError> {
    let mut wrong: Vec<FieldError> = what_is_left(attempt, around.left_before.as_ref())
        .map(|message| FieldError::new("left_after", message))
        .into_iter()
        .collect();
    let mut say = |field: &str, message: &str| wrong.push(FieldError::new(field, message));
    if attempt.outcome == Outcome::NotCompleted && attempt.cause.is_none() {
        say("cause", "Choose what stopped it; there is a kind for an unknown cause.");
    }
    if attempt.planned_share.is_some_and(|share| share <= Share::NONE) {
        say("planned_share", "The % planned is 1 to 100; leave it empty for all that was left.");
    }
    if attempt.outside_after == Some(OutsideAfter::Nothing) && attempt.temporary.is_some() {
        say(
            "outside_after",
            "Temporary hardware is named: choose “temporary hardware left”, or clear its name.",
        );
    }
    let never_begun = attempt.outcome == Outcome::NotReached;
    let spent = attempt.minutes.is_some_and(|minutes| minutes > Minutes(0));
    if never_begun && (spent || attempt.pet_start.is_some() || attempt.pet_end.is_some()) {
        say(
            "outcome",
            "Not reached means never begun. It has times: clear them, or choose another outcome.",
        );
    }
    match (attempt.pet_start, attempt.pet_end, around.actual) {
        (Some(start), Some(end), _) if end <= start => {
            say("pet_end", "It ends before it begins: PET to must lie after PET from.");
        }
        (_, Some(end), Some(actual)) if end.0 > actual.0 => {
            say(
                "pet_end",
                &format!("The excursion lasted {}: this lies after it.", actual.clock()),
            );
        }
        (Some(start), None, Some(actual)) if start.0 > actual.0 => {
            say(
                "pet_start",
                &format!("The excursion lasted {}: this lies after it.", actual.clock()),
            );
        }
        _ => {}
    }
    let stopped = matches!(attempt.outcome, Outcome::PartDone | Outcome::NotCompleted);
    if stopped && around.time_ran_out && minutes_spent(attempt).is_none() {
        say(
            "minutes",
            "Type the minutes spent (or PET from and to): they decide whether the time or the approach stopped it.",
        );
    }
    wrong.extend(minutes_disagree(attempt));
    wrong
}

/// The minutes from PET to PET.
fn from_pet_to_pet(attempt: &Attempt) -> Option<Minutes> {
    let (start, end) = attempt.pet_start.zip(attempt.pet_end)?;
    (end > start).then(|| Minutes(end.0 - start.0))
}

/// Minutes that were typed beside PET from and to, and are not what lies between the two.
pub fn minutes_disagree(attempt: &Attempt) -> Option<FieldError> {
    let (typed, between) = attempt.minutes.zip(from_pet_to_pet(attempt))?;
    (typed != between).then(|| {
        let message = format!(
            "PET from and to make {} min, and {} min are typed. Correct one of them, or leave the \
             minutes empty.",
            between.0, typed.0
        );
        FieldError::new("minutes", message)
    })
}

/// Minutes that followed from the PET follow again where only the PET was corrected.
pub fn follow_pet(before: &Attempt, attempt: &mut Attempt) {
    let times = |one: &Attempt| (one.pet_start, one.pet_end);
    if before.minutes == from_pet_to_pet(before)
        && attempt.minutes == before.minutes
        && times(attempt) != times(before)
    {
        attempt.minutes = None;
    }
}

/// What is wrong with what an attempt says is left. Only `done` leaves nothing.
fn what_is_left(attempt: &Attempt, before: Option<&Left>) -> Option<String> {
    let part_done = match attempt.outcome {
        // The field stands on every row of a form; these two say nothing in it.
        Outcome::Done | Outcome::NotReached => return None,
        Outcome::PartDone => true,
        Outcome::NotCompleted => false,
    };
    let known = before.and_then(Left::known);
    let was = known.map_or_else(String::new, |left| format!("{left} was left before. "));
    match attempt.said() {
        None if part_done => Some(format!("{was}Say how much of the task is left now: 1 to 99 %.")),
        Some(StatedAmount::Left(Share::NONE)) => {
            Some(leaves_nothing("0 % left means that the task is done"))
        }
        Some(StatedAmount::Left(Share::WHOLE)) if part_done => Some(
            "Part done leaves 1 to 99 %. If nothing was added, choose “not completed”.".to_owned(),
        ),
        Some(StatedAmount::Left(left)) if part_done && known == Some(left) => Some(format!(
            "{was}Say how much is left now, or choose “not completed” if nothing was added."
        )),
        Some(StatedAmount::Left(left)) if !part_done => {
            before.filter(|before| left > before.most).map(|before| {
                format!(
                    "{} was left before: “not completed” leaves at most that much.",
                    before.most
                )
            })
        }
        None | Some(StatedAmount::Left(_)) => None,
        Some(StatedAmount::Added(Share(..=0))) if part_done => {
            Some("Say how much of the task is left now: 1 to 99 %.".to_owned())
        }
        Some(StatedAmount::Added(share)) => {
            let most = before.map_or(Share::WHOLE, |before| before.most);
            (share >= most && share > Share::NONE).then(|| {
                leaves_nothing(&format!(
                    "{most} was left before and {share} was added: nothing is left"
                ))
            })
        }
    }
}

fn leaves_nothing(why: &str) -> String {
    format!("{why}. Is it done? Then choose “done”; else say how much is left: 1 to 99 %.")
}

/// The minutes of work: as typed, else from PET to PET.
pub(crate) fn minutes_spent(attempt: &Attempt) -> Option<Minutes> {
    attempt.minutes.or_else(|| from_pet_to_pet(attempt))
}

/// What is wrong with one deferral beyond its single fields.
pub fn check_deferral(deferral: &Deferral) -> Vec<FieldError> {
    let mut wrong = Vec::new();
    if deferral.to_excursion.as_ref() == Some(&deferral.excursion) {
        wrong.push(FieldError::new(
            "to_excursion",
            "That is the excursion it was removed from; choose another, or none.",
        ));
    }
    wrong
}

/// Work that ended `done` and did not bring the function back opens a follow-on task.
pub fn opens_follow_on(attempt: &Attempt) -> bool {
    attempt.outcome == Outcome::Done && attempt.function_after == Some(FunctionAfter::NotRestored)
}

/// The deferral that each set slot becomes when its excursion is called off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenUp {
    pub slot: SlotCode,
    pub task: TaskCode,
    pub reason: DeferralReason,
    pub phase: DeferralPhase,
}

/// Calling an excursion off loses nothing: one deferral for each of its set slots.
pub fn called_off(slots: &[SetSlot], launched: bool) -> Vec<GivenUp> {
    let phase = if launched { DeferralPhase::BeforeEgress } else { DeferralPhase::BeforeLaunch };
    let reason = DeferralReason::ExcursionGivenUp;
    slots
        .iter()
        .map(|set| GivenUp { slot: set.slot.clone(), task: set.task.clone(), reason, phase })
        .collect()
}

#[cfg(test)]
mod tests;
