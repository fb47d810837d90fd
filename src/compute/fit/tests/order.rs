//! Rule 7, the check “order of work”: what a task needs, goes with, and waits for. (That a pencil is
//! not enough, and the place between two others, stand under `gates`.)

use super::super::Standing;
use super::*;
use crate::places::{ExcursionAt, TaskAt};

use GateName::Order;
use GateVerdict::{Met, NotMet};

/// T-1, which needs T-2, and T-2.
fn needing() -> (Snapshot, TaskAt) {
    let mut record = record();
    let need = add(&mut record, task("T-2", KEEL, 20.0));
    record.tasks[TaskAt(0)].needs = vec![need];
    (record, need)
}

#[test]
fn without_links_nothing_is_against_it() {
    let mut record = record();
    let other = add(&mut record, task("T-8", KEEL, 20.0));
    add(&mut record, Task { needs: vec![other], ..task("T-9", KEEL, 20.0) });
    assert_eq!(gate(&record, 0, Order), Met);
    assert_eq!(says(&record, 0, Order), "It needs nothing before it.");
}

#[test]
fn what_it_needs_is_done_or_set_by_then() {
    let (mut record, need) = needing();
    for (standing, verdict) in [
        (Standing::Done, Met),
        (Standing::Open, NotMet),
        (Standing::Resting, NotMet),
        (Standing::Dropped, NotMet),
    ] {
        record.tasks[need].standing = standing;
        assert_eq!(gate(&record, 1, Order), verdict, "{standing:?}");
    }
    record.tasks[need].standing = Standing::Open;
    for (on, verdict) in [(0, Met), (1, Met), (2, NotMet)] {
        let mut record = record.clone();
        set(&mut record, need, on, &[1]);
        assert_eq!(gate(&record, 1, Order), verdict, "set on excursion {on}");
    }
}

#[test]
fn on_one_excursion_it_comes_after_what_it_needs_in_either_seat() {
    for seats in [[1_u8], [2]] {
        let (mut record, need) = needing();
        set(&mut record, need, 0, &seats);
        let place = cell(&record, 0, 0).cell.place.unwrap();
        // Egress 30, travel 10, setup 5, then the 20 minutes of what it needs.
        assert!(place.start >= 65.0, "{seats:?}: {}", place.start);
    }
}

#[test]
fn a_need_is_read_in_one_direction() {
    let mut record = record();
    add(&mut record, Task { needs: vec![TaskAt(0)], ..task("T-2", KEEL, 20.0) });
    assert_eq!(gate(&record, 0, Order), Met);
}

#[test]
fn each_lack_is_told_with_its_code_and_a_way_out() {
    let (mut record, need) = needing();
    assert!(says(&record, 0, Order).contains("T-2"));
    set(&mut record, need, 1, &[1]);
    let later = says(&record, 0, Order);
    assert!(later.contains("T-2") && later.contains("E-2.1"), "{later}");
    record.excursions[ExcursionAt(1)].slots.clear();
    record.tasks[need].standing = Standing::Dropped;
    let dropped = says(&record, 0, Order);
    assert!(dropped.contains("T-2") && dropped.contains("dropped"), "{dropped}");
}

#[test]
fn a_partner_that_has_ended_binds_the_same_visit_no_more() {
    for standing in [Standing::Done, Standing::Dropped] {
        let mut record = record();
        let with = add(&mut record, task("T-2", KEEL, 20.0));
        record.tasks[TaskAt(0)].same_visit = vec![with];
        set(&mut record, with, 1, &[1]);
        assert_eq!(gate(&record, 0, Order), NotMet);
        record.tasks[with].standing = standing;
        assert_eq!(gate(&record, 0, Order), Met, "{standing:?}");
    }
}

#[test]
fn a_triggered_contingency_and_an_open_alternative_are_held_back_by_nothing() {
    let mut record = record();
    let other = add(&mut record, task("T-2", KEEL, 20.0));
    record.tasks[TaskAt(0)].instead_of = vec![other];
    record.tasks[TaskAt(0)].waits_for_trigger = true;
    assert_eq!(gate(&record, 0, Order), NotMet);
    record.tasks[TaskAt(0)].waits_for_trigger = false;
    assert_eq!(gate(&record, 0, Order), Met);
}
