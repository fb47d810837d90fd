//! Rule 8: an aid that comes in takes its routes away from everything later.

use super::*;
use crate::order_of_work::ways::in_place_for;

fn way(route: &str, from: &str, to: &str, aid: Option<&str>) -> Way {
    Way { route: route.into(), from: from.into(), to: to.into(), aid: aid.map(Into::into) }
}

/// Lock - A - B, the second stretch along the rope `O-1`; and C beyond B.
fn ways() -> Vec<Way> {
    vec![
        way("Q-1", "W-LOCK", "W-A", None),
        way("Q-2", "W-B", "W-A", Some("O-1")),
        way("Q-3", "W-B", "W-C", None),
    ]
}

fn slot(code: &str, at: PlaceInOrder, worksite: &str) -> LaterSlot {
    let (airlock, worksite) = ("W-LOCK".into(), worksite.into());
    LaterSlot { slot: code.into(), task: "T-1".into(), at, airlock, worksite }
}

fn bringing(aid: &str, at: PlaceInOrder, is_set: bool) -> Bringing {
    Bringing { aid: aid.into(), slot: format!("S-{aid}").into(), task: "T-9".into(), at, is_set }
}

fn aid(item: &str, in_place: bool) -> Aid {
    Aid { item: item.into(), in_place }
}

fn plan(ways: Vec<Way>, bringings: Vec<Bringing>, slots: Vec<LaterSlot>) -> Plan {
    Plan { ways, aids: vec![aid("O-1", true), aid("O-2", true)], bringings, slots }
}

fn slots_of(lost: &[LostWay]) -> Vec<&str> {
    lost.iter().map(|lost| lost.slot.slot.as_str()).collect()
}

/// The slots that lose their way by the rope, brought in as the second of E-37.1.
fn lost(ways: Vec<Way>, slots: Vec<LaterSlot>) -> Vec<String> {
    let by = bringing("O-1", spot(37, 1, Some(2)), true);
    let plan = plan(ways, vec![by], slots);
    slots_of(&plan.lost()).into_iter().map(str::to_owned).collect()
}

#[test]
fn a_later_slot_beyond_the_route_loses_its_way() {
    let slots = vec![
        slot("S-1", spot(37, 2, None), "W-B"),
        slot("S-2", spot(38, 1, None), "W-C"),
        slot("S-3", spot(38, 1, None), "W-A"),
        slot("S-4", spot(36, 1, None), "W-B"),
        slot("S-5", spot(37, 1, Some(1)), "W-B"),
        slot("S-6", spot(37, 1, Some(3)), "W-B"),
    ];

    assert_eq!(lost(ways(), slots), ["S-1", "S-2", "S-6"]);
}

#[test]
fn another_way_round_keeps_it() {
    let mut round = ways();
    round.push(way("Q-4", "W-C", "W-LOCK", None));

    assert_eq!(lost(round, vec![slot("S-1", spot(38, 1, None), "W-B")]), Vec::<String>::new());
}

#[test]
fn a_way_round_that_needs_a_missing_aid_is_no_way() {
    let mut round = ways();
    round.push(way("Q-4", "W-C", "W-LOCK", Some("O-3")));

    assert_eq!(lost(round, vec![slot("S-1", spot(38, 1, None), "W-B")]), ["S-1"]);
}

#[test]
fn a_place_that_had_no_way_before_does_not_lose_one() {
    let nowhere = vec![slot("S-1", spot(38, 1, None), "W-NOWHERE")];

    assert_eq!(lost(ways(), nowhere), Vec::<String>::new());
}

#[test]
fn where_two_aids_lead_there_the_one_that_comes_in_last_takes_the_way() {
    let mut round = ways();
    round.push(way("Q-4", "W-C", "W-LOCK", Some("O-2")));
    let slots = vec![slot("S-1", spot(38, 1, None), "W-B")];
    let first = bringing("O-1", spot(37, 1, None), true);
    let second = bringing("O-2", spot(37, 2, None), false);

    let one = plan(round.clone(), vec![first.clone()], slots.clone());
    assert!(one.lost().is_empty(), "the other leads there still");

    let both = plan(round, vec![first, second], slots);
    let taken: Vec<_> = both.lost().into_iter().map(|lost| lost.aid.to_string()).collect();
    assert_eq!(taken, ["O-2"], "a pencil comes on top of what is set, and not the other way round");
}

