//! The events of a task that are no attempts: deferrals, closures, parking, reopening.

use crate::cells::{Line, Prose};
use crate::codes::{
    ClosureCode, DeferralCode, ExcursionCode, FlightCode, Own, ParkingCode, ReopeningCode,
    SlotCode, TaskCode,
};
use crate::records::record;
use crate::time::Day;
use crate::units::Share;
use crate::words::{ClosureKind, DeferralPhase, DeferralReason};

record! {
    /// A decision that takes a task off an excursion.
    Deferral is Deferral {
        code: Own<DeferralCode> = "Code" also ["deferral"],
        task: TaskCode = "Task",
        excursion: ExcursionCode = "From excursion" also ["from excursion"],
        slot: Option<SlotCode> = "Slot",
        phase: DeferralPhase = "When" also ["when"],
        reason: DeferralReason = "Reason",
        words: Prose = "In words",
        decided_by: Option<Line> = "Decided by",
        to_excursion: Option<ExcursionCode> = "To excursion",
        day: Option<Day> = "Date" also ["date"],
    }
}

record! {
    /// An ending without an attempt; it tells nothing about any approach.
    Closure is Closure {
        code: Own<ClosureCode> = "Code" also ["closure"],
        task: TaskCode = "Task",
        kind: ClosureKind = "How it ended",
        duplicate_of: Option<TaskCode> = "Duplicate of",
        words: Prose = "In words",
        evidence: Prose = "Evidence",
        day: Option<Day> = "Date" also ["date"],
    }
}

record! {
    /// A task set aside for a while.
    Parking is Parking {
        code: Own<ParkingCode> = "Code",
        task: TaskCode = "Task",
        why: Line = "Why",
        until_day: Option<Day> = "Until date" also ["until"],
        until_flight: Option<FlightCode> = "Until flight",
        day: Option<Day> = "Date" also ["date"],
    }
}

record! {
    /// Work that comes back after it had ended. The endings and shares before it count no more.
    Reopening is Reopening {
        code: Own<ReopeningCode> = "Code",
        task: TaskCode = "Task",
        share_left: Share = "% left" also ["share left, %", "share left"],
        words: Line = "Why",
        day: Option<Day> = "Date" also ["date"],
    }
}
