//! Rule 7: what a task needs, goes with, and waits for.

use super::*;
use crate::domain::words::{GateVerdict, TaskState};

use GateVerdict::{Met, NotMet};
use LinkKind::{InsteadOf, OnlyIf, SameVisit};

fn known(task: &str, state: TaskState) -> Known {
    let task = task.into();
    Known { task, state, triggered: false, set_on: vec![], pencilled_on: vec![] }
}

fn set(task: &str, on: &[Spot]) -> Known {
    Known { set_on: on.to_vec(), ..known(task, TaskState::Slotted) }
}

/// Judges `T-1` on E-37.2, third in order.
fn judged(ties: &[Tie], others: &[Known]) -> OrderOfWork {
    judge(&known("T-1", TaskState::Open), &spot(37, 2, Some(3)), ties, others)
}

#[test]
fn without_links_nothing_stands_in_the_way() {
    assert_eq!(judged(&[needs("T-8", "T-9")], &[]), OrderOfWork { verdict: Met, reasons: vec![] });
}

#[test]
fn what_it_needs_is_done_or_set_earlier() {
    let verdict = |other: Known| judged(&[needs("T-1", "T-2")], &[other]).verdict;

    assert_eq!(verdict(known("T-2", TaskState::Done)), Met);
    for state in [TaskState::Open, TaskState::PartDone, TaskState::Parked] {
        assert_eq!(verdict(known("T-2", state)), NotMet, "{state}");
    }
    assert_eq!(verdict(set("T-2", &[spot(36, 3, None)])), Met);
    assert_eq!(verdict(set("T-2", &[spot(37, 1, Some(9))])), Met);
    assert_eq!(verdict(set("T-2", &[spot(37, 2, Some(2))])), Met);
    assert_eq!(verdict(set("T-2", &[spot(37, 2, None)])), Met);
    assert_eq!(verdict(set("T-2", &[spot(37, 2, Some(3))])), NotMet);
    assert_eq!(verdict(set("T-2", &[spot(37, 2, Some(4))])), NotMet);
    assert_eq!(verdict(set("T-2", &[spot(37, 3, Some(1))])), NotMet);
    assert_eq!(verdict(set("T-2", &[spot(38, 1, None)])), NotMet);
}

#[test]
fn a_pencil_is_not_enough_for_what_it_needs() {
    let pencilled =
        Known { pencilled_on: vec![spot(37, 1, None)], ..known("T-2", TaskState::Open) };

    assert_eq!(judged(&[needs("T-1", "T-2")], &[pencilled]).verdict, NotMet);
}

#[test]
fn a_need_is_read_in_one_direction() {
    let ties = [needs("T-2", "T-1")];

    assert_eq!(judged(&ties, &[known("T-2", TaskState::Open)]).verdict, Met);
}

#[test]
fn each_lack_is_told_with_its_code_and_a_way_out() {
    let ties = [needs("T-1", "T-2"), needs("T-1", "T-3"), needs("T-1", "T-4"), needs("T-1", "T-5")];
    let others = [
        known("T-2", TaskState::Open),
        set("T-3", &[spot(38, 1, None)]),
        known("T-4", TaskState::Dropped),
    ];

    let reasons = judged(&ties, &others).reasons;

    let expected = [
        Reason::NeedsFirst { other: "T-2".into() },
        Reason::NeedsEarlier { other: "T-3".into(), on: "E-38.1".into() },
        Reason::NeedsDropped { other: "T-4".into() },
        Reason::NeedsUnknown { other: "T-5".into() },
    ];
    assert_eq!(reasons, expected);
    for (reason, code) in reasons.iter().zip(["T-2", "T-3", "T-4", "T-5"]) {
        assert!(reason.to_string().contains(code), "{reason}");
    }
}

