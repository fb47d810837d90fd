//! Terms of the work and of how attempts end.

use super::term;
use crate::pages::words::Term;

pub(super) const WORK: &[Term] = &[
    term(
        "flight",
        "flight",
        "",
        "One mission of the vehicle, with a code and a launch date: coming or flown.",
    ),
    term(
        "excursion",
        "excursion",
        "",
        "One spacewalk of a flight, from airlock egress to ingress.",
    ),
    term(
        "deferrable",
        "deferrable",
        "",
        "An excursion that the flight may give up without losing its main goal.",
    ),
    term(
        "seat",
        "EV1, EV2, IV; seat",
        "",
        "The crew seats outside, and the crew member inside who reads the steps.",
    ),
    term(
        "task",
        "task",
        "",
        "One piece of work. It stays open until an attempt ends done or a closure ends it.",
    ),
    term("backlog", "backlog", "k-open", "All open tasks: neither done nor dropped."),
    term(
        "state",
        "state of a task",
        "",
        "Derived from what happened, never typed in: dropped, done, parked, set, part done or open; the first that holds.",
    ),
    term(
        "class",
        "class",
        "",
        "What a task is worth before anything else: 1 keeps the vehicle safe, 2 a coming flight depends on it, 3 restores a lost function, 4 helps a coming flight, 5 is housekeeping.",
    ),
    term(
        "needed-by",
        "needed by",
        "k-need",
        "The flight before whose landing a task must be done, or a date.",
    ),
    term(
        "at-risk",
        "at risk",
        "k-late",
        "At risk of being late: no set slot that fits or is tight before the needed-by flight lands, or before the date that binds. A pencilled slot does not count, nor a set one that no longer fits.",
    ),
    term(
        "carried",
        "carried, carry count",
        "",
        "How many flown flights had the task set at launch and not done at landing.",
    ),
    term(
        "carry-line",
        "carry line",
        "",
        "A task's life across the flights, one mark per event. Each level is one approach; the same level twice means the same approach twice. It stops at now unless the task has a slot.",
    ),
    term(
        "parked",
        "parked, parking",
        "k-park",
        "Put aside until a date or a flight. A parked task is not judged against excursions.",
    ),
    term(
        "dropped",
        "dropped",
        "k-drop",
        "Ended without being done: moot, duplicate, unit replaced, accepted as left or no longer wanted.",
    ),
    term(
        "closure",
        "closure",
        "",
        "An ending without an attempt: done by the arm, from inside or from the ground, or dropped.",
    ),
    term(
        "dependencies",
        "task dependencies, link",
        "",
        "How one task depends on another: needs, same visit as, continues, makes permanent, undoes, instead of, only if.",
    ),
    term(
        "get-ahead",
        "get-ahead",
        "",
        "Open work that is taken on when an excursion runs ahead of its plan.",
    ),
    term(
        "value",
        "value",
        "",
        "What a task is worth as a number: the weight of its class times factors for how soon it is needed, how often it was carried and what depends on it.",
    ),
    term(
        "must-do",
        "must do",
        "",
        "A set task that is never dropped on the day; without it the excursion misses its goal.",
    ),
    term("moot", "moot", "", "Needless: the reason for the task is gone, or another task did it."),
    term(
        "reopened",
        "reopened, reopening",
        "",
        "Open again after it was done or closed, with its % left.",
    ),
    term(
        "unit",
        "unit, serial",
        "",
        "One piece of hardware of a family, with its serial number; it moves between positions when it is swapped.",
    ),
    term("position", "position", "", "A place at a worksite where a unit is installed."),
];

pub(super) const ATTEMPTS: &[Term] = &[
    term("attempt", "attempt", "", "One try of one task on one excursion, with its outcome."),
    term(
        "done",
        "done",
        "k-done",
        "The work is complete. Only this outcome or a closure ends a task.",
    ),
    term(
        "part-done",
        "part done",
        "k-part",
        "Some of the work is complete; the attempt says how many % of the task are left.",
    ),
    term(
        "not-completed",
        "not completed",
        "k-not",
        "It was begun and did not add to the work, or nobody knows how much.",
    ),
    term("not-reached", "not reached", "k-nr", "It was planned on the excursion and never begun."),
    term(
        "deferral",
        "deferral",
        "k-def",
        "A decision that takes a task off an excursion, before or during it.",
    ),
    term("as-left", "as left", "", "The condition in which hardware was left after an attempt."),
    term(
        "cut-off",
        "cut-off",
        "",
        "The minute of work at which the crew should stop trying and move on.",
    ),
    term(
        "debrief",
        "debrief",
        "",
        "The entry of all results of one flown excursion. Closing it returns to the backlog what did not end done.",
    ),
    term(
        "cause",
        "cause",
        "",
        "The kind of thing that stopped an attempt. Its scope (approach, hardware, outside, diagnosis) decides whether it counts against the approach.",
    ),
    term("left", "% left", "", "How much of the task is left after an attempt, in % of the whole."),
    term(
        "pulled-forward",
        "moved earlier",
        "",
        "A set slot that moves to an earlier excursion. It is no deferral and is not counted as carried.",
    ),
    term(
        "swap",
        "swap",
        "",
        "An attempt that takes one unit out and puts another in; both serial numbers are recorded.",
    ),
    term(
        "values",
        "values reached",
        "",
        "Forces, torques and turns that were measured, each with its unit and its limit.",
    ),
    term(
        "photographs",
        "photographs and files",
        "",
        "Evidence beside an attempt, a finding or an outside item. Pictures are redrawn without place and camera.",
    ),
];
