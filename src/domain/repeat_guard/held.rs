//! Remedies that did not hold: what they were to prevent happened after they had been verified.

use std::collections::{BTreeMap, BTreeSet};

use super::{Answer, Record, Tells, Try, tells};
use crate::codes::{AttemptCode, RemedyCode};
use crate::history::{Place, places};
use crate::words::{Reach, RemedyState};

/// A failure that reopens the question that a remedy had answered.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct NotHeld {
    pub remedy: RemedyCode,
    pub attempt: AttemptCode,
    /// Another verified remedy names this failure, so that the question is closed again.
    pub is_answered: bool,
}

/// Every failure after a verified remedy that reaches its unit, by an approach that the remedy answers
/// or by the technique that it brought. A failure without a known place is held to have come when it was
/// entered. The repeat guard needs no rule for it: such a failure is named by no remedy that
/// came before it, so it counts as unanswered there.
// Source: MIL-STD-2155(AS), 1985, foreword: corrective action is verified by showing that the failure
// does not recur; one that recurs was not corrected.
pub fn not_held(record: Record<'_>) -> Vec<NotHeld> {
    let verified: Vec<&Answer> =
        record.answers.iter().filter(|answer| answer.state == RemedyState::Verified).collect();
    if verified.is_empty() {
        return Vec::new();
    }
    let whens: Vec<_> = record
        .tries
        .iter()
        .map(|tried| &tried.when)
        .chain(verified.iter().map(|answer| &answer.when))
        .collect();
    let placed = places(&whens, |index| index < record.tries.len());
    let (of_tries, of_answers) = placed.split_at(record.tries.len());
    let known: BTreeMap<&AttemptCode, (Place, &Try)> = record
        .tries
        .iter()
        .zip(of_tries)
        .map(|(tried, place)| (&tried.attempt, (*place, tried)))
        .collect();
    let failures: Vec<(Place, &Try)> = record
        .tries
        .iter()
        .zip(of_tries)
        .filter(|(tried, _)| tells(&tried.account) == Tells::Failure)
        .map(|(tried, place)| (*place, tried))
        .collect();
    let mut found = BTreeSet::new();
    for (answer, since) in verified.iter().zip(of_answers) {
        let answered: Vec<&Try> = answer
            .attempts
            .iter()
            .filter_map(|code| known.get(code))
            .filter(|(place, _)| place < since)
            .map(|(_, tried)| *tried)
            .collect();
        let later = failures.iter().filter(|(place, _)| place > since).map(|(_, tried)| *tried);
        for failed in later.filter(|failed| is_prevented(failed, answer, &answered)) {
            found.insert(NotHeld {
                remedy: answer.remedy.clone(),
                attempt: failed.attempt.clone(),
                is_answered: verified.iter().any(|other| {
                    other.remedy != answer.remedy && other.attempts.contains(&failed.attempt)
                }),
            });
        }
    }
    found.into_iter().collect()
}

/// Whether the remedy was to prevent this failure: it reaches the unit, and it answers the approach.
fn is_prevented(failed: &Try, answer: &Answer, answered: &[&Try]) -> bool {
    let by_what_it_brought = brings(answer, failed);
    answered.iter().any(|named| {
        let reaches = match answer.reach {
            Reach::EveryUnit => true,
            Reach::ThisUnit => failed.unit.is_the_unit_of(&named.unit, named.account.scope),
        };
        reaches && (by_what_it_brought || failed.approach.is(&named.approach))
    })
}

/// Whether the attempt was made by the technique that the remedy revised, in that revision or a later one.
fn brings(answer: &Answer, tried: &Try) -> bool {
    answer.technique.is_some()
        && answer.technique == tried.approach.technique
        && answer.revision.zip(tried.revision).is_none_or(|(from, flown)| flown >= from)
}
