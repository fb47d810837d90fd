//! Terms of the record itself.

use super::term;
use crate::pages::words::Term;

pub(super) const RECORD: &[Term] = &[
    term("undo", "undo", "", "One step back of the last change, offered beside what was done."),
    term(
        "held-form",
        "kept form",
        "",
        "A form that was sent after its session had ended. It is kept for its person, who sends or discards it.",
    ),
    term(
        "conflict",
        "conflict",
        "",
        "Two people edited the same record. Nothing is overwritten: both versions are shown to choose between.",
    ),
    term(
        "roles",
        "roles",
        "",
        "A viewer reads; an engineer keeps the record and pencils; a lead sets, waives, defers and closes; an administrator keeps people and settings.",
    ),
    term(
        "first-steps",
        "first steps",
        "",
        "What a new record needs before it can be used, by role.",
    ),
    term(
        "import",
        "import",
        "",
        "Reading a table into the record: a preview first, then all rows or none.",
    ),
    term(
        "history-import",
        "imported, not checked here",
        "",
        "A review or verification that came with a table as history; this service has not checked it.",
    ),
    term(
        "change-history",
        "change history, change log",
        "",
        "Who changed what, when and why. Each entry carries the hash of the one before it.",
    ),
    term(
        "saved-view",
        "saved view",
        "",
        "Filters and order of the backlog under a name of your own.",
    ),
    term(
        "feed",
        "calendar and changes",
        "",
        "Two personal addresses for other programs: a calendar of dates, and a feed of changes.",
    ),
    term(
        "open-point",
        "open points",
        "",
        "What needs somebody: yours are those that you may act on.",
    ),
    term(
        "note-file",
        "note file",
        "",
        "A text file with the caution, beside each downloaded list.",
    ),
];
