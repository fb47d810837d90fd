//! The fold of presses: every order, twice, late, after an undo.

use proptest::prelude::*;
use proptest::test_runner::Config;

use super::*;
use crate::codes::TaskCode;
use crate::seats::Seats;

const SLOTS: [(&str, &[u8]); 5] =
    [("S-1", &[1]), ("S-2", &[2]), ("S-3", &[1, 2]), ("S-4", &[1]), ("S-5", &[2])];

fn seats() -> BTreeMap<SlotCode, Vec<u8>> {
    SLOTS.iter().map(|(slot, seats)| (SlotCode::from(*slot), seats.to_vec())).collect()
}

fn press(number: i64, act: Act, slot: &str, pet: i64) -> Press {
    Press {
        number,
        key: format!("k{number}"),
        act,
        slot: (!slot.is_empty()).then(|| SlotCode::from(slot)),
        step: None,
        pet: Some(Pet(pet)),
        egress_at: None,
        undoes: None,
        adds: None,
        pressed_at: Moment(number * 60_000),
        saved_at: Moment(number * 60_000),
        who: "engineer".to_owned(),
    }
}

fn undo(number: i64, of: i64) -> Press {
    Press {
        slot: None,
        pet: None,
        undoes: Some(format!("k{of}")),
        ..press(number, Act::Undo, "", 0)
    }
}

fn of(presses: &[Press], slot: &str) -> OfTask {
    DayState::of(presses, &seats()).tasks[&SlotCode::from(slot)]
}

/// T-9 added for a seat.
fn added(number: i64, seat: u8) -> Press {
    let task = TaskCode::from("T-9");
    let adds = Added { task, seats: Seats::of([seat]), technique: None, side: None, before: None };
    Press { adds: Some(adds), ..press(number, Act::Added, "#T-9", 50) }
}

#[test]
fn added_work_is_a_task_of_its_seat_until_that_is_undone() {
    let all = [added(1, 2), press(2, Act::Started, "S-2", 30), press(3, Act::Started, "#T-9", 60)];
    let state = DayState::of(&all, &seats());
    assert_eq!(state.added.len(), 1);
    let nine = SlotCode::from("#T-9");
    assert_eq!(state.tasks[&nine].progress, Progress::Running { since: Pet(60) });
    // Its seat has left the task before it.
    let left = Progress::Ended { start: Pet(30), end: Pet(60), outcome: None };
    assert_eq!(state.tasks[&SlotCode::from("S-2")].progress, left);

    let mut undone = all.to_vec();
    undone.push(undo(4, 1));
    let state = DayState::of(&undone, &seats());
    assert!(state.added.is_empty() && !state.tasks.contains_key(&nine));
    let fates: Vec<Counts> = state.log.iter().map(|(_, fate)| *fate).collect();
    assert_eq!(fates, [Counts::Undone, Counts::Yes, Counts::NotAdded, Counts::Yes]);
    assert_eq!(state.last_pet, Some(Pet(30)));
}

#[test]
fn work_added_twice_stands_there_once_and_a_slot_of_its_own_takes_its_presses() {
    let twice = [added(1, 1), added(2, 2)];
    let state = DayState::of(&twice, &seats());
    assert_eq!(
        state.added.iter().map(|one| one.seats.clone()).collect::<Vec<_>>(),
        [Seats::of([2])]
    );
    assert_eq!(state.log[0].1, Counts::Replaced);

    // The task has been set on the excursion since: its slot has been started by the press.
    let cells = [("code", "S-1"), ("task", "T-9"), ("excursion", "E-1"), ("state", "set")];
    let cells = cells.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    let slot = <crate::slots::Slot as crate::records::Record>::parse(&cells).unwrap();
    let all = vec![added(1, 1), press(2, Act::Started, "#T-9", 60)];
    let state = DayState::of(&added::with_slots(all, &[slot]), &seats());
    assert!(state.added.is_empty());
    assert_eq!(state.log[0].1, Counts::SetSince);
    let own = state.tasks[&SlotCode::from("S-1")];
    assert_eq!(own.progress, Progress::Running { since: Pet(60) });
}

