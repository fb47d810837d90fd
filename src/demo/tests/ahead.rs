//! The slots that are set on coming excursions: a rough check, apart from the gates themselves,
//! that each can be set.

use std::collections::BTreeMap;

use super::{all, by_code, day_of, has_ended};
use domain::attempts::Attempt;
use domain::excursions::Excursion;
use domain::findings::{Cause, Remedy};
use domain::flights::Flight;
use domain::records::Record;
use domain::slots::Slot;
use domain::tasks::{Link, Task};
use domain::techniques::Technique;
use domain::tools::Tool;
use domain::words::{
    ExcursionState, LinkKind, Outcome, RemedyState, Scope, SlotState, TechniqueState, ToolState,
};
use domain::worksites::{Route, Worksite};

fn set_ahead() -> Vec<(Slot, Excursion)> {
    let excursions = by_code::<Excursion>();
    all::<Slot>()
        .into_iter()
        .filter(|slot| slot.state == SlotState::Set)
        .map(|slot| (excursions[slot.excursion.as_str()].clone(), slot))
        .filter(|(excursion, _)| excursion.state == Some(ExcursionState::Planned))
        .map(|(excursion, slot)| (slot, excursion))
        .collect()
}

fn shortest() -> BTreeMap<(String, String), i64> {
    let sites: Vec<String> = all::<Worksite>().iter().map(|w| w.code().to_owned()).collect();
    let mut way: BTreeMap<(String, String), i64> =
        sites.iter().map(|site| ((site.clone(), site.clone()), 0)).collect();
    for route in all::<Route>() {
        let (from, to) = (route.from_site.to_string(), route.to_site.to_string());
        way.insert((to.clone(), from.clone()), route.minutes_back.unwrap_or(route.minutes).0);
        way.insert((from, to), route.minutes.0);
    }
    for over in &sites {
        for from in &sites {
            for to in &sites {
                let legs =
                    (way.get(&(from.clone(), over.clone())), way.get(&(over.clone(), to.clone())));
                let (Some(there), Some(on)) = legs else { continue };
                let sum = there + on;
                let best = way.entry((from.clone(), to.clone())).or_insert(sum);
                *best = sum.min(*best);
            }
        }
    }
    way
}

#[test]
fn every_worksite_can_be_reached() {
    let way = shortest();
    for site in all::<Worksite>() {
        assert!(
            way.contains_key(&("W-LOCK".to_owned(), site.code().to_owned())),
            "{}",
            site.code()
        );
    }
}

/// Means alone: a lane that ends inside the limit at the mean has a chance of at least half.
#[test]
fn the_lanes_end_inside_the_limit() {
    let (way, tasks, sites) = (shortest(), by_code::<Task>(), by_code::<Worksite>());
    let mut lanes: BTreeMap<(String, u8), (f64, String)> = BTreeMap::new();
    let mut set = set_ahead();
    set.sort_by_key(|(slot, _)| (slot.excursion.clone(), slot.place));
    assert!(set.len() >= 10, "{}", set.len());
    for (slot, excursion) in &set {
        let task = &tasks[slot.task.as_str()];
        let site = task.worksite.as_ref().unwrap().to_string();
        let (a, m, b) = (task.optimistic.unwrap(), task.likely.unwrap(), task.pessimistic.unwrap());
        let share = slot.share.map_or(100, |share| share.0);
        #[expect(clippy::cast_precision_loss, reason = "minutes and shares are small")]
        let work = ((a.0 + 4 * m.0 + b.0) as f64 / 6.0) * share as f64 / 100.0;
        let begin = |lanes: &BTreeMap<_, (f64, String)>, seat: u8| {
            let start = (
                f64::from(i32::try_from(excursion.egress.unwrap().0).unwrap()),
                "W-LOCK".to_owned(),
            );
            let (at, from) =
                lanes.get(&(excursion.code().to_owned(), seat)).cloned().unwrap_or(start);
            at + f64::from(i32::try_from(way[&(from, site.clone())]).unwrap())
        };
        let start = slot.seats.numbers().map(|seat| begin(&lanes, seat)).fold(0.0, f64::max);
        let around = sites[&site].setup.unwrap().0 + sites[&site].cleanup.unwrap().0;
        let end = start + work + f64::from(i32::try_from(around).unwrap());
        for seat in slot.seats.numbers() {
            lanes.insert((excursion.code().to_owned(), seat), (end, site.clone()));
        }
        let home = way[&(site, "W-LOCK".to_owned())] + excursion.ingress.unwrap().0;
        let back = end + f64::from(i32::try_from(home).unwrap());
        assert!(
            back <= f64::from(i32::try_from(excursion.limit.unwrap().0).unwrap()),
            "{}",
            slot.code()
        );
    }
}