#[test]
fn where_the_way_needs_both_aids_each_takes_it() {
    let mut chain = ways();
    chain[2].aid = Some("O-2".into());
    let by = |aid| bringing(aid, spot(37, 1, None), true);
    let plan = plan(chain, vec![by("O-1"), by("O-2")], vec![slot("S-1", spot(38, 1, None), "W-C")]);

    let taken: Vec<_> = plan.lost().into_iter().map(|lost| lost.aid.to_string()).collect();
    assert_eq!(taken, ["O-1", "O-2"]);
}

#[test]
fn an_aid_that_is_gone_is_missed_by_every_set_slot_beyond_it() {
    let slots = vec![
        slot("S-1", spot(37, 1, Some(1)), "W-B"),
        slot("S-2", spot(38, 1, None), "W-C"),
        slot("S-3", spot(38, 1, None), "W-A"),
    ];
    let mut plan = plan(ways(), Vec::new(), slots);
    assert!(plan.lost().is_empty());
    assert_eq!(slots_of(&plan.lost_now(&"O-1".into())), ["S-1", "S-2"]);
    assert!(plan.lost_now(&"O-2".into()).is_empty());

    plan.aids[0].in_place = false;
    let lost = plan.lost();
    assert_eq!(slots_of(&lost), ["S-1", "S-2"]);
    assert!(lost.iter().all(|lost| lost.taking == Taking::Gone));
}

#[test]
fn the_warning_names_aid_route_slot_excursion_and_place_and_who_takes_it() {
    let slots = vec![slot("S-1", spot(38, 1, None), "W-B")];
    let by = bringing("O-1", spot(37, 1, None), false);
    let plan = plan(ways(), vec![by], slots);

    let lost = plan.lost().remove(0);
    let said = lost.to_string();
    for words in
        ["S-O-1 (T-9), pencilled on E-37.1", "O-1", "Q-2", "S-1", "E-38.1", "W-LOCK", "W-B"]
    {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(lost.is_on(&"E-37.1".into()) && lost.is_on(&"E-38.1".into()));
    assert!(!lost.is_on(&"E-37.2".into()));
    let now = plan.lost_now(&"O-1".into()).remove(0).to_string();
    assert!(now.starts_with("Bringing O-1 in now removes the route Q-2: S-1 (T-1)"), "{now}");
}

#[test]
fn an_aid_is_in_place_until_the_slot_that_brings_it_in() {
    let aids = [aid("O-1", true), aid("O-2", false), aid("O-3", true)];
    let bringing = |at: PlaceInOrder| [bringing("O-1", at, true)];
    let there = slot("S-1", spot(37, 2, Some(2)), "W-B");
    let has = |bringings: &[Bringing]| {
        let all = in_place_for(&there, &aids, bringings);
        assert!(all.contains(&"O-3".into()) && !all.contains(&"O-2".into()));
        all.contains(&"O-1".into())
    };

    assert!(has(&[]));
    assert!(!has(&bringing(spot(37, 1, None))));
    assert!(!has(&bringing(spot(37, 2, Some(1)))));
    assert!(has(&bringing(spot(37, 2, Some(3)))));
    assert!(has(&bringing(spot(38, 1, None))));
    let somewhere = spot(37, 2, None);
    let own = slot("S-O-1", somewhere.clone(), "W-B");
    let own = in_place_for(&own, &aids, &bringing(somewhere));
    assert!(own.contains(&"O-1".into()), "the task that brings it in walks out along it");
}

#[test]
fn on_one_excursion_the_minute_decides_and_not_the_order_of_the_slots() {
    // In the order of the slots S-1 is worked before the rope comes in.
    let by = bringing("O-1", spot(37, 1, Some(2)), true);
    let later = slot("S-1", spot(37, 1, Some(1)), "W-B");
    let other = slot("S-2", spot(37, 1, Some(3)), "W-A");
    let mut plan = plan(ways(), vec![by], vec![later, other]);
    assert!(plan.lost().is_empty());
    assert_eq!(plan.where_the_minute_decides(), ["E-37.1".into()].into());

    // The rope is in at 0:45; S-1 is left at 3:30.
    plan.put_at(&"S-O-1".into(), 45, 60);
    plan.put_at(&"S-1".into(), 200, 210);
    plan.put_at(&"S-2".into(), 300, 310);
    assert_eq!(slots_of(&plan.lost()), ["S-1"]);

    // It is left before the rope comes in at 4:00, whatever the order says.
    plan.put_at(&"S-O-1".into(), 240, 250);
    assert!(plan.lost().is_empty());
    // The way back needs the rope as well.
    plan.put_at(&"S-1".into(), 235, 245);
    assert_eq!(slots_of(&plan.lost()), ["S-1"]);

    plan.slots.retain(|slot| slot.worksite == "W-A".into());
    assert!(plan.where_the_minute_decides().is_empty(), "nobody needs the rope");
}
