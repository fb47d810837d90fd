//! Who may do what (docs/rules.md, rule 12), role by role.

use super::*;
use crate::cells::Cells;
use crate::records::Record;

use Action::*;
use Role::{Administrator, Engineer, Lead, Viewer};

/// The whole list of each role.
const OF_ENGINEERS: &[Action] = &[
    CreateTask,
    EditTask,
    TriggerTask,
    RecordAttempt,
    PressOnTheDay,
    Pencil,
    WithdrawOwnPencil,
    DeferInFlight,
    KeepWorksites,
    KeepRoutes,
    KeepFamilies,
    KeepUnits,
    KeepTechniques,
    KeepInhibits,
    ClearRevision,
    KeepTools,
    CountTools,
    KeepOutside,
    KeepConstraints,
    LiftConstraint,
    KeepFiles,
    WriteFinding,
    ReviewFinding,
    WriteRemedy,
    VerifyRemedy,
    WriteExemption,
    ReviewExemption,
];
const OF_LEADS: &[Action] = &[
    WithdrawAnyPencil,
    SetSlot,
    Waive,
    DeferBeforeLaunch,
    CloseExcursion,
    ReopenExcursion,
    CallOff,
    CloseTask,
    ReopenTask,
    Park,
    Drop,
    SetClass,
    SetNeededBy,
    SetLinks,
    KeepFlights,
    KeepExcursions,
    AcceptProposal,
    KeepCauses,
];
const OF_ADMINISTRATORS: &[Action] = &[ManagePeople, KeepCauses, Settings, ImportHistory];

fn allowed(role: Role) -> Vec<Action> {
    Action::ALL.iter().copied().filter(|action| may(role, *action)).collect()
}

fn sorted(parts: &[&[Action]]) -> Vec<Action> {
    let mut all = [&[Read, KeepOwnViews], parts.concat().as_slice()].concat();
    all.sort();
    all
}

#[test]
fn a_viewer_reads() {
    assert_eq!(allowed(Viewer), sorted(&[]));
}

#[test]
fn an_engineer_keeps_the_record() {
    assert_eq!(allowed(Engineer), sorted(&[OF_ENGINEERS]));
}

#[test]
fn a_lead_does_what_an_engineer_does_and_decides() {
    assert_eq!(allowed(Lead), sorted(&[OF_ENGINEERS, OF_LEADS]));
}

#[test]
fn an_administrator_is_not_a_lead() {
    assert_eq!(allowed(Administrator), sorted(&[OF_ADMINISTRATORS]));
}

#[test]
fn the_refusal_says_who_may() {
    assert_eq!(
        refusal(Viewer, CreateTask),
        "A viewer may not create tasks. Ask an engineer or a lead."
    );
    assert_eq!(
        refusal(Engineer, SetSlot),
        "An engineer may not set, move and unset slots. Ask a lead."
    );
    assert_eq!(refusal(Lead, ManagePeople), "A lead may not manage people. Ask an administrator.");
    assert!(refusal(Administrator, Waive).starts_with("An administrator may not"));
}

#[test]
fn each_kind_of_record_has_its_keeper() {
    let of = |role: Role| -> Vec<&str> {
        let kinds = Kind::ALL.iter().filter(|kind| may(role, action_for(**kind)));
        kinds.map(|kind| kind.word()).collect()
    };
    let engineers = [
        "worksite",
        "family",
        "position",
        "unit",
        "technique",
        "tool",
        "task",
        "slot",
        "attempt",
        "deferral",
        "finding",
        "remedy",
        "exemption",
        "rehearsal",
        "outside item",
        "constraint",
        "excursion tool",
        "route",
        "inhibit",
        "arrangement",
        "qualification",
        "revision",
        "declined offer",
        "file",
        "view",
    ];
    let leads_alone = ["flight", "excursion", "link", "closure", "parking", "reopening", "cause"];

    assert_eq!(of(Viewer), ["view"]);
    assert_eq!(of(Engineer), engineers);
    assert_eq!(of(Administrator), ["cause", "settings", "suit rates", "person", "view"]);
    let mut both: Vec<&str> = [&engineers[..], &leads_alone[..]].concat();
    let mut of_leads = of(Lead);
    both.sort_unstable();
    of_leads.sort_unstable();
    assert_eq!(of_leads, both);
}

#[test]
fn a_deferral_before_launch_is_the_leads() {
    assert_eq!(deferral_action(DeferralPhase::BeforeLaunch), DeferBeforeLaunch);
    assert_eq!(deferral_action(DeferralPhase::BeforeEgress), DeferInFlight);
    assert_eq!(deferral_action(DeferralPhase::During), DeferInFlight);
}

fn task(pairs: &[(&str, &str)]) -> Task {
    let mut cells = Cells::default();
    cells.set("title", "Free the hinge pin");
    for (name, text) in pairs {
        cells.set(*name, *text);
    }
    Task::parse(&cells).unwrap()
}

#[test]
fn class_and_needed_by_ask_for_a_lead_in_whatever_form_they_come() {
    let plain = task(&[]);
    assert_eq!(task_actions(None, &plain), [CreateTask]);
    assert_eq!(task_actions(Some(&plain), &task(&[("notes", "torn")])), [EditTask]);

    let classed = task(&[("class", "2")]);
    assert_eq!(task_actions(None, &classed), [CreateTask, SetClass]);
    assert_eq!(task_actions(Some(&classed), &plain), [EditTask, SetClass]);
    assert_eq!(task_actions(Some(&classed), &classed), [EditTask]);
    for (field, text) in [
        ("needed_by_flight", "G-38"),
        ("needed_by_day", "2031-03-18"),
        ("late_means", "the radiator stays off"),
        ("late_is_moot", "yes"),
    ] {
        let needed = task(&[(field, text)]);
        assert_eq!(task_actions(Some(&plain), &needed), [EditTask, SetNeededBy], "{field}");
        assert_eq!(column_action(Kind::Task, field), Some(SetNeededBy), "{field}");
    }
    assert_eq!(column_action(Kind::Task, "class"), Some(SetClass));
    assert_eq!(column_action(Kind::Task, "title"), None);
    let triggered = task(&[("triggered", "yes")]);
    assert_eq!(task_actions(Some(&plain), &triggered), [EditTask, TriggerTask]);
}
