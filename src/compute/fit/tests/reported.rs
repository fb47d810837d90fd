//! What people ran into, made into records that can be followed by hand: one repressurisation for
//! all seats, aids brought in under somebody's feet, places that were there and not found, windows
//! that were missed.

use super::super::{
    Arranged, Ask, Constants, Counting, Explained, Reason, Snapshot, excursion_as_planned, one_cell,
};
use super::{KEEL, LOCK, MAST, Route, add, aid, record, set, task};
use crate::places::{
    ApproachAt, ExcursionAt, InhibitAt, OutsideAt, RatesAt, SlotAt, TaskAt, ToolAt,
};
use crate::supplies::{Rates, Supply};
use crate::timeline::{Activity, Lanes};
use domain::units::{Pet, Window};
use domain::words::GateVerdict::{Met, NotMet};
use domain::words::{ArrangementState, GateName, SlotVerdict, WorkRate};
use typed_index_collections::ti_vec;

/// Nothing varies, so that minutes are what is added up by hand.
fn certain() -> Constants {
    Constants {
        crew_day_log_sd: 0.0,
        egress_log_sd: 0.0,
        ingress_log_sd: 0.0,
        travel_log_sd: 0.0,
        site_log_sd: 0.0,
        ..Constants::default()
    }
}

fn cell(record: &Snapshot, task: usize) -> Explained {
    one_cell(record, &certain(), task.into(), ExcursionAt(0), &Ask::default())
}

fn opens(explained: &Explained) -> bool {
    matches!(explained.cell.verdict, SlotVerdict::Fits | SlotVerdict::Tight)
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1.5
}

/// EV1 works until 6:20 at the keel; EV2 has nothing to do and breathes more.
fn one_works() -> Snapshot {
    let mut record = record();
    // 30 egress, 10 there, 5 setup: from 0:45 on. Home at 6:35, inside at 6:55.
    let long = add(&mut record, task("T-2", KEEL, 335.0));
    set(&mut record, long, 0, &[1]);
    let calm = Rates { overhead: 150.0, moderate: 150.0, ..Rates::PUBLISHED };
    record.rates = ti_vec![calm, Rates::PUBLISHED];
    record.excursions[ExcursionAt(0)].seat_rates = vec![Some(RatesAt(0)), Some(RatesAt(1))];
    // 252 kcal/h at RQ 0.85 give off 86.5 g of carbon dioxide an hour (by Lusk's table 85.82 for
    // 250): 0.555 kg are full at 6:25, half an hour before 6:55.
    record.excursions[ExcursionAt(0)].supplies.scrubber = Some(0.555);
    record
}

#[test]
fn who_has_nothing_to_do_waits_for_the_common_repressurisation() {
    let record = one_works();
    let planned =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &certain()).timing.unwrap();
    assert!(close(planned.end, 415.0));
    assert!(planned.seat_ends.iter().all(|end| close(*end, 415.0)), "{:?}", planned.seat_ends);
    let idle: Vec<_> = planned.segments.iter().filter(|segment| segment.lane == 1).collect();
    let waits: f64 = idle
        .iter()
        .filter(|segment| segment.activity == Activity::Wait)
        .map(|segment| segment.until - segment.from)
        .sum();
    // From egress at 0:30 until ingress at 6:35.
    assert!(close(waits, 365.0), "{idle:?}");
    let scrubber = planned.seat_supplies[1][Supply::Scrubber as usize];
    assert!(close(scrubber.runs_out - planned.end, -30.0), "{scrubber:?}");
}

#[test]
fn the_seat_that_waits_runs_out_and_is_named() {
    let record = one_works();
    let explained = cell(&record, 1);
    assert_eq!(explained.cell.gate(GateName::Supplies), NotMet);
    let named = matches!(
        explained.reason(GateName::Supplies),
        Reason::Supply { supply: Supply::Scrubber, seat: 2, left: -33..=-29, .. }
    );
    assert!(named, "{:?}", explained.reason(GateName::Supplies));
}

