//! What a form asks of the role of who sends it, as one table over the routes: the guard refuses
//! before the form is read further and before anything waits for the one writer. What depends on
//! the record is asked by its operation.

use crate::addresses;
use app::import;
use domain::kinds::Kind;
use domain::roles::{Action, action_for, may, refusal};
use domain::words::Role;

/// Why a role may not send a form to this route; `None` where it may.
pub(crate) fn refuses(role: Role, route: &str) -> Option<String> {
    if route.starts_with("/import") {
        return import::refuses(role);
    }
    let action = action_at(route).filter(|action| !may(role, *action))?;
    Some(refusal(role, action))
}

/// What a form to this route takes at the least; nothing where everybody signed in may send it.
fn action_at(route: &str) -> Option<Action> {
    Some(match route {
        "/constraints/{code}/lift" | "/constraints/{code}/put-back" => Action::LiftConstraint,
        "/findings/{code}/review" => Action::ReviewFinding,
        "/exemptions/{code}/review" => Action::ReviewExemption,
        "/declined-offers/{code}/undo" | "/declined-offers/{code}/take-back" => {
            Action::WriteExemption
        }
        "/remedies/{code}/move" => Action::WriteRemedy,
        "/files/new" | "/files/{code}/remove" | "/files/put-back/{entry}" => Action::KeepFiles,
        "/outside/settle" | "/outside/{code}/end" => Action::KeepOutside,
        "/open" | "/open/together" | "/parkings/{codes}/undo" => Action::Park,
        "/settings/suits/accept" | "/settings/figures/accept" => Action::Settings,
        "/slots"
        | "/slots/new"
        | "/slots/{code}/edit"
        | "/slots/{code}/if-then"
        | "/slots/{code}/{act}"
        | "/excursions/{code}/slots"
        | "/excursions/{code}/slots/{slot}/{act}"
        | "/excursions/{code}/undo/{number}" => Action::Pencil,
        "/attempts/new"
        | "/attempts/{code}/edit"
        | "/attempts/{code}/withdraw"
        | "/excursions/{code}/debrief"
        | "/excursions/{code}/debrief/rows"
        | "/excursions/{code}/debrief/undo"
        | "/excursions/{code}/debrief/take-back" => Action::RecordAttempt,
        "/attempts/{code}/finding" => Action::WriteFinding,
        "/tasks/new" | "/outside/{code}/task" => Action::CreateTask,
        "/tasks/{code}/condition-met" | "/tasks/{code}/trigger" => Action::TriggerTask,
        "/people" | "/people/{name}/role" | "/people/{name}/active" | "/people/{name}/reset" => {
            Action::ManagePeople
        }
        "/techniques/{code}/revise" => Action::KeepTechniques,
        "/revisions/{code}/clear" | "/revisions/{code}/undo" | "/revisions/{code}/take-back" => {
            Action::ClearRevision
        }
        "/excursions/{code}/inhibits" => Action::KeepInhibits,
        "/excursions/{code}/call-off" => Action::CallOff,
        "/excursions/{code}/flown" => Action::KeepExcursions,
        "/excursions/{code}/debrief/reopen" => Action::ReopenExcursion,
        "/excursions/{code}/day"
        | "/excursions/{code}/day/press"
        | "/excursions/{code}/practice"
        | "/excursions/{code}/practice/{run}"
        | "/excursions/{code}/practice/{run}/press"
        | "/excursions/{code}/practice/{run}/discard" => Action::PressOnTheDay,
        _ => return of_records(route).map(action_for),
    })
}

/// The kind of record that the plain form at this route makes or edits.
fn of_records(route: &str) -> Option<Kind> {
    let (folder, rest) = route.strip_prefix('/')?.split_once('/')?;
    let is_form = rest == "new" || rest == "{code}/edit";
    Kind::ALL.iter().copied().find(|kind| is_form && addresses::folder(*kind) == folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_refused_to_a_role_that_may_not_send_it_and_to_no_other() {
        let refused = |role, route: &str| refuses(role, route).unwrap_or_default();
        for (role, route) in [
            (Role::Engineer, "/attempts/new"),
            (Role::Engineer, "/excursions/{code}/debrief"),
            (Role::Lead, "/flights/{code}/edit"),
            (Role::Administrator, "/settings/new"),
            (Role::Administrator, "/causes/new"),
            (Role::Viewer, "/open/views"),
            (Role::Viewer, "/account/theme"),
        ] {
            assert_eq!(refused(role, route), "", "{role} {route}");
        }
        assert!(refused(Role::Viewer, "/attempts/new").contains("may not record attempts"));
        assert!(refused(Role::Engineer, "/flights/new").contains("may not keep flights"));
        assert!(refused(Role::Administrator, "/tasks/new").contains("may not create tasks"));
        assert!(refused(Role::Viewer, "/import/{code}").contains("may not import tables"));
    }
}
