//! Terms of worksites and outside items, and the papers.

use super::term;
use crate::pages::words::Term;

pub(super) const OUTSIDE: &[Term] = &[
    term("worksite", "worksite", "k-site", "A place outside where work is done."),
    term(
        "route",
        "route, translation path",
        "k-route",
        "The way that the crew travels between two worksites along handrails, in minutes; some routes need an aid that is outside.",
    ),
    term(
        "access-side",
        "access side",
        "",
        "The side from which the work is reached: zenith, nadir, port, starboard, forward, aft, inboard, outboard.",
    ),
    term(
        "outside-list",
        "outside list, outside item",
        "",
        "The hardware left outside on purpose, how long it may stay, and which task brings it in.",
    ),
    term(
        "loses-path",
        "loses its translation path",
        "",
        "A set slot whose route needs an aid that comes in before it.",
    ),
    term(
        "constraint",
        "constraint",
        "",
        "What the vehicle may not do since something was left so. In force until the task that ends it is done, or it is lifted; past its date, it needs a decision.",
    ),
    term("translation", "translation", "", "The crew's travel between worksites along handrails."),
    term(
        "airlock",
        "airlock",
        "",
        "Where the crew goes out and comes in. By default all seats go out and in together.",
    ),
    term("aid", "aid", "k-aid", "An outside item that a route needs, such as a hand line."),
    term(
        "exposure-limit",
        "exposure limit, exposure",
        "",
        "How long an outside item may stay: a number of days, or a date.",
    ),
    term(
        "disagreement",
        "record and list disagree",
        "",
        "An attempt and the outside list say different things about one item; a person chooses which is right.",
    ),
    term(
        "tool",
        "tool, aboard",
        "",
        "A counted tool. Aboard: counted and arrived, less lost, broken, taken down and outside.",
    ),
];

pub(super) const PAPERS: &[Term] = &[
    term(
        "brief",
        "brief",
        "",
        "The paper before an excursion: tasks in order, what was tried, what is different this time, when to stop.",
    ),
    term(
        "question-list",
        "questions for the debrief",
        "",
        "What is still missing about a flown excursion, as a list to fill in by hand.",
    ),
    term(
        "report",
        "report",
        "",
        "Planned against flown for one excursion, with results and reasons.",
    ),
    term(
        "closing-message",
        "closing message",
        "",
        "A short text after an excursion: done, not done, as left, what the vehicle may not do, tools unaccounted for.",
    ),
    term(
        "handover",
        "handover",
        "",
        "The paper after a flight: every planned task with its result, and what is left to whom.",
    ),
    term(
        "requests",
        "request lists",
        "",
        "What a flight asks of others before launch: training runs, manifest, bag volume, inhibits, arm windows.",
    ),
    term(
        "manifest",
        "manifest",
        "",
        "Items that a flight carries up, with count, mass and volume.",
    ),
    term(
        "content-sheet",
        "content sheet",
        "",
        "The tasks of each excursion with value and reason, and the candidates left out, for the meeting that decides.",
    ),
    term("action-list", "action list", "", "Open actions with due dates, one sheet per owner."),
    term(
        "statistics",
        "statistics",
        "",
        "How attempts ended, why tasks were deferred and what stopped work, over a period.",
    ),
    term("registers", "registers", "", "Waivers in force and who judged what as a second person."),
    term("owed", "owed", "", "Actions that somebody still has to do after the flight."),
];
