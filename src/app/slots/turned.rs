//! Set slots whose gates say something else than when they were set, because something else
//! changed: a limit, a route, an estimate, a failure on a sister.

use std::collections::BTreeMap;

use crate::fit::{Board, JudgedGate};
use compute::fit::{Ask, Matrix};
use domain::codes::SlotCode;
use domain::slots::Slot;
use domain::verdicts::{has_turned, is_against};
use domain::words::{GateName, SlotState};
use store::slot_history::GateThen;

/// A gate that turned since its slot was set.
#[derive(Debug, Clone)]
pub struct TurnedCheck {
    pub slot: Slot,
    pub was: GateThen,
    pub now: JudgedGate,
}

impl TurnedCheck {
    /// It let the slot be set and stands against it now.
    pub fn stops(&self) -> bool {
        !is_against(self.was.verdict) && is_against(self.now.verdict)
    }
}

/// The gates that turned, slot by slot in the order of the coming excursions. A gate that was not
/// checked then, or is not now, has not turned.
pub fn since_set(
    board: &Board,
    matrix: &Matrix,
    then: &BTreeMap<SlotCode, Vec<GateThen>>,
    wanted: impl Fn(&Slot) -> bool,
) -> Vec<TurnedCheck> {
    let mut turned = Vec::new();
    for (column, slots) in board.slots.iter_enumerated() {
        for slot in slots.iter().filter(|slot| slot.state == SlotState::Set && wanted(slot)) {
            let row = board
                .task_at(&slot.task)
                .and_then(|task| matrix.tasks.iter().position(|at| *at == task));
            let (Some(row), Some(then)) = (row, then.get(&slot.code.0)) else { continue };
            let cell = matrix.cell(row, column);
            let differs = |was: &&GateThen| has_turned(was.verdict, cell.gate(was.gate));
            let mut then: Vec<GateThen> = then.iter().filter(differs).cloned().collect();
            if then.is_empty() {
                continue;
            }
            then.sort_by_key(|was| was.gate);
            let judged = board.judge(&slot.task, &slot.excursion, &Ask::default());
            let now = |gate: GateName| {
                judged.iter().flat_map(|judged| &judged.gates).find(|now| now.gate == gate).cloned()
            };
            turned.extend(then.into_iter().filter_map(|was| {
                Some(TurnedCheck { slot: slot.clone(), now: now(was.gate)?, was })
            }));
        }
    }
    turned
}
