//! What an attempt on one unit means for the open units of its family.

use super::{Approach, Guard, Judgement, Record, Tells, Try, UnitKey, tells};
use crate::codes::AttemptCode;
use crate::words::words;

words! {
    /// How an approach affects the open units of a family: it failed on a sister unit, or it was new
    /// and worked there.
    SisterEffect { Questioned = "in question", Offered = "offered" }
}

/// A unit for which an approach stands worse than before one attempt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WorseOnSister {
    pub unit: UnitKey,
    pub approach: Approach,
    pub before: Judgement,
    pub after: Judgement,
}

/// The open units for which the failed attempt turned its approach: into question on the sisters,
/// shut where it failed. Slots that are already set with it stay, and are shown to the lead.
/// Empty where the attempt is no failure or its approach was not fully recorded.
pub fn newly_in_question(
    failed: &AttemptCode,
    open_units: &[UnitKey],
    record: Record<'_>,
    guard: &Guard<'_>,
) -> Vec<WorseOnSister> {
    let Some(tried) = record.tries.iter().find(|tried| tried.attempt == *failed) else {
        return Vec::new();
    };
    if tells(&tried.account) != Tells::Failure || !tried.approach.is_whole() {
        return Vec::new();
    }
    let without: Vec<Try>;
    // What nobody dated takes its place from what was entered before it, so it may move where this
    // attempt is left out; else all others keep theirs.
    let moves = |other: &Try| !other.when.is_placed() && other.when.entry > tried.when.entry;
    let anew = if record.tries.iter().any(moves) {
        without = record.tries.iter().filter(|other| other.attempt != *failed).cloned().collect();
        Some(Guard::new(Record { tries: &without, ..record }))
    } else {
        None
    };
    let before = |unit: &UnitKey| match &anew {
        Some(earlier) => earlier.judge(unit, &tried.approach),
        None => guard.against_without(unit, &tried.approach, Some(failed)).judgement(),
    };
    open_units
        .iter()
        .map(|unit| (unit, guard.judge(unit, &tried.approach)))
        .filter(|(_, after)| after.attempts().contains(failed))
        .map(|(unit, after)| WorseOnSister {
            unit: unit.clone(),
            approach: tried.approach.clone(),
            before: before(unit),
            after,
        })
        .filter(|turned| turned.after != turned.before)
        .collect()
}

/// Whether a `done` by an approach that was new to its family is offered to this open unit: to every
/// one but that on which it was done.
pub fn is_offered_to(done: &Try, unit: &UnitKey) -> bool {
    !unit.is_the_unit_of(&done.unit, None) && unit.task != done.unit.task
}
