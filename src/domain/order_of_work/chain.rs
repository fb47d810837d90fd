//! Task dependencies: the work that must come before a task, the work that waits for it, and the
//! first unfinished causes.

use std::collections::{BTreeMap, BTreeSet};

use super::{KnownTask, Tie, is_kept_out};
use crate::codes::TaskCode;
use crate::words::LinkKind;

/// A task in a chain with what hangs on it in the same direction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Branch {
    /// The link by which it hangs on the task before it in the chain.
    pub tie: Tie,
    pub task: TaskCode,
    /// It stands elsewhere in the chain with all that hangs on it.
    pub again: bool,
    pub further: Vec<Branch>,
}

/// Everything that a task comes after, everything that comes after it, and what stands beside it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Chain {
    pub before: Vec<Branch>,
    pub after: Vec<Branch>,
    pub beside: Vec<Tie>,
}

impl Chain {
    pub fn is_empty(&self) -> bool {
        self.before.is_empty() && self.after.is_empty() && self.beside.is_empty()
    }

    /// Every task of it, without the one around which it was laid.
    pub fn tasks(&self) -> BTreeSet<&TaskCode> {
        fn walk<'a>(branches: &'a [Branch], into: &mut BTreeSet<&'a TaskCode>) {
            for branch in branches {
                into.insert(&branch.task);
                walk(&branch.further, into);
            }
        }
        let mut all = BTreeSet::new();
        walk(&self.before, &mut all);
        walk(&self.after, &mut all);
        all.extend(self.beside.iter().flat_map(|tie| [&tie.task, &tie.other]));
        all
    }
}

/// The links in both directions, for walking many times.
#[derive(Debug, Default)]
pub struct Ties<'a> {
    from: BTreeMap<&'a TaskCode, Vec<&'a Tie>>,
    to: BTreeMap<&'a TaskCode, Vec<&'a Tie>>,
}

impl<'a> Ties<'a> {
    pub fn of(ties: &'a [Tie]) -> Self {
        let mut laid = Self::default();
        for tie in ties {
            laid.from.entry(&tie.task).or_default().push(tie);
            laid.to.entry(&tie.other).or_default().push(tie);
        }
        laid
    }

    fn from(&self, task: &TaskCode) -> impl Iterator<Item = &'a Tie> {
        self.from.get(task).into_iter().flatten().copied()
    }

    fn to(&self, task: &TaskCode) -> impl Iterator<Item = &'a Tie> {
        self.to.get(task).into_iter().flatten().copied()
    }

    /// The chain around a task. Whatever the links say, each task is followed once.
    pub fn chain(&self, task: &TaskCode) -> Chain {
        let beside = self.from(task).chain(self.to(task));
        let mut beside: Vec<Tie> = beside.filter(|tie| !tie.kind.comes_after()).cloned().collect();
        beside.sort();
        Chain {
            before: self.branches(task, true, &mut BTreeSet::from([task.clone()])),
            after: self.branches(task, false, &mut BTreeSet::from([task.clone()])),
            beside,
        }
    }

    fn branches(&self, of: &TaskCode, up: bool, seen: &mut BTreeSet<TaskCode>) -> Vec<Branch> {
        let mut next: Vec<&Tie> = if up {
            self.from(of).filter(|tie| tie.kind.comes_after()).collect()
        } else {
            self.to(of).filter(|tie| tie.kind.comes_after()).collect()
        };
        next.sort();
        let end = |tie: &Tie| if up { tie.other.clone() } else { tie.task.clone() };
        next.into_iter()
            .map(|tie| {
                let task = end(tie);
                let again = !seen.insert(task.clone());
                let further = if again { Vec::new() } else { self.branches(&task, up, seen) };
                Branch { tie: tie.clone(), task, again, further }
            })
            .collect()
    }

    /// The unfinished tasks that hold this one up and are held up by nothing themselves, by code.
    /// A contingency that nobody triggered holds itself up, and is its own cause.
    pub fn held_up_by(
        &self,
        task: &TaskCode,
        known: &BTreeMap<TaskCode, KnownTask>,
    ) -> Vec<TaskCode> {
        let mut causes = BTreeSet::new();
        let mut seen = BTreeSet::from([task]);
        let mut open: Vec<&TaskCode> = self.unfinished_before(task, known);
        while let Some(next) = open.pop() {
            if !seen.insert(next) {
                continue;
            }
            let further = self.unfinished_before(next, known);
            if further.is_empty() || self.waits_for_a_trigger(next, known) {
                causes.insert(next.clone());
            }
            open.extend(further);
        }
        causes.into_iter().collect()
    }

    /// The open tasks that wait for this one, directly or through others.
    pub fn waiting_for(
        &self,
        task: &TaskCode,
        known: &BTreeMap<TaskCode, KnownTask>,
    ) -> Vec<TaskCode> {
        let mut waiting = BTreeSet::new();
        let mut open = vec![task];
        while let Some(next) = open.pop() {
            for tie in self.to(next).filter(|tie| tie.kind.holds_up()) {
                let is_open = known.get(&tie.task).is_none_or(|k| k.state.is_open_item());
                if is_open && tie.task != *task && waiting.insert(tie.task.clone()) {
                    open.push(&tie.task);
                }
            }
        }
        waiting.into_iter().collect()
    }

    fn unfinished_before(
        &self,
        task: &TaskCode,
        known: &BTreeMap<TaskCode, KnownTask>,
    ) -> Vec<&'a TaskCode> {
        let unfinished = |code: &TaskCode| {
            known.get(code).is_none_or(|known| known.state != crate::words::TaskState::Done)
        };
        self.from(task)
            .filter(|tie| tie.kind.holds_up() && unfinished(&tie.other))
            .map(|tie| &tie.other)
            .collect()
    }

    fn waits_for_a_trigger(&self, task: &TaskCode, known: &BTreeMap<TaskCode, KnownTask>) -> bool {
        let triggered = known.get(task).is_some_and(|known| known.triggered);
        let own: Vec<Tie> = self.from(task).cloned().collect();
        is_kept_out(task, triggered, &own)
    }
}

/// A ring in words, each link as it reads: `T-1 needs T-2, T-2 undoes T-3, T-3 needs T-1`.
pub fn ring_in_words(ring: &[TaskCode], ties: &[Tie]) -> String {
    let words = |(at, task): (usize, &TaskCode)| {
        let next = &ring[(at + 1) % ring.len()];
        let kind = ties
            .iter()
            .find(|tie| tie.kind.comes_after() && tie.task == *task && tie.other == *next)
            .map_or(LinkKind::Needs, |tie| tie.kind);
        format!("{task} {kind} {next}")
    };
    ring.iter().enumerate().map(words).collect::<Vec<_>>().join(", ")
}
