//! What would make it fit: what is offered, at what cost, and that it does.

use crate::places::{ApproachAt, ExcursionAt, FlightAt, SlotAt, TaskAt, ToolAt};
use proptest::prelude::*;
use typed_index_collections::ti_vec;

use super::super::load::{self, Size};
use super::super::{
    Approach, Ask, Change, Constants, Guard, Opening, Remedy, Snapshot, changed, one_cell, openings,
};
use super::{KEEL, MAST, add, record, set, task};
use crate::three_point::ThreePoint;
use crate::value::{Values, Weights};
use domain::repeat_guard::Against;
use domain::words::{PriorityClass, RemedyState, SlotVerdict};

fn offered(record: &Snapshot, task: TaskAt, excursion: ExcursionAt) -> Vec<Opening> {
    let values = Values::of(record, &Weights::default());
    openings(record, &Constants::default(), &values, task, excursion, &Ask::default())
}

fn verdict_after(
    record: &Snapshot,
    task: TaskAt,
    excursion: ExcursionAt,
    opening: &Opening,
) -> SlotVerdict {
    let ask = Ask::default();
    let (after, ask) =
        changed(record, &Constants::default(), task, excursion, &ask, &opening.changes).unwrap();
    one_cell(&after, &Constants::default(), task, excursion, &ask).cell.verdict
}

/// T-1 of class 3 before a day that T-2 of class 5 fills in both seats.
fn full_day() -> Snapshot {
    let mut record = record();
    record.tasks[TaskAt(0)].class = Some(PriorityClass::Restores);
    let long = super::Task {
        class: Some(PriorityClass::Housekeeping),
        seats: Some(2),
        ..task("T-2", MAST, 280.0)
    };
    let long = add(&mut record, long);
    set(&mut record, long, 0, &[1, 2]);
    record
}

#[test]
fn a_slot_of_less_value_may_go_or_move_and_minutes_may_be_found() {
    let record = full_day();
    // 30 out, 16 there, 7 setup, 280, 2 cleanup, 18 home, 20 in: 373 of 420.
    let all = offered(&record, TaskAt(0), ExcursionAt(0));
    let sets: Vec<(&[Change], f64)> = all.iter().map(|o| (&o.changes[..], o.cost)).collect();
    let dropped = Change::Drop { excursion: ExcursionAt(0), slot: SlotAt(0) };
    let moved = Change::Move { excursion: ExcursionAt(0), slot: SlotAt(0), to: ExcursionAt(1) };
    assert!(sets.contains(&(&[dropped], 9.0)), "{sets:?}");
    // The next flight is a tenth of its 9 later.
    let cost = sets.iter().find(|(changes, _)| *changes == [moved]).unwrap().1;
    assert!((cost - 0.9).abs() < 1e-9);
    let minutes = sets.iter().find_map(|(changes, cost)| match changes {
        [Change::Minutes { excursion: ExcursionAt(0), minutes }] => Some((*minutes, *cost)),
        _ => None,
    });
    let (minutes, cost) = minutes.unwrap();
    assert!(cost.abs() < 1e-12);
    // With five fewer it would not be enough.
    let ask = Ask::default();
    let fewer = [Change::Minutes { excursion: ExcursionAt(0), minutes: minutes - 5 }];
    let (after, ask) =
        changed(&record, &Constants::default(), TaskAt(0), ExcursionAt(0), &ask, &fewer).unwrap();
    let cell = one_cell(&after, &Constants::default(), TaskAt(0), ExcursionAt(0), &ask).cell;
    assert_eq!(cell.verdict, SlotVerdict::DoesNotFit);
}

