//! The approaches that a task has, and those that are left to it.

use std::cmp::Reverse;

use super::{Approach, Guard, Judgement, Tells, UnitKey};
use crate::codes::TechniqueCode;
use crate::sides::Side;
use crate::words::{Outcome, TechniqueState};

/// An approach that may still be used, with the counts by which it is offered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApproachLeft {
    pub approach: Approach,
    pub judgement: Judgement,
    pub done_on_sisters: usize,
    pub successes_on_sisters: usize,
    /// On this unit and its sisters, answered or not.
    pub failures: usize,
}

/// Every technique that is not withdrawn, from each side that exists and that it is for. A technique
/// without sides is for all that exist; a task without sides has those of the technique.
pub fn approaches_of(
    sides_that_exist: &[Side],
    techniques: &[(TechniqueCode, Vec<Side>, TechniqueState)],
) -> Vec<Approach> {
    let usable = techniques.iter().filter(|(_, _, state)| *state != TechniqueState::Withdrawn);
    let mut found: Vec<Approach> = usable
        .flat_map(|(technique, sides, _)| {
            let shared: Vec<Option<Side>> = match (sides_that_exist, sides.as_slice()) {
                ([], []) => vec![None],
                (exist, []) => exist.iter().cloned().map(Some).collect(),
                ([], meant) => meant.iter().cloned().map(Some).collect(),
                (exist, meant) => {
                    exist.iter().filter(|side| meant.contains(side)).cloned().map(Some).collect()
                }
            };
            shared.into_iter().map(|side| Approach { technique: Some(technique.clone()), side })
        })
        .collect();
    found.sort();
    found.dedup();
    found
}

/// The approaches of a task that may be offered to it: those whose technique can be set.
pub fn approaches_to_offer(
    sides_that_exist: &[Side],
    techniques: &[(TechniqueCode, Vec<Side>, TechniqueState)],
) -> Vec<Approach> {
    let settable = |(_, _, state): &&(TechniqueCode, Vec<Side>, TechniqueState)| match state {
        TechniqueState::Rehearsed | TechniqueState::Cleared => true,
        TechniqueState::Drafted | TechniqueState::Withdrawn => false,
    };
    let techniques: Vec<_> = techniques.iter().filter(settable).cloned().collect();
    approaches_of(sides_that_exist, &techniques)
}

/// The candidates that are not shut for this unit, best first: most successes on sisters, then
/// fewest failures, then code. (The odds take over once they are reckoned.)
pub fn approaches_left(
    unit: &UnitKey,
    candidates: &[Approach],
    guard: &Guard<'_>,
) -> Vec<ApproachLeft> {
    let mut left: Vec<ApproachLeft> = candidates
        .iter()
        .map(|approach| count(unit, approach, guard))
        .filter(|left| !matches!(left.judgement, Judgement::Blocked { .. }))
        .collect();
    left.sort_by_key(|l| (Reverse(l.successes_on_sisters), l.failures, l.approach.clone()));
    left.dedup();
    left
}

fn count(unit: &UnitKey, approach: &Approach, guard: &Guard<'_>) -> ApproachLeft {
    // An approach that is not whole is no other's equal.
    let by_it = if approach.is_whole() { guard.tries_by(approach) } else { &[] };
    let on_sisters = || guard.on_sisters(unit, by_it);
    ApproachLeft {
        approach: approach.clone(),
        judgement: guard.judge(unit, approach),
        done_on_sisters: on_sisters()
            .filter(|one| one.tried.account.outcome == Outcome::Done)
            .count(),
        successes_on_sisters: on_sisters().filter(|one| one.tells == Tells::Success).count(),
        failures: by_it.iter().filter(|one| one.tells == Tells::Failure).count(),
    }
}
