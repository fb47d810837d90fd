//! Worksites, the routes between them, and the named positions at them.

use crate::cells::{Line, Prose};
use crate::codes::{OutsideCode, Own, PositionCode, RouteCode, WorksiteCode};
use crate::records::record;
use crate::units::{MapPlace, Minutes};

record! {
    /// A place outside where work is done.
    Worksite is Worksite {
        code: Own<WorksiteCode> = "Code" also ["worksite", "work site", "site", "location", "place", "site code"],
        name: Option<Line> = "Name" also ["site name", "place name", "description"],
        setup: Option<Minutes> = "Setup, min" also ["setup minutes"],
        cleanup: Option<Minutes> = "Cleanup, min" also ["cleanup minutes"],
        map_x: Option<MapPlace> = "Map, from the left, %" hint "0 is the left edge of the drawn map, 100 the right.",
        map_y: Option<MapPlace> = "Map, from the top, %",
        one_by_one: bool = "As an airlock, takes seats in one by one" hint "For the excursions that go out here. The settings may say it of every airlock.",
        notes: Prose = "Notes" also ["remarks", "comments", "comment"],
    }
}

record! {
    /// The way from one worksite to another, in minutes for each direction.
    Route is Route {
        code: Own<RouteCode> = "Code",
        from_site: WorksiteCode = "From" also ["from"],
        to_site: WorksiteCode = "To" also ["to"],
        minutes: Minutes = "Minutes there" also ["minutes there"],
        minutes_back: Option<Minutes> = "Minutes back" hint "Left empty: the same as there.",
        aid: Option<OutsideCode> = "Needs the aid" also ["aid", "needs"],
        notes: Prose = "Notes",
    }
}

record! {
    /// A named place at a worksite: what a task is aimed at. Several may share one worksite.
    Position is Position {
        code: Own<PositionCode> = "Name" also ["position"],
        worksite: Option<WorksiteCode> = "Worksite",
        notes: Prose = "Notes",
    }
}
