//! Rule 1: the state, the first that holds; endings, reopening, parking, slots; why it is open.

use super::*;
use crate::time::Moment;
use crate::words::TaskState;

use Outcome::{Done, NotCompleted, NotReached, PartDone};

fn state(events: &[Event]) -> TaskState {
    standing(events).state
}

#[test]
fn a_task_that_was_only_opened_is_open_and_never_tried() {
    let now = standing(&[opened()]);

    assert_eq!(now.state, TaskState::Open);
    assert_eq!(now.left.most, Share(100));
    assert_eq!(now.why_open, Some(WhyOpen::NeverTried));
    assert_eq!((now.last_event, now.last_flight, now.ended), (None, None, None));
    assert_eq!(standing(&[]).state, TaskState::Open);
}

#[test]
fn a_failed_attempt_leaves_it_open_and_says_so() {
    let now = standing(&[opened(), tried("A-1", (33, 1), 1, NotCompleted, None)]);

    assert_eq!(now.state, TaskState::Open);
    assert_eq!(now.why_open.as_ref().map(WhyOpen::kind), Some("failed"));
    assert_eq!(now.last_flight, Some("G-33".into()));
    assert_eq!((now.attempts, now.failures), (1, 1));
    assert_eq!(now.why_open.unwrap().to_string(), "It was tried on E-33.1 and failed (A-1).");
}

#[test]
fn an_attempt_stopped_from_outside_did_not_fail() {
    let mut stopped = tried("A-1", (33, 1), 1, NotCompleted, None);
    if let EventKind::Attempt(made) = &mut stopped.what {
        made.tells = Tells::Nothing;
    }

    let now = standing(&[opened(), stopped]);

    assert_eq!(now.why_open.unwrap().kind(), "stopped");
    assert_eq!((now.attempts, now.failures), (1, 0));
}

#[test]
fn done_adds_the_rest_of_the_work() {
    let events =
        [tried("A-1", (33, 1), 1, PartDone, Some(40)), tried("A-2", (34, 1), 2, Done, None)];

    assert_eq!(standing(&events[..1]).left.most, Share(60));
    assert_eq!(state(&events[..1]), TaskState::PartDone);
    let now = standing(&events);
    assert_eq!((now.state, now.left.most), (TaskState::Done, Share(0)));
    assert_eq!((now.ended.as_deref(), now.why_open), (Some("A-2"), None));
}

#[test]
fn only_done_ends_it_whatever_the_shares_add_up_to() {
    let events = [
        tried("A-1", (33, 1), 1, PartDone, Some(60)),
        tried("A-2", (34, 1), 2, PartDone, Some(60)),
    ];

    assert_eq!(standing(&events[..1]).left.known(), Some(Share(40)));
    let now = standing(&events);
    assert_eq!((now.state, now.ended), (TaskState::PartDone, None));
    // At most what was left before, and nobody knows how much.
    let unknown = Left { most: Share(40), unknown_after: Some("A-2".to_owned()) };
    assert_eq!((now.left.to_string().as_str(), now.left), ("unknown, at most 40 %", unknown));
    assert_eq!(now.why_open.unwrap().kind(), "part done");

    let exactly = [events[0].clone(), tried("A-2", (34, 1), 2, NotCompleted, Some(40))];
    assert_eq!(standing(&exactly).left.unknown_after.as_deref(), Some("A-2"));
    let said = [events[0].clone(), leaving("A-2", (34, 1), 2, PartDone, 0)];
    assert_eq!(standing(&said).left.unknown_after.as_deref(), Some("A-2"));
    assert_eq!(state(&said), TaskState::PartDone);
}

#[test]
fn a_later_statement_or_an_ending_makes_known_what_is_left() {
    let unknown = [
        tried("A-1", (33, 1), 1, PartDone, Some(70)),
        tried("A-2", (34, 1), 2, PartDone, Some(70)),
    ];
    let then = |event: Event| standing(&[&unknown[..], &[event]].concat());

    assert_eq!(then(leaving("A-3", (35, 1), 3, NotCompleted, 20)).left.known(), Some(Share(20)));
    assert_eq!(then(reopened("Y-1", 35, 3, 55)).left.known(), Some(Share(55)));
    assert_eq!(then(tried("A-3", (35, 1), 3, Done, None)).left.known(), Some(Share(0)));
    let less = then(tried("A-3", (35, 1), 3, PartDone, Some(10))).left;
    assert_eq!((less.most, less.unknown_after.as_deref()), (Share(20), Some("A-2")));
}

