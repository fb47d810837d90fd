//! By when it must be done, and by when what it brings in must be inside.

use crate::fit::ready::Ready;
use crate::fit::reasons::{Reason, Unknown};
use crate::fit::snapshot::Snapshot;
use crate::fit::verdict::Judgement;
use crate::places::{ExcursionAt, TaskAt};
use domain::time::Day;
use domain::words::GateName;
use domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};

pub(in crate::fit) fn back_inside(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let flight = ready.snapshot.excursions[excursion].flight;
    let (verdict, reason) = match (ready.snapshot.tasks[task].back_inside_by, flight) {
        (None, _) => (Met, Reason::NoReturnDate),
        (Some(_), None) => (CannotTell, Reason::Unknown(Unknown::Flight { excursion })),
        (Some(by), Some(flight)) if flight <= by => (Met, Reason::BackInTime { flight: by }),
        (Some(by), Some(_)) => (NotMet, Reason::BackTooLate { flight: by }),
    };
    judge.say(GateName::Return, verdict, reason);
}

pub(in crate::fit) fn needed_by(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let here = &ready.snapshot.tasks[task];
    let mut say = |verdict, reason| judge.say(GateName::NeededBy, verdict, reason);
    let has_own = here.needed_by_flight.is_some() || here.needed_by_day.is_some();
    if !has_own && here.bound.is_none() {
        say(Met, Reason::NoNeededBy);
        return;
    }
    let own = if here.late_is_moot { (NotMet, Reason::LateMoot) } else { (Tight, Reason::Late) };
    // Too late to end a constraint in time, the work ends it all the same.
    let bound = (Tight, Reason::AfterBound);
    let asked = [
        (own, flight_late(ready.snapshot, task, excursion)),
        (own, day_late(ready.snapshot, excursion, here.needed_by_day)),
        (bound, day_late(ready.snapshot, excursion, here.bound.as_ref().map(|bound| bound.day))),
    ];
    if has_own {
        say(Met, Reason::InTime);
    }
    if here.bound.is_some() {
        say(Met, Reason::BeforeBound);
    }
    for (late, answer) in asked {
        match answer {
            Ok(true) => say(late.0, late.1),
            Ok(false) => {}
            Err(unknown) => say(CannotTell, Reason::Unknown(unknown)),
        }
    }
}

/// Whether an excursion comes after the date by which a task is needed, as far as that can be told.
pub fn comes_late(snapshot: &Snapshot, task: TaskAt, excursion: ExcursionAt) -> bool {
    let by = snapshot.tasks[task].needed_by_day;
    let late = [flight_late(snapshot, task, excursion), day_late(snapshot, excursion, by)];
    late.contains(&Ok(true))
}

fn flight_late(snapshot: &Snapshot, task: TaskAt, excursion: ExcursionAt) -> Result<bool, Unknown> {
    let Some(by) = snapshot.tasks[task].needed_by_flight else { return Ok(false) };
    let flight = snapshot.excursions[excursion].flight;
    flight.map(|flight| flight > by).ok_or(Unknown::Flight { excursion })
}

/// Where the excursion's day is not known, its flight's launch and landing may still tell.
fn day_late(snapshot: &Snapshot, excursion: ExcursionAt, by: Option<Day>) -> Result<bool, Unknown> {
    let Some(by) = by else { return Ok(false) };
    let here = &snapshot.excursions[excursion];
    if let Some(day) = here.day {
        return Ok(day > by);
    }
    let flight = here.flight.map(|flight| &snapshot.flights[flight]);
    if flight.and_then(|flight| flight.landing).is_some_and(|landing| landing <= by) {
        return Ok(false);
    }
    if flight.and_then(|flight| flight.launch).is_some_and(|launch| launch > by) {
        return Ok(true);
    }
    Err(Unknown::Day { excursion })
}