#[test]
fn a_task_is_planned_runs_and_ends() {
    let started = press(1, Act::Started, "S-1", 40);
    let done = press(2, Act::Done, "S-1", 75);
    assert_eq!(of(&[], "S-1").progress, Progress::Planned);
    assert_eq!(
        of(std::slice::from_ref(&started), "S-1").progress,
        Progress::Running { since: Pet(40) }
    );
    let ended = Progress::Ended { start: Pet(40), end: Pet(75), outcome: Some(Act::Done) };
    assert_eq!(of(&[started.clone(), done.clone()], "S-1").progress, ended);
    // The end came first: the start was still on its way.
    assert_eq!(of(&[done.clone(), started.clone()], "S-1").progress, ended);
    assert!(of(std::slice::from_ref(&done), "S-1").start_unknown);
    let twice = [started.clone(), done.clone(), done.clone(), started];
    assert_eq!(DayState::of(&twice, &seats()).log.len(), 2);
    assert_eq!(of(&twice, "S-1").progress, ended);
}

#[test]
fn an_undo_counts_whenever_it_arrives() {
    let started = press(1, Act::Started, "S-1", 40);
    let done = press(2, Act::Done, "S-1", 75);
    let back = undo(3, 2);
    for order in [[&started, &done, &back], [&back, &done, &started], [&done, &back, &started]] {
        let presses: Vec<Press> = order.into_iter().cloned().collect();
        assert_eq!(of(&presses, "S-1").progress, Progress::Running { since: Pet(40) });
        let state = DayState::of(&presses, &seats());
        assert_eq!(state.log.iter().filter(|(_, fate)| *fate == Counts::Undone).count(), 1);
    }
}

#[test]
fn fallbacks_are_taken_up_one_after_the_other_and_each_counts_once() {
    let taken = |number, step, pet| Press { step, ..press(number, Act::Fallback, "S-1", pet) };
    let started = press(1, Act::Started, "S-1", 40);
    // Two people press the first one at once: it stays the first.
    let twice = [started.clone(), taken(2, Some(1), 70), taken(3, Some(1), 71)];
    assert_eq!(of(&twice, "S-1").fallback(), Some((0, Pet(71))));
    assert_eq!(of(&twice, "S-1").next_fallback(), 1);
    // The second arrives before the first, which waited on its way.
    let late = [started.clone(), taken(3, Some(2), 95), taken(2, None, 70)];
    assert_eq!(of(&late, "S-1").fallbacks[..2], [Some(Pet(70)), Some(Pet(95))]);
    assert_eq!(of(&late, "S-1").fallback(), Some((1, Pet(95))));
    let undone = [late.to_vec(), vec![undo(4, 3)]].concat();
    assert_eq!(of(&undone, "S-1").fallback(), Some((0, Pet(70))));
    assert_eq!(of(&[started], "S-1").next_fallback(), 0);
}

#[test]
fn the_crew_is_inside_as_the_last_press_that_counts_says() {
    let inside = |number, pet| press(number, Act::Inside, "", pet);
    let all = [inside(1, 380), inside(2, 385)];
    assert_eq!(DayState::of(&all, &seats()).inside, Some(Pet(385)));
    let undone = [inside(1, 380), inside(2, 385), undo(3, 2)];
    assert_eq!(DayState::of(&undone, &seats()).inside, Some(Pet(380)));
    assert_eq!(DayState::of(&[], &seats()).inside, None);
}

#[test]
fn an_end_before_its_start_leaves_the_start_and_its_own_minute_unknown() {
    let all = [press(1, Act::Done, "S-1", 70), press(2, Act::Started, "S-1", 80)];
    let state = DayState::of(&all, &seats());
    let task = state.tasks[&SlotCode::from("S-1")];
    let ended = Progress::Ended { start: Pet(80), end: Pet(80), outcome: Some(Act::Done) };
    assert_eq!((task.progress, task.end_unknown), (ended, true));
    assert_eq!((state.log[0].1, state.last_pet), (Counts::BeforeTheStart, Some(Pet(80))));
}

#[test]
fn nobody_is_at_work_once_the_crew_is_inside() {
    let all = [press(1, Act::Started, "S-1", 40), press(2, Act::Inside, "", 90)];
    let ended = Progress::Ended { start: Pet(40), end: Pet(90), outcome: None };
    assert_eq!(of(&all, "S-1").progress, ended);
    let state = DayState::of(&all, &seats());
    assert_eq!(state.last_outside().and_then(|press| press.pet), Some(Pet(40)));
}

#[test]
fn the_last_word_on_a_start_and_on_an_end_counts() {
    let presses = [
        press(1, Act::Started, "S-1", 40),
        press(2, Act::Started, "S-1", 42),
        press(3, Act::Done, "S-1", 75),
        press(4, Act::NotCompleted, "S-1", 70),
    ];
    let ended = Progress::Ended { start: Pet(42), end: Pet(70), outcome: Some(Act::NotCompleted) };
    assert_eq!(of(&presses, "S-1").progress, ended);
    let fates: Vec<Counts> =
        DayState::of(&presses, &seats()).log.iter().map(|(_, fate)| *fate).collect();
    assert_eq!(fates, [Counts::Replaced, Counts::Yes, Counts::Replaced, Counts::Yes]);
}