/// The keel is reached over the line O-1 alone. EV1 brings the line in at once; EV2 is first busy
/// at the mast and has its own task, T-1, at the keel after that. In the order of the slots T-1
/// stands before the bringing in.
fn line_brought_in_early() -> (Snapshot, TaskAt) {
    let mut record = record();
    record.routes.retain(|route| route.from != KEEL && route.to != KEEL);
    for (from, to) in [(LOCK, KEEL), (KEEL, LOCK), (MAST, KEEL), (KEEL, MAST)] {
        record.routes.push(Route { from, to, minutes: 8, aid: Some(OutsideAt(0)) });
    }
    let busy = add(&mut record, task("T-2", MAST, 150.0));
    let fetch = add(&mut record, task("T-3", MAST, 15.0));
    record.outside = ti_vec![aid("O-1", Some(fetch))];
    record.tasks[TaskAt(0)].needs = vec![busy];
    set(&mut record, busy, 0, &[2]);
    (record, fetch)
}

#[test]
fn nobody_travels_over_an_aid_that_is_inside() {
    let (mut record, fetch) = line_brought_in_early();
    set(&mut record, 0, 0, &[2]);
    set(&mut record, fetch, 0, &[1]);
    // EV1 is at the mast at 0:53 and has the line at 1:08; EV2 leaves the mast at 3:25.
    let explained = cell(&record, 0);
    assert_eq!(explained.cell.gate(GateName::Routes), NotMet, "{:?}", explained.cell);
    let planned = excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &certain());
    assert!(planned.timing.is_none(), "nobody can fly this plan");
}

#[test]
fn no_place_is_offered_over_an_aid_that_is_inside() {
    let (mut record, fetch) = line_brought_in_early();
    set(&mut record, fetch, 0, &[1]);
    // T-1 needs T-2, which ends at 3:23, long after the line is in: EV2 cannot go there then.
    let ask = Ask { seats: vec![2], ..Ask::default() };
    let second = one_cell(&record, &certain(), TaskAt(0), ExcursionAt(0), &ask);
    assert_eq!(second.cell.verdict, SlotVerdict::DoesNotFit);
    assert_eq!(second.cell.gate(GateName::Routes), NotMet);
    // EV1 can wait at the keel until T-2 is done, and bring the line in after T-1.
    let place = cell(&record, 0).cell.place.unwrap();
    assert!(place.lanes == Lanes::one(0) && place.start > 202.0, "{place:?}");
    // Where the one who brings it in is sent out after T-1, there is a place.
    record.excursions[ExcursionAt(0)].slots.clear();
    let busy = record.tasks[TaskAt(0)].needs[0];
    set(&mut record, busy, 0, &[2]);
    record.tasks[fetch].needs = vec![TaskAt(0)];
    assert!(opens(&cell(&record, 0)));
}

#[test]
fn the_seat_whose_supplies_last_is_found() {
    let mut record = record();
    record.tasks[TaskAt(0)].work_rate = Some(WorkRate::Heavy);
    let half = Rates { overhead: 126.0, heavy: 201.6, ..Rates::PUBLISHED };
    record.rates = ti_vec![Rates::PUBLISHED, half];
    record.excursions[ExcursionAt(0)].seat_rates = vec![Some(RatesAt(0)), Some(RatesAt(1))];
    // Out until 2:20. EV1 at rest fills 0.202 kg, and 0.254 with the hour of heavy work.
    record.excursions[ExcursionAt(0)].supplies.scrubber = Some(0.25);
    let explained = cell(&record, 0);
    assert_eq!(explained.cell.place.unwrap().lanes, Lanes::one(1));
    assert_eq!(explained.cell.gate(GateName::Supplies), Met);
    assert!(opens(&explained));
}

