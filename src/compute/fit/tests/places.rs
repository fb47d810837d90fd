//! Where a task goes, and what that costs.

use super::super::{Ask, Constants, Counting, Unknown, excursion_as_planned, matrix, one_cell};
use super::{KEEL, LOCK, MAST, add, aid, cell, margin, record, set, task};
use crate::places::{ApproachAt, ExcursionAt, OutsideAt, SiteAt, SlotAt, TaskAt};
use crate::three_point::ThreePoint;
use crate::timeline::Lanes;
use domain::words::{GateName, GateVerdict, SlotVerdict};

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn an_empty_excursion_takes_it_out_and_home() {
    let place = cell(&record(), 0, 0).cell.place.unwrap();
    // 30 egress, 10 out, 5 setup; 60 of work; 3 cleanup, 12 home, 20 ingress.
    assert!(close(place.start, 45.0) && close(place.end, 105.0));
    assert!(close(place.excursion_end, 140.0));
    assert!(close(place.margin, 280.0));
    assert_eq!(place.margin_to_plan.map(|m| close(m, 220.0)), Some(true));
    assert!(close(place.added, 90.0));
}

#[test]
fn it_joins_a_visit_that_is_there_already() {
    let mut record = record();
    let other = add(&mut record, task("T-2", KEEL, 200.0));
    set(&mut record, other, 0, &[1]);
    let both = add(&mut record, task("T-3", MAST, 200.0));
    set(&mut record, both, 0, &[2]);
    // In EV1 it costs its 60 min alone: 140 with T-2 becomes 340. In EV2 it would cost the way.
    let place = cell(&record, 0, 0).cell.place.unwrap();
    assert_eq!(place.lanes, Lanes::one(0));
    assert!(close(place.added, 60.0));
    assert!(close(place.excursion_end, 340.0));
}

#[test]
fn a_share_of_the_work_takes_that_share_of_the_minutes() {
    let mut record = record();
    record.tasks[TaskAt(0)].share_left = 0.5;
    let place = cell(&record, 0, 0).cell.place.unwrap();
    assert!(close(place.end - place.start, 30.0));
}

#[test]
fn the_technique_knows_better_than_the_task() {
    let mut record = record();
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].work = ThreePoint::new(90.0, 90.0, 90.0);
    let place = cell(&record, 0, 0).cell.place.unwrap();
    assert!(close(place.end - place.start, 90.0));
}

#[test]
fn it_goes_after_what_it_needs_even_in_the_other_seat() {
    let mut record = record();
    let first = add(&mut record, task("T-2", KEEL, 100.0));
    set(&mut record, first, 0, &[1]);
    record.tasks[TaskAt(0)].needs = vec![first];
    let place = cell(&record, 0, 0).cell.place.unwrap();
    assert!(place.start >= 145.0 - 1e-9);
}

#[test]
fn a_two_seat_task_holds_both() {
    let mut record = record();
    record.tasks[TaskAt(0)].seats = Some(2);
    let place = cell(&record, 0, 0).cell.place.unwrap();
    assert_eq!(place.lanes.count(), 2);
}

#[test]
fn what_was_asked_for_is_kept() {
    let mut record = record();
    let other = add(&mut record, task("T-2", KEEL, 50.0));
    set(&mut record, other, 0, &[2]);
    let ask =
        Ask { seats: vec![2], before_slot: Some(SlotAt(0)), share: Some(0.5), ..Ask::default() };
    let place = one_cell(&record, &Constants::default(), TaskAt(0), ExcursionAt(0), &ask)
        .cell
        .place
        .unwrap();
    assert_eq!((place.lanes, place.before_slot), (Lanes::one(1), SlotAt(0)));
    assert!(close(place.end - place.start, 30.0));
}

#[test]
fn a_slot_that_is_set_is_judged_where_it_stands() {
    let mut record = record();
    set(&mut record, 0, 0, &[2]);
    let standing = cell(&record, 0, 0);
    assert_eq!(standing.cell.verdict, SlotVerdict::Fits);
    let place = standing.cell.place.unwrap();
    assert_eq!(place.lanes, Lanes::one(1));
    let planned =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &Constants::default())
            .timing
            .unwrap();
    assert!(close(planned.end, place.excursion_end));
    assert!(close(planned.slots[0].start, place.start));
}

