//! Rings are found and named.

use proptest::prelude::*;

use super::*;

#[test]
fn a_ring_is_named_task_by_task_from_its_smallest_code() {
    let ties = [
        needs("T-0", "T-3"),
        needs("T-3", "T-1"),
        needs("T-1", "T-2"),
        needs("T-2", "T-3"),
        needs("T-2", "T-9"),
    ];

    assert_eq!(cycle(&ties), Some(codes(&["T-1", "T-2", "T-3"])));
}

#[test]
fn a_task_that_needs_itself_is_a_ring_of_one() {
    assert_eq!(cycle(&[needs("T-1", "T-1")]), Some(codes(&["T-1"])));
}

#[test]
fn what_binds_both_alike_makes_no_ring() {
    let ties = [
        needs("T-1", "T-2"),
        tie("T-2", LinkKind::SameVisit, "T-1"),
        tie("T-2", LinkKind::InsteadOf, "T-1"),
    ];

    assert_eq!(cycle(&ties), None);
    assert_eq!(cycle(&[]), None);
}

#[test]
fn two_ways_to_one_task_are_no_ring() {
    let ties = [needs("T-1", "T-2"), needs("T-1", "T-3"), needs("T-2", "T-4"), needs("T-3", "T-4")];

    assert_eq!(cycle(&ties), None);
}

#[test]
fn the_link_that_would_close_a_ring_is_refused_by_naming_it() {
    let ties = [needs("T-1", "T-2"), needs("T-2", "T-3")];

    assert_eq!(cycle_with(&ties, &needs("T-3", "T-1")), Some(codes(&["T-1", "T-2", "T-3"])));
    assert_eq!(cycle_with(&ties, &needs("T-1", "T-3")), None);
    assert_eq!(cycle_with(&ties, &tie("T-3", LinkKind::SameVisit, "T-1")), None);
    for kind in LinkKind::ALL.iter().copied().filter(|kind| kind.comes_after()) {
        assert!(cycle_with(&ties, &tie("T-3", kind, "T-1")).is_some(), "{kind}");
    }
}

proptest! {
    #[test]
    fn links_that_only_run_downwards_hold_no_ring_and_one_upwards_closes_one(
        pairs in prop::collection::vec((1..30_usize, 1..30_usize), 0..60)
    ) {
        let code = |n: usize| format!("T-{n:02}");
        let mut ties: Vec<Tie> = pairs
            .iter()
            .filter(|(a, b)| a != b)
            .map(|(a, b)| needs(&code(*a.max(b)), &code(*a.min(b))))
            .collect();
        prop_assert_eq!(cycle(&ties), None);

        let Some(first) = ties.first().cloned() else { return Ok(()) };
        ties.push(needs(first.other.as_str(), first.task.as_str()));
        let ring = cycle(&ties).unwrap();
        for (at, task) in ring.iter().enumerate() {
            let next = &ring[(at + 1) % ring.len()];
            prop_assert!(ties.contains(&needs(task.as_str(), next.as_str())));
        }
    }
}
