//! Rule 8: an aid that comes in takes its routes away from everything later.

use std::collections::BTreeSet;

use super::*;

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

fn slot(code: &str, at: Spot, worksite: &str) -> LaterSlot {
    let (airlock, worksite) = ("W-LOCK".into(), worksite.into());
    LaterSlot { slot: code.into(), task: "T-1".into(), at, airlock, worksite }
}

fn lost(ways: &[Way], slots: &[LaterSlot]) -> Vec<String> {
    let at = spot(37, 1, Some(2));
    let in_place = BTreeSet::from(["O-1".into()]);
    let lost = ways_lost(&"O-1".into(), &at, ways, &in_place, slots);
    lost.into_iter().map(|lost| lost.slot.to_string()).collect()
}

#[test]
fn a_later_slot_beyond_the_route_loses_its_way() {
    let slots = [
        slot("S-1", spot(37, 2, None), "W-B"),
        slot("S-2", spot(38, 1, None), "W-C"),
        slot("S-3", spot(38, 1, None), "W-A"),
        slot("S-4", spot(36, 1, None), "W-B"),
        slot("S-5", spot(37, 1, Some(1)), "W-B"),
        slot("S-6", spot(37, 1, Some(3)), "W-B"),
    ];

    assert_eq!(lost(&ways(), &slots), ["S-1", "S-2", "S-6"]);
}

#[test]
fn another_way_round_keeps_it() {
    let mut round = ways();
    round.push(way("Q-4", "W-C", "W-LOCK", None));

    assert_eq!(lost(&round, &[slot("S-1", spot(38, 1, None), "W-B")]), Vec::<String>::new());
}

#[test]
fn a_way_that_needs_another_missing_aid_is_no_way() {
    let mut round = ways();
    round.push(way("Q-4", "W-C", "W-LOCK", Some("O-2")));

    assert_eq!(lost(&round, &[slot("S-1", spot(38, 1, None), "W-B")]), ["S-1"]);
}

#[test]
fn a_place_that_had_no_way_before_does_not_lose_one() {
    assert_eq!(lost(&ways(), &[slot("S-1", spot(38, 1, None), "W-NOWHERE")]), Vec::<String>::new());
}

#[test]
fn the_warning_names_route_slot_and_place() {
    let slots = [slot("S-1", spot(38, 1, None), "W-B")];
    let at = spot(37, 1, None);

    let lost = ways_lost(&"O-1".into(), &at, &ways(), &BTreeSet::new(), &slots);

    let said = lost[0].to_string();
    for code in ["O-1", "Q-2", "S-1", "W-B"] {
        assert!(said.contains(code), "{said}");
    }
}

#[test]
fn an_aid_is_in_place_until_the_slot_that_brings_it_in() {
    let aids = [
        Aid { item: "O-1".into(), in_place: true, brought_back_by: Some("T-9".into()) },
        Aid { item: "O-2".into(), in_place: false, brought_back_by: None },
        Aid { item: "O-3".into(), in_place: true, brought_back_by: None },
    ];
    let bringing = |at: Spot| [Bringing { aid: "O-1".into(), task: "T-9".into(), at }];
    let at = spot(37, 2, Some(2));
    let has = |bringings: &[Bringing]| {
        let all = in_place_at(&at, &aids, bringings);
        assert!(all.contains(&"O-3".into()) && !all.contains(&"O-2".into()));
        all.contains(&"O-1".into())
    };

    assert!(has(&[]));
    assert!(!has(&bringing(spot(37, 1, None))));
    assert!(!has(&bringing(spot(37, 2, Some(1)))));
    assert!(has(&bringing(spot(37, 2, Some(3)))));
    assert!(has(&bringing(spot(38, 1, None))));
    let somewhere = spot(37, 2, None);
    let own = in_place_at(&somewhere, &aids, &bringing(somewhere.clone()));
    assert!(own.contains(&"O-1".into()), "the task that brings it in walks out along it");
}
