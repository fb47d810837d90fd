//! Techniques, their rehearsals, and who is trained in them.

use crate::cells::{Line, List, Prose};
use crate::codes::{
    FamilyCode, Own, QualificationCode, RehearsalCode, TaskCode, TechniqueCode, ToolCode,
};
use crate::records::record;
use crate::sides::Side;
use crate::time::Day;
use crate::units::Minutes;
use crate::words::{RehearsalKind, TechniqueState};

record! {
    /// A way of doing a kind of work, as it stands in its newest revision.
    Technique is Technique {
        code: Own<TechniqueCode> = "Code" also ["technique"],
        name: Line = "Name",
        family: Option<FamilyCode> = "For the family",
        task: Option<TaskCode> = "For one task",
        revision: Option<i64> = "Revision" also ["rev"],
        state: TechniqueState = "State",
        sides: List<Side> = "Access sides it is for" also ["sides"],
        tools: List<ToolCode> = "Tools",
        seats: Option<i64> = "Seats" hint "1 or 2",
        optimistic: Option<Minutes> = "Minutes, optimistic",
        likely: Option<Minutes> = "Minutes, likely" also ["minutes"],
        pessimistic: Option<Minutes> = "Minutes, pessimistic",
        rehearsal_demanded: bool = "Rehearsal demanded",
        training_demanded: bool = "Training demanded",
        may_pause: bool = "May pause at sunset" hint "Work that needs daylight stops at sunset and continues at sunrise.",
        steps: Prose = "Steps" hint "One step a line.",
        notes: Prose = "Notes",
    }
}

record! {
    /// One try of a technique on the ground.
    Rehearsal is Rehearsal {
        code: Own<RehearsalCode> = "Code",
        technique: TechniqueCode = "Technique",
        revision: Option<i64> = "Revision",
        side: Option<Side> = "Side",
        kind: RehearsalKind = "Kind",
        day: Option<Day> = "Date" also ["date"],
        success: bool = "Success",
        minutes: Option<Minutes> = "Minutes",
        notes: Prose = "Notes",
    }
}

record! {
    /// A crew code trained in a revision of a technique.
    Qualification is Qualification {
        code: Own<QualificationCode> = "Code",
        crew: Line = "Crew code" hint "C-4; never a name.",
        technique: TechniqueCode = "Technique",
        revision: Option<i64> = "Revision" hint "Empty: not recorded; it counts for every revision.",
        side: Option<Side> = "Side" hint "Empty: from every side.",
        day: Option<Day> = "Trained on" also ["date", "day"],
        place: Option<Line> = "Where" also ["where"] hint "Tank, 1-g mock-up, aboard.",
        notes: Prose = "Notes",
    }
}
