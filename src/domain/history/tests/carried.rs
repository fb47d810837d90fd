//! Rule 10: the carry count, and deferrals before launch beside it.
//!
//! The count is the project's own; that work is collected over years and taken up again flight after
//! flight is common practice.

use super::*;

use Outcome::{Done, NotCompleted, NotReached};

fn carried(events: &[Event]) -> i64 {
    standing(events).carry_count
}

fn flown(code: &str, on: (i64, i64), entry: i64) -> Event {
    slot(code, on.0 - 1, entry, on, SlotState::Flown)
}

#[test]
fn a_flight_that_took_it_up_and_did_not_do_it_carried_it_once() {
    let events = [
        flown("S-1", (33, 1), 1),
        with_slot(tried("A-1", (33, 1), 2, NotCompleted, None), "S-1"),
        flown("S-2", (33, 2), 3),
        with_slot(tried("A-2", (33, 2), 4, NotReached, None), "S-2"),
        flown("S-3", (34, 1), 5),
        with_slot(deferred("D-1", (34, 1), 6, DeferralPhase::During), "S-3"),
    ];

    assert_eq!(carried(&events), 2);
}

#[test]
fn done_on_a_later_excursion_of_the_same_flight_is_done_at_landing() {
    let events = [
        flown("S-1", (33, 1), 1),
        with_slot(tried("A-1", (33, 1), 2, NotCompleted, None), "S-1"),
        tried("A-2", (33, 3), 3, Done, None),
    ];

    assert_eq!(carried(&events[..2]), 1);
    assert_eq!(carried(&events), 0);
}

#[test]
fn done_on_the_ground_after_landing_was_still_carried() {
    let closed_later = event(
        "Z-1",
        When::on(34, None, Phase::BeforeLaunch, 3),
        EventKind::Closure { kind: ClosureKind::FromGround },
    );
    let closed_before_any_other_flight = closed("Z-1", 33, 3, ClosureKind::FromGround);
    let closed_in_flight = event(
        "Z-1",
        When::on(33, Some(2), Phase::After, 3),
        EventKind::Closure { kind: ClosureKind::ByArm },
    );

    assert_eq!(carried(&[flown("S-1", (33, 1), 1), closed_later]), 1);
    assert_eq!(carried(&[flown("S-1", (33, 1), 1), closed_before_any_other_flight]), 1);
    assert_eq!(carried(&[flown("S-1", (33, 1), 1), closed_in_flight]), 0);
}

#[test]
fn dropped_is_not_done_at_landing() {
    let moot = event(
        "Z-1",
        When::on(33, Some(2), Phase::After, 3),
        EventKind::Closure { kind: ClosureKind::Moot },
    );

    assert_eq!(carried(&[flown("S-1", (33, 1), 1), moot]), 1);
}

#[test]
fn a_flight_that_has_not_landed_counts_nothing_yet() {
    let mut set = slot("S-1", 35, 1, (36, 1), SlotState::Set);
    if let EventKind::Slot(held) = &mut set.what {
        held.set_at_launch = true;
    }

    assert_eq!(carried(&[set]), 0);
}

#[test]
fn a_slot_set_only_in_flight_was_not_taken_up_at_launch() {
    let mut late = flown("S-1", (33, 2), 1);
    if let EventKind::Slot(held) = &mut late.what {
        held.set_at_launch = false;
    }
    let failed = with_slot(tried("A-1", (33, 2), 2, NotCompleted, None), "S-1");

    assert_eq!(carried(&[late, failed]), 0);
}

#[test]
fn an_imported_attempt_without_a_slot_counts_and_unplanned_work_does_not() {
    let unplanned = tried("A-1", (33, 1), 1, NotCompleted, None);
    let mut imported = unplanned.clone();
    if let EventKind::Attempt(made) = &mut imported.what {
        made.imported = true;
    }

    assert_eq!(carried(&[unplanned]), 0);
    assert_eq!(carried(std::slice::from_ref(&imported)), 1);
    // With a slot, the slot's own history decides.
    assert_eq!(carried(&[with_slot(imported.clone(), "S-1")]), 0);
    if let EventKind::Attempt(made) = &mut imported.what {
        made.flight = None;
    }
    assert_eq!(carried(&[imported]), 0, "of an unknown flight nothing is counted");
}

#[test]
fn deferrals_before_launch_are_counted_apart() {
    let events = [
        deferred("D-1", (33, 1), 1, DeferralPhase::BeforeLaunch),
        deferred("D-2", (34, 1), 2, DeferralPhase::BeforeLaunch),
        deferred("D-3", (34, 1), 3, DeferralPhase::BeforeEgress),
    ];
    let now = standing(&events);

    assert_eq!((now.deferred_before_launch, now.carry_count), (2, 0));
}

#[test]
fn a_done_that_was_reopened_later_was_done_at_that_landing() {
    let events = [
        flown("S-1", (33, 1), 1),
        with_slot(tried("A-1", (33, 1), 2, Done, None), "S-1"),
        after("Y-1", 34, 3, EventKind::Reopening { share_left: Share(10) }),
        flown("S-2", (35, 1), 4),
        with_slot(tried("A-2", (35, 1), 5, NotCompleted, None), "S-2"),
    ];

    assert_eq!(carried(&events), 1);
}
