//! The gate “order of work”: what a task needs, goes with, and waits for.

use super::{Spot, Tie};
use crate::domain::codes::{ExcursionCode, TaskCode};
use crate::domain::words::{GateVerdict, LinkKind, TaskState};

/// A task as the order of work sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    pub task: TaskCode,
    pub state: TaskState,
    /// A contingency that a person has called up.
    pub triggered: bool,
    /// Where it has set slots on excursions that are not closed.
    pub set_on: Vec<Spot>,
    pub pencilled_on: Vec<Spot>,
}

impl Known {
    /// A task by its state alone, where its slots do not matter.
    pub const fn as_it_stands(task: TaskCode, state: TaskState) -> Self {
        Self { task, state, triggered: false, set_on: Vec::new(), pencilled_on: Vec::new() }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct OrderOfWork {
    pub verdict: GateVerdict,
    pub reasons: Vec<Reason>,
}

/// Why a task cannot stand at that place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reason {
    /// What it needs is neither done nor set anywhere.
    NeedsFirst {
        other: TaskCode,
    },
    /// What it needs is set, but not early enough.
    NeedsEarlier {
        other: TaskCode,
        on: ExcursionCode,
    },
    NeedsDropped {
        other: TaskCode,
    },
    /// The link names a task that is not in the record.
    NeedsUnknown {
        other: TaskCode,
    },
    /// The other must stand on this excursion too.
    SameVisit {
        other: TaskCode,
        on: Option<ExcursionCode>,
    },
    /// The alternative is done, which makes this one moot.
    OtherwiseDone {
        other: TaskCode,
    },
    NotTriggered,
}

impl std::fmt::Display for Reason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NeedsFirst { other } => {
                write!(f, "It needs {other}, which is not done and not set: set {other} first.")
            }
            Self::NeedsEarlier { other, on } => {
                write!(f, "It needs {other}, which is set only on {on}: move one of the two.")
            }
            Self::NeedsDropped { other } => {
                write!(
                    f,
                    "It needs {other}, which was dropped: reopen {other}, or take the link off."
                )
            }
            Self::NeedsUnknown { other } => {
                write!(f, "It needs {other}, which is not in the record: mend the link.")
            }
            Self::SameVisit { other, on: None } => {
                write!(f, "It goes with {other}: pencil {other} on this excursion too.")
            }
            Self::SameVisit { other, on: Some(on) } => {
                write!(f, "It goes with {other}, which is set on {on}: put both on one excursion.")
            }
            Self::OtherwiseDone { other } => {
                write!(f, "{other}, done instead, makes it moot: close it.")
            }
            Self::NotTriggered => f.write_str(
                "It is kept for a contingency that nobody has triggered: trigger it first.",
            ),
        }
    }
}

/// A contingency stays out of the backlog, of ranking and of counts until a person triggers it.
pub fn is_kept_out(task: &TaskCode, triggered: bool, ties: &[Tie]) -> bool {
    !triggered && ties.iter().any(|tie| tie.kind == LinkKind::OnlyIf && tie.task == *task)
}

/// Judges one task at one place.
pub fn judge(task: &Known, at: &Spot, ties: &[Tie], others: &[Known]) -> OrderOfWork {
    let find = |code: &TaskCode| others.iter().find(|known| known.task == *code);
    let mut reasons: Vec<Reason> = ties
        .iter()
        .filter_map(|tie| {
            let forward = tie.task == task.task;
            let other = match (forward, tie.other == task.task) {
                (true, false) => &tie.other,
                (false, true) => &tie.task,
                _ => return None,
            };
            match tie.kind {
                LinkKind::Needs | LinkKind::Undoes if forward => needs(other, find(other), at),
                LinkKind::SameVisit => same_visit(other, find(other), at),
                LinkKind::InsteadOf => find(other)
                    .filter(|known| known.state == TaskState::Done)
                    .map(|known| Reason::OtherwiseDone { other: known.task.clone() }),
                LinkKind::Needs
                | LinkKind::Continues
                | LinkKind::MakesPermanent
                | LinkKind::Undoes
                | LinkKind::OnlyIf => None,
            }
        })
        .collect();
    if is_kept_out(&task.task, task.triggered, ties) {
        reasons.push(Reason::NotTriggered);
    }
    let verdict = if reasons.is_empty() { GateVerdict::Met } else { GateVerdict::NotMet };
    OrderOfWork { verdict, reasons }
}

fn needs(other: &TaskCode, known: Option<&Known>, at: &Spot) -> Option<Reason> {
    let other = other.clone();
    let Some(known) = known else { return Some(Reason::NeedsUnknown { other }) };
    match known.state {
        TaskState::Done => None,
        TaskState::Dropped => Some(Reason::NeedsDropped { other }),
        TaskState::Parked | TaskState::Slotted | TaskState::PartDone | TaskState::Open => {
            if known.set_on.iter().any(|spot| spot.can_precede(at)) {
                return None;
            }
            Some(match known.set_on.first() {
                Some(spot) => Reason::NeedsEarlier { other, on: spot.excursion.clone() },
                None => Reason::NeedsFirst { other },
            })
        }
    }
}

/// A pencil is enough: of two tasks that go together, one is set first.
fn same_visit(other: &TaskCode, known: Option<&Known>, at: &Spot) -> Option<Reason> {
    let known = known?;
    let here = |spots: &[Spot]| spots.iter().any(|spot| spot.is_same_excursion(at));
    if !known.state.is_open_item() || here(&known.set_on) || here(&known.pencilled_on) {
        return None;
    }
    let on = known.set_on.first().map(|spot| spot.excursion.clone());
    Some(Reason::SameVisit { other: other.clone(), on })
}

/// The open tasks that a `done` makes moot: those linked with it as `instead of`, either way.
pub fn moot_by(done: &TaskCode, ties: &[Tie], others: &[Known]) -> Vec<TaskCode> {
    let mut moot: Vec<TaskCode> = ties
        .iter()
        .filter(|tie| tie.kind == LinkKind::InsteadOf)
        .filter_map(|tie| {
            if tie.task == *done {
                Some(&tie.other)
            } else if tie.other == *done {
                Some(&tie.task)
            } else {
                None
            }
        })
        .filter(|code| *code != done)
        .filter(|code| others.iter().any(|k| k.task == **code && k.state.is_open_item()))
        .cloned()
        .collect();
    moot.sort();
    moot.dedup();
    moot
}

/// The tasks whose set slots would lack what they need if `task` lost its own at `spot`.
pub fn broken_without(
    task: &TaskCode,
    spot: &Spot,
    ties: &[Tie],
    others: &[Known],
) -> Vec<(TaskCode, ExcursionCode)> {
    let mut after: Vec<Known> = others.to_vec();
    for known in after.iter_mut().filter(|known| known.task == *task) {
        known.set_on.retain(|held| held != spot);
    }
    let lacks = |at: &Spot, dependent: &Known, among: &[Known]| {
        let find = among.iter().find(|known| known.task == *task);
        let need = Tie { task: dependent.task.clone(), kind: LinkKind::Needs, other: task.clone() };
        ties.contains(&need) && needs(task, find, at).is_some()
    };
    let mut broken = Vec::new();
    for dependent in others.iter().filter(|known| known.task != *task) {
        for at in &dependent.set_on {
            if lacks(at, dependent, &after) && !lacks(at, dependent, others) {
                broken.push((dependent.task.clone(), at.excursion.clone()));
            }
        }
    }
    broken
}
