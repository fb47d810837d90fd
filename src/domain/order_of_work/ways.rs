//! Routes that need an aid from the outside list: bringing the aid in takes them away from
//! everything later.

use std::collections::BTreeSet;

use super::PlaceInOrder;
use crate::codes::{ExcursionCode, OutsideCode, RouteCode, SlotCode, TaskCode, WorksiteCode};

/// A route as far as it can be walked at all; both directions go along it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    pub route: RouteCode,
    pub from: WorksiteCode,
    pub to: WorksiteCode,
    pub aid: Option<OutsideCode>,
}

/// One item of the outside list that some route needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Aid {
    pub item: OutsideCode,
    /// In place now.
    pub in_place: bool,
}

/// A slot of the task that brings an aid back in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bringing {
    pub aid: OutsideCode,
    pub slot: SlotCode,
    pub task: TaskCode,
    /// When its work has ended, and the aid is in.
    pub at: PlaceInOrder,
    /// Set for good; a pencil only might bring it in.
    pub is_set: bool,
}

/// A set slot that needs its way from the airlock and back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaterSlot {
    pub slot: SlotCode,
    pub task: TaskCode,
    /// When its seats have left its worksite again, for which they need the aids too.
    pub at: PlaceInOrder,
    pub airlock: WorksiteCode,
    pub worksite: WorksiteCode,
}

/// How an aid comes to be in place no more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Taking {
    /// If it came in now, before everything that is set.
    Now,
    /// By a slot of the task that brings it back in.
    By(Bringing),
    /// It was brought in, or lost.
    Gone,
}

/// A set slot that an aid's leaving cuts off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LostWay {
    pub taking: Taking,
    pub aid: OutsideCode,
    /// The routes that go with the aid.
    pub routes: Vec<RouteCode>,
    pub slot: LaterSlot,
}

impl LostWay {
    /// The same slot loses its way by the same aid and the same slot, wherever they stand now.
    pub fn is_same(&self, other: &Self) -> bool {
        self.aid == other.aid
            && self.slot.slot == other.slot.slot
            && self.taken_by() == other.taken_by()
    }

    /// The slot that brings the aid in; none where it is gone, or would come in now.
    pub(crate) fn taken_by(&self) -> Option<&SlotCode> {
        match &self.taking {
            Taking::By(by) => Some(&by.slot),
            Taking::Now | Taking::Gone => None,
        }
    }

    /// It is taken or lost on this excursion.
    pub fn is_on(&self, excursion: &ExcursionCode) -> bool {
        let taken_here = matches!(&self.taking, Taking::By(by) if by.at.excursion == *excursion);
        taken_here || self.slot.at.excursion == *excursion
    }
}

impl std::fmt::Display for LostWay {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let routes = self.routes.iter().map(RouteCode::as_str).collect::<Vec<_>>().join(", ");
        let routes = match self.routes.len() {
            1 => format!("the route {routes}"),
            _ => format!("the routes {routes}"),
        };
        let LaterSlot { slot, task, at, airlock, worksite } = &self.slot;
        let (aid, on) = (&self.aid, &at.excursion);
        let way = format!("translation path from {airlock} to {worksite}");
        match &self.taking {
            Taking::Now => write!(
                f,
                "Bringing {aid} in now removes {routes}: {slot} ({task}), set on {on}, would have no {way}. Bring it in later, or move that slot."
            ),
            Taking::By(by) => {
                let held = if by.is_set { "set" } else { "pencilled" };
                write!(
                    f,
                    "{} ({}), {held} on {}, brings {aid} in and removes {routes}: {slot} ({task}), set on {on}, would have no {way}. Bring it in later, or move that slot.",
                    by.slot, by.task, by.at.excursion
                )
            }
            Taking::Gone => write!(
                f,
                "{aid} is not in place any more, and {routes} with it: {slot} ({task}), set on {on}, has no {way}. Put it out again, or move that slot."
            ),
        }
    }
}

/// Everything that the ways of the set slots hang on.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    pub ways: Vec<Way>,
    pub aids: Vec<Aid>,
    pub bringings: Vec<Bringing>,
    pub slots: Vec<LaterSlot>,
}

impl Plan {
    /// The set slots that lose their way as things stand: by a slot that brings an aid in before
    /// them, or because an aid is gone.
    pub fn lost(&self) -> Vec<LostWay> {
        let planned = self.bringings.iter().flat_map(|by| self.lost_by(by));
        let gone = self.aids.iter().filter(|aid| !aid.in_place);
        planned
            .chain(gone.flat_map(|aid| self.lost_from_the_start(&aid.item, &Taking::Gone)))
            .collect()
    }

