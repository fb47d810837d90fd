//! Work that is added to a day on its board: a get-ahead in the sequence of its seats. No slot of the
//! record stands for it; presses speak of it by a name that no code can be.

use super::Press;
use crate::codes::{SlotCode, TaskCode, TechniqueCode};
use crate::seats::Seats;
use crate::sides::Side;
use crate::slots::Slot;

/// A task that is added, for whom and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Added {
    pub task: TaskCode,
    pub seats: Seats,
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    /// What it goes before; `None`: after all others.
    pub before: Option<SlotCode>,
}

/// No code holds this sign.
const SIGN: char = '#';

/// The name of added work in presses.
pub fn name_of(task: &TaskCode) -> SlotCode {
    SlotCode::from(format!("{SIGN}{task}"))
}

/// The task of added work; `None` of a slot of the record.
pub fn task_of(name: &SlotCode) -> Option<TaskCode> {
    name.as_str().strip_prefix(SIGN).map(TaskCode::from)
}

/// Presses for added work that has a slot of its own by now speak of that slot.
pub fn with_slots(mut presses: Vec<Press>, slots: &[Slot]) -> Vec<Press> {
    for press in &mut presses {
        let task = press.slot.as_ref().and_then(task_of);
        let own = task.and_then(|task| slots.iter().find(|slot| slot.task == task));
        if let Some(slot) = own {
            press.slot = Some(slot.code.0.clone());
        }
    }
    presses
}
