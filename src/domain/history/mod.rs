//! A task's events, and the one pure function from them to how the task stands.

pub mod left;
mod order;
mod so_far;
mod standing;
#[cfg(test)]
mod tests;
mod why_open;

pub use left::{Left, StatedAmount};
pub use order::{FlightDays, Phase, Place, When, places};
pub use standing::{Standing, slots_after_the_end, standing};
pub use why_open::WhyOpen;

use crate::codes::{CauseCode, ExcursionCode, FlightCode, SlotCode};
use crate::repeat_guard::Tells;
use crate::units::Share;
use crate::words::{ClosureKind, DeferralPhase, DeferralReason, Outcome, SlotState};

/// Something that happened to one task: `code` names the record that tells of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    pub code: String,
    pub when: When,
    pub what: EventKind,
}

#[derive(Debug, Clone, PartialEq)]
pub enum EventKind {
    /// The task was written down. Without a known place it comes before everything else.
    Opened,
    Attempt(AttemptEvent),
    Deferral(DeferralEvent),
    Closure {
        kind: ClosureKind,
    },
    Parking,
    /// The endings before it and what was left then count no more; so much of the work is left.
    Reopening {
        share_left: Share,
    },
    /// A slot, placed where it was set (not where it will be flown). One event for each time.
    Slot(SlotEvent),
    /// A set slot was moved to an earlier excursion. It changes nothing by itself: both slots tell
    /// when each was set.
    Move {
        from: ExcursionCode,
        to: ExcursionCode,
    },
}

/// The flight an event belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnFlight {
    pub code: FlightCode,
    /// The same rank that `When::flight` holds.
    pub rank: i64,
    pub landed: bool,
}

/// What an attempt did to the task.
#[derive(Debug, Clone, PartialEq)]
pub struct AttemptEvent {
    pub outcome: Outcome,
    /// What it says about the amount of work. Only `done` ends a task, whatever is said here.
    pub said: Option<StatedAmount>,
    /// What it says of its approach (`repeat_guard::tells`).
    pub tells: Tells,
    pub cause: Option<CauseCode>,
    pub slot: Option<SlotCode>,
    pub excursion: ExcursionCode,
    /// `None`: the flight is not known.
    pub flight: Option<OnFlight>,
    /// Came in from a file. Without a slot it then counts as planned at launch.
    pub imported: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub struct DeferralEvent {
    pub phase: DeferralPhase,
    pub reason: DeferralReason,
    pub slot: Option<SlotCode>,
    pub excursion: ExcursionCode,
    pub flight: Option<OnFlight>,
}

/// How far the excursion of a slot has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Visit {
    Ahead,
    /// Flown, its debrief not closed.
    InDebrief,
    /// Closed, or called off.
    Over,
}

#[derive(Debug, Clone, PartialEq)]
pub struct SlotEvent {
    pub slot: SlotCode,
    pub state: SlotState,
    pub excursion: ExcursionCode,
    pub flight: Option<OnFlight>,
    pub visit: Visit,
    /// It was set at some time, whatever became of it.
    pub was_set: bool,
    /// It was set when its flight was launched.
    pub set_at_launch: bool,
}

impl SlotEvent {
    /// A slot that was never more than a pencil changes nothing.
    pub const fn counts(&self) -> bool {
        self.was_set || matches!(self.state, SlotState::Set | SlotState::Flown)
    }
}

impl Event {
    fn counts(&self) -> bool {
        match &self.what {
            EventKind::Slot(held) => held.counts(),
            EventKind::Move { .. } => false,
            EventKind::Opened
            | EventKind::Attempt(_)
            | EventKind::Deferral(_)
            | EventKind::Closure { .. }
            | EventKind::Parking
            | EventKind::Reopening { .. } => true,
        }
    }
}
