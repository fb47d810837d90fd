//! Families of identical units, and the units with the places where they stood.

use crate::cells::{Line, Prose};
use crate::codes::{FamilyCode, Own, PositionCode, UnitCode, WorksiteCode};
use crate::records::record;
use crate::time::Day;

record! {
    /// A kind of identical units that share techniques.
    Family is Family {
        code: Own<FamilyCode> = "Code" also ["family"],
        name: Option<Line> = "Name",
        notes: Prose = "Notes",
    }
}

record! {
    /// One unit, with the position where it stands now. Another position is a move: the stay
    /// before ends on the day on which the new one begins.
    Unit is Unit {
        code: Own<UnitCode> = "Code" also ["unit", "unit no", "unit id"],
        family: FamilyCode = "Family" also ["type", "unit type", "model", "design", "hardware type", "part no", "part number"],
        serial: Option<Line> = "Serial number" also ["serial", "serial no", "s n", "sn"],
        position: Option<PositionCode> = "Position" also ["location", "installed at", "where"],
        worksite: Option<WorksiteCode> = "Worksite" also ["site", "work site"] hint "Where the position is; it is kept with the position.",
        from_day: Option<Day> = "There from" also ["from", "installed", "installed on", "date installed"],
        until_day: Option<Day> = "There until" also ["until", "removed", "removed on", "date removed"],
        notes: Prose = "Notes" also ["remarks", "comments", "comment"],
    }
}

/// One stay of a unit at a position. Days that nobody wrote down are unknown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stay {
    pub position: PositionCode,
    pub from_day: Option<Day>,
    pub until_day: Option<Day>,
}
