//! What was tried in one family, laid out once for all of its tasks.

use std::collections::{BTreeMap, BTreeSet};

use crate::dossier::FamilyRecord;
use domain::codes::TaskCode;
use domain::repeat_guard::{Approach, Guard, NotHeld, Tells, UnitKey, not_held, tells};

pub(super) struct Tries<'a> {
    guard: Guard<'a>,
    /// Every approach that failed somewhere in the family.
    failed: BTreeSet<&'a Approach>,
    /// The tasks at which one approach failed twice.
    twice_same: BTreeSet<&'a TaskCode>,
    /// The failures after a verified remedy, by task.
    not_held: BTreeMap<&'a TaskCode, Vec<NotHeld>>,
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
        let home: BTreeMap<_, _> =
            family.tries.iter().map(|tried| (&tried.attempt, &tried.unit.task)).collect();
        let mut again: BTreeMap<_, Vec<_>> = BTreeMap::new();
        for one in not_held(family.record()) {
            if let Some(task) = home.get(&one.attempt) {
                again.entry(*task).or_default().push(one);
            }
        }
        Self { guard: Guard::new(family.record()), failed, twice_same, not_held: again }
    }

    /// Whether some approach that failed in the family is in question here.
    pub(super) fn is_questioned(&self, unit: &UnitKey) -> bool {
        self.failed.iter().any(|approach| self.guard.is_in_question(unit, approach))
    }

    /// The failures on this task that show a remedy not to have held, in the order of the codes.
    pub(super) fn not_held(&self, task: &TaskCode) -> impl Iterator<Item = &NotHeld> {
        self.not_held.get(task).into_iter().flatten()
    }

    /// Whether the task was tried twice the same way.
    pub(super) fn twice_same(&self, task: &TaskCode) -> bool {
        self.twice_same.contains(task)
    }
}
