//! The one rule on trying again: an approach that failed is not set again unless something
//! changed, and its sister units are affected.

mod approaches;
mod guard;
mod held;
mod judgement;
mod moved;
mod numbered;
mod sisters;
mod tells;
#[cfg(test)]
mod tests;

pub use approaches::{ApproachLeft, approaches_left, approaches_of, approaches_to_offer};
pub use guard::Guard;
pub use held::{NotHeld, not_held};
pub use judgement::{Against, Judgement, judge, refusal};
pub use moved::{SetApart, SetApartBecause, set_apart};
pub use sisters::{SisterEffect, WorseOnSister, is_offered_to, newly_in_question};
pub use tells::{Account, ReviewedCause, Tells, deciding_cause, tells};

use crate::codes::{
    AttemptCode, ExemptionCode, PositionCode, RemedyCode, TaskCode, TechniqueCode, UnitCode,
};
use crate::history::When;
use crate::sides::Side;
use crate::words::{Reach, RemedyState, Scope};

/// What was, or will be, tried. An approach spans the revisions of its technique. A part that is
/// `None` was not recorded, or is not chosen yet.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Approach {
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
}

/// One piece of work on one unit: the unit that stands (or stood) there, and its position.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnitKey {
    pub task: TaskCode,
    pub unit: Option<UnitCode>,
    pub position: Option<PositionCode>,
}

/// One attempt as the guard sees it. `unit` holds what stood there on that day.
#[derive(Debug, Clone, PartialEq)]
pub struct Try {
    pub attempt: AttemptCode,
    pub unit: UnitKey,
    pub approach: Approach,
    /// The revision of its technique that was flown.
    pub revision: Option<i64>,
    pub when: When,
    pub account: Account,
}

/// A remedy, in whatever state: only a verified one answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    pub remedy: RemedyCode,
    pub attempts: Vec<AttemptCode>,
    /// `this unit` reaches the units on which the named attempts were made.
    pub reach: Reach,
    pub state: RemedyState,
    /// When it was verified; of no meaning in another state.
    pub when: When,
    /// The technique that it revised, with the revision that holds it.
    pub technique: Option<TechniqueCode>,
    pub revision: Option<i64>,
}

/// An engineer's “does not apply here”: for that task, failures on its sisters count no more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exempt {
    pub exemption: ExemptionCode,
    pub task: TaskCode,
    pub attempts: Vec<AttemptCode>,
    pub reviewed: bool,
}

/// Everything that is known of the tries on one family, or on one task that has no family.
#[derive(Debug, Clone, Copy)]
pub struct Record<'a> {
    pub tries: &'a [Try],
    pub answers: &'a [Answer],
    pub exempt: &'a [Exempt],
}

/// A unit as it is compared: its codes, or the numbers that stand for them.
type Compared<T, U, P> = (T, Option<U>, Option<P>);

/// Whether a failure on the second was a failure of the first. What the hardware caused stays with the
/// serial; what the place (or nobody knows what) caused stays with the position.
fn is_same_unit<T: PartialEq, U: PartialEq, P: PartialEq>(
    one: Compared<T, U, P>,
    failed: Compared<T, U, P>,
    scope: Option<Scope>,
) -> bool {
    let by_serial = || one.1.zip(failed.1).map(|(a, b)| a == b);
    let by_place = one.2.zip(failed.2).map(|(a, b)| a == b);
    match scope {
        Some(Scope::Hardware) => by_serial().or(by_place),
        Some(Scope::Approach | Scope::Outside | Scope::Diagnosis) | None => by_place,
    }
    .unwrap_or(one.0 == failed.0)
}

impl UnitKey {
    /// Whether a failure here was a failure of that unit.
    pub fn is_the_unit_of(&self, failed: &Self, scope: Option<Scope>) -> bool {
        is_same_unit(self.compared(), failed.compared(), scope)
    }

    fn compared(&self) -> Compared<&TaskCode, &UnitCode, &PositionCode> {
        (&self.task, self.unit.as_ref(), self.position.as_ref())
    }
}

impl Approach {
    pub const fn is_whole(&self) -> bool {
        self.technique.is_some() && self.side.is_some()
    }

    /// The same way tried twice: both parts known, and equal.
    pub fn is(&self, other: &Self) -> bool {
        self.is_whole() && self == other
    }

    /// Not known to differ.
    pub fn could_be(&self, other: &Self) -> bool {
        fn fits<T: PartialEq>(a: Option<&T>, b: Option<&T>) -> bool {
            a.zip(b).is_none_or(|(a, b)| a == b)
        }
        fits(self.technique.as_ref(), other.technique.as_ref())
            && fits(self.side.as_ref(), other.side.as_ref())
    }
}

impl std::fmt::Display for Approach {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (&self.technique, &self.side) {
            (Some(technique), Some(side)) => write!(f, "{technique} from {side}"),
            (Some(technique), None) => write!(f, "{technique}, side not recorded"),
            (None, Some(side)) => write!(f, "technique not recorded, from {side}"),
            (None, None) => f.write_str("approach not recorded"),
        }
    }
}
