//! The gates: each looks at the snapshot, or at the place found, and says its verdict with
//! reasons.

mod dates;
mod fallbacks;
mod hardware;
mod inhibits;
mod practice;
mod pushes;
mod supplies;
mod windows;

use crate::places::{ApproachAt, ExcursionAt, TaskAt};
pub use dates::comes_late;
pub(super) use dates::{back_inside, needed_by};
pub(super) use fallbacks::{fallbacks, fallbacks_trained};
pub(super) use hardware::{bag, remedies, tool, tools};
pub(super) use inhibits::{inhibits, late_inhibits};
pub(super) use practice::{rehearsal, trained};
pub(super) use pushes::pushes;
pub(super) use supplies::{supplies, supplies_without_place, verdict};
pub(super) use windows::{arm, lighting};

use super::place::nearest;
use super::ready::Ready;
use super::reasons::{Reason, Unknown};
use super::snapshot::{Guard, Standing};
use super::verdict::Judgement;
use domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};
use domain::words::{GateName, GateVerdict};

/// Says beside a verdict by chance that nobody accepted the bounds it rests on.
pub(in crate::fit) fn bounds(
    ready: &Ready,
    gate: GateName,
    verdict: GateVerdict,
    judge: &mut impl Judgement,
) {
    if ready.constants.accepted.bounds {
        return;
    }
    let per_cent = |chance: f64| u8::try_from(nearest(chance * 100.0)).unwrap_or_default();
    let (tight, met) = (per_cent(ready.constants.tight_from), per_cent(ready.constants.met_from));
    judge.say(gate, verdict, Reason::BoundsNotAccepted { tight, met });
}

pub(in crate::fit) fn small(count: usize) -> u8 {
    u8::try_from(count).unwrap_or(u8::MAX)
}

/// Seats that the task takes by that approach; `None` where the record does not say.
pub(in crate::fit) fn seats_taken(
    ready: &Ready,
    task: TaskAt,
    approach: Option<ApproachAt>,
) -> Option<usize> {
    let task = &ready.snapshot.tasks[task];
    approach.and_then(|at| task.approaches[at].seats).or(task.seats)
}

pub(in crate::fit) fn seats(
    ready: &Ready,
    task: TaskAt,
    approach: Option<ApproachAt>,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let there = ready.snapshot.excursions[excursion].seats.len();
    let takes = seats_taken(ready, task, approach);
    if there == 0 {
        let what = Unknown::Seats { excursion };
        judge.say(GateName::Seats, CannotTell, Reason::Unknown(what));
    }
    match takes {
        None => {
            let what = Unknown::TaskSeats { task };
            judge.say(GateName::Seats, CannotTell, Reason::Unknown(what));
        }
        Some(takes) if there > 0 && takes > there => {
            let reason = Reason::SeatsTooFew { takes: small(takes), there: small(there) };
            judge.say(GateName::Seats, NotMet, reason);
        }
        Some(takes) if there > 0 => {
            let reason = Reason::SeatsEnough { takes: small(takes), there: small(there) };
            judge.say(GateName::Seats, Met, reason);
        }
        Some(_) => {}
    }
}

pub(in crate::fit) fn approach(
    ready: &Ready,
    task: TaskAt,
    chosen: Option<ApproachAt>,
    judge: &mut impl Judgement,
) {
    let Some(at) = chosen else {
        judge.say(GateName::Approach, CannotTell, Reason::ApproachNotNamed);
        return;
    };
    let (verdict, reason) = guarded(ready.snapshot.tasks[task].approaches[at].guard, at);
    judge.say(GateName::Approach, verdict, reason);
}

/// What the repeat guard's word on an approach means for the check.
pub(in crate::fit) const fn guarded(guard: Guard, approach: ApproachAt) -> (GateVerdict, Reason) {
    match guard {
        Guard::Free => (Met, Reason::ApproachFree { approach }),
        Guard::Questioned => (Tight, Reason::ApproachQuestioned { approach }),
        Guard::Blocked => (NotMet, Reason::ApproachBlocked { approach }),
        Guard::NotRecorded => (CannotTell, Reason::ApproachNotRecorded { approach }),
        Guard::Drafted => (NotMet, Reason::ApproachDrafted { approach }),
        Guard::Withdrawn => (NotMet, Reason::ApproachWithdrawn { approach }),
    }
}

pub(in crate::fit) fn order(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let tasks = &ready.snapshot.tasks;
    let here = &tasks[task];
    let mut say = |verdict, reason| judge.say(GateName::Order, verdict, reason);
    let all = if here.needs.is_empty() { Reason::NothingNeeded } else { Reason::NeedsMet };
    say(Met, all);
    if here.waits_for_trigger {
        say(NotMet, Reason::WaitsForTrigger);
    }
    for &need in &here.needs {
        let other = need;
        match (tasks[need].standing, ready.placed[need]) {
            (Standing::Dropped, _) => say(NotMet, Reason::NeedsDropped { task: other }),
            (Standing::Open | Standing::Resting, Some((when, _))) if when > excursion => {
                say(NotMet, Reason::NeedsSetLater { task: other, excursion: when });
            }
            (Standing::Done, _) | (Standing::Open | Standing::Resting, Some(_)) => {}
            (Standing::Open | Standing::Resting, None) => {
                say(NotMet, Reason::NeedsOpen { task: other });
            }
        }
    }
    for &with in &here.same_visit {
        let open = matches!(tasks[with].standing, Standing::Open | Standing::Resting);
        match ready.placed[with] {
            Some((when, _)) if open && when != excursion => {
                let reason = Reason::SameVisitElsewhere { task: with, excursion: when };
                say(NotMet, reason);
            }
            None if open => say(Met, Reason::SameVisitTogether { task: with }),
            Some(_) | None => {}
        }
    }
    for &then in &ready.needed_by[task] {
        if let Some((when, _)) = ready.placed[then].filter(|&(when, _)| when < excursion) {
            say(Met, Reason::NeededBefore { task: then, excursion: when });
        }
    }
    for &other in &here.instead_of {
        if let Some((when, _)) = ready.placed[other] {
            say(Met, Reason::InsteadOfSet { task: other, excursion: when });
        }
    }
}
