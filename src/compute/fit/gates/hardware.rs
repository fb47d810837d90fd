//! Tools and hardware aboard and in hand, what the bag holds, and the remedies a try rests on.

use super::small;
use crate::fit::ready::{Plan, Ready};
use crate::fit::reasons::{Reason, Unknown};
use crate::fit::snapshot::{Approach, Tool};
use crate::fit::verdict::Judgement;
use crate::places::{ApproachAt, ExcursionAt, FlightAt, TaskAt, ToolAt};
use domain::words::GateVerdict::{CannotTell, Met, NotMet, Note, Tight};
use domain::words::{GateName, GateVerdict, RemedyState, ToolState};

pub(in crate::fit) fn tools(
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
pub(in crate::fit) fn tool(
    tool: &Tool,
    name: ToolAt,
    flight: Option<FlightAt>,
    excursion: ExcursionAt,
) -> (GateVerdict, Reason) {
    match tool.state {
        Some(ToolState::Lost) => return (NotMet, Reason::ToolLost { tool: name }),
        Some(ToolState::Broken) => return (NotMet, Reason::ToolBroken { tool: name }),
        Some(ToolState::Usable) | None => {}
    }
    let more_come = before(tool.arrives_with, flight);
    match (tool.aboard, tool.arrives_with) {
        (Some(1), _) if !more_come => (Note, Reason::ToolLast { tool: name }),
        (Some(1..), _) => (Met, Reason::ToolsAboard { count: 1 }),
        (_, Some(arrives)) => match flight {
            None => (CannotTell, Reason::Unknown(Unknown::Flight { excursion })),
            Some(flight) if arrives < flight => (Met, Reason::ToolsAboard { count: 1 }),
            Some(flight) if arrives == flight => {
                (Note, Reason::ToolArrivesWith { tool: name, flight: arrives })
            }
            Some(_) => (NotMet, Reason::ToolArrivesAfter { tool: name, flight: arrives }),
        },
        (Some(0), None) if tool.outside > 0 => (NotMet, Reason::ToolOutside { tool: name }),
        (Some(0), None) => (NotMet, Reason::ToolNotAboard { tool: name }),
        (None, None) => (CannotTell, Reason::ToolNotCounted { tool: name }),
    }
}

fn before(arrives: Option<FlightAt>, flight: Option<FlightAt>) -> bool {
    matches!((arrives, flight), (Some(arrives), Some(flight)) if arrives < flight)
}

pub(in crate::fit) fn remedies(
    approach: Option<(ApproachAt, &Approach)>,
    judge: &mut impl Judgement,
) {
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
    for (which, remedy) in approach.remedies.iter_enumerated() {
        let (approach, remedy_at) = (at, which);
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

/// What all set tasks and this one take out and bring in, against what the bag holds. A task that
/// names no volume takes nothing.
pub(in crate::fit) fn bag(ready: &Ready, plan: &Plan, task: TaskAt, judge: &mut impl Judgement) {
    let here = &ready.snapshot.excursions[plan.excursion];
    let this = &ready.snapshot.tasks[task];
    judge.say(GateName::Bag, Met, Reason::BagHolds);
    for (out, own, holds) in
        [(true, this.takes_out, here.bag_out), (false, this.brings_in, here.bag_in)]
    {
        let Some(own) = own.filter(|&litres| litres > 0.0) else { continue };
        let Some(holds) = holds else {
            let excursion = plan.excursion;
            judge.say(GateName::Bag, CannotTell, Reason::Unknown(Unknown::Bag { excursion, out }));
            continue;
        };
        let others = plan.slots.iter().map(|&slot| &ready.snapshot.tasks[here.slots[slot].task]);
        let taken = others.filter_map(|task| if out { task.takes_out } else { task.brings_in });
        let left = holds - taken.sum::<f64>();
        if own > left {
            let (needs, left) = (litres(own), litres(left));
            judge.say(GateName::Bag, NotMet, Reason::BagFull { out, needs, left });
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "litres shown with one digit; `as` saturates")]
fn litres(exact: f64) -> f32 {
    exact.max(0.0) as f32
}
