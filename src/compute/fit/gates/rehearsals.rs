//! Whether the approach was rehearsed: in a tank or at 1 g, in this revision, from this side, and
//! not too long ago. An analysis is no rehearsal, and a failed run is none either.

use crate::compute::fit::ready::Ready;
use crate::compute::fit::reasons::{Reason, Unknown, index};
use crate::compute::fit::snapshot::{Approach, ExcursionAt, Rehearsal};
use crate::compute::fit::verdict::Judgement;
use crate::domain::time::Day;
use crate::domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};
use crate::domain::words::{GateName, GateVerdict, RehearsalKind};

pub(in crate::compute::fit) fn rehearsal(
    ready: &Ready,
    approach: Option<&Approach>,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    if !ready.constants.rehearsal_checked {
        return;
    }
    let (verdict, reason) = match approach {
        Some(approach) => judged(ready, approach, excursion),
        None => (CannotTell, Reason::ApproachNotNamed),
    };
    judge.say(GateName::Rehearsal, verdict, reason);
}

fn judged(ready: &Ready, approach: &Approach, excursion: ExcursionAt) -> (GateVerdict, Reason) {
    let counts = |run: &&Rehearsal| run.success && run.kind != RehearsalKind::Analysis;
    let runs = || approach.rehearsals.iter().filter(counts);
    if runs().next().is_none() {
        return if approach.rehearsal_demanded {
            (NotMet, Reason::NeverRehearsedDemanded)
        } else {
            (Tight, Reason::NeverRehearsed)
        };
    }
    let this_side = |run: &&Rehearsal| run.side.is_none() || run.side == approach.side;
    if !runs().any(|run| this_side(&run)) {
        return (Tight, Reason::RehearsedOtherSide);
    }
    let newest = |run: &&Rehearsal| {
        approach.revision.is_none_or(|revision| run.revision.is_none_or(|of| of >= revision))
    };
    if !runs().filter(this_side).any(|run| newest(&run)) {
        return (Tight, Reason::RehearsedOlderRevision);
    }
    let last = runs().filter(this_side).filter(newest).filter_map(|run| run.day).max();
    let (Some(last), Some(day)) = (last, day_of(ready, excursion)) else {
        let what = Unknown::Day { excursion: index(excursion) };
        return match last {
            Some(_) => (CannotTell, Reason::Unknown(what)),
            None => (CannotTell, Reason::RehearsedUndated),
        };
    };
    let ago = day.since(last);
    let days = i32::try_from(ago).unwrap_or(i32::MAX);
    if ago > ready.constants.rehearsal_days {
        (Tight, Reason::RehearsedLongAgo { days })
    } else {
        (Met, Reason::Rehearsed { days })
    }
}

/// The day of the excursion; where it is not set yet, its flight's launch.
fn day_of(ready: &Ready, excursion: ExcursionAt) -> Option<Day> {
    let here = &ready.snapshot.excursions[excursion];
    here.day.or_else(|| ready.snapshot.flights[here.flight?].launch)
}
