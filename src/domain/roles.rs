//! Who may do what. (The whole table follows.)

use crate::domain::kinds::Kind;
use crate::domain::words::Role;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    Read,
    EditTask,
    ManagePeople,
}

pub fn may(role: Role, action: Action) -> bool {
    match action {
        Action::Read => true,
        Action::EditTask => matches!(role, Role::Engineer | Role::Lead),
        Action::ManagePeople => role == Role::Administrator,
    }
}

pub fn action_for(_kind: Kind) -> Action {
    Action::EditTask
}

pub fn refusal(role: Role, action: Action) -> String {
    format!("A {role} may not do this ({action:?}); ask somebody who may.")
}
