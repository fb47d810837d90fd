//! Who may do what, as one table. What nobody may do to their own work stands in `four_eyes`.

use crate::kinds::Kind;
use crate::tasks::Task;
use crate::words::{DeferralPhase, Role};

/// Defines the actions, each with who may do it and how a sentence names it.
macro_rules! actions {
    ($($action:ident: $who:ident, $doing:literal);+ $(;)?) => {
        /// One kind of operation; pages, command line and import ask the same table.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Action { $($action),+ }

        impl Action {
            pub const ALL: &'static [Self] = &[$(Self::$action),+];

            const fn who(self) -> Who {
                match self { $(Self::$action => Who::$who),+ }
            }

            /// As in “a viewer may not create tasks”.
            pub const fn doing(self) -> &'static str {
                match self { $(Self::$action => $doing),+ }
            }
        }
    };
}

/// Who may do it. A lead may do what an engineer may; an administrator may not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Who {
    Everyone,
    Engineers,
    Leads,
    Administrators,
    LeadsAndAdministrators,
}

actions! {
    Read: Everyone, "read";
    KeepOwnViews: Everyone, "save views";
    CreateTask: Engineers, "create tasks";
    EditTask: Engineers, "edit tasks";
    TriggerTask: Engineers, "mark a condition as met";
    RecordAttempt: Engineers, "record attempts";
    PressOnTheDay: Engineers, "press on the board of the day";
    Pencil: Engineers, "pencil slots";
    WithdrawOwnPencil: Engineers, "withdraw their own pencils";
    DeferInFlight: Engineers, "enter deferrals that happened in flight";
    KeepWorksites: Engineers, "keep worksites";
    KeepRoutes: Engineers, "keep routes";
    KeepFamilies: Engineers, "keep families";
    KeepUnits: Engineers, "keep units and positions";
    KeepTechniques: Engineers, "keep techniques, rehearsals and qualifications";
    KeepInhibits: Engineers, "keep inhibits and what is arranged";
    ClearRevision: Engineers, "clear revisions of techniques";
    KeepTools: Engineers, "keep tools";
    CountTools: Engineers, "count the tools of an excursion";
    KeepOutside: Engineers, "keep the outside list";
    KeepConstraints: Engineers, "keep constraints on the vehicle";
    LiftConstraint: Engineers, "lift constraints on the vehicle";
    KeepFiles: Engineers, "keep photographs and files";
    WriteFinding: Engineers, "write findings";
    ReviewFinding: Engineers, "review findings";
    WriteRemedy: Engineers, "write remedies";
    VerifyRemedy: Engineers, "verify remedies";
    WriteExemption: Engineers, "write exemptions";
    ReviewExemption: Engineers, "review exemptions";
    WithdrawAnyPencil: Leads, "withdraw other people's pencils";
    SetSlot: Leads, "set, move and unset slots";
    Waive: Leads, "write waivers";
    DeferBeforeLaunch: Leads, "defer tasks before launch";
    CloseExcursion: Leads, "close excursions";
    ReopenExcursion: Leads, "reopen excursions";
    CallOff: Leads, "call excursions off";
    CloseTask: Leads, "close tasks";
    ReopenTask: Leads, "reopen tasks";
    Park: Leads, "park tasks";
    Drop: Leads, "drop tasks";
    SetClass: Leads, "set the class of tasks";
    SetNeededBy: Leads, "set when tasks are needed by";
    SetLinks: Leads, "link tasks";
    KeepFlights: Leads, "keep flights";
    KeepExcursions: Leads, "keep excursions";
    AcceptProposal: Leads, "accept proposals";
    ManagePeople: Administrators, "manage people";
    KeepCauses: LeadsAndAdministrators, "keep the kinds of cause";
    Settings: Administrators, "change settings";
    ImportHistory: Administrators, "import history";
}

/// The one table of who may do what (docs/rules.md, rule 12).
pub const fn may(role: Role, action: Action) -> bool {
    match (action.who(), role) {
        (Who::Everyone, _)
        | (Who::Engineers, Role::Engineer | Role::Lead)
        | (Who::Leads, Role::Lead)
        | (Who::Administrators, Role::Administrator)
        | (Who::LeadsAndAdministrators, Role::Lead | Role::Administrator) => true,
        (Who::Engineers, Role::Viewer | Role::Administrator)
        | (Who::Leads, Role::Viewer | Role::Engineer | Role::Administrator)
        | (Who::Administrators, Role::Viewer | Role::Engineer | Role::Lead)
        | (Who::LeadsAndAdministrators, Role::Viewer | Role::Engineer) => false,
    }
}

