//! How much time an excursion has left before its limit. Every page that shows it asks here, so
//! that one figure stands everywhere and says which plan it belongs to.

use crate::places::{ApproachAt, ExcursionAt, SlotAt, TaskAt};
use std::borrow::Cow;
use typed_index_collections::TiVec;

use super::constants::Constants;
use super::judge::{Ask, one_cell};
use super::planned::{counted, end_p80};
use super::ready::Ready;
use super::snapshot::{Excursion, Fallback, Slot, Snapshot};
use super::verdict::Place;
use super::{Counting, Timing};
use crate::timeline::Lanes;

/// Minutes by which two plans with the same end may differ, since each is timed in draws of its
/// own. A pencilled task that makes the end earlier by more, as one that brings in a shorter
/// route, does so.
const SAMPLING: f64 = 2.0;

/// Minutes from the P80 end of an excursion to its limit, below nought where it ends past it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Room {
    /// With the set tasks alone; `None` where they cannot be timed or no limit is known.
    pub set_only: Option<f64>,
    /// With the pencilled tasks too.
    pub with_pencilled: Option<f64>,
    /// How many tasks are pencilled.
    pub pencilled: usize,
}

/// A task in its place on an excursion, where it is not yet.
#[derive(Debug, Clone)]
pub struct Added {
    pub excursion: ExcursionAt,
    pub task: TaskAt,
    pub approach: Option<ApproachAt>,
    pub share: Option<f64>,
    pub place: Place,
}

/// The room on every coming excursion.
pub fn rooms(snapshot: &Snapshot, constants: &Constants) -> TiVec<ExcursionAt, Room> {
    let all = snapshot.excursions.keys();
    let seated = all.clone().fold(Cow::Borrowed(snapshot), |so_far, at| {
        let more = match seated(&so_far, at, constants) {
            Cow::Borrowed(_) => None,
            Cow::Owned(more) => Some(more),
        };
        more.map_or(so_far, Cow::Owned)
    });
    let ready = Ready::new(&seated, constants);
    all.map(|at| room_of(&ready, at)).collect()
}

/// The room on one of them.
pub fn room(snapshot: &Snapshot, excursion: ExcursionAt, constants: &Constants) -> Room {
    let seated = seated(snapshot, excursion, constants);
    room_of(&Ready::new(&seated, constants), excursion)
}

fn room_of(ready: &Ready, excursion: ExcursionAt) -> Room {
    let pencilled = ready.snapshot.excursions[excursion].slots.iter().filter(|s| !s.set).count();
    let left = |counting| {
        let slots = counted(&ready.snapshot.excursions[excursion], counting);
        left_in(ready, excursion, slots)
    };
    let (set_only, with_pencilled) = (left(Counting::Set), left(Counting::SetAndPencilled));
    let with_pencilled = match (set_only, with_pencilled) {
        (Some(set), Some(with)) if with - set <= SAMPLING => Some(with.min(set)),
        _ => with_pencilled,
    };
    Room { set_only, with_pencilled, pencilled }
}

/// What those slots of an excursion leave before its limit at P80.
fn left_in(ready: &Ready, excursion: ExcursionAt, slots: Vec<SlotAt>) -> Option<f64> {
    let limit = ready.snapshot.excursions[excursion].limit?;
    Some(before(limit, end_p80(ready, excursion, slots)?))
}

/// The minutes from the P80 end to the limit.
pub fn left(excursion: &Excursion, timing: &Timing) -> Option<f64> {
    Some(before(excursion.limit?, timing.end_p80))
}

fn before(limit: f64, end_p80: f64) -> f64 {
    limit - end_p80.ceil()
}

