//! Tasks that wait to be triggered, and those that a `done` makes moot.

use super::Tie;
use crate::codes::TaskCode;
use crate::words::{LinkKind, TaskState};

/// A task by its state.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownTask {
    pub task: TaskCode,
    pub state: TaskState,
    /// A contingency that a person has triggered.
    pub triggered: bool,
}

impl KnownTask {
    pub const fn as_it_stands(task: TaskCode, state: TaskState) -> Self {
        Self { task, state, triggered: false }
    }
}

/// A contingency stays out of the backlog, of ranking and of counts until a person triggers it.
pub fn is_kept_out(task: &TaskCode, triggered: bool, ties: &[Tie]) -> bool {
    !triggered && ties.iter().any(|tie| tie.kind == LinkKind::OnlyIf && tie.task == *task)
}

/// The open tasks that a `done` makes moot: those linked with it as `instead of`, either way.
pub fn moot_by(done: &TaskCode, ties: &[Tie], others: &[KnownTask]) -> Vec<TaskCode> {
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
