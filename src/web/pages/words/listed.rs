//! The terms, by chapter.

use super::{Chapter, Term};

const fn term(
    id: &'static str,
    name: &'static str,
    mark: &'static str,
    says: &'static str,
) -> Term {
    Term { id, name, mark, says }
}

/// The whole list.
pub(crate) const CHAPTERS: &[Chapter] = &[
    Chapter { heading: "Work", terms: WORK },
    Chapter { heading: "Attempts and how they end", terms: ATTEMPTS },
    Chapter { heading: "Approaches, failures and remedies", terms: FAILURES },
    Chapter { heading: "Slots", terms: SLOTS },
    Chapter { heading: "Checks and verdicts", terms: CHECKS },
    Chapter { heading: "Times and chances", terms: TIMES },
    Chapter { heading: "Outside", terms: OUTSIDE },
    Chapter { heading: "The record", terms: RECORD },
];

const WORK: &[Term] = &[
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
        "EV1, EV2, IV",
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
        "What a task is worth before anything else: 1 keeps the vehicle safe, 2 holds up a coming flight, 3 restores a lost function, 4 helps a coming flight, 5 is housekeeping.",
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
        "At risk of being late: no slot is set before the needed-by flight lands. A pencilled slot does not count.",
    ),
    term(
        "carried",
        "carried",
        "",
        "How many flown flights had the task set at launch and not done at landing.",
    ),
    term(
        "carry-line",
        "carry line",
        "k-set",
        "A task's life across the flights, one mark per event. Each level is one approach; the same level twice means the same approach twice. It stops at now unless a slot holds the task.",
    ),
    term(
        "parked",
        "parked",
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
        "task dependencies",
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
];

const ATTEMPTS: &[Term] = &[
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
        "The kind of thing that stopped an attempt. Its scope decides whether it counts against the approach.",
    ),
];

const FAILURES: &[Term] = &[
    term(
        "technique",
        "technique",
        "",
        "A way of doing a kind of work, with its steps, tools and revision. Its steps here are a summary: the certified procedure governs.",
    ),
    term(
        "approach",
        "approach",
        "",
        "A technique together with an access side: what was tried, or will be.",
    ),
    term(
        "family",
        "family",
        "",
        "Units of the same design. What fails on one questions the approach on all.",
    ),
    term("sister-unit", "sister unit", "", "Another unit of the same family."),
    term(
        "finding",
        "finding",
        "",
        "The engineer's record of why an attempt did not end done. A second person reviews it.",
    ),
    term(
        "remedy",
        "remedy",
        "",
        "What is changed after a failure so that it does not repeat: open, done, then verified by another person. A verified remedy resolves the failures that it names.",
    ),
    term(
        "repeat-guard",
        "repeat guard",
        "",
        "The rule that an approach that failed is not set again unless something changed.",
    ),
    term("clear", "clear", "v-fits", "No failure counts against the approach on this unit."),
    term(
        "questioned",
        "questioned",
        "v-tight",
        "It failed on one sister unit and no verified remedy resolves that.",
    ),
    term(
        "blocked",
        "blocked",
        "v-no",
        "It failed on this unit, or on two sister units, and no verified remedy resolves that. Setting it needs a waiver.",
    ),
    term(
        "exemption",
        "exemption",
        "",
        "An engineer's reasoned “does not apply to this unit”, reviewed by a second person.",
    ),
    term(
        "waiver",
        "waiver",
        "",
        "A named person's recorded decision to go on although a check of this service says no. It never passes over a flight rule or a hazard control.",
    ),
    term(
        "second-person",
        "second person",
        "",
        "Reviewing, verifying and clearing need another account than those that wrote, edited or did the thing.",
    ),
];

const SLOTS: &[Term] = &[
    term("slot", "slot", "", "A task's place on an excursion: pencilled, set, flown or withdrawn."),
    term(
        "pencilled",
        "pencilled",
        "k-pen",
        "A plan that anybody may still change. It may stand against a check.",
    ),
    term("set", "set", "k-set", "Firm: every check holds, or a lead waived it by name."),
    term(
        "candidate",
        "candidate slot",
        "",
        "A coming excursion judged for an open task, at the best place found there.",
    ),
    term(
        "matrix",
        "matrix",
        "",
        "Every open task against every coming excursion. A cell shows the verdict, and the time left at P80 with the set tasks and this one.",
    ),
    term(
        "campaign",
        "campaign picture",
        "",
        "Each excursion as a bar from egress to its limit: flown or set, pencilled, free.",
    ),
    term(
        "burn-up",
        "backlog per flight",
        "",
        "Tasks opened and ended, counted after each flight; the gap between both lines is what is open.",
    ),
    term("lanes", "lanes", "", "One excursion drawn with PET running down and a column per seat."),
];

const CHECKS: &[Term] = &[
    term(
        "check",
        "check",
        "",
        "One condition of a candidate slot, with its verdict and its reason in a sentence.",
    ),
    term("met", "met", "v-fits", "The condition holds."),
    term(
        "note",
        "note",
        "v-note",
        "It holds, with something to know. A note never changes the verdict of the slot.",
    ),
    term(
        "tight",
        "tight",
        "v-tight",
        "It holds and can fail on the day: time, windows, supplies, a questioned approach, a remedy not verified, late.",
    ),
    term("not-met", "not met", "v-no", "The condition does not hold; setting needs a waiver."),
    term(
        "cannot-tell",
        "cannot tell",
        "v-tell",
        "The record does not say enough; the reason names what is missing.",
    ),
    term(
        "not-checked",
        "not checked",
        "v-none",
        "Another check stands in front of it, or the plan is not far enough.",
    ),
    term("fits", "fits", "v-fits", "Every check is met or a note."),
    term("does-not-fit", "does not fit", "v-no", "No place on that excursion passes every check."),
    term(
        "inhibit",
        "inhibit",
        "",
        "Something that must be switched off, locked or vented before the work is safe.",
    ),
];

const TIMES: &[Term] = &[
    term(
        "pet",
        "PET",
        "",
        "Phase elapsed time: hours and minutes since the excursion began, h:mm.",
    ),
    term(
        "p50-p80",
        "P50, P80",
        "",
        "In half of all simulated runs the excursion ends by its P50, in 80 % by its P80.",
    ),
    term(
        "time-left",
        "time left",
        "",
        "From the P80 end to the limit, for the plan that is named beside it: set tasks only, or with the pencilled ones.",
    ),
    term("limit", "limit", "", "The longest that an excursion may last."),
    term(
        "reached",
        "reached",
        "",
        "The chance that a task is begun in time to end it and be inside by the limit, where crews drop tasks from the end of the order.",
    ),
    term("latest-start", "latest start", "", "Start later and the limit is exceeded."),
    term(
        "inputs",
        "calculation inputs",
        "",
        "The figures that every calculation starts from; they stand under Settings with their source.",
    ),
];

const OUTSIDE: &[Term] = &[
    term("worksite", "worksite", "", "A place outside where work is done."),
    term(
        "route",
        "route",
        "",
        "The translation path between two worksites, in minutes; some need an aid that is outside.",
    ),
    term(
        "access-side",
        "access side",
        "",
        "The side from which the work is reached: zenith, nadir, port, starboard, forward, aft, inboard, outboard.",
    ),
    term(
        "outside-list",
        "outside list",
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
];

const RECORD: &[Term] = &[
    term("undo", "undo", "", "One step back of the last change, offered beside what was done."),
    term(
        "held-form",
        "form that was held",
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
];
