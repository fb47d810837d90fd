//! Terms of slots and their checks.

use super::term;
use crate::pages::words::Term;

pub(super) const SLOTS: &[Term] = &[
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
        "campaign",
        "",
        "Each excursion as a bar from egress to its limit: flown or set, pencilled, free.",
    ),
    term(
        "verdict",
        "verdict",
        "v-fits",
        "What all checks of a slot come to: fits, tight, does not fit, or cannot tell. The worst check decides.",
    ),
    term(
        "free",
        "free, time free",
        "",
        "The time from the P80 end of an excursion to its limit. It is given with the set tasks alone, and beside it with the pencilled ones.",
    ),
    term(
        "drafted",
        "drafted technique",
        "",
        "A technique that was not rehearsed and not cleared. It can be pencilled, not set.",
    ),
    term(
        "withdrawn",
        "withdrawn",
        "",
        "A slot, a pencil or a technique that no longer counts. The record keeps what it said.",
    ),
    term(
        "called-off",
        "called off",
        "",
        "An excursion that will not be flown. Its slots and pencils are withdrawn and named.",
    ),
    term(
        "burn-up",
        "backlog per flight, burn-up",
        "",
        "Tasks opened and ended, counted after each flight; the gap between both lines is what is open. Dashed: if every set task is done and no new one is opened.",
    ),
    term("lanes", "lanes", "", "One excursion drawn with PET running down and a column per seat."),
    term(
        "waived",
        "waived",
        "",
        "Set although a check is not met: a lead has named the check and the reason.",
    ),
    term(
        "opening",
        "what would make it fit",
        "",
        "One or two changes of the plan that were tried and make the task fit, each with its cost.",
    ),
    term(
        "undo-change",
        "last change",
        "",
        "What the last change did to times, chances and checks; it can be undone.",
    ),
];

pub(super) const CHECKS: &[Term] = &[
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
    term(
        "arranged",
        "arranged, arrangement",
        "",
        "State of an inhibit on one excursion: asked, arranged, in place, released.",
    ),
    term(
        "hazard",
        "hazard",
        "",
        "What can hurt somebody or break something in a task. Hazard controls and flight rules stand above every check and waiver.",
    ),
    term(
        "order-of-work",
        "order of work",
        "",
        "The check that everything a task needs is done or set before it.",
    ),
    term(
        "arm-window",
        "arm window",
        "k-arm",
        "The PET between which the robotic arm supports the crew.",
    ),
    term(
        "lighting",
        "orbital night, beta angle",
        "k-night",
        "When the Sun is behind the Earth. The beta angle, between orbit and Sun, and the altitude decide how long the night is.",
    ),
    term("bag", "bag volume", "", "How many litres can be carried out and in on one excursion."),
];
