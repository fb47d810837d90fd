//! What the presses of the day say of the rows of its debrief. It fills fields, and is no result
//! before a person has saved it.

use std::collections::BTreeMap;

use super::added;
use domain::cells::{Cell as _, Cells};
use domain::codes::{ExcursionCode, SlotCode};
use domain::day::added::{name_of, with_slots};
use domain::day::{Act, DayState, OfTask, Progress};
use domain::slots::Slot;
use domain::time::Moment;
use domain::units::Pet;
use domain::words::{Outcome, SlotState};

/// The fields of the row of each slot that was pressed for, and once the crew is inside also of each
/// set one that nobody started; of added work that was begun, by its name, with its task and seat.
/// `time_ran_out` is the code of that kind of cause.
pub fn prefilled(
    presses: &[domain::day::Press],
    slots: &[Slot],
    time_ran_out: Option<&str>,
) -> BTreeMap<SlotCode, Cells> {
    let seats = slots
        .iter()
        .map(|slot| (slot.code.0.clone(), slot.seats.numbers().collect()))
        .collect::<BTreeMap<SlotCode, Vec<u8>>>();
    let state = DayState::of(&with_slots(presses.to_vec(), slots), &seats);
    let of = |slot: &Slot| {
        let task = state.tasks.get(&slot.code.0)?;
        let left = state.inside.is_some() && slot.state != SlotState::Pencilled;
        let mut task = *task;
        if left && task.progress == Progress::Planned {
            task.progress = Progress::Dropped;
        }
        Some((slot.code.0.clone(), cells(&task, slot, time_ran_out)?))
    };
    let mut filled: BTreeMap<SlotCode, Cells> = slots.iter().filter_map(of).collect();
    for adds in &state.added {
        let name = name_of(&adds.task);
        let task = state.tasks.get(&name).filter(|task| task.has_begun());
        // What was added and not begun was planned by nobody: it has no result.
        let Some(task) = task else { continue };
        let slot = added::slot(adds, &ExcursionCode::default());
        let Some(mut cells) = cells(task, &slot, time_ran_out) else { continue };
        cells.set("task", adds.task.as_str());
        cells.set("seats", slot.seats.show());
        filled.insert(name, cells);
    }
    filled
}

/// When egress began by the board of the day, and the elapsed time at which the crew was inside.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct BoardTimes {
    pub egress_at: Option<Moment>,
    pub inside: Option<Pet>,
}

impl BoardTimes {
    pub fn of(presses: &[domain::day::Press]) -> Self {
        let DayState { egress_at, inside, .. } = DayState::of(presses, &BTreeMap::new());
        Self { egress_at, inside }
    }
}

/// `None` where nothing was pressed for the task.
fn cells(task: &OfTask, slot: &Slot, time_ran_out: Option<&str>) -> Option<Cells> {
    let mut cells = Cells::default();
    let mut technique = (slot.technique.as_ref(), slot.side.as_ref());
    let taken = task.fallback().and_then(|(step, _)| slot.fallbacks.0.get(step));
    if let Some(taken) = taken.filter(|taken| !taken.leaves()) {
        technique = (taken.technique.as_ref(), taken.side.as_ref());
    }
    match task.progress {
        Progress::Planned => return None,
        Progress::Running { since } => cells.set("pet_start", since.to_string()),
        Progress::Dropped => {
            cells.set("outcome", Outcome::NotReached.word());
            if let Some(cause) = time_ran_out {
                cells.set("cause", cause);
            }
        }
        Progress::Ended { start, end, outcome } => {
            if !task.start_unknown {
                cells.set("pet_start", start.to_string());
            }
            // Where nobody pressed how it ended, its end is the start of another task.
            if outcome.is_some() && !task.end_unknown {
                cells.set("pet_end", end.to_string());
            }
            let word = match outcome {
                Some(Act::Done) => Some(Outcome::Done),
                Some(Act::AtStoppingPoint) => Some(Outcome::PartDone),
                Some(Act::NotCompleted | Act::Dropped) => Some(Outcome::NotCompleted),
                Some(
                    Act::Egress
                    | Act::Inside
                    | Act::Started
                    | Act::Fallback
                    | Act::Added
                    | Act::Undo,
                )
                | None => None,
            };
            if let Some(word) = word {
                cells.set("outcome", word.word());
            }
            // It went on and was given up for its time, and for nothing in the work.
            if let Some(cause) = time_ran_out.filter(|_| outcome == Some(Act::Dropped)) {
                cells.set("cause", cause);
            }
        }
    }
    if let Some(technique) = technique.0 {
        cells.set("technique", technique.as_str());
    }
    if let Some(side) = technique.1 {
        cells.set("side", side.show());
    }
    Some(cells)
}
