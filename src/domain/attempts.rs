//! Attempts: what was tried, from which side, how it ended and how the hardware was left.

use crate::cells::{Line, List, Prose};
use crate::codes::{
    AttemptCode, CauseCode, ExcursionCode, FlightCode, OutsideCode, Own, SlotCode, TaskCode,
    TechniqueCode, ToolCode, UnitCode, WorksiteCode,
};
use crate::confirmations::Confirmation;
use crate::history::StatedAmount;
use crate::quantities::Measured;
use crate::records::record;
use crate::seats::Seats;
use crate::sides::Side;
use crate::time::Day;
use crate::units::{Celsius, Hours, Minutes, Pet, Share};
use crate::words::{FunctionAfter, LightingThen, Outcome, OutsideAfter};

record! {
    /// One try of one task on one excursion. Technique and side left empty are “not recorded”. What
    /// is left after it is what it says of the work; `share` says it in records that lack that.
    Attempt is Attempt {
        code: Own<AttemptCode> = "Code" also ["attempt", "attempt no", "attempt id", "log no", "entry no"],
        task: TaskCode = "Task" also ["task no", "task id", "job no", "job number", "job", "item no", "work order"],
        excursion: ExcursionCode = "Excursion" also ["eva", "eva no", "eva number", "spacewalk", "spacewalk no"],
        slot: Option<SlotCode> = "Slot" hint "The slot that this attempt fills, or “not planned” where another was set for the task.",
        seats: Seats = "Seats and crew codes" also ["crew"],
        technique: Option<TechniqueCode> = "Technique" also ["method", "procedure"],
        revision: Option<i64> = "Revision",
        side: Option<Side> = "Access side" also ["side"],
        pet_start: Option<Pet> = "PET from, h:mm" also ["pet from", "start", "start pet", "pet start", "began"],
        pet_end: Option<Pet> = "PET to, h:mm" also ["pet to", "end", "end pet", "pet end", "ended"],
        minutes: Option<Minutes> = "Minutes spent" also ["spent", "time spent", "duration", "actual time", "actual duration", "work time"],
        outcome: Outcome = "Outcome" also ["result", "status"],
        left_after: Option<Share> = "% of the task left after it" also ["left after", "% left"] hint "Part done: 1 to 99. Not completed: at most what was left before; empty, nothing was added.",
        share: Option<Share> = "% of the task added by it" also ["share", "% done", "share done, %"] hint "Older records say this instead of what is left." op "read",
        planned_share: Option<Share> = "% planned" also ["share planned, %"],
        cause: Option<CauseCode> = "What stopped it" also ["cause"],
        words: Prose = "In words" also ["words", "notes", "remarks", "comments", "comment", "description", "what happened", "reason"],
        symptom: Option<Line> = "Symptom" hint "What was seen, felt or heard, before any guess at the cause.",
        indications: Option<Line> = "Telemetry and indications" hint "What the hardware’s own monitoring and the telemetry showed.",
        tried: List<Prose> = "What was tried, in order" hint "One a line.",
        lighting: Option<LightingThen> = "Lighting then",
        temperature: Option<Celsius> = "Temperature there, °C",
        time_left: Option<Minutes> = "Time left when it stopped, min" hint "To the planned end: 0:45 or 45.",
        operated: Option<Hours> = "Operated until then, h" hint "By the item; left empty where nobody counts.",
        measured: List<Measured> = "Values reached" also ["measured"] hint "grip force 180 N (limit 200 N); preload 31 N·m (at least 35 N·m); turns 9",
        last_step: Option<Line> = "Last step ended",
        as_left: Prose = "As left" also ["configuration"],
        safe_until: Option<Day> = "Safe until date",
        safe_until_flight: Option<FlightCode> = "Safe until flight",
        forbids: Option<Line> = "Forbids the vehicle meanwhile",
        temporary: Option<Line> = "Temporary hardware",
        outside_after: Option<OutsideAfter> = "Outside afterwards" also ["left outside"] hint "Compared with the outside list.",
        outside_items: List<OutsideCode> = "Outside items it names" also ["outside items", "outside items it speaks of"] hint "O-07, O-12. Left empty: the items that this attempt left or this task brings back.",
        function_after: Option<FunctionAfter> = "Function afterwards" also ["function"],
        tools: List<ToolCode> = "Tools used" also ["tools"],
        unit: Option<UnitCode> = "Unit" hint "Left empty: the unit that stood there on that day.",
        serial: Option<Line> = "Serial number",
        came_out: Option<Line> = "Serial that came out" also ["came out"] hint "Of a swap: serial or unit code, or “not recorded”.",
        went_in: Option<Line> = "Serial that went in" also ["went in"] hint "Of a swap: serial or unit code, or “not recorded”.",
        worksite: Option<WorksiteCode> = "Worksite" hint "Left empty: where the task is.",
        cut_off: Option<Minutes> = "Cut-off then, min",
        recorded_by: Option<Line> = "Recorded by",
        confirmed: Option<Confirmation> = "Confirmed" hint "“yes” where the minutes are unlikely or unknown, and right.",
    }
}

impl Attempt {
    /// What it says about the amount of work.
    pub fn said(&self) -> Option<StatedAmount> {
        StatedAmount::of(self.left_after, self.share)
    }
}
