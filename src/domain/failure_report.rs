//! What a closed-loop failure report has to let one identify, and which column of which record keeps
//! each. `docs/failure-reporting.md` is made of this table, and a test holds it against the columns.

use crate::kinds::Kind;

/// One data element of a failure report.
#[derive(Debug, Clone, Copy)]
pub struct Element {
    /// What the report has to tell.
    pub asked: &'static str,
    pub by: Asks,
    /// The columns that keep it, the first one first.
    pub kept: &'static [(Kind, &'static str)],
    /// How it is meant here, where the words alone do not say it.
    pub note: &'static str,
}

/// Who asks for an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asks {
    /// The standard, in so many words.
    Standard,
    /// The steps of the closed loop in its foreword.
    ClosedLoop,
    /// The trade, beyond the standard.
    Practice,
}

impl Asks {
    pub const fn words(self) -> &'static str {
        match self {
            Self::Standard => "standard, 5.1",
            Self::ClosedLoop => "standard, foreword",
            Self::Practice => "practice",
        }
    }
}

macro_rules! elements {
    ($($by:ident, $asked:literal, [$($kind:ident . $column:ident),+ $(,)?] $(, $note:literal)?;)+) => {
        /// Every element, in the order of a report.
        // Source: MIL-STD-2155(AS), Failure Reporting, Analysis and Corrective Action System,
        // paragraph 5.1 and foreword, 1985; MIL-HDBK-2155, 1995. Elements marked as practice are
        // common practice of failure boards.
        pub const ELEMENTS: &[Element] = &[$(Element {
            asked: $asked,
            by: Asks::$by,
            kept: &[$((Kind::$kind, stringify!($column))),+],
            note: concat!($($note)?),
        }),+];
    };
}

elements! {
    Practice, "Number of the report", [Finding.code, Attempt.code],
        "The attempt is the report of what happened, the finding the report of why.";
    Practice, "Task and excursion", [Attempt.task, Attempt.excursion];
    Practice, "Date and elapsed time", [Excursion.day, Attempt.pet_start, Attempt.pet_end];
    Standard, "Failed item", [Attempt.unit, Attempt.serial, Task.family, Task.position],
        "Unit and serial as they stood there on that day.";
    Practice, "Worksite and access side", [Attempt.worksite, Attempt.side];
    Practice, "Technique and tools", [Attempt.technique, Attempt.revision, Attempt.tools];
    Standard, "Symptoms", [Attempt.symptom, Attempt.words],
        "The symptom is what was seen before any guess at the cause.";
    Standard, "Conditions at the failure", [Attempt.lighting, Attempt.temperature, Attempt.time_left],
        "The standard says test conditions: out there they are light, temperature and the time that was left.";
    Standard, "Built-in-test indications", [Attempt.indications],
        "Most of this hardware tests nothing itself, so telemetry counts as well.";
    Standard, "Operating time at failure", [Attempt.operated],
        "Hours, where anybody counts them; a bolt has none, and the field stays empty.";
    Practice, "What was tried, in order", [Attempt.tried, Attempt.last_step];
    Practice, "Forces, torques and turns reached", [Attempt.measured],
        "Each with its unit and its limit.";
    Practice, "Configuration as left", [Attempt.as_left, Attempt.safe_until, Attempt.safe_until_flight, Attempt.forbids];
    Practice, "Temporary hardware and how long it may stay", [Attempt.temporary, OutsideItem.what, OutsideItem.limit_days];
    Standard, "Verification of the failure", [Finding.confirmed, Attempt.function_after],
        "That it failed, and not the way it was read.";
    Standard, "Corrective maintenance and its times", [Attempt.minutes, Attempt.outcome, Remedy.done_on],
        "What was done outside stands with the attempt, what was done since with the remedy.";
    Practice, "Evidence", [Finding.evidence, File.caption, File.hash],
        "Photographs and files hang on attempts, findings and outside items.";
    Practice, "Immediate cause", [Attempt.cause], "The kind of cause as it was called at the debrief.";
    ClosedLoop, "Analysis until the cause is understood", [Finding.words, Finding.cause, Finding.contributing],
        "The main cause is the root cause: without it the failure would not have happened.";
    Practice, "Confidence in the cause", [Finding.confidence];
    ClosedLoop, "Corrective action and its owner", [Remedy.what, Remedy.owner, Remedy.needed_by, Finding.recommended_technique, Finding.recommended_side];
    ClosedLoop, "Corrective action taken", [Remedy.state, Remedy.done_on];
    ClosedLoop, "Verified to prevent recurrence", [Remedy.verified_by, Remedy.verified_on, Remedy.evidence];
    Practice, "Disposition of the item", [Finding.disposition];
    Practice, "Who closed it, and when", [Finding.reviewed_by, Finding.reviewed_on, Remedy.verified_by];
}
