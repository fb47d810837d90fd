//! Routes that need an aid from the outside list: bringing the aid in takes them away from
//! everything later.

use std::collections::BTreeSet;

use super::Spot;
use crate::domain::codes::{OutsideCode, RouteCode, SlotCode, TaskCode, WorksiteCode};

/// A route as far as it can be walked at all; both directions go along it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    pub route: RouteCode,
    pub from: WorksiteCode,
    pub to: WorksiteCode,
    pub aid: Option<OutsideCode>,
}

/// One item of the outside list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Aid {
    pub item: OutsideCode,
    /// In place now.
    pub in_place: bool,
    /// The task that brings it back.
    pub brought_back_by: Option<TaskCode>,
}

/// A set slot of the task that brings an aid back in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bringing {
    pub aid: OutsideCode,
    pub task: TaskCode,
    pub at: Spot,
}

/// A set slot that needs its way from the airlock and back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaterSlot {
    pub slot: SlotCode,
    pub task: TaskCode,
    pub at: Spot,
    pub airlock: WorksiteCode,
    pub worksite: WorksiteCode,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LostWay {
    pub slot: SlotCode,
    pub task: TaskCode,
    pub worksite: WorksiteCode,
    pub aid: OutsideCode,
    /// The routes that go with the aid.
    pub routes: Vec<RouteCode>,
}

impl std::fmt::Display for LostWay {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let routes = self.routes.iter().map(RouteCode::as_str).collect::<Vec<_>>().join(", ");
        write!(
            f,
            "Bringing {} in takes the route {routes} away: {} ({}) would have no way to {}. Bring it in later, or move that slot.",
            self.aid, self.slot, self.task, self.worksite
        )
    }
}

/// The aids that will be in place when work at `at` begins, if the plan is flown as set. The task that
/// brings an aid in still has it on its own way.
pub fn in_place_at(at: &Spot, aids: &[Aid], bringings: &[Bringing]) -> BTreeSet<OutsideCode> {
    aids.iter()
        .filter(|aid| aid.in_place)
        .map(|aid| aid.item.clone())
        .filter(|item| {
            !bringings.iter().any(|b| b.aid == *item && b.at != *at && precedes(&b.at, at))
        })
        .collect()
}

/// The set slots that lose their way when `aid` comes in at `at`: those later than that whose worksite
/// can be reached from the airlock with the aid, and not without it.
pub fn ways_lost(
    aid: &OutsideCode,
    at: &Spot,
    ways: &[Way],
    in_place: &BTreeSet<OutsideCode>,
    slots: &[LaterSlot],
) -> Vec<LostWay> {
    let mut with = in_place.clone();
    with.insert(aid.clone());
    let mut without = with.clone();
    without.remove(aid);
    let routes: Vec<RouteCode> = ways
        .iter()
        .filter(|way| way.aid.as_ref() == Some(aid))
        .map(|way| way.route.clone())
        .collect();
    slots
        .iter()
        .filter(|slot| slot.at != *at && precedes(at, &slot.at))
        .filter(|slot| {
            is_way(&slot.airlock, &slot.worksite, ways, &with)
                && !is_way(&slot.airlock, &slot.worksite, ways, &without)
        })
        .map(|slot| LostWay {
            slot: slot.slot.clone(),
            task: slot.task.clone(),
            worksite: slot.worksite.clone(),
            aid: aid.clone(),
            routes: routes.clone(),
        })
        .collect()
}

/// On one excursion with places unknown, either may come first: it is safer to warn.
fn precedes(earlier: &Spot, later: &Spot) -> bool {
    earlier.can_precede(later)
}

fn is_way(
    from: &WorksiteCode,
    to: &WorksiteCode,
    ways: &[Way],
    in_place: &BTreeSet<OutsideCode>,
) -> bool {
    let open: Vec<&Way> = ways
        .iter()
        .filter(|way| way.aid.as_ref().is_none_or(|aid| in_place.contains(aid)))
        .collect();
    let mut reached = BTreeSet::from([from]);
    let mut next = vec![from];
    while let Some(here) = next.pop() {
        for way in &open {
            let there = if way.from == *here {
                &way.to
            } else if way.to == *here {
                &way.from
            } else {
                continue;
            };
            if reached.insert(there) {
                next.push(there);
            }
        }
    }
    reached.contains(to)
}
