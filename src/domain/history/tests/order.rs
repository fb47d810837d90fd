//! The order of events: flight, excursion, phase or PET, entry; days between; the unplaced.

use super::*;
use crate::cells::Cell;
use crate::time::{Day, Moment};

fn sorted(whens: &[When]) -> Vec<i64> {
    let refs: Vec<&When> = whens.iter().collect();
    let placed = places(&refs, |_| true);
    let mut order: Vec<usize> = (0..whens.len()).collect();
    order.sort_by_key(|index| placed[*index]);
    order.into_iter().map(|index| whens[index].entry).collect()
}

fn day(text: &str) -> Day {
    Day::read(text).unwrap()
}

#[test]
fn the_pet_goes_before_the_entry() {
    let at =
        |pet, entry| When { pet: Some(Pet(pet)), ..When::on(33, Some(1), Phase::During, entry) };

    assert_eq!(sorted(&[at(90, 1), at(30, 2), at(60, 3)]), [2, 3, 1]);
}

#[test]
fn flight_then_excursion_then_phase_then_pet_then_entry() {
    let at = |excursion, phase, pet: Option<i64>, entry| When {
        pet: pet.map(Pet),
        ..When::on(33, excursion, phase, entry)
    };
    let whens = [
        at(Some(1), Phase::During, Some(90), 6),
        at(Some(2), Phase::BeforeEgress, None, 11),
        at(None, Phase::After, None, 12),
        at(Some(1), Phase::After, None, 10),
        at(Some(1), Phase::During, None, 9),
        at(Some(1), Phase::During, None, 8),
        at(Some(1), Phase::During, Some(90), 7),
        at(Some(1), Phase::During, Some(30), 5),
        at(Some(1), Phase::BeforeEgress, None, 4),
        at(None, Phase::BeforeEgress, None, 3),
        at(Some(2), Phase::BeforeLaunch, None, 2),
        When::on(32, Some(9), Phase::After, 1),
    ];

    assert_eq!(sorted(&whens), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]);
}

#[test]
fn on_the_ground_the_day_decides_and_on_an_excursion_it_does_not() {
    let on = |phase, text: &str, entry| When {
        day: Some(day(text)),
        ..When::on(33, Some(1), phase, entry)
    };
    let ground = [
        on(Phase::BeforeLaunch, "2031-03-09", 1),
        on(Phase::BeforeLaunch, "2031-03-01", 2),
        When::on(33, None, Phase::BeforeLaunch, 0),
    ];
    assert_eq!(sorted(&ground), [2, 1, 0]);

    let outside = [on(Phase::During, "2031-03-09", 1), on(Phase::During, "2031-03-01", 2)];
    assert_eq!(sorted(&outside), [1, 2]);
}

#[test]
fn what_was_written_on_the_day_itself_is_ordered_by_the_hour() {
    let at = |day_text: &str, written: &str, entry| {
        let flights = [FlightDays { rank: 1, launch: None, landing: None, excursions: vec![] }];
        When::on_day(day(day_text), &flights, entry).written_at(Moment::read(written).unwrap())
    };
    let whens = [
        at("2031-03-09", "2031-03-09 15:00", 1),
        at("2031-03-09", "2031-03-09 09:00", 2),
        at("2031-03-09", "2031-04-01 08:00", 3),
        at("2031-03-08", "2031-03-08 23:00", 4),
    ];

    assert_eq!(sorted(&whens), [4, 3, 2, 1]);
}

#[test]
fn an_unplaced_event_stands_behind_the_placed_one_entered_last_before_it() {
    let whens = [
        When::on(35, Some(1), Phase::During, 10),
        When::on(33, Some(1), Phase::During, 20),
        When::undated(15),
        When::undated(25),
        When::undated(5),
    ];

    assert_eq!(sorted(&whens), [5, 20, 25, 10, 15]);
}

#[test]
fn an_unplaced_opening_comes_first_whenever_it_was_typed() {
    let late = event("T-1", When::undated(50), EventKind::Opened);
    let events = [tried("A-1", (33, 1), 1, Outcome::NotCompleted, None), late];

    assert_eq!(standing(&events).ordered, [1, 0]);
    assert!(standing(&events).undated);
    assert!(!standing(&events[..1]).undated);
}

#[test]
fn an_undated_ending_stands_where_it_was_entered() {
    let reopened = reopened("Y-1", 35, 20, 40);
    let ended_before =
        event("Z-1", When::undated(19), EventKind::Closure { kind: ClosureKind::Moot });
    let ended_after =
        event("Z-1", When::undated(21), EventKind::Closure { kind: ClosureKind::Moot });
    let first = tried("A-1", (33, 1), 10, Outcome::NotCompleted, None);

    assert!(standing(&[first.clone(), ended_before, reopened.clone()]).ended.is_none());
    assert!(standing(&[first, ended_after, reopened]).ended.is_some());
}

#[test]
fn a_date_alone_finds_its_place_among_the_flights() {
    let flights = [
        FlightDays {
            rank: 1,
            launch: Some(day("2031-03-01")),
            landing: Some(day("2031-03-20")),
            excursions: vec![(1, day("2031-03-05")), (2, day("2031-03-09"))],
        },
        FlightDays { rank: 2, launch: Some(day("2031-09-01")), landing: None, excursions: vec![] },
    ];
    let place = |text: &str| {
        let when = When::on_day(day(text), &flights, 7);
        assert_eq!((when.day, when.entry), (Some(day(text)), 7));
        (when.flight, when.excursion, when.phase)
    };

    assert_eq!(place("2031-02-01"), (Some(1), None, Phase::BeforeLaunch));
    assert_eq!(place("2031-03-01"), (Some(1), None, Phase::BeforeEgress));
    assert_eq!(place("2031-03-05"), (Some(1), Some(1), Phase::After));
    assert_eq!(place("2031-03-08"), (Some(1), Some(1), Phase::After));
    assert_eq!(place("2031-03-20"), (Some(1), Some(2), Phase::After));
    assert_eq!(place("2031-03-21"), (Some(2), None, Phase::BeforeLaunch));
    assert_eq!(place("2032-01-01"), (Some(2), None, Phase::BeforeEgress));
    assert_eq!(When::on_day(day("2031-03-25"), &flights[..1], 7).phase, Phase::After);
    assert!(When::on_day(day("2031-03-25"), &[], 7).is_placed());
}
