//! The numbers by which tasks go on the board and on the late card: those of the excursion's page and
//! of its brief.

use std::collections::BTreeMap;

use super::Day;
use crate::fit::Board;
use compute::fit::{Counting, excursion_as_planned};
use domain::codes::SlotCode;

/// The number of each task of a day, in its order: its place by planned start among the set and pencilled
/// slots. Work that was added on the board comes after them.
pub(super) fn of(board: &Board, there: &Day) -> Vec<usize> {
    let known = board.excursion_at(there.code()).map_or_else(BTreeMap::new, |excursion| {
        let counting = Counting::SetAndPencilled;
        let plan = excursion_as_planned(&board.snapshot, excursion, counting, &board.constants);
        let mut all: Vec<(f64, usize, &SlotCode)> = board.slots[excursion]
            .iter_enumerated()
            .enumerate()
            .map(|(at, (place, slot))| {
                let placed = plan
                    .timing
                    .as_ref()
                    .and_then(|timing| timing.slots.iter().find(|placed| placed.slot == place));
                (placed.map_or(f64::INFINITY, |placed| placed.start), at, &slot.code.0)
            })
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        (1..).zip(all).map(|(number, (_, _, slot))| (slot, number)).collect()
    });
    let mut last = known.len();
    let number = |slot: &SlotCode| {
        known.get(slot).copied().unwrap_or_else(|| {
            last += 1;
            last
        })
    };
    there.tasks.iter().map(|task| &task.slot.code.0).map(number).collect()
}
