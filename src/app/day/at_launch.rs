//! What the set tasks of a coming excursion are expected to come to, before its day: by the draws on
//! which its board stands as well.

use std::collections::BTreeMap;

use super::answers::real;
use crate::fit::{Board, Judged};
use compute::day::{Outlook, Rest};
use compute::fit::{DaySlot, ExcursionAt, OnTheDay, Slot, SlotAt, Snapshot, TaskAt, seated};
use domain::codes::SlotCode;

/// The chances of a plan before its day.
#[derive(Debug, Clone, Default)]
pub struct AtLaunch {
    /// To end inside the limit.
    pub chance: f64,
    /// How many of the set tasks are expected to be reached.
    pub expected: f64,
    pub of: usize,
    /// The chance of each set slot to be reached.
    pub reached: BTreeMap<SlotCode, f64>,
}

/// `None` where nothing is set, or something keeps the day from being timed.
pub fn at_launch(board: &Board, at: ExcursionAt) -> Option<AtLaunch> {
    let (slots, rest) = rest(board, &board.snapshot, at)?;
    let reached = rest.tasks.iter().map(|left| {
        let slot = &board.slots[at][slots[left.task]];
        (slot.code.0.clone(), left.reached)
    });
    Some(AtLaunch { reached: reached.collect(), ..summed(&rest, slots.len()) })
}

/// The same with the pencilled tasks too, as far as seats are found for them.
pub fn at_launch_with_pencilled(board: &Board, at: ExcursionAt) -> Option<AtLaunch> {
    let mut with = seated(&board.snapshot, at, &board.constants).into_owned();
    for slot in &mut with.excursions[at].slots {
        slot.set |= !slot.seats.is_empty();
    }
    let (slots, rest) = rest(board, &with, at)?;
    Some(summed(&rest, slots.len()))
}

/// The chances with a task in the place that was found for it, and its own.
pub fn at_launch_with(
    board: &Board,
    at: ExcursionAt,
    task: TaskAt,
    judged: &Judged,
) -> Option<(AtLaunch, f64)> {
    let place = judged.place?;
    let mut with = board.snapshot.clone();
    let here = &mut with.excursions[at];
    let seats = place.lanes.each().filter_map(|lane| here.seats.get(lane).copied()).collect();
    let fallbacks = here.slots.iter().find(|slot| slot.task == task);
    let slot = Slot {
        task,
        set: true,
        approach: judged.approach_at,
        fallbacks: fallbacks.map_or_else(Vec::new, |slot| slot.fallbacks.clone()),
        seats,
        begin: place.begin,
        ..Slot::default()
    };
    let place = place.before_slot.min(here.slots.next_key());
    here.slots.insert(place, slot);
    let mut at_slot = SlotAt::default();
    here.slots.retain(|slot| {
        at_slot = at_slot.next();
        slot.task != task || at_slot == place.next()
    });
    let (slots, rest) = rest(board, &with, at)?;
    let own =
        rest.tasks.iter().find(|left| with.excursions[at].slots[slots[left.task]].task == task)?;
    Some((summed(&rest, slots.len()), own.reached))
}

fn summed(rest: &Rest, of: usize) -> AtLaunch {
    AtLaunch { chance: rest.chance, expected: rest.expected, of, ..AtLaunch::default() }
}

/// The set slots in the order of the plan, and the rest of a day that has not begun.
fn rest(board: &Board, snapshot: &Snapshot, at: ExcursionAt) -> Option<(Vec<SlotAt>, Rest)> {
    let told: Vec<DaySlot> = snapshot.excursions[at]
        .slots
        .keys()
        .map(|slot| DaySlot { slot, ..DaySlot::default() })
        .collect();
    let on_the_day = OnTheDay::of(snapshot, &board.constants, at, &told).ok()?;
    let slots = on_the_day.slots().to_vec();
    if slots.is_empty() {
        return None;
    }
    let ways = on_the_day.ways();
    let rest = Outlook::of(on_the_day.day(&ways, real(0), None)).rest().ok()?;
    Some((slots, rest))
}