#[test]
fn a_start_after_the_end_does_not_show_a_task_twice() {
    let presses = [
        press(1, Act::Started, "S-1", 40),
        press(2, Act::Done, "S-1", 75),
        press(3, Act::Started, "S-1", 90),
    ];
    let state = DayState::of(&presses, &seats());
    assert_eq!(state.log[2].1, Counts::AfterTheEnd);
    let ended = Progress::Ended { start: Pet(40), end: Pet(75), outcome: Some(Act::Done) };
    assert_eq!(state.tasks[&SlotCode::from("S-1")].progress, ended);
}

#[test]
fn a_seat_that_begins_another_task_has_left_the_one_before() {
    let presses = [press(1, Act::Started, "S-1", 40), press(2, Act::Started, "S-3", 80)];
    let left = Progress::Ended { start: Pet(40), end: Pet(80), outcome: None };
    assert_eq!(of(&presses, "S-1").progress, left);
    assert_eq!(of(&presses, "S-3").progress, Progress::Running { since: Pet(80) });
    // Its end arrives late, and says how.
    let late = [presses[0].clone(), presses[1].clone(), press(3, Act::Done, "S-1", 78)];
    let ended = Progress::Ended { start: Pet(40), end: Pet(78), outcome: Some(Act::Done) };
    assert_eq!(of(&late, "S-1").progress, ended);
}

#[test]
fn what_is_dropped_on_the_way_has_ended_and_says_so() {
    let dropped = [press(1, Act::Dropped, "S-2", 30)];
    assert_eq!(of(&dropped, "S-2").progress, Progress::Dropped);
    let begun = [press(1, Act::Started, "S-2", 30), press(2, Act::Dropped, "S-2", 50)];
    let ended = Progress::Ended { start: Pet(30), end: Pet(50), outcome: Some(Act::Dropped) };
    assert_eq!(of(&begun, "S-2").progress, ended);
    // Another word for its end counts in its place; undone, it goes on.
    let mut corrected = begun.to_vec();
    corrected.push(press(3, Act::AtStoppingPoint, "S-2", 49));
    let stopped =
        Progress::Ended { start: Pet(30), end: Pet(49), outcome: Some(Act::AtStoppingPoint) };
    assert_eq!(of(&corrected, "S-2").progress, stopped);
    let mut undone = begun.to_vec();
    let mut undo = press(3, Act::Undo, "", 0);
    undo.undoes = Some(begun[1].key.clone());
    undone.push(undo);
    assert_eq!(of(&undone, "S-2").progress, Progress::Running { since: Pet(30) });
    let after_all = [press(1, Act::Dropped, "S-2", 30), press(2, Act::Started, "S-2", 50)];
    assert_eq!(of(&after_all, "S-2").progress, Progress::Running { since: Pet(50) });
}

#[test]
fn a_clock_that_is_set_back_does_not_turn_the_time_back() {
    let mut egress = press(1, Act::Egress, "", 0);
    egress.egress_at = Some(Moment(0));
    let started = press(2, Act::Started, "S-1", 40);
    let state = DayState::of(&[egress, started], &seats());
    assert_eq!(state.pet_at(Moment(50 * 60_000)), Some(Pet(50)));
    assert_eq!(state.pet_at(Moment(10 * 60_000)), Some(Pet(40)));
    assert_eq!(state.pet_at(Moment(-5_000)), Some(Pet(40)));
}

/// Any presses at all: acts, slots and minutes without sense, pressed at any time, some undone,
/// some of a key that was there.
fn any_presses() -> impl Strategy<Value = Vec<Press>> {
    let one = (0..Act::ALL.len(), 0..=SLOTS.len(), 0..400_i64, 0..30_i64, 0..25_i64);
    prop::collection::vec(one, 0..24).prop_map(|all| {
        let each = all.into_iter().enumerate();
        each.map(|(at, (act, slot, pet, minute, other))| {
            let number = i64::try_from(at).unwrap();
            let act = Act::ALL[act];
            let slot = SLOTS.get(slot).map_or("#T-9", |slot| slot.0);
            let mut made = match act {
                Act::Added => added(number, if other % 2 == 0 { 1 } else { 2 }),
                Act::Undo => undo(number, other),
                Act::Egress | Act::Inside => Press { slot: None, ..press(number, act, "", pet) },
                Act::Fallback => {
                    Press { step: Some(1 + other % 5), ..press(number, act, slot, pet) }
                }
                _ => press(number, act, slot, pet),
            };
            // One in eight was sent before under the same key.
            if other % 8 == 7 && number > 0 {
                made.key = format!("k{}", number - 1);
            }
            made.pressed_at = Moment(minute * 60_000);
            made
        })
        .collect()
    })
}

