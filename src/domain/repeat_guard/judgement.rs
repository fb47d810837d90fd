//! Whether an approach may be used on a unit, by the record of its family.

use super::{Approach, Record, Tells, Try, UnitKey, tells};
use crate::domain::codes::AttemptCode;
use crate::domain::history::{Place, places};
use crate::domain::words::{GateVerdict, Outcome, Reach, RemedyState};

/// Failures on sisters that shut an approach; one of them puts it in question.
const SISTERS_THAT_SHUT: usize = 2;

/// What the record says about one approach on one unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Judgement {
    Clear,
    /// One unanswered failure on a sister.
    InQuestion {
        attempts: Vec<AttemptCode>,
    },
    /// One unanswered failure on this unit, or two on its sisters.
    Shut {
        attempts: Vec<AttemptCode>,
    },
    /// These failed by an approach that was not fully recorded and could be this one; or this one
    /// is not fully chosen and could be theirs.
    CannotTell {
        attempts: Vec<AttemptCode>,
    },
}

impl Judgement {
    pub fn attempts(&self) -> &[AttemptCode] {
        match self {
            Self::Clear => &[],
            Self::InQuestion { attempts }
            | Self::Shut { attempts }
            | Self::CannotTell { attempts } => attempts,
        }
    }

    pub const fn word(&self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::InQuestion { .. } => "in question",
            Self::Shut { .. } => "shut",
            Self::CannotTell { .. } => "cannot tell",
        }
    }

    /// The verdict of the approach gate.
    pub const fn gate(&self) -> GateVerdict {
        match self {
            Self::Clear => GateVerdict::Met,
            Self::InQuestion { .. } => GateVerdict::Tight,
            Self::Shut { .. } => GateVerdict::NotMet,
            Self::CannotTell { .. } => GateVerdict::CannotTell,
        }
    }
}

/// Judges an approach for a unit.
///
/// Source: MIL-STD-2155(AS), foreword, 1985: a failure is closed once its corrective action is
/// implemented and verified to prevent recurrence; a remedy that is only done answers nothing.
pub fn judge(unit: &UnitKey, approach: &Approach, record: Record<'_>) -> Judgement {
    let whens: Vec<_> = record.tries.iter().map(|tried| &tried.when).collect();
    let placed: Vec<(Place, &Try)> =
        places(&whens, |_| true).into_iter().zip(record.tries).collect();
    let (mut here, mut sisters, mut unclear) = (Vec::new(), Vec::new(), Vec::new());
    for (place, failed) in &placed {
        if tells(&failed.account) != Tells::Failure
            || !failed.approach.could_be(approach)
            || is_answered(unit, failed, record)
            || is_outlived(unit, (*place, failed), approach, &placed)
        {
            continue;
        }
        let on_this_unit = unit.is_the_unit_of(&failed.unit, failed.account.scope);
        let counts = match (on_this_unit, failed.approach.is(approach)) {
            (true, true) => &mut here,
            (false, _) if is_exempt(unit, failed, record) => continue,
            (false, true) => &mut sisters,
            (_, false) => &mut unclear,
        };
        counts.push((*place, failed.attempt.clone()));
    }
    if !here.is_empty() {
        return Judgement::Shut { attempts: in_order(here) };
    }
    match (sisters.len(), unclear.is_empty()) {
        (SISTERS_THAT_SHUT.., _) => Judgement::Shut { attempts: in_order(sisters) },
        (_, false) => Judgement::CannotTell { attempts: in_order(unclear) },
        (0, true) => Judgement::Clear,
        (_, true) => Judgement::InQuestion { attempts: in_order(sisters) },
    }
}

/// A verified remedy names the failure and reaches the unit.
fn is_answered(unit: &UnitKey, failed: &Try, record: Record<'_>) -> bool {
    record.answers.iter().any(|answer| {
        answer.state == RemedyState::Verified
            && answer.attempts.contains(&failed.attempt)
            && match answer.reach {
                Reach::EveryUnit => true,
                Reach::ThisUnit => record
                    .tries
                    .iter()
                    .filter(|tried| answer.attempts.contains(&tried.attempt))
                    .any(|tried| unit.is_the_unit_of(&tried.unit, tried.account.scope)),
            }
    })
}

fn is_exempt(unit: &UnitKey, failed: &Try, record: Record<'_>) -> bool {
    record.exempt.iter().any(|exempt| {
        exempt.reviewed && exempt.task == unit.task && exempt.attempts.contains(&failed.attempt)
    })
}

/// The approach was `done` since, where the failure was: on this unit for a failure of this unit,
/// on any sister for a failure of a sister.
fn is_outlived(
    unit: &UnitKey,
    (place, failed): (Place, &Try),
    approach: &Approach,
    placed: &[(Place, &Try)],
) -> bool {
    let scope = failed.account.scope;
    let on_this_unit = unit.is_the_unit_of(&failed.unit, scope);
    placed.iter().any(|(since, done)| {
        *since > place
            && done.account.outcome == Outcome::Done
            && done.approach.is(approach)
            && unit.is_the_unit_of(&done.unit, scope) == on_this_unit
    })
}

fn in_order(mut counted: Vec<(Place, AttemptCode)>) -> Vec<AttemptCode> {
    counted.sort();
    counted.into_iter().map(|(_, attempt)| attempt).collect()
}

/// The sentence with which a slot is refused, or `None` where the approach may be set.
pub fn refusal(approach: &Approach, judgement: &Judgement, left: &[Approach]) -> Option<String> {
    let named = judgement.attempts().iter().map(AttemptCode::as_str).collect::<Vec<_>>().join(", ");
    let why = match judgement {
        Judgement::Clear | Judgement::InQuestion { .. } => return None,
        Judgement::Shut { .. } => {
            format!("{approach} is shut: it failed ({named}), and no verified remedy answers that.")
        }
        Judgement::CannotTell { .. } => format!(
            "Nobody can tell whether {approach} was tried before: technique or side of {named} is not recorded, or not chosen here. Record it there, or choose it here."
        ),
    };
    let offers = left.iter().map(Approach::to_string).collect::<Vec<_>>().join("; ");
    let next = if offers.is_empty() {
        "No other approach is left: verify a remedy that names those attempts, draft another technique, or have a lead write a waiver.".to_owned()
    } else {
        format!(
            "Still open to try: {offers}. Otherwise verify a remedy that names those attempts, or have a lead write a waiver."
        )
    };
    Some(format!("{why} {next}"))
}
