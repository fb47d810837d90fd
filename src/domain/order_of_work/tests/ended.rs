//! Rule 7: what waits to be triggered, and what a `done` makes moot.

use super::*;
use crate::words::TaskState;

use LinkKind::{InsteadOf, OnlyIf};

fn known(task: &str, state: TaskState) -> KnownTask {
    KnownTask::as_it_stands(task.into(), state)
}

#[test]
fn a_contingency_is_kept_out_until_a_person_triggers_it() {
    let ties = [tie("T-1", OnlyIf, "T-2")];

    assert!(is_kept_out(&"T-1".into(), false, &ties));
    assert!(!is_kept_out(&"T-1".into(), true, &ties));
    assert!(!is_kept_out(&"T-2".into(), false, &ties));
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
        known("T-3", TaskState::Set),
        known("T-4", TaskState::Dropped),
        known("T-5", TaskState::Open),
        known("T-6", TaskState::Open),
    ];

    assert_eq!(moot_by(&"T-1".into(), &ties, &others), codes(&["T-2", "T-3"]));
}
