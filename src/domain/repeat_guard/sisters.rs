//! What an attempt on one unit means for the open units of its family.

use super::{Approach, Guard, Judgement, Record, Tells, Try, UnitKey, tells};
use crate::codes::AttemptCode;
use crate::history::places;
use crate::words::Outcome;

/// A unit for which an approach stands worse than before one attempt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Turned {
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
) -> Vec<Turned> {
    let Some(tried) = record.tries.iter().find(|tried| tried.attempt == *failed) else {
        return Vec::new();
    };
    if tells(&tried.account) != Tells::Failure || !tried.approach.is_whole() {
        return Vec::new();
    }
    let without: Vec<Try> =
        record.tries.iter().filter(|other| other.attempt != *failed).cloned().collect();
    let earlier = Guard::new(Record { tries: &without, ..record });
    let now = Guard::new(record);
    open_units
        .iter()
        .map(|unit| Turned {
            unit: unit.clone(),
            approach: tried.approach.clone(),
            before: earlier.judge(unit, &tried.approach),
            after: now.judge(unit, &tried.approach),
        })
        .filter(|turned| turned.after.attempts().contains(failed) && turned.after != turned.before)
        .collect()
}

/// The open sisters to which a `done` by a new approach is offered; none where the approach had been
/// `done` before in this family, or was not fully recorded.
pub fn offered_to_sisters(
    done: &AttemptCode,
    open_units: &[UnitKey],
    record: Record<'_>,
) -> Vec<UnitKey> {
    let whens: Vec<_> = record.tries.iter().map(|tried| &tried.when).collect();
    let placed = places(&whens, |_| true);
    let Some(index) = record.tries.iter().position(|tried| tried.attempt == *done) else {
        return Vec::new();
    };
    let tried = &record.tries[index];
    let is_done = |tried: &Try| tried.account.outcome == Outcome::Done;
    let was_done_before = record.tries.iter().zip(&placed).any(|(other, place)| {
        *place < placed[index] && is_done(other) && other.approach.is(&tried.approach)
    });
    if !is_done(tried) || !tried.approach.is_whole() || was_done_before {
        return Vec::new();
    }
    open_units
        .iter()
        .filter(|unit| !unit.is_the_unit_of(&tried.unit, None) && unit.task != tried.unit.task)
        .cloned()
        .collect()
}
