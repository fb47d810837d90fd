//! Chains, what holds a task up, and what waits for it.

use std::collections::BTreeMap;

use super::*;
use crate::words::{LinkKind, TaskState};

fn stands(all: &[(&str, TaskState)]) -> BTreeMap<TaskCode, KnownTask> {
    let known = |(code, state): &(&str, TaskState)| {
        (TaskCode::from(*code), KnownTask::as_it_stands(TaskCode::from(*code), *state))
    };
    all.iter().map(known).collect()
}

/// T-1 needs T-2 and T-3; both need T-4; T-4 undoes T-5.
fn ties() -> Vec<Tie> {
    vec![
        needs("T-1", "T-2"),
        needs("T-1", "T-3"),
        needs("T-2", "T-4"),
        needs("T-3", "T-4"),
        tie("T-4", LinkKind::Undoes, "T-5"),
        tie("T-1", LinkKind::InsteadOf, "T-8"),
    ]
}

#[test]
fn a_chain_names_every_task_and_follows_each_once() {
    let ties = ties();
    let chain = Ties::of(&ties).chain(&"T-1".into());

    let named: Vec<&str> = chain.tasks().into_iter().map(TaskCode::as_str).collect();
    assert_eq!(named, ["T-1", "T-2", "T-3", "T-4", "T-5", "T-8"]);
    let (second, third) = (&chain.before[0], &chain.before[1]);
    assert_eq!(second.further[0].further[0].tie.kind, LinkKind::Undoes);
    assert!(third.further[0].again && third.further[0].further.is_empty());
    assert_eq!(chain.after, []);
    assert_eq!(Ties::of(&ties).chain(&"T-5".into()).after[0].task, "T-4".into());
    assert!(Ties::of(&ties).chain(&"T-9".into()).is_empty());
}

#[test]
fn the_first_unfinished_causes_are_named_and_not_what_they_hold_up() {
    let ties = ties();
    let laid = Ties::of(&ties);
    let all_open = BTreeMap::new();
    assert_eq!(laid.held_up_by(&"T-1".into(), &all_open), codes(&["T-5"]));
    let done = stands(&[("T-5", TaskState::Done), ("T-2", TaskState::Set)]);
    assert_eq!(laid.held_up_by(&"T-1".into(), &done), codes(&["T-4"]));
    let done = stands(&[("T-4", TaskState::Done), ("T-2", TaskState::Done)]);
    assert_eq!(laid.held_up_by(&"T-1".into(), &done), codes(&["T-3"]));
    let done = stands(&[("T-2", TaskState::Done), ("T-3", TaskState::Done)]);
    assert_eq!(laid.held_up_by(&"T-1".into(), &done), []);
}

#[test]
fn a_contingency_that_nobody_triggered_is_a_cause_of_its_own() {
    let ties = [needs("T-1", "T-2"), tie("T-2", LinkKind::OnlyIf, "T-3")];
    let laid = Ties::of(&ties);
    let mut known = stands(&[("T-2", TaskState::Open), ("T-3", TaskState::Open)]);
    assert_eq!(laid.held_up_by(&"T-1".into(), &known), codes(&["T-2"]));
    known.get_mut(&TaskCode::from("T-2")).unwrap().triggered = true;
    assert_eq!(laid.held_up_by(&"T-1".into(), &known), codes(&["T-2"]));
    // What decides does not hold it up: it may come out either way.
    assert_eq!(laid.held_up_by(&"T-2".into(), &known), []);
}

#[test]
fn what_waits_is_counted_through_others_while_it_is_open() {
    let ties = ties();
    let laid = Ties::of(&ties);
    let none = BTreeMap::new();
    assert_eq!(laid.waiting_for(&"T-4".into(), &none), codes(&["T-1", "T-2", "T-3"]));
    let done = stands(&[("T-2", TaskState::Done)]);
    assert_eq!(laid.waiting_for(&"T-4".into(), &done), codes(&["T-1", "T-3"]));
    // Either of two makes the other moot; neither waits.
    assert_eq!(laid.waiting_for(&"T-8".into(), &none), []);
}

#[test]
fn a_ring_is_told_link_by_link() {
    let ties = [needs("T-1", "T-2"), tie("T-2", LinkKind::Undoes, "T-3"), needs("T-3", "T-1")];
    let ring = cycle(&ties).unwrap();
    assert_eq!(ring_in_words(&ring, &ties), "T-1 needs T-2, T-2 undoes T-3, T-3 needs T-1");
}
