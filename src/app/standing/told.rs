//! What the attempts of a task tell, and which remedies they show not to have held.

use crate::dossier::Dossier;
use crate::standing::tries::Tries;
use domain::codes::TaskCode;
use domain::repeat_guard::tells;
use domain::waits::waits_for_finding;
use store::told::{AttemptTells, NotHeldRow};

/// The attempts of which something else is stored than what they tell.
pub(super) fn told(dossier: &Dossier, task: &TaskCode, is_open_item: bool) -> Vec<AttemptTells> {
    let attempts = dossier.events.attempts_of(task).iter();
    attempts
        .filter_map(|tried| {
            let says = tells(&dossier.account(tried));
            let told = AttemptTells {
                attempt: tried.code.clone(),
                tells: says,
                cause: Dossier::cause_of(tried).cloned(),
                unexplained: waits_for_finding(says, tried.has_finding, is_open_item),
            };
            let is_stored = told.tells == tried.told
                && told.cause == tried.told_cause
                && told.unexplained == tried.unexplained;
            (!is_stored).then_some(told)
        })
        .collect()
}

/// The failures on a task that came after a verified remedy, in the order of the codes.
pub(super) fn not_held(tries: &Tries<'_>, task: &TaskCode) -> Vec<NotHeldRow> {
    tries
        .not_held(task)
        .map(|one| NotHeldRow {
            task: task.clone(),
            remedy: one.remedy.clone(),
            attempt: one.attempt.clone(),
            is_answered: one.is_answered,
        })
        .collect()
}