#[test]
fn what_an_attempt_says_is_left_stands_whatever_is_entered_before_it_later() {
    let first = leaving("A-1", (33, 1), 1, PartDone, 60);
    let late = leaving("A-9", (32, 1), 9, PartDone, 30);
    let added = tried("A-2", (34, 1), 2, PartDone, Some(20));

    assert_eq!(standing(&[first.clone(), late.clone()]).left.known(), Some(Share(60)));
    assert_eq!(standing(&[late.clone(), added.clone()]).left.known(), Some(Share(10)));
    // More may be left than was thought.
    let more = leaving("A-3", (35, 1), 3, PartDone, 80);
    assert_eq!(standing(&[first, late, added, more]).left.known(), Some(Share(80)));
}

#[test]
fn a_part_done_attempt_that_does_not_say_how_much_is_left_is_part_done_and_marked() {
    let now = standing(&[tried("A-1", (33, 1), 1, PartDone, None)]);

    assert_eq!((now.state, now.left.most), (TaskState::PartDone, Share(100)));
    assert_eq!(now.left.unknown_after.as_deref(), Some("A-1"));
    let said = standing(&[tried("A-1", (33, 1), 1, PartDone, Some(10))]);
    assert_eq!(said.left.known(), Some(Share(90)));
}

#[test]
fn what_was_not_reached_adds_nothing() {
    let now = standing(&[tried("A-1", (33, 1), 1, NotReached, Some(30))]);

    assert_eq!((now.state, now.left.most), (TaskState::Open, Share(100)));
    assert_eq!(now.why_open.unwrap().kind(), "not reached");
}

#[test]
fn the_first_three_closures_end_done_and_the_rest_dropped() {
    for kind in ClosureKind::ALL {
        let now = standing(&[opened(), closed("Z-1", 33, 1, *kind)]);
        let done =
            matches!(kind, ClosureKind::ByArm | ClosureKind::FromInside | ClosureKind::FromGround);

        assert_eq!(now.state == TaskState::Done, done, "{kind}");
        assert_eq!(now.state == TaskState::Dropped, !done, "{kind}");
        assert_eq!(now.ended.as_deref(), Some("Z-1"));
        assert_eq!(now.left.most, if done { Share(0) } else { Share(100) });
    }
}

#[test]
fn dropped_stands_before_done_and_done_before_parked() {
    let done = tried("A-1", (33, 1), 1, Done, None);
    let parked = after("B-1", 33, 2, EventKind::Parking);
    let dropped = closed("Z-1", 33, 3, ClosureKind::UnitReplaced);

    assert_eq!(state(&[done.clone(), parked.clone()]), TaskState::Done);
    assert_eq!(state(&[done, parked, dropped]), TaskState::Dropped);
}

#[test]
fn parked_stands_before_part_done() {
    let events =
        [tried("A-1", (33, 1), 1, PartDone, Some(40)), after("B-1", 33, 2, EventKind::Parking)];
    let now = standing(&events);

    assert_eq!((now.state, now.left.most), (TaskState::Parked, Share(60)));
    assert_eq!(now.why_open, Some(WhyOpen::Parked { parking: "B-1".to_owned() }));
}

#[test]
fn setting_a_slot_unparks_and_a_pencil_does_not() {
    let parked = after("B-1", 34, 1, EventKind::Parking);
    let pencil = slot("S-1", 34, 2, (37, 1), SlotState::Pencilled);
    let set = slot("S-2", 34, 3, (37, 1), SlotState::Set);

    assert_eq!(state(&[parked.clone(), pencil]), TaskState::Parked);
    assert_eq!(state(&[parked.clone(), set]), TaskState::Set);
    let set_before = slot("S-0", 34, 0, (37, 1), SlotState::Set);
    assert_eq!(state(&[parked, set_before]), TaskState::Parked);
}

