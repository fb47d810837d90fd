//! What can still be done from where the crew stands, followed by hand.

use super::super::{Explained, Now, Part, Snapshot, Unknown, get_ahead, sentence};
use super::{KEEL, LOCK, MAST, add, record, set, task};
use crate::places::{ApproachAt, ExcursionAt, OutsideAt, SiteAt, TaskAt, ToolAt};
use domain::words::GateVerdict::{CannotTell, Met, NotMet};
use domain::words::{GateName, SlotVerdict};

fn now(site: SiteAt, left: f64) -> Now {
    Now { excursion: ExcursionAt(0), site, left, seats: 1, tools: vec![ToolAt(0)] }
}

fn of_first(record: &Snapshot, now: &Now) -> Explained {
    let all = get_ahead(record, &super::Constants::default(), now).unwrap();
    all.into_iter().find(|(task, _)| *task == TaskAt(0)).unwrap().1
}

fn says(record: &Snapshot, now: &Now, gate: GateName) -> String {
    Part::plain(&sentence(record, TaskAt(0), &of_first(record, now).reason(gate)))
}

#[test]
fn the_way_there_the_work_and_the_way_home_count() {
    let record = record();
    // From the mast: 8 to the keel, 5 setup, 60 of work, 3 cleanup, 12 home, 20 ingress: 108.
    let from_mast = of_first(&record, &now(MAST, 130.0));
    let place = from_mast.cell.place.unwrap();
    assert!((place.added - 108.0).abs() < 1e-9 && (place.margin - 22.0).abs() < 1e-9);
    // 130 before the limit of 420 it is 290; the work begins 13 later.
    assert!((place.start - 303.0).abs() < 1e-9);
    assert_eq!(from_mast.cell.verdict, SlotVerdict::Fits);
    // At the keel itself there is no way to go; at the airlock 10.
    let added = |site| of_first(&record, &now(site, 130.0)).cell.place.unwrap().added;
    assert!((added(KEEL) - 100.0).abs() < 1e-9 && (added(LOCK) - 110.0).abs() < 1e-9);
    let late = of_first(&record, &now(MAST, 100.0));
    assert_eq!(late.cell.gate(GateName::Time), NotMet);
    let sentence = says(&record, &now(MAST, 100.0), GateName::Time);
    assert!(sentence.starts_with("Adds 108 min in one seat: "));
}

#[test]
fn tools_must_be_in_hand_and_seats_free() {
    let mut record = record();
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    let mut crew = now(KEEL, 200.0);
    assert_eq!(of_first(&record, &crew).cell.verdict, SlotVerdict::Fits);
    crew.tools.clear();
    assert_eq!(of_first(&record, &crew).cell.gate(GateName::Tools), NotMet);
    assert_eq!(says(&record, &crew, GateName::Tools), "L-1 is not in hand.");
    // An approach that needs nothing is taken instead, where there is one.
    record.tasks[TaskAt(0)].approaches.push(super::Approach::default());
    assert_eq!(of_first(&record, &crew).cell.approach, Some(ApproachAt(1)));
    record.tasks[TaskAt(0)].seats = Some(2);
    assert_eq!(of_first(&record, &crew).cell.gate(GateName::Seats), NotMet);
    crew.seats = 2;
    assert_eq!(of_first(&record, &crew).cell.gate(GateName::Seats), Met);
}

#[test]
fn what_is_planned_here_is_no_get_ahead_and_what_is_set_later_is() {
    let mut record = record();
    let here = add(&mut record, task("T-2", KEEL, 20.0));
    let later = add(&mut record, task("T-3", KEEL, 20.0));
    set(&mut record, here, 0, &[1]);
    set(&mut record, later, 1, &[1]);
    let all = get_ahead(&record, &super::Constants::default(), &now(KEEL, 200.0)).unwrap();
    let tasks: Vec<TaskAt> = all.iter().map(|(task, _)| *task).collect();
    assert_eq!(tasks, [TaskAt(0), later]);
}

#[test]
fn work_that_waits_for_the_arm_waits_for_it_now() {
    use domain::units::{Pet, Window};
    let mut record = record();
    record.tasks[TaskAt(0)].arm = true;
    let window = |from, until| Window { from: Pet(from), until: Pet(until) };
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(60, 200), window(330, 420)];
    // 180 left is 4:00: at the keel the work could begin at 4:05, and waits for 5:30.
    let crew = now(KEEL, 180.0);
    let place = of_first(&record, &crew).cell.place.unwrap();
    assert!((place.start - 330.0).abs() < 1e-9);
    assert_eq!(of_first(&record, &crew).cell.gate(GateName::Time), NotMet);
}

#[test]
fn the_aids_in_place_are_those_of_that_moment() {
    let mut record = record();
    record.routes.retain(|route| route.from != KEEL && route.to != KEEL);
    for (from, to) in [(LOCK, KEEL), (KEEL, LOCK)] {
        record.routes.push(super::Route { from, to, minutes: 10, aid: Some(OutsideAt(0)) });
    }
    let fetch = add(&mut record, task("T-2", MAST, 150.0));
    record.outside.push(super::aid("O-1", Some(fetch)));
    set(&mut record, fetch, 0, &[2]);
    // T-2 works from 0:53 to 3:23 and takes the line in. Begun at 1:40, T-1 is back at 3:08.
    assert_eq!(of_first(&record, &now(LOCK, 320.0)).cell.gate(GateName::Routes), Met);
    // Begun at 2:00 it would be back at 3:28, when the line is in.
    assert_eq!(of_first(&record, &now(LOCK, 300.0)).cell.gate(GateName::Routes), NotMet);
    let after = of_first(&record, &now(LOCK, 210.0));
    assert_eq!(after.cell.gate(GateName::Routes), NotMet);
    assert_eq!(after.cell.gate(GateName::Time), CannotTell);
}

#[test]
fn without_a_limit_it_says_what_to_enter() {
    let mut record = record();
    record.excursions[ExcursionAt(0)].limit = None;
    let answer = get_ahead(&record, &super::Constants::default(), &now(KEEL, 100.0));
    assert_eq!(answer.err(), Some(Unknown::Limit { excursion: ExcursionAt(0) }));
}
