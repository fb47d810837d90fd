//! The gates that need no timeline: each looks at the snapshot and says its verdict with reasons.

use super::ready::Ready;
use super::reasons::{Reason, Unknown, index};
use super::snapshot::{Approach, ExcursionAt, Guard, Standing, TaskAt, Tool};
use super::verdict::Judgement;
use crate::domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};
use crate::domain::words::{GateName, RemedyState, ToolState};

pub(super) fn small(count: usize) -> u8 {
    u8::try_from(count).unwrap_or(u8::MAX)
}

/// Seats that the task takes by that approach; `None` where the record does not say.
pub(super) fn seats_taken(ready: &Ready, task: TaskAt, approach: Option<usize>) -> Option<usize> {
    let task = &ready.snapshot.tasks[task];
    approach.and_then(|at| task.approaches[at].seats).or(task.seats)
}

pub(super) fn seats(
    ready: &Ready,
    task: TaskAt,
    approach: Option<usize>,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let there = ready.snapshot.excursions[excursion].seats.len();
    let takes = seats_taken(ready, task, approach);
    if there == 0 {
        let what = Unknown::Seats { excursion: index(excursion) };
        judge.say(GateName::Seats, CannotTell, Reason::Unknown(what));
    }
    match takes {
        None => {
            let what = Unknown::TaskSeats { task: index(task) };
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

pub(super) fn approach(
    ready: &Ready,
    task: TaskAt,
    chosen: Option<usize>,
    judge: &mut impl Judgement,
) {
    let Some(at) = chosen else {
        judge.say(GateName::Approach, CannotTell, Reason::ApproachNotNamed);
        return;
    };
    let approach = index(at);
    let (verdict, reason) = match ready.snapshot.tasks[task].approaches[at].guard {
        Guard::Free => (Met, Reason::ApproachFree { approach }),
        Guard::InQuestion => (Tight, Reason::ApproachInQuestion { approach }),
        Guard::Shut => (NotMet, Reason::ApproachShut { approach }),
        Guard::NotRecorded => (CannotTell, Reason::ApproachNotRecorded { approach }),
        Guard::Withdrawn => (NotMet, Reason::ApproachWithdrawn { approach }),
    };
    judge.say(GateName::Approach, verdict, reason);
}

pub(super) fn order(
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
        let other = index(need);
        match (tasks[need].standing, ready.placed[need]) {
            (Standing::Dropped, _) => say(NotMet, Reason::NeedsDropped { task: other }),
            (Standing::Open | Standing::Resting, Some((when, _))) if when > excursion => {
                say(NotMet, Reason::NeedsSetLater { task: other, excursion: index(when) });
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
                let reason =
                    Reason::SameVisitElsewhere { task: index(with), excursion: index(when) };
                say(NotMet, reason);
            }
            None if open => say(Met, Reason::SameVisitTogether { task: index(with) }),
            Some(_) | None => {}
        }
    }
    for &then in &ready.needed_by[task] {
        if let Some((when, _)) = ready.placed[then].filter(|&(when, _)| when < excursion) {
            say(Met, Reason::NeededBefore { task: index(then), excursion: index(when) });
        }
    }
    for &other in &here.instead_of {
        if let Some((when, _)) = ready.placed[other] {
            say(Met, Reason::InsteadOfSet { task: index(other), excursion: index(when) });
        }
    }
}

pub(super) fn tools(
    ready: &Ready,
    approach: Option<&Approach>,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let tools = approach.map_or(&[][..], |approach| &approach.tools);
    if tools.is_empty() {
        judge.say(GateName::Tools, Met, Reason::NoToolsNamed);
        return;
    }
    judge.say(GateName::Tools, Met, Reason::ToolsAboard { count: small(tools.len()) });
    let flight = ready.snapshot.excursions[excursion].flight;
    for &at in tools {
        let (verdict, reason) = tool(&ready.snapshot.tools[at], at, flight, excursion);
        if verdict != Met {
            judge.say(GateName::Tools, verdict, reason);
        }
    }
}

/// One tool by the time of a flight. Where the record counts none aboard, what is still to come
/// decides; a tool that comes with a flight of unknown order cannot be told.
fn tool(
    tool: &Tool,
    at: usize,
    flight: Option<usize>,
    excursion: ExcursionAt,
) -> (crate::domain::words::GateVerdict, Reason) {
    let name = index(at);
    match tool.state {
        Some(ToolState::Lost) => return (NotMet, Reason::ToolLost { tool: name }),
        Some(ToolState::Broken) => return (NotMet, Reason::ToolBroken { tool: name }),
        Some(ToolState::Usable) | None => {}
    }
    let more_come = before(tool.arrives_with, flight);
    match (tool.aboard, tool.arrives_with) {
        (Some(1), _) if !more_come => (Tight, Reason::ToolLast { tool: name }),
        (Some(1..), _) => (Met, Reason::ToolsAboard { count: 1 }),
        (_, Some(arrives)) => match flight {
            None => (CannotTell, Reason::Unknown(Unknown::Flight { excursion: index(excursion) })),
            Some(flight) if arrives < flight => (Met, Reason::ToolsAboard { count: 1 }),
            Some(flight) if arrives == flight => {
                (Tight, Reason::ToolArrivesWith { tool: name, flight: index(arrives) })
            }
            Some(_) => (NotMet, Reason::ToolArrivesAfter { tool: name, flight: index(arrives) }),
        },
        (Some(0), None) if tool.outside > 0 => (NotMet, Reason::ToolOutside { tool: name }),
        (Some(0), None) => (NotMet, Reason::ToolNotAboard { tool: name }),
        (None, None) => (CannotTell, Reason::ToolNotCounted { tool: name }),
    }
}

fn before(arrives: Option<usize>, flight: Option<usize>) -> bool {
    matches!((arrives, flight), (Some(arrives), Some(flight)) if arrives < flight)
}

pub(super) fn remedies(approach: Option<(usize, &Approach)>, judge: &mut impl Judgement) {
    let counts = |state: RemedyState| state != RemedyState::Withdrawn;
    let Some((at, approach)) = approach else {
        judge.say(GateName::Remedies, Met, Reason::NoRemedies);
        return;
    };
    let standing = approach.remedies.iter().filter(|remedy| counts(remedy.state)).count();
    let all = match standing {
        0 => Reason::NoRemedies,
        count => Reason::RemediesVerified { count: small(count) },
    };
    judge.say(GateName::Remedies, Met, all);
    for (which, remedy) in approach.remedies.iter().enumerate() {
        let (approach, remedy_at) = (index(at), index(which));
        match remedy.state {
            RemedyState::Open => {
                let reason = Reason::RemedyOpen { approach, remedy: remedy_at };
                judge.say(GateName::Remedies, NotMet, reason);
            }
            RemedyState::Done => {
                let reason = Reason::RemedyDone { approach, remedy: remedy_at };
                judge.say(GateName::Remedies, Tight, reason);
            }
            RemedyState::Verified | RemedyState::Withdrawn => {}
        }
    }
}

pub(super) fn back_inside(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let flight = ready.snapshot.excursions[excursion].flight;
    let (verdict, reason) = match (ready.snapshot.tasks[task].back_inside_by, flight) {
        (None, _) => (Met, Reason::NoReturnDate),
        (Some(_), None) => {
            (CannotTell, Reason::Unknown(Unknown::Flight { excursion: index(excursion) }))
        }
        (Some(by), Some(flight)) if flight <= by => (Met, Reason::BackInTime { flight: index(by) }),
        (Some(by), Some(_)) => (NotMet, Reason::BackTooLate { flight: index(by) }),
    };
    judge.say(GateName::Return, verdict, reason);
}

pub(super) fn needed_by(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let here = &ready.snapshot.tasks[task];
    let mut say = |verdict, reason| judge.say(GateName::NeededBy, verdict, reason);
    if here.needed_by_flight.is_none() && here.needed_by_day.is_none() {
        say(Met, Reason::NoNeededBy);
        return;
    }
    let asked = [flight_late(ready, task, excursion), day_late(ready, task, excursion)];
    let late = if here.late_is_moot { (NotMet, Reason::LateMoot) } else { (Tight, Reason::Late) };
    say(Met, Reason::InTime);
    for answer in asked {
        match answer {
            Ok(true) => say(late.0, late.1),
            Ok(false) => {}
            Err(unknown) => say(CannotTell, Reason::Unknown(unknown)),
        }
    }
}

fn flight_late(ready: &Ready, task: TaskAt, excursion: ExcursionAt) -> Result<bool, Unknown> {
    let Some(by) = ready.snapshot.tasks[task].needed_by_flight else { return Ok(false) };
    let flight = ready.snapshot.excursions[excursion].flight;
    flight.map(|flight| flight > by).ok_or(Unknown::Flight { excursion: index(excursion) })
}

/// Where the excursion's day is not known, its flight's launch and landing may still tell.
fn day_late(ready: &Ready, task: TaskAt, excursion: ExcursionAt) -> Result<bool, Unknown> {
    let Some(by) = ready.snapshot.tasks[task].needed_by_day else { return Ok(false) };
    let here = &ready.snapshot.excursions[excursion];
    if let Some(day) = here.day {
        return Ok(day > by);
    }
    let flight = here.flight.map(|flight| &ready.snapshot.flights[flight]);
    if flight.and_then(|flight| flight.landing).is_some_and(|landing| landing <= by) {
        return Ok(false);
    }
    if flight.and_then(|flight| flight.launch).is_some_and(|launch| launch > by) {
        return Ok(true);
    }
    Err(Unknown::Day { excursion: index(excursion) })
}
