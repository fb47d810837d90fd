//! Terms of times, chances and the day itself.

use super::term;
use crate::pages::words::Term;

pub(super) const TIMES: &[Term] = &[
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
        "time left, margin",
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
    term(
        "latest-start",
        "latest start, start by",
        "",
        "Of a plan: start later and the limit is exceeded, at expected minutes and with every task after it kept.",
    ),
    term(
        "latest-start-alone",
        "latest start alone",
        "",
        "On the board of the day: the last minute at which a task may start so that its own seats are inside by the limit at P80, with the tasks after it dropped.",
    ),
    term(
        "inputs",
        "calculation inputs",
        "",
        "The figures that every calculation starts from; they stand under Settings with their source.",
    ),
    term(
        "egress",
        "egress",
        "",
        "From the start of PET until the seats are out of the airlock and the first task can begin.",
    ),
    term(
        "ingress",
        "ingress",
        "",
        "From the return to the airlock until repressurisation. It begins when the last seat is back.",
    ),
    term(
        "setup",
        "setup, cleanup",
        "",
        "Minutes at a worksite before and after the work, on every visit.",
    ),
    term(
        "estimate",
        "three-point estimate",
        "",
        "Optimistic, likely and pessimistic minutes of work; mean and spread follow from the three.",
    ),
    term("slack", "slack", "", "How much later a task can start before the limit is exceeded."),
    term(
        "chance",
        "chance",
        "",
        "The share of simulated runs in which it happens, if every task succeeds. It is no promise.",
    ),
    term(
        "simulated",
        "simulated runs",
        "",
        "Fixed sets of minutes, drawn from the estimates and from what an excursion shares; the same record gives the same figures.",
    ),
    term(
        "crew-day",
        "crew-day factor",
        "",
        "One factor for all work of an excursion: some days everything takes longer, some days shorter.",
    ),
    term(
        "supplies",
        "suit supplies",
        "",
        "Oxygen, carbon dioxide scrubber, cooling water and battery of each suit; the one that runs out first decides.",
    ),
    term(
        "reserve",
        "reserve",
        "",
        "Minutes of every suit supply that are never planned. Emergency oxygen never counts.",
    ),
    term(
        "suit-rates",
        "suit rates",
        "",
        "How much oxygen, water and power a seat uses, by work rate: light, moderate, heavy.",
    ),
    term(
        "default",
        "default, no source",
        "",
        "A figure of the program that the team has neither entered nor accepted. What matters to safety is shown as such.",
    ),
];

pub(super) const DAY: &[Term] = &[
    term(
        "board",
        "the day, board",
        "",
        "The page of one excursion while it is flown: PET, seats, remaining tasks, what can be dropped. It commands nothing.",
    ),
    term(
        "press",
        "press",
        "",
        "One entry on the board: started, done, at stopping point, not completed, dropped. Each counts once and can be undone.",
    ),
    term(
        "practice",
        "practice",
        "",
        "The same board on a copy that leaves no record, with a simulated crew.",
    ),
    term(
        "remaining",
        "remaining tasks",
        "",
        "Tasks of the excursion that have not ended, re-timed from now at P50.",
    ),
    term("in-hand", "in hand", "", "Time between the expected start and the latest start."),
    term(
        "drop-set",
        "drop set",
        "k-drop",
        "The tasks to drop, or to shorten, so that the rest ends inside the limit with at least the chance asked for. The best one keeps the most value.",
    ),
    term(
        "stopping-point",
        "stopping point",
        "k-part",
        "Where a task can be left safely before its end, and how much of it is done by then.",
    ),
    term(
        "fallback",
        "fallback, if–then",
        "",
        "What follows where the approach of a slot does not work: an ordered list, each step with its trigger and the chance that it is needed. The last may be to leave it as is.",
    ),
    term(
        "turn-back",
        "turn back by",
        "k-turn",
        "The PET at which a seat has to end work to be inside by the limit at P80: cleanup, travel and ingress are counted.",
    ),
    term(
        "late-card",
        "late card",
        "",
        "One sheet for the excursion: for each milestone and lateness, what to keep, shorten or drop, and when to turn back.",
    ),
    term(
        "milestone",
        "milestone",
        "",
        "A point at which lateness is read: the end of egress, or the end of a task.",
    ),
    term(
        "replayed",
        "chances and what was reached",
        "",
        "Flown excursions replayed from their plans at launch: the chances shown then beside what was reached.",
    ),
];
