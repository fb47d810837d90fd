//! The first steps on an empty record: who takes which, and which are done, as the record has it.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::Failure;
use domain::roles::{Action, may};
use domain::words::Role;
use store::first_steps::{self, FirstStepsTaken};

/// One step, in the order in which they follow on each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    pub words: &'static str,
    pub why: &'static str,
    /// The form on which it is taken.
    pub form: &'static str,
    pub action: Action,
    /// Who takes it, in words.
    pub who: &'static str,
    pub is_done: bool,
}

/// What a role can do now, and what the others still do.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FirstSteps {
    pub yours: Vec<Step>,
    pub theirs: Vec<Step>,
}

/// The first steps, as long as one is left to take; nothing on a record that has taken them all.
#[boxed]
pub async fn read(db: &mut SqliteConnection, role: Role) -> Result<Option<FirstSteps>, Failure> {
    let steps = steps(first_steps::given(db).await?);
    if steps.iter().all(|step| step.is_done) {
        return Ok(None);
    }
    let (yours, theirs) = steps.into_iter().partition(|step| may(role, step.action));
    Ok(Some(FirstSteps { yours, theirs }))
}

fn steps(given: FirstStepsTaken) -> [Step; 6] {
    [
        Step {
            words: "Add the people",
            why: "A lead plans, engineers keep the record, viewers read. Two people are needed: \
                  what one writes, another reviews.",
            form: "/people",
            action: Action::ManagePeople,
            who: "administrator",
            is_done: given.people,
        },
        Step {
            words: "Add a flight",
            why: "With its launch date. Excursions belong to flights.",
            form: "/flights/new",
            action: Action::KeepFlights,
            who: "lead",
            is_done: given.flight,
        },
        Step {
            words: "Add an excursion",
            why: "With its date, its seats and its limit. Open tasks are judged against it.",
            form: "/excursions/new",
            action: Action::KeepExcursions,
            who: "lead",
            is_done: given.excursion,
        },
        Step {
            words: "Add the worksites",
            why: "The airlock first, then where work is. Routes between them give travel times.",
            form: "/worksites/new",
            action: Action::KeepWorksites,
            who: "engineer",
            is_done: given.worksite,
        },
        Step {
            words: "Add the families",
            why: "A family is units of the same design: a failure on one questions the approach on all.",
            form: "/families/new",
            action: Action::KeepFamilies,
            who: "engineer",
            is_done: given.family,
        },
        Step {
            words: "Add the tasks",
            why: "What was left over: failed, deferred or never tried.",
            form: "/tasks/new",
            action: Action::CreateTask,
            who: "engineer",
            is_done: given.task,
        },
    ]
}
