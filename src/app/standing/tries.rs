//! What was tried in one family, laid out once for all of its tasks.

use std::collections::BTreeSet;

use crate::app::dossier::FamilyRecord;
use crate::domain::codes::TaskCode;
use crate::domain::repeat_guard::{Approach, Guard, Tells, UnitKey, tells};

pub(super) struct Tries<'a> {
    guard: Guard<'a>,
    /// Every approach that failed somewhere in the family.
    failed: BTreeSet<&'a Approach>,
    /// The tasks at which one approach failed twice.
    twice_same: BTreeSet<&'a TaskCode>,
}

impl<'a> Tries<'a> {
    pub(super) fn of(family: &'a FamilyRecord) -> Self {
        let mut failed = BTreeSet::new();
        let mut once = BTreeSet::new();
        let mut twice_same = BTreeSet::new();
        let failures = family
            .tries
            .iter()
            .filter(|tried| tried.approach.is_whole() && tells(&tried.account) == Tells::Failure);
        for tried in failures {
            failed.insert(&tried.approach);
            if !once.insert((&tried.unit.task, &tried.approach)) {
                twice_same.insert(&tried.unit.task);
            }
        }
        Self { guard: Guard::new(family.record()), failed, twice_same }
    }

    /// Whether some approach that failed in the family is in question here.
    pub(super) fn in_question(&self, unit: &UnitKey) -> bool {
        self.failed.iter().any(|approach| self.guard.is_in_question(unit, approach))
    }

    /// Whether the task was tried twice the same way.
    pub(super) fn twice_same(&self, task: &TaskCode) -> bool {
        self.twice_same.contains(task)
    }
}