#[test]
fn what_is_worth_more_must_be_done_or_keeps_the_vehicle_safe_stays() {
    let gone = |record: &Snapshot| {
        offered(record, TaskAt(0), ExcursionAt(0))
            .iter()
            .flat_map(|o| o.changes.clone())
            .any(|change| matches!(change, Change::Drop { .. } | Change::Move { .. }))
    };
    assert!(gone(&full_day()));
    let mut worth_more = full_day();
    worth_more.tasks[TaskAt(1)].class = Some(PriorityClass::HoldsUp);
    assert!(!gone(&worth_more));
    let mut must_do = full_day();
    must_do.excursions[ExcursionAt(0)].slots[SlotAt(0)].must_do = true;
    assert!(!gone(&must_do));
    // T-1 opens much that waits, but class 1 is decided first.
    let mut first = full_day();
    first.tasks[TaskAt(1)].class = Some(PriorityClass::Safety);
    for at in 0..6 {
        let code = format!("T-{}", 10 + at);
        let class = Some(PriorityClass::HoldsUp);
        add(&mut first, super::Task { class, needs: vec![TaskAt(0)], ..task(&code, KEEL, 5.0) });
    }
    assert!(!gone(&first));
}

#[test]
fn a_tool_that_comes_earlier_opens_it() {
    let mut record = record();
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    record.tools[ToolAt(0)].aboard = Some(0);
    record.tools[ToolAt(0)].arrives_with = Some(FlightAt(2));
    let all = offered(&record, TaskAt(0), ExcursionAt(0));
    assert_eq!(all[0].changes, [Change::Bring { tool: ToolAt(0), more: 1 }]);
    assert_eq!(all.len(), 1);
}

#[test]
fn a_tool_in_other_hands_is_offered_by_the_count_that_is_missing() {
    let mut record = record();
    // EV2 works with the one L-1 from 0:30 on, all day long; T-1 needs one too, and takes both seats' time.
    let long = add(
        &mut record,
        super::Task { class: Some(PriorityClass::Safety), ..task("T-2", KEEL, 310.0) },
    );
    record.tasks[long].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    set(&mut record, long, 0, &[2]);
    record.excursions[ExcursionAt(0)].slots[SlotAt(0)].approach = Some(ApproachAt(0));
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    let words = |record: &Snapshot, opening: &Opening| {
        let parts =
            super::super::change_sentence(record, TaskAt(0), ExcursionAt(0), &opening.changes[0]);
        super::Part::plain(&parts)
    };
    record.tools[ToolAt(0)].aboard = Some(1);
    let all = offered(&record, TaskAt(0), ExcursionAt(0));
    assert_eq!(all[0].changes, [Change::Bring { tool: ToolAt(0), more: 1 }]);
    assert_eq!(words(&record, &all[0]), "have one more L-1 aboard before G-1");
    // With none aboard, T-2 takes the first that comes.
    record.tools[ToolAt(0)].aboard = Some(0);
    let all = offered(&record, TaskAt(0), ExcursionAt(0));
    assert_eq!(all[0].changes, [Change::Bring { tool: ToolAt(0), more: 2 }]);
    assert_eq!(words(&record, &all[0]), "have two usable L-1 aboard before G-1");
}

#[test]
fn another_approach_with_its_remedy_verified_is_a_pair() {
    let mut record = record();
    let open = Remedy { code: "R-5".into(), state: RemedyState::Open, answers: Vec::new() };
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].guard = Guard::Blocked;
    record.tasks[TaskAt(0)].approaches.push(Approach {
        technique: Some("K-2".into()),
        remedies: ti_vec![open],
        ..Approach::default()
    });
    // The free one is looked at first, so one change is enough.
    let all = offered(&record, TaskAt(0), ExcursionAt(0));
    assert_eq!(all[0].changes, [Change::Verify { approach: ApproachAt(1) }]);
    // Asked by the blocked one, it takes both.
    let values = Values::of(&record, &Weights::default());
    let ask = Ask { approach: Some(ApproachAt(0)), ..Ask::default() };
    let all = openings(&record, &Constants::default(), &values, TaskAt(0), ExcursionAt(0), &ask);
    assert_eq!(all.len(), 1);
    assert_eq!(
        all[0].changes,
        [Change::By { approach: ApproachAt(1) }, Change::Verify { approach: ApproachAt(1) }]
    );
}

