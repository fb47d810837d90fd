//! Whether a task has a place where the order of the slots alone gives it none: begun later on
//! purpose, or with a set task that waits for its tool.

use super::super::super::{Ask, Counting, Slot, excursion_as_planned, one_cell};
use super::places::{Case, record};
use super::{cases, fixed_overheads};
use crate::places::{ApproachAt, ExcursionAt, SlotAt, TaskAt};
use domain::words::SlotVerdict;

#[test]
fn forty_excursions_have_a_place_that_is_begun_later_on_purpose() {
    // Source: OR-Tools 9.15 CP-SAT, proven; tests/reference/waiting.py
    let all: Vec<Case> = cases(include_str!("../../../../../tests/reference/waiting.json"));
    assert_eq!(all.len(), 40);
    let constants = fixed_overheads(0.0);
    let mut on_purpose = 0;
    for (at, case) in all.iter().enumerate() {
        let mut made = record(case);
        let found = one_cell(&made, &constants, TaskAt(0), ExcursionAt(0), &Ask::default());
        let place = found.cell.place.unwrap();
        assert_ne!(found.cell.verdict, SlotVerdict::DoesNotFit, "case {at}: {found:?}");
        // The solver lets no set task wait for the tool; where one may, that can do as well.
        on_purpose += usize::from(place.begin.is_some());
        // Set so, the plan keeps it: with its tool in no other hands.
        let seats: Vec<u8> =
            place.lanes.each().map(|lane| made.excursions[ExcursionAt(0)].seats[lane]).collect();
        let (approach, begin) = (found.cell.approach, place.begin);
        let slot = Slot { task: TaskAt(0), set: true, approach, seats, begin, ..Slot::default() };
        made.excursions[ExcursionAt(0)].slots.insert(place.before_slot, slot);
        let planned =
            excursion_as_planned(&made, ExcursionAt(0), Counting::Set, &constants).timing.unwrap();
        let own = planned.slots.iter().find(|slot| slot.slot == place.before_slot).unwrap();
        let tool = |at: SlotAt| {
            let slot = &made.excursions[ExcursionAt(0)].slots[at];
            !made.tasks[slot.task].approaches[ApproachAt(0)].tools.is_empty()
        };
        for other in planned.slots.iter().filter(|other| other.slot != own.slot && tool(other.slot))
        {
            assert!(
                other.end <= own.start || own.end <= other.start,
                "case {at}: {other:?} {own:?}"
            );
        }
        assert!(planned.end <= made.excursions[ExcursionAt(0)].limit.unwrap(), "case {at}");
    }
    assert!(on_purpose > 0);
}
