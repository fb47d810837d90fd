//! A start that is later on purpose: to wait for a tool in other hands, or for a window.

use super::super::{Ask, Change, Counting, Snapshot, excursion_as_planned, openings};
use super::{Constants, Explained, KEEL, MAST, Part, add, even, record, sentence, set, task};
use crate::places::{ApproachAt, ExcursionAt, InhibitAt, SlotAt, TaskAt, ToolAt};
use crate::timeline::{Activity, Lanes};
use crate::value::{Values, Weights};
use domain::units::{Pet, Window};
use domain::words::GateVerdict::Note;
use domain::words::{GateName, SlotVerdict};

/// EV1 has the only L-1 from 2:25 to 3:25, at the keel, and must be done with it by 3:28, when its
/// inhibit ends; T-1 takes 100 min with it as well, and T-4 in EV2 waits for T-1.
fn tool_held_later() -> Snapshot {
    let mut record = record();
    record.tools[ToolAt(0)].aboard = Some(1);
    record.tasks[TaskAt(0)].site = Some(MAST);
    record.tasks[TaskAt(0)].work = crate::three_point::ThreePoint::new(100.0, 100.0, 100.0);
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    let before = add(&mut record, task("T-2", KEEL, 100.0));
    let mut holder = task("T-3", KEEL, 60.0);
    holder.approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    holder.inhibits = vec![InhibitAt(0)];
    let holder = add(&mut record, holder);
    let last = add(&mut record, task("T-4", MAST, 60.0));
    record.excursions[ExcursionAt(0)].arranged = vec![super::super::Arranged {
        inhibit: InhibitAt(0),
        state: domain::words::ArrangementState::Arranged,
        from: None,
        until: Some(208.0),
    }];
    set(&mut record, last, 0, &[2]);
    set(&mut record, before, 0, &[1]);
    set(&mut record, holder, 0, &[1]);
    record.excursions[ExcursionAt(0)].slots[SlotAt(2)].approach = Some(ApproachAt(0));
    // T-4 needs T-1 before it.
    record.tasks[last].needs = vec![TaskAt(0)];
    record.excursions[ExcursionAt(0)].limit = Some(450.0);
    record
}

fn judged(record: &Snapshot, ask: &Ask) -> Explained {
    super::one_cell(record, &even(), TaskAt(0), ExcursionAt(0), ask)
}

#[test]
fn a_task_waits_on_purpose_for_a_tool_that_a_later_slot_holds() {
    let mut record = tool_held_later();
    // T-1 goes before T-4, the first slot. Begun at once at 0:53 it has L-1 until 2:33, so T-3 would
    // begin then and end at 3:33, after its inhibit.
    let found = judged(&record, &Ask::default());
    let place = found.cell.place.unwrap();
    assert_ne!(found.cell.verdict, SlotVerdict::DoesNotFit, "{found:?}");
    assert_eq!(place.begin, Some(205.0), "{place:?}");
    assert!(place.start >= 205.0 - 1e-6, "T-3 holds L-1 until 3:25: {place:?}");
    assert_eq!(found.cell.gate(GateName::Time), Note);
    let words = found
        .reasons
        .iter()
        .map(|(_, _, reason)| Part::plain(&sentence(&record, TaskAt(0), reason)));
    let words: Vec<String> = words.collect();
    let said = "This place needs “begin no earlier than” PET 3:25.";
    assert!(words.iter().any(|one| one == said), "{words:?}");

    // Set with that start, the plan has it there, waiting.
    let seats = place.lanes.each().map(|lane| [1, 2][lane]).collect();
    let slot = super::Slot {
        set: true,
        approach: Some(ApproachAt(0)),
        seats,
        begin: place.begin,
        ..super::Slot::default()
    };
    record.excursions[ExcursionAt(0)].slots.insert(place.before_slot, slot);
    let timing =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &even()).timing.unwrap();
    let own = timing.slots.iter().find(|slot| slot.slot == place.before_slot).unwrap();
    assert!((own.start - 205.0).abs() < 1e-9, "{own:?}");
    assert_eq!(own.lanes, Lanes::one(1));
    let waits = timing.segments.iter().any(|segment| {
        segment.lane == 1
            && segment.activity == Activity::Wait
            && (segment.until - own.start).abs() < 1e-9
    });
    assert!(waits, "{:?}", timing.segments);
    let again = judged(&record, &Ask::default());
    assert_eq!(again.cell.verdict, SlotVerdict::Fits, "{again:?}");

    // Asked for there without it, the start is a way out.
    record.excursions[ExcursionAt(0)].slots.remove(place.before_slot);
    let ask = Ask { seats: vec![2], before_slot: Some(SlotAt(0)), ..Ask::default() };
    assert_eq!(judged(&record, &ask).cell.verdict, SlotVerdict::DoesNotFit);
    let values = Values::of(&record, &Weights::default());
    let ways = openings(&record, &even(), &values, TaskAt(0), ExcursionAt(0), &ask);
    let waits = |change: &Change| matches!(change, Change::Place { start: 205, waits: true, .. });
    assert!(ways.iter().any(|way| way.changes.iter().any(waits)), "{ways:?}");
}

#[test]
fn a_task_waits_on_purpose_for_the_next_window() {
    let mut record = record();
    record.tasks[TaskAt(0)].arm = true;
    let window = |from, until| Window { from: Pet(from), until: Pet(until) };
    // The first window holds the mean of 60 min and little more, the second all of it.
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(50, 111), window(200, 330)];
    record.tasks[TaskAt(0)].work = crate::three_point::ThreePoint::new(20.0, 55.0, 120.0);
    record.excursions[ExcursionAt(0)].limit = Some(420.0);
    let constants = Constants { tight_from: 0.6, ..Constants::default() };
    let found = super::one_cell(&record, &constants, TaskAt(0), ExcursionAt(0), &Ask::default());
    let place = found.cell.place.unwrap();
    assert_eq!((place.begin, place.start), (Some(200.0), 200.0), "{found:?}");
    assert_eq!(found.cell.verdict, SlotVerdict::Fits, "{found:?}");
}