#[test]
fn pencilled_slots_take_no_room_from_others() {
    let mut record = record();
    let long = add(&mut record, task("T-2", KEEL, 300.0));
    for seat in [1, 2] {
        set(&mut record, long, 0, &[seat]);
        record.excursions[ExcursionAt(0)].slots.last_mut().unwrap().set = false;
    }
    assert_eq!(cell(&record, 0, 0).cell.verdict, SlotVerdict::Fits);
    let with = excursion_as_planned(
        &record,
        ExcursionAt(0),
        Counting::SetAndPencilled,
        &Constants::default(),
    )
    .timing
    .unwrap();
    assert!(close(with.end, 380.0));
    let without =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &Constants::default())
            .timing
            .unwrap();
    assert!(close(without.end, 50.0));
}

#[test]
fn the_chance_of_one_lognormal_task_is_exact() {
    let mut record = record();
    // Mean 300, sd 60 (log sd 0.19804), on an even crew day: 340 are left for it.
    record.tasks[TaskAt(0)].work = ThreePoint::new(120.0, 300.0, 480.0);
    let even = super::even();
    let place =
        one_cell(&record, &even, TaskAt(0), ExcursionAt(0), &Ask::default()).cell.place.unwrap();
    assert!(close(place.excursion_end, 380.0));
    // Source: lognormal moments, common practice: μ = ln 300 − 0.01961 = 5.68417;
    // Φ((ln 340 − 5.68417)/0.19804) = Φ(0.73104) = 0.7676.
    assert!((place.chance - 0.7676).abs() < 1e-3, "{}", place.chance);
}

#[test]
fn the_planned_table_says_by_which_worksites() {
    let mut record = record();
    record.routes.retain(|route| !(route.from == SiteAt(0) && route.to == SiteAt(2)));
    record.tasks[TaskAt(0)].site = Some(MAST);
    set(&mut record, 0, 0, &[1]);
    let planned =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &Constants::default())
            .timing
            .unwrap();
    let out = planned.legs.iter().find(|leg| leg.to == Some(0)).unwrap();
    assert_eq!(out.by, [0, 1, 2].map(SiteAt));
    assert!(close(out.minutes, 16.0));
    assert_eq!(planned.slots[0].latest_start.map(|l| close(l, 420.0 - 100.0)), Some(true));
}

#[test]
fn an_aid_brought_in_is_gone_for_all_that_follows() {
    let mut record = record();
    // The keel can be reached and left over the line alone.
    record.routes.retain(|route| route.from != KEEL && route.to != KEEL);
    for (from, to) in [(LOCK, KEEL), (KEEL, LOCK)] {
        record.routes.push(super::Route { from, to, minutes: 10, aid: Some(OutsideAt(0)) });
    }
    let fetch = add(&mut record, task("T-2", MAST, 20.0));
    record.outside.push(aid("O-1", Some(fetch)));
    assert_eq!(cell(&record, 0, 1).cell.verdict, SlotVerdict::Fits);
    set(&mut record, fetch, 1, &[2]);
    assert_eq!(cell(&record, 0, 0).cell.verdict, SlotVerdict::Fits);
    // On E-2.1 itself it goes before the line comes in; after that the way is gone.
    let place = cell(&record, 0, 1).cell.place.unwrap();
    assert_eq!((place.before_slot, place.lanes), (SlotAt(0), Lanes::one(1)));
    let later = cell(&record, 0, 2);
    assert_eq!(later.cell.gate(GateName::Routes), GateVerdict::NotMet);
    let says = super::says(&record, 2, GateName::Routes);
    assert_eq!(says, "The route to W-KEEL needs O-1, which is not in place then.");
}

#[test]
fn the_leg_that_loses_its_aid_is_named_and_not_the_task_that_brings_it_in() {
    let mut record = record();
    record.routes.retain(|route| route.from != KEEL && route.to != KEEL);
    for (from, to) in [(LOCK, KEEL), (KEEL, LOCK)] {
        record.routes.push(super::Route { from, to, minutes: 10, aid: Some(OutsideAt(0)) });
    }
    let keel = add(&mut record, task("T-2", KEEL, 20.0));
    let fetch = add(&mut record, task("T-3", MAST, 20.0));
    record.outside.push(aid("O-1", Some(fetch)));
    set(&mut record, keel, 0, &[2]);
    // The line comes in before the work at the keel, and nobody gets there over it then.
    record.tasks[keel].needs = vec![fetch];
    let looked = cell(&record, fetch, 0);
    assert_eq!(looked.cell.gate(GateName::Routes), GateVerdict::NotMet, "{looked:?}");
    let reason = looked.reason(GateName::Routes);
    let says = super::Part::plain(&super::sentence(&record, fetch, &reason));
    assert!(says.starts_with("The route from ") && says.contains(" to W-KEEL needs O-1"), "{says}");
}