proptest! {
    #![proptest_config(Config::with_cases(10_000))]

    #[test]
    fn no_sequence_shows_a_task_twice_loses_a_press_or_turns_time_back(presses in any_presses()) {
        let state = DayState::of(&presses, &seats());
        // Every key stands in the log once.
        let keys: BTreeSet<&str> = presses.iter().map(|press| press.key.as_str()).collect();
        let logged: Vec<&str> = state.log.iter().map(|(press, _)| press.key.as_str()).collect();
        prop_assert_eq!(logged.len(), keys.len());
        prop_assert!(logged.iter().all(|key| keys.contains(key)));
        // No seat is at two tasks, and no task is added twice.
        let mut seats = seats();
        seats.extend(state.added.iter().map(|one| (added::name_of(&one.task), one.seats.numbers().collect())));
        prop_assert!(state.added.len() <= 1 && state.tasks.keys().all(|slot| seats.contains_key(slot)));
        for seat in [1, 2] {
            let at_work = state.tasks.iter().filter(|(slot, task)| {
                matches!(task.progress, Progress::Running { .. }) && seats[*slot].contains(&seat)
            });
            prop_assert!(at_work.count() <= 1);
        }
        for task in state.tasks.values() {
            if let Progress::Ended { start, end, .. } = task.progress {
                prop_assert!(start <= end);
            }
        }
    }

    #[test]
    fn in_a_sequence_time_falls_only_where_a_press_takes_another_back(presses in any_presses()) {
        let mut egress = press(-1, Act::Egress, "", 0);
        egress.egress_at = Some(Moment(0));
        let mut so_far = vec![egress];
        let mut shown = Pet(0);
        for (minute, press) in (0..).zip(presses) {
            // Pressed as the clock runs, with a PET that has come by then or is just ahead of it.
            let moment = Moment(minute * 7 * 60_000);
            let pet = press.pet.map(|pet| Pet(pet.0 % (minute * 7 + 3)));
            so_far.retain(|known: &Press| known.key != press.key);
            so_far.push(Press { pressed_at: moment, number: minute, pet, ..press });
            let state = DayState::of(&so_far, &seats());
            let Some(now) = state.pet_at(moment) else {
                shown = Pet(0);
                continue;
            };
            prop_assert!(now.0 <= minute * 7 + 2, "it runs ahead");
            let takes_back = state.log.iter().any(|(_, fate)| *fate != Counts::Yes);
            prop_assert!(now >= shown || takes_back, "{} after {}", now, shown);
            prop_assert!(now.0 >= minute * 7, "it stays behind the clock");
            shown = now;
        }
    }

    #[test]
    fn the_order_of_arrival_changes_nothing(presses in any_presses(), seed in any::<u64>()) {
        let mut presses = presses;
        // One press a key: which of two that share one counts is the store's to say.
        let mut seen = BTreeSet::new();
        presses.retain(|press| seen.insert(press.key.clone()));
        let there = DayState::of(&presses, &seats());
        let mut shuffled = presses.clone();
        let mut at = seed;
        for place in (1..shuffled.len()).rev() {
            at = at.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let other = usize::try_from(at >> 33).unwrap() % (place + 1);
            shuffled.swap(place, other);
        }
        for (number, press) in shuffled.iter_mut().enumerate() {
            press.number = i64::try_from(number).unwrap();
        }
        let then = DayState::of(&shuffled, &seats());
        prop_assert_eq!((there.tasks, there.added), (then.tasks, then.added));
        prop_assert_eq!((there.egress_at, there.inside), (then.egress_at, then.inside));
        prop_assert_eq!(there.last_pet, then.last_pet);
    }
}

#[test]
fn added_work_of_two_seats_is_a_task_of_both() {
    let mut adds = added(1, 1);
    if let Some(adds) = &mut adds.adds {
        adds.seats = Seats::of([1, 2]);
    }
    let start = press(2, Act::Started, "#T-9", 60);
    // One of the two goes on to its own task: then the work of both has ended.
    let own = press(3, Act::Started, "S-2", 75);
    let state = DayState::of(&[adds, start, own], &seats());
    let task = state.tasks[&SlotCode::from("#T-9")];
    assert_eq!(task.progress, Progress::Ended { start: Pet(60), end: Pet(75), outcome: None });
}