#[test]
fn the_work_waits_until_the_inhibit_is_in_place() {
    let mut record = record();
    record.tasks[TaskAt(0)].inhibits = vec![InhibitAt(0)];
    let arranged = |from, until| Arranged {
        inhibit: InhibitAt(0),
        state: ArrangementState::Arranged,
        from: Some(from),
        until,
    };
    record.excursions[ExcursionAt(0)].arranged = vec![arranged(180.0, Some(245.0))];
    let explained = cell(&record, 0);
    assert!(opens(&explained), "{:?}", explained.reason(GateName::Inhibits));
    let place = explained.cell.place.unwrap();
    // From 3:00 to 4:00, five minutes before it ends; 3 cleanup, 12 home, 20 in.
    assert!(close(place.start, 180.0) && close(place.excursion_end, 275.0));
    record.excursions[ExcursionAt(0)].arranged = vec![arranged(180.0, Some(235.0))];
    assert_eq!(cell(&record, 0).cell.gate(GateName::Inhibits), NotMet);
}

#[test]
fn the_work_waits_until_the_tool_is_back() {
    let mut record = record();
    record.tools[ToolAt(0)].aboard = Some(1);
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    let mut other = task("T-2", MAST, 100.0);
    other.approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    let other = add(&mut record, other);
    set(&mut record, other, 0, &[1]);
    record.excursions[ExcursionAt(0)].slots[SlotAt(0)].approach = Some(ApproachAt(0));
    let explained = cell(&record, 0);
    assert!(opens(&explained), "{:?}", explained.reason(GateName::Tools));
    // One of them from 0:45 or 0:53 on, the other after it.
    let place = explained.cell.place.unwrap();
    assert!(place.excursion_end > 200.0, "{place:?}");
}

#[test]
fn work_that_finds_no_window_does_not_end_in_time() {
    let mut record = record();
    record.tasks[TaskAt(0)].arm = true;
    let window = |from, until| Window { from: Pet(from), until: Pet(until) };
    // An hour of work in windows of 50 min.
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(60, 110), window(150, 200)];
    let explained = cell(&record, 0);
    assert!(explained.cell.place.is_none_or(|place| place.chance < 0.01), "{:?}", explained.cell);
    assert_eq!(explained.cell.verdict, SlotVerdict::DoesNotFit);
    set(&mut record, 0, 0, &[1]);
    let planned =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &certain()).timing.unwrap();
    assert!(planned.chance.unwrap() < 0.01, "{:?}", planned.chance);
}

/// EV1 has T-2 with the arm at the mast from 1:00 to 2:00; its last window closes at 2:10.
fn arm_task() -> Snapshot {
    let mut record = record();
    let window = |from, until| Window { from: Pet(from), until: Pet(until) };
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(60, 130)];
    let arm = add(&mut record, super::Task { arm: true, ..task("T-2", MAST, 60.0) });
    set(&mut record, arm, 0, &[1]);
    record
}

#[test]
fn a_place_that_pushes_a_set_task_past_its_last_window_does_not_simply_fit() {
    let mut record = arm_task();
    // T-2 needs T-1, which ends at 1:45 at the earliest: T-2 would end at 2:45.
    record.tasks[TaskAt(1)].needs = vec![TaskAt(0)];
    let explained = cell(&record, 0);
    assert_ne!(explained.cell.verdict, SlotVerdict::Fits);
    let named = explained.reasons.iter().any(|(_, _, reason)| {
        matches!(reason, Reason::Pushes { task: TaskAt(1), window: true, .. })
    });
    assert!(named, "{:?}", explained.reasons);
    // The same where a person asks for the place before it in its seat.
    record.tasks[TaskAt(1)].needs.clear();
    let ask = Ask { seats: vec![1], before_slot: Some(SlotAt(0)), ..Ask::default() };
    let asked = one_cell(&record, &certain(), TaskAt(0), ExcursionAt(0), &ask);
    assert_ne!(asked.cell.verdict, SlotVerdict::Fits);
}

#[test]
fn a_place_that_leaves_the_window_of_a_set_task_is_found() {
    let record = arm_task();
    let explained = cell(&record, 0);
    assert_eq!(explained.cell.verdict, SlotVerdict::Fits);
    let before = explained.cell.place.unwrap();
    assert!(before.lanes == Lanes::one(1) || before.before_slot == SlotAt(1), "{before:?}");
}