#[test]
fn same_visit_tasks_stand_on_one_excursion_read_either_way() {
    for ties in [[tie("T-1", SameVisit, "T-2")], [tie("T-2", SameVisit, "T-1")]] {
        let verdict = |other: Known| judged(&ties, &[other]).verdict;

        assert_eq!(verdict(known("T-2", TaskState::Open)), NotMet);
        assert_eq!(verdict(set("T-2", &[spot(38, 1, None)])), NotMet);
        assert_eq!(verdict(set("T-2", &[spot(37, 2, Some(9))])), Met);
        assert_eq!(verdict(known("T-2", TaskState::Done)), Met);
        assert_eq!(verdict(known("T-2", TaskState::Dropped)), Met);
        let pencilled =
            Known { pencilled_on: vec![spot(37, 2, None)], ..known("T-2", TaskState::Open) };
        assert_eq!(verdict(pencilled), Met);
    }
}

#[test]
fn an_alternative_that_is_done_makes_it_moot() {
    let ties = [tie("T-2", InsteadOf, "T-1")];

    let done = judged(&ties, &[known("T-2", TaskState::Done)]);
    assert_eq!(done.reasons, [Reason::OtherwiseDone { other: "T-2".into() }]);
    assert_eq!(judged(&ties, &[known("T-2", TaskState::Open)]).verdict, Met);
}

#[test]
fn a_contingency_waits_until_a_person_triggers_it() {
    let ties = [tie("T-1", OnlyIf, "T-2")];

    assert_eq!(judged(&ties, &[]).reasons, [Reason::NotTriggered]);
    let triggered = Known { triggered: true, ..known("T-1", TaskState::Open) };
    assert_eq!(judge(&triggered, &spot(37, 2, None), &ties, &[]).verdict, Met);
    assert!(is_kept_out(&"T-1".into(), false, &ties));
    assert!(!is_kept_out(&"T-1".into(), true, &ties));
    assert!(!is_kept_out(&"T-2".into(), false, &ties));
}

#[test]
fn links_that_only_tell_a_story_bind_nothing() {
    for kind in [LinkKind::Continues, LinkKind::MakesPermanent] {
        let ties = [tie("T-1", kind, "T-2")];
        assert_eq!(judged(&ties, &[known("T-2", TaskState::Open)]).verdict, Met, "{kind}");
    }
}

#[test]
fn what_is_undone_has_to_be_there_first() {
    let ties = [tie("T-1", LinkKind::Undoes, "T-2")];
    assert_eq!(judged(&ties, &[known("T-2", TaskState::Open)]).verdict, NotMet);
    assert_eq!(judged(&ties, &[known("T-2", TaskState::Done)]).verdict, Met);
}

#[test]
fn done_closes_its_open_alternatives_as_moot() {
    let ties = [
        tie("T-1", InsteadOf, "T-2"),
        tie("T-3", InsteadOf, "T-1"),
        tie("T-3", InsteadOf, "T-1"),
        tie("T-1", InsteadOf, "T-4"),
        tie("T-5", InsteadOf, "T-2"),
        needs("T-6", "T-1"),
    ];
    let others = [
        known("T-1", TaskState::Done),
        known("T-2", TaskState::Open),
        known("T-3", TaskState::Slotted),
        known("T-4", TaskState::Dropped),
        known("T-5", TaskState::Open),
        known("T-6", TaskState::Open),
    ];

    assert_eq!(moot_by(&"T-1".into(), &ties, &others), codes(&["T-2", "T-3"]));
}

#[test]
fn taking_a_needed_slot_off_names_the_set_slots_that_lean_on_it() {
    let first = spot(36, 1, None);
    let ties = [needs("T-2", "T-1"), needs("T-3", "T-1"), needs("T-4", "T-1"), needs("T-6", "T-1")];
    let lacked_before = set("T-6", &[spot(35, 1, None)]);
    let others = [
        lacked_before,
        set("T-1", &[first.clone(), spot(37, 1, None)]),
        set("T-2", &[spot(36, 2, None)]),
        set("T-3", &[spot(37, 2, None)]),
        known("T-4", TaskState::Open),
        set("T-5", &[spot(36, 2, None)]),
    ];

    let broken = broken_without(&"T-1".into(), &first, &ties, &others);

    assert_eq!(broken, [("T-2".into(), "E-36.2".into())]);
}
