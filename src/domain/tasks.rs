//! Tasks and the links between them.

use crate::cells::{Line, List, Prose};
use crate::codes::{
    ExcursionCode, FamilyCode, FlightCode, InhibitCode, LinkCode, Own, PositionCode, TaskCode,
    WorksiteCode,
};
use crate::records::record;
use crate::sides::Side;
use crate::time::Day;
use crate::units::{Litres, Minutes};
use crate::words::{LightNeed, LinkKind, PriorityClass, WorkRate};

record! {
    /// One piece of work. Its state is derived from its events and stands in no column.
    Task is Task {
        code: Own<TaskCode> = "Code" also ["task", "task no", "task number", "task id", "job no", "job number", "job", "item no", "item number", "work order", "no", "id"],
        title: Line = "Title" also ["item", "job title", "task title", "task name", "subject", "what"],
        family: Option<FamilyCode> = "Family" also ["hardware", "equipment", "equipment type"],
        position: Option<PositionCode> = "Position" also ["unit", "position name"],
        worksite: Option<WorksiteCode> = "Worksite" also ["site", "work site", "location", "place"],
        sides: List<Side> = "Access sides that exist" also ["sides"] hint "nadir, starboard, nadir-forward",
        class: Option<PriorityClass> = "Class" also ["priority", "priority class", "prio"] hint "1 keeps the vehicle safe, 2 a coming flight depends on it, 3 restores a lost function, 4 helps a coming flight, 5 housekeeping.",
        needed_by_flight: Option<FlightCode> = "Needed by flight" also ["needed by", "due flight", "due by flight"],
        needed_by_day: Option<Day> = "Needed by date" also ["due", "due date", "due by", "deadline", "required by"],
        late_means: Option<Line> = "If it is late" also ["if late"],
        late_is_moot: bool = "Late makes it moot",
        back_inside_by: Option<FlightCode> = "Must be back inside by",
        optimistic: Option<Minutes> = "Work minutes, optimistic",
        likely: Option<Minutes> = "Work minutes, likely" also ["minutes", "est time", "estimated time", "estimate", "est duration", "estimated duration", "duration", "work time"],
        pessimistic: Option<Minutes> = "Work minutes, pessimistic",
        estimator: Option<Line> = "Whose estimate" also ["estimated by"],
        seats: Option<i64> = "Seats it takes" also ["crew size", "crew needed", "number of crew", "crew"] hint "1 or 2",
        work_rate: Option<WorkRate> = "Work rate",
        lighting: LightNeed = "Lighting",
        arm: bool = "Arm needed",
        takes_out: Option<Litres> = "Takes out, l",
        brings_in: Option<Litres> = "Brings in, l",
        needs_inhibits: List<InhibitCode> = "Inhibits by code" hint "Several with commas.",
        inhibits: Option<Line> = "Inhibits in words" hint "What no record names yet.",
        hazards: Prose = "Hazards" also ["hazard", "safety notes"],
        notes: Prose = "Notes" also ["description", "remarks", "comments", "comment", "details"],
        opened: Option<Day> = "Opened on" also ["opened", "date opened", "raised", "raised on", "date raised", "created", "created on", "reported"],
        opened_after: Option<FlightCode> = "Opened after flight",
        from_excursion: Option<ExcursionCode> = "Found on excursion",
        swaps_unit: bool = "Swaps the unit" also ["swap"] hint "It takes the unit at the position out and puts another in; a result that is done asks for both serials.",
        triggered: bool = "Condition met" also ["triggered"] hint "Only for a task that is kept out until something else happens.",
    }
}

record! {
    /// How one task leans on another.
    Link is Link {
        code: Own<LinkCode> = "Code",
        task: TaskCode = "Task" also ["from"],
        kind: LinkKind = "Is linked as",
        other: TaskCode = "To task" also ["to"],
        words: Option<Line> = "Because",
    }
}
