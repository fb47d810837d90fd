//! Days: what happened lies before today, in the order in which things can happen.

use super::{all, by_code, day_of, launches, today};
use domain::attempts::Attempt;
use domain::endings::{Deferral, Reopening};
use domain::excursions::Excursion;
use domain::findings::{Exemption, Finding, Remedy};
use domain::flights::Flight;
use domain::outside::OutsideItem;
use domain::records::Record;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::{
    DeferralPhase, ExcursionState, FlightState, OutsideState, RemedyState, SlotState,
};

#[test]
fn flights_follow_one_another_and_excursions_lie_inside_them() {
    let flights = all::<Flight>();
    for pair in flights.windows(2) {
        assert!(pair[0].landing < pair[1].launch, "{}", pair[1].code());
    }
    let flights = by_code::<Flight>();
    for excursion in all::<Excursion>() {
        let flight = &flights[excursion.flight.as_ref().unwrap().as_str()];
        assert!(
            flight.launch < excursion.day && excursion.day < flight.landing,
            "{}",
            excursion.code()
        );
        let past = excursion.day.unwrap() < today();
        assert_eq!(excursion.state != Some(ExcursionState::Planned), past, "{}", excursion.code());
        assert_eq!(flight.state == FlightState::Flown, past, "{}", excursion.code());
        assert_eq!(
            excursion.egress_at.map(|at| Some(at.day()) == excursion.day),
            excursion.actual.map(|_| true)
        );
    }
    let last = all::<Flight>().into_iter().rfind(|f| f.state == FlightState::Flown).unwrap();
    assert!((1..=10).contains(&today().since(last.landing.unwrap())));
    let next = by_code::<Flight>()["G-37"].launch.unwrap();
    assert!((100..=135).contains(&next.since(today())));
}

#[test]
fn attempts_are_made_on_flown_excursions_after_the_task_was_opened() {
    let (excursions, tasks) = (by_code::<Excursion>(), by_code::<Task>());
    for attempt in all::<Attempt>() {
        let excursion = &excursions[attempt.excursion.as_str()];
        assert_eq!(excursion.state, Some(ExcursionState::Flown), "{}", attempt.code());
        assert!(tasks[attempt.task.as_str()].opened <= excursion.day, "{}", attempt.code());
    }
}

#[test]
fn slots_of_the_past_were_set_before_launch() {
    let (excursions, launches) = (by_code::<Excursion>(), launches());
    for slot in all::<Slot>() {
        let excursion = &excursions[slot.excursion.as_str()];
        let planned = excursion.state == Some(ExcursionState::Planned);
        let launch = launches[excursion.flight.as_ref().unwrap().as_str()];
        match slot.state {
            SlotState::Pencilled => assert!(planned && slot.set_on.is_none(), "{}", slot.code()),
            SlotState::Flown | SlotState::Withdrawn => assert!(!planned, "{}", slot.code()),
            SlotState::Set => assert!(
                planned
                    || excursion.state == Some(ExcursionState::CalledOff)
                    || excursion.code() == "E-36.3",
                "{}",
                slot.code()
            ),
        }
        if slot.state != SlotState::Pencilled {
            assert!(slot.set_on.unwrap() < launch.min(today()), "{}", slot.code());
        }
    }
}

#[test]
fn deferrals_are_dated_as_their_phase_says() {
    let (excursions, flights) = (by_code::<Excursion>(), by_code::<Flight>());
    let slots = by_code::<Slot>();
    for deferral in all::<Deferral>() {
        let from = &excursions[deferral.excursion.as_str()];
        let flight = &flights[from.flight.as_ref().unwrap().as_str()];
        let ok = match deferral.phase {
            DeferralPhase::BeforeLaunch => deferral.day < flight.launch,
            DeferralPhase::BeforeEgress => flight.launch < deferral.day && deferral.day < from.day,
            DeferralPhase::During => deferral.day == from.day,
        };
        assert!(ok, "{}", deferral.code());
        let slot = &slots[deferral.slot.as_ref().unwrap().as_str()];
        assert_eq!((&slot.task, &slot.excursion), (&deferral.task, &deferral.excursion));
        assert!(slot.set_on < deferral.day, "{}", deferral.code());
        if let Some(to) = &deferral.to_excursion {
            assert!(day_of(&excursions, to) > from.day.unwrap(), "{}", deferral.code());
        }
    }
}

#[test]
fn findings_and_remedies_come_after_what_they_speak_of() {
    let (excursions, attempts) = (by_code::<Excursion>(), by_code::<Attempt>());
    let last = |codes: &[domain::codes::AttemptCode]| {
        codes
            .iter()
            .map(|code| day_of(&excursions, &attempts[code.as_str()].excursion))
            .max()
            .unwrap()
    };
    for finding in all::<Finding>() {
        let written = finding.written_on.unwrap();
        assert!(last(&finding.attempts) < written && written <= today(), "{}", finding.code());
        assert_ne!(finding.author, finding.reviewed_by, "{}", finding.code());
        assert!(
            finding.reviewed_on.is_none_or(|on| written <= on && on <= today()),
            "{}",
            finding.code()
        );
    }
    for remedy in all::<Remedy>() {
        let opened = remedy.opened_on.unwrap();
        assert!(last(&remedy.attempts) < opened, "{}", remedy.code());
        let done = matches!(remedy.state, RemedyState::Done | RemedyState::Verified);
        assert_eq!(remedy.done_on.is_some(), done, "{}", remedy.code());
        assert_eq!(remedy.verified_on.is_some(), remedy.state == RemedyState::Verified);
        assert!(remedy.done_on.is_none_or(|on| opened <= on && on <= today()), "{}", remedy.code());
        assert!(remedy.verified_on.is_none_or(|on| remedy.done_on.unwrap() <= on && on <= today()));
        assert_ne!(remedy.owner, remedy.verified_by, "{}", remedy.code());
    }
    for exemption in all::<Exemption>() {
        assert!(last(&exemption.attempts) < exemption.written_on.unwrap(), "{}", exemption.code());
    }
}

#[test]
fn what_stands_outside_was_left_by_an_attempt_on_that_day() {
    let (excursions, attempts) = (by_code::<Excursion>(), by_code::<Attempt>());
    for item in all::<OutsideItem>() {
        if let Some(left_by) = &item.left_by {
            let day = day_of(&excursions, &attempts[left_by.as_str()].excursion);
            assert_eq!(item.since, Some(day), "{}", item.code());
        }
        assert_eq!(item.ended_on.is_some(), item.state != OutsideState::InPlace, "{}", item.code());
    }
    for reopening in all::<Reopening>() {
        assert!(reopening.day.unwrap() <= today());
    }
}