/// What each of these would leave, with the set tasks and itself alone: the figure that `room`
/// gives once it is set there.
pub fn left_with(snapshot: &Snapshot, constants: &Constants, all: &[Added]) -> Vec<Option<f64>> {
    let mut extended = snapshot.clone();
    let mut add = |added: &Added| -> SlotAt {
        let here = &mut extended.excursions[added.excursion];
        let slot = Slot {
            task: added.task,
            set: false,
            approach: added.approach,
            fallbacks: fallbacks(here, added.task),
            seats: seats(here, added.place.lanes),
            share: added.share,
            begin: added.place.begin,
            ..Slot::default()
        };
        here.slots.push_and_get_key(slot)
    };
    let placed: Vec<SlotAt> = all.iter().map(&mut add).collect();
    let ready = Ready::new(&extended, constants);
    let of = |(added, slot): (&Added, SlotAt)| {
        let here = &extended.excursions[added.excursion];
        let mut slots = counted(here, Counting::Set);
        slots.retain(|&other| here.slots[other].task != added.task);
        let at = slots.iter().position(|&other| other >= added.place.before_slot);
        slots.insert(at.unwrap_or(slots.len()), slot);
        left_in(&ready, added.excursion, slots)
    };
    all.iter().zip(placed).map(of).collect()
}

fn seats(excursion: &Excursion, lanes: Lanes) -> Vec<u8> {
    lanes.each().filter_map(|lane| excursion.seats.get(lane).copied()).collect()
}

/// The snapshot with seats for every pencilled slot of an excursion that has none: those that the
/// search finds for it beside what is set and the other pencilled slots.
pub fn seated<'s>(
    snapshot: &'s Snapshot,
    excursion: ExcursionAt,
    constants: &Constants,
) -> Cow<'s, Snapshot> {
    let slots = &snapshot.excursions[excursion].slots;
    if slots.iter().all(|slot| slot.set || !slot.seats.is_empty()) {
        return Cow::Borrowed(snapshot);
    }
    let mut counted = pencils_counted(snapshot, excursion);
    let mut seated = snapshot.clone();
    for (at, slot) in slots.iter_enumerated().filter(|(_, slot)| slot.seats.is_empty()) {
        let ask = Ask {
            approach: slot.approach,
            share: slot.share,
            begin: slot.begin,
            afresh: true,
            ..Ask::default()
        };
        let cell = one_cell(&counted, constants, slot.task, excursion, &ask).cell;
        let Some(place) = cell.place.filter(|_| !slot.set) else { continue };
        let seats = seats(&snapshot.excursions[excursion], place.lanes);
        let known = &mut counted.excursions[excursion].slots[at];
        (known.set, known.seats, known.begin) = (true, seats.clone(), place.begin);
        let shown = &mut seated.excursions[excursion].slots[at];
        (shown.seats, shown.begin) = (seats, place.begin);
    }
    Cow::Owned(seated)
}

/// The best place for a task beside everything that stands on an excursion, pencilled tasks too.
pub fn place_beside_pencilled(
    snapshot: &Snapshot,
    constants: &Constants,
    task: TaskAt,
    excursion: ExcursionAt,
    ask: &Ask,
) -> Option<Place> {
    let seated = seated(snapshot, excursion, constants);
    let mut counted = pencils_counted(&seated, excursion);
    if let Some(own) = counted.excursions[excursion].slots.iter_mut().find(|s| s.task == task) {
        own.set = snapshot.excursions[excursion].slots.iter().any(|s| s.task == task && s.set);
    }
    one_cell(&counted, constants, task, excursion, ask).cell.place
}

/// The snapshot in which the pencilled slots of an excursion that have seats count as set ones do.
fn pencils_counted(snapshot: &Snapshot, excursion: ExcursionAt) -> Snapshot {
    let mut counted = snapshot.clone();
    for slot in &mut counted.excursions[excursion].slots {
        slot.set |= !slot.seats.is_empty();
    }
    counted
}

/// What the slot of a task there plans to do where its approach does not work.
fn fallbacks(here: &Excursion, task: TaskAt) -> Vec<Fallback> {
    let own = here.slots.iter().find(|slot| slot.task == task);
    own.map_or_else(Vec::new, |slot| slot.fallbacks.clone())
}
