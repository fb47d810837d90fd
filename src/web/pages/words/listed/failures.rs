//! Terms of approaches, failures and remedies.

use super::term;
use crate::pages::words::Term;

pub(super) const FAILURES: &[Term] = &[
    term(
        "technique",
        "technique",
        "",
        "How a kind of work is done: steps, tools, seats, minutes and revision. Its steps here are a summary: the certified procedure governs.",
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
        "second person, review",
        "",
        "Reviewing, verifying and clearing need another account than those that wrote, edited or did the thing.",
    ),
    term(
        "revision",
        "revision",
        "",
        "One numbered state of a technique. Attempts keep the revision that they used; a later one may change the work.",
    ),
    term(
        "cleared",
        "cleared",
        "k-done",
        "Said of a revision: another person than its author has seen evidence that it works.",
    ),
    term(
        "rehearsal",
        "rehearsal",
        "",
        "A run of a technique on the ground, in a tank or on a mock-up, with its revision and side.",
    ),
    term(
        "trained",
        "trained, qualification",
        "",
        "A crew code that has learnt a technique, with date, revision and side.",
    ),
    term(
        "failure-report",
        "failure report",
        "",
        "The elements that a public standard asks for about one failure, collected from its attempt, finding and remedy.",
    ),
    term(
        "open-action",
        "open action",
        "",
        "The next step that a failure, finding or remedy waits for, with its owner and due date.",
    ),
    term(
        "declined",
        "declined offer, dismissed",
        "",
        "An approach that worked on a sister unit and was dismissed for one unit, with the reason.",
    ),
    term(
        "similar",
        "similar attempts",
        "",
        "Attempts on other units that share cause, approach, tools or words with this one.",
    ),
];
