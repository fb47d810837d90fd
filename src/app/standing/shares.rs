//! The set shares of a task never exceed the share left: what an earlier result leaves less of is
//! taken from the slots that come last.

use crate::dossier::Dossier;
use domain::codes::{SlotCode, TaskCode};
use domain::history::Visit;
use domain::units::Share;
use domain::words::{SlotState, TaskState};
use store::history::SlotRow;

/// What becomes of a set slot that plans more than is left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SlotCut {
    pub slot: SlotCode,
    /// `None`: nothing is left for it.
    pub to: Option<Share>,
}

/// The set slots ahead that have to plan less, those on later excursions first to give way.
pub(super) fn too_much(
    dossier: &Dossier,
    task: &TaskCode,
    state: TaskState,
    left: Share,
) -> Vec<SlotCut> {
    if !state.is_open_item() {
        return Vec::new();
    }
    let calendar = &dossier.calendar;
    let mut ahead: Vec<&SlotRow> = dossier
        .events
        .slots_of(task)
        .iter()
        .filter(|held| held.state == SlotState::Set)
        .filter(|held| calendar.visit(&held.excursion) == Visit::Ahead)
        .collect();
    ahead.sort_by_key(|held| {
        let on = calendar.excursions.get(&held.excursion);
        // One that plans whatever is left takes what the others leave.
        (held.share.is_none(), on.map(|on| (on.flight.is_none(), on.flight, on.rank)), held.entry)
    });
    let mut free = left.0;
    let mut cuts = Vec::new();
    for held in ahead {
        let wanted = held.share.map_or(free.max(1), |share| share.0);
        if wanted > free {
            let to = (free > 0).then_some(Share(free));
            cuts.push(SlotCut { slot: held.code.clone(), to });
        }
        free = (free - wanted).max(0);
    }
    cuts
}