#[test]
fn a_pencil_older_than_the_parking_unparks_when_it_is_set_on_the_same_day() {
    let on_the_day = |mut event: Event, hour: i64| {
        let noon = Moment(1_900_000_000_000);
        event.when.day = Some(noon.day());
        event.when = event.when.written_at(noon.plus_minutes(60 * hour));
        event
    };
    let parked = on_the_day(after("B-1", 34, 2, EventKind::Parking), 1);
    let set = |hour| on_the_day(slot("S-1", 34, 1, (37, 1), SlotState::Set), hour);

    assert_eq!(state(&[parked.clone(), set(2)]), TaskState::Set);
    assert_eq!(state(&[parked, set(0)]), TaskState::Parked);
}

#[test]
fn a_slot_that_was_set_and_taken_off_again_has_unparked() {
    let mut withdrawn = slot("S-1", 34, 2, (37, 1), SlotState::Withdrawn);
    if let EventKind::Slot(held) = &mut withdrawn.what {
        held.was_set = true;
    }

    assert_eq!(state(&[after("B-1", 34, 1, EventKind::Parking), withdrawn]), TaskState::Open);
    let never_set = slot("S-1", 34, 2, (37, 1), SlotState::Withdrawn);
    assert_eq!(state(&[after("B-1", 34, 1, EventKind::Parking), never_set]), TaskState::Parked);
}

#[test]
fn a_set_slot_holds_it_until_its_excursion_is_closed() {
    let set = slot("S-1", 34, 1, (37, 1), SlotState::Set);
    let now = standing(&[opened(), set.clone()]);
    assert_eq!((now.state, now.held_by.len()), (TaskState::Set, 1));
    assert_eq!(now.why_open, Some(WhyOpen::NeverTried));

    assert_eq!(state(&[in_debrief(set.clone())]), TaskState::Set);

    let mut over = set;
    if let EventKind::Slot(held) = &mut over.what {
        held.visit = Visit::Over;
    }
    assert_eq!(state(&[over]), TaskState::Open);
}

#[test]
fn a_result_in_flight_answers_the_slot_at_once() {
    let set = in_debrief(slot("S-1", 34, 1, (36, 1), SlotState::Set));
    let failed = with_slot(tried("A-1", (36, 1), 2, NotCompleted, None), "S-1");
    let put_off = with_slot(deferred("D-1", (36, 1), 2, DeferralPhase::During), "S-1");
    let other = with_slot(tried("A-1", (36, 1), 2, NotCompleted, None), "S-9");

    assert_eq!(state(&[set.clone(), failed]), TaskState::Open);
    assert_eq!(state(&[set.clone(), put_off]), TaskState::Open);
    assert_eq!(state(&[set, other]), TaskState::Set);
}

#[test]
fn a_slot_set_anew_after_a_deferral_before_launch_holds_it() {
    let put_off = with_slot(deferred("D-1", (37, 1), 2, DeferralPhase::BeforeLaunch), "S-1");
    let set = slot("S-1", 36, 3, (37, 1), SlotState::Set);

    assert_eq!(state(&[put_off, set]), TaskState::Set);
}

#[test]
fn a_pencilled_slot_never_changes_the_state() {
    let pencil = slot("S-1", 34, 1, (37, 1), SlotState::Pencilled);
    let now = standing(&[opened(), pencil]);

    assert_eq!((now.state, now.held_by), (TaskState::Open, Vec::new()));
    let mut set_once = slot("S-1", 34, 1, (37, 1), SlotState::Pencilled);
    if let EventKind::Slot(held) = &mut set_once.what {
        held.was_set = true;
    }
    assert_eq!(state(&[set_once]), TaskState::Open);
}

#[test]
fn reopening_cancels_endings_and_shares_and_says_what_is_left() {
    let events = [
        tried("A-1", (33, 1), 1, PartDone, Some(50)),
        tried("A-2", (34, 1), 2, Done, None),
        closed("Z-1", 34, 3, ClosureKind::AcceptedAsLeft),
        reopened("Y-1", 35, 4, 30),
    ];
    let now = standing(&events);

    assert_eq!((now.state, now.left.most), (TaskState::PartDone, Share(30)));
    assert_eq!((now.ended, now.last_event.as_deref()), (None, Some("Y-1")));
    assert_eq!(now.why_open.unwrap().kind(), "reopened");

    let whole = [closed("Z-1", 34, 3, ClosureKind::Moot), reopened("Y-1", 35, 4, 100)];
    assert_eq!(state(&whole), TaskState::Open);
}

