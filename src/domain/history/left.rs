//! How much of a task is left: what attempts say about it, and what follows from one to the next.

use super::{When, places};
use crate::units::Share;
use crate::words::Outcome;

/// What an attempt says about the amount of work, in per cent of the whole task.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StatedAmount {
    /// So much was left after it. This is what is recorded.
    Left(Share),
    /// So much it added. Older records say it this way.
    Added(Share),
}

impl StatedAmount {
    /// From the two columns of an attempt; what is left decides.
    pub fn of(left_after: Option<Share>, share: Option<Share>) -> Option<Self> {
        left_after.map(Self::Left).or(share.map(Self::Added))
    }
}

impl std::fmt::Display for StatedAmount {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Left(left) => write!(f, "{left} left"),
            Self::Added(share) => write!(f, "{share} added"),
        }
    }
}

/// How much of a task is left at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Left {
    /// What is left, or the most that can be left while it is unknown.
    pub most: Share,
    /// The attempt after which it is unknown.
    pub unknown_after: Option<String>,
}

impl Left {
    pub const WHOLE: Self = Self { most: Share::WHOLE, unknown_after: None };

    pub const fn known(&self) -> Option<Share> {
        if self.unknown_after.is_none() { Some(self.most) } else { None }
    }

    /// An attempt that says that it left nothing without being done leaves an unknown part, as
    /// one does that says nothing.
    pub(super) fn take_attempt(
        &mut self,
        code: &str,
        outcome: Outcome,
        said: Option<StatedAmount>,
    ) {
        match (outcome, said) {
            (Outcome::Done, _) => *self = Self { most: Share::NONE, unknown_after: None },
            (Outcome::NotReached, _) | (Outcome::NotCompleted, None) => {}
            (Outcome::PartDone | Outcome::NotCompleted, Some(StatedAmount::Left(left)))
                if left > Share::NONE =>
            {
                *self = Self { most: left, unknown_after: None };
            }
            (Outcome::PartDone | Outcome::NotCompleted, Some(StatedAmount::Added(share)))
                if share < self.most =>
            {
                self.most.0 -= share.0;
            }
            (Outcome::PartDone, None) | (Outcome::PartDone | Outcome::NotCompleted, Some(_)) => {
                self.unknown_after = Some(code.to_owned());
            }
        }
    }

    /// What is reopened has something left, whatever was typed.
    pub(super) fn reopen(&mut self, left: Share) {
        *self = Self { most: Share(left.0.clamp(1, Share::WHOLE.0)), unknown_after: None };
    }
}

impl Default for Left {
    fn default() -> Self {
        Self::WHOLE
    }
}

impl std::fmt::Display for Left {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.unknown_after {
            None => write!(f, "{}", self.most),
            Some(_) => write!(f, "unknown, at most {}", self.most),
        }
    }
}

/// An event that changes how much is left.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    pub code: String,
    pub when: When,
    pub what: Change,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    Tried { outcome: Outcome, said: Option<StatedAmount> },
    Reopened { left: Share },
}

/// What was left before and after one step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftBeforeAndAfter {
    pub before: Left,
    pub after: Left,
}

impl LeftBeforeAndAfter {
    /// What the attempt added: as older records say it, else the difference. `None` where it is
    /// unknown.
    pub fn added(&self, said: Option<StatedAmount>) -> Option<Share> {
        match said? {
            StatedAmount::Added(share) => Some(share),
            StatedAmount::Left(left) => {
                let before = self.before.known()?;
                Some(Share((before.0 - left.0).max(0)))
            }
        }
    }
}

/// What was left around each step of one task, in the order of the slice; the steps count in the
/// order in which they happened.
pub fn around(steps: &[Step]) -> Vec<LeftBeforeAndAfter> {
    let whens: Vec<&When> = steps.iter().map(|step| &step.when).collect();
    let placed = places(&whens, |_| true);
    let mut ordered: Vec<usize> = (0..steps.len()).collect();
    ordered.sort_by(|a, b| (placed[*a], &steps[*a].code).cmp(&(placed[*b], &steps[*b].code)));
    let mut left = Left::WHOLE;
    let mut all = vec![LeftBeforeAndAfter { before: Left::WHOLE, after: Left::WHOLE }; steps.len()];
    for index in ordered {
        let step = &steps[index];
        all[index].before = left.clone();
        match step.what {
            Change::Tried { outcome, said } => left.take_attempt(&step.code, outcome, said),
            Change::Reopened { left: again } => left.reopen(again),
        }
        all[index].after = left.clone();
    }
    all
}