/// Why a role may not, and whom to ask.
pub fn refusal(role: Role, action: Action) -> String {
    let ask = match action.who() {
        Who::Everyone => "anyone",
        Who::Engineers => "an engineer or a lead",
        Who::Leads => "a lead",
        Who::Administrators => "an administrator",
        Who::LeadsAndAdministrators => "a lead or an administrator",
    };
    let article = if matches!(role, Role::Engineer | Role::Administrator) { "An" } else { "A" };
    format!("{article} {role} may not {}. Ask {ask}.", action.doing())
}

/// Whoever may write records of that kind, where nobody is named: a lead, else an administrator.
pub fn keeper(kind: Kind) -> Role {
    if may(Role::Lead, action_for(kind)) { Role::Lead } else { Role::Administrator }
}

/// What making or editing a record of that kind takes at the least; where it depends on what the
/// record says, see `task_actions` and `deferral_action`.
pub const fn action_for(kind: Kind) -> Action {
    match kind {
        Kind::Flight => Action::KeepFlights,
        Kind::Worksite => Action::KeepWorksites,
        Kind::Family => Action::KeepFamilies,
        Kind::Position | Kind::Unit => Action::KeepUnits,
        Kind::Technique | Kind::Revision | Kind::Rehearsal | Kind::Qualification => {
            Action::KeepTechniques
        }
        Kind::Inhibit | Kind::Arrangement => Action::KeepInhibits,
        Kind::Tool => Action::KeepTools,
        Kind::Excursion => Action::KeepExcursions,
        Kind::Task => Action::EditTask,
        Kind::Link => Action::SetLinks,
        Kind::Slot => Action::Pencil,
        Kind::Attempt => Action::RecordAttempt,
        Kind::Deferral => Action::DeferInFlight,
        Kind::Closure => Action::CloseTask,
        Kind::Parking => Action::Park,
        Kind::Reopening => Action::ReopenTask,
        Kind::Cause => Action::KeepCauses,
        Kind::Finding => Action::WriteFinding,
        Kind::Remedy => Action::WriteRemedy,
        Kind::Exemption | Kind::Decline => Action::WriteExemption,
        Kind::OutsideItem => Action::KeepOutside,
        Kind::Constraint => Action::KeepConstraints,
        Kind::ExcursionTool => Action::CountTools,
        Kind::Route => Action::KeepRoutes,
        Kind::File => Action::KeepFiles,
        Kind::Settings | Kind::SuitRates => Action::Settings,
        Kind::Person => Action::ManagePeople,
        Kind::View => Action::KeepOwnViews,
    }
}

pub const fn deferral_action(phase: DeferralPhase) -> Action {
    match phase {
        DeferralPhase::BeforeLaunch => Action::DeferBeforeLaunch,
        DeferralPhase::BeforeEgress | DeferralPhase::During => Action::DeferInFlight,
    }
}

/// Everything that one creation (`before` is `None`) or edit of a task takes: class and needed-by are
/// the lead's to say.
pub fn task_actions(before: Option<&Task>, after: &Task) -> Vec<Action> {
    let needed_by = |t: &Task| {
        (t.needed_by_flight.clone(), t.needed_by_day, t.late_means.clone(), t.late_is_moot)
    };
    let first = if before.is_some() { Action::EditTask } else { Action::CreateTask };
    let mut actions = vec![first];
    if before.and_then(|task| task.class) != after.class {
        actions.push(Action::SetClass);
    }
    if before.map_or((None, None, None, false), needed_by) != needed_by(after) {
        actions.push(Action::SetNeededBy);
    }
    if before.is_some_and(|task| task.triggered) != after.triggered {
        actions.push(Action::TriggerTask);
    }
    actions
}

/// What filling one column takes beside writing the record; see `task_actions`.
pub fn column_action(kind: Kind, column: &str) -> Option<Action> {
    match (kind, column) {
        (Kind::Task, "class") => Some(Action::SetClass),
        (Kind::Task, "needed_by_flight" | "needed_by_day" | "late_means" | "late_is_moot") => {
            Some(Action::SetNeededBy)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests;