#[test]
fn a_route_is_usable_while_its_aid_is_out() {
    let mut record = record();
    record.routes.retain(|route| route.from != KEEL && route.to != KEEL);
    for (from, to) in [(LOCK, KEEL), (KEEL, LOCK)] {
        record.routes.push(super::Route { from, to, minutes: 10, aid: Some(OutsideAt(0)) });
    }
    // EV2 travels over the line at 3:33, after 160 min of work at the mast. It stands first in the
    // order of the slots; EV1 brings the line in from 0:53 to 1:13.
    let first = add(&mut record, task("T-2", MAST, 160.0));
    let keel = add(&mut record, task("T-3", KEEL, 20.0));
    let fetch = add(&mut record, task("T-4", MAST, 20.0));
    record.outside.push(aid("O-1", Some(fetch)));
    for (task, seat) in [(first, 2), (keel, 2), (fetch, 1)] {
        set(&mut record, task, 0, &[seat]);
    }
    let planned = |record: &super::Snapshot| {
        excursion_as_planned(record, ExcursionAt(0), Counting::Set, &Constants::default())
    };
    let stuck = planned(&record);
    assert!(stuck.timing.is_none());
    assert!(matches!(stuck.unknown[..], [Unknown::WayWithoutAid { aid: OutsideAt(0), .. }]));
    let of_keel = cell(&record, keel, 0);
    assert_eq!(of_keel.cell.gate(GateName::Routes), GateVerdict::NotMet);
    // The other way round the slot that brings it in stands first, and is worked last.
    let mut record = record.clone();
    record.tasks[first].work = ThreePoint::new(10.0, 10.0, 10.0);
    record.tasks[fetch].work = ThreePoint::new(200.0, 200.0, 200.0);
    record.excursions[ExcursionAt(0)].slots.rotate_right(SlotAt(1));
    let planned = planned(&record).timing.unwrap();
    // EV2: mast 0:53 to 1:03, back by the airlock, keel: 63 + 2 + 18 + 10 + 5 = 98.
    let keel = planned.slots.iter().find(|slot| slot.slot == SlotAt(2)).unwrap();
    assert!(close(keel.start, 98.0), "{keel:?}");
}

#[test]
fn bringing_an_aid_in_warns_who_would_lose_the_way() {
    let mut record = record();
    for route in &mut record.routes {
        if route.to == KEEL {
            route.aid = Some(OutsideAt(0));
        }
    }
    let keel = add(&mut record, task("T-2", KEEL, 20.0));
    record.tasks[TaskAt(0)].site = Some(MAST);
    record.outside.push(aid("O-1", Some(TaskAt(0))));
    set(&mut record, keel, 1, &[1]);
    assert_eq!(super::gate(&record, 0, GateName::Routes), GateVerdict::NotMet);
    let says = super::says(&record, 0, GateName::Routes);
    assert_eq!(says, "Bringing in O-1 removes the translation path of T-2, set on E-2.1.");
    assert_eq!(super::gate(&record, 2, GateName::Routes), GateVerdict::Met);
}

#[test]
fn the_matrix_and_the_single_cell_agree() {
    let mut record = record();
    let other = add(&mut record, task("T-2", KEEL, 150.0));
    set(&mut record, other, 1, &[1]);
    let third = add(&mut record, task("T-3", MAST, 250.0));
    set(&mut record, third, 1, &[2]);
    let all = matrix(&record, &Constants::default());
    assert_eq!(all.tasks, [0, 1, 2].map(TaskAt));
    for (row, &task) in all.tasks.iter().enumerate() {
        for excursion in record.excursions.keys() {
            assert_eq!(*all.cell(row, excursion), cell(&record, task, excursion).cell);
        }
    }
    assert!(margin(all.cell(0, ExcursionAt(1))) < margin(all.cell(0, ExcursionAt(0))));
}
