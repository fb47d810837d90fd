//! What a task's events, taken one after the other, add up to.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    AttemptEvent, DeferralEvent, Event, EventKind, Left, OnFlight, SlotEvent, Visit, WhyOpen,
};
use crate::codes::{ExcursionCode, FlightCode, SlotCode};
use crate::repeat_guard::Tells;
use crate::units::Share;
use crate::words::{DeferralPhase, Outcome, SlotState, TaskState};

/// What the events so far add up to.
#[derive(Default)]
pub(super) struct SoFar {
    pub(super) left: Left,
    pub(super) dropped_by: Option<String>,
    pub(super) done_by: Option<String>,
    parked_by: Option<String>,
    pub(super) held_by: Vec<ExcursionCode>,
    /// Ranks of the flown flights at whose launch it was set.
    pub(super) at_launch: BTreeSet<i64>,
    pub(super) deferred_before_launch: i64,
    pub(super) attempts: i64,
    pub(super) failures: i64,
    why: Option<WhyOpen>,
    pub(super) last_event: Option<String>,
    pub(super) last_flight: Option<FlightCode>,
    /// Not-yet-answered set slots, by code, so that one set twice is held once.
    held: BTreeMap<SlotCode, ExcursionCode>,
}

impl SoFar {
    pub(super) fn take(&mut self, event: &Event, results: &BTreeSet<(SlotCode, ExcursionCode)>) {
        match &event.what {
            EventKind::Opened | EventKind::Move { .. } => return,
            EventKind::Slot(held) => return self.take_slot(held, results),
            EventKind::Attempt(tried) => self.take_attempt(&event.code, tried),
            EventKind::Deferral(put_off) => self.take_deferral(&event.code, put_off),
            EventKind::Closure { kind } => {
                let by = if kind.ends_done() { &mut self.done_by } else { &mut self.dropped_by };
                by.get_or_insert_with(|| event.code.clone());
            }
            EventKind::Parking => self.parked_by = Some(event.code.clone()),
            EventKind::Reopening { share_left } => self.reopen(&event.code, *share_left),
        }
        self.last_event = Some(event.code.clone());
    }

    fn take_slot(&mut self, held: &SlotEvent, results: &BTreeSet<(SlotCode, ExcursionCode)>) {
        if !held.counts() {
            return;
        }
        self.parked_by = None;
        if held.set_at_launch {
            self.set_at_launch_of(held.flight.as_ref());
        }
        let waits = held.state == SlotState::Set
            && held.visit != Visit::Over
            && !results.contains(&(held.slot.clone(), held.excursion.clone()));
        if waits && self.held.insert(held.slot.clone(), held.excursion.clone()).is_none() {
            self.held_by.push(held.excursion.clone());
        }
    }

    fn take_attempt(&mut self, code: &str, tried: &AttemptEvent) {
        self.attempts += 1;
        self.failures += i64::from(tried.tells == Tells::Failure);
        self.touch(tried.flight.as_ref());
        if tried.imported && tried.slot.is_none() {
            self.set_at_launch_of(tried.flight.as_ref());
        }
        self.left.take_attempt(code, tried.outcome, tried.said);
        if tried.outcome == Outcome::Done {
            self.done_by.get_or_insert_with(|| code.to_owned());
        }
        let (attempt, excursion) = (code.to_owned(), tried.excursion.clone());
        let cause = tried.cause.clone();
        self.why = Some(match (tried.outcome, tried.tells) {
            (Outcome::NotReached, _) => WhyOpen::NotReached { attempt, excursion },
            (Outcome::Done | Outcome::PartDone, _) => {
                WhyOpen::PartDone { attempt, excursion, cause }
            }
            (Outcome::NotCompleted, Tells::Nothing | Tells::Success) => {
                WhyOpen::Stopped { attempt, excursion, cause }
            }
            (Outcome::NotCompleted, Tells::Failure) => {
                WhyOpen::Failed { attempt, excursion, cause }
            }
        });
    }

    fn take_deferral(&mut self, code: &str, put_off: &DeferralEvent) {
        self.deferred_before_launch += i64::from(put_off.phase == DeferralPhase::BeforeLaunch);
        self.touch(put_off.flight.as_ref());
        self.why = Some(WhyOpen::Deferred {
            deferral: code.to_owned(),
            excursion: put_off.excursion.clone(),
            phase: put_off.phase,
            reason: put_off.reason,
        });
    }

    /// Work that comes back is not to vanish again under a parking from before it had ended.
    fn reopen(&mut self, code: &str, share_left: Share) {
        (self.done_by, self.dropped_by, self.parked_by) = (None, None, None);
        self.left.reopen(share_left);
        self.why = Some(WhyOpen::Reopened { reopening: code.to_owned(), share_left });
    }

    fn touch(&mut self, flight: Option<&OnFlight>) {
        if let Some(flight) = flight {
            self.last_flight = Some(flight.code.clone());
        }
    }

    fn set_at_launch_of(&mut self, flight: Option<&OnFlight>) {
        if let Some(flight) = flight.filter(|flight| flight.landed) {
            self.at_launch.insert(flight.rank);
        }
    }

    pub(super) fn state(&self) -> TaskState {
        if self.dropped_by.is_some() {
            TaskState::Dropped
        } else if self.done_by.is_some() {
            TaskState::Done
        } else if self.parked_by.is_some() {
            TaskState::Parked
        } else if !self.held_by.is_empty() {
            TaskState::Set
        } else if self.left != Left::WHOLE {
            TaskState::PartDone
        } else {
            TaskState::Open
        }
    }

    pub(super) fn why_open(&self) -> WhyOpen {
        match (&self.parked_by, &self.why) {
            (Some(parking), _) => WhyOpen::Parked { parking: parking.clone() },
            (None, Some(why)) => why.clone(),
            (None, None) => WhyOpen::NeverTried,
        }
    }
}
