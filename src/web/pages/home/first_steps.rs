//! The first steps on an empty record, as the first page shows them.

use app::first_steps::{FirstSteps, Step};
use domain::words::Role;

pub(super) struct FirstStepsView {
    pub lead: &'static str,
    pub yours: Vec<StepView>,
    pub theirs: Vec<StepView>,
    /// Whether this person may import the tables of the team instead.
    pub may_import: bool,
}

pub(super) struct StepView {
    pub words: &'static str,
    pub why: &'static str,
    pub form: &'static str,
    pub who: &'static str,
    pub is_done: bool,
}

pub(super) fn view(steps: FirstSteps, role: Role) -> FirstStepsView {
    FirstStepsView {
        lead: match role {
            Role::Administrator => {
                "Add people first. They enter flights, tasks and results, or import tables of them."
            }
            Role::Lead => "Enter what is coming. Tables of your own can be imported instead.",
            Role::Engineer => "Enter where work is and what is left to do.",
            Role::Viewer => {
                "You will read here which tasks are open, on which excursion each is planned, and \
                 what is at risk of being late. Nothing is entered yet."
            }
        },
        may_import: matches!(role, Role::Lead | Role::Engineer),
        yours: steps.yours.into_iter().map(step).collect(),
        theirs: steps.theirs.into_iter().map(step).collect(),
    }
}

fn step(step: Step) -> StepView {
    let Step { words, why, form, who, is_done, action: _ } = step;
    StepView { words, why, form, who, is_done }
}
