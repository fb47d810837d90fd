//! Links between tasks, and the routes that aids keep open. Whether a task may stand on an excursion
//! by its links is the check “order of work” of `compute::fit`.

mod chain;
mod cycle;
mod ended;
mod implied;
#[cfg(test)]
mod tests;
mod ways;

pub use chain::{Branch, Chain, Ties, ring_in_words};
pub use cycle::{cycle, cycle_with};
pub use ended::{KnownTask, is_kept_out, moot_by};
pub use implied::{Other, leaves_to_bring_in, leaves_to_close, means};
pub use ways::{Aid, Bringing, LaterSlot, LostWay, Plan, Taking, Way};

use crate::codes::{ExcursionCode, TaskCode};
use crate::tasks::Link;
use crate::words::LinkKind;

/// One link, read from `task` to `other`: `task` needs `other`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Tie {
    pub task: TaskCode,
    pub kind: LinkKind,
    pub other: TaskCode,
}

impl From<&Link> for Tie {
    fn from(link: &Link) -> Self {
        Self { task: link.task.clone(), kind: link.kind, other: link.other.clone() }
    }
}

/// A place on an excursion: ranks as in `history::When`; `place` is the order on the excursion, or
/// for all of it the minute of elapsed time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlaceInOrder {
    pub excursion: ExcursionCode,
    pub flight: i64,
    pub number: i64,
    pub place: Option<i64>,
}

impl PlaceInOrder {
    pub(crate) fn is_same_excursion(&self, other: &Self) -> bool {
        self.excursion == other.excursion
    }

    /// Not known to come after the other: on an excursion before it, or on the same one, save where
    /// both places are known and this one is not the earlier.
    pub(crate) fn can_precede(&self, other: &Self) -> bool {
        if self.is_same_excursion(other) {
            return self.place.zip(other.place).is_none_or(|(mine, theirs)| mine < theirs);
        }
        (self.flight, self.number) < (other.flight, other.number)
    }
}
