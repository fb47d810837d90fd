//! From a task's events to its state, the share left, how often it was carried, and why it is open.

use std::collections::BTreeSet;

use super::so_far::SoFar;
use super::{
    AttemptEvent, DeferralEvent, Event, EventKind, Left, Place, SlotEvent, Visit, WhyOpen, places,
};
use crate::codes::{ExcursionCode, FlightCode, SlotCode};
use crate::units::Share;
use crate::words::{DeferralPhase, SlotState, TaskState};

/// How a task stands: all of it derived, none of it typed in.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    pub state: TaskState,
    /// Nothing is left once it is done.
    pub left: Left,
    /// Flown flights on which it had a set slot at launch and was not done at landing.
    pub carry_count: i64,
    pub deferred_before_launch: i64,
    /// `None` once it is done or dropped.
    pub why_open: Option<WhyOpen>,
    /// The event that ended it.
    pub ended: Option<String>,
    /// The last event that is neither its opening, a slot nor a move.
    pub last_event: Option<String>,
    /// The flight of the last attempt or deferral.
    pub last_flight: Option<FlightCode>,
    pub attempts: i64,
    pub failures: i64,
    /// The excursions that hold it with a set slot, in the order in which they were set.
    pub held_by: Vec<ExcursionCode>,
    /// Some event has no known place.
    pub undated: bool,
    /// Indices into the events, in the order in which they happened; pencils keep theirs.
    pub ordered: Vec<usize>,
}

/// Derives how a task stands from all its events, in whatever order they come.
pub fn standing(events: &[Event]) -> Standing {
    let placed = place(events);
    let mut ordered: Vec<usize> = (0..events.len()).collect();
    ordered.sort_by(|a, b| (placed[*a], &events[*a].code).cmp(&(placed[*b], &events[*b].code)));
    let results = results(events);
    let mut so_far = SoFar::default();
    let mut done_at: Vec<(Place, bool)> = Vec::with_capacity(events.len());
    for &index in &ordered {
        so_far.take(&events[index], &results);
        done_at.push((placed[index], so_far.done_by.is_some()));
    }
    let state = so_far.state();
    let ended = match state {
        TaskState::Dropped => so_far.dropped_by.clone(),
        TaskState::Done => so_far.done_by.clone(),
        TaskState::Parked | TaskState::Set | TaskState::PartDone | TaskState::Open => None,
    };
    let why_open = if state.is_open_item() { Some(so_far.why_open()) } else { None };
    let done_by_landing = |flight: i64| {
        let by = done_at.partition_point(|(place, _)| place.is_by_landing_of(flight));
        by.checked_sub(1).is_some_and(|last| done_at[last].1)
    };
    let carried = so_far.at_launch.iter().filter(|flight| !done_by_landing(**flight)).count();
    Standing {
        state,
        left: if so_far.done_by.is_some() {
            Left { most: Share::NONE, unknown_after: None }
        } else {
            so_far.left
        },
        carry_count: i64::try_from(carried).unwrap_or(i64::MAX),
        deferred_before_launch: so_far.deferred_before_launch,
        why_open,
        ended,
        last_event: so_far.last_event,
        last_flight: so_far.last_flight,
        attempts: so_far.attempts,
        failures: so_far.failures,
        held_by: so_far.held_by,
        undated: events.iter().any(|event| event.counts() && !event.when.is_placed()),
        ordered,
    }
}

/// The slots that an ending withdraws: those on excursions still ahead.
pub fn slots_after_the_end(events: &[Event]) -> Vec<SlotCode> {
    if standing(events).state.is_open_item() {
        return Vec::new();
    }
    let ahead = |held: &&SlotEvent| {
        held.visit == Visit::Ahead && matches!(held.state, SlotState::Pencilled | SlotState::Set)
    };
    let held = events
        .iter()
        .filter_map(|e| if let EventKind::Slot(held) = &e.what { Some(held) } else { None });
    let slots: BTreeSet<SlotCode> = held.filter(ahead).map(|held| held.slot.clone()).collect();
    slots.into_iter().collect()
}

/// The place of each event. Slots and moves lend none: a pencil that is added must move nothing else.
fn place(events: &[Event]) -> Vec<Place> {
    let whens: Vec<_> = events.iter().map(|event| &event.when).collect();
    let mut placed = places(&whens, |index| {
        !matches!(events[index].what, EventKind::Slot(_) | EventKind::Move { .. })
    });
    for (event, place) in events.iter().zip(&mut placed) {
        if event.what == EventKind::Opened && !event.when.is_placed() {
            *place = Place::first(event.when.entry);
        }
    }
    placed
}

/// Slot and excursion of every result in flight. A deferral before launch is none: it unsets its
/// slot at once, and the same slot may be set anew.
fn results(events: &[Event]) -> BTreeSet<(SlotCode, ExcursionCode)> {
    events
        .iter()
        .filter_map(|event| match &event.what {
            EventKind::Attempt(AttemptEvent { slot: Some(slot), excursion, .. }) => {
                Some((slot, excursion))
            }
            EventKind::Deferral(DeferralEvent { slot: Some(slot), excursion, phase, .. })
                if *phase != DeferralPhase::BeforeLaunch =>
            {
                Some((slot, excursion))
            }
            EventKind::Attempt(_)
            | EventKind::Deferral(_)
            | EventKind::Opened
            | EventKind::Closure { .. }
            | EventKind::Parking
            | EventKind::Reopening { .. }
            | EventKind::Slot(_)
            | EventKind::Move { .. } => None,
        })
        .map(|(slot, excursion)| (slot.clone(), excursion.clone()))
        .collect()
}