#[test]
fn a_shut_approach_opens_once_all_that_stands_against_it_is_answered() {
    let mut record = record();
    let way = &mut record.tasks[TaskAt(0)].approaches[ApproachAt(0)];
    way.guard = Guard::Blocked;
    way.against = Against {
        here: vec!["A-7".into()],
        sisters: vec!["A-8".into(), "A-9".into()],
        ..Against::default()
    };
    let remedy = |code: &str, answers: &[&str]| Remedy {
        code: code.into(),
        state: RemedyState::Done,
        answers: answers.iter().map(|&attempt| attempt.into()).collect(),
    };
    way.remedies = ti_vec![remedy("R-1", &["A-7"])];
    assert!(
        offered(&record, TaskAt(0), ExcursionAt(0)).is_empty(),
        "two failures on sisters still block it"
    );
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].remedies.push(remedy("R-2", &["A-9"]));
    let all = offered(&record, TaskAt(0), ExcursionAt(0));
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].changes, [Change::Verify { approach: ApproachAt(0) }]);
}

#[test]
fn what_it_needs_may_be_set_before_it() {
    let mut record = record();
    let need = add(&mut record, task("T-2", KEEL, 20.0));
    record.tasks[TaskAt(0)].needs = vec![need];
    let all = offered(&record, TaskAt(0), ExcursionAt(1));
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].changes, [Change::First { task: need, on: ExcursionAt(1) }]);
    // Where there is no room for it that day, the flight before has some.
    record.excursions[ExcursionAt(1)].limit = Some(170.0);
    record.tasks[TaskAt(0)].work = ThreePoint::new(50.0, 50.0, 50.0);
    record.tasks[need].work = ThreePoint::new(120.0, 120.0, 120.0);
    let all = offered(&record, TaskAt(0), ExcursionAt(1));
    assert_eq!(all[0].changes, [Change::First { task: need, on: ExcursionAt(0) }]);
}

#[test]
fn what_fits_or_what_no_change_mends_is_offered_nothing() {
    let mut record = record();
    assert!(offered(&record, TaskAt(0), ExcursionAt(0)).is_empty());
    record.tasks[TaskAt(0)].back_inside_by = Some(FlightAt(0));
    assert!(offered(&record, TaskAt(0), ExcursionAt(1)).is_empty());
}

#[test]
fn whatever_is_offered_on_a_made_up_load_does_open_it() {
    let mut tried = 0;
    for seed in 0..4 {
        let size = Size { open_tasks: 12, excursions: 4, slots_each: 7, sites: 12 };
        let mut record = load::snapshot(&size, seed);
        let classes = PriorityClass::ALL;
        for (at, task) in record.tasks.iter_mut().enumerate() {
            task.class = Some(classes[(at * 7 + 3) % classes.len()]);
        }
        for task in record.tasks.keys().take(size.open_tasks) {
            for excursion in record.excursions.keys() {
                for opening in offered(&record, task, excursion) {
                    let verdict = verdict_after(&record, task, excursion, &opening);
                    assert_eq!(verdict, opening.verdict);
                    assert!(matches!(verdict, SlotVerdict::Fits | SlotVerdict::Tight));
                    tried += 1;
                }
            }
        }
    }
    assert!(tried > 40, "{tried}");
}

proptest! {
    #[test]
    fn no_set_holds_a_smaller_one(
        minutes in prop::collection::vec(40..200_u32, 1..6), own in 60..240_u32,
    ) {
        let mut record = full_day();
        record.excursions[ExcursionAt(0)].slots.clear();
        record.tasks[TaskAt(0)].work = ThreePoint::new(own.into(), own.into(), own.into());
        for (at, minutes) in minutes.iter().enumerate() {
            let class = Some(PriorityClass::Housekeeping);
            let one = task(&format!("T-{}", 3 + at), KEEL, f64::from(*minutes));
            let one = add(&mut record, super::Task { class, ..one });
            set(&mut record, one, 0, &[if at % 2 == 0 { 1 } else { 2 }]);
        }
        let all = offered(&record, TaskAt(0), ExcursionAt(0));
        for pair in all.iter().filter(|o| o.changes.len() == 2) {
            for single in all.iter().filter(|o| o.changes.len() == 1) {
                prop_assert!(!pair.changes.contains(&single.changes[0]));
            }
            let verdict = verdict_after(&record, TaskAt(0), ExcursionAt(0), pair);
            prop_assert!(matches!(verdict, SlotVerdict::Fits | SlotVerdict::Tight));
        }
    }
}