    /// Those that would, if the aid came in now.
    pub fn lost_now(&self, aid: &OutsideCode) -> Vec<LostWay> {
        self.lost_from_the_start(aid, &Taking::Now)
    }

    fn lost_by(&self, by: &Bringing) -> Vec<LostWay> {
        let set: Vec<Bringing> = self.bringings.iter().filter(|b| b.is_set).cloned().collect();
        let now = self.in_place_now();
        let behind = |slot: &&LaterSlot| slot.slot != by.slot && precedes(&by.at, &slot.at);
        let cut = |slot: &&LaterSlot| {
            let mut left = in_place_for(slot, &self.aids, &set);
            left.remove(&by.aid);
            if !self.reaches(slot, &now) || self.reaches(slot, &left) {
                return false;
            }
            // Where several aids come in, each one counts that alone would make the difference.
            let mut all_but_it = now.clone();
            all_but_it.remove(&by.aid);
            left.insert(by.aid.clone());
            self.reaches(slot, &left) || !self.reaches(slot, &all_but_it)
        };
        let lost = self.slots.iter().filter(behind).filter(cut);
        lost.map(|slot| self.loss(&Taking::By(by.clone()), &by.aid, slot)).collect()
    }

    /// The excursions on which the minute decides: an aid comes in there, and another set slot needs
    /// an aid.
    pub fn where_the_minute_decides(&self) -> BTreeSet<ExcursionCode> {
        let now = self.in_place_now();
        let leans =
            |slot: &&LaterSlot| self.reaches(slot, &now) && !self.reaches(slot, &BTreeSet::new());
        let beside = |slot: &LaterSlot, by: &Bringing| {
            slot.slot != by.slot && slot.at.is_same_excursion(&by.at)
        };
        self.slots
            .iter()
            .filter(leans)
            .filter(|slot| self.bringings.iter().any(|by| beside(slot, by)))
            .map(|slot| slot.at.excursion.clone())
            .collect()
    }

    /// Whether only a pencil brings an aid in there.
    pub fn is_brought_in_by_a_pencil(&self, excursion: &ExcursionCode) -> bool {
        self.bringings.iter().any(|by| by.at.excursion == *excursion && !by.is_set)
    }

    /// Puts a slot at its minutes of elapsed time: when its work has ended, and when its seats have
    /// left its worksite.
    pub fn put_at(&mut self, code: &SlotCode, ended: i64, left: i64) {
        for by in self.bringings.iter_mut().filter(|by| by.slot == *code) {
            by.at.place = Some(ended);
        }
        for slot in self.slots.iter_mut().filter(|slot| slot.slot == *code) {
            slot.at.place = Some(left);
        }
    }

    fn lost_from_the_start(&self, aid: &OutsideCode, taking: &Taking) -> Vec<LostWay> {
        let mut without = self.in_place_now();
        without.remove(aid);
        let mut with = without.clone();
        with.insert(aid.clone());
        let cut = |slot: &&LaterSlot| self.reaches(slot, &with) && !self.reaches(slot, &without);
        self.slots.iter().filter(cut).map(|slot| self.loss(taking, aid, slot)).collect()
    }

    fn in_place_now(&self) -> BTreeSet<OutsideCode> {
        self.aids.iter().filter(|aid| aid.in_place).map(|aid| aid.item.clone()).collect()
    }

    fn reaches(&self, slot: &LaterSlot, in_place: &BTreeSet<OutsideCode>) -> bool {
        is_way(&slot.airlock, &slot.worksite, &self.ways, in_place)
    }

    fn loss(&self, taking: &Taking, aid: &OutsideCode, slot: &LaterSlot) -> LostWay {
        let along = self.ways.iter().filter(|way| way.aid.as_ref() == Some(aid));
        LostWay {
            taking: taking.clone(),
            aid: aid.clone(),
            routes: along.map(|way| way.route.clone()).collect(),
            slot: slot.clone(),
        }
    }
}

/// The aids that are in place for a slot if the plan is flown as set. The task that brings an aid in
/// still has it on its own way.
pub(super) fn in_place_for(
    slot: &LaterSlot,
    aids: &[Aid],
    bringings: &[Bringing],
) -> BTreeSet<OutsideCode> {
    aids.iter()
        .filter(|aid| aid.in_place)
        .map(|aid| aid.item.clone())
        .filter(|item| {
            let before = |b: &Bringing| b.slot != slot.slot && precedes(&b.at, &slot.at);
            !bringings.iter().any(|b| b.aid == *item && before(b))
        })
        .collect()
}

/// On one excursion with places unknown, either may come first: it is safer to warn.
fn precedes(earlier: &PlaceInOrder, later: &PlaceInOrder) -> bool {
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
