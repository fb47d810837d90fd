//! The approaches of a task, and those left to it in their order.

use super::*;
use crate::words::TechniqueState;

use TechniqueState::{Cleared, Drafted, Withdrawn};

#[test]
fn a_technique_is_offered_from_the_sides_that_exist_and_that_it_is_for() {
    let exist = [side("nadir"), side("starboard")];
    let techniques = [
        ("K-2".into(), vec![side("nadir"), side("zenith")], Cleared),
        ("K-1".into(), vec![], Drafted),
        ("K-3".into(), vec![side("nadir")], Withdrawn),
    ];

    let found = approaches_of(&exist, &techniques);

    let expected =
        [approach("K-1", "nadir"), approach("K-1", "starboard"), approach("K-2", "nadir")];
    assert_eq!(found, expected);
}

#[test]
fn a_task_without_sides_has_those_of_its_techniques() {
    let sided = [("K-1".into(), vec![side("aft")], Cleared)];
    assert_eq!(approaches_of(&[], &sided), [approach("K-1", "aft")]);

    let bare = [("K-1".into(), vec![], Cleared)];
    let expected = Approach { technique: Some("K-1".into()), side: None };
    assert_eq!(approaches_of(&[], &bare), [expected]);
}

#[test]
fn the_best_is_offered_first_and_what_is_shut_not_at_all() {
    let [shut, tried_once, twice_done, new_b, new_a] = [
        approach("K-1", "nadir"),
        approach("K-1", "starboard"),
        approach("K-9", "nadir"),
        approach("K-4", "aft"),
        approach("K-3", "aft"),
    ];
    let tries = [
        failed(1, unit(1), &shut),
        failed(2, unit(2), &tried_once),
        done(3, unit(2), &twice_done),
        done(4, unit(3), &twice_done),
    ];
    let candidates = [shut, tried_once.clone(), new_b.clone(), twice_done.clone(), new_a.clone()];

    let left = approaches_left(&unit(1), &candidates, &Guard::new(record(&tries, &[], &[])));

    let order: Vec<_> = left.iter().map(|l| l.approach.clone()).collect();
    assert_eq!(order, [twice_done, new_a, new_b, tried_once]);
    assert_eq!((left[0].successes_on_sisters, left[0].done_on_sisters), (2, 2));
    assert_eq!(left[3].judgement, questioned(&["A-2"]));
    assert_eq!(left[3].failures, 1);
}

#[test]
fn a_done_on_the_unit_itself_is_no_success_on_a_sister() {
    let by = approach("K-1", "nadir");
    let tries = [done(1, unit(1), &by)];

    let left =
        approaches_left(&unit(1), std::slice::from_ref(&by), &Guard::new(record(&tries, &[], &[])));

    assert_eq!(left[0].successes_on_sisters, 0);
}
