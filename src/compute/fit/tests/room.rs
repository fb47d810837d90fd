//! The time left before a limit: what a task would leave is what is left once it is set, and
//! pencilled tasks without seats are spread over the seats.

use super::super::load::{self, Size};
use super::super::{Added, Room, Slot, left_with, matrix, room, room_words, rooms, seated};
use super::*;
use crate::places::{ExcursionAt, TaskAt};

#[test]
fn what_a_task_would_leave_is_what_is_left_once_it_is_set() {
    let constants = Constants::default();
    let mut compared = 0;
    for seed in 0..3 {
        let size = Size { open_tasks: 8, excursions: 3, slots_each: 5, sites: 9 };
        let record = load::snapshot(&size, seed);
        let matrix = matrix(&record, &constants);
        for (row, &task) in matrix.tasks.iter().enumerate() {
            for (excursion, cell) in matrix.row(row).iter_enumerated() {
                let Some(place) = cell.place else { continue };
                let approach = cell.approach;
                let added = Added { excursion, task, approach, share: None, place };
                let would = left_with(&record, &constants, &[added])[0];
                let mut after = record.clone();
                let here = &mut after.excursions[excursion];
                let seats = place.lanes.each().map(|lane| here.seats[lane]).collect();
                let slot = Slot { task, set: true, approach, seats, ..Slot::default() };
                here.slots.insert(place.before_slot, slot);
                assert_eq!(would, room(&after, excursion, &constants).set_only);
                compared += usize::from(would.is_some());
            }
        }
        assert_eq!(
            rooms(&record, &constants)[ExcursionAt(1)],
            room(&record, ExcursionAt(1), &constants)
        );
    }
    assert!(compared > 40, "{compared}");
}

#[test]
fn pencils_without_seats_take_the_seats_that_are_free() {
    let mut record = record();
    let others: Vec<TaskAt> =
        (2..4).map(|n| add(&mut record, task(&format!("T-{n}"), KEEL, 100.0))).collect();
    for task in others {
        record.excursions[ExcursionAt(0)].slots.push(Slot { task, ..Slot::default() });
    }
    let constants = Constants::default();
    let spread = seated(&record, ExcursionAt(0), &constants);
    let seats: Vec<&[u8]> =
        spread.excursions[ExcursionAt(0)].slots.iter().map(|slot| slot.seats.as_slice()).collect();
    assert_eq!(seats, [&[1_u8][..], &[2]]);
    assert!(spread.excursions[ExcursionAt(0)].slots.iter().all(|slot| !slot.set));
    // Nothing is set: egress 30 and ingress 20 of 420. Side by side each seat takes 30, 10 there,
    // 5 setup, 100, 3 cleanup, 12 home, 20: 180 of 420 at the mean, by hand.
    let room = room(&record, ExcursionAt(0), &constants);
    assert_eq!(room.pencilled, 2);
    let left = room.with_pencilled.unwrap();
    assert!((190.0..=240.0).contains(&left), "{left}");
}

#[test]
fn pencilled_tasks_leave_no_more_than_the_set_tasks_alone() {
    let constants = Constants::default();
    let (mut compared, mut equal) = (0, 0);
    for seed in 0..40_u32 {
        let size = Size { open_tasks: 2, excursions: 4, slots_each: 7, sites: 9 };
        let mut record = load::snapshot(&size, seed.into());
        // One seat decides the end; the other does what is pencilled, with time to spare or not.
        for excursion in &mut record.excursions {
            for (at, slot) in excursion.slots.iter_mut().enumerate() {
                let task = &mut record.tasks[slot.task];
                (slot.set, task.seats, task.work) = match at {
                    1 | 4 => {
                        (false, Some(1), ThreePoint::new(8.0, 9.0, 45.0 + 5.0 * f64::from(seed)))
                    }
                    _ => (true, Some(1), ThreePoint::new(8.0, 18.0, 60.0)),
                };
                slot.seats = vec![if slot.set { 1 } else { 2 }];
            }
        }
        for room in rooms(&record, &constants) {
            let (Some(set), Some(with)) = (room.set_only, room.with_pencilled) else { continue };
            assert!(with <= set, "seed {seed}: {with} with pencilled tasks, {set} without");
            compared += 1;
            equal += usize::from((set - with).abs() < 0.5);
        }
    }
    // Both kinds were seen: a seat that has the time, and one that ends later.
    assert!(compared > 60 && equal > 3 && equal < compared, "{equal} of {compared}");
}

#[test]
fn a_figure_names_its_plan() {
    let of = |set_only, with_pencilled, pencilled| {
        room_words(&Room { set_only, with_pencilled, pencilled })
    };
    let both = of(Some(230.0), Some(76.0), 4);
    assert_eq!(both, "3:50 left, set tasks only · 1:16 with 4 pencilled");
    assert_eq!(of(Some(230.0), Some(230.0), 0), "3:50 left, set tasks only");
    let over = of(Some(10.0), Some(-25.0), 1);
    assert_eq!(over, "0:10 left, set tasks only · 0:25 past the limit with 1 pencilled");
    assert_eq!(of(None, None, 2), "unknown time left, set tasks only · unknown with 2 pencilled");
}
