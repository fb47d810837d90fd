//! Minutes, shares and results of what was flown.

use std::collections::{BTreeMap, BTreeSet};

use super::{all, by_code, day_of, deferrals_by_slot};
use domain::attempts::Attempt;
use domain::endings::Reopening;
use domain::excursions::{Excursion, ExcursionTool};
use domain::findings::Cause;
use domain::records::Record;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::units::{Minutes, Pet, Share};
use domain::words::{ExcursionState, Outcome, SlotState};

/// From, to, and the attempt.
type Span = (Pet, Pet, String);

#[test]
fn nobody_is_in_two_places_at_once() {
    let excursions = by_code::<Excursion>();
    let mut spans: BTreeMap<(String, u8), Vec<Span>> = BTreeMap::new();
    for attempt in all::<Attempt>() {
        let (Some(start), Some(end)) = (attempt.pet_start, attempt.pet_end) else { continue };
        let excursion = &excursions[attempt.excursion.as_str()];
        let (egress, ingress) = (excursion.egress.unwrap().0, excursion.ingress.unwrap().0);
        assert!(start.0 >= egress && start < end, "{}", attempt.code());
        assert!(end.0 + ingress <= excursion.actual.unwrap().0, "{}", attempt.code());
        for seat in &attempt.seats.0 {
            assert!(excursion.seats.0.contains(seat), "{} is not of that crew", attempt.code());
            let key = (attempt.excursion.to_string(), seat.number);
            spans.entry(key).or_default().push((start, end, attempt.code().to_owned()));
        }
    }
    for of_seat in spans.values_mut() {
        of_seat.sort();
        for pair in of_seat.windows(2) {
            assert!(pair[0].1 <= pair[1].0, "{} and {} overlap", pair[0].2, pair[1].2);
        }
    }
}

#[test]
fn flown_excursions_lasted_no_longer_than_their_limit() {
    for excursion in all::<Excursion>().iter().filter(|e| e.state == Some(ExcursionState::Flown)) {
        let (actual, limit) = (excursion.actual.unwrap(), excursion.limit.unwrap());
        assert!(actual <= limit && actual > Minutes(240), "{}", excursion.code());
        assert!(excursion.planned.unwrap() < limit);
    }
}

#[test]
fn outcomes_shares_and_causes_agree() {
    let causes = by_code::<Cause>();
    for attempt in all::<Attempt>() {
        let code = attempt.code();
        match attempt.outcome {
            Outcome::Done => assert!(attempt.said().is_none() && attempt.cause.is_none(), "{code}"),
            Outcome::PartDone => {
                let left = attempt.left_after.unwrap();
                assert!(Share::NONE < left && left < Share::WHOLE, "{code}");
            }
            Outcome::NotCompleted => assert!(attempt.cause.is_some(), "{code}"),
            Outcome::NotReached => {
                assert!(attempt.cause.is_some() && attempt.pet_start.is_none(), "{code}");
                assert!(attempt.minutes.is_none() && attempt.tools.is_empty(), "{code}");
            }
        }
        assert!(attempt.cause.is_none_or(|cause| causes.contains_key(cause.as_str())));
    }
}

#[test]
fn every_part_done_leaves_less_than_was_left_before() {
    let excursions = by_code::<Excursion>();
    for task in all::<Task>() {
        let mut tries: Vec<Attempt> =
            all::<Attempt>().into_iter().filter(|a| a.task == task.code.0).collect();
        tries.sort_by_key(|a| (day_of(&excursions, &a.excursion), a.pet_start));
        let reopened: Vec<Reopening> =
            all::<Reopening>().into_iter().filter(|r| r.task == task.code.0).collect();
        let (mut left, mut since) = (100, None);
        for attempt in &tries {
            let day = day_of(&excursions, &attempt.excursion);
            let again = reopened.iter().rfind(|r| r.day.unwrap() < day && r.day > since);
            if let Some(again) = again {
                left = again.share_left.0;
            }
            since = Some(day);
            assert!(left > 0, "{} was done before {}", task.code(), attempt.code());
            let now = match (attempt.outcome, attempt.left_after) {
                (Outcome::Done, _) => 0,
                (_, Some(now)) => now.0,
                (_, None) => left,
            };
            if attempt.outcome == Outcome::PartDone {
                let planned = attempt.planned_share.unwrap_or(Share::WHOLE);
                let reached = left - now >= planned.0;
                assert_eq!(attempt.cause.is_none(), reached, "{}", attempt.code());
            }
            let less = now < left;
            let adds = matches!(attempt.outcome, Outcome::Done | Outcome::PartDone);
            assert_eq!(less, adds, "{}", attempt.code());
            assert!(now > 0 || attempt.outcome == Outcome::Done, "{}", attempt.code());
            left = now;
        }
    }
}

#[test]
fn every_flown_slot_has_its_result_and_only_one_debrief_is_due() {
    let deferred = deferrals_by_slot();
    let attempted: BTreeSet<String> =
        all::<Attempt>().iter().filter_map(|a| a.slot.as_ref().map(ToString::to_string)).collect();
    let excursions = by_code::<Excursion>();
    let mut due = Vec::new();
    for slot in all::<Slot>() {
        let state = excursions[slot.excursion.as_str()].state;
        if state == Some(ExcursionState::Planned) {
            continue;
        }
        if !attempted.contains(slot.code()) && !deferred.contains_key(slot.code()) {
            assert_eq!(slot.state, SlotState::Set, "{}", slot.code());
            due.push(slot.excursion.to_string());
        }
    }
    assert_eq!(due, ["E-36.3"; 3]);
    let results = all::<Attempt>().iter().filter(|a| a.excursion.as_str() == "E-36.3").count();
    assert_eq!(results, 2);
    let slots = by_code::<Slot>();
    for attempt in all::<Attempt>() {
        let Some(slot) = attempt.slot.as_ref().map(|code| &slots[code.as_str()]) else { continue };
        assert_eq!((&slot.task, &slot.excursion), (&attempt.task, &attempt.excursion));
    }
}

#[test]
fn approaches_are_of_sides_that_exist_and_techniques_for_that_family() {
    let (tasks, techniques) = (by_code::<Task>(), by_code::<Technique>());
    let tried = all::<Attempt>().into_iter().map(|a| (a.task, a.technique, a.side));
    let planned = all::<Slot>().into_iter().map(|s| (s.task, s.technique, s.side));
    for (task, technique, side) in tried.chain(planned) {
        let task = &tasks[task.as_str()];
        assert!(side.is_none() || task.sides.contains(side.as_ref().unwrap()), "{}", task.code());
        let Some(technique) = technique.map(|code| &techniques[code.as_str()]) else { continue };
        assert!(side.is_none_or(|side| technique.sides.contains(&side)), "{}", task.code());
        let fits =
            technique.family.is_none() || task.family.is_none() || technique.family == task.family;
        assert!(fits, "{} with {}", task.code(), technique.code());
    }
}

#[test]
fn tools_add_up_wherever_the_debrief_is_closed() {
    for row in all::<ExcursionTool>() {
        assert_eq!(row.adds_up(), row.excursion.as_str() != "E-36.3", "{}", row.code());
    }
}
