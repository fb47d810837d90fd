//! The tables, in the order in which they are taken.

use domain::kinds::Kind;

macro_rules! tables {
    ($($kind:ident from $file:literal),+ $(,)?) => {
        &[$((Kind::$kind, include_str!(concat!("tables/", $file, ".csv")))),+]
    };
}

/// Each kind with its table. Slots come in two parts: what was flown goes before its attempts,
/// what is ahead goes last, because its gates look at the whole record.
pub const TABLES: &[(Kind, &str)] = tables![
    Flight from "flights",
    Worksite from "worksites",
    Family from "families",
    Position from "positions",
    Unit from "units",
    Cause from "causes",
    Tool from "tools",
    Settings from "settings",
    SuitRates from "suit-rates",
    Inhibit from "inhibits",
    Technique from "techniques",
    Excursion from "excursions",
    Task from "tasks",
    Link from "links",
    Slot from "slots",
    Constraint from "constraints",
    Attempt from "attempts",
    Deferral from "deferrals",
    Closure from "closures",
    Parking from "parkings",
    Reopening from "reopenings",
    Finding from "findings",
    Remedy from "remedies",
    Exemption from "exemptions",
    Decline from "declined-offers",
    Revision from "revisions",
    Rehearsal from "rehearsals",
    Qualification from "qualifications",
    Arrangement from "arrangements",
    OutsideItem from "outside-items",
    ExcursionTool from "excursion-tools",
    Route from "routes",
    Slot from "slots-ahead",
];
