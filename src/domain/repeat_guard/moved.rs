//! What a unit brought along when it was swapped or moved, and what stayed at the place.

use super::{Approach, Guard, UnitKey};
use crate::codes::{AttemptCode, PositionCode, UnitCode};
use crate::words::Scope;

/// Where a failure belongs that was not of this unit at this place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SetApartBecause {
    /// The hardware caused it elsewhere, and the unit has it with it.
    CameWithTheUnit { unit: UnitCode, from: PositionCode },
    /// The place caused it while another unit stood here.
    StayedHere { unit: UnitCode },
    /// The hardware caused it here, and the unit that stood here then took it along.
    WentWithTheUnit { unit: UnitCode },
    /// The place caused it, where this unit stood then.
    StayedThere { at: PositionCode },
}

/// A failure that a swap or a move sets apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetApart {
    pub attempt: AttemptCode,
    pub approach: Approach,
    pub belongs: SetApartBecause,
    /// It stands against its approach on this unit now.
    pub counts: bool,
}

/// The failures that a swap or a move sets apart for this unit, in the order of the tries.
pub fn set_apart(unit: &UnitKey, guard: &Guard<'_>) -> Vec<SetApart> {
    guard
        .failed_before_a_move(unit)
        .filter_map(|tried| {
            let (here, stood) = (unit.position.as_ref()?, tried.unit.position.as_ref()?);
            let (own, other) = (unit.unit.as_ref()?, tried.unit.unit.as_ref()?);
            let by_hardware = tried.account.scope == Some(Scope::Hardware);
            let belongs = match (own == other, here == stood, by_hardware) {
                (true, false, true) => {
                    SetApartBecause::CameWithTheUnit { unit: own.clone(), from: stood.clone() }
                }
                (true, false, false) => SetApartBecause::StayedThere { at: stood.clone() },
                (false, true, true) => SetApartBecause::WentWithTheUnit { unit: other.clone() },
                (false, true, false) => SetApartBecause::StayedHere { unit: other.clone() },
                (true, true, _) | (false, false, _) => return None,
            };
            let judged = guard.judge(unit, &tried.approach);
            Some(SetApart {
                attempt: tried.attempt.clone(),
                approach: tried.approach.clone(),
                belongs,
                counts: judged.attempts().contains(&tried.attempt),
            })
        })
        .collect()
}