#[test]
fn seats_and_tools_are_there_by_then() {
    let (techniques, tools, flights) =
        (by_code::<Technique>(), by_code::<Tool>(), by_code::<Flight>());
    let tasks = by_code::<Task>();
    for (slot, excursion) in set_ahead() {
        assert!(slot.seats.0.len() <= excursion.seats.0.len());
        let takes = tasks[slot.task.as_str()].seats.unwrap();
        assert_eq!(i64::try_from(slot.seats.0.len()).unwrap(), takes, "{}", slot.code());
        let technique = &techniques[slot.technique.as_ref().unwrap().as_str()];
        assert_ne!(technique.state, TechniqueState::Withdrawn, "{}", slot.code());
        let launch = flights[excursion.flight.as_ref().unwrap().as_str()].launch;
        for tool in technique.tools.iter().map(|tool| &tools[tool.as_str()]) {
            let comes = tool.arrives_with.as_ref().map(|flight| flights[flight.as_str()].launch);
            let aboard = tool.on_board.unwrap_or(0) > 0 || comes.is_some_and(|day| day <= launch);
            assert!(aboard && tool.state == ToolState::Usable, "{}: {}", slot.code(), tool.code());
        }
    }
}

#[test]
fn what_is_needed_is_done_or_set_no_later() {
    let (excursions, set) = (by_code::<Excursion>(), set_ahead());
    for (slot, excursion) in &set {
        for link in
            all::<Link>().iter().filter(|l| l.kind == LinkKind::Needs && l.task == slot.task)
        {
            let earlier =
                set.iter().any(|(other, on)| other.task == link.other && on.day <= excursion.day);
            assert!(has_ended(&link.other, &excursions) || earlier, "{}", slot.code());
        }
    }
}

#[test]
fn no_approach_that_failed_here_is_set_again_without_a_waiver() {
    let (causes, remedies, excursions) =
        (by_code::<Cause>(), all::<Remedy>(), by_code::<Excursion>());
    let mut waived = 0;
    for (slot, _) in set_ahead() {
        let again: Vec<Attempt> = all::<Attempt>()
            .into_iter()
            .filter(|a| a.task == slot.task && a.technique == slot.technique && a.side == slot.side)
            .filter(|a| matches!(a.outcome, Outcome::NotCompleted | Outcome::PartDone))
            .filter(|a| {
                let scope = a.cause.as_ref().map(|cause| causes[cause.as_str()].scope);
                matches!(scope, Some(Scope::Approach | Scope::Hardware))
            })
            .filter(|a| {
                !remedies
                    .iter()
                    .any(|r| r.state == RemedyState::Verified && r.attempts.contains(&a.code.0))
            })
            .collect();
        assert_eq!(again.is_empty(), slot.waiver.is_none(), "{}", slot.code());
        assert!(slot.waiver.is_none() || slot.waived_gate.is_some());
        waived += usize::from(slot.waiver.is_some());
    }
    assert_eq!(waived, 1);
    assert!(all::<Attempt>().iter().all(|a| day_of(&excursions, &a.excursion) < super::today()));
}

#[test]
fn the_cassette_that_jammed_twice_can_be_set_from_starboard_alone() {
    let tries: Vec<Attempt> =
        all::<Attempt>().into_iter().filter(|a| a.task.as_str() == "T-0142").collect();
    assert_eq!(tries.len(), 2);
    assert!(tries.iter().all(|a| a.side.as_ref().unwrap().as_str() == "nadir"));
    assert!(tries.iter().all(|a| a.outcome == Outcome::NotCompleted));
    let answered = |a: &Attempt| {
        all::<Remedy>()
            .iter()
            .any(|r| r.state == RemedyState::Verified && r.attempts.contains(&a.code.0))
    };
    assert!(!tries.iter().any(answered));
    let live = |s: &&Slot| matches!(s.state, SlotState::Pencilled | SlotState::Set);
    let held = all::<Slot>();
    let held = held.iter().filter(live).find(|slot| slot.task.as_str() == "T-0142");
    assert!(held.is_none(), "the person who reads the demo sets it");
}