#[test]
fn what_was_parked_before_it_ended_is_not_parked_when_it_is_reopened() {
    let events = [
        after("B-1", 33, 1, EventKind::Parking),
        closed("Z-1", 34, 2, ClosureKind::Moot),
        reopened("Y-1", 35, 3, 100),
    ];

    assert_eq!(state(&events), TaskState::Open);
}

#[test]
fn an_ending_after_the_reopening_counts() {
    let events = [
        tried("A-1", (33, 1), 1, Done, None),
        reopened("Y-1", 33, 2, 20),
        tried("A-2", (34, 1), 3, Done, None),
    ];
    let now = standing(&events);

    assert_eq!((now.state, now.ended.as_deref()), (TaskState::Done, Some("A-2")));
}

#[test]
fn a_late_entry_takes_its_place_in_the_past() {
    let before = [
        tried("A-1", (33, 1), 1, PartDone, Some(40)),
        closed("Z-1", 34, 2, ClosureKind::Moot),
        reopened("Y-1", 34, 3, 70),
    ];
    let mut late = before.to_vec();
    late.push(tried("A-2", (32, 2), 99, PartDone, Some(25)));
    let now = standing(&late);

    // The late attempt happened before the reopening, which voids its share.
    assert_eq!(now.left.most, Share(70));
    assert_eq!(now.ordered, [3, 0, 1, 2]);
    assert_eq!(now.last_event.as_deref(), Some("Y-1"));
    assert_eq!(now.why_open.unwrap().kind(), "reopened");
}

#[test]
fn the_last_thing_that_happened_says_why_it_is_open() {
    let mut events = vec![
        tried("A-1", (33, 1), 1, NotCompleted, None),
        deferred("D-1", (34, 1), 2, DeferralPhase::BeforeLaunch),
    ];
    let now = standing(&events);
    assert_eq!(
        now.why_open.unwrap().to_string(),
        "It was deferred from E-34.1, before launch: time (D-1)."
    );

    events.push(tried("A-2", (35, 2), 3, PartDone, Some(10)));
    assert_eq!(standing(&events).why_open.unwrap().kind(), "part done");
}

#[test]
fn every_reason_has_a_word_of_the_filter() {
    let (attempt, excursion) = (String::new(), ExcursionCode::default());
    let whys = [
        WhyOpen::NeverTried,
        WhyOpen::Failed { attempt: attempt.clone(), excursion: excursion.clone(), cause: None },
        WhyOpen::Stopped { attempt: attempt.clone(), excursion: excursion.clone(), cause: None },
        WhyOpen::PartDone { attempt: attempt.clone(), excursion: excursion.clone(), cause: None },
        WhyOpen::NotReached { attempt: attempt.clone(), excursion: excursion.clone() },
        WhyOpen::Deferred {
            deferral: attempt.clone(),
            excursion,
            phase: DeferralPhase::During,
            reason: DeferralReason::Time,
        },
        WhyOpen::Parked { parking: attempt.clone() },
        WhyOpen::Reopened { reopening: attempt, share_left: Share(10) },
    ];

    assert_eq!(whys.map(|why| why.kind()).as_slice(), WhyOpen::WORDS);
}

#[test]
fn an_ending_withdraws_the_slots_still_ahead_and_no_others() {
    let slots = [
        slot("S-1", 34, 1, (37, 1), SlotState::Set),
        slot("S-2", 34, 2, (38, 1), SlotState::Pencilled),
        slot("S-1", 35, 9, (37, 1), SlotState::Set),
        slot("S-3", 34, 3, (37, 2), SlotState::Withdrawn),
        in_debrief(slot("S-4", 34, 4, (36, 1), SlotState::Set)),
        slot("S-5", 30, 5, (33, 1), SlotState::Flown),
    ];
    let mut ended = slots.to_vec();
    ended.push(closed("Z-1", 36, 6, ClosureKind::Moot));

    assert_eq!(slots_after_the_end(&slots), []);
    assert_eq!(slots_after_the_end(&ended), [SlotCode::from("S-1"), SlotCode::from("S-2")]);
}
