//! The outside list: what was left outside on purpose, and who brings it back in.

mod contradictions;
mod exposure;

pub use contradictions::{Contradiction, Listed, Statement, contradictions};
pub use exposure::{FlightAhead, RunsOut, back_inside_by, runs_out_among};

use crate::cells::{Line, Prose};
use crate::codes::{AttemptCode, FlightCode, OutsideCode, Own, TaskCode, ToolCode, WorksiteCode};
use crate::records::record;
use crate::time::Day;
use crate::words::OutsideState;

record! {
    /// One thing left outside on purpose.
    OutsideItem is OutsideItem {
        code: Own<OutsideCode> = "Code" also ["outside item", "item"],
        what: Line = "What",
        worksite: Option<WorksiteCode> = "Worksite",
        purpose: Option<Line> = "Purpose",
        left_by: Option<AttemptCode> = "Left by attempt" also ["left by"],
        since: Option<Day> = "Outside since" also ["since"],
        limit_days: Option<i64> = "Exposure limit, days",
        limit_until: Option<Day> = "Exposure limit, until" also ["limit until", "exposure limit date"] hint "A date. Where days are given too, the earlier end holds.",
        tool: Option<ToolCode> = "It is the tool" also ["tool"] hint "Where it is one of the tools that are counted.",
        brought_back_by: Option<TaskCode> = "Task that brings it back" also ["brings back"],
        returns_with: Option<FlightCode> = "Returns with flight" also ["returns with", "return flight"] hint "The flight that takes it down once it is inside.",
        state: OutsideState = "State",
        ended_on: Option<Day> = "Brought in or lost on",
        notes: Prose = "Notes",
    }
}
