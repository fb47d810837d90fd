//! What a role may not import of a kind, said before anybody sends a table.

use crate::{Actor, four_eyes, kinds};
use domain::kinds::Kind;
use domain::roles::{Action, column_action, may};
use domain::words::Role;

/// The columns of a kind that are another role's to fill.
fn columns(role: Role, kind: Kind) -> Vec<(&'static str, &'static str)> {
    kinds::columns(kind)
        .iter()
        .filter(|column| column_action(kind, column.name).is_some_and(|action| !may(role, action)))
        .map(|column| (column.name, column.label))
        .collect()
}

/// The heads that fill such columns, to be left out unless somebody chooses otherwise.
pub(super) fn left_to_others<'h>(
    actor: &Actor,
    kind: Kind,
    filled: &[(&'h str, &'static str)],
) -> Vec<&'h str> {
    let theirs = columns(actor.role, kind);
    let is_theirs = |name: &str| theirs.iter().any(|(column, _)| *column == name);
    filled.iter().filter(|(_, name)| is_theirs(name)).map(|(head, _)| *head).collect()
}

/// What this role may not import of a kind that it may import, a sentence each.
pub fn sentences(role: Role, kind: Kind) -> Vec<String> {
    let mut said = Vec::new();
    let theirs: Vec<&str> = columns(role, kind).into_iter().map(|(_, label)| label).collect();
    if !theirs.is_empty() {
        said.push(format!("A lead sets {}; these columns are left out.", theirs.join(", ")));
    }
    if kind == Kind::Slot && !may(role, Action::SetSlot) {
        said.push("Slots come in pencilled; a lead imports slots that are set.".to_owned());
    }
    if kind == Kind::Deferral && !may(role, Action::DeferBeforeLaunch) {
        said.push("A lead imports deferrals before launch.".to_owned());
    }
    if four_eyes::judging(kind).is_some() && !may(role, Action::ImportHistory) {
        said.push("An administrator imports reviews and verifications, as history.".to_owned());
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_engineer_hears_which_columns_are_a_leads_and_a_lead_hears_nothing_of_them() {
        let said = sentences(Role::Engineer, Kind::Task).join(" ");
        assert!(said.contains("Class") && said.contains("Needed by flight"), "{said}");
        assert!(sentences(Role::Lead, Kind::Task).is_empty());
        assert!(sentences(Role::Engineer, Kind::Tool).is_empty());
        assert!(sentences(Role::Engineer, Kind::Slot)[0].contains("pencilled"));
    }
}
