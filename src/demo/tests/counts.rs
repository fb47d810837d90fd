//! The size of the scenario, as the design states it.

use std::collections::{BTreeMap, BTreeSet};

use super::{all, by_code, has_ended};
use domain::attempts::Attempt;
use domain::excursions::Excursion;
use domain::families::Family;
use domain::findings::{Cause, Finding, Remedy};
use domain::flights::Flight;
use domain::outside::OutsideItem;
use domain::records::Record;
use domain::tasks::{Link, Task};
use domain::techniques::Technique;
use domain::tools::Tool;
use domain::words::{FlightState, LinkKind, Outcome, OutsideState, RemedyState, TechniqueState};
use domain::worksites::{Route, Worksite};

#[test]
fn there_is_as_much_of_everything_as_the_scenario_asks_for() {
    assert_eq!(all::<Flight>().len(), 9);
    assert_eq!(all::<Worksite>().len(), 16);
    assert_eq!(all::<Family>().len(), 12);
    assert_eq!(all::<Task>().len(), 70);
    assert_eq!(all::<Attempt>().len(), 130);
    assert_eq!(all::<Technique>().len(), 20);
    assert_eq!(all::<Tool>().len(), 25);
    assert_eq!(all::<OutsideItem>().len(), 12);
    assert_eq!(all::<Finding>().len(), 15);
    assert_eq!(all::<Cause>().len(), 26);
}

#[test]
fn about_forty_tasks_are_open_and_one_more_waits_to_be_triggered() {
    let excursions = by_code::<Excursion>();
    let open = all::<Task>().iter().filter(|task| !has_ended(&task.code.0, &excursions)).count();
    assert!((37..=42).contains(&open), "{open}");
    let waiting = all::<Link>().into_iter().filter(|link| link.kind == LinkKind::OnlyIf).count();
    assert_eq!(waiting, 1);
}

#[test]
fn six_flights_are_flown_each_with_two_to_four_excursions_the_last_mostly_deferrable() {
    let flights = all::<Flight>();
    assert_eq!(flights.iter().filter(|f| f.state == FlightState::Flown).count(), 6);
    let mut of_flight: BTreeMap<String, Vec<Excursion>> = BTreeMap::new();
    for excursion in all::<Excursion>() {
        of_flight.entry(excursion.flight.clone().unwrap().to_string()).or_default().push(excursion);
    }
    assert_eq!(of_flight.len(), 9);
    assert!(of_flight.values().all(|those| (2..=4).contains(&those.len())));
    let deferrable = of_flight.values().filter(|those| those.last().unwrap().deferrable).count();
    assert!(deferrable >= 6, "{deferrable}");
}

#[test]
fn every_state_is_met_somewhere() {
    let remedies: BTreeSet<RemedyState> = all::<Remedy>().iter().map(|r| r.state).collect();
    assert_eq!(remedies.len(), RemedyState::ALL.len());
    let outcomes: BTreeSet<Outcome> = all::<Attempt>().iter().map(|a| a.outcome).collect();
    assert_eq!(outcomes.len(), Outcome::ALL.len());
    let outside: BTreeSet<OutsideState> = all::<OutsideItem>().iter().map(|o| o.state).collect();
    assert_eq!(outside.len(), OutsideState::ALL.len());
    let techniques: BTreeSet<TechniqueState> = all::<Technique>().iter().map(|t| t.state).collect();
    assert_eq!(techniques.len(), TechniqueState::ALL.len());
}

#[test]
fn two_routes_need_an_aid_and_some_tools_are_still_to_come() {
    assert_eq!(all::<Route>().iter().filter(|route| route.aid.is_some()).count(), 2);
    let flights = by_code::<Flight>();
    let coming = all::<Tool>()
        .into_iter()
        .filter_map(|tool| tool.arrives_with)
        .filter(|flight| flights[flight.as_str()].state == FlightState::Coming)
        .count();
    assert!(coming >= 4, "{coming}");
}

#[test]
fn the_record_knows_failures_with_and_without_a_finding() {
    let told: BTreeSet<String> =
        all::<Finding>().iter().flat_map(|f| f.attempts.0.clone()).map(|a| a.to_string()).collect();
    let failed = all::<Attempt>();
    let failed = failed.iter().filter(|a| a.outcome == Outcome::NotCompleted);
    let (with, without): (Vec<_>, Vec<_>) = failed.partition(|a| told.contains(a.code()));
    assert!(with.len() > 20 && without.len() > 10, "{} and {}", with.len(), without.len());
}
