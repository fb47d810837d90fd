//! The kinds of record, with the names by which files, addresses and people know them.

use crate::words::words;

words! {
    /// A kind of record.
    Kind {
        Flight = "flight", Worksite = "worksite", Family = "family", Position = "position",
        Unit = "unit", Technique = "technique", Tool = "tool", Excursion = "excursion",
        Task = "task", Link = "link", Slot = "slot", Attempt = "attempt", Deferral = "deferral",
        Closure = "closure", Parking = "parking", Reopening = "reopening", Cause = "cause",
        Finding = "finding", Remedy = "remedy", Exemption = "exemption", Rehearsal = "rehearsal",
        OutsideItem = "outside item", Constraint = "constraint", ExcursionTool = "excursion tool", Route = "route",
        Inhibit = "inhibit", Arrangement = "arrangement", Qualification = "qualification",
        Revision = "revision", Decline = "declined offer",
        File = "file", Settings = "settings", SuitRates = "suit rates", Person = "person", View = "view"
    }
}

impl Kind {
    /// The kinds that a file can bring in, in the order in which several files are taken.
    pub const IMPORTED: &'static [Self] = &[
        Self::Flight,
        Self::Worksite,
        Self::Family,
        Self::Position,
        Self::Unit,
        Self::Cause,
        Self::Inhibit,
        Self::Tool,
        Self::Technique,
        Self::Excursion,
        Self::Task,
        Self::Link,
        Self::Slot,
        Self::Constraint,
        Self::Attempt,
        Self::Deferral,
        Self::Closure,
        Self::Parking,
        Self::Reopening,
        Self::Finding,
        Self::Remedy,
        Self::Exemption,
        Self::Decline,
        Self::Revision,
        Self::Rehearsal,
        Self::Qualification,
        Self::Arrangement,
        Self::OutsideItem,
        Self::ExcursionTool,
        Self::Route,
        Self::Settings,
        Self::SuitRates,
    ];

    /// The plural: the name of the file, the table in an export and the first part of an address.
    pub const fn plural(self) -> &'static str {
        match self {
            Self::Flight => "flights",
            Self::Worksite => "worksites",
            Self::Family => "families",
            Self::Position => "positions",
            Self::Unit => "units",
            Self::Technique => "techniques",
            Self::Tool => "tools",
            Self::Excursion => "excursions",
            Self::Task => "tasks",
            Self::Link => "links",
            Self::Slot => "slots",
            Self::Attempt => "attempts",
            Self::Deferral => "deferrals",
            Self::Closure => "closures",
            Self::Parking => "parkings",
            Self::Reopening => "reopenings",
            Self::Cause => "causes",
            Self::Finding => "findings",
            Self::Remedy => "remedies",
            Self::Exemption => "exemptions",
            Self::Revision => "revisions",
            Self::Decline => "declined-offers",
            Self::Rehearsal => "rehearsals",
            Self::OutsideItem => "outside-items",
            Self::Constraint => "constraints",
            Self::ExcursionTool => "excursion-tools",
            Self::Route => "routes",
            Self::Inhibit => "inhibits",
            Self::Arrangement => "arrangements",
            Self::Qualification => "qualifications",
            Self::File => "files",
            Self::Settings => "settings",
            Self::SuitRates => "suit-rates",
            Self::Person => "people",
            Self::View => "views",
        }
    }

    /// The letters in front of a code that the program gives.
    pub const fn prefix(self) -> &'static str {
        match self {
            Self::Flight => "G-",
            Self::Worksite => "W-",
            Self::Family => "F-",
            Self::Position => "P-",
            Self::Unit => "U-",
            Self::Technique => "K-",
            Self::Tool => "L-",
            Self::Excursion => "E-",
            Self::Task => "T-",
            Self::Link => "J-",
            Self::Slot => "S-",
            Self::Attempt => "A-",
            Self::Deferral => "D-",
            Self::Closure => "Z-",
            Self::Parking => "B-",
            Self::Reopening => "Y-",
            Self::Cause => "C-",
            Self::Finding => "N-",
            Self::Remedy => "R-",
            Self::Exemption => "X-",
            Self::Revision => "KR-",
            Self::Decline => "DO-",
            Self::Rehearsal => "H-",
            Self::OutsideItem => "O-",
            Self::Constraint => "CN-",
            Self::ExcursionTool => "M-",
            Self::Route => "Q-",
            Self::Inhibit => "I-",
            Self::Arrangement => "AR-",
            Self::Qualification => "QU-",
            Self::File => "FI-",
            Self::Settings => "TEAM",
            Self::SuitRates => "SU-",
            Self::Person => "person-",
            Self::View => "V-",
        }
    }

    /// The kind whose plural or singular this is, as files and addresses write it.
    pub fn named(text: &str) -> Option<Self> {
        let plain = super::words::plain(text);
        Self::ALL
            .iter()
            .copied()
            .find(|kind| super::words::plain(kind.plural()) == plain || kind.word() == plain)
    }
}
